package array

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"
)

// fitted is the typical module with the datasheet's coefficient of the current, 0.0032 A/K.
func fitted() Array {
	a := typical()
	a.Module.CurrentCoeffPerK = 0.0032 / 8.21
	return a
}

// published is the parameter set that M. G. Villalva, J. R. Gazoli, E. R. Filho, "Comprehensive approach to modeling and
// simulation of photovoltaic arrays", IEEE Trans. Power Electronics 24(5) (2009) 1198-1208, give for the typical module: 54
// cells, ideality 1.3, 0.221 and 415.405 ohm (as several public sources quote it); 8.214 A from memory. The saturation
// current is their formula, at 25 degC 9.825e-8 A.
func published(wm2, cellC float64) Diode {
	dK := cellC - 25
	a := 1.3 * 54 * kOverQ * (cellC + zeroK)
	return Diode{
		LightA: (8.214 + 0.0032*dK) * wm2 / 1000,
		LnI0:   math.Log((8.21 + 0.0032*dK) / math.Expm1((32.9-0.123*dK)/a)), IdealityV: a, SeriesOhm: 0.221, ShuntS: 1 / 415.405,
	}
}

func row(t *testing.T, what string, d Diode, iscA, vocV, vmpV, impA, pmpW, tolV, tolW float64) {
	t.Helper()
	v, amps := d.MaxPower()
	near4(t, what+": short circuit, A", d.CurrentA(0), iscA, 1e-3)
	near4(t, what+": open circuit, V", d.VoltageV(0), vocV, 1e-3)
	near4(t, what+": peak, V", v, vmpV, tolV)
	near4(t, what+": peak, A", amps, impA, tolV/3) // the peak is flat: the current moves a third as far in A as the voltage in V
	near4(t, what+": peak, W", v*amps, pmpW, tolW)
}

func TestPublishedDiode(t *testing.T) {
	near4(t, "saturation current at 25 degC, A, as printed", math.Exp(published(1000, 25).LnI0), 9.825e-8, 5e-12)
	// The points of the set's curve are a cross-check by a second computation (bisection on the implicit equation); the
	// datasheet says 8.21 A, 32.9 V, 26.3 V, 7.61 A, 200.143 W. Tolerances: the rows' last digits, and the flat peak.
	for _, c := range []struct{ wm2, cellC, iscA, vocV, vmpV, impA, pmpW float64 }{
		{1000, 25, 8.2096, 32.8834, 26.349, 7.5956, 200.136},
		{1000, 50, 8.2896, 29.8090, 23.265, 7.5548, 175.759},
		{1000, 75, 8.3695, 26.7348, 20.259, 7.4797, 151.531},
		{400, 25, 3.2839, 31.2065, 25.648, 3.0093, 77.183},
	} {
		row(t, fmt.Sprint(c), published(c.wm2, c.cellC), c.iscA, c.vocV, c.vmpV, c.impA, c.pmpW, 1e-3, 1e-3)
	}
	d := published(1000, 25)
	for v, amps := range map[float64]float64{0: 8.20963, 10: 8.18550, 20: 8.14408, 26.3: 7.60953, 30: 5.07595, 32.9: -0.03752} {
		near4(t, fmt.Sprintf("current at %v V", v), d.CurrentA(v), amps, 1e-4)
	}
	for amps, v := range map[float64]float64{0: 32.88341, 4: 30.78017, 7.61: 26.29833, 8: 23.93835} {
		near4(t, fmt.Sprintf("voltage at %v A", amps), d.VoltageV(amps), v, 1e-4)
	}
}

