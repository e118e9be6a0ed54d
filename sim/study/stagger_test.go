package study

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tideover/loads"
	"tideover/sim/clock"
)

// yearOf is a year without daylight saving, 2025.
func yearOf() loads.Place {
	const n = 8760
	return loads.Place{Clock: clock.New(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), 60, n, time.UTC), DarkShare: make([]float64, n)}
}

func timed(name string, w, onMin float64, hours ...string) loads.Load {
	l := loads.New(loads.Timetable)
	l.Name, l.PowerW, l.OnMinutesPerHour = name, w, onMin
	l.Class = 2 // resistive
	spans, err := clock.ParseHours(hours)
	if err != nil {
		panic(err)
	}
	l.When.Hours = spans
	return l
}

func waits(l loads.Load) loads.Load {
	l.Priority = loads.CanWait
	return l
}

// Worked by hand. W are those of resistive loads, so volt-amperes are the same; where packs are on, 0.7 of them.
func TestStaggerByHand(t *testing.T) {
	drill := loads.New(loads.Packs)
	// Two chargers of 400 W, a pack of 340 Wh for each: 400 Wh at the plug, 80 % of it in 48 min, the taper 0.2/0.9 h x ln 10 =
	// 30.7 min; 79 min in all.
	drill.Name, drill.Count, drill.Chargers, drill.PackEnergyWh, drill.ChargerPowerW, drill.PowerFactor = "drill packs", 2, 2, 340, 400, 1
	drill.AtMin, drill.UnplugMin, drill.StandbyW = 10*60, 18*60, 0
	late := drill
	late.UnplugMin = 12 * 60
	fridge := loads.New(loads.DutyCycle)
	fridge.Name, fridge.PowerW, fridge.Duty, fridge.PowerFactor = "fridge", 700, 0.3, 1
	pump := loads.New(loads.AlwaysOn)
	pump.Name, pump.PowerW, pump.PowerFactor = "pump", 700, 1
	heater := timed("heater", 1000, 60, "09:00 to 12:00")
	random := loads.New(loads.RandomUses)
	random.Name, random.PowerW, random.UsesPerDay, random.MinutesPerUse, random.Class = "toaster", 900, 3, 4, 2
	for _, c := range []struct {
		name string
		list []loads.Load
		may  Carries
		want string // "-": nothing cures it
	}{
		// 1500 + 240 + 36 = 1776 W; 1536 W when the kettle waits for the wheel.
		{"kettle and wheel", []loads.Load{timed("lights", 36, 60, "14:00 to 20:00"), timed("wheel", 240, 20, "14:00 to 18:00"),
			waits(timed("kettle", 1500, 4, "15:00 to 16:00"))}, Carries{W: 1600, VA: 1600}, "never run wheel and kettle together"},
		// What runs for 60 minutes of the hour cannot stop for it. The kettle goes two hours earlier, or three later.
		{"kettle and a long run", []loads.Load{timed("wheel", 240, 60, "14:00 to 18:00"), waits(timed("kettle", 1500, 4, "15:00 to 16:00"))},
			Carries{W: 1600, VA: 1600}, "run kettle at 13:00 to 14:00, not 15:00 to 16:00"},
		// 1800 W. From 12:00 the heater is off; before it the packs would have to be full at 9:00, plugged in at 7:00, an hour more.
		{"heater and packs", []loads.Load{heater, drill}, Carries{W: 1500, VA: 1500}, "charge drill packs at 12:00 to 13:19, not 10:00 to 11:19"},
		{"packs that are unplugged at noon", []loads.Load{heater, late}, Carries{W: 1500, VA: 1500},
			"charge drill packs at 12:00 to 13:19, not 10:00 to 11:19, and unplug at 14:00"},
		{"what can wait is moved", []loads.Load{timed("saw", 800, 60, "10:00 to 11:00"), waits(timed("vacuum", 800, 60, "10:00 to 11:00"))},
			Carries{W: 1000, VA: 1000}, "run vacuum at 11:00 to 12:00, not 10:00 to 11:00"},
		// Any two of three are 1200 W: one later, one earlier.
		{"three at once", []loads.Load{timed("a", 600, 60, "10:00 to 11:00"), timed("b", 600, 60, "10:00 to 11:00"), timed("c", 600, 60, "10:00 to 11:00")},
			Carries{W: 1000, VA: 1000}, "run a at 11:00 to 12:00, not 10:00 to 11:00; run b at 09:00 to 10:00, not 10:00 to 11:00"},
		{"one of two spans", []loads.Load{timed("a", 600, 60, "06:00 to 07:00", "12:00 to 13:00"), timed("b", 600, 60, "12:00 to 17:00")},
			Carries{W: 1000, VA: 1000}, "run a at 11:00 to 12:00, not 12:00 to 13:00"},
		{"a thermostat and what never stops", []loads.Load{fridge, pump}, Carries{W: 1000, VA: 1000}, "-"},
		{"within", []loads.Load{fridge, pump}, Carries{W: 1400, VA: 1400}, ""},
		// 1800 W; each is on for 12 of 1440 minutes a day.
		{"random uses", []loads.Load{random, func() loads.Load { l := random; l.Name = "kettle"; return l }()}, Carries{W: 1000, VA: 1000},
			"never run toaster and kettle together"},
		// 700 W and 1000 VA, twice.
		{"volt-amperes", []loads.Load{func() loads.Load { l := timed("a", 700, 60, "10:00 to 11:00"); l.Class = 3; return l }(),
			func() loads.Load { l := timed("b", 700, 60, "10:00 to 11:00"); l.Class = 3; return l }()}, Carries{W: 1500, VA: 1200},
			"run a at 11:00 to 12:00, not 10:00 to 11:00"},
		// 100 + 400 W run; 100 + 3 x 400 W for the start of a motor.
		{"a start", []loads.Load{timed("lamp", 100, 60, "10:00 to 11:00"), func() loads.Load { l := timed("motor", 400, 60, "10:00 to 11:00"); l.Class = 5; return l }()},
			Carries{W: 1000, VA: 1000, StartW: 1250}, "run lamp at 11:00 to 12:00, not 10:00 to 11:00"},
	} {
		s := newSearch(yearOf(), c.list)
		s.may = c.may
		got := "-"
		if w := s.start(); w.excess == 0 {
			got = ""
		} else if best := s.find(w); best != nil {
			got = words(best.changes)
			if p := loads.Coincide(s.at, best.list, loads.AC); p.RunW.Most > c.may.W+1e-6 || p.RunVA.Most > c.may.VA+1e-6 {
				t.Errorf("%s: still %v W, %v VA", c.name, p.RunW.Most, p.RunVA.Most)
			}
		}
		if got != c.want {
			t.Errorf("%s: %q, want %q", c.name, got, c.want)
		}
	}
}

