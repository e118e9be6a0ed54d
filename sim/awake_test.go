package sim

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tideover/loads"
	"tideover/sim/clock"
	"tideover/sim/inverter"
)

// aWeek is the week from Monday 6 January 2025 in steps of stepMin, dark from 18:00 to 06:00.
func aWeek(stepMin int) loads.Place {
	n := 7 * 24 * 60 / stepMin
	p := loads.Place{Clock: clock.New(time.Date(2025, 1, 6, 0, 0, 0, 0, time.UTC), stepMin, n, time.UTC), DarkShare: make([]float64, n)}
	for i := range p.DarkShare {
		if hour := p.Clock.StepStart(i).Hour(); hour < 6 || hour >= 18 {
			p.DarkShare[i] = 1
		}
	}
	return p
}

func asked(at loads.Place, v *inverter.Inverter, list ...loads.Load) *ask {
	if v.Mode == inverter.Timetable {
		at.ACOn = append([]clock.Stretch{}, v.When.Stretches(at.Clock)...)
	}
	d := loads.Sum(at, list)
	return newAsk(v, at, list, &d)
}

func steadily(name string, powerW float64) loads.Load {
	l := loads.New(loads.AlwaysOn)
	l.Name, l.PowerW = name, powerW
	return l
}

func sometimes(name string, powerW float64, days string, from, to int) loads.Load {
	l := loads.New(loads.Timetable)
	l.Name, l.PowerW = name, powerW
	l.When.Hours = []clock.Span{{From: from * 60, To: to * 60}}
	l.When.Days, _ = clock.ParseDays([]string{days})
	return l
}

// sums are Wh, and hours of must-have loads, over the run.
type sums struct{ served, idle, withheld, dead, mustWithheldH, mustDeadH float64 }

func (a *ask) sums(stepH float64) (s sums) {
	for i := range a.acW {
		s.served += a.acW[i] * stepH
		s.idle += a.idleW[i] * stepH
		s.withheld += a.withheldW[i] * stepH
		s.dead += a.deadW[i] * stepH
		s.mustWithheldH += a.mustWithheldShare[i] * stepH
		s.mustDeadH += a.mustDeadShare[i] * stepH
	}
	return s
}

func (s sums) near(t *testing.T, want sums) {
	t.Helper()
	const tol = 1e-6 // rounding of some hundred steps
	if d := (sums{s.served - want.served, s.idle - want.idle, s.withheld - want.withheld, s.dead - want.dead,
		s.mustWithheldH - want.mustWithheldH, s.mustDeadH - want.mustDeadH}); math.Abs(d.served)+math.Abs(d.idle)+
		math.Abs(d.withheld)+math.Abs(d.dead)+math.Abs(d.mustWithheldH)+math.Abs(d.mustDeadH) > tol {
		t.Errorf("got %+v, want %+v", s, want)
	}
}

func twelve() *inverter.Inverter {
	v := inverter.Default()
	v.RatedW, v.IdleW, v.SearchW = 1000, 12, 1
	return &v
}

func TestSearchOverAWeek(t *testing.T) {
	v := twelve()
	v.Mode, v.WakesAtW = inverter.Search, 15
	router := steadily("router", 6)
	lamp := sometimes("lamp", 20, "mon to fri", 17, 22)
	lamp.Priority = loads.CanWait
	for _, stepMin := range []int{60, 15} {
		// By hand: the lamp wakes it for 25 of 168 h. 25 x 12 + 143 x 1 = 443 Wh; 500 Wh of the lamp and 25 x 6 of the
		// router are served, 143 x 6 withheld.
		a := asked(aWeek(stepMin), v, router, lamp)
		a.sums(float64(stepMin)/60).near(t, sums{served: 650, idle: 443, withheld: 858, mustWithheldH: 143})
		if want := "these never wake the inverter alone, at 15 W: router (6 W, kept off 143 of 168 h)"; len(a.notes) != 1 || !strings.HasSuffix(a.notes[0], want) {
			t.Errorf("notes %q, want %q", a.notes, want)
		}
	}
	// A lamp of 9 W lifts the router over the threshold.
	lamp.PowerW = 9
	asked(aWeek(60), v, router, lamp).sums(1).near(t, sums{served: 25 * 15, idle: 443, withheld: 858, mustWithheldH: 143})
	// One of 8.9 W does not.
	lamp.PowerW = 8.9
	asked(aWeek(60), v, router, lamp).sums(1).near(t, sums{idle: 168, withheld: 168*6 + 25*8.9, mustWithheldH: 168})
	// Of a drill that runs 6 minutes of an hour the router has its tenth.
	drill := sometimes("drill", 500, "sat", 10, 12)
	drill.OnMinutesPerHour, drill.Priority = 6, loads.CanWait
	asked(aWeek(60), v, router, drill).sums(1).near(t, sums{served: 100 + 0.2*6, idle: 0.2*12 + 167.8, withheld: 167.8 * 6, mustWithheldH: 167.8})
}

