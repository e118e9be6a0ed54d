package sim_test

// Random systems and weather, and the agreement of the two engines on them.

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"testing"
	"time"
	_ "time/tzdata"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/array"
	"tideover/sim/backup"
	"tideover/sim/battery"
	"tideover/sim/clock"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/ledger"
	"tideover/sim/limit"
	"tideover/sim/plane"
	"tideover/sim/wiring"
	"tideover/weather"
	"tideover/weather/sun"
)

// drawer draws named values: from a seed, or by rapid.
type drawer interface {
	float(name string, lo, hi float64) float64
	whole(name string, lo, hi int) int // both included
}

type seeded struct{ *rand.Rand }

func (s seeded) float(_ string, lo, hi float64) float64 { return lo + (hi-lo)*s.Float64() }
func (s seeded) whole(_ string, lo, hi int) int         { return lo + s.IntN(hi-lo+1) }

func fromSeed(seed uint64) drawer { return seeded{rand.New(rand.NewPCG(seed, 0))} }

func logFloat(d drawer, name string, lo, hi float64) float64 {
	return lo * math.Pow(hi/lo, d.float(name, 0, 1))
}

func chance(d drawer, name string, percent int) bool { return d.whole(name, 0, 99) < percent }

var places = []struct {
	zone             string
	lat, lon, offset float64
}{
	{"Europe/Berlin", 52.5, 13.4, 1},
	{"Europe/London", 57.2, -3.8, 0},
	{"America/Denver", 39.7, -105, -7},
	{"America/Santiago", -33.4, -70.6, -4}, // clocks change at midnight
	{"Australia/Sydney", -33.9, 151.2, 10},
	{"Australia/Adelaide", -34.9, 138.6, 9.5},
	{"Pacific/Auckland", -43.5, 172.6, 12},
	{"", 47, 8, 1}, // no zone: standard time
}

// randomYear draws some days of hourly weather and the zone of its wall clock.
func randomYear(d drawer, days int) (*weather.Year, *time.Location) {
	at := places[d.whole("place", 0, len(places)-1)]
	y := &weather.Year{
		Site: weather.Site{Name: "nowhere", LatDeg: at.lat, LonDeg: at.lon, OffsetH: at.offset}, StepMin: 60, Measured: true,
	}
	var zone *time.Location
	if at.zone != "" {
		var err error
		if zone, err = time.LoadLocation(at.zone); err != nil {
			panic(err)
		}
	}
	first := d.whole("first day", 0, 2*365)
	if chance(d, "near a clock change", 40) { // late March and early April, late September to early November
		first = []int{80, 85, 90, 262, 267, 270, 295, 300}[d.whole("which", 0, 7)] - d.whole("before", 0, days/2)
	}
	y.Start = time.Date(2024, time.January, 1+first, 0, 0, 0, 0, y.Site.Zone())

	n := days * 24
	meanC, swingC := d.float("mean C", -12, 28), d.float("swing C", 0, 9)
	dull, offC := 0, 0.0
	clear, level := 0.6, 0.0
	for i, s := range sun.Track(y.Start, 1, n, y.Site.Sun()) {
		if i%24 == 0 {
			offC = 0.7*offC + d.float("day C", -4, 4)
			if dull > 0 {
				dull--
			} else if chance(d, "dull spell", 15) {
				dull = d.whole("dull days", 2, 8)
			}
			level = d.float("clearness", 0.3, 0.75)
			if dull > 0 {
				level = d.float("dull clearness", 0, 0.2)
			}
		}
		clear = level * d.float("cloud", 0.6, 1)
		up := s.LitShare * max(0, math.Cos(s.ZenithDeg*math.Pi/180))
		y.GHIWm2 = append(y.GHIWm2, clear*sun.SolarConstantWm2*s.DistanceFactor*up)
		y.TempC = append(y.TempC, meanC+offC+swingC*math.Sin(2*math.Pi*(float64(i%24)-9)/24))
	}
	return y, zone
}

func randomWhen(d drawer) clock.Timetable {
	var t clock.Timetable
	if chance(d, "hours", 80) {
		from := d.whole("from", 0, 1439)
		to := from + d.whole("minutes", 20, 900)
		t.Hours = []clock.Span{{From: from, To: to}}
		if more := from + 1440 - to; more > 200 && chance(d, "second span", 25) {
			second := to + d.whole("pause", 60, 120)
			if second < 1440 {
				t.Hours = append(t.Hours, clock.Span{From: second, To: second + d.whole("more", 20, more-180)})
			}
		}
	}
	if chance(d, "days", 40) {
		t.Days = clock.Days(d.whole("which days", 1, 127))
	}
	if chance(d, "season", 20) {
		from := clock.Date{Month: time.Month(d.whole("from month", 1, 12)), Day: d.whole("from day", 1, 28)}
		to := clock.Date{Month: time.Month(d.whole("to month", 1, 12)), Day: d.whole("to day", 1, 28)}
		t.Season = []clock.DateSpan{{From: from, To: to}}
	}
	if t.Always() {
		t.Days = 1<<time.Monday | 1<<time.Saturday
	}
	return t
}