func TestFitCarriesTheDatasheet(t *testing.T) {
	m := fitted().Module
	d, fit := m.Diode()
	if fit != Whole {
		t.Fatalf("carries %v", fit)
	}
	// The datasheet's own numbers.
	near4(t, "short circuit", d.CurrentA(0), 8.21, 1e-9)
	near4(t, "open circuit", d.VoltageV(0), 32.9, 1e-9)
	near4(t, "at 26.3 V", d.CurrentA(26.3), 7.61, 1e-9)
	v, amps := d.MaxPower()
	near4(t, "peak, V", v, 26.3, 1e-5)
	near4(t, "peak, A", amps, 7.61, 1e-5)
	warm := d.Under(1000, 35, 0.0032)
	near4(t, "10 K on the open-circuit voltage", warm.VoltageV(0)-32.9, -1.23, 1e-9)
	near4(t, "10 K on the short-circuit current", warm.CurrentA(0)-8.21, 0.032, 2e-4) // the shunt keeps 0.2 %
	// Cross-check: a second fit of the five conditions, by another method, to seven digits.
	near4(t, "light current", d.LightA, 8.227185, 1e-5)
	near4(t, "saturation current x 1e10", math.Exp(d.LnI0)*1e10, 4.298234, 1e-4)
	near4(t, "series", d.SeriesOhm, 0.3353689, 1e-6)
	near4(t, "shunt", 1/d.ShuntS, 160.2190, 1e-2)
	near4(t, "ideality", d.IdealityV, 1.391131, 1e-5)
	// Cross-check: its curve at other light and temperature, by bisection on the implicit equation.
	for _, c := range []struct{ wm2, cellC, iscA, vocV, vmpV, impA, pmpW float64 }{
		{1000, 25, 8.2100, 32.9000, 26.3000, 7.6100, 200.143},
		{1000, 50, 8.2898, 29.8173, 23.197, 7.6009, 176.316},
		{800, 47, 6.6270, 29.8556, 23.697, 6.0964, 144.467},
		{500, 25, 4.1093, 31.9368, 26.526, 3.8206, 101.344},
		{200, 25, 1.6447, 30.6635, 26.007, 1.5306, 39.805},
		{1000, -10, 8.0982, 37.1703, 30.704, 7.5846, 232.880},
	} {
		row(t, fmt.Sprint(c), d.Under(c.wm2, c.cellC, 0.0032), c.iscA, c.vocV, c.vmpV, c.impA, c.pmpW, 0.01, 0.02)
	}
}

func TestIdealityTakenFromElsewhereMissesTheCoefficient(t *testing.T) {
	// The published set has an ideality chosen beforehand, and carries the points at STC. Moved by De Soto's rules its
	// voltage falls by 0.193 V/K (a cross-check) where the datasheet says 0.123: why the fit asks for the coefficient.
	d := published(1000, 25)
	near4(t, "V/K", (d.Under(1000, 50, 0.0032).VoltageV(0)-d.VoltageV(0))/25, -0.193, 2e-3)
}

func TestHeldAtTheBatterysVoltage(t *testing.T) {
	// Cross-check: a second computation of the fit above with the array held at the voltage of a battery; 36 of its 54 cells
	// are two thirds of its voltage.
	whole, _ := fitted().Module.Diode()
	for _, c := range []struct{ cells, wm2, cellC, v, amps, heldW, mostW float64 }{
		{54, 1000, 50, 13.2, 8.2068, 108.330, 176.316},
		{54, 500, 30, 13.2, 4.0761, 53.805, 98.913},
		{36, 1000, 25, 12.5, 8.0911, 101.138, 133.429},
		{36, 1000, 50, 13.2, 8.1025, 106.953, 117.544},
		{36, 1000, 50, 14.4, 7.9512, 114.497, 117.544},
		{36, 500, 30, 12.5, 4.0574, 50.717, 65.942},
	} {
		d := whole.scaled(c.cells/54, 1).Under(c.wm2, c.cellC, 0.0032)
		v, amps := d.MaxPower()
		near4(t, fmt.Sprintf("%+v: A", c), d.CurrentA(c.v), c.amps, 1e-3)
		near4(t, fmt.Sprintf("%+v: W", c), d.CurrentA(c.v)*c.v, c.heldW, 0.01)
		near4(t, fmt.Sprintf("%+v: peak, W", c), v*amps, c.mostW, 0.01)
	}
	// The same through the array: under 1000 W/m2 at 50 degC the power law has the fit's own peak, so nothing is scaled.
	// Three in series and two side by side behind 0.1 ohm, the far end 0.1 x 2 x 8.2068 V below 3 x 13.2.
	a := fitted()
	a.InSeries, a.InParallel = 3, 2
	far := 3*13.2 - 0.1*2*8.2068
	near4(t, "an array behind a cable, A", a.Curve().CurrentsA(nil, 1000, 50, []float64{far}, 0.1)[0], 2*8.2068, 2e-3)
}