func TestSearchNeverFeelsASensorOrAFullPack(t *testing.T) {
	v := twelve()
	v.Mode, v.WakesAtW = inverter.Search, 15
	light := loads.New(loads.MotionLight)
	light.Name, light.PowerW, light.VisitsPerNight, light.MinutesPerVisit, light.StandbyW = "yard light", 20, 6, 5, 0.5
	// Its sensor has no power, so its lamp of 20 W never begins: 168 x 0.5 and 7 x 0.5 h x 20 W are withheld.
	a := asked(aWeek(60), v, light)
	s := a.sums(1)
	s.mustWithheldH = 0
	s.near(t, sums{idle: 168, withheld: 84 + 70})
	if len(a.notes) != 1 || !strings.Contains(a.notes[0], "yard light on standby (0.5 W, kept off 168 of 168 h)") {
		t.Errorf("notes %q", a.notes)
	}
	// A charger of 50 W that fills its pack on Saturday from 08:00 and then stands by at 1 W until 17:00: what charging
	// takes is served, and the standby withheld but for its share, under 1 Wh, of the hour in which the charging ends.
	packs := loads.New(loads.Packs)
	packs.Name, packs.Count, packs.PackEnergyWh, packs.ChargerPowerW, packs.ChargerEfficiency = "packs", 1, 85, 50, 0.85
	packs.When.Days, _ = clock.ParseDays([]string{"sat"})
	s = asked(aWeek(60), v, packs).sums(1)
	all := loads.Sum(aWeek(60), []loads.Load{packs}).PerLoad[0].DemandWh
	if s.served < 100-1e-6 || s.served > 101 || math.Abs(s.withheld+s.served-all) > 1e-6 {
		t.Errorf("served %v Wh, withheld %v Wh of %v; want 100 served", s.served, s.withheld, all)
	}
}

func TestAutoOffByHandAndByRule(t *testing.T) {
	v := twelve()
	v.AutoOffW, v.AutoOffH, v.OffW = 10, 4, 0.5
	router := steadily("router", 6)
	saw := sometimes("saw", 60, "sat", 10, 16)
	saw.Priority = loads.CanWait
	for _, stepMin := range []int{60, 15} {
		// By hand: someone wakes it on Saturday at 10:00, and it goes off 4 h after 16:00: up for 10 h. The run is a ring,
		// so it begins off. 10 x 12 + 158 x 0.5 = 199 Wh; of the router 60 Wh are served and 158 x 6 lost.
		v.WakeAtMin = 0
		a := asked(aWeek(stepMin), v, router, saw)
		a.sums(float64(stepMin)/60).near(t, sums{served: 420, idle: 199, dead: 948, mustDeadH: 158})
		if want := "off for 158 h in all, gone off 1 times; 0.948 kWh that was asked meanwhile is unserved"; len(a.notes) != 1 || !strings.Contains(a.notes[0], want) {
			t.Errorf("notes %q, want %q", a.notes, want)
		}
		// By rule at 07:00: 4 h on six days, and on Saturday from 07:00 to 20:00: 37 h. 37 x 12 + 131 x 0.5 = 509.5 Wh.
		v.WakeAtMin = 7 * 60
		a = asked(aWeek(stepMin), v, router, saw)
		a.sums(float64(stepMin)/60).near(t, sums{served: 360 + 222, idle: 509.5, withheld: 786, mustWithheldH: 131})
		// At 07:40 on the wall, inside a step: the same 4 h a day, Saturday from 07:40 to 20:00.
		v.WakeAtMin = 7*60 + 40
		asked(aWeek(stepMin), v, router, saw).sums(float64(stepMin)/60).near(t,
			sums{served: 360 + 6*(24+12+1.0/3), idle: (24+12+1.0/3)*12 + (144-12-1.0/3)*0.5, withheld: 6 * (144 - 12 - 1.0/3), mustWithheldH: 144 - 12 - 1.0/3})
	}
	// A saw that takes less than keeps it on wakes nobody's box: both are lost all week.
	v.WakeAtMin, saw.PowerW = 0, 9
	asked(aWeek(60), v, steadily("clock", 0.5), saw).sums(1).near(t, sums{idle: 84, dead: 84 + 54, mustDeadH: 168})
	// A yard light that comes on by itself does not wake it either, and holds it on where it is up: off on Sunday at 04:00 + 4 h.
	saw.PowerW = 60
	yard := loads.New(loads.DuskToDawn)
	yard.Name, yard.PowerW, yard.Priority = "yard", 20, loads.CanWait
	// Up from Saturday 10:00 over 18:00 to 06:00 and to 10:00 on Sunday: 24 h, of which 12 h are dark; 72 of 84 dark hours lost.
	asked(aWeek(60), v, yard, saw).sums(1).near(t, sums{served: 360 + 240, idle: 24*12 + 144*0.5, dead: 72 * 20})
}