// randomLoad draws a load of about meanW.
func randomLoad(d drawer, k int, meanW float64, ac bool) loads.Load {
	l := loads.New(loads.Kind(d.whole("kind", 0, 4)))
	l.Name = fmt.Sprintf("load %d", k)
	l.PowerFactor, l.StartFactor = 1, 1 // volt-amperes and starts are not among the plain rules
	l.Bus = loads.DC
	if ac {
		l.Bus = loads.AC
	}
	l.Priority = loads.Priority(d.whole("priority", 0, 1))
	switch l.Kind {
	case loads.AlwaysOn:
		l.OnMinutesPerHour = d.float("on minutes", 5, 60)
		l.PowerW = meanW * 60 / l.OnMinutesPerHour
	case loads.Timetable:
		l.OnMinutesPerHour = d.float("on minutes", 10, 60)
		l.When = randomWhen(d)
		l.PowerW = meanW * 3 * 60 / l.OnMinutesPerHour
	case loads.DuskToDawn:
		l.PowerW = meanW * 2
		if chance(d, "timetable", 40) {
			l.When = randomWhen(d)
		}
	case loads.MotionLight:
		l.PowerW = meanW * 10
		l.VisitsPerNight = d.float("visits", 0, 30)
		l.MinutesPerVisit = d.float("minutes a visit", 1, 20)
		l.StandbyW = d.float("standby", 0, 1)
		l.StandbyInDaylight = chance(d, "by day", 50)
	case loads.Packs:
		l.Chargers = d.whole("chargers", 1, 3)
		l.Count = d.whole("packs", 1, 3*l.Chargers)
		l.AtMin = d.whole("at", 0, 1439)
		l.UnplugMin = d.whole("unplug", -1, 1439)
		l.When.Days = clock.Days(d.whole("days", 0, 127))
		l.PackEnergyWh = meanW * 24 / float64(l.Count)
		l.ChargerPowerW = min(1e5, l.PackEnergyWh*d.float("rate", 0.3, 2))
		l.Depth = d.float("depth", 0.3, 1)
		if len(l.Check()) > 0 { // never full: from 08:00, for good
			l.AtMin, l.UnplugMin, l.ChargerPowerW = 8*60, loads.Never, min(1e5, l.PackEnergyWh*2)
		}
	}
	return l
}

// randomBank draws a bank of wh nameplate, half of them lead.
func randomBank(d drawer, wh float64) battery.Bank {
	b := battery.New(battery.Type(max(0, d.whole("type", -2, 3))))
	lead := b.Type != battery.Lithium
	if lead {
		b.NominalV = []float64{6, 12, 24, 48}[d.whole("block", 0, 3)]
	} else {
		b.NominalV = 3.2 * []float64{4, 8, 16}[d.whole("block", 0, 2)]
	}
	b.CapacityAh = wh / b.NominalV
	if chance(d, "aged", 40) {
		b.Health = d.float("health", 0.3, 1)
	}
	if chance(d, "resistance", 50) {
		b.ResistanceOhm = b.DefaultResistanceOhm() * d.float("times", 0.5, 2)
	}
	b.CoulombicEfficiency = d.float("coulombic", 0.95, 1)
	if chance(d, "charge current", 40) {
		b.MaxChargeA = b.CapacityAh * d.float("C", 0.05, 0.6)
	}
	if chance(d, "charge voltage", 40) {
		a := d.float("a cell", 3.42, 3.65)
		if lead {
			a = 2.3 + (a - 3.42)
		}
		b.ChargeV = a * float64(b.Cells())
	}
	b.SelfDischarge = d.float("self-discharge", 0, 0.2)
	b.BoardDrawW = d.float("board", 0, 0.5)
	if lead && chance(d, "no board", 70) {
		b.BoardDrawW = 0
	}
	b.DisconnectSOC = d.float("disconnect", 0, 0.4)
	if lead {
		b.DisconnectSOC *= 1.5
	}
	b.ReconnectSOC = min(1, b.DisconnectSOC+d.float("back", 0.02, 0.4))
	if chance(d, "off time", 30) {
		b.MinOffMin = float64(d.whole("off minutes", 1, 600))
	}
	if chance(d, "by voltage", 35) {
		between := d.float("cut at", 0, 1)
		// Not where lithium's voltage is flat: there a hundredth of the load decides whether it is reached at all.
		cut, back := 2.5+0.45*between, 3.25
		if lead {
			cut, back = 1.75+0.3*between, 2
		}
		b.DisconnectV = cut * float64(b.Cells())
		if chance(d, "back by voltage", 60) {
			b.ReconnectV = max(cut+0.02, back+d.float("rise", 0, 0.12)) * float64(b.Cells())
		}
	}
	if !lead || chance(d, "barred by cold", 25) {
		b.MinChargeTempC = d.float("no charge below", -10, 5)
		b.ResumeChargeTempC = b.MinChargeTempC + d.float("charge again", 0, 4)
		b.ReducedBelowC, b.ReducedRate = d.float("reduced below", -5, 20), d.float("reduced", 0.02, 0.3)
	}
	b.TempLagH = []float64{0, 1, 6, 20}[d.whole("lag", 0, 3)]
	b.Room = battery.Room(d.whole("room", 0, 2))
	b.BuildingLagH = d.float("building", 1, 48)
	if b.Room == battery.Profile {
		for k := range b.RoomC {
			b.RoomC[k] = d.float("room C", -15, 45)
		}
	}
	if b.TempLagH > 0 && chance(d, "heater", 25) {
		b.HeaterToC = d.float("heat to", -5, 20)
		b.HeaterW = b.HeatWhPerK() / b.TempLagH * d.float("above the air", 2, 30)
	}
	if lead {
		if chance(d, "own ratios", 50) {
			r5, r100 := b.Ratio5H, b.Ratio100H
			b.Ratio5H, b.Ratio100H = d.float("in 5 h", 0.6, 0.95), d.float("in 100 h", 1.02, 1.4)
			if len(b.Check()) > 0 {
				b.Ratio5H, b.Ratio100H = r5, r100
			}
		}
		if chance(d, "own acceptance", 50) {
			b.AcceptancePerH = logFloat(d, "acceptance", 0.3, 5)
		}
	}
	b.StartSOC = d.float("start", 0, 1)
	return b
}

