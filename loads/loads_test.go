package loads

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"

	"tideover/sim/clock"
	"tideover/sim/limit"
)

// load builds a load from keys as typed, `name: value`; words of a list are parted by |.
func load(t testing.TB, kind Kind, keys ...string) Load {
	t.Helper()
	l := New(kind)
	if err := set(&l, keys...); err != nil {
		t.Fatal(err)
	}
	if faults := l.Check(); len(faults) > 0 {
		t.Fatal(faults)
	}
	return l
}

func set(l *Load, keys ...string) error {
	for _, typed := range keys {
		name, value, _ := strings.Cut(typed, ": ")
		all := l.Keys()
		i := slices.IndexFunc(all, func(k limit.Key) bool { return k.Name == name })
		if i < 0 {
			return fmt.Errorf("%s: unknown key", name)
		}
		switch k := all[i]; k.Kind {
		case limit.Number, limit.Whole:
			var v float64
			if _, err := fmt.Sscan(value, &v); err != nil {
				return err
			}
			k.SetNumber(v)
		case limit.Flag:
			k.SetFlag(value == "true")
		case limit.Text:
			k.SetText(value)
		case limit.Choice:
			if !k.SetChoice(value) {
				return fmt.Errorf("%s: %s is not known", name, value)
			}
		case limit.Words:
			if err := k.SetWords(strings.Split(value, "|")); err != nil {
				return fmt.Errorf("%s: %w", name, err)
			}
		}
	}
	return nil
}

// sunny is a place where the sun is up from riseH to setH of every day of 24 h from the run's start.
func sunny(c *clock.Clock, riseH, setH float64) Place {
	p := Place{Clock: c, DarkShare: make([]float64, c.N)}
	for i := range p.DarkShare {
		a := math.Mod(float64(i*c.StepMin)/60, 24)
		b := a + c.StepH()
		p.DarkShare[i] = min(1, max(0, 1-(max(0, min(b, setH)-max(a, riseH)))/c.StepH()))
	}
	return p
}

func amsterdam(t testing.TB, stepMin, days int) *clock.Clock {
	t.Helper()
	z, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		t.Fatal(err)
	}
	return clock.New(time.Date(2025, 1, 1, 0, 0, 0, 0, time.FixedZone("", 3600)), stepMin, days*24*60/stepMin, z)
}

func byDate(p Place, w []float64, date string) (wh float64) {
	for i, v := range w {
		if p.Clock.Dates[p.Clock.Day[i]].Format("2 Jan") == date {
			wh += v * p.Clock.StepH()
		}
	}
	return wh
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s is %v, want %v, off by %v", what, got, want, got-want)
	}
}

func TestAlwaysOn(t *testing.T) {
	p := sunny(amsterdam(t, 60, 365), 7, 19)
	d := Sum(p, []Load{load(t, AlwaysOn, "power_w: 12")})
	// By hand: 12 W x 24 h = 288 Wh on a usual day, 23 and 25 times 12 where the clock changes, 105,120 Wh in the year.
	// All are whole numbers of watts and hours, so exact.
	for date, want := range map[string]float64{"1 Jan": 288, "30 Mar": 276, "26 Oct": 300, "31 Dec": 288} {
		if got := byDate(p, d.ACW, date); got != want {
			t.Errorf("%s: %v Wh, want %v", date, got, want)
		}
	}
	if got := d.PerLoad[0].DemandWh; got != 105120 {
		t.Errorf("year: %v Wh, want 105120", got)
	}
	for i := range p.Clock.N {
		if d.ACOnW[i] != 12 || d.ACShare[i] != 1 || !d.MustAC[i] || d.DCW[i] != 0 || d.MustDC[i] {
			t.Fatalf("step %d: on %v W, share %v, must %v, DC %v W %v", i, d.ACOnW[i], d.ACShare[i], d.MustAC[i], d.DCW[i], d.MustDC[i])
		}
	}
}

func TestKettle(t *testing.T) {
	// By hand: 1,500 W for 4 minutes is 100 Wh.
	p := sunny(amsterdam(t, 60, 1), 7, 19)
	d := Sum(p, []Load{load(t, Timetable, "power_w: 1500", "on_minutes_per_hour: 4", "hours: 07:00 to 08:00", "priority: can_wait")})
	near(t, "mean W", d.ACW[7], 100, 1e-12)
	near(t, "share", d.ACShare[7], 4.0/60, 1e-15)
	near(t, "year Wh", d.PerLoad[0].DemandWh, 100, 1e-12)
	if d.ACOnW[7] != 1500 || d.PeakACOnW != 1500 || d.PeakACStep != 7 || d.MustAC[7] || d.ACW[8] != 0 || d.ACOnW[8] != 0 {
		t.Errorf("on %v W, peak %v W in step %d, must %v, next step %v W", d.ACOnW[7], d.PeakACOnW, d.PeakACStep, d.MustAC[7], d.ACW[8])
	}
}

