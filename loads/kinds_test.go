package loads

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/sim/clock"
)

// day1 is the mean power of the first 24 steps of an hour, Wh.
func day1(w []float64) (wh float64) {
	for _, v := range w[:24] {
		wh += v
	}
	return wh
}

func TestDutyCycle(t *testing.T) {
	// By hand. A fridge of 60 W that runs 35 % of the time at 20 C and 2 points more for each kelvin: at 25 C 45 %, 27 W; at
	// 0 C it is still. A frost heater of 200 W that is off at 5 C and 10 points more for each kelvin below: at 0 C half.
	fridge := load(t, DutyCycle, "power_w: 60", "duty: 0.35", "duty_rise_per_k: 0.02")
	frost := load(t, DutyCycle, "power_w: 200", "duty: 0", "duty_at_c: 5", "duty_rise_per_k: -0.1")
	pump := load(t, DutyCycle, "power_w: 40", "duty: 0.25")
	p := sunny(amsterdam(t, 60, 1), 7, 17)
	p.AirC = make([]float64, 24)
	copy(p.AirC, []float64{25, 0, 60, 5, -10, -4})
	for k, want := range [][]float64{{27, 0, 60, 60 * 0.05, 0, 0}, {0, 100, 0, 0, 200, 180}, {10, 10, 10, 10, 10, 10}} {
		l := []Load{fridge, frost, pump}[k]
		d := Sum(p, []Load{l})
		for i, w := range want {
			near(t, l.Class.String(), d.ACW[i], w, 1e-12)
			if on := d.ACOnW[i]; w > 0 && on != l.PowerW || w == 0 && on != 0 {
				t.Errorf("load %d: on %v W in step %d", k, on, i)
			}
			near(t, "share", d.ACShare[i], w/l.PowerW, 1e-15)
		}
	}
	// A room that does not fall below 15 C: 25 % of 60 W. Without air it runs as at its reference.
	warm := load(t, DutyCycle, "power_w: 60", "duty: 0.35", "duty_rise_per_k: 0.02", "room_min_c: 15")
	near(t, "heated room", Sum(p, []Load{warm}).ACW[1], 15, 1e-12)
	p.AirC = nil
	near(t, "no air", Sum(p, []Load{fridge}).ACW[1], 21, 1e-12)
	if fridge.class() != Compressor || frost.class() != Resistive {
		t.Errorf("classes %v, %v", fridge.class(), frost.class())
	}
}

func TestRoomLag(t *testing.T) {
	// Against explicit steps of 0.36 s of T' = (a - T) / lag, round and round until settled. Their error falls with the step.
	air := make([]float64, 48)
	for i := range air {
		air[i] = float64((i*7)%13) - 3
	}
	l := load(t, DutyCycle, "power_w: 1", "duty: 0.5", "duty_rise_per_k: 0.01", "lag_h: 6")
	got := l.roomC(air, 1)
	const parts = 10000
	temp, want := 0.0, make([]float64, len(air))
	for range 3 {
		for i, a := range air {
			want[i] = 0
			for range parts {
				want[i] += temp / parts
				temp += (a - temp) / 6 / parts
			}
		}
	}
	for i := range air {
		near(t, "room", got[i], want[i], 1e-3)
	}
}

func TestDimmedAndShortNights(t *testing.T) {
	// By hand: dusk at 17:00, dawn at 07:00. The run begins at midnight, seven hours after the dusk before it.
	p := sunny(amsterdam(t, 60, 2), 7, 17)
	short := load(t, DuskToDawn, "power_w: 10", "minutes_after_dusk: 240")
	d := Sum(p, []Load{short})
	near(t, "17 to 21", day1(d.ACW), 40, 1e-12)
	for h, want := range map[int]float64{0: 0, 6: 0, 17: 10, 20: 10, 21: 0, 24: 0, 41: 10, 45: 0} {
		near(t, "hour", d.ACW[h], want, 1e-12)
	}
	dim := load(t, DuskToDawn, "power_w: 10", "dim_to: 0.3", "dim_after_min: 210")
	d = Sum(p, []Load{dim})
	near(t, "dimmed", day1(d.ACW), 7*3+3.5*10+3.5*3, 1e-12)
	if d.ACOnW[20] != 10 || d.ACOnW[21] != 3 || d.ACOnW[3] != 3 || d.ACW[20] != 6.5 {
		t.Errorf("on %v W at 20, %v at 21, %v at 3; mean %v at 20", d.ACOnW[20], d.ACOnW[21], d.ACOnW[3], d.ACW[20])
	}
	// All together, within hours that pass midnight and begin after dusk: 18 to 02 is 1 h to 9 h after dusk.
	both := load(t, DuskToDawn, "power_w: 10", "dim_to: 0.5", "dim_after_min: 120", "minutes_after_dusk: 480", "hours: 18:00 to 02:00")
	near(t, "both", day1(Sum(p, []Load{both}).ACW), 1*5+10+5*5, 1e-12) // 00 to 01 of the night before; 18 to 19; 19 to 24
	off := load(t, DuskToDawn, "power_w: 10", "dim_to: 0", "dim_after_min: 60")
	near(t, "dimmed to nothing", day1(Sum(p, []Load{off}).ACW), 10, 1e-12)
}