// randomSystem draws a plant that makes sense together but is often short of power.
func randomSystem(d drawer, zone *time.Location) *sim.System {
	s := &sim.System{Zone: zone}
	s.Surface = plane.Default()
	s.Surface.TiltDeg, s.Surface.FacesEquator = d.float("tilt", 0, 70), true

	wh := logFloat(d, "bank Wh", 100, 15000)
	b := randomBank(d, wh)
	s.Bank = b

	// An array for a day or ten of the bank, and loads for a fifth to twice of what it brings.
	arrayW := wh / logFloat(d, "bank hours", 1, 30)
	a := array.Default()
	a.InSeries = int(math.Ceil((b.ChargeLimitV() + 7) / 18.6))
	if chance(d, "short string", 15) {
		a.InSeries = int(math.Ceil((b.ChargeLimitV() + 2) / 18.6)) // stops when hot, starts late
	}
	a.InParallel = int(math.Ceil(arrayW / float64(a.InSeries) / 400))
	a.Module.PowerW = arrayW / float64(a.InSeries*a.InParallel)
	a.Module.MpVoltageV, a.Module.OcVoltageV = 18.6, 22.3
	a.Module.MpCurrentA = a.Module.PowerW / 18.6
	a.Module.ScCurrentA = a.Module.MpCurrentA * 1.07
	s.Array = a

	c := controller.Default()
	c.Efficiency, c.TrackingEfficiency = d.float("efficiency", 0.85, 1), d.float("tracking", 0.9, 1)
	c.OwnDrawW = logFloat(d, "own draw", 1e-4, 1e-2) * arrayW
	c.MaxInputV = 1000
	c.MaxCurrentA = arrayW / b.NominalV * 2
	if chance(d, "current binds", 40) {
		c.MaxCurrentA = arrayW / b.NominalV * d.float("of it", 0.2, 0.9)
	}
	if chance(d, "input binds", 30) {
		c.MaxInputW = arrayW * d.float("of it", 0.3, 0.9)
	}
	s.Controller = c

	meanW := arrayW * 0.12 * d.float("demand", 0.2, 2)
	n := d.whole("loads", 1, 6)
	hasInverter := chance(d, "inverter", 80)
	for k := range n {
		ac := hasInverter && chance(d, "ac", 60)
		s.Loads = append(s.Loads, randomLoad(d, k, meanW/float64(n)*d.float("part", 0.3, 2), ac))
	}
	if hasInverter {
		v := inverter.Default()
		v.Mode = inverter.Mode(d.whole("mode", 0, 2))
		if v.Mode == inverter.Timetable {
			v.When = randomWhen(d)
		}
		sumW := 1.0
		for _, l := range s.Loads {
			sumW += max(l.PowerW, l.ChargerPowerW*float64(l.Chargers))
		}
		v.RatedW = sumW * d.float("rating", 0.3, 1.5)
		v.IdleW = v.RatedW * d.float("idle", 0, 0.02)
		v.ProportionalLoss, v.ResistiveLoss = d.float("proportional", 0, 0.08), d.float("resistive", 0, 0.08)
		v.CutoffV = 1e-3 // sag under the coincident peak is not among the plain rules
		v.RestartAfterMin = float64(d.whole("restart", 0, 150))
		s.Inverter = &v
	}
	if d.whole("cable", 0, 2) == 0 {
		s.BatteryCable = wiring.Run{LengthM: d.float("cable m", 0.2, 4), AreaMM2: d.float("mm2", 4, 70)}
	}
	randomBeside(d, s, arrayW)
	return s
}

