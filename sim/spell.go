package sim

import (
	"math"
	"slices"
	"time"

	"tideover/sim/plane"
	"tideover/weather/sun"
)

// MaxFullDays is how long after a spell the battery is watched for being full again, days.
const MaxFullDays = 90

const (
	daysInYear  = 365
	lackAllowed = 1.0 / 60 // hours that must-have loads may lack power, as in a day without power
	nearlyFull  = 0.999    // of the charge that the charging voltage leads to: the tolerance of a settled start
)

// Spells is a system made ready for dull spells. It is read-only and may be shared by several walkers.
//
// In a spell of share s the light on the plane is s times its usual, which is the mean of that time of day over the 15 days
// before and after, over all years of the run. It comes evenly from the sky, and nothing of it from the sun; what shades and
// horizon take is in the usual already, and the panels are taken to be free of snow. Air temperature, wind, loads and the
// hours of darkness stay those of the run.
type Spells struct {
	p        *Prepared
	dull     []Plant   // the run with every day dull, by share
	first    []int     // step with which each date begins, and the number of steps
	mornings []State   // of the ordinary run, as each date begins
	fullH    []float64 // from there until the ordinary run is full; NaN: not known yet
	fullAh   float64   // counts as full

	Dates    []time.Time // a spell may start with each
	StepH    float64
	StartSOC []float64 // as each date begins
	StartOff []bool    // the loads are cut as it begins
	Trips    int       // steps in which must-have loads overload the inverter, whatever the charge
	CutSOC   float64   // the charge at which a warm battery's loads are cut
	Passes   int       // that settled the ordinary run's starting charge; 0 when it was typed
	Settled  bool
	Notes    []string
	Warnings []string
}

// Dull is what a spell does, from one start date and at one share of the usual sun.
type Dull struct {
	CutH float64   // into the spell, when must-have loads have lacked power for over a minute; +Inf: never
	Ends []DullEnd // of spells of 1, 2, 3... dates from the start
}

// DullEnd is what a spell of some length did and left.
type DullEnd struct {
	LackH     float64 // must-have loads were without power
	LowestSOC float64 // in the spell, its start included
	BackupH   float64 // that the backup charger ran in the spell
	FullH     float64 // after the spell, until the battery is full again in the ordinary weather; +Inf: over MaxFullDays
}

// Carried reports whether must-have loads lacked power for a minute at the most.
func (e *DullEnd) Carried() bool { return e.LackH <= lackAllowed }

// Spells runs the ordinary year and makes spells at the given shares (0..1) of the usual sun ready.
func (p *Prepared) Spells(shares []float64) (*Spells, error) {
	s := &Spells{
		p: p, Dates: p.clock.Dates, StepH: p.stepH, CutSOC: p.sys.Bank.DisconnectSOC,
		Notes: slices.Clone(p.notes), Warnings: slices.Clone(p.warnings),
		fullAh: p.countsAh,
	}
	if p.lead == nil {
		s.fullAh = nearlyFull * p.pack.ChargeAtV(p.pack.ChargeV)
	}
	usual := p.usual()
	for _, share := range shares {
		s.dull = append(s.dull, p.dulled(usual, share))
	}
	for i, day := range p.clock.Day {
		if int(day) == len(s.first) {
			s.first = append(s.first, i)
		}
		if in := &p.steps[i]; in.overload && in.mustAC {
			s.Trips++
		}
	}
	s.first = append(s.first, len(p.steps))
	st, passes, settled, err := p.Start()
	if err != nil {
		return nil, err
	}
	s.Passes, s.Settled = passes, settled
	w := s.Walker()
	for d := range s.Dates {
		s.mornings = append(s.mornings, st)
		s.StartSOC, s.StartOff = append(s.StartSOC, st.ChargeAh/p.capAh), append(s.StartOff, st.Off)
		s.fullH = append(s.fullH, math.NaN())
		if st, err = w.step(&p.Plant, st, s.first[d], s.first[d+1]); err != nil {
			return nil, err
		}
	}
	if p.waiting != nil && len(p.small) > 0 {
		s.Notes[p.searchNoteAt] = searchNote(p.small, p.sys.Inverter.WakesAtW, w.b.wokenH)
	}
	for d := len(s.Dates) - 1; d >= 0; d-- {
		h, err := w.untilFull(s.mornings[d], d)
		if err != nil {
			return nil, err
		}
		s.fullH[d] = h
	}
	return s, nil
}

// usual returns the usual light on the plane of each step, W/m2.
func (p *Prepared) usual() []float64 {
	perDay := int(24/p.stepH + 0.5)
	sums, n := make([]float64, daysInYear*perDay), make([]float64, daysInYear*perDay)
	at := make([]int, len(p.steps)) // place in the two
	for i := range at {
		t := p.above.start.Add(time.Duration(float64(i) * p.stepH * float64(time.Hour)))
		at[i] = dayOfYear(t)*perDay + int((float64(t.Hour())+float64(t.Minute())/60)/p.stepH+1e-9)
		sums[at[i]] += p.light.planeWm2[i]
		n[at[i]]++
	}
	mean := make([]float64, len(sums))
	for k := range mean {
		var sum, count float64
		for d := -aroundDays; d <= aroundDays; d++ {
			j := (k + d*perDay + len(sums)) % len(sums)
			sum += sums[j]
			count += n[j]
		}
		mean[k] = sum / max(1, count)
	}
	usual := make([]float64, len(p.steps))
	for i, k := range at {
		usual[i] = mean[k]
	}
	return usual
}