func TestRandomUses(t *testing.T) {
	p := sunny(amsterdam(t, 60, 365), 7, 17)
	p.Seed = 7
	kettle := load(t, RandomUses, "power_w: 2000", "uses_per_day: 3", "minutes_per_use: 4", "hours: 07:00 to 22:00")
	kettle.Name = "kettle"
	d := Sum(p, []Load{kettle})
	near(t, "three times 4 min every day", d.PerLoad[0].DemandWh, 365*3*2000*4.0/60, 1e-6)
	near(t, "hours", d.PerLoad[0].HoursInUse, 365*3*4.0/60, 1e-9)
	third := [3]float64{}
	for i := range d.ACW {
		switch h := p.Clock.StepStart(i).Hour(); {
		case h < 7 || h >= 22:
			near(t, "at night", d.ACW[i], 0, 0)
		default:
			third[(h-7)/5] += d.ACW[i]
		}
	}
	for _, wh := range third { // of 1095 uses a third has a standard deviation of 0.014; four of them
		near(t, "a third of the hours", wh/d.PerLoad[0].DemandWh, 1.0/3, 0.057)
	}

	// The same whatever else is in the list, other by seed, by name and from day to day.
	lamp := load(t, RandomUses, "power_w: 5", "uses_per_day: 3", "minutes_per_use: 4", "hours: 07:00 to 22:00", "bus: dc")
	lamp.Name = "lamp"
	if again := Sum(p, []Load{lamp, kettle}); !slices.Equal(again.ACW, d.ACW) || !slices.Equal(again.ACOnW, d.ACOnW) {
		t.Error("another load in the list moves the kettle")
	} else if slices.Equal(again.DCW[:48], d.ACW[:48]) || slices.Equal(d.ACW[24:48], d.ACW[:24]) {
		t.Error("two loads, or two days, are alike")
	}
	q := p
	q.Seed = 8
	if slices.Equal(Sum(q, []Load{kettle}).ACW, d.ACW) {
		t.Error("the seed changes nothing")
	}

	// One date in five: of 365 draws 73, with a standard deviation of 7.6; four of them.
	rare := load(t, RandomUses, "power_w: 60", "uses_per_day: 0.2", "minutes_per_use: 60")
	near(t, "rare", Sum(p, []Load{rare}).PerLoad[0].DemandWh/60, 73, 31)

	// Full hours: four times 15 min in an hour of two spans are all of it; at any moment they may be on all the while.
	full := load(t, RandomUses, "power_w: 60", "uses_per_day: 4", "minutes_per_use: 15", "hours: 07:00 to 07:30|12:15 to 12:45")
	d = Sum(p, []Load{full})
	if d.ACW[7] != 30 || math.Abs(d.ACW[12]-30) > 1e-9 || math.Abs(day1(d.ACW)-60) > 1e-9 {
		t.Errorf("means %v and %v W, %v Wh, want 30, 30, 60", d.ACW[7], d.ACW[12], day1(d.ACW))
	}
	p.AnyMoment = true
	d = Sum(p, []Load{kettle})
	if d.ACOnW[7] != 2000 || d.ACOnW[21] != 2000 || d.ACOnW[22] != 0 {
		t.Error("for ratings the kettle is not on whenever it may be")
	}
	near(t, "the same energy", d.PerLoad[0].DemandWh, 365*3*2000*4.0/60, 1e-6)
}

// rising is a series whose rows count up.
func rising(stepMin, days int) *Series {
	s := &Series{StepMin: stepMin}
	for k := range days * 1440 / stepMin {
		s.PowerW = append(s.PowerW, float64(k))
	}
	return s
}

