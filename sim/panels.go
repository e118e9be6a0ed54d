package sim

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tideover/sim/array"
	"tideover/sim/clock"
	"tideover/sim/controller"
	"tideover/sim/ledger"
	"tideover/sim/plane"
	"tideover/weather"
	"tideover/weather/sun"
)

// calmWindMs stands in where the weather has no wind: the mean of the test conditions for module temperature.
const calmWindMs = 1

// sunlit holds what the sky gives, step by step: the same for every plane under it.
type sunlit struct {
	ghi, dni, dhi   []float64
	airC, windMs    []float64 // wind nil: calm
	track           []sun.Step
	lit             []float64 // share of the step into which its light falls
	airmass         []float64 // 0 with the sun down
	darkShare       []float64
	month           []uint8 // 1..12, in standard time
	start           time.Time
	latDeg          float64
	standard        *clock.Clock // for shades; nil where there are none
	snow            plane.Fallen
	hasSnow, swept  bool
	snowReflectance float64
}

// onPanels holds what falls on the panels, step by step; over several sub-arrays a mean by rated power.
type onPanels struct {
	planeWm2, cellC []float64
	stopped         []stopped
}

// stopped is what kept some of the panels from starting in a step, beside the night.
type stopped uint8

const (
	bySnow stopped = 1 << iota // it lies on some of them, whatever that does
	byWarmth
)

// sky finds the sun and parts its light into direct and diffuse.
func (p *Prepared) sky(y *weather.Year) {
	n := y.Len()
	s := &p.above
	s.ghi, s.dni, s.dhi, s.airC, s.windMs = y.GHIWm2, y.DNIWm2, y.DHIWm2, y.TempC, y.WindMs
	s.start, s.latDeg = y.Start, y.Site.LatDeg
	known := s.dni != nil
	if !known {
		s.dni, s.dhi = make([]float64, n), make([]float64, n)
	}
	s.track = y.Sun()
	s.darkShare, s.lit, s.airmass, s.month = make([]float64, n), make([]float64, n), make([]float64, n), make([]uint8, n)
	for i, at := range s.track {
		extra := sun.SolarConstantWm2 * at.DistanceFactor
		s.darkShare[i] = 1 - at.LitShare
		// Where the sun rises or sets within the step, its light falls in the sunlit part: split and tilt are done
		// for that part.
		lit := at.LitShare
		if lit == 0 || s.ghi[i]/lit > extra || known && s.dni[i]/lit > extra {
			lit = 1
		}
		s.lit[i] = lit
		if s.ghi[i] > 0 && at.CosZenith > 0 {
			s.airmass[i] = plane.Airmass(at.ZenithDeg, at.CosZenith)
		}
	}
	if !known {
		days := plane.Days{GHIWm2: s.ghi, PerHour: 60 / y.StepMin, FirstStep: (60*y.Start.Hour() + y.Start.Minute()) / y.StepMin}
		days.At = func(i int) plane.Above {
			at := &s.track[i]
			return plane.Above{ZenithDeg: at.ZenithDeg, CosZenith: at.CosZenith, SolarTimeH: 12 + at.HourAngleDeg/15,
				Airmass: s.airmass[i], ExtraNormalWm2: sun.SolarConstantWm2 * at.DistanceFactor, LitShare: s.lit[i]}
		}
		days.Split(s.dni, s.dhi)
	}
	step := time.Duration(y.StepMin) * time.Minute
	for at, i := y.Start, 0; i < n; { // midnight to midnight, standard time
		next := time.Date(at.Year(), at.Month(), at.Day()+1, 0, 0, 0, 0, at.Location())
		month := uint8(at.Month())
		for to := min(n, int((next.Sub(y.Start)+step/2-1)/step)); i < to; i++ { // a step goes by its middle
			s.month[i] = month
		}
		at = next
	}
	if slices.ContainsFunc(p.sys.SubArrays(), func(a SubArray) bool { return len(a.Surface.Shades) > 0 }) {
		s.standard = clock.New(y.Start, y.StepMin, n, y.Start.Location())
	}
	p.snow(y)
}