// randomBeside draws what not every plant has: a controller that chops, a backup charger, an inverter that goes off under
// sag, someone who must press a button, cables beyond the bus.
func randomBeside(d drawer, s *sim.System, arrayW float64) {
	b := &s.Bank
	if chance(d, "pwm", 35) {
		c := controller.New(controller.PWM)
		c.OwnDrawW, c.MaxCurrentA, c.MaxInputV = s.Controller.OwnDrawW, s.Controller.MaxCurrentA, 1000
		c.SwitchDropV = d.float("switch V", 0, 0.8)
		s.Controller = c
		a := &s.Array
		a.InSeries = int(math.Ceil((b.ChargeLimitV() + d.float("above", -1.5, 3)) / 18.6))
		a.InParallel = int(math.Ceil(arrayW / float64(a.InSeries) / 400))
		a.Module.PowerW = arrayW / float64(a.InSeries*a.InParallel)
		a.Module.MpCurrentA = a.Module.PowerW / 18.6
		a.Module.ScCurrentA = a.Module.MpCurrentA * 1.07
		if chance(d, "array cable", 30) {
			s.ArrayCable = cableThatLoses(d, d.float("of the voltage", 0.002, 0.03)*18.6/a.Module.MpCurrentA*float64(a.InSeries)/float64(a.InParallel))
		}
	}
	s.Controller.InputOffWhenBarred = chance(d, "input off", 30)
	if chance(d, "backup", 30) {
		c := backup.Default()
		c.PowerW = arrayW * d.float("backup", 0.05, 1)
		c.StartSOC = min(0.95, b.DisconnectSOC+d.float("starts", -0.1, 0.4))
		c.StartSOC = max(0, c.StartSOC)
		c.StopSOC = min(1, c.StartSOC+d.float("stops", 0.02, 0.6))
		if chance(d, "quiet", 50) {
			c.Quiet = randomWhen(d)
		}
		if chance(d, "carried", 40) {
			for range d.whole("dates", 1, 4) {
				from := clock.Date{Month: time.Month(d.whole("month", 1, 12)), Day: d.whole("day", 1, 28)}
				c.Carried = append(c.Carried, clock.DateSpan{From: from, To: from})
			}
			c.NeverStarted = chance(d, "only carried", 30)
			if chance(d, "carried W", 50) {
				c.CarriedW = c.PowerW * d.float("carried W", 0.3, 3)
			}
		}
		s.Backup = &c
	}
	if v := s.Inverter; v != nil && chance(d, "sag", 60) {
		v.CutoffV = b.NominalV * d.float("cut-off", 0.7, 0.95)
	}
	if b.ReconnectV == 0 && chance(d, "button", 15) {
		b.WokenAtMin = d.whole("woken at", 1, 1440)
	}
	ohmAt := func(w float64) float64 { return d.float("of the voltage", 0.002, 0.04) * b.NominalV * b.NominalV / w }
	if chance(d, "dc cable", 30) {
		s.DCCable = cableThatLoses(d, ohmAt(arrayW))
	}
	if v := s.Inverter; v != nil && chance(d, "inverter cable", 30) {
		s.InverterCable = cableThatLoses(d, ohmAt(v.RatedW))
	}
}

// cableThatLoses draws a cable of ohm.
func cableThatLoses(d drawer, ohm float64) wiring.Run {
	r := wiring.Run{AreaMM2: d.float("mm2", 1, 70)}
	r.LengthM = min(200, ohm/(2*wiring.OhmPerM(r.AreaMM2)))
	return r
}

// faultsOf are all faults of a system: there must be none.
func faultsOf(s *sim.System) []limit.Fault {
	f := append(s.Surface.Check(), s.Array.Check()...)
	f = append(f, s.Array.Module.Check()...)
	f = append(f, s.Controller.Check()...)
	f = append(f, s.Bank.Check()...)
	if s.Inverter != nil {
		f = append(f, s.Inverter.Check()...)
	}
	if s.Backup != nil {
		f = append(f, s.Backup.Check()...)
	}
	for _, l := range s.Loads {
		f = append(f, l.Check()...)
	}
	return f
}

func plainTimetable(t clock.Timetable) plainWhen {
	var w plainWhen
	for day := time.Sunday; day <= time.Saturday; day++ {
		if t.Days&(1<<day) != 0 {
			w.days = append(w.days, day)
		}
	}
	for _, h := range t.Hours {
		w.hours = append(w.hours, [2]int{h.From, h.To})
	}
	for _, s := range t.Season {
		w.season = append(w.season, [2]int{int(s.From.Month)*100 + s.From.Day, int(s.To.Month)*100 + s.To.Day})
	}
	return w
}