func TestAutoOffBehindATimetable(t *testing.T) {
	// By hand: live from 08:00 to 20:00; 6 W are under 10 W, so that it goes off at 12:00; the timetable switches it on anew
	// the next day. 4 h x 6 W a day are served, 8 h lost to auto-off, 12 h withheld by the timetable.
	v := twelve()
	v.Mode, v.AutoOffW, v.AutoOffH = inverter.Timetable, 10, 4
	v.When.Hours = []clock.Span{{From: 8 * 60, To: 20 * 60}}
	asked(aWeek(60), v, steadily("router", 6)).sums(1).near(t,
		sums{served: 7 * 24, idle: 7 * 4 * 12, withheld: 7 * 72, dead: 7 * 48, mustWithheldH: 84, mustDeadH: 56})
}

// A second reckoning of search and auto-off, minute by minute from the definitions, of loads that change on the hour.
func TestSleepMinuteByMinute(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := twelve()
		v.OffW = 0.25
		switch rapid.IntRange(0, 2).Draw(t, "mode") {
		case 1:
			v.Mode, v.WakesAtW = inverter.Search, rapid.SampledFrom([]float64{5, 15, 30}).Draw(t, "wakes at")
		case 2:
			from := rapid.IntRange(0, 12).Draw(t, "live from")
			v.Mode, v.When.Hours = inverter.Timetable, []clock.Span{{From: from * 60, To: (from + rapid.IntRange(1, 11).Draw(t, "live for")) * 60}}
		}
		if rapid.Bool().Draw(t, "auto-off") {
			v.AutoOffW = rapid.SampledFrom([]float64{8, 20}).Draw(t, "under")
			v.AutoOffH = float64(rapid.IntRange(1, 40).Draw(t, "quarters")) / 4
			v.WakeAtMin = rapid.IntRange(0, 1440).Draw(t, "wake") * rapid.IntRange(0, 1).Draw(t, "by rule")
		}
		var list []loads.Load
		for i := range rapid.IntRange(1, 4).Draw(t, "loads") {
			name, powerW := fmt.Sprint(i), rapid.SampledFrom([]float64{2, 6, 9, 14, 40}).Draw(t, "powerW")
			if rapid.Bool().Draw(t, "steady") {
				list = append(list, steadily(name, powerW))
			} else {
				from := rapid.IntRange(0, 22).Draw(t, "from")
				list = append(list, sometimes(name, powerW, rapid.SampledFrom([]string{"every day", "sat", "mon to fri", "tue, sun"}).Draw(t, "days"),
					from, rapid.IntRange(from+1, 24).Draw(t, "to")))
			}
			list[i].Priority = loads.Priority(rapid.IntRange(0, 1).Draw(t, "priority"))
		}
		at := aWeek(60)
		a := asked(at, v, list...)

		var got, want sums
		off, quietMin := false, 0
		for range 2 { // a ring
			want = sums{}
			for minute := range 7 * 24 * 60 {
				inHours := func(w clock.Timetable) bool {
					day := at.Clock.StepStart(0).Add(time.Duration(minute) * time.Minute)
					m := minute % 1440
					return w.Days.Has(day.Weekday()) && (len(w.Hours) == 0 || m >= w.Hours[0].From && m < w.Hours[0].To)
				}
				live := v.Mode != inverter.Timetable || inHours(v.When)
				if !live {
					off, quietMin = false, 0
				}
				var askW, comesW float64
				for _, l := range list {
					if inHours(l.When) {
						askW += l.PowerW
						if l.Kind == loads.Timetable {
							comesW += l.PowerW
						}
					}
				}
				needW, wakes := v.AutoOffW, true
				if v.Mode == inverter.Search {
					needW, wakes = max(needW, v.WakesAtW), askW >= v.WakesAtW
				}
				if live && v.AutoOffW > 0 {
					if v.WakeAtMin > 0 && minute%1440 == v.WakeAtMin%1440 && off || v.WakeAtMin == 0 && comesW >= needW {
						off, quietMin = false, 0
					}
					switch {
					case askW >= needW && !off:
						quietMin = 0
					case !off && float64(quietMin) >= v.AutoOffH*60:
						off = true
					case !off:
						quietMin++
					}
				}
				const h = 1.0 / 60
				switch {
				case !live:
				case off:
					want.idle += v.OffW * h
				case wakes:
					want.idle += v.IdleW * h
				default:
					want.idle += v.SearchW * h
				}
				for _, l := range list {
					wh := l.PowerW * h
					switch {
					case !inHours(l.When):
					case !live || !wakes || off && v.WakeAtMin > 0:
						want.withheld += wh
					case off:
						want.dead += wh
					default:
						want.served += wh
					}
				}
			}
		}
		got = a.sums(1)
		got.mustWithheldH, got.mustDeadH = 0, 0
		if d := math.Abs(got.served-want.served) + math.Abs(got.idle-want.idle) + math.Abs(got.withheld-want.withheld) + math.Abs(got.dead-want.dead); d > 1e-6 {
			t.Fatalf("got %+v\nwant %+v\n%+v\n%+v", got, want, v, list)
		}
	})
}