// snow finds when snow falls and lies, by the scenario or else by the weather.
func (p *Prepared) snow(y *weather.Year) {
	s, typed := &p.above, p.sys.Snow
	s.swept, s.snowReflectance = typed.Swept, typed.Reflectance
	switch {
	case typed.Known():
		month := make([]int, y.Len())
		for i, m := range s.month {
			month[i] = int(m) - 1
		}
		s.snow, s.hasSnow = typed.FromMonths(month, y.GHIWm2, y.TempC, 24*60/y.StepMin), true
		if y.SnowDepthCM != nil {
			p.notes = append(p.notes, "snow is that of site.snow; the snow depth in the weather file is not used")
		}
	case y.SnowDepthCM != nil:
		s.snow, s.hasSnow = plane.FromDepth(y.SnowDepthCM, 60/y.StepMin), true
	default:
		if c, month := coldest(s.month, y.TempC); c < frostyC {
			p.notes = append(p.notes, fmt.Sprintf("no snow is known, so none lies on the panels or the ground, though the mean of %v is %.1f C: site.snow takes typed days and depths",
				month, c))
		}
	}
}

// frostyC is the mean of the coldest month below which a place is expected to have snow: about where maps of climate
// draw the border of a snow climate (0 degC, or -3 degC in other schools).
const frostyC = 0

// panels turns the sky into what the controller is offered.
func (p *Prepared) panels() {
	n := len(p.steps)
	p.readyW, p.readyA = make([]float64, n), make([]float64, n)
	p.light = onPanels{make([]float64, n), make([]float64, n), make([]stopped, n)}
	defer p.toBus()
	if len(p.sys.Further) > 0 {
		p.behindEach()
		return
	}
	p.pwm = nil
	if p.sys.Controller.Kind == controller.PWM {
		p.pwm = p.newPWM()
	}
	subs := p.sys.SubArrays()
	if p.pwm != nil {
		for k := range subs {
			p.offers(&subs[k], &p.sys.Controller, subs[k].Array.RatedW()/p.rated, nil)
		}
		return
	}
	if len(subs) > 1 {
		p.several(subs)
		return
	}
	p.offers(&subs[0], &p.sys.Controller, 1, func(i int, arrayW float64, o controller.Offer, amps float64) {
		p.readyW[i], p.readyA[i] = o.ReadyW, amps
		x := &p.fixed[i]
		x.arrayW, x.notStartedW, x.offPeakW, x.clippedW = arrayW, o.NotStartedW, o.OffPeakW, o.ClippedW
	})
}

// several adds up sub-arrays on one input. Each is held against the voltage window by itself and then counted at its own
// maximum power; the ratings of the input hold for the sum. On one tracker strings of one length share a voltage, and
// those of another orientation differ from their best by a percent or two at most, as voltage hardly depends on light;
// strings of different voltage would pull each other off their peaks, which is warned of.
func (p *Prepared) several(subs []SubArray) {
	c := p.sys.Controller
	c.MaxInputW, c.MaxInputA = 0, 0
	amps := make([]float64, len(p.steps))
	for i := range p.fixed {
		x := &p.fixed[i]
		x.arrayW, x.notStartedW, x.offPeakW, x.clippedW = 0, 0, 0, 0
		p.readyW[i] = 0
	}
	low, high := math.Inf(1), 0.0
	for k := range subs {
		v := subs[k].Array.MpVoltageV(25)
		low, high = min(low, v), max(high, v)
		p.offers(&subs[k], &c, subs[k].Array.RatedW()/p.rated, func(i int, arrayW float64, o controller.Offer, a float64) {
			x := &p.fixed[i]
			x.arrayW += arrayW
			x.notStartedW += o.NotStartedW
			x.offPeakW += o.OffPeakW
			p.readyW[i] += o.ReadyW
			amps[i] += a
		})
	}
	if high > 1.05*low {
		p.warnings = append(p.warnings, fmt.Sprintf("the sub-arrays' strings differ in voltage (%.1f to %.1f V at maximum power): on one input they pull each other down, which is not counted; give each its own controller, or strings of one voltage",
			low, high))
	}
	for i := range p.steps {
		ready := p.readyW[i]
		most := ready
		if w := p.sys.Controller.MaxInputW; w > 0 {
			most = min(most, w)
		}
		if a := p.sys.Controller.MaxInputA; a > 0 && amps[i] > a {
			most = min(most, ready*a/amps[i])
		}
		p.readyW[i], p.fixed[i].clippedW = most, ready-most
		if ready > 0 {
			p.readyA[i] = amps[i] * most / ready
		}
	}
}