func TestMeasuredProfile(t *testing.T) {
	l := New(Profile)
	at := func(p Place, date string, hour int) float64 {
		d := Sum(p, []Load{l})
		for i, w := range d.ACW {
			if s := p.Clock.StepStart(i); s.Format("2 Jan") == date && s.Hour() == hour {
				return w
			}
		}
		t.Fatalf("no %s %d h", date, hour)
		return 0
	}
	p := sunny(amsterdam(t, 60, 365), 7, 17)
	l.Measured = rising(60, 1)
	near(t, "a day", at(p, "3 Jun", 5), 5, 0)
	near(t, "spring", byDate(p, Sum(p, []Load{l}).ACW, "30 Mar"), 276-2, 1e-9) // 0 to 23, less the hour that is skipped
	near(t, "autumn", byDate(p, Sum(p, []Load{l}).ACW, "26 Oct"), 276+2, 1e-9)
	l.Measured = rising(60, 7)
	near(t, "a week: Wednesday 1 January", at(p, "1 Jan", 3), 2*24+3, 0)
	near(t, "a week: Sunday", at(p, "5 Jan", 23), 167, 0)
	l.Measured = rising(60, 365)
	near(t, "a year", at(p, "1 Mar", 1), 59*24+1, 0)
	leap := clock.New(time.Date(2024, 1, 1, 0, 0, 0, 0, time.UTC), 60, 8784, time.UTC)
	q := sunny(leap, 7, 17)
	near(t, "29 February like the 28th", at(q, "29 Feb", 2), 58*24+2, 0)
	near(t, "1 March 2024", at(q, "1 Mar", 1), 59*24+1, 0)
	l.Measured = rising(60, 366)
	near(t, "1 March 2024 of a leap year", at(q, "1 Mar", 1), 60*24+1, 0)
	near(t, "1 March 2025 of a leap year", at(p, "1 Mar", 1), 60*24+1, 0)
	near(t, "31 December", at(p, "31 Dec", 23), 366*24-1, 0)

	// Rows of a quarter in steps of an hour, and the other way round: means, the highest row, the share of rows that draw.
	l.Measured = rising(15, 1)
	d := Sum(p, []Load{l})
	if d.ACW[0] != 1.5 || d.ACOnW[0] != 3 || d.ACShare[0] != 0.75 || d.ACShare[1] != 1 {
		t.Errorf("first hour %v W, on %v W, share %v, then %v", d.ACW[0], d.ACOnW[0], d.ACShare[0], d.ACShare[1])
	}
	l.Measured = rising(180, 1)
	d = Sum(sunny(amsterdam(t, 15, 1), 7, 17), []Load{l})
	if d.ACW[11] != 0 || d.ACW[12] != 1 || d.ACW[95] != 7 {
		t.Errorf("quarters %v, %v, %v", d.ACW[11], d.ACW[12], d.ACW[95])
	}
	l.When.Days = 1 << time.Friday
	near(t, "Fridays only", byDate(p, Sum(p, []Load{l}).ACW, "1 Jan"), 0, 0)
}

