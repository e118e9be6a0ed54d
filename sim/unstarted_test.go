package sim_test

import (
	"slices"
	"strings"
	"testing"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/controller"
	"tideover/sim/plane"
	"tideover/weather"
)

// Why an array did not start is told: what keeps it is set here, one thing at a time.
func TestWhyTheArrayDidNotStart(t *testing.T) {
	snowy := func(y *weather.Year) {
		y.SnowDepthCM = make([]float64, y.Len())
		for i := 24; i < y.Len(); i++ {
			y.SnowDepthCM[i] = 20
		}
	}
	for _, c := range []struct {
		name  string
		airC  float64
		light float64
		set   func(s *sim.System, y *weather.Year)
		want  string
	}{
		{"it starts", 25, 800, func(*sim.System, *weather.Year) {}, ""},
		{"warm", 40, 800, func(s *sim.System, _ *weather.Year) {
			s.Controller.StartInputV = s.Array.OcVoltageV(800, 40)
		}, ", on panels so warm that their voltage is too low (more of them in series lift it)"},
		{"warm behind a PWM controller", 40, 800, func(s *sim.System, _ *weather.Year) {
			s.Controller.Kind, s.Controller.SwitchDropV = controller.PWM, s.Array.OcVoltageV(800, 40)-s.Bank.NominalV
		}, ", on panels so warm that their voltage is too low (more of them in series lift it)"},
		{"dim", 25, 10, func(s *sim.System, _ *weather.Year) {
			s.Controller.StartInputV = s.Array.OcVoltageV(100, 25)
		}, ", in light too dim to begin"},
		{"snow", 0, 200, func(s *sim.System, y *weather.Year) {
			snowy(y)
			s.Snow, s.Surface.TiltDeg, s.Controller.StartInputV = plane.DefaultSnow(), 45, s.Array.OcVoltageV(200, 25)
		}, ", under snow"},
		{"high", 25, 800, func(s *sim.System, _ *weather.Year) {
			s.Controller.MaxInputV = s.Array.OcVoltageV(800, 75)
		}, ", over the controller's highest voltage"},
		{"asleep", -10, 500, func(s *sim.System, _ *weather.Year) {
			s.Bank.StartSOC, s.Bank.TempLagH = 0, 0
			s.Controller.InputOffWhenBarred, s.Controller.OwnDrawW = true, 5
		}, ", as all sleep, the battery flat"},
	} {
		s := ideal()
		s.Loads = []loads.Load{always("lamp", loads.DC, 2)}
		y := bright(72, c.light, c.airC)
		c.set(s, y)
		p := sim.Prepare(s, y)
		r, err := p.Run(true)
		if err != nil {
			t.Fatal(err)
		}
		p.Explain(r)
		k := slices.IndexFunc(r.Notes, func(n string) bool { return strings.HasPrefix(n, "not started: ") })
		switch {
		case k < 0 && c.want == "":
		case k < 0:
			t.Errorf("%s: no note says %q: %q", c.name, c.want, r.Notes)
		case c.want == "" || !strings.Contains(r.Notes[k], c.want):
			t.Errorf("%s: %s; want %q", c.name, r.Notes[k], c.want)
		}
	}
}