// over is the sky over the panels in the sunlit part of step i, with nothing in its way.
func (s *sunlit) over(i int) plane.Sky {
	lit, at := s.lit[i], &s.track[i]
	sky := plane.Sky{
		GHIWm2: s.ghi[i] / lit, DNIWm2: s.dni[i] / lit, DHIWm2: s.dhi[i] / lit,
		ZenithDeg: at.ZenithDeg, AzimuthDeg: at.AzimuthDeg,
		ExtraNormalWm2: sun.SolarConstantWm2 * at.DistanceFactor, Airmass: s.airmass[i], Month: int(s.month[i]),
	}
	if s.hasSnow {
		sky.SnowGround, sky.SnowBright = s.snow.Ground[i], s.snowReflectance
	}
	return sky
}

// offers calls put for each step with what one sub-array could give, what the controller makes of it, and the current at
// its input (A), all means of the step. It adds share of the sub-array's light and cell temperature to p.light.
func (p *Prepared) offers(sub *SubArray, c *controller.Controller, share float64, put func(i int, arrayW float64, o controller.Offer, amps float64)) {
	s, a := &p.above, &sub.Array
	surface := sub.Surface.Prepare(s.latDeg)
	var shadows []plane.Shadow
	if s.standard != nil {
		shadows = sub.Surface.Shadows(s.standard, s.latDeg)
	}
	chargeV := p.sys.Bank.ChargeLimitV()
	byHorizon := len(sub.Surface.Horizon) > 0
	running := false // the controller, on this sub-array
	covered := 0.0   // by snow
	groups := float64(max(1, a.Module.BypassGroups))
	var curve *array.Curve
	var volts []float64
	var amps [pwmPoints]float64
	ohm := p.pwmOhm()
	if p.pwm != nil {
		curve, volts = a.Curve(), p.pwm.volts()
		// Sub-arrays share the cable's copper by their currents: of the cable each has its part.
		sumA := 0.0
		for _, other := range p.sys.SubArrays() {
			sumA += other.Array.Module.MpCurrentA * float64(other.Array.InParallel)
		}
		ohm *= sumA / (a.Module.MpCurrentA * float64(a.InParallel))
	}
	perDay := int(24/p.stepH + 0.5)
	first := p.above.start
	sweep := ((9*60 - first.Hour()*60 - first.Minute() + 24*60) % (24 * 60)) * perDay / (24 * 60)
	for i := range s.track {
		lit := s.lit[i]
		sky := s.over(i)
		if byHorizon {
			sky.BeamBlocked = surface.Hidden(p.sunAt(i-1), p.sunAt(i), p.sunAt(i+1))
		}
		var shadow plane.Shadow
		if shadows != nil {
			shadow = shadows[i]
			sky.SkyHidden = shadow.SkyHidden
		}
		light := surface.Light(sky)
		planeWm2, clear := light.PlaneWm2()*lit, light.UsableWm2*lit
		dim := clear
		if shadow.TimeShare > 0 {
			sky.BeamBlocked = 1 - (1-sky.BeamBlocked)*(1-shadow.Takes)
			d := surface.Light(sky)
			w := shadow.TimeShare * shadow.Share
			planeWm2 = planeWm2*(1-w) + d.PlaneWm2()*lit*w
			dim = min(clear, d.UsableWm2*lit)
		}
		wind := float64(calmWindMs)
		if s.windMs != nil {
			wind = s.windMs[i]
		}
		if s.hasSnow {
			covered = plane.Lying(covered, s.snow.Fresh[i], planeWm2, s.airC[i], surface.TiltDeg(sky.Month), p.stepH)
			if s.swept && i%perDay == sweep {
				covered = 0
			}
			if covered > 0 {
				p.light.stopped[i] |= bySnow
			}
		}
		cellC := a.CellTempC(planeWm2, s.airC[i], wind)
		p.light.planeWm2[i] += share * planeWm2
		p.light.cellC[i] += share * cellC
		if shadow.TimeShare == 0 && covered == 0 {
			at := a.Clear(clear, cellC)
			if p.pwm != nil {
				p.pwm.add(i, curve.CurrentsA(amps[:], clear, cellC, volts, ohm), c.MaxInputV, &at, &p.fixed[i])
				continue
			}
			o := c.Offer(at.PowerW, at.MpVoltageV, at.OcVoltageV, chargeV, running)
			if o.NotStartedW > 0 && cellC > 25 && c.Runs(a.MpVoltageV(25), a.OcVoltageV(clear, 25), chargeV, running) {
				p.light.stopped[i] |= byWarmth
			}
			running = o.ReadyW > 0 // until night falls, or the voltage
			put(i, at.PowerW, o, currentA(o.ReadyW, at.MpVoltageV))
			continue
		}
		// The hours of the shadow and the others are two steps of their own, with one mean temperature.
		under := math.Ceil(covered*groups-1e-9) / groups
		if p.pwm != nil {
			p.pwm.shaded(i, curve, clear, dim, under, shadow, cellC, volts, ohm, a, c.MaxInputV, &p.fixed[i])
			continue
		}
		arrayW, o, amps := best(a, c, clear, dim, under, plane.Shadow{}, cellC, chargeV, running)
		if w := shadow.TimeShare; w > 0 {
			arrayW2, o2, amps2 := best(a, c, clear, dim, under, shadow, cellC, chargeV, running)
			mix := func(x, y float64) float64 { return x*(1-w) + y*w }
			arrayW, amps = mix(arrayW, arrayW2), mix(amps, amps2)
			o = controller.Offer{NotStartedW: mix(o.NotStartedW, o2.NotStartedW), OffPeakW: mix(o.OffPeakW, o2.OffPeakW),
				ClippedW: mix(o.ClippedW, o2.ClippedW), ReadyW: mix(o.ReadyW, o2.ReadyW)}
		}
		running = o.ReadyW > 0
		put(i, arrayW, o, amps)
	}
}