func TestShorterRatings(t *testing.T) {
	lights, kettle := steadily("lights", 36), sometimes("kettle", 1500, "sat", 15, 16)
	kettle.OnMinutesPerHour = 4
	wheel := sometimes("wheel", 240, "sat", 14, 18)
	wheel.OnMinutesPerHour = 40
	v := twelve()
	v.RatedW = 1600
	trips := func(want map[int]inverter.Trip, stepMin int, list ...loads.Load) *ask {
		t.Helper()
		for i := range list { // watts alone
			list[i].PowerFactor, list[i].StartFactor = 1, 1
		}
		a := asked(aWeek(stepMin), v, list...)
		for i, got := range a.trips {
			if got != want[i] {
				t.Errorf("step %d of %d min: %v, want %v", i, stepMin, got, want[i])
			}
		}
		return a
	}
	const sat15 = 5*24 + 15
	// All three are 1,776 W, over 1,600 W.
	trips(map[int]inverter.Trip{sat15: inverter.OverContinuous}, 60, lights, kettle, wheel)
	// For half an hour it carries 1,800 W, and only with the kettle is it over 1,600 W: 4 minutes.
	v.Rating30MinW = 1800
	a := trips(nil, 60, lights, kettle, wheel)
	if len(a.notes) != 1 || !strings.Contains(a.notes[0], "no more than 4 minutes") {
		t.Errorf("notes %q", a.notes)
	}
	kettle.OnMinutesPerHour = 31
	trips(map[int]inverter.Trip{sat15: inverter.Over30Min}, 60, lights, kettle, wheel)
	// In quarters of an hour: with the wheel, 10 minutes in each, the fourth makes 40. Where the wheel runs on, three in a row
	// are 45 minutes.
	kettle.OnMinutesPerHour = 60
	trips(map[int]inverter.Trip{4*sat15 + 3: inverter.Over30Min}, 15, lights, kettle, wheel)
	wheel.OnMinutesPerHour = 60
	trips(map[int]inverter.Trip{4*sat15 + 2: inverter.Over30Min, 4*sat15 + 3: inverter.Over30Min}, 15, lights, kettle, wheel)
	wheel.OnMinutesPerHour = 40
	// Over the surge rating it trips however short.
	kettle.OnMinutesPerHour, v.Rating30MinW, v.SurgeW = 0.01, 1650, 1700
	trips(map[int]inverter.Trip{sat15: inverter.OverSurge}, 60, lights, kettle, wheel)
	// 0.01 minutes are within the second for which it carries a surge.
	v.SurgeW = 1800
	trips(nil, 60, lights, kettle, wheel)
}