// plainBankOf copies a bank's numbers.
func plainBankOf(s *sim.System) plainBank {
	b := s.Bank
	bank := plainBank{kind: b.Type.String(), nameplateAh: b.CapacityAh, health: b.Health, nominalV: b.NominalV,
		resistanceOhm: b.ResistanceOhm, coulombic: b.CoulombicEfficiency, maxChargeA: b.MaxChargeA, chargeV: b.ChargeV,
		selfDischarge: b.SelfDischarge, boardDrawW: b.BoardDrawW, disconnectSOC: b.DisconnectSOC, reconnectSOC: b.ReconnectSOC,
		disconnectV: b.DisconnectV, reconnectV: b.ReconnectV, minOffMin: b.MinOffMin, minChargeTempC: b.MinChargeTempC,
		resumeTempC: b.ResumeChargeTempC, maxChargeTempC: b.MaxChargeTempC, reducedBelowC: b.ReducedBelowC,
		wokenAtMin: b.WokenAtMin, reducedRate: b.ReducedRate, tempLagH: b.TempLagH, heatCapacityWhPerK: b.HeatCapacityWhPerK, heaterW: b.HeaterW,
		heaterToC: b.HeaterToC, startSOC: b.StartSOC, cableOhm: s.BatteryCable.ResistanceOhm(), acceptancePerH: b.AcceptancePerH,
		leadColdShare: battery.LeadColdShare}
	if bank.lead() { // the fit and the table are checked against published values
		r5, r100 := b.Ratio5H, b.Ratio100H
		if r5 == 0 {
			r5 = map[battery.Type]float64{battery.Flooded: 185. / 225, battery.AGM: 0.87, battery.Gel: 0.85}[b.Type]
		}
		if r100 == 0 {
			r100 = map[battery.Type]float64{battery.Flooded: 250. / 225, battery.AGM: 1.06, battery.Gel: 1.08}[b.Type]
		}
		bank.readyShare, bank.wellsPerH, _ = battery.FitWells(r5, r100)
	}
	return bank
}

// plainOf copies a system's numbers.
func plainOf(s *sim.System, y *weather.Year, light plainSun) plainPlant {
	b, c := s.Bank, &s.Controller
	roomC := plainMinutes(y.TempC)
	switch b.Room {
	case battery.Building:
		roomC = plainFollows(roomC, b.BuildingLagH)
	case battery.Profile:
		for i := range roomC {
			roomC[i] = b.RoomC[y.Start.Add(time.Duration(i/60)*time.Hour).Month()-1]
		}
	}
	p := plainPlant{
		bank: plainBankOf(s),
		controller: plainController{c.Efficiency, c.TrackingEfficiency, c.OwnDrawW, c.MaxCurrentA, c.MaxInputW, c.InputOffWhenBarred,
			c.Kind == controller.PWM, c.SwitchDropV, s.ArrayCable.ResistanceOhm()},
		start: y.Start, zone: s.Zone, arrayW: light.arrayW, blocked: light.blocked, arrayA: light.arrayA, roomC: roomC,
		dark: func(t time.Time) bool { return sun.At(t, y.Site.Sun()).ZenithDeg > 90 },
	}
	p.nominalV, p.inverterCableOhm, p.dcCableOhm = b.NominalV, s.InverterCable.ResistanceOhm(), s.DCCable.ResistanceOhm()
	if c := s.Backup; c != nil {
		p.backup = &plainBackup{powerW: c.PowerW, startSOC: c.StartSOC, stopSOC: c.StopSOC, carriedW: c.CarriedW,
			carried: plainTimetable(clock.Timetable{Season: c.Carried})}
		if !c.Quiet.Always() {
			quiet := plainTimetable(c.Quiet)
			p.backup.quiet = &quiet
		}
		if c.CarriedW == 0 {
			p.backup.carriedW = c.PowerW
		}
		if c.NeverStarted {
			p.backup.powerW = 0
		}
	}
	if p.zone == nil {
		p.zone = y.Site.Zone()
	}
	if v := s.Inverter; v != nil {
		p.inverter = &plainInverter{v.Mode.String(), plainTimetable(v.When), v.RatedW, v.IdleW, v.ProportionalLoss,
			v.ResistiveLoss, v.RestartAfterMin, v.CutoffAt(b.NominalV), plainSleep{}}
		if v.Mode == inverter.Search {
			p.inverter.sleep.wakesAtW, p.inverter.sleep.searchW = v.WakesAtW, v.SearchW
		}
		if v.AutoOffW > 0 && v.Mode != inverter.OnDemand {
			c := &p.inverter.sleep
			c.offBelowW, c.offAfterH, c.offW, c.wakeAtMin = v.AutoOffW, v.AutoOffH, v.OffW, v.WakeAtMin
		}
	}
	for _, l := range s.Loads {
		p.loads = append(p.loads, plainLoad{
			l.Kind.String(), l.Bus == loads.AC, l.Priority == loads.MustHave, l.PowerW, l.OnMinutesPerHour, plainTimetable(l.When),
			l.VisitsPerNight, l.MinutesPerVisit, l.StandbyInDaylight, l.StandbyW, l.Count, l.Chargers, l.PackEnergyWh, l.Depth,
			l.ChargerPowerW, l.ChargerEfficiency, l.AtMin, l.UnplugMin,
		})
	}
	return p
}

