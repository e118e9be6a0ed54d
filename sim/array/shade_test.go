package array

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

// plain is strings of ideal modules: 100 W at 20 V, 24 V open, three groups each; no coefficient, loss or low light, so
// that a hand can follow. lowLight is not 1 below 1000 W/m2, so the tests divide it out where they say so.
func plain(series, parallel int) Array {
	a := Array{Module: Module{PowerW: 100, MpVoltageV: 20, MpCurrentA: 5, OcVoltageV: 24, ScCurrentA: 5.5, BypassGroups: 3},
		InSeries: series, InParallel: parallel}
	return a
}

func TestShadeOnTheStringByHand(t *testing.T) {
	dim := func(wm2 float64) float64 { return wm2 / 1000 * lowLight(wm2) } // of the bright power
	for _, c := range []struct {
		name                       string
		a                          Array
		dimWm2, share              float64
		along                      bool
		heldW, bypassedW, bypassed float64
	}{
		// One module, a third in deep shade (200 of 1000 W/m2): held at the dim current it gives 100 W x dim; with the
		// third bypassed 2/3 of 20 V less one diode of 0.5 V = 12.833 V at 5 A, 64.17 W: bypassing wins.
		{"one group of three", plain(1, 1), 200, 1.0 / 3, false, 100 * dim(200), 64.1667, 12.8333},
		// The same third in light shade (800): held 100 W x dim(800), about 78 W: holding wins.
		{"light shade", plain(1, 1), 800, 1.0 / 3, false, 100 * dim(800), 64.1667, 12.8333},
		// A tenth of one module still switches off a whole group: nothing is lost smoothly.
		{"a tenth", plain(1, 1), 200, 0.1, false, 100 * dim(200), 64.1667, 12.8333},
		// Two in series, a quarter in shade: 2 of 6 groups off (1.5 rounded up), 40 x 4/6 - 1 = 25.667 V at 5 A.
		{"a quarter of two in series", plain(2, 1), 200, 0.25, false, 200 * dim(200), 128.3333, 25.6667},
		// Two strings of one: across, each loses 2 of 3 groups (1.5 rounded up): 2 x 5 A x (20/3 - 1) V = 56.67 W.
		{"half of two strings, across", plain(1, 2), 200, 0.5, false, 200 * dim(200), 56.6667, 5.6667},
		// Along, the same half covers one string: 100 W of the other, and the dim current of the first.
		{"half of two strings, along", plain(1, 2), 200, 0.5, true, 100 + 100*dim(200), 0, 0},
		{"the whole array", plain(2, 2), 200, 1, false, 400 * dim(200), 0, 0},
		{"the whole array, along", plain(2, 2), 200, 1, true, 400 * dim(200), 0, 0},
		// Snow lets nothing through.
		{"snow on a third", plain(1, 1), 0, 1.0 / 3, false, 0, 64.1667, 12.8333},
	} {
		held, bypassed := c.a.Shaded(1000, c.dimWm2, c.share, 25, c.along)
		for _, v := range []struct {
			what      string
			got, want float64
		}{{"held, W", held.PowerW, c.heldW}, {"bypassed, W", bypassed.PowerW, c.bypassedW}, {"bypassed, V", bypassed.MpVoltageV, c.bypassed},
			{"held, V", held.MpVoltageV, 20 * float64(c.a.InSeries)}} {
			if math.Abs(v.got-v.want) > 1e-3 {
				t.Errorf("%s: %s %.4f, want %.4f", c.name, v.what, v.got, v.want)
			}
		}
	}
}

func TestShadeNeverHelps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := plain(rapid.IntRange(1, 4).Draw(t, "series"), rapid.IntRange(1, 4).Draw(t, "parallel"))
		a.Module.PowerCoeffPerK, a.Module.VoltageCoeffPerK = -0.004, -0.003
		clear := rapid.Float64Range(1, 1100).Draw(t, "clearWm2")
		dim := clear * rapid.Float64Range(0, 1).Draw(t, "dim")
		share := rapid.Float64Range(1e-3, 1).Draw(t, "share")
		cellC := rapid.Float64Range(-20, 70).Draw(t, "cellC")
		along := rapid.Bool().Draw(t, "along")
		most := a.PowerW(clear, cellC)
		best := func(share float64) float64 {
			h, b := a.Shaded(clear, dim, share, cellC, along)
			for _, p := range []Point{h, b} {
				if !(p.PowerW >= 0 && p.PowerW <= most*(1+1e-12) && p.MpVoltageV >= 0 && p.OcVoltageV >= 0) {
					t.Fatalf("point %+v, the clear array gives %v W", p, most)
				}
			}
			return max(h.PowerW, b.PowerW)
		}
		if more := min(1, share*1.5); best(more) > best(share)*(1+1e-12) {
			t.Fatalf("a share of %v gives %v W, of %v %v W", share, best(share), more, best(more))
		}
	})
}

func TestShadedPanicsOnOurBugs(t *testing.T) {
	for name, f := range map[string]func(){
		"no share":            func() { plain(1, 1).Shaded(1000, 200, 0, 25, false) },
		"NaN":                 func() { plain(1, 1).Shaded(1000, 200, math.NaN(), 25, false) },
		"dim that is clearer": func() { plain(1, 1).Shaded(200, 1000, 0.5, 25, false) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: no panic", name)
				}
			}()
			f()
		}()
	}
}