// TestVoltAmperesTrip: what is over by its volt-amperes alone is so for as long as by its watts, in steps of any length.
func TestVoltAmperesTrip(t *testing.T) {
	// By hand: 1,100 W and 600 W at a power factor of 0.75 are 1,700 W and 2,266.7 VA, on 2,000 W; either alone is 1,466.7 VA at most.
	saw := sometimes("saw", 1100, "sat", 14, 16)
	blower := sometimes("blower", 600, "sat", 15, 16)
	blower.OnMinutesPerHour = 20
	list := []loads.Load{saw, blower}
	for i := range list {
		list[i].PowerFactor, list[i].StartFactor = 0.75, 1
	}
	v := twelve()
	v.RatedW = 2000
	for _, stepMin := range []int{60, 30, 15, 5} {
		for _, surgeW := range []float64{0, 4000} { // that it carries 4,000 W for a second does not help
			v.Rating30MinW, v.SurgeW = 0, surgeW
			a := asked(aWeek(stepMin), v, list...)
			overMin := 0
			for _, trip := range a.trips {
				if trip == inverter.OverContinuous {
					overMin += stepMin
				}
			}
			if want := "inverter: once, 1 h in all, the loads together are over the continuous rating: it trips"; surgeW > 0 && (len(a.notes) != 1 || a.notes[0] != want) {
				t.Errorf("notes %q, want %q", a.notes, want)
			}
			if overMin != 60 {
				t.Errorf("steps of %d min, surge rating %v W: over for %d min, want 60", stepMin, surgeW, overMin)
			}
		}
		// For the 20 minutes of the blower it carries 2,400 of its 2,000 W.
		v.Rating30MinW = 2400
		a := asked(aWeek(stepMin), v, list...)
		if len(a.notes) != 1 || !strings.Contains(a.notes[0], "in 1 h the loads may ask up to 2267 VA at one moment, over its continuous rating of 2000 VA") ||
			!strings.Contains(a.notes[0], "no more than 20 minutes") {
			t.Errorf("steps of %d min: notes %q", stepMin, a.notes)
		}
	}
}

// TestStandbyOfAChargerIsNotMissed: a full pack whose charger's standby does not wake the inverter makes no day off by rule.
func TestStandbyOfAChargerIsNotMissed(t *testing.T) {
	// By hand: one pack of 90 Wh, 100 Wh at the plug of 60 W, is plugged in on Saturday from 10 to 20 o'clock, and full before 13:00. From
	// 13:00 on 1 W of standby is under the 5 W that wake the inverter, which the end of the taper, some 9 W, does: 7 Wh, and the last of the hour in which it was full.
	l := loads.New(loads.Packs)
	l.Name, l.Count, l.PackEnergyWh, l.ChargerPowerW, l.ChargerEfficiency, l.StandbyW, l.AtMin, l.UnplugMin = "packs", 1, 90, 60, 0.9, 1, 10*60, 20*60
	l.When.Days, _ = clock.ParseDays([]string{"sat"})
	v := twelve()
	v.Mode, v.WakesAtW, v.SearchW = inverter.Search, 5, 1
	if s := asked(aWeek(60), v, l).sums(1); s.mustWithheldH != 0 || s.withheld < 7 || s.withheld > 8 {
		t.Errorf("search: %+v, want 7 to 8 Wh withheld and no hour missed", s)
	}
	// Behind a timetable of one hour, after it would be full, it is not charged at all: of that 2.2 h are missed by it, of the standby none.
	v = twelve()
	v.Mode, v.When.Hours = inverter.Timetable, []clock.Span{{From: 14 * 60, To: 15 * 60}}
	if s := asked(aWeek(60), v, l).sums(1); s.mustWithheldH < 2 || s.mustWithheldH > 3 {
		t.Errorf("timetable: %+v, want 2 to 3 h missed", s)
	}
	// A lamp's sensor is missed.
	lamp := loads.New(loads.MotionLight)
	lamp.Name, lamp.PowerW, lamp.StandbyW, lamp.VisitsPerNight = "lamp", 20, 1, 1
	v = twelve()
	v.Mode, v.WakesAtW, v.SearchW = inverter.Search, 12, 1
	if s := asked(aWeek(60), v, lamp).sums(1); s.mustWithheldH < 7*12 {
		t.Errorf("lamp: %+v, want its nights missed", s)
	}
}

func TestAutoOffDoesNotCountOnDemand(t *testing.T) {
	// A variant may take the mode on_demand over a base with auto-off. By hand: 6 h x 12 W of idle, and nothing lost.
	v := twelve()
	v.Mode, v.AutoOffW = inverter.OnDemand, 100
	a := asked(aWeek(60), v, sometimes("saw", 60, "sat", 10, 16))
	a.sums(1).near(t, sums{served: 360, idle: 72})
	if a.notes != nil || a.offShare != nil {
		t.Errorf("%q %v", a.notes, a.offShare)
	}
}
