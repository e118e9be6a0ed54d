package sim_test

import (
	"testing"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/inverter"
)

func TestPeak(t *testing.T) {
	// By hand: a 1,500 W kettle for 4 minutes an hour and 60 W of lights may fall together; the 12 W of DC have a bus of their own.
	s := ideal()
	v := inverter.Default()
	v.RatedW, v.IdleW = 1000, 5
	s.Inverter = &v
	kettle := always("kettle", loads.AC, 1500)
	kettle.OnMinutesPerHour = 4
	s.Loads = []loads.Load{always("lights", loads.AC, 60), kettle, always("radio", loads.DC, 12)}
	y := dark(24)
	p := sim.Prepare(s, y).Peak()
	near(t, "AC", p.ACW, 1560, 1e-9)
	near(t, "DC", p.DCW, 12, 1e-9)
	near(t, "for hours, 1500 W x 4/60 and 60 W", p.LongW, 160, 1e-9)
	if len(p.On) != 2 || p.On[0] != (sim.Asking{Load: "kettle", OnW: 1500}) || !p.At.Equal(y.Start) {
		t.Errorf("%+v", p)
	}
	s.Loads = s.Loads[2:]
	if p := sim.Prepare(s, y).Peak(); p.ACW != 0 || p.On != nil || !p.At.IsZero() {
		t.Errorf("without AC loads: %+v", p)
	}
}
