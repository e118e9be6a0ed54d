package precheck

import (
	"math"
	"strings"
	"testing"

	"tideover/sim"
	"tideover/sim/controller"
)

// Two controllers, each with its own panels: each is held against its own limits. By hand for 32.9 V modules of 200 W with 8.21 A:
// east has one string of two, 1.25 x 8.21 A = 10.26 A and 400 W x 0.95 / 12.8 V = 29.7 A; west four of one, 41.05 A and, all
// told, 800 W: 59.4 A. The 20 A and 30 A of their ratings make 50 A into the battery. In west the others push 3 x 10.26 A into
// a string, in east there are none.
func TestSeveralControllers(t *testing.T) {
	in := shed()
	s := in.System
	in.CoeffTyped = []bool{true, true}
	s.ControllerName = "west"
	west := s.Array
	s.Array.InSeries, s.Feeds = 2, 1
	west.InParallel = 4
	s.Beside = []sim.SubArray{{Array: west, Surface: s.Surface}}
	s.Controller.MaxInputV, s.Controller.MaxCurrentA = 60, 30
	c := controller.Default()
	c.MaxCurrentA, c.MaxInputV, c.MaxInputA, c.MinInputV, c.MaxInputW = 20, 60, 15, 60, 350
	s.Further = []sim.NamedController{{Name: "east", Controller: c}}
	r := Check(in)
	find := func(of, key string) *Line {
		t.Helper()
		var found *Line
		for i := range r.Lines {
			if l := &r.Lines[i]; l.Of == of && l.Key == key {
				if found != nil {
					t.Errorf("%s %s: a second line", of, key)
				}
				found = l
			}
		}
		if found == nil {
			t.Fatalf("there is no line %q of %q", key, of)
		}
		return found
	}
	coldV := 32.9 * (1 + 0.0028*35) // 36.12 V
	for _, x := range []struct {
		of, key       string
		number, limit float64
		want          Verdict
	}{
		{"west", "open_circuit_cold", coldV, 60, Pass},
		{"east", "open_circuit_cold", 2 * coldV, 60, Fail},
		{"west", "array_current", 41.05, 50, Pass},
		{"east", "array_current", 10.2625, 15, Pass},
		{"east", "array_power", 400, 350, Tight},
		{"west", "controller_current", 800 * 0.95 / 12.8, 30, Tight},
		{"east", "controller_current", 400 * 0.95 / 12.8, 20, Tight},
		{"west", "string_fuse", 15, 15, Pass},
		{"east", "string_fuse", math.NaN(), math.NaN(), Pass},
		{"", "charge_current", 50, 100, Pass},
	} {
		l := find(x.of, x.key)
		verdict(t, x.of+" "+x.key, *l, x.want)
		if !math.IsNaN(x.number) || !math.IsNaN(l.Number) {
			near(t, x.of+" "+x.key, l.Number, x.number, 1e-9)
		}
		if !math.IsNaN(x.limit) || !math.IsNaN(l.Limit) {
			near(t, x.of+" "+x.key+", limit", l.Limit, x.limit, 1e-9)
		}
	}
	// Each has a cable like the one typed: 1.5625 x 32.84 A in west, 12.83 A in east.
	near(t, "west's cable", find("west", "array_ampacity").Number, 1.5625*4*8.21, 1e-9)
	near(t, "east's cable", find("east", "array_ampacity").Number, 1.5625*8.21, 1e-9)
	find("east", "max_power_hot")
	find("west", "start_hot")
	near(t, "from west to the bus", find("west", "controller_cable").Number, 37.5, 0)
	near(t, "from east to the bus", find("east", "controller_cable").Number, 25, 0)
	for _, w := range r.Ways {
		if w.SubArray == 1 && w.InSeries == 1 && !strings.Contains(w.Why, "volts in the heat") { // east runs from 60 V
			t.Errorf("one in series on east: %+v", w)
		}
	}
	in.System.Further[0].MaxInputA = 0
	r = Check(in)
	if l := find("east", "array_current"); !strings.Contains(l.Cure, "controller.east.max_input_a") {
		t.Errorf("cure %q", l.Cure)
	}
}

// A PWM controller passes the array's current: 1.25 x 8.21 A is held against its rated current and not against one of its input,
// which it has not, and the battery gets at most the 8.21 A. It has no lowest voltage: hot modules under that of the battery
// give less, and go on. By hand as in TestHeatAndStart: 20.76 V hot.
func TestPWMPassesTheArraysCurrent(t *testing.T) {
	in := shed()
	c := controller.New(controller.PWM)
	c.MaxCurrentA, c.MaxInputV = 12, 60
	in.System.Controller = c
	l := line(t, in, "array_current")
	verdict(t, "12 A", l, Pass)
	near(t, "short circuit", l.Number, 10.2625, 1e-9)
	near(t, "its rating", l.Limit, 12, 0)
	near(t, "charging current", line(t, in, "charge_current").Number, 8.21, 1e-9)
	in.System.Controller.MaxCurrentA = 8
	l = line(t, in, "array_current")
	verdict(t, "8 A", l, Tight)
	if strings.Contains(l.Cure, "max_input") {
		t.Errorf("cure %q: a PWM controller has no such key", l.Cure)
	}
	near(t, "charging current, at most the rating", line(t, in, "charge_current").Number, 8, 0)
	l = line(t, in, "max_power_hot")
	verdict(t, "hot", l, Pass)
	near(t, "hot", l.Number, 20.76, 0.01)
	near(t, "charging voltage and drop", l.Limit, 14.4, 1e-9)
	in.System.Array.Module.MpVoltageV = 17.4 // 17.4 V x (1-0.0037x54.5) = 13.9 V
	verdict(t, "hot modules of few cells", line(t, in, "max_power_hot"), Tight)
	for _, l := range Check(in).Lines {
		if l.Key == "controller_current" {
			t.Errorf("%+v: the array's power is not its charging current", l)
		}
	}
}