func TestOverlapInsideAStep(t *testing.T) {
	p := sunny(amsterdam(t, 60, 1), 7, 19)
	early := load(t, Timetable, "power_w: 300", "hours: 17:00 to 17:30")
	late := load(t, Timetable, "power_w: 500", "hours: 17:30 to 18:00")
	long := load(t, Timetable, "power_w: 70", "hours: 17:15 to 17:45")
	lamp := load(t, AlwaysOn, "power_w: 5")
	for _, tc := range []struct {
		loads     []Load
		on, share float64
	}{
		{[]Load{early, late}, 500, 1}, // one after the other
		{[]Load{early, late, long}, 570, 1},
		{[]Load{early, long}, 370, 1},
		{[]Load{early}, 300, 0.5},
		{[]Load{early, late, lamp}, 505, 1},
	} {
		d := Sum(p, tc.loads)
		if d.ACOnW[17] != tc.on || d.ACShare[17] != tc.share {
			t.Errorf("on %v W, share %v; want %v W, %v", d.ACOnW[17], d.ACShare[17], tc.on, tc.share)
		}
	}
}

func TestDuskToDawnAgainstPublishedSunriseAndSunset(t *testing.T) {
	// Reda and Andreas (2004), NREL/TP-560-34302, Appendix A5.1: at 39.742476 N, 105.1786 W on 2003-10-17 (UTC-7) the sun
	// rises at 06:12:43 and sets at 17:18:51. It is down for 12 h 53 min 52 s, so a 12 W lamp takes 154.773 Wh.
	const riseH, setH = 6 + 12.0/60 + 43.0/3600, 17 + 18.0/60 + 51.0/3600
	const want = 12 * (12 + 53.0/60 + 52.0/3600)
	zone := time.FixedZone("", -7*3600)
	for _, stepMin := range []int{60, 15, 1} {
		p := sunny(clock.New(time.Date(2003, 10, 17, 0, 0, 0, 0, zone), stepMin, 24*60/stepMin, zone), riseH, setH)
		d := Sum(p, []Load{load(t, DuskToDawn, "power_w: 12", "bus: dc")})
		near(t, fmt.Sprintf("%d min: night Wh", stepMin), d.PerLoad[0].DemandWh, want, 1e-9) // rounding of the shares
		// Until 22:00, and from 05:30: the lamp is lit 4 h 41 min 9 s and 42 min 43 s.
		d = Sum(p, []Load{load(t, DuskToDawn, "power_w: 12", "hours: 12:00 to 22:00|05:30 to 12:00")})
		near(t, fmt.Sprintf("%d min: evening and morning Wh", stepMin), d.PerLoad[0].DemandWh, 12*(4+41.0/60+9.0/3600+42.0/60+43.0/3600), 1e-9)
		if i := 17 * 60 / stepMin; stepMin == 60 && (d.ACOnW[i] != 12 || d.ACOnW[i-1] != 0 || d.ACOnW[5] != 12 || d.ACOnW[4] != 0) {
			t.Errorf("on %v W at dusk, %v before, %v at dawn, %v before", d.ACOnW[i], d.ACOnW[i-1], d.ACOnW[5], d.ACOnW[4])
		}
	}
}

