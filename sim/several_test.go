package sim_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/backup"
	"tideover/sim/battery"
	"tideover/sim/clock"
	"tideover/sim/controller"
	"tideover/sim/ledger"
	"tideover/weather"
)

// halved returns the system with half of its strings behind a controller of half the rating, and the others behind its twin.
func halved(s *sim.System) *sim.System {
	two := *s
	two.Array.InParallel /= 2
	c := &two.Controller
	c.MaxCurrentA, c.MaxInputW, c.MaxInputA, c.OwnDrawW = c.MaxCurrentA/2, c.MaxInputW/2, c.MaxInputA/2, c.OwnDrawW/2
	two.ControllerName = "left"
	two.Further = []sim.NamedController{{Name: "right", Controller: *c}}
	two.Beside = []sim.SubArray{{Array: two.Array, Surface: two.Surface, Feeds: 1}}
	return &two
}

// By symmetry two controllers with half of the array each are one of twice the rating: of lithium, of lead and with PWM, whether
// the current binds or the input or nothing, in the cold too, with a backup charger beside them. The tolerance is that of the
// voltage, which is closed in on to a millionth of a volt, and of rounding in single precision. A thousandth of the array's energy is
// allowed where a step of one controller takes its rating at a slightly other voltage: where the charge meets a limit
// within a step that is clipped, with PWM and with a backup, which meet the voltage to 2 mV.
func TestTwoHalvesAreOne(t *testing.T) {
	edits := []struct {
		name  string
		tol   float64
		binds ledger.Flow
		edit  func(s *sim.System)
	}{
		{"nothing binds", 1e-6, ledger.Array, func(s *sim.System) {}},
		{"current, a large bank", 1e-6, ledger.Clipped, func(s *sim.System) { s.Controller.MaxCurrentA, s.Bank.CapacityAh = 14, 2000 }},
		{"current", 1e-3, ledger.Clipped, func(s *sim.System) { s.Controller.MaxCurrentA = 14 }},
		{"little current, a full bank", 1e-3, ledger.Clipped, func(s *sim.System) {
			s.Controller.MaxCurrentA = 8
			s.Loads = []loads.Load{always("lamp", loads.DC, 20)}
		}},
		{"input", 1e-6, ledger.Clipped, func(s *sim.System) { s.Controller.MaxInputW = 150 }},
		{"loss by load", 1e-3, ledger.ControllerLoss, func(s *sim.System) { s.Controller.EfficiencyAtTenth, s.Controller.MaxCurrentA = 0.85, 16 }},
		{"pwm", 1e-3, ledger.OffPeak, func(s *sim.System) { pwm(&s.Controller) }},
		{"pwm, little current", 1e-3, ledger.Clipped, func(s *sim.System) {
			pwm(&s.Controller)
			s.Controller.MaxCurrentA = 9
		}},
		{"backup", 1e-3, ledger.Backup, func(s *sim.System) {
			c := backup.Default()
			c.PowerW, c.StartSOC, c.StopSOC = 100, 0.5, 0.9
			s.Backup, s.Controller.MaxCurrentA = &c, 12
		}},
		{"away", 1e-3, ledger.NotStarted, func(s *sim.System) {
			c := backup.Default()
			c.PowerW, c.NeverStarted = 100, true
			c.Carried = []clock.DateSpan{{From: clock.Date{Month: 6, Day: 3}, To: clock.Date{Month: 6, Day: 4}}}
			s.Backup, s.Controller.MaxCurrentA = &c, 12
		}},
	}
	for _, airC := range []float64{20, -4} {
		y := clearSky(6, 1, 6, airC)
		for i := range y.GHIWm2 { // days of different light
			y.GHIWm2[i] *= []float64{1, 0.5, 0.1, 0.2, 1, 0.8}[i/24]
		}
		for _, kind := range []battery.Type{battery.Lithium, battery.Flooded} {
			for _, c := range edits {
				one := sunny(180)
				one.Bank = battery.New(kind)
				one.Bank.CapacityAh, one.Bank.StartSOC = 100, 0.6
				one.Array.InParallel = 2
				one.Controller.MaxCurrentA = 40
				one.Controller.OwnDrawW = 1
				one.Loads = []loads.Load{always("lamp", loads.DC, 60)}
				c.edit(one)
				r, two := run(t, one, y), run(t, halved(one), y)
				name := fmt.Sprintf("%s, %v, %v C", c.name, kind.Words(), airC)
				if r.Total[c.binds] == 0 {
					t.Errorf("%s: %v is 0: the case tests nothing", name, c.binds)
				}
				for f := range ledger.NFlows {
					near(t, fmt.Sprintf("%s: %v", name, f), two.Total[f], r.Total[f], c.tol*(1+r.Total[ledger.Array]))
				}
				near(t, name+": lowest charge", two.Answer.LowestSOC, r.Answer.LowestSOC, c.tol)
				for _, line := range lawsBroken(one, two) {
					t.Errorf("%s: %s", name, line)
				}
				short, err := sim.Prepare(halved(one), y).Run(false) // plain steps where there are any
				if err != nil {
					t.Fatal(err)
				}
				for f := range ledger.NFlows {
					near(t, fmt.Sprintf("%s, without hours: %v", name, f), short.Total[f], two.Total[f], 1e-6*(1+r.Total[ledger.Array]))
				}
			}
		}
	}
}