func words(changes []Change) string {
	var list []string
	for _, c := range changes {
		list = append(list, c.String())
	}
	return strings.Join(list, "; ")
}

// An inverter that is switched off at noon serves nothing moved to the afternoon: the vacuum goes before the saw.
func TestStaggerWithinTheInvertersHours(t *testing.T) {
	p := yearOf()
	p.ACOn = clock.Timetable{Hours: []clock.Span{{From: 8 * 60, To: 11 * 60}}}.Stretches(p.Clock)
	s := newSearch(p, []loads.Load{timed("saw", 800, 60, "10:00 to 11:00"), waits(timed("vacuum", 800, 60, "10:00 to 11:00"))})
	s.may = Carries{W: 1000, VA: 1000}
	best := s.find(s.start())
	if best == nil || words(best.changes) != "run vacuum at 09:00 to 10:00, not 10:00 to 11:00" {
		t.Errorf("%+v", best)
	}
}

// TestStaggerLaws: a plan keeps within what is carried, moves no load twice, and takes from none its time.
func TestStaggerLaws(t *testing.T) {
	at := yearOf()
	at.Clock = clock.New(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), 60, 14*24, time.UTC)
	at.DarkShare = at.DarkShare[:14*24]
	rapid.Check(t, func(t *rapid.T) {
		var list []loads.Load
		mostW := 0.0
		for k := range rapid.IntRange(2, 6).Draw(t, "loads") {
			from := rapid.IntRange(0, 22).Draw(t, "from")
			l := timed(fmt.Sprint("load ", k), rapid.Float64Range(50, 1500).Draw(t, "w"), rapid.SampledFrom([]float64{4, 20, 60}).Draw(t, "min"), "10:00 to 11:00")
			l.When.Hours = []clock.Span{{From: 60 * from, To: 60*from + 30*rapid.IntRange(1, 6).Draw(t, "half hours")}}
			l.When.Days = clock.Days(rapid.IntRange(0, 126).Draw(t, "days"))
			l.Class = loads.Class(rapid.IntRange(1, 6).Draw(t, "class"))
			list, mostW = append(list, l), max(mostW, l.PowerW)
		}
		s := newSearch(at, list)
		s.may.W = mostW * rapid.Float64Range(1, 2).Draw(t, "rating")
		s.may.VA = s.may.W / 0.7
		w := s.start()
		if w.excess == 0 {
			return
		}
		best := s.find(w)
		if best == nil {
			return
		}
		p := loads.Coincide(at, best.list, loads.AC)
		if p.RunW.Most > s.may.W*(1+1e-6) || p.RunVA.Most > s.may.VA*(1+1e-6) {
			t.Fatalf("%s: still %v W and %v VA of %+v", words(best.changes), p.RunW.Most, p.RunVA.Most, s.may)
		}
		var moved []string
		for _, c := range best.changes {
			if c.With == "" {
				if slices.Contains(moved, c.Load) {
					t.Fatalf("%s is moved twice", c.Load)
				}
				moved = append(moved, c.Load)
			}
		}
		for k, l := range best.list {
			// A span that passes midnight may lose what of it lies behind the run, and win it before.
			if l.When.MinutesADay() != list[k].When.MinutesADay() || math.Abs(loads.Hours(best.uses[k])-loads.Hours(w.uses[k])) > 3+1e-9 {
				t.Fatalf("%s has %v h, had %v", l.Name, loads.Hours(best.uses[k]), loads.Hours(w.uses[k]))
			}
		}
	})
}