func TestMotionLight(t *testing.T) {
	// By hand: 6 visits of 5 min at 20 W are 10 Wh a night; a 0.5 W sensor takes 12 Wh a day, or 7 Wh in 14 dark hours.
	c := amsterdam(t, 60, 10)
	p := sunny(c, 7, 17)
	d := Sum(p, []Load{load(t, MotionLight, "power_w: 20", "visits_per_night: 6", "minutes_per_visit: 5")})
	near(t, "ten days", d.PerLoad[0].DemandWh, 220, 1e-9)
	near(t, "a night's hour", d.ACW[3*24+22], 0.5+10.0/14, 1e-12)
	near(t, "the first night's hour", d.ACW[2], 0.5+(10.0/2)/7, 1e-12) // half of this night is before the run
	near(t, "noon", d.ACW[12], 0.5, 0)
	if d.ACOnW[2] != 20.5 || d.ACOnW[12] != 0.5 || d.ACShare[12] != 1 {
		t.Errorf("on %v W by night, %v W by day, share %v by day", d.ACOnW[2], d.ACOnW[12], d.ACShare[12])
	}
	d = Sum(p, []Load{load(t, MotionLight, "power_w: 20", "visits_per_night: 6", "minutes_per_visit: 5", "standby_in_daylight: false")})
	near(t, "ten days, sensor by night only", d.PerLoad[0].DemandWh, 170, 1e-9)
	if d.ACOnW[12] != 0 || d.MustAC[12] {
		t.Errorf("by day: on %v W, must %v", d.ACOnW[12], d.MustAC[12])
	}
	// A hundred days of 24 h from 1 January hold half a night, 99 whole ones, that of 23 h among them, and 13 of the 24 h
	// of the last, as the run ends at 01:00 on the wall.
	spring := sunny(amsterdam(t, 60, 100), 7, 17)
	d = Sum(spring, []Load{load(t, MotionLight, "power_w: 20", "visits_per_night: 6", "minutes_per_visit: 5", "standby_w: 0")})
	near(t, "a hundred days", d.PerLoad[0].DemandWh, 10*(0.5+99+13.0/24), 1e-9)
	// More than the night can hold: lit all night.
	d = Sum(p, []Load{load(t, MotionLight, "power_w: 20", "visits_per_night: 60", "minutes_per_visit: 24", "standby_w: 0")})
	near(t, "ten days lit all night", d.PerLoad[0].DemandWh, 20*14*10, 1e-9)
}

func TestChargeTimes(t *testing.T) {
	// Cross-check LO-01 of the hardware reference (derived there from the same model of constant current and exponential
	// taper): 5 Ah at 4 A, taper from 80 % down to 0.25 A.
	c := newCharge(5, 4, 0.8, 0.25/4)
	near(t, "t1", c.flatS/3600, 1.0000, 5e-5) // half of the last digit printed, here and below
	near(t, "tau", c.tauS/3600, 0.26667, 5e-6)
	near(t, "t2", c.taperS/3600, 0.73936, 5e-6)
	near(t, "taper's share of the time", c.taperS/c.lengthS(), 0.42507, 5e-6)
	near(t, "whole", c.drawnWh(c.lengthS()), 5, 0)
	near(t, "just before the end", c.drawnWh(c.lengthS()*(1-1e-15)), 5, 1e-13)
	near(t, "power at the end", c.powerAtW(c.lengthS()), 0.25, 1e-12)
	// The energy is the integral of the power: midpoint rule, whose error falls with the square of the step.
	var sum float64
	const n = 100000
	for k := range n {
		sum += c.powerAtW((float64(k)+0.5)/n*c.lengthS()) * c.lengthS() / n / 3600
	}
	near(t, "integral", sum, 5, 1e-8)
}

func TestPacks(t *testing.T) {
	p := sunny(amsterdam(t, 60, 365), 7, 17)
	one := func(keys ...string) Demand {
		return Sum(p, []Load{load(t, Packs, append([]string{"count: 1", "charger_power_w: 200", "standby_w: 0"}, keys...)...)})
	}
	// Cross-check LO-02 of the hardware reference: a 90 Wh pack at 0.85 takes 105.88 Wh from the outlet.
	d := one("pack_energy_wh: 90")
	near(t, "90 Wh pack on 1 Jan", byDate(p, d.ACW, "1 Jan"), 105.88, 0.005)
	near(t, "90 Wh pack, a year", d.PerLoad[0].DemandWh, 365*90/0.85, 1e-7)
	// By hand: 420 / 0.85 = 494 Wh, on each of the 52 Fridays of 2025.
	d = one("pack_energy_wh: 420", "days: fri", "unplug: 23:00")
	near(t, "420 Wh pack on 3 Jan", byDate(p, d.ACW, "3 Jan"), 494, 0.5)
	near(t, "420 Wh pack on 4 Jan", byDate(p, d.ACW, "4 Jan"), 0, 0)
	near(t, "420 Wh pack, a year", d.PerLoad[0].DemandWh, 52*420/0.85, 1e-7)
	d = one("pack_energy_wh: 420", "depth: 0.5", "season: Apr to Oct")
	near(t, "half a pack, 214 days", d.PerLoad[0].DemandWh, 214*210/0.85, 1e-7)
}

