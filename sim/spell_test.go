package sim_test

import (
	"math"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/backup"
	"tideover/sim/plane"
	"tideover/weather"
)

// spellFrom walks a spell of so many days from one date, at the only share.
func spellFrom(t testing.TB, s *sim.Spells, date, days int) *sim.Dull {
	t.Helper()
	out := &sim.Dull{Ends: make([]sim.DullEnd, days)}
	if err := s.Walker().Walk(date, 0, out); err != nil {
		t.Fatal(err)
	}
	return out
}

func spellsOf(t testing.TB, sys *sim.System, y *weather.Year, share float64) *sim.Spells {
	t.Helper()
	s, err := sim.Prepare(sys, y).Spells([]float64{share})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func carried(d *sim.Dull) int {
	for n := range d.Ends {
		if !d.Ends[n].Carried() {
			return n
		}
	}
	return len(d.Ends)
}

// A bank of 1,000 Wh without losses and a lamp of 100 Wh a day. The tolerance is that of a resistance of 1e-9 ohm and of
// sums of hours.

func TestSpellWithoutSun(t *testing.T) {
	// No sun: 1,000 Wh / 100 Wh a day is 10 days, and the lamp goes out at hour 240.
	s := ideal()
	s.Loads = []loads.Load{always("lamp", loads.DC, 100.0/24)}
	d := spellFrom(t, spellsOf(t, s, dark(60*24), 0), 0, 30)
	near(t, "days carried", float64(carried(d)), 10, 0)
	near(t, "hours until the cut", d.CutH, 240, 1.0/60)
	near(t, "charge after 4 days", d.Ends[3].LowestSOC, socAfter(s, 600), 1e-6)
	near(t, "hours without power in 12 days", d.Ends[11].LackH, 48, 1.0/60)
	for n, e := range d.Ends {
		if !math.IsInf(e.FullH, 1) {
			t.Errorf("full %v h after %d days, and there is no sun", e.FullH, n+1)
		}
	}
	// 101 Wh a day is 237.62 hours: inside a day, and inside an hour.
	s.Loads = []loads.Load{always("lamp", loads.DC, 101.0/24)}
	d = spellFrom(t, spellsOf(t, s, dark(60*24), 0), 0, 30)
	near(t, "days carried", float64(carried(d)), 9, 0)
	near(t, "hours until the cut", d.CutH, 24*1000/101.0, 1.0/60)
}

// With a charger beside it the lamp stays on for as long as there is fuel, and the spell says for how long it ran: by hand, 100 Wh a
// day from 100 W, less what the bank gives or takes, which is all it holds at the most.
func TestSpellWithABackup(t *testing.T) {
	s := ideal()
	s.Bank.StartSOC = 0.5
	s.Loads = []loads.Load{always("lamp", loads.DC, 100.0/24)}
	c := backup.Default()
	c.PowerW, c.StartSOC, c.StopSOC = 100, 0.3, 0.8
	s.Backup = &c
	d := spellFrom(t, spellsOf(t, s, dark(60*24), 0), 0, 30)
	near(t, "days carried", float64(carried(d)), 30, 0)
	for n, e := range d.Ends {
		given := 100 * e.BackupH
		if asked := 100 * float64(n+1); given < asked-500 || given > asked+500 {
			t.Errorf("%d days: the charger gave %v Wh for %v asked and a bank half full of 1000", n+1, given, asked)
		}
	}
	if first := d.Ends[0].BackupH; first != 0 {
		t.Errorf("on the first day it ran %v h, and the charge is half", first)
	}
}

// socAfter is the state of charge at which the bank holds so many Wh, by halving.
func socAfter(s *sim.System, wh float64) float64 {
	p := s.Bank.Pack(0)
	lo, hi := 0.0, 1.0
	for range 60 {
		if mid := (lo + hi) / 2; p.HeldWh(mid*p.CapacityAh) < wh {
			lo = mid
		} else {
			hi = mid
		}
	}
	return lo
}

// noons is n days with an even sky of 400 W/m2 on the level from 10 to 14 h.
func noons(days int) *weather.Year {
	y := dark(24 * days)
	y.DNIWm2, y.DHIWm2 = make([]float64, y.Len()), make([]float64, y.Len())
	for i := range y.GHIWm2 {
		if h := i % 24; h >= 10 && h < 14 {
			y.GHIWm2[i], y.DHIWm2[i] = 400, 400
		}
	}
	return y
}

// halfTheLamp is a flat array whose 100 W/m2 from 10 to 14 h come to 50 Wh at the battery: its plate is set so. Its light
// and power are the boxes' own, which are tested by themselves.
func halfTheLamp(s *sim.System) {
	flat := s.Surface.Prepare(52)
	usable := flat.Light(plane.Sky{GHIWm2: 100, DHIWm2: 100, ZenithDeg: 180, ExtraNormalWm2: 1361}).UsableWm2
	offered := s.Array.Clear(usable, s.Array.CellTempC(100, 25, 1)).PowerW * s.Controller.TrackingEfficiency * s.Controller.Efficiency
	s.Array.Module.PowerW *= 12.5 / offered
}

func TestSpellThatGivesHalfTheLamp(t *testing.T) {
	// A quarter of the usual 400 W/m2 gives 50 Wh a day of the 100 Wh that the lamp takes: 1,000 / 50 is 20 days. On the
	// last, 50 Wh less 10 h of lamp leave 8.3 Wh at ten o'clock, so the cut comes at midnight and not before.
	s := ideal()
	s.Loads = []loads.Load{always("lamp", loads.DC, 100.0/24)}
	halfTheLamp(s)
	sp := spellsOf(t, s, noons(120), 0.25)
	d := spellFrom(t, sp, 0, 30)
	near(t, "days carried", float64(carried(d)), 20, 0)
	near(t, "hours until the cut", d.CutH, 480, 1.0/60)
	// Two days take 100 Wh; the days after give about 200 Wh between 10 and 14 h, 67 Wh in each of the four hours while
	// the lamp takes 4.2, so it is full within two noons: lost by ten o'clock 100 + 42, put back by 14 h at most 200 - 17.
	if h := d.Ends[1].FullH; h != 13 && h != 14 {
		t.Errorf("full %v h after two days, want 13 or 14: at the first noon", h)
	}
	// From a day on which the year has it already full by noon, it stands a night's use below full at midnight.
	near(t, "charge at midnight of day 5", sp.StartSOC[5], socAfter(s, 1000-10*100.0/24), 1e-3)
}

// TestSpellIsARunOfThatWeather is a cross-check: the days of the spell put into the weather itself, an even sky on a flat
// array, and run by the ordinary command give the same cut, lowest charge and time until full.
func TestSpellIsARunOfThatWeather(t *testing.T) {
	for _, name := range []string{"trail-store", "clay-studio"} {
		sys, y := shipped(t, name)
		sys.Surface.TiltDeg, sys.Surface.SkyModel = 0, plane.Isotropic
		sys.Bank.StartSOC = 1
		share, days := 0.15, 6
		before := run(t, sys, y)
		usual := usualLight(before.Hours.PlaneWm2)
		sp := spellsOf(t, sys, y, share)
		for _, date := range []int{0, 14, 81, 180, 290, 330} {
			first, last := stepOf(before.Hours.End, sp.Dates[date]), stepOf(before.Hours.End, sp.Dates[date+days])
			dull := *y
			dull.GHIWm2, dull.DNIWm2, dull.DHIWm2 = append([]float64{}, y.GHIWm2...), append([]float64{}, before.Hours.DNIWm2...), append([]float64{}, before.Hours.DHIWm2...)
			for i := first; i < last; i++ {
				dull.GHIWm2[i], dull.DNIWm2[i], dull.DHIWm2[i] = share*usual[i], 0, share*usual[i]
			}
			after := run(t, sys, &dull)
			d := spellFrom(t, sp, date, days)
			where := name + " from " + sp.Dates[date].Format("2 Jan")
			lowest, fullH, lackMin, cutDay := sp.StartSOC[date], math.Inf(1), 0.0, math.Inf(1)
			for n, day := range after.Days[date : date+days] {
				lowest = min(lowest, day.LowestSOC)
				if lackMin += day.LackMin; lackMin > 1 {
					cutDay = min(cutDay, float64(n))
				}
				near(t, where+": minutes without power", 60*d.Ends[n].LackH, lackMin, 1e-6)
				near(t, where+": lowest charge", d.Ends[n].LowestSOC, lowest, 1e-9)
			}
			if math.Floor(d.CutH/24) != cutDay {
				t.Errorf("%s: cut after %v h, the run says on day %v", where, d.CutH, cutDay)
			}
			for i := last; i < len(after.Hours.SOC) && math.IsInf(fullH, 1); i++ {
				if after.Hours.SOC[i] >= 0.999 {
					fullH = float64(i + 1 - last)
				}
			}
			if fullH > 24*sim.MaxFullDays { // the walk gives up
				fullH = math.Inf(1)
			}
			if math.IsInf(fullH, 1) && date > 270 { // the run ends before it is full, the walk goes on
				continue
			}
			if d.Ends[days-1].FullH != fullH {
				t.Errorf("%s: full after %v h, the run says %v h", where, d.Ends[days-1].FullH, fullH)
			}
		}
	}
}

// usualLight is the mean of each hour of the day over the 15 days before and after, round the year of 8,760 hours.
func usualLight(w []float64) []float64 {
	out := make([]float64, len(w))
	for i := range w {
		for d := -15; d <= 15; d++ {
			out[i] += w[(i+24*d+len(w))%len(w)] / 31
		}
	}
	return out
}

// stepOf is the step that begins at t.
func stepOf(ends []time.Time, t time.Time) int {
	for i, end := range ends {
		if end.After(t) {
			return i
		}
	}
	return len(ends)
}

// TestSpellLaws: what holds for any system, weather, share and date.
func TestSpellLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		y, zone := randomYear(fromSeed(rapid.Uint64().Draw(t, "weather")), rapid.IntRange(1, 60).Draw(t, "days of weather"))
		sys := randomSystem(byRapid{t}, zone)
		p := sim.Prepare(sys, y)
		s, err := p.Spells([]float64{rapid.Float64Range(0, 1).Draw(t, "share")})
		if err != nil {
			t.Fatal(err)
		}
		date := rapid.IntRange(0, len(s.Dates)-1).Draw(t, "date")
		out := sim.Dull{Ends: make([]sim.DullEnd, rapid.IntRange(1, 30).Draw(t, "days"))}
		w := s.Walker()
		if err := w.Walk(date, 0, &out); err != nil {
			t.Fatal(err)
		}
		soc, lackH := s.StartSOC[date], 0.0
		for n, e := range out.Ends {
			if e.LowestSOC > soc {
				t.Errorf("day %d: lowest charge %v, above %v of a shorter spell or the start", n+1, e.LowestSOC, soc)
			}
			if e.LackH < lackH { // so a spell that is carried has every shorter one carried
				t.Errorf("day %d: %v h without power, a shorter spell %v h", n+1, e.LackH, lackH)
			}
			if !(e.FullH >= 0) || e.LowestSOC < -1e-9 {
				t.Errorf("day %d: full after %v h, lowest charge %v", n+1, e.FullH, e.LowestSOC)
			}
			soc, lackH = e.LowestSOC, e.LackH
		}
		if carriedAll := out.Ends[len(out.Ends)-1].Carried(); carriedAll != math.IsInf(out.CutH, 1) {
			t.Errorf("carried %v, cut after %v h", carriedAll, out.CutH)
		}
		again := sim.Dull{Ends: make([]sim.DullEnd, len(out.Ends))}
		if err := w.Walk(date, 0, &again); err != nil {
			t.Fatal(err)
		}
		for n := range out.Ends {
			if out.Ends[n] != again.Ends[n] || out.CutH != again.CutH {
				t.Errorf("day %d: %v, and %v when the same walker walks again", n+1, out.Ends[n], again.Ends[n])
			}
		}
	})
}