func TestWithoutResistances(t *testing.T) {
	// By hand: 5 A less 1e-9 (e^(20/1) - 1) = 5 - 0.485165 A; open where 1e-9 e^V = 5 + 1e-9, V = ln 5e9 = 22.33270.
	d := Diode{LightA: 5, LnI0: math.Log(1e-9), IdealityV: 1}
	near4(t, "at 20 V", d.CurrentA(20), 5-0.485165, 1e-6)
	near4(t, "open", d.VoltageV(0), 22.33270, 1e-5)
	// And the other way with each: voltage of current of voltage.
	for _, c := range []struct{ ohm, shuntS float64 }{{0, 0}, {0.3, 0}, {0, 0.01}, {0.3, 0.01}, {1e-14, 1e-14}} {
		d.SeriesOhm, d.ShuntS = c.ohm, c.shuntS
		for _, v := range []float64{3, 18, 22, 23} {
			near4(t, fmt.Sprintf("%+v back from %v V", c, v), d.VoltageV(d.CurrentA(v)), v, 1e-4)
		}
	}
	if got := (Diode{}); got.CurrentA(3) != 0 || got.VoltageV(0) != 0 {
		t.Error("the zero diode gives something")
	}
}

func TestOmega(t *testing.T) {
	// 1 + ln 1 = 1; Lambert's W(1) is the omega constant 0.567143290409783872999968662210355549 (a published constant); the
	// others by the definition.
	near4(t, "of 1", omega(1), 1, 1e-15)
	near4(t, "of 0", omega(0), 0.56714329040978387, 1e-15)
	for l := -600.0; l < 1e6; l = l + 0.37 + math.Abs(l)*0.01 {
		w := omega(l)
		near4(t, fmt.Sprintf("w + ln w at %v", l), w+math.Log(w), l, 1e-14*(1+math.Abs(l)))
	}
	if w := omega(math.Inf(-1)); w != 0 {
		t.Errorf("of nothing: %v", w)
	}
}

func TestFitOfOddDatasheets(t *testing.T) {
	for _, c := range []struct {
		what   string
		change func(*Module)
		want   Fit
	}{
		{"a usual one", func(m *Module) {}, Whole},
		{"its voltage falls more than any diode's", func(m *Module) { m.VoltageCoeffPerK = -0.01 }, ButTempCoeff},
		{"its voltage does not fall", func(m *Module) { m.VoltageCoeffPerK = 0 }, Whole},
		{"hardly bent", func(m *Module) { m.MpVoltageV, m.MpCurrentA = 22.3/2+0.01, 5.75/2+0.001 }, ButTempCoeff},
		{"a corner", func(m *Module) { m.MpVoltageV, m.MpCurrentA = 22.299, 5.7499 }, PointsOnly},
	} {
		m := plate(c.change)
		d, fit := m.Diode()
		if fit != c.want {
			t.Errorf("%s: carries %v, want %v: %+v", c.what, fit, c.want, d)
		}
		near4(t, c.what+": short circuit", d.CurrentA(0), m.ScCurrentA, 1e-9)
		near4(t, c.what+": open circuit", d.VoltageV(0), m.OcVoltageV, 1e-9)
		if v, _ := d.MaxPower(); fit != PointsOnly {
			near4(t, c.what+": the third point", d.CurrentA(m.MpVoltageV), m.MpCurrentA, 1e-9)
			near4(t, c.what+": peak", v, m.MpVoltageV, 1e-4*m.MpVoltageV)
		}
	}
}

// anyModule draws one that Check accepts.
func anyModule(t *rapid.T) Module {
	m := DefaultModule()
	log := func(name string, lo, hi float64) float64 {
		return math.Exp(rapid.Float64Range(math.Log(lo), math.Log(hi)).Draw(t, name))
	}
	m.MpVoltageV = log("mpVoltageV", 1e-3, 500)
	m.MpCurrentA = log("mpCurrentA", 1e-6, 10000/m.MpVoltageV)
	m.OcVoltageV = m.MpVoltageV * (1 + log("overMpV", 1e-6, 1))
	m.ScCurrentA = m.MpCurrentA * (1 + log("overMpA", 1e-6, 1))
	m.PowerW = min(10000, m.MpVoltageV*m.MpCurrentA*rapid.Float64Range(0.953, 1.049).Draw(t, "rounding"))
	m.PowerCoeffPerK = rapid.Float64Range(-0.01, 0).Draw(t, "powerCoeffPerK")
	m.VoltageCoeffPerK = rapid.Float64Range(-0.01, 0).Draw(t, "voltageCoeffPerK")
	m.CurrentCoeffPerK = rapid.Float64Range(-0.001, 0.002).Draw(t, "currentCoeffPerK")
	m.BypassGroups = rapid.IntRange(0, 6).Draw(t, "bypassGroups")
	if f := m.Check(); f != nil {
		t.Fatalf("not a module: %v", f)
	}
	return m
}

