package plane

import (
	"math"
	"testing"

	"pgregory.net/rapid"
)

func TestRidleyRows(t *testing.T) {
	// Cross-check: a second computation of the printed equation, rounded to 5 digits; tolerance 1 in the last.
	for _, c := range []struct{ kt, solarTimeH, heightDeg, day, beside, want float64 }{
		{0.20, 10, 30, 0.30, 0.20, 0.96823}, {0.50, 12, 60, 0.50, 0.50, 0.70744}, {0.50, 15, 40, 0.55, 0.50, 0.65419},
		{0.70, 12, 60, 0.65, 0.70, 0.27538}, {0.75, 9, 30, 0.70, 0.75, 0.16192},
	} {
		if got := ridley(c.kt, c.solarTimeH, c.heightDeg, c.day, c.beside); math.Abs(got-c.want) > 1e-5 {
			t.Errorf("%+v: diffuse share %.6f", c, got)
		}
	}
}

// steady is days of a sun that stands at one height from 6 to 18 h, and light of the clearness that kt gives.
func steady(perHour int, kt []float64) Days {
	d := Days{PerHour: perHour, At: func(i int) Above {
		h := (float64(i%(24*perHour)) + 0.5) / float64(perHour)
		if h < 6 || h > 18 {
			return Above{ZenithDeg: 120, CosZenith: -0.5, SolarTimeH: h, ExtraNormalWm2: 1361, LitShare: 1}
		}
		return Above{ZenithDeg: 60, CosZenith: 0.5, SolarTimeH: h, ExtraNormalWm2: 1361, LitShare: 1}
	}}
	for i := range kt {
		d.GHIWm2 = append(d.GHIWm2, kt[i]*1361*max(0, d.At(i).CosZenith))
	}
	return d
}

func TestSplitUsesTheHoursAround(t *testing.T) {
	// A day of clearness 0.5 but for noon to 13 h, 0.7, and the first and the last hour, 0.3. By hand: the
	// day's is (2 x 0.3 + 9 x 0.5 + 0.7)/12 = 0.48333; beside noon 0.5; beside 6 h only the hour after; beside 13 h 0.6.
	kt := make([]float64, 48)
	for i := range kt {
		kt[i] = 0.5
	}
	kt[6], kt[12], kt[17] = 0.3, 0.7, 0.3
	d := steady(1, kt)
	dni, dhi := make([]float64, 48), make([]float64, 48)
	d.Split(dni, dhi)
	day := (0.3 + 0.3 + 0.7 + 9*0.5) / 12
	for _, c := range []struct {
		step        int
		day, beside float64
	}{{6, day, 0.5}, {7, day, 0.4}, {12, day, 0.5}, {13, day, 0.6}, {17, day, 0.5}, {24 + 6, 0.5, 0.5}, {24 + 12, 0.5, 0.5}} {
		want := ridley(kt[c.step], float64(c.step%24)+0.5, 30, c.day, c.beside) * kt[c.step] * 1361 * 0.5
		if math.Abs(dhi[c.step]-want) > 1e-9 {
			t.Errorf("step %d: diffuse %v W/m2, want %v", c.step, dhi[c.step], want)
		}
	}
	// Quarters of an hour have the hours around them, as many quarters.
	fine := make([]float64, 4*48)
	for i := range fine {
		fine[i] = 0.5
	}
	q := steady(4, fine)
	qdni, qdhi := make([]float64, len(fine)), make([]float64, len(fine))
	q.Split(qdni, qdhi)
	for i := range fine {
		want := ridley(0.5, q.At(i).SolarTimeH, 30, 0.5, 0.5) * q.GHIWm2[i]
		if math.Abs(qdhi[i]-want) > 1e-9 {
			t.Errorf("quarter %d: diffuse %v, want %v", i, qdhi[i], want)
		}
	}
	// Days begin at midnight, wherever the columns do.
	late := steady(1, kt)
	late.GHIWm2, late.FirstStep = late.GHIWm2[9:], 9
	at := late.At
	late.At = func(i int) Above { return at(i + 9) }
	ldni, ldhi := make([]float64, 39), make([]float64, 39)
	late.Split(ldni, ldhi)
	if math.Abs(ldhi[24+12-9]-dhi[24+12]) > 1e-12 {
		t.Errorf("from 9 h on: diffuse %v on the second noon, want %v", ldhi[24+12-9], dhi[24+12])
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
		if dni, dhi := splitOne(c.ghi, c.cosZ, c.extra); dni != c.dni || dhi != c.dhi {
			t.Errorf("Split(%v, %v, %v) = %v, %v, want %v, %v", c.ghi, c.cosZ, c.extra, dni, dhi, c.dni, c.dhi)
		}
	}
}