// dayOfYear counts from 0 to 364; 29 February shares its place with the day before.
func dayOfYear(t time.Time) int {
	d := t.YearDay() - 1
	if d >= 59 && time.Date(t.Year(), time.December, 31, 0, 0, 0, 0, time.UTC).YearDay() == daysInYear+1 {
		d--
	}
	return d
}

// PlaneDays returns the light on the plane of each day of standard time, Wh/m2, and its place in the year, 0..364.
func (p *Prepared) PlaneDays() (whM2 []float64, dayOf []int) {
	last := -1
	for i, w := range p.light.planeWm2 {
		t := p.above.start.Add(time.Duration(float64(i) * p.stepH * float64(time.Hour)))
		if day := t.YearDay(); day != last {
			last = day
			whM2, dayOf = append(whM2, 0), append(dayOf, dayOfYear(t))
		}
		whM2[len(whM2)-1] += w * p.stepH
	}
	return whM2, dayOf
}

// dulled returns p with an even sky in every step, of which the plane gets share of the usual light. Several sub-arrays get
// it on their mean by rated power.
func (p *Prepared) dulled(usual []float64, share float64) Plant {
	q := *p
	sys := *p.sys
	sys.Surface.Shades, sys.Surface.Horizon = nil, nil
	sys.Beside = slices.Clone(sys.Beside)
	for i := range sys.Beside {
		sys.Beside[i].Surface.Shades, sys.Beside[i].Surface.Horizon = nil, nil
	}
	q.sys = &sys
	q.warnings = slices.Clip(q.warnings)
	q.steps, q.fixed = slices.Clone(p.steps), slices.Clone(p.fixed)

	a := &q.above
	a.standard, a.hasSnow = nil, false
	var onPlane [13]float64 // of 1 W/m2 on level ground, by month
	for _, sub := range sys.SubArrays() {
		surface := sub.Surface.Prepare(a.latDeg)
		for m := range onPlane {
			light := surface.Light(plane.Sky{GHIWm2: 1, DHIWm2: 1, ZenithDeg: 180, ExtraNormalWm2: sun.SolarConstantWm2, Month: m})
			onPlane[m] += light.PlaneWm2() * sub.Array.RatedW() / p.rated
		}
	}
	n := len(p.steps)
	level := make([]float64, n)
	a.dni, a.lit, a.track = make([]float64, n), make([]float64, n), slices.Clone(a.track)
	for i := range level {
		level[i] = share * usual[i] / onPlane[a.month[i]]
		a.lit[i], a.track[i].ZenithDeg = 1, 180
	}
	a.ghi, a.dhi = level, level
	q.panels()
	return q.Plant
}

// Walker walks spells, one at a time.
type Walker struct {
	s *Spells
	b *books // only its lack and its lowest charge are read
}

// Walker returns a walker of its own for a goroutine.
func (s *Spells) Walker() *Walker { return &Walker{s, s.p.newBooks()} }

// step runs the steps from the first to before the last.
func (w *Walker) step(plant *Plant, st State, first, last int) (State, error) {
	w.b.outages, w.b.begun, w.b.starts = w.b.outages[:0], w.b.begun[:0], w.b.starts[:0]
	return plant.run(st, first, last, w.b, nil)
}

// Walk fills out with spells of 1, 2, 3... dates from the date given (its place in Dates), at the share of that place. Behind
// the last date comes the first. It does not allocate.
func (w *Walker) Walk(date, share int, out *Dull) error {
	s, b, plant := w.s, w.b, &w.s.dull[share]
	st := s.mornings[date]
	var lackH, atH, backupH float64
	lowAh := st.ChargeAh
	out.CutH = math.Inf(1)
	for n := range out.Ends {
		d := (date + n) % len(s.Dates)
		b.dayLowAh[d] = math.Inf(1)
		b.lackH, b.lowAh, b.backupH = lackH, lowAh, backupH
		for i := s.first[d]; i < s.first[d+1]; i++ {
			before := b.lackH
			var err error
			if st, err = w.step(plant, st, i, i+1); err != nil {
				return err
			}
			atH += s.StepH
			if b.lackH > lackAllowed && math.IsInf(out.CutH, 1) {
				out.CutH = atH - (b.lackH - before)
			}
		}
		lackH, lowAh, backupH = b.lackH, b.lowAh, b.backupH
		fullH, err := w.untilFull(st, (d+1)%len(s.Dates))
		if err != nil {
			return err
		}
		out.Ends[n] = DullEnd{LackH: lackH, LowestSOC: min(1, lowAh/s.p.capAh), BackupH: backupH, FullH: fullH}
	}
	return nil
}

// untilFull is the time from the beginning of a date until the battery is full in the ordinary weather, h. A walk that
// comes into the very state of the ordinary run ends as that does.
func (w *Walker) untilFull(st State, date int) (float64, error) {
	s := w.s
	if st.ChargeAh >= s.fullAh {
		return 0, nil
	}
	const most = MaxFullDays * 24
	for h, d := 0.0, date; h < most; d = (d + 1) % len(s.Dates) {
		if st == s.mornings[d] && !math.IsNaN(s.fullH[d]) {
			if h += s.fullH[d]; h > most {
				return math.Inf(1), nil
			}
			return h, nil
		}
		for i := s.first[d]; i < s.first[d+1]; i++ {
			var err error
			if st, err = w.step(&s.p.Plant, st, i, i+1); err != nil {
				return 0, err
			}
			if h += s.StepH; st.ChargeAh >= s.fullAh {
				return h, nil // within the day that most falls in
			}
		}
	}
	return math.Inf(1), nil
}