func TestAnyModuleHasACurve(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := anyModule(t)
		d, fit := m.Diode()
		// Far from what a module is, the knee's numbers cancel: a millionth is asked for.
		if got := d.CurrentA(0); !(math.Abs(got/m.ScCurrentA-1) < 1e-6) {
			t.Fatalf("%v %+v: short circuit at %v A", fit, d, got)
		}
		if got := d.CurrentA(m.OcVoltageV); !(math.Abs(got/m.ScCurrentA) < 1e-6) {
			t.Fatalf("%v %+v: %v A at the open-circuit voltage", fit, d, got)
		}
		a := Array{Module: m, InSeries: rapid.IntRange(1, 10).Draw(t, "series"), InParallel: rapid.IntRange(1, 10).Draw(t, "parallel"),
			MismatchLoss: 0.02, AgeYears: 10, LossPerYear: 0.005}
		c := a.Curve()
		wm2 := rapid.Float64Range(0, 1500).Draw(t, "usableWm2")
		if rapid.Bool().Draw(t, "dusk") {
			wm2 *= 1e-6
		}
		cellC := rapid.Float64Range(-60, 120).Draw(t, "cellC")
		ohm := rapid.SampledFrom([]float64{0, 0.01, 3}).Draw(t, "cableOhm") * m.OcVoltageV / m.ScCurrentA
		mostW := a.PowerW(wm2, cellC)
		volts := make([]float64, 60)
		for i := range volts {
			volts[i] = float64(i) / 50 * 1.5 * a.OcVoltageV(1000, -60)
		}
		check := func(what string, amps []float64, mostW float64) {
			for i, x := range amps {
				if !(x >= 0) || math.IsInf(x, 0) {
					t.Fatalf("%s: %v %+v: %v A at %v V", what, fit, d, x, volts[i])
				}
				if i > 0 && x > amps[i-1]*(1+1e-9)+1e-9*m.ScCurrentA {
					t.Fatalf("%s: %v %+v: the current rises from %v to %v A at %v V", what, fit, d, amps[i-1], x, volts[i])
				}
				if w := x * (volts[i] + ohm*x); w > mostW*(1+1e-9) {
					t.Fatalf("%s: %v %+v: %v W at %v V, at most %v W", what, fit, d, w, volts[i], mostW)
				}
			}
		}
		check("clear", c.CurrentsA(nil, wm2, cellC, volts, ohm), mostW)
		if wm2 == 0 {
			return
		}
		dim := wm2 * rapid.Float64Range(0, 1).Draw(t, "dim")
		share := rapid.Float64Range(1e-3, 1).Draw(t, "share")
		along := rapid.Bool().Draw(t, "along")
		held, bypassed := a.Shaded(wm2, dim, share, cellC, along)
		check("shaded", c.ShadedCurrentsA(nil, wm2, dim, share, cellC, along, volts, ohm), max(held.PowerW, bypassed.PowerW))
	})
}

func TestCurrentsOfAnArray(t *testing.T) {
	one := fitted()
	many := one
	many.InSeries, many.InParallel, many.MismatchLoss = 3, 4, 0.02
	rapid.Check(t, func(t *rapid.T) {
		wm2, cellC := rapid.Float64Range(1, 1200).Draw(t, "usableWm2"), rapid.Float64Range(-20, 75).Draw(t, "cellC")
		v, ohm := rapid.Float64Range(0, 35).Draw(t, "volts"), rapid.Float64Range(0, 0.5).Draw(t, "cableOhm")
		x := one.Curve().CurrentsA(nil, wm2, cellC, []float64{v}, ohm)[0]
		// Strings add their volts, and side by side their amps: a cable of 3/4 of the resistance, and 0.98 of the current.
		if y := many.Curve().CurrentsA(nil, wm2, cellC, []float64{3 * v}, ohm*3/4/0.98)[0]; math.Abs(y-4*0.98*x) > 1e-9 {
			t.Fatalf("one %v A, twelve %v A", x, y)
		}
		if x == 0 {
			return
		}
		// A cable takes its drop from the array's own voltage.
		if y := one.Curve().CurrentsA(nil, wm2, cellC, []float64{v + ohm*x}, 0)[0]; math.Abs(y-x) > 1e-9 {
			t.Fatalf("%v A with the cable, %v A without", x, y)
		}
	})
	// The peak of the curve is the array's power, and open circuit ends the current: none flows back.
	volts := make([]float64, 2000)
	for i := range volts {
		volts[i] = float64(i) / 10
	}
	for _, c := range []struct{ wm2, cellC float64 }{{1000, 25}, {1000, -20}, {600, 55}, {150, 10}, {5, 0}} {
		best := 0.0
		amps := many.Curve().CurrentsA(make([]float64, len(volts)), c.wm2, c.cellC, volts, 0)
		for i, v := range volts {
			best = max(best, v*amps[i])
		}
		near4(t, fmt.Sprintf("%+v: peak, W", c), best, many.PowerW(c.wm2, c.cellC), 1e-4*best) // steps of 0.1 V on a flat top
		if last := amps[len(amps)-1]; last != 0 {
			t.Errorf("%+v: %v A at 199.9 V", c, last)
		}
	}
	for _, wm2 := range []float64{0, -1, 1e-300} {
		if x := one.Curve().CurrentsA(nil, wm2, 10, []float64{0, 12}, 0.1); x[0] != 0 || x[1] != 0 {
			t.Errorf("%v W/m2: %v A", wm2, x)
		}
	}
}

