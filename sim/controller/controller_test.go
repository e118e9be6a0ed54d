package controller

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func twenty() Controller {
	c := Default()
	c.MaxCurrentA, c.MaxInputV = 20, 75
	return c
}

func TestOfferByHand(t *testing.T) {
	// By hand: 300 W found at 98 % is 294 W, 6 W off peak; a 250 W input rating clips 44 W.
	c := twenty()
	c.MaxInputW = 250
	got := c.Offer(300, 18, 22, 14.2, false)
	want := Offer{OffPeakW: 6, ClippedW: 44, ReadyW: 250}
	for _, d := range []float64{got.OffPeakW - want.OffPeakW, got.ClippedW - want.ClippedW, got.ReadyW - want.ReadyW, got.NotStartedW} {
		if math.Abs(d) > 1e-9 {
			t.Fatalf("got %+v, want %+v", got, want)
		}
	}
	c = twenty()
	c.MaxInputA = 10
	if got := c.Offer(300, 18, 22, 14.2, false); math.Abs(got.ReadyW-180) > 1e-9 { // 10 A x 18 V
		t.Errorf("input current: %+v, want 180 W ready", got)
	}
}

func TestWindow(t *testing.T) {
	// Typical step-down units start at battery + 5 V and run down to battery + 1 V (common practice, from memory).
	c := twenty()
	for _, v := range []struct {
		name     string
		mp, open float64
		on       bool
	}{
		{"inside", 16, 20, true}, {"too low to run", 15.1, 20, false}, {"too low to start", 16, 19.1, false},
		{"over the absolute limit", 60, 75.1, false}, {"at the limits", 15.2, 19.2, true},
	} {
		got := c.Offer(100, v.mp, v.open, 14.2, false)
		if on := got.ReadyW > 0; on != v.on || !on && got.NotStartedW != 100 {
			t.Errorf("%s: %+v", v.name, got)
		}
	}
}

func TestRunsOnBelowItsStart(t *testing.T) {
	// Typical step-down units start at battery + 5 V and run down to battery + 1 V (common practice, from memory): a hot
	// string of 19 V open-circuit does not start one at 14.2 V, and does not stop one that started in the cool morning.
	c := twenty()
	if o := c.Offer(100, 16, 19, 14.2, false); o.ReadyW != 0 {
		t.Errorf("started below its starting voltage: %+v", o)
	}
	if o := c.Offer(100, 16, 19, 14.2, true); o.ReadyW != 98 {
		t.Errorf("stopped while running: %+v", o)
	}
	if o := c.Offer(100, 15.1, 19, 14.2, true); o.NotStartedW != 100 {
		t.Errorf("runs below its lowest voltage: %+v", o)
	}
}

func TestOfferAddsUp(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := twenty()
		c.MaxInputW = rapid.Float64Range(0, 500).Draw(t, "maxInputW")
		w := rapid.Float64Range(0, 2000).Draw(t, "arrayW")
		o := c.Offer(w, rapid.Float64Range(0, 80).Draw(t, "mpV"), rapid.Float64Range(0, 90).Draw(t, "openV"), 14.2, false)
		sum := o.NotStartedW + o.OffPeakW + o.ClippedW + o.ReadyW
		if math.Abs(sum-w) > 1e-12*w || min(o.NotStartedW, o.OffPeakW, o.ClippedW, o.ReadyW) < 0 {
			t.Fatalf("%v W became %+v", w, o)
		}
	})
}

func TestSlips(t *testing.T) {
	for a, want := range map[float64]string{1000: "", 30000: "30000 is above 1000: it looks like mA; 30000 mA is 30 A"} {
		got := ""
		for _, f := range (&Controller{MaxCurrentA: a, OwnDrawW: 50, MaxInputA: 10}).Slips() {
			got += f.Msg
		}
		if got != want {
			t.Errorf("%v A: got %q, want %q", a, got, want)
		}
	}
}

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		edit func(*Controller)
		want string
	}{
		{func(c *Controller) { c.Efficiency = 95 }, "efficiency: 95 is not"},
		{func(c *Controller) { c.MaxCurrentA = 0 }, "max_current_a: 0 is not above 0"},
		{func(c *Controller) { c.StartInputV = 80 }, "start_input_v: 80 is not below max_input_v 75"},
		{func(c *Controller) { c.StartInputV, c.MinInputV = 15, 18 }, "min_input_v: 18 is above start_input_v 15"},
	} {
		m := twenty()
		c.edit(&m)
		if f := m.Check(); len(f) != 1 || !strings.HasPrefix(f[0].Error(), c.want) {
			t.Errorf("got %v, want %q", f, c.want)
		}
	}
}
