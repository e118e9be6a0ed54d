package plane

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestErbsRows(t *testing.T) {
	// Cross-check: a second computation of the printed equation, rounded to 4 digits; tolerance 1 in the last.
	// The joins at 0.22 and 0.80 are those of the paper's rounded coefficients.
	for _, c := range []struct{ kt, want float64 }{
		{0.10, 0.9910}, {0.20, 0.9820}, {0.22, 0.9802}, {0.30, 0.9486}, {0.40, 0.8400}, {0.50, 0.6591},
		{0.60, 0.4395}, {0.70, 0.2440}, {0.80, 0.1653}, {0.81, 0.1650}, {1.2, 0.1650},
	} {
		if got := erbs(c.kt); math.Abs(got-c.want) > 1e-4 {
			t.Errorf("kt %v: diffuse share %.5f, want %.4f, off by %.5f", c.kt, got, c.want, got-c.want)
		}
	}
	// J. A. Duffie, W. A. Beckman, Solar Engineering of Thermal Processes, example 2.15.1: kt 0.445 -> 0.766, from memory.
	// Tolerance: kt is printed to three digits, and the curve falls by 2 per unit of kt there.
	if got := erbs(0.445); math.Abs(got-0.766) > 0.0015 {
		t.Errorf("kt 0.445: diffuse share %.4f, want 0.766", got)
	}
}

func TestSplitUsesTheClearness(t *testing.T) {
	// kt 0.5 under a sun 30 degrees high: 1367*0.5*0.5 = 341.75 W/m2, diffuse share 0.6591 (row above).
	dni, dhi := Split(341.75, 0.5, 1367)
	if math.Abs(dhi-341.75*0.6591) > 0.05 || math.Abs(dni-341.75*(1-0.6591)/0.5) > 0.1 {
		t.Errorf("got DNI %.2f, DHI %.2f W/m2, want %.2f, %.2f", dni, dhi, 233.0, 225.25)
	}
}

func TestSplitAtNightAndTwilight(t *testing.T) {
	for _, c := range []struct{ ghi, cosZ, extra, dni, dhi float64 }{
		{0, -0.5, 1361, 0, 0},
		{0, 0.5, 1361, 0, 0},
		{0, -0.5, 0, 0, 0},
		{-3, 0.1, 1361, 0, 0}, // a pyranometer's offset
		{12, 0, 1361, 0, 12},
		{12, -0.02, 1361, 0, 12},
	} {
		if dni, dhi := Split(c.ghi, c.cosZ, c.extra); dni != c.dni || dhi != c.dhi {
			t.Errorf("Split(%v, %v, %v) = %v, %v, want %v, %v", c.ghi, c.cosZ, c.extra, dni, dhi, c.dni, c.dhi)
		}
	}
}

func TestSplitIsBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ghi := rapid.Float64Range(0, 1600).Draw(t, "ghiWm2")
		cosZ := rapid.Float64Range(-1, 1).Draw(t, "cosZenith")
		extra := rapid.Float64Range(1315, 1415).Draw(t, "extraNormalWm2")
		dni, dhi := Split(ghi, cosZ, extra)
		if !(dni >= 0 && dni <= extra*0.91 && dhi >= 0 && dhi <= ghi) {
			t.Fatalf("DNI %v, DHI %v of GHI %v: out of bounds", dni, dhi, ghi)
		}
		// Two roundings of at most 1600 W/m2.
		if gap := ghi - dhi - dni*max(0, cosZ); math.Abs(gap) > 1e-9 {
			t.Fatalf("GHI %v - DHI %v - beam %v leaves %v", ghi, dhi, dni*cosZ, gap)
		}
	})
}

func TestSplitPanicsOnOurBugs(t *testing.T) {
	for name, f := range map[string]func(){
		"NaN light":                 func() { Split(math.NaN(), 0.5, 1361) },
		"NaN sun":                   func() { Split(100, math.NaN(), 1361) },
		"light from nowhere":        func() { Split(100, 0.5, 0) },
		"light, NaN above the air":  func() { Split(100, 0.5, math.NaN()) },
		"negative light on a plane": func() { Surface{}.Prepare(0).Light(Sky{GHIWm2: -1, ExtraNormalWm2: 1361}) },
		"NaN light on a plane":      func() { Surface{}.Prepare(0).Light(Sky{DHIWm2: math.NaN(), ExtraNormalWm2: 1361}) },
		"plane, light from nowhere": func() { Surface{}.Prepare(0).Light(Sky{GHIWm2: 10}) },
		"plane, NaN sun":            func() { Surface{}.Prepare(0).Light(Sky{GHIWm2: 10, ZenithDeg: math.NaN(), ExtraNormalWm2: 1361}) },
		"a surface with a fault":    func() { Surface{TiltDeg: 300}.Prepare(0) },
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

func TestAirmassRows(t *testing.T) {
	// Kasten & Young 1989, as printed: 37.92 at the horizon, from memory; the other rows are a cross-check, a second
	// computation of the equation. Tolerance: half of the last digit.
	for _, c := range []struct{ zenithDeg, want, tol float64 }{
		{0, 0.9997, 5e-5}, {30, 1.1540, 5e-5}, {60, 1.9943, 5e-5}, {70, 2.9031, 5e-5}, {75, 3.8129, 5e-5},
		{80, 5.5860, 5e-5}, {85, 10.306, 5e-4}, {88, 19.433, 5e-4}, {90, 37.92, 5e-3}, {95, 37.92, 5e-3},
	} {
		if got := airmass(c.zenithDeg); math.Abs(got-c.want) > c.tol {
			t.Errorf("zenith %v deg: airmass %.5f, want %v", c.zenithDeg, got, c.want)
		}
	}
}

func TestCleanAirAgainstBirdHulstrom(t *testing.T) {
	// R. Bird, R. Hulstrom, SERI/TR-642-761 (1981): product of the Rayleigh, ozone and mixed-gas transmittances, no
	// water or dust (cross-check: computed from the report's equations). Two models of the same air: 5 % apart is what
	// their different ozone explains. What matters is that the cap lies above the full sky's beam (last column, W/m2 of
	// 1367 with 0.9751).
	for _, c := range []struct{ zenithDeg, dry, dniWm2 float64 }{
		{0, .9137 * .9838 * .9874, 961.6}, {30, .9033 * .9820 * .9869, 932.0}, {60, .8531 * .9734 * .9849, 797.9},
		{75, .7684 * .9576 * .9822, 596.9}, {85, .6157 * .9136 * .9770, 270.1},
	} {
		got := cleanAir(airmass(c.zenithDeg))
		if math.Abs(got/c.dry-1) > 0.05 || got*1367 < c.dniWm2 {
			t.Errorf("zenith %v deg: clean air passes %.4f, the other model %.4f; beam of a clear sky %v W/m2 of %.0f",
				c.zenithDeg, got, c.dry, c.dniWm2, got*1367)
		}
	}
}
