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
		{func(c *Controller) { c.EfficiencyAtTenth = 0.97 }, "efficiency_at_tenth: 0.97 is above efficiency 0.95"},
		{func(c *Controller) { c.EfficiencyAtTenth = 0.45 }, "efficiency_at_tenth: 0.45 loses more watts at a tenth of the power than efficiency 0.95"},
		{func(c *Controller) { c.EfficiencyAtTenth = 92 }, "efficiency_at_tenth: 92 is not between 0 and 1"},
		{func(c *Controller) { c.AbsorptionV, c.FloatV = 14.2, 14.4 }, "float_v: 14.4 is above absorption_v 14.2"},
		{func(c *Controller) { c.AbsorptionH = 25 }, "absorption_h: 25 is not between 0 and 24"},
		{func(c *Controller) { c.Kind, c.SwitchDropV = PWM, 12 }, "switch_drop_v: 12 is not between 0 and 3"},
		{func(c *Controller) { c.Kind = 2 }, "kind: is not one of mppt, pwm"},
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

func TestKeysAreThoseOfTheKind(t *testing.T) {
	names := func(kind Kind) string {
		c := New(kind)
		var words []string
		for _, k := range c.Keys() {
			words = append(words, k.Name)
			if k.Doc == "" || k.Example == "" || k.Need == (k.Origin != "") {
				t.Errorf("%v: %s: doc %q, example %q, need %v, origin %q", kind, k.Name, k.Doc, k.Example, k.Need, k.Origin)
			}
		}
		return strings.Join(words, " ")
	}
	const stages = " absorption_v absorption_h float_v temp_comp_mv_per_cell_k"
	if got, want := names(MPPT), "kind efficiency efficiency_at_tenth tracking_efficiency own_draw_w max_current_a max_input_w max_input_a max_input_v min_input_v start_input_v"+stages; got != want {
		t.Errorf("mppt: %s, want %s", got, want)
	}
	if got, want := names(PWM), "kind switch_drop_v own_draw_w max_current_a max_input_v"+stages; got != want {
		t.Errorf("pwm: %s, want %s", got, want)
	}
	c := twenty() // what the other kind's keys hold does not matter
	c.Kind, c.Efficiency, c.MinInputV = PWM, 7, 900
	if f := c.Check(); f != nil {
		t.Error(f)
	}
}

func TestTemperatureCompensationInWords(t *testing.T) {
	c := Default()
	key := c.Keys()[len(c.Keys())-1]
	for word, want := range map[string]float64{"-4": -4, "0": 0, "battery": math.NaN(), "-3.5": -3.5} {
		if err := key.SetWords([]string{word}); err != nil || c.TempCompMVPerCellK != want && !(math.IsNaN(want) && math.IsNaN(c.TempCompMVPerCellK)) {
			t.Errorf("%s: %v, %v", word, c.TempCompMVPerCellK, err)
		}
	}
	for word, want := range map[string]string{
		"5":   `"5" is not between -10 and 0, nor the word battery: the voltages fall with warmth; it looks like a lost sign`,
		"-30": `"-30" is not between -10 and 0, nor the word battery: it looks like that of a whole 12 V block; of one of its 6 cells it is -5`,
		"lot": `"lot" is not between -10 and 0, nor the word battery`,
		"NaN": `"NaN" is not between -10 and 0, nor the word battery`,
	} {
		if err := key.SetWords([]string{word}); err == nil || err.Error() != want {
			t.Errorf("%s: %v, want %s", word, err, want)
		}
	}
	if key.SetWords([]string{"-4", "-5"}) == nil {
		t.Error("two values are taken")
	}
}

func TestEfficiencyByLoadByHand(t *testing.T) {
	// By hand, for 1000 W at the input: 0.96 loses 40 W, and 0.90 at 100 W loses 10 W. Loss = a + b x input: 900 b = 30, b =
	// 1/30, a = 20/3 W. At 500 W it is 6.6667 + 16.6667 = 23.3333 W: 0.953333. At 50 W, 8.3333: 0.833333. At 6 W more is lost
	// than comes in.
	c := twenty()
	c.Efficiency, c.EfficiencyAtTenth = 0.96, 0.90
	for inW, want := range map[float64]float64{1000: 0.96, 100: 0.90, 500: 0.953333, 50: 0.833333, 6: 0, 0: 0} {
		if got := c.EfficiencyAt(inW, 1000); math.Abs(got-want) > 1e-6 {
			t.Errorf("at %v W: %v, want %v", inW, got, want)
		}
	}
	constW, share := c.Loss(1000)
	if math.Abs(constW-20./3) > 1e-9 || math.Abs(share-1./30) > 1e-12 {
		t.Errorf("loss %v W + %v, want 6.6667 W + 0.0333", constW, share)
	}
	c.EfficiencyAtTenth = 0
	if got := c.EfficiencyAt(3, 1000); got != 0.96 {
		t.Errorf("without one at a tenth: %v", got)
	}
	c.Kind = PWM
	if got := c.EfficiencyAt(3, 1000); got != 1 {
		t.Errorf("pwm converts nothing: %v", got)
	}
}

func TestOutputIsNeverAboveInput(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := twenty()
		c.Efficiency = rapid.Float64Range(0.5001, 1).Draw(t, "efficiency")
		c.EfficiencyAtTenth = rapid.Float64Range(0, c.Efficiency).Draw(t, "atTenth")
		if c.Check() != nil {
			return
		}
		ratedW := rapid.Float64Range(1, 1e4).Draw(t, "ratedW")
		inW := ratedW * rapid.Float64Range(0, 1.5).Draw(t, "load")
		e, more := c.EfficiencyAt(inW, ratedW), c.EfficiencyAt(inW*1.01, ratedW)
		if !(e >= 0 && e <= 1 && more*inW*1.01 >= e*inW*(1-1e-12)) {
			t.Fatalf("%v at %v W of %v W, %v a little above", e, inW, ratedW, more)
		}
	})
}

func TestSwitchingWindow(t *testing.T) {
	// Current flows while the array, open, stands above the battery and the drop on the way: 12.5 + 0.2 V.
	c := twenty()
	c.Kind, c.MaxInputV = PWM, 50
	for _, v := range []struct {
		open float64
		on   bool
	}{{12.6, false}, {12.8, true}, {22, true}, {50.1, false}} {
		for _, running := range []bool{false, true} {
			if got := c.Runs(0.8*v.open, v.open, 12.5, running); got != v.on {
				t.Errorf("%v V open, running %v: %v", v.open, running, got)
			}
		}
	}
}