// plainSun is what the boxes before the controller give: the array's power in each step, whether the input window keeps a
// controller that tracks from starting, and the current that one that chops finds.
type plainSun struct {
	arrayW  []float64
	blocked []bool
	arrayA  func(step int, inputV float64) float64
}

// sunOn asks those boxes. It runs the array on a full bank with nothing to feed, which never sleeps.
func sunOn(s *sim.System, y *weather.Year) (sun plainSun, err error) {
	idle := *s
	idle.Loads, idle.Inverter, idle.Backup = nil, nil, nil
	idle.Bank.StartSOC, idle.Bank.SelfDischarge, idle.Bank.BoardDrawW, idle.Controller.OwnDrawW = 1, 0, 0, 0
	idle.Bank.HeaterW = 0
	r, err := sim.Prepare(&idle, y).Run(true)
	if err != nil {
		return sun, err
	}
	sun.arrayW, sun.blocked = r.Hours.FlowW[ledger.Array], make([]bool, y.Len())
	if s.Controller.Kind == controller.PWM {
		sun.arrayA = arrayCurrents(s, sun.arrayW, r.Hours.CellTempC)
		return sun, nil
	}
	for i, w := range r.Hours.FlowW[ledger.NotStarted] {
		sun.blocked[i] = w > 0
	}
	return sun, nil
}

// arrayCurrents tabulates the array's own curve, a box that is checked elsewhere, at each tenth of a volt for a 12 V bank. The
// light is that which gives the power.
func arrayCurrents(s *sim.System, arrayW, cellC []float64) func(step int, inputV float64) float64 {
	curve, ohm, nominalV := s.Array.Curve(), s.ArrayCable.ResistanceOhm(), s.Bank.NominalV
	stepV := nominalV / 120
	var volts []float64
	for k := range 140 {
		volts = append(volts, 0.5*nominalV+float64(k)*stepV)
	}
	rows := make([][]float64, len(arrayW))
	return func(step int, inputV float64) float64 {
		if rows[step] == nil {
			lo, hi := 0.0, 2000.0
			for range 60 {
				if mid := (lo + hi) / 2; s.Array.PowerW(mid, cellC[step]) < arrayW[step] {
					lo = mid
				} else {
					hi = mid
				}
			}
			rows[step] = curve.CurrentsA(nil, hi, cellC[step], volts, ohm)
		}
		at := clamp((inputV-volts[0])/stepV, 0, float64(len(volts))-1.001)
		k := int(at)
		return rows[step][k] + (rows[step][k+1]-rows[step][k])*(at-float64(k))
	}
}

func (f plainFlows) asLedger() (l ledger.Flows) {
	for k, v := range map[ledger.Flow]float64{
		ledger.Array: f.array, ledger.NotStarted: f.notStarted, ledger.OffPeak: f.offPeak, ledger.Clipped: f.clipped,
		ledger.ChargeBarred: f.chargeBarred, ledger.Curtailed: f.curtailed, ledger.Drawn: f.drawn,
		ledger.ControllerLoss: f.controllerLoss, ledger.WiringLoss: f.wiring, ledger.BatteryLoss: f.batteryLoss, ledger.StoreChange: f.storeChange,
		ledger.InverterIdle: f.inverterIdle, ledger.InverterLoss: f.inverterLoss, ledger.Standby: f.standby,
		ledger.Heater: f.heater, ledger.ServedAC: f.servedAC, ledger.ServedDC: f.servedDC, ledger.BatteryIn: f.batteryIn,
		ledger.BatteryOut: f.batteryOut, ledger.Demand: f.demand, ledger.Served: f.servedAC + f.servedDC,
		ledger.Unserved: f.unserved, ledger.Withheld: f.withheld, ledger.Backup: f.backup,
	} {
		l[k] = v
	}
	return l
}

// outageMatch counts the outages of each engine that begin within 2 min of one of the other's.
func outageMatch(a []ledger.Outage, b []plainOutage) (matched, all int) {
	near := func(x, y time.Time) bool { return x.Sub(y).Abs() <= 2*time.Minute }
	for _, x := range a {
		all++
		for _, y := range b {
			if near(x.Start, y.start) {
				matched++
				break
			}
		}
	}
	for _, y := range b {
		all++
		for _, x := range a {
			if near(x.Start, y.start) {
				matched++
				break
			}
		}
	}
	return matched, all
}