func pwm(c *controller.Controller) {
	own := c.OwnDrawW
	*c = controller.New(controller.PWM)
	c.OwnDrawW, c.MaxInputV, c.MaxCurrentA = own, 60, 60
}

// steady is a day of one light, at the pole, on flat panels, over a bank that takes all.
func steady(c controller.Controller) (*sim.System, *weather.Year) {
	s := sunny(180)
	s.Surface.TiltDeg = 0
	s.Bank.CapacityAh, s.Bank.StartSOC, s.Bank.ResistanceOhm = 2000, 0.5, 0.003
	s.Controller = c
	s.Loads = []loads.Load{always("lamp", loads.DC, 30)}
	return s, bright(24, 800, 15)
}

// By hand: a 10 A controller with three strings and a 30 A one with one. Of each watt at the input 0.95 come out; the bus is at
// the bank's own voltage, as there is no cable. The first gives 10 A x that voltage and no more, the second all that it finds.
// The tolerance is that of reading the voltage as a mean over the hour.
func TestEachIsHeldByItsOwnRating(t *testing.T) {
	c := controller.Default()
	c.MaxCurrentA, c.MaxInputV, c.OwnDrawW = 10, 60, 1.5
	s, y := steady(c)
	s.ControllerName = "small"
	s.Array.InParallel = 3
	second := s.Array
	second.InParallel = 1
	c.MaxCurrentA, c.OwnDrawW = 30, 0.5
	s.Beside, s.Further = []sim.SubArray{{Array: second, Surface: s.Surface, Feeds: 1}}, []sim.NamedController{{Name: "large", Controller: c}}
	r := run(t, s, y)
	const i = 12
	at := func(f ledger.Flow) float64 { return r.Hours.FlowW[f][i] }
	arrayW, v := at(ledger.Array), r.Hours.BatteryV[i]
	foundW := 0.98 * arrayW / 4 // by each string
	near(t, "off peak", at(ledger.OffPeak), 0.02*arrayW, 1e-9*arrayW)
	near(t, "clipped", at(ledger.Clipped), 3*foundW-10*v/0.95, 1e-4*arrayW)
	near(t, "drawn", at(ledger.Drawn), foundW+10*v/0.95, 1e-4*arrayW)
	near(t, "controllers' loss", at(ledger.ControllerLoss), 0.05*(foundW+10*v/0.95), 1e-4*arrayW)
	near(t, "standby", at(ledger.Standby), 2, 1e-9)
	near(t, "into the battery", at(ledger.BatteryIn), 0.95*foundW+10*v-2-30, 1e-4*arrayW)
	if at(ledger.Clipped) < 0.2*arrayW || 0.95*foundW > 30*v {
		t.Errorf("clipped %v W of %v, the second string gives %v W at %v V: want the first alone clipped", at(ledger.Clipped), arrayW, 0.95*foundW, v)
	}
}