// TestPlaneDaysAreTheHours: the sums by day are those of the hours.
func TestPlaneDaysAreTheHours(t *testing.T) {
	sys, y := shipped(t, "ewe-barn")
	p := sim.Prepare(sys, y)
	r, err := p.Run(true)
	if err != nil {
		t.Fatal(err)
	}
	days, at := p.PlaneDays()
	if len(days) != 365 || at[0] != 0 || at[364] != 364 {
		t.Fatalf("%d days, from %d to %d", len(days), at[0], at[len(at)-1])
	}
	for d, wh := range days {
		sum := 0.0
		for _, w := range r.Hours.PlaneWm2[24*d : 24*d+24] {
			sum += w
		}
		near(t, y.Start.AddDate(0, 0, d).Format("2 Jan"), wh, sum, 1e-9*(1+sum))
	}
}

func TestWalkDoesNotAllocate(t *testing.T) {
	sys, y := shipped(t, "trail-store")
	s := spellsOf(t, sys, y, 0.1)
	w, out := s.Walker(), sim.Dull{Ends: make([]sim.DullEnd, 30)}
	date := 0
	if n := testing.AllocsPerRun(20, func() {
		if err := w.Walk(date, 0, &out); err != nil {
			t.Fatal(err)
		}
		date += 17
	}); n != 0 {
		t.Errorf("%v allocations a walk, want none", n)
	}
}