func TestChargersSideBySide(t *testing.T) {
	// A pack of 85 Wh at 0.85 and 100 W takes 1.3117 h: 0.8 h flat and 0.2/0.9 x ln 10 h of taper. Five packs on two
	// chargers: three on one, two on the other.
	p := sunny(amsterdam(t, 60, 1), 7, 17)
	l := load(t, Packs, "count: 5", "chargers: 2", "pack_energy_wh: 85", "charger_power_w: 100", "standby_w: 2", "at: 08:00", "unplug: 17:00")
	d := Sum(p, []Load{l})
	lengthH := 0.8 + 0.2/0.9*math.Log(10)
	near(t, "day", d.PerLoad[0].DemandWh, 500+2*(9-3*lengthH)+2*(9-2*lengthH), 1e-9)
	near(t, "first hour", d.ACW[8], 2*(80+200.0/9*(1-math.Exp(-0.9))), 1e-9) // 0.2 h of taper, time constant 0.2222 h
	if d.ACOnW[8] != 200 || d.ACOnW[7] != 0 || d.ACOnW[17] != 0 || d.ACShare[12] != 1 {
		t.Errorf("on %v W at 8, %v at 7, %v at 17; share %v at 12", d.ACOnW[8], d.ACOnW[7], d.ACOnW[17], d.ACShare[12])
	}
	near(t, "standby", d.ACW[15], 4, 1e-12)
	// At 10:00 both chargers are in the flat part of their second pack, so 200 W, though one is done before the next starts.
	if d.ACOnW[10] != 200 {
		t.Errorf("on %v W at 10, want 200", d.ACOnW[10])
	}
	single := Sum(p, []Load{load(t, Packs, "count: 1", "pack_energy_wh: 85", "charger_power_w: 100", "standby_w: 0")})
	near(t, "on W in the taper", single.ACOnW[9], 100*math.Exp(-0.9), 1e-9)
	near(t, "share in the taper", single.ACShare[9], lengthH-1, 1e-12)

	// The chargers draw together, so their time is counted once.
	late := l
	late.AtMin, late.StandbyW = 8*60+30, 0
	near(t, "share of the first step", Sum(p, []Load{late}).ACShare[8], 0.5, 0)

	// More chargers than packs: the spare ones are not plugged in.
	l.Count, l.Chargers = 1, 4
	near(t, "one pack", Sum(p, []Load{l}).PerLoad[0].DemandWh, 100+2*(9-lengthH), 1e-9)

	// Overnight and past the end of the run: what was plugged in on the last evening before it is still charging.
	l.AtMin, l.UnplugMin = 23*60, 6*60
	near(t, "overnight", Sum(p, []Load{l}).PerLoad[0].DemandWh, 100+2*(7-lengthH), 1e-9)

	// Never unplugged: standby in all other hours of the day.
	l.AtMin, l.UnplugMin = 8*60, Never
	near(t, "never unplugged", Sum(p, []Load{l}).PerLoad[0].DemandWh, 100+2*(24-lengthH), 1e-9)

	// Not full when unplugged: the rest is not asked for.
	l.AtMin, l.UnplugMin = 8*60, 8*60+30
	near(t, "half an hour", Sum(p, []Load{l}).PerLoad[0].DemandWh, 50, 1e-12)
}

func TestRuleOfTheACBus(t *testing.T) {
	// By hand: a 40 W lamp from 06:45 to 08:15 behind an inverter that is on from 07:30 to 12:00. Of 06:45 to 07:00 all
	// is withheld, of the next hour half; nothing of the last quarter. A DC lamp of the same hours does not care.
	c := amsterdam(t, 60, 1)
	p := sunny(c, 8, 17)
	p.ACOn = clock.Timetable{Hours: []clock.Span{{From: 7*60 + 30, To: 12 * 60}}}.Stretches(c)
	ac := load(t, Timetable, "power_w: 40", "hours: 06:45 to 08:15")
	dc := load(t, Timetable, "power_w: 40", "hours: 06:45 to 08:15", "bus: dc")
	d := Sum(p, []Load{ac, dc})
	for i, want := range map[int][4]float64{6: {0, 10, 0.25, 10}, 7: {20, 20, 0.5, 40}, 8: {10, 0, 0, 10}, 9: {}} {
		got := [4]float64{d.ACW[i], d.WithheldW[i], d.MustWithheldShare[i], d.DCW[i]}
		if got != want {
			t.Errorf("hour %d: AC, withheld, share, DC are %v, want %v", i, got, want)
		}
	}
	if got := d.PerLoad[0].DemandWh; math.Abs(got-60) > 1e-9 {
		t.Errorf("the lamp asks %v Wh, want 60", got)
	}
	if d.ACShare[7] != 0.5 || d.ACOnW[7] != 40 || d.MustAC[6] || !d.MustAC[7] {
		t.Errorf("share %v, on %v W, must %v %v", d.ACShare[7], d.ACOnW[7], d.MustAC[6], d.MustAC[7])
	}
}