func TestWaitingPacks(t *testing.T) {
	// The packs of TestChargersSideBySide: five of 100 Wh at the plug on two chargers of 100 W, three of them on one, 1.3117 h
	// each; 2 W of standby to a charger. Unplugged nine hours after they were plugged in, they must begin by 5.06 h.
	p := sunny(amsterdam(t, 60, 3), 7, 17)
	p.Defer = true
	keys := []string{"count: 5", "chargers: 2", "pack_energy_wh: 85", "charger_power_w: 100", "standby_w: 2", "unplug: 17:30", "at: 08:30", "priority: first_to_go", "below_soc: 0.4"}
	l := load(t, Packs, append(keys, "wait_for: sun")...)
	lengthH := 0.8 + 0.2/0.9*math.Log(10)
	d := Sum(p, []Load{l})
	if len(d.Jobs) != 3 {
		t.Fatalf("%d jobs, want 3", len(d.Jobs))
	}
	j := d.Jobs[1]
	if j.PluggedStep != 24+9 || j.DeadlineStep != 24+13 || j.UnplugStep != 24+18 || j.BelowSOC != 0.4 || j.WaitForSOC != 0 || j.MustHave || j.Bus != AC {
		t.Errorf("got %+v", j)
	}
	near(t, "energy", j.EnergyWh, 500-2*5*lengthH, 1e-9)
	near(t, "first hour", j.MeanW[0], 2*(80+200.0/9*(1-math.Exp(-0.9)))-4, 1e-9)
	if len(j.MeanW) != 4 || j.OnW[0] != 196 || j.Share[2] != 1 || math.Abs(j.Share[3]-(3*lengthH-3)) > 1e-12 || math.Abs(j.OnVA[0]-196/0.7) > 1e-9 {
		t.Errorf("profile %+v", j.Charging)
	}
	near(t, "standby in the columns", day1(d.ACW), 2*2*9, 1e-9)
	near(t, "all that is asked", d.PerLoad[0].DemandWh, 3*(500+36-2*5*lengthH), 1e-9)

	// At once, it is the same.
	p.Defer = false
	at := Sum(p, []Load{l})
	near(t, "at once", at.PerLoad[0].DemandWh, d.PerLoad[0].DemandWh, 1e-9)
	near(t, "hours in use", at.PerLoad[0].HoursInUse, d.PerLoad[0].HoursInUse, 1e-9)
	near(t, "standby", at.PerLoad[0].StandbyWh, 3*(2*(9-3*lengthH)+2*(9-2*lengthH)), 1e-9)
	if at.Jobs != nil {
		t.Error("jobs without Defer")
	}

	// A deadline of the person's own; by the charge; left in for good.
	p.Defer = true
	own := Sum(p, []Load{load(t, Packs, append(keys, "wait_for_soc: 0.8", "deadline_h: 2", "unplug: never")...)})
	if j := own.Jobs[0]; j.DeadlineStep != 10 || j.WaitForSOC != 0.8 || len(own.Jobs) != 3 {
		t.Errorf("got %+v of %d", j, len(own.Jobs))
	}
	near(t, "standby all day", day1(own.ACW), 4*24, 1e-9)

	// Plugged in on the evening before the run: the deadline lies in it, at 03:04.
	night := Sum(p, []Load{load(t, Packs, append(keys[:5:5], "wait_for: sun", "at: 20:00", "unplug: 07:00")...)})
	if j := night.Jobs[0]; j.PluggedStep != 0 || j.DeadlineStep != 3 || len(night.Jobs) != 3 {
		t.Errorf("got %+v of %d, want three: that of the last evening belongs to the next run", j, len(night.Jobs))
	}

	// For ratings: at full power from plugging in to unplugging.
	peaks := Coincide(p, []Load{l}, AC)
	near(t, "peak", peaks.RunW.Most, 200, 1e-12)
}

func TestShedLevels(t *testing.T) {
	p := sunny(amsterdam(t, 60, 1), 7, 17)
	list := []Load{
		load(t, AlwaysOn, "power_w: 1"),
		load(t, AlwaysOn, "power_w: 10", "priority: first_to_go", "below_soc: 0.3"),
		load(t, AlwaysOn, "power_w: 100", "priority: first_to_go", "below_soc: 0.6"),
		load(t, AlwaysOn, "power_w: 1000", "priority: first_to_go", "below_soc: 0.3", "bus: dc"),
	}
	if got := Levels(list); !slices.Equal(got, []float64{0.6, 0.3}) {
		t.Fatalf("levels %v", got)
	}
	all := SumLevels(p, list)
	for k, want := range [][5]float64{{111, 1000, 0, 0, 111}, {11, 1000, 100, 0, 11}, {1, 0, 1110, 1000, 1}} {
		d := all[k]
		got := [5]float64{d.ACW[5], d.DCW[5], d.WithheldW[5], 0, d.ACOnW[5]}
		if d.WithheldDCW != nil {
			got[3] = d.WithheldDCW[5]
		}
		if got != want || d.MustWithheldShare[5] != 0 || !d.MustAC[5] || d.MustDC[5] {
			t.Errorf("level %d: AC, DC, withheld, of it DC, on: %v, want %v", k, got, want)
		}
		near(t, "asked", d.PerLoad[3].DemandWh, 24000, 1e-9)
	}
}

func TestStandbyApart(t *testing.T) {
	p := sunny(amsterdam(t, 60, 2), 8, 16)
	d := Sum(p, []Load{load(t, MotionLight, "power_w: 20", "visits_per_night: 6", "minutes_per_visit: 5", "standby_w: 0.5")})
	// By hand: 6 x 5 min is half an hour of 20 W, by night; two nights less what the run cuts: the first and the last are half there.
	near(t, "standby", d.PerLoad[0].StandbyWh, 24, 1e-9)
	near(t, "in use", d.PerLoad[0].HoursInUse, 1, 1e-9)
	near(t, "all", d.PerLoad[0].DemandWh, 24+20, 1e-9)
}