// East and west on two small controllers are clipped each in its own half of the day; on one of their summed rating they
// never are, as they never shine together.
func TestEastAndWestClipApart(t *testing.T) {
	y := clearSky(6, 1, 4, 15)
	apart := sunny(90)
	apart.Surface.TiltDeg = 60
	apart.Bank.CapacityAh = 4000
	apart.Bank.StartSOC = 0.5
	apart.Controller.MaxCurrentA = 9
	apart.ControllerName = "east"
	west := apart.Surface
	west.AzimuthDeg = 270
	apart.Further = []sim.NamedController{{Name: "west", Controller: apart.Controller}}
	apart.Beside = []sim.SubArray{{Array: apart.Array, Surface: west, Feeds: 1}}
	single := *apart
	single.Controller.MaxCurrentA, single.Further = 18, nil
	single.Beside = []sim.SubArray{{Array: apart.Array, Surface: west}}
	a, s := run(t, apart, y), run(t, &single, y)
	near(t, "array", a.Total[ledger.Array], s.Total[ledger.Array], 1e-9*s.Total[ledger.Array])
	near(t, "clipped by one", s.Total[ledger.Clipped], 0, 0)
	if a.Total[ledger.Clipped] < 0.01*a.Total[ledger.Array] {
		t.Fatalf("clipped %v Wh of %v by two: the case tests nothing", a.Total[ledger.Clipped], a.Total[ledger.Array])
	}
	// In each hour, the sum of what each side alone would be clipped by, at the same voltage.
	eastOnly, westOnly := apart.Behind(0), apart.Behind(1)
	e, w := run(t, eastOnly, y), run(t, westOnly, y)
	for i, v := range a.Hours.BatteryV {
		want := 0.0
		for _, side := range []*ledger.Run{e, w} {
			want += max(0, 0.98*side.Hours.FlowW[ledger.Array][i]-9*v/0.95)
		}
		near(t, fmt.Sprintf("clipped in hour %d", i), a.Hours.FlowW[ledger.Clipped][i], want, 1e-6*200)
	}
	near(t, "drawn", a.Total[ledger.Drawn]+a.Total[ledger.Clipped], s.Total[ledger.Drawn], 1e-6*s.Total[ledger.Array])
}

// A PWM controller beside one that tracks, by hand: the first passes its module's current at the voltage of the bus and the drop of
// its switch, by the module's curve, which has tests of its own; the second all that it finds but a 0.05th. The tolerance is
// that of the table of the curve, straight between its points.
func TestPWMBesideOneThatTracks(t *testing.T) {
	for _, rating := range []float64{30, 5} {
		c := controller.New(controller.PWM)
		c.MaxCurrentA, c.MaxInputV, c.OwnDrawW, c.SwitchDropV = rating, 60, 0, 0.3
		s, y := steady(c)
		s.ControllerName = "switch"
		c = controller.Default()
		c.MaxCurrentA, c.MaxInputV, c.OwnDrawW = 30, 60, 0
		s.Further = []sim.NamedController{{Name: "tracker", Controller: c}}
		s.Beside = []sim.SubArray{{Array: s.Array, Surface: s.Surface, Feeds: 1}}
		r := run(t, s, y)
		const i = 12
		at := func(f ledger.Flow) float64 { return r.Hours.FlowW[f][i] }
		v, cellC, mppW := r.Hours.BatteryV[i], r.Hours.CellTempC[i], at(ledger.Array)/2
		low, high := 0.0, 1000.0 // the light behind the glass under which a module can give that
		for range 60 {
			if mid := (low + high) / 2; s.Array.PowerW(mid, cellC) < mppW {
				low = mid
			} else {
				high = mid
			}
		}
		amps := s.Array.Curve().CurrentsA(nil, low, cellC, []float64{v + 0.3}, 0)[0]
		duty := min(1, rating/amps) // of the time in which the switch is closed
		pwmW := duty * (v + 0.3) * amps
		tol := 2e-3 * mppW
		t.Logf("bus %.3f V, %.3f A of at most %v, module %.1f W at its best", v, amps, rating, mppW)
		near(t, "drawn", at(ledger.Drawn), 0.98*mppW+pwmW, tol)
		near(t, "off peak", at(ledger.OffPeak), 0.02*mppW+duty*mppW-pwmW, tol)
		near(t, "clipped", at(ledger.Clipped), (1-duty)*mppW, tol)
		near(t, "controllers' loss", at(ledger.ControllerLoss), 0.05*0.98*mppW+duty*0.3*amps, tol)
		near(t, "into the battery", at(ledger.BatteryIn), 0.95*0.98*mppW+duty*v*amps-30, tol)
		if (duty < 1) != (rating < 10) {
			t.Errorf("duty %v with a rating of %v A", duty, rating)
		}
		for _, line := range lawsBroken(s, r) {
			t.Error(line)
		}
	}
}

// Dim light lifts a PWM controller's module to no more than the voltage of the bus: it gives nothing and has not started, while the
// other goes on.
func TestDimPWMBesideOneThatTracks(t *testing.T) {
	c := controller.New(controller.PWM)
	c.MaxCurrentA, c.MaxInputV, c.OwnDrawW = 30, 60, 0
	s, _ := steady(c)
	m := &s.Array.Module // some ten volts under dim light, below the bus of 13 V
	m.MpVoltageV, m.MpCurrentA, m.OcVoltageV, m.ScCurrentA, m.PowerW = 12, 10, 14.4, 10.6, 120
	c = controller.Default()
	c.MaxCurrentA, c.MaxInputV, c.OwnDrawW, c.MinInputV, c.StartInputV = 30, 60, 0, 5, 6
	s.Further = []sim.NamedController{{Name: "tracker", Controller: c}}
	s.Beside = []sim.SubArray{{Array: s.Array, Surface: s.Surface, Feeds: 1}}
	r := run(t, s, bright(24, 20, 15))
	at := func(f ledger.Flow) float64 { return r.Hours.FlowW[f][12] }
	near(t, "not started", at(ledger.NotStarted), at(ledger.Array)/2, 1e-9)
	near(t, "drawn", at(ledger.Drawn), 0.98*at(ledger.Array)/2, 1e-9)
	for _, line := range lawsBroken(s, r) {
		t.Error(line)
	}
}