func TestClockChangeDays(t *testing.T) {
	p := sunny(amsterdam(t, 60, 365), 7, 17)
	d := Sum(p, []Load{load(t, Timetable, "power_w: 60", "hours: 01:00 to 04:00")})
	for date, want := range map[string]float64{"29 Mar": 180, "30 Mar": 120, "25 Oct": 180, "26 Oct": 240} {
		near(t, date, byDate(p, d.ACW, date), want, 1e-12)
	}
	// A charger left in overnight charges once, however long the night.
	d = Sum(p, []Load{load(t, Packs, "count: 1", "pack_energy_wh: 85", "charger_power_w: 100", "standby_w: 0", "at: 02:00", "unplug: 06:00")})
	for _, date := range []string{"29 Mar", "30 Mar", "26 Oct"} {
		near(t, date, byDate(p, d.ACW, date), 100, 1e-9)
	}
}

func TestCheck(t *testing.T) {
	for _, tc := range []struct {
		kind Kind
		keys string
		want string
	}{
		{AlwaysOn, "power_w: 0", "power_w: 0 is not above 0 and at most 100000; example: power_w: 12"},
		{AlwaysOn, "power_w: 5|on_minutes_per_hour: 61", "on_minutes_per_hour: 61 is not above 0 and at most 60; example: on_minutes_per_hour: 4"},
		{Timetable, "power_w: 5", "hours: is missing: a timetable wants hours, days or a season; what draws day and night is kind: always_on; example: hours: 17:00 to 21:30"},
		{MotionLight, "power_w: 5|visits_per_night: 500|minutes_per_visit: 3", "visits_per_night: 500 visits of 3 min are longer than a day; example: visits_per_night: 6"},
		{Packs, "pack_energy_wh: 90|charger_power_w: 50", "count: 0 is not between 1 and 1000; example: count: 2"},
		// 12 x 90 / 0.85 / 50 x 1.3117 h = 33.33 h on one charger.
		{Packs, "count: 12|pack_energy_wh: 90|charger_power_w: 50", "unplug: the packs never get full: with 12 to a charger they take 33.4 h (each 105.9 Wh at the plug, with the charger's loss, at 50 W, and the last fifth ever slower), but from 08:00 there are 9.0 h; take more chargers or unplug later; example: unplug: never"},
		{Packs, "count: 4|chargers: 4|pack_energy_wh: 90|charger_power_w: 50", ""},
		// Slips of units: 5 Ah x 18 V is 90 Wh; 0.85 x 120 W into 5 Wh is 20 times its energy an hour.
		{Packs, "count: 2|pack_energy_wh: 5|charger_power_w: 120", "pack_energy_wh: 120 W would fill a pack of 5 Wh in 4 minutes: it looks like Ah; 5 Ah x the pack's voltage is Wh; example: pack_energy_wh: 90"},
		{Packs, "count: 2|pack_energy_wh: 36|charger_power_w: 180", ""}, // a fast charger
		// 2 x 420 / 0.85 / 0.3 x 1.311686 h = 4320.85 h.
		{Packs, "count: 2|pack_energy_wh: 420|charger_power_w: 0.3", "charger_power_w: a charger of 0.3 W takes 4321 h for its packs: it looks like kW; 0.3 kW is 300 W; example: charger_power_w: 120"},
		{Packs, "count: 4|pack_energy_wh: 90|charger_power_w: 50|unplug: 07:00", ""},
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
}

func TestKeysOfEachKind(t *testing.T) {
	common := "kind bus priority below_soc class power_factor start_factor start_s needs_pure_sine not_with note "
	for kind, want := range []string{
		"power_w on_minutes_per_hour away",
		"power_w on_minutes_per_hour days hours season every_days first_day away",
		"power_w minutes_after_dusk dim_to dim_after_min days hours season every_days first_day away",
		"power_w visits_per_night minutes_per_visit standby_w standby_in_daylight away",
		"count pack_energy_wh depth charger_power_w charger_efficiency chargers days at unplug standby_w season every_days first_day away " +
			"wait_for_soc wait_for deadline_h",
		"power_w duty duty_at_c duty_rise_per_k lag_h room_min_c days hours season every_days first_day away",
		"power_w uses_per_day minutes_per_use days hours season every_days first_day away",
		"profile days season every_days first_day away",
	} {
		l := New(Kind(kind))
		var names []string
		for _, k := range l.Keys() {
			names = append(names, k.Name)
			if k.Doc == "" || k.Example == "" || k.Need == (k.Origin != "") {
				t.Errorf("%v: %s: doc %q, example %q, need %v, origin %q", l.Kind, k.Name, k.Doc, k.Example, k.Need, k.Origin)
			}
			if k.Name == "wait_for_soc" {
				continue // it and wait_for stand for each other
			}
			if err := set(&l, k.Name+": "+k.Example); err != nil && k.Name != "kind" {
				t.Errorf("%v: the example of %s is refused: %v", l.Kind, k.Name, err)
			}
			l.Kind = Kind(kind)
		}
		if got := strings.Join(names, " "); got != common+want {
			t.Errorf("%v: keys %s, want %s", l.Kind, got, common+want)
		}
		if faults := l.Check(); len(faults) > 0 {
			t.Errorf("%v: the examples together have faults: %v", l.Kind, faults)
		}
	}
	l := New(Packs)
	for typed, want := range map[string]string{
		"at: 24:00":           "at: 24:00 can only be an end; a day begins at 00:00",
		"at: 08:00|09:00":     "at: takes one time; write 08:00",
		"unplug: 5 pm":        `unplug: "5 pm": times run from 00:00 to 24:00; write it as 17:00`,
		"hours: 8:00 to 9:00": "hours: unknown key",
	} {
		if err := set(&l, typed); err == nil || err.Error() != want {
			t.Errorf("%s: got %v, want %s", typed, err, want)
		}
	}
}

func TestSumPanics(t *testing.T) {
	c := amsterdam(t, 60, 1)
	for want, dark := range map[string][]float64{
		"loads: Sum: 2 dark shares for 24 steps":             {0, 0},
		"loads: Sum: dark share of step 3 is 1.5, want 0..1": append([]float64{0, 0, 0, 1.5}, make([]float64, 20)...),
		"loads: Sum: dark share of step 0 is NaN, want 0..1": append([]float64{math.NaN()}, make([]float64, 23)...),
	} {
		func() {
			defer func() {
				if got := fmt.Sprint(recover()); got != want {
					t.Errorf("got %q, want %q", got, want)
				}
			}()
			Sum(Place{Clock: c, DarkShare: dark}, nil)
		}()
	}
}

// anyLoad draws a load; its packs may be unplugged before they are full.
func anyLoad(t *rapid.T) Load {
	l := New(Kind(rapid.IntRange(0, len(KindWords)-1).Draw(t, "kind")))
	l.Bus, l.Priority = Bus(rapid.IntRange(0, 1).Draw(t, "bus")), Priority(rapid.IntRange(0, 1).Draw(t, "priority"))
	l.PowerW = rapid.Float64Range(0.1, 3000).Draw(t, "powerW")
	l.OnMinutesPerHour = rapid.Float64Range(0.5, 60).Draw(t, "onMinutes")
	if l.Kind != AlwaysOn {
		l.When.Days = clock.Days(rapid.IntRange(1, 126).Draw(t, "days"))
	}
	if l.Kind == Timetable || l.Kind == DuskToDawn {
		from := rapid.IntRange(0, 1439).Draw(t, "from")
		l.When.Hours = []clock.Span{{From: from, To: from + rapid.IntRange(1, 1440).Draw(t, "minutes")}}
	}
	if l.Kind == MotionLight {
		l.VisitsPerNight = rapid.Float64Range(0, 40).Draw(t, "visits")
		l.MinutesPerVisit = rapid.Float64Range(0.5, 36).Draw(t, "minutes")
	}
	if l.Kind == MotionLight || l.Kind == Packs {
		l.StandbyW = rapid.Float64Range(0, 3).Draw(t, "standbyW")
		l.StandbyInDaylight = rapid.Bool().Draw(t, "by day")
	}
	if l.Kind == Packs {
		l.Count, l.Chargers = rapid.IntRange(1, 8).Draw(t, "count"), rapid.IntRange(1, 4).Draw(t, "chargers")
		l.PackEnergyWh, l.Depth = rapid.Float64Range(5, 600).Draw(t, "packWh"), rapid.Float64Range(0.1, 1).Draw(t, "depth")
		l.ChargerPowerW = rapid.Float64Range(20, 500).Draw(t, "chargerW")
		l.AtMin = rapid.IntRange(0, 1439).Draw(t, "at")
		l.UnplugMin = rapid.IntRange(Never, 1440).Draw(t, "unplug")
		l.WaitFor = Wait(rapid.IntRange(0, 1).Draw(t, "wait"))
	}
	switch l.Kind {
	case DuskToDawn:
		l.MinutesAfterDusk = rapid.Float64Range(0, 900).Draw(t, "minutes after dusk")
		l.DimTo, l.DimAfterMin = rapid.Float64Range(0, 1).Draw(t, "dim to"), rapid.Float64Range(0, 600).Draw(t, "dim after")
	case DutyCycle:
		l.Duty, l.DutyRisePerK = rapid.Float64Range(0, 1).Draw(t, "duty"), rapid.Float64Range(-0.2, 0.2).Draw(t, "rise")
	case RandomUses:
		l.UsesPerDay, l.MinutesPerUse = rapid.Float64Range(0.1, 9).Draw(t, "uses"), rapid.Float64Range(0.5, 90).Draw(t, "minutes")
	case Profile:
		l.Measured = &Series{StepMin: rapid.SampledFrom([]int{1, 15, 60, 180}).Draw(t, "profile step")}
		l.Measured.PowerW = rapid.SliceOfN(rapid.Float64Range(0, 100), 1440/l.Measured.StepMin, 1440/l.Measured.StepMin).Draw(t, "profile")
	}
	if l.Kind != AlwaysOn && l.Kind != MotionLight {
		l.When.EveryDays = rapid.IntRange(0, 3).Draw(t, "every")
	}
	return l
}

func TestLaws(t *testing.T) {
	z, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		deferred := rapid.Bool().Draw(t, "defer")
		list := rapid.SliceOfN(rapid.Custom(anyLoad), 1, 5).Draw(t, "loads")
		riseH, setH := rapid.Float64Range(3, 10).Draw(t, "riseH"), rapid.Float64Range(14, 22).Draw(t, "setH")
		start := time.Date(2025, time.Month(rapid.SampledFrom([]int{1, 3, 10}).Draw(t, "month")), 25, 0, 0, 0, 0, time.FixedZone("", 3600))
		var hourly Demand
		for _, stepMin := range []int{60, 15, 1} {
			p := sunny(clock.New(start, stepMin, 7*24*60/stepMin, z), riseH, setH)
			p.Defer, p.AirC = deferred, airOf(start, stepMin, p.Clock.N)
			d := Sum(p, list)
			stepH := p.Clock.StepH()
			var totalWh, perLoadWh float64
			for i := range p.Clock.N {
				// Half a part in a billion is rounding of sums of a few parts.
				const slack = 1 + 5e-10
				if !(d.ACW[i] >= 0 && d.DCW[i] >= 0 && d.ACW[i] <= d.ACOnW[i]*slack && d.DCW[i] <= d.DCOnW[i]*slack) {
					t.Fatalf("%d min, step %d: mean %v and %v W, on %v and %v W", stepMin, i, d.ACW[i], d.DCW[i], d.ACOnW[i], d.DCOnW[i])
				}
				if !(d.ACShare[i] >= 0 && d.ACShare[i] <= 1) || (d.ACShare[i] > 0) != (d.ACW[i] > 0) || d.MustAC[i] && d.ACW[i] == 0 {
					t.Fatalf("%d min, step %d: share %v, must %v, mean %v W", stepMin, i, d.ACShare[i], d.MustAC[i], d.ACW[i])
				}
				if d.ACOnW[i] > d.PeakACOnW {
					t.Fatalf("%d min, step %d: on %v W above the peak %v W", stepMin, i, d.ACOnW[i], d.PeakACOnW)
				}
				if d.ACStartW[i] < d.ACOnW[i] || d.DCStartW[i] < d.DCOnW[i] || d.ACOnVA[i] < d.ACOnW[i] {
					t.Fatalf("%d min, step %d: on %v W, %v VA, start %v W; DC on %v W, start %v W", stepMin, i, d.ACOnW[i], d.ACOnVA[i], d.ACStartW[i], d.DCOnW[i], d.DCStartW[i])
				}
				totalWh += (d.ACW[i] + d.DCW[i]) * stepH
			}
			for _, j := range d.Jobs {
				totalWh += j.EnergyWh
			}
			for k, l := range d.PerLoad {
				perLoadWh += l.DemandWh
				if stepMin == 60 {
					continue
				}
				want := hourly.PerLoad[k]
				if deferred && list[k].Waits() {
					continue // a job belongs to the step of its deadline, which may lie behind the end of one of the two
				}
				if math.Abs(l.DemandWh-want.DemandWh) > 1e-9*want.DemandWh || math.Abs(l.StandbyWh-want.StandbyWh) > 1e-9*want.DemandWh ||
					math.Abs(l.HoursInUse-want.HoursInUse) > 1e-9*want.HoursInUse {
					t.Fatalf("%v: in steps of %d min %+v, in hours %+v", list[k].Kind, stepMin, l, want)
				}
			}
			if math.Abs(totalWh-perLoadWh) > 1e-9*perLoadWh {
				t.Fatalf("%d min: columns hold %v Wh, loads %v Wh", stepMin, totalWh, perLoadWh)
			}
			if stepMin == 60 {
				hourly = d
			}
		}
	})
}