// splitOne splits one hour by itself, at noon.
func splitOne(ghi, cosZ, extra float64) (dni, dhi float64) {
	var a, b [1]float64
	Days{GHIWm2: []float64{ghi}, PerHour: 1, FirstStep: 12, At: func(int) Above {
		return Above{ZenithDeg: math.Acos(cosZ) * 180 / math.Pi, CosZenith: cosZ, SolarTimeH: 12, ExtraNormalWm2: extra, LitShare: 1}
	}}.Split(a[:], b[:])
	return a[0], b[0]
}

func TestSplitIsBounded(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 60).Draw(t, "steps")
		d := Days{PerHour: rapid.SampledFrom([]int{1, 4}).Draw(t, "perHour"), FirstStep: rapid.IntRange(0, 23).Draw(t, "firstStep")}
		above := make([]Above, n)
		for i := range above {
			z := rapid.Float64Range(0, 120).Draw(t, "zenithDeg")
			above[i] = Above{ZenithDeg: z, CosZenith: math.Cos(z * math.Pi / 180), SolarTimeH: rapid.Float64Range(0, 24).Draw(t, "solarTimeH"),
				ExtraNormalWm2: rapid.Float64Range(1315, 1415).Draw(t, "extraNormalWm2"), LitShare: rapid.SampledFrom([]float64{0, 0.3, 1}).Draw(t, "litShare")}
			d.GHIWm2 = append(d.GHIWm2, rapid.Float64Range(0, 1600).Draw(t, "ghiWm2"))
		}
		d.At = func(i int) Above { return above[i] }
		dni, dhi := make([]float64, n), make([]float64, n)
		d.Split(dni, dhi)
		for i, a := range above {
			if !(dni[i] >= 0 && dni[i] <= a.ExtraNormalWm2*0.91*a.LitShare && dhi[i] >= 0 && dhi[i] <= d.GHIWm2[i]) {
				t.Fatalf("step %d: DNI %v, DHI %v of GHI %v: out of bounds", i, dni[i], dhi[i], d.GHIWm2[i])
			}
			// Two roundings of at most 1600 W/m2.
			if gap := d.GHIWm2[i] - dhi[i] - dni[i]*max(0, a.CosZenith); math.Abs(gap) > 1e-9 {
				t.Fatalf("step %d: GHI %v - DHI %v - beam %v leaves %v", i, d.GHIWm2[i], dhi[i], dni[i]*a.CosZenith, gap)
			}
		}
	})
}

func TestSplitPanicsOnOurBugs(t *testing.T) {
	for name, f := range map[string]func(){
		"NaN light":                 func() { splitOne(math.NaN(), 0.5, 1361) },
		"NaN sun":                   func() { splitOne(100, math.NaN(), 1361) },
		"light from nowhere":        func() { splitOne(100, 0.5, 0) },
		"light, NaN above the air":  func() { splitOne(100, 0.5, math.NaN()) },
		"columns that differ":       func() { Days{GHIWm2: make([]float64, 3), PerHour: 1}.Split(make([]float64, 3), nil) },
		"no steps to the hour":      func() { Days{}.Split(nil, nil) },
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
		{80, 5.5860, 5e-5}, {85, 10.306, 5e-4}, {88, 19.433, 5e-4}, {90, 37.92, 5e-3},
	} {
		if got := Airmass(c.zenithDeg, math.Cos(c.zenithDeg*math.Pi/180)); math.Abs(got-c.want) > c.tol {
			t.Errorf("zenith %v deg: airmass %.5f, want %v", c.zenithDeg, got, c.want)
		}
	}
}

func TestAirmassIsItsFormula(t *testing.T) {
	for z := 0.0; z <= 90; z += 0.01 {
		cosZ := math.Cos(z * math.Pi / 180)
		want := 1 / (cosZ + 0.50572*math.Pow(96.07995-z, -1.6364))
		if got := Airmass(z, cosZ); math.Abs(got/want-1) > 1e-13 { // rounding
			t.Fatalf("zenith %v deg: airmass %v, want %v", z, got, want)
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
		got := cleanAir(Airmass(c.zenithDeg, math.Cos(c.zenithDeg*math.Pi/180)))
		if math.Abs(got/c.dry-1) > 0.05 || got*1367 < c.dniWm2 {
			t.Errorf("zenith %v deg: clean air passes %.4f, the other model %.4f; beam of a clear sky %v W/m2 of %.0f",
				c.zenithDeg, got, c.dry, c.dniWm2, got*1367)
		}
	}
}