func TestTurnedBehindSeveralControllers(t *testing.T) {
	y := clearSky(3, 1, 10, 3)
	s := sunny(180)
	s.Array.InParallel, s.Controller.MaxCurrentA = 2, 14
	s = halved(s)
	p := sim.Prepare(s, y)
	for sub := range 2 {
		anew := *s
		anew.Beside = slices.Clone(s.Beside)
		at := &anew.Surface
		if sub == 1 {
			at = &anew.Beside[0].Surface
		}
		at.TiltDeg, at.AzimuthDeg = 70, 140
		got, err := p.Turned(sub, *at).Run(false)
		if err != nil {
			t.Fatal(err)
		}
		want, err := sim.Prepare(&anew, y).Run(false)
		if err != nil {
			t.Fatal(err)
		}
		if got.Total != want.Total || got.Answer != want.Answer {
			t.Errorf("sub-array %d: turned %+v, prepared anew %+v", sub, got.Total, want.Total)
		}
	}
}

// A dull spell is the same behind two halves as behind one.
func TestSpellsBehindTwoHalves(t *testing.T) {
	y := clearSky(1, 1, 365, 3)
	one := sunny(180)
	one.Array.InParallel, one.Controller.MaxCurrentA = 2, 6
	one.Loads[0].PowerW = 50
	walk := func(s *sim.System) sim.Dull {
		spells, err := sim.Prepare(s, y).Spells([]float64{0.2})
		if err != nil {
			t.Fatal(err)
		}
		out := sim.Dull{Ends: make([]sim.DullEnd, 5)}
		if err := spells.Walker().Walk(100, 0, &out); err != nil {
			t.Fatal(err)
		}
		return out
	}
	a, b := walk(one), walk(halved(one))
	if math.IsInf(a.CutH, 1) {
		t.Error("the spell is carried: the case tests nothing")
	}
	near(t, "hours to the cut", b.CutH, a.CutH, 0.01) // a step of one controller that the cut ends takes its rating at a slightly other voltage
	for k := range a.Ends {
		near(t, fmt.Sprintf("charge after %d days", k+1), b.Ends[k].LowestSOC, a.Ends[k].LowestSOC, 1e-4)
	}
}

func TestControllersOfOneBankAreSetAlike(t *testing.T) {
	s := sunny(180)
	s.Array.InParallel = 2
	s = halved(s)
	c := &s.Further[0].Controller
	for _, x := range []struct {
		key  string
		edit func()
	}{
		{"", func() {}},
		{"", func() { c.AbsorptionV = s.Bank.ChargeLimitV() }}, // typed, and the bank's own
		{"absorption_v", func() { c.AbsorptionV = 14 }},
		{"float_v", func() { c.AbsorptionV, c.FloatV = 0, 13.5 }},
		{"", func() { s.Controller.FloatV = 13.5 }},
		{"absorption_h", func() { c.AbsorptionH = 2 }},
		{"temp_comp_mv_per_cell_k", func() { c.AbsorptionH, c.TempCompMVPerCellK = 0, -4 }},
	} {
		x.edit()
		k, key, _, _, apart := s.Unlike()
		if apart != (x.key != "") || key != x.key || apart && k != 1 {
			t.Errorf("unlike in %q at %d, %v; want %q", key, k, apart, x.key)
		}
	}
	defer func() {
		if r := recover(); r == nil || !strings.Contains(fmt.Sprint(r), "temp_comp_mv_per_cell_k") {
			t.Errorf("Prepare: %v, want a panic on the key", r)
		}
	}()
	sim.Prepare(s, clearSky(6, 1, 1, 20))
}