// seeds are the first and the last seed that a test draws from: from 1 on, or TIDEOVER_SEEDS=7-7.
func seeds(t *testing.T, most, short uint64) (first, last uint64) {
	if s := os.Getenv("TIDEOVER_SEEDS"); s != "" {
		if _, err := fmt.Sscanf(s, "%d-%d", &first, &last); err != nil {
			t.Fatalf("TIDEOVER_SEEDS is %q, want two numbers: 7-7", s)
		}
		return first, last
	}
	if testing.Short() {
		return 1, short
	}
	return 1, most
}

// TestTwoEnginesAgree runs random systems through the product's engine and the plain one. With one seed it says more.
func TestTwoEnginesAgree(t *testing.T) {
	first, last := seeds(t, 80, 15)
	type worstOf struct { // apart over allowed
		part float64
		seed uint64
	}
	worst := map[string]worstOf{}
	var seen struct{ matched, outages, dark, trips, barred, rule, asleep, blocked, clipped, pwm, backup, sags, woken, off int }
	for seed := first; seed <= last; seed++ {
		d := fromSeed(seed)
		y, zone := randomYear(d, d.whole("days", 10, 40))
		s := randomSystem(d, zone)
		if f := faultsOf(s); f != nil {
			t.Fatalf("seed %d: the drawn system has faults: %v", seed, f)
		}
		light, err := sunOn(s, y)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		r, err := sim.Prepare(s, y).Run(true)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		p := plainOf(s, y, light).run()
		for _, line := range disagreements(s, r, p, func(what string, part float64) {
			if part > worst[what].part {
				worst[what] = worstOf{part, seed}
			}
		}) {
			t.Errorf("seed %d: %s", seed, line)
		}
		if testing.Verbose() && first == last {
			t.Logf("%+v\n%+v\n%+v\n%+v\n%+v", s.Bank, s.Controller, s.Inverter, s.Backup, s.Loads)
			t.Logf("%v %v %v %v", s.ArrayCable, s.BatteryCable, s.InverterCable, s.DCCable)
			for i := range p.soc {
				if diff := math.Abs(p.soc[i] - r.Hours.SOC[i]); diff > 0.002 {
					t.Logf("first step with SOC apart: %d, ends %v: product %.5f, plain %.5f", i, r.Hours.End[i], r.Hours.SOC[i], p.soc[i])
					break
				}
			}
			for _, o := range r.Outages {
				t.Logf("product outage %v %.3f h %v", o.Start, o.Hours, o.Cause)
			}
			for _, o := range p.outages {
				t.Logf("plain outage %v %.3f h %v", o.start, o.hours, o.cause)
			}
		}
		m, all := outageMatch(r.Outages, p.outages)
		if m != all && testing.Verbose() {
			t.Logf("seed %d: %d of %d outage starts match (product %d, plain %d)", seed, m, all, len(r.Outages), len(p.outages))
		}
		seen.matched += m
		seen.outages += all
		seen.dark += r.Answer.DaysWithoutPower
		for _, o := range r.Outages {
			switch o.Cause {
			case ledger.Overload:
				seen.trips++
			case ledger.VoltageSag:
				seen.sags++
			}
		}
		for _, b := range light.blocked {
			if b {
				seen.blocked++
			}
		}
		for _, x := range []struct {
			flow ledger.Flow
			n    *int
		}{{ledger.Backup, &seen.backup}, {ledger.ChargeBarred, &seen.barred}, {ledger.Withheld, &seen.rule}, {ledger.Clipped, &seen.clipped}} {
			if r.Total[x.flow] > 0 {
				*x.n++
			}
		}
		if s.Controller.Kind == controller.PWM {
			seen.pwm++
		}
		if s.Bank.WokenAtMin > 0 && len(r.Outages) > 0 {
			seen.woken++
		}
		if s.Controller.InputOffWhenBarred && r.Total[ledger.ChargeBarred] > 0 {
			seen.off++
		}
	}
	t.Logf("%+v", seen)
	for _, what := range slices.Sorted(maps.Keys(worst)) {
		t.Logf("worst of %s: %.3f of what is allowed, seed %d", what, worst[what].part, worst[what].seed)
	}
	if first < last && float64(seen.matched) < 0.95*float64(seen.outages) {
		t.Errorf("%d of %d outages begin within 2 min in both engines, want 95 %%", seen.matched, seen.outages)
	}
}