// airOf is a warm afternoon every day, the same in each of its hours however long the steps.
func airOf(start time.Time, stepMin, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = 5 + 10*math.Sin(float64(start.Add(time.Duration(i*stepMin)*time.Minute).Hour()-8)/24*2*math.Pi)
	}
	return out
}

func shed(t testing.TB) []Load {
	return []Load{
		load(t, AlwaysOn, "power_w: 8"),
		load(t, AlwaysOn, "power_w: 60", "on_minutes_per_hour: 20", "bus: dc"),
		load(t, Timetable, "power_w: 40", "hours: 17:00 to 21:30", "days: mon to fri"),
		load(t, Timetable, "power_w: 1500", "on_minutes_per_hour: 4", "hours: 07:30 to 08:30", "season: 1 Oct to 31 Mar"),
		load(t, DuskToDawn, "power_w: 6", "bus: dc"),
		load(t, DuskToDawn, "power_w: 10", "hours: 12:00 to 23:30"),
		load(t, MotionLight, "power_w: 20", "visits_per_night: 6"),
		load(t, Packs, "count: 2", "pack_energy_wh: 420", "charger_power_w: 300", "days: sat", "priority: can_wait"),
	}
}

func BenchmarkYear(b *testing.B) {
	p, list := sunny(amsterdam(b, 60, 365), 7.3, 18.2), shed(b)
	b.ReportAllocs()
	for b.Loop() {
		Sum(p, list)
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/8760, "ns/step")
}