func TestShadedCurrentsByHand(t *testing.T) {
	// From the currents of the array without a shadow, by the rule in words: each way at its own voltage, the better one.
	one, two := fitted(), fitted()
	one.Module.BypassGroups, two.InParallel = 3, 2
	c := one.Curve()
	at := func(wm2, v float64) float64 { return c.CurrentsA(nil, wm2, 30, []float64{v}, 0)[0] }
	for _, x := range []struct {
		name     string
		a        Array
		dimWm2   float64
		share    float64
		along    bool
		v, wantA float64
		cableOhm float64
	}{
		// A third of one module in deep shade: at 13.2 V two groups of three carry it, at 13.7/(2/3) V of the whole.
		{"deep, at the battery's voltage", one, 200, 1. / 3, false, 13.2, at(1000, 20.55), 0},
		// At 24 V the two groups would stand at 36.75 V, above open circuit: all cells carry what the dim ones do.
		{"deep, near open circuit", one, 200, 1. / 3, false, 24, at(200, 24), 0},
		{"light", one, 900, 1. / 3, false, 18, at(900, 18), 0}, // at 27.75 V of the whole, the two groups carry less
		{"the whole array", one, 300, 1, false, 13.2, at(300, 13.2), 0},
		// Along: one string of two; with a cable, 0.3 ohm x 9.8 A or so above the far end, found by its own current.
		{"along", two, 200, 0.5, true, 13.2, at(1000, 13.2) + at(200, 13.2), 0},
		{"snow on one string", two, 0, 0.5, true, 13.2, at(1000, 13.2), 0},
		{"along, both strings", two, 200, 0.6, true, 13.2, 2 * at(200, 13.2), 0},
		{"along, behind a cable", two, 200, 0.5, true, 26.3 - 0.3*(at(1000, 26.3)+at(200, 26.3)), at(1000, 26.3) + at(200, 26.3), 0.3},
	} {
		got := x.a.Curve().ShadedCurrentsA(nil, 1000, x.dimWm2, x.share, 30, x.along, []float64{x.v}, x.cableOhm)[0]
		near4(t, x.name, got, x.wantA, 1e-9)
	}
}

func TestCurrentsPanicOnOurBugs(t *testing.T) {
	c := fitted().Curve()
	for name, f := range map[string]func(){
		"light":                                  func() { c.CurrentsA(nil, math.NaN(), 25, []float64{12}, 0) },
		"cable":                                  func() { c.CurrentsA(nil, 1000, 25, []float64{12}, -1) },
		"no share":                               func() { c.ShadedCurrentsA(nil, 1000, 0, 0, 25, false, []float64{12}, 0) },
		"voltage of a current above the light's": func() { published(1000, 25).VoltageV(9) },
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

func BenchmarkCurrentsOfAYear(b *testing.B) {
	c := fitted().Curve()
	volts, dst := []float64{11, 12, 12.8, 13.4, 14, 14.6}, make([]float64, 6)
	b.ReportAllocs()
	for b.Loop() {
		for i := range 8760 {
			c.CurrentsA(dst, max(0, 900*math.Sin(2*math.Pi*float64(i%24-6)/24)), 30, volts, 0.05)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N*8760), "ns/step")
}

func BenchmarkFit(b *testing.B) {
	m := fitted().Module
	for b.Loop() {
		m.Diode()
	}
}