// best is what the controller makes of an array under a shadow and with a share under snow: of the points between which it
// may choose, the one that gives more. What a point outside its window would give more than the one it takes is off peak.
// Snow lets no light through. Where a shadow lies beside it, either all that is free of snow gives what the shadow
// leaves, or the larger of the two shares gives nothing.
func best(a *array.Array, c *controller.Controller, clear, dim, snow float64, shadow plane.Shadow, cellC, chargeV float64, running bool) (arrayW float64, o controller.Offer, amps float64) {
	var points [4]array.Point
	n := 2
	shaded := shadow.TimeShare > 0
	switch {
	case snow == 0 && !shaded:
		points[0], n = a.Clear(clear, cellC), 1
	case snow == 0:
		points[0], points[1] = a.Shaded(clear, dim, shadow.Share, cellC, shadow.Along)
	case !shaded:
		points[0], points[1] = a.Shaded(clear, 0, snow, cellC, false)
	default:
		points[0], points[1] = a.Shaded(clear, 0, max(snow, shadow.Share), cellC, false)
		points[2], points[3] = a.Shaded(dim, 0, snow, cellC, false)
		n = 4
	}
	var at array.Point
	for k, pt := range points[:n] {
		arrayW = max(arrayW, pt.PowerW)
		if t := c.Offer(pt.PowerW, pt.MpVoltageV, pt.OcVoltageV, chargeV, running); k == 0 || t.ReadyW > o.ReadyW ||
			o.ReadyW == 0 && t.ReadyW == 0 && pt.PowerW > at.PowerW {
			at, o = pt, t
		}
	}
	o.OffPeakW += arrayW - at.PowerW
	return arrayW, o, currentA(o.ReadyW, at.MpVoltageV)
}

func currentA(w, v float64) float64 {
	if w == 0 {
		return 0
	}
	return w / v
}