func TestAway(t *testing.T) {
	// By hand. Of January's first ten days two are away: 8 x 24 h x 12 W, on the dates that the wall shows.
	c := amsterdam(t, 60, 10)
	p := sunny(c, 7, 17)
	pump := load(t, AlwaysOn, "power_w: 12", "away: 4 Jan to 5 Jan")
	d := Sum(p, []Load{pump})
	near(t, "ten days without two", d.PerLoad[0].DemandWh, 8*288, 1e-9)
	for i := range c.N {
		want := 12.0
		if day := i / 24; day == 3 || day == 4 {
			want = 0
		}
		if d.ACW[i] != want || d.ACOnW[i] != want {
			t.Fatalf("step %d: %v W, on %v W, want %v", i, d.ACW[i], d.ACOnW[i], want)
		}
	}
	// A motion light is visited in ten nights less two, 10 Wh each (the run cuts the first and the last in half); its sensor
	// stays, 12 Wh a day. The nights of 4 and 5 January end on the 6th.
	for _, byDay := range []string{"true", "false"} {
		lamp := load(t, MotionLight, "power_w: 20", "visits_per_night: 6", "minutes_per_visit: 5", "standby_in_daylight: "+byDay, "away: 4 Jan to 5 Jan")
		d = Sum(p, []Load{lamp})
		sensorWh := map[string]float64{"true": 12, "false": 7}[byDay]
		near(t, "sensor and eight nights", d.PerLoad[0].DemandWh, 10*sensorWh+80, 1e-9)
		for _, tc := range []struct {
			day, hour int
			onW       float64
		}{{3, 3, 20.5}, {3, 20, 0.5}, {4, 3, 0.5}, {5, 3, 0.5}, {5, 20, 20.5}} {
			if got := d.ACOnW[24*tc.day+tc.hour]; got != tc.onW {
				t.Errorf("day %d, hour %d: on %v W, want %v", tc.day+1, tc.hour, got, tc.onW)
			}
		}
	}
}