// withMore puts up to three more controllers with sub-arrays of their own beside that of a drawn system.
func withMore(d drawer, s *sim.System) {
	ratedW := s.Array.RatedW()
	if chance(d, "pwm first", 25) {
		c := controller.New(controller.PWM)
		c.OwnDrawW, c.MaxCurrentA, c.MaxInputV = s.Controller.OwnDrawW, s.Controller.MaxCurrentA, 1000
		s.Controller = c
	}
	s.Controller.InputOffWhenBarred = false // only a box's
	for k := range d.whole("more controllers", 0, 3) {
		c := controller.New(controller.Kind(d.whole("kind", 0, 1)))
		c.AbsorptionV, c.AbsorptionH = s.Controller.AbsorptionV, s.Controller.AbsorptionH // all are set alike
		c.FloatV, c.TempCompMVPerCellK = s.Controller.FloatV, s.Controller.TempCompMVPerCellK
		c.OwnDrawW = logFloat(d, "own draw", 1e-4, 1e-2) * ratedW
		c.MaxInputV = 1000
		c.MaxCurrentA = ratedW / s.Bank.NominalV * d.float("of it", 0.1, 2)
		if c.Kind == controller.MPPT {
			c.Efficiency, c.TrackingEfficiency = d.float("efficiency", 0.85, 1), d.float("tracking", 0.9, 1)
			if chance(d, "input binds", 30) {
				c.MaxInputW = ratedW * d.float("of it", 0.3, 0.9)
			}
		}
		s.Further = append(s.Further, sim.NamedController{Name: fmt.Sprintf("controller %d", k+2), Controller: c})
		for range d.whole("its sub-arrays", 1, 2) {
			sub := sim.SubArray{Array: s.Array, Surface: s.Surface, Feeds: k + 1}
			sub.Surface.FacesEquator, sub.Surface.AzimuthDeg = false, d.float("azimuth", 0, 359)
			sub.Surface.TiltDeg = d.float("tilt", 0, 90)
			sub.Array.InParallel = d.whole("strings", 1, 3)
			s.Beside = append(s.Beside, sub)
		}
	}
	if chance(d, "cable", 30) {
		s.ArrayCable.LengthM, s.ArrayCable.AreaMM2 = d.float("array cable m", 1, 30), d.float("mm2", 2.5, 25)
	}
}

func TestBooksOfRandomSystemsWithSeveralControllers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y, zone := randomYear(fromSeed(rapid.Uint64().Draw(t, "weather")), rapid.IntRange(1, 40).Draw(t, "days"))
		s := randomSystem(byRapid{t}, zone)
		withMore(byRapid{t}, s)
		if f := faultsOf(s); f != nil {
			t.Skip("the corner of the draws is refused: ", f)
		}
		r, err := runHours(s, y)
		if err != nil {
			t.Fatal(err)
		}
		for _, line := range lawsBroken(s, r) {
			t.Error(line)
		}
	})
}

// The same inputs in steps of 60 and 15 min behind several controllers, with the bounds of TestStepLengthChangesNothing. Cuts by
// voltage, which a hair decides, have tests of their own.
func TestStepLengthBehindSeveralControllers(t *testing.T) {
	last := uint64(24)
	if testing.Short() {
		last = 6
	}
	for seed := uint64(1); seed <= last; seed++ {
		d := fromSeed(seed)
		y, zone := randomYear(d, d.whole("days", 10, 20))
		s := randomSystem(d, zone)
		onTheHour(s, d)
		withMore(d, s)
		s.Bank.DisconnectV, s.Bank.ReconnectV = 0, 0
		for k := range s.Beside {
			s.Beside[k].Surface.TiltDeg = 0
		}
		hourly, err := runHours(s, inSteps(y, 60))
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		fine, err := runHours(s, inSteps(y, 15))
		if err != nil {
			t.Errorf("seed %d: %v", seed, err)
			continue
		}
		demand := hourly.Total[ledger.Demand]
		through := hourly.Total[ledger.Array] + hourly.Total[ledger.BatteryIn] + hourly.Total[ledger.BatteryOut]
		name := func(what string) string {
			return fmt.Sprintf("seed %d, %d controllers: %s", seed, len(s.Controllers()), what)
		}
		near(t, name("unserved"), fine.Total[ledger.Unserved], hourly.Total[ledger.Unserved], max(0.01*hourly.Total[ledger.Unserved], 0.0002*demand))
		near(t, name("lowest SOC"), fine.Answer.LowestSOC, hourly.Answer.LowestSOC, 0.01)
		near(t, name("days without power"), float64(fine.Answer.DaysWithoutPower), float64(hourly.Answer.DaysWithoutPower), max(1, 0.02*float64(hourly.Answer.DaysWithoutPower)))
		for k := range ledger.NFlows {
			near(t, name(k.String()), fine.Total[k], hourly.Total[k], 0.01*through)
		}
	}
}