// TestTwoEnginesAgreeOnSleep does so for inverters with search mode or auto-off, on AC loads that change on the hour: how
// shorter uses share out an hour is told, and tested, beside the product's rules.
func TestTwoEnginesAgreeOnSleep(t *testing.T) {
	first, last := seeds(t, 24, 6)
	asleep := 0
	for seed := first; seed <= last; seed++ {
		d := fromSeed(5000 + seed)
		y, zone := randomYear(d, d.whole("days", 10, 25))
		s := randomSystem(d, zone)
		onTheHour(s, d)
		if s.Inverter == nil {
			continue
		}
		v := s.Inverter
		sumW := 0.0
		for k := range s.Loads {
			if l := &s.Loads[k]; l.Bus == loads.AC {
				l.PowerW *= l.OnMinutesPerHour / 60
				l.OnMinutesPerHour = 60
				sumW += l.PowerW
			}
		}
		if sumW == 0 {
			continue
		}
		v.RatedW = max(v.RatedW, 1.1*sumW) // trips are told elsewhere
		v.IdleW = v.RatedW * d.float("idle", 0.002, 0.02)
		if chance(d, "search", 50) {
			v.Mode, v.WakesAtW, v.SearchW = inverter.Search, sumW*d.float("wakes at", 0.05, 0.8), v.IdleW*d.float("search", 0.05, 0.5)
		}
		if v.Mode != inverter.Search || chance(d, "both", 50) {
			v.AutoOffW, v.AutoOffH, v.OffW = sumW*d.float("off below", 0.05, 0.8), float64(d.whole("quarters", 1, 40))/4, v.IdleW*d.float("off", 0, 0.3)
			if chance(d, "by rule", 50) {
				v.WakeAtMin = d.whole("wake", 1, 1440)
			}
		}
		if f := faultsOf(s); f != nil {
			t.Fatalf("seed %d: the drawn system has faults: %v", seed, f)
		}
		light, err := sunOn(s, y)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		r, err := sim.Prepare(s, y).Run(true)
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		plant := plainOf(s, y, light)
		if plant.inverter.sleeps() {
			asleep++
		}
		for _, line := range disagreements(s, r, plant.run(), func(string, float64) {}) {
			t.Errorf("seed %d: %s", seed, line)
			if first == last {
				t.Logf("%+v", v)
			}
		}
	}
	t.Logf("%d inverters that sleep", asleep)
}

// disagreements compares the two results. The tolerances are those of one-minute explicit steps.
func disagreements(s *sim.System, r *ledger.Run, p plainResult, found func(what string, part float64)) (lines []string) {
	apart := func(what string, product, plain, tol float64) {
		if product != plain {
			found(what, math.Abs(product-plain)/tol)
		}
		if !(math.Abs(product-plain) <= tol) {
			lines = append(lines, fmt.Sprintf("%s: product %.6g, plain %.6g, apart by %.3g, allowed %.3g",
				what, product, plain, product-plain, tol))
		}
	}
	pf := p.flows.asLedger()
	demand := r.Total[ledger.Demand]
	through := r.Total[ledger.Array] + r.Total[ledger.Backup] + r.Total[ledger.BatteryIn] + r.Total[ledger.BatteryOut] + 1e-6

	apart("unserved Wh", r.Total[ledger.Unserved], pf[ledger.Unserved], max(0.01*r.Total[ledger.Unserved], 0.0002*demand))
	apart("lowest SOC", r.Answer.LowestSOC, p.lowestSOC, 0.01)
	apart("days without power", float64(r.Answer.DaysWithoutPower), float64(p.daysWithoutPower()),
		max(1, 0.02*float64(r.Answer.DaysWithoutPower)))
	apart("days off by rule", float64(r.Answer.DaysOffByRule), float64(p.daysOffByRule()), 0)

	// When dusk falls and when a charge ends is known to a minute here. Other loads agree to rounding.
	minuteWh := 0.0
	for _, l := range s.Loads {
		switch l.Kind {
		case loads.DuskToDawn, loads.MotionLight:
			minuteWh += 2 * l.PowerW / 60 * float64(len(r.Days))
		case loads.Packs:
			minuteWh += float64(l.Chargers) * l.ChargerPowerW / 60 * float64(len(r.Days))
		}
	}
	apart("withheld Wh", r.Total[ledger.Withheld], pf[ledger.Withheld], max(minuteWh, 1e-9*r.Total[ledger.Withheld]))
	apart("demand Wh", demand, pf[ledger.Demand], max(minuteWh, 1e-9*demand))
	for k := range ledger.NFlows {
		apart(k.String()+" Wh", r.Total[k], pf[k], 0.01*through)
	}

	if res := r.Residual(); !(res <= 1e-9) {
		lines = append(lines, fmt.Sprintf("the product's books: gaps %v Wh", r.Total.Gaps()))
	}
	for k, gap := range p.flows.gaps() {
		tol := 1e-9
		if k == 1 || k == 2 {
			// The loss is booked at the voltage at a minute's start, the store at the charge at its end: they differ by the
			// change of voltage within the minute.
			tol = 1e-3
		}
		if !(math.Abs(gap) <= tol*(through+demand)) {
			lines = append(lines, fmt.Sprintf("the plain engine's books: gap %d is %.3g Wh of %.6g", k+1, gap, through))
		}
	}
	return lines
}