// leastEfficiency is that below which a controller counts as not started.
const leastEfficiency = 0.05

// toBus takes what the controller is offered to the bus. What cables and conversion keep is the share at full offer: where
// less is drawn the cables would keep less of it, but then there is plenty.
func (p *Prepared) toBus() {
	if p.parts != nil {
		p.join()
		return
	}
	c := &p.sys.Controller
	ohm := p.sys.ArrayCable.ResistanceOhm()
	ratedW := c.MaxCurrentA * p.hold.chargeV
	if c.MaxInputW > 0 {
		ratedW = min(ratedW, c.MaxInputW)
	}
	var sentWh, gotWh float64
	for i := range p.steps {
		st, ready := &p.steps[i], p.readyW[i]
		wire := 0.0
		if ready > 0 {
			wire = min(0.9, ohm*p.readyA[i]*p.readyA[i]/ready)
		}
		eff := 1.0
		if ready > 0 {
			if eff = c.EfficiencyAt(ready*(1-wire), ratedW); eff < leastEfficiency { // it feeds its own conversion at best
				p.fixed[i].notStartedW += ready
				p.readyW[i], ready, wire, eff = 0, 0, 0, 1
			}
		}
		through := (1 - wire) * eff
		behind := p.behindController(ready * through)
		leaves := (1 + behind) / through // at the modules, for each watt at the bus
		st.wirePer, st.lossPer = float32(wire*leaves+behind), float32((1-wire)*(1-eff)*leaves)
		st.busW = ready / st.perOut()
		sentWh += ready
		gotWh += st.busW
		st.night = p.readyW[i] == 0 && (p.pwm == nil || p.pwm.dark(i))
		if st.carried { // the array stays behind
			st.busW = 0
			if p.pwm != nil {
				p.pwm.off(i)
			}
			x := &p.fixed[i]
			x.notStartedW, x.offPeakW, x.clippedW = x.arrayW, 0, 0
		}
	}
	p.perOut = 1
	if gotWh > 0 {
		p.perOut = sentWh / gotWh
	}
	if p.warm != nil { // else to be called again
		p.brief()
	}
}

// sunAt is the sun of a step, or of the nearest one there is.
func (p *Prepared) sunAt(i int) plane.SunAt {
	s := p.above.track[min(max(i, 0), len(p.above.track)-1)]
	return plane.SunAt{ZenithDeg: s.ZenithDeg, AzimuthDeg: s.AzimuthDeg}
}

// coldest returns the lowest mean of a calendar month, degC, and the month.
func coldest(month []uint8, airC []float64) (meanC float64, name time.Month) {
	var sum, n [13]float64
	for i, m := range month {
		sum[m] += airC[i]
		n[m]++
	}
	meanC = math.Inf(1)
	for m := range sum {
		if n[m] > 0 && sum[m]/n[m] < meanC {
			meanC, name = sum[m]/n[m], time.Month(m)
		}
	}
	return meanC, name
}

// sum fills what is the same in every run.
func (p *Prepared) sum() {
	days := make([]ledger.Day, len(p.clock.Dates))
	for i, d := range p.clock.Dates {
		days[i].Date = d
	}
	p.sumFixed(len(p.clock.Months), days)
}

// Turned returns p with its first sub-array (or another, by its place) on another plane, under the same weather and loads.
// It shares with p all that does not depend on the panels. The new surface's shades must be p's own, as the clock of
// shades is prepared only for a system that has some; it panics otherwise: our bug.
func (p *Prepared) Turned(sub int, s plane.Surface) *Prepared {
	if len(s.Shades) > 0 && p.above.standard == nil {
		panic("sim: Turned: the surface has shades, and the system was prepared without any")
	}
	q := *p
	sys := *p.sys
	sys.Beside = slices.Clone(sys.Beside)
	if sub == 0 {
		sys.Surface = s
	} else {
		sys.Beside[sub-1].Surface = s
	}
	q.sys = &sys
	q.steps, q.fixed = slices.Clone(p.steps), slices.Clone(p.fixed)
	q.warnings = slices.Clip(q.warnings)
	q.panels()
	q.sum()
	return &q
}