func TestClasses(t *testing.T) {
	for _, tc := range []struct {
		kind         Kind
		keys         string
		pf, start, s float64
	}{
		{AlwaysOn, "power_w: 5", 0.85, 1, 0},
		{AlwaysOn, "power_w: 5|bus: dc|power_factor: 0.5", 1, 1, 0},
		{AlwaysOn, "power_w: 5|class: resistive", 1, 1, 0},
		{AlwaysOn, "power_w: 5|class: motor", 0.75, 3, 1},
		{AlwaysOn, "power_w: 5|class: motor|power_factor: 0.6|start_factor: 2|start_s: 4", 0.6, 2, 4},
		{AlwaysOn, "power_w: 5|class: brushed_motor|start_factor: 1", 0.85, 1, 0},
		{AlwaysOn, "power_w: 5|start_factor: 4", 0.85, 4, 1},
		{DuskToDawn, "power_w: 5", 0.7, 1, 0},
		{DutyCycle, "power_w: 5|duty: 0.3", 0.75, 5, 5},
	} {
		l := load(t, tc.kind, strings.Split(tc.keys, "|")...)
		start, s := l.Start()
		if l.RunningPF() != tc.pf || start != tc.start || s != tc.s {
			t.Errorf("%s: power factor %v, start %v for %v s, want %v, %v, %v", tc.keys, l.RunningPF(), start, s, tc.pf, tc.start, tc.s)
		}
	}
}

func TestChecksOfNewKeys(t *testing.T) {
	packs := "count: 2|pack_energy_wh: 85|charger_power_w: 100|"
	for _, tc := range []struct {
		kind Kind
		keys string
		want string
	}{
		{AlwaysOn, "power_w: 5|priority: first_to_go", "below_soc: is missing: what is first_to_go wants the state of charge below which it is left off; example: below_soc: 0.4"},
		{AlwaysOn, "power_w: 5|below_soc: 0.4", "below_soc: counts with priority: first_to_go only, and this load is must_have"},
		{AlwaysOn, "power_w: 5|start_factor: 0.5", "start_factor: 0.5 is below 1: nothing starts on less than it runs on; example: start_factor: 3"},
		{Timetable, "power_w: 5|days: mon|first_day: 3 Mar", "first_day: is given without every_days, which counts from it"},
		{Timetable, "power_w: 5|away: jul", ""},
		{DuskToDawn, "power_w: 5|dim_to: 0.3", "dim_to: wants dim_after_min beside it, as dim_after_min: 180"},
		{DuskToDawn, "power_w: 5|dim_after_min: 60", "dim_after_min: wants dim_to beside it, as dim_to: 0.3"},
		{DuskToDawn, "power_w: 5|dim_to: 0.3|dim_after_min: 240|minutes_after_dusk: 240",
			"dim_after_min: 240 min is not before minutes_after_dusk, 240 min, when the light is out; example: dim_after_min: 60"},
		{DutyCycle, "power_w: 5", "duty: 0 never runs: type what it runs at duty_at_c, or a duty_rise_per_k; example: duty: 0.35"},
		{DutyCycle, "power_w: 5|duty: 1.2", "duty: 1.2 is not between 0 and 1; example: duty: 0.35"},
		{RandomUses, "power_w: 5|uses_per_day: 3|minutes_per_use: 30|hours: 07:00 to 08:00", "uses_per_day: 3 uses of 30 min take 90 min, but its hours have 60 min; example: uses_per_day: 3"},
		{Packs, packs + "wait_for: sun|wait_for_soc: 0.8", "wait_for: stands beside wait_for_soc: a charger waits for one of the two"},
		{Packs, packs + "deadline_h: 3", "deadline_h: is given, but the charger waits for nothing: type wait_for: sun, or wait_for_soc"},
		// 9 h less 2 x 1.3117 h is 6.38 h.
		{Packs, packs + "wait_for: sun|deadline_h: 7", "deadline_h: 7 h after 08:00 is too late: the packs take 2.7 h and are unplugged after 9.0 h; example: deadline_h: 6.3"},
		{Packs, packs + "wait_for: sun|deadline_h: 6", ""},
	} {
		l := New(tc.kind)
		if err := set(&l, strings.Split(tc.keys, "|")...); err != nil {
			t.Fatal(err)
		}
		var got []string
		for _, f := range l.Check() {
			got = append(got, f.Error())
		}
		if s := strings.Join(got, "\n"); s != tc.want {
			t.Errorf("%s:\n got %s\nwant %s", tc.keys, s, tc.want)
		}
	}
	l := load(t, AlwaysOn, "power_w: 5", "not_with: a")
	l.Name = "a"
	if f := l.Check(); len(f) != 1 || f[0].Error() != `not_with: "a" is the load itself` {
		t.Errorf("got %v", f)
	}
	if err := set(&l, "not_with: a|a"); err == nil || err.Error() != `not_with: "a" is named twice` {
		t.Errorf("got %v", err)
	}
}
