package wiring

import (
	"math"
	"strings"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.6g, want %.6g", what, got, want)
	}
}

func TestDrop(t *testing.T) {
	// By hand: 11 A, 15 m, 4 mm2 at 0.0175 ohm mm2/m is 1.44 V.
	near(t, "by hand", DropV(15, 11, CopperOhmMM2PerM/4), 1.44, 0.005)
	// 12 V, 10 A, 4 mm2 class 5, 6 m one way at 20 C: 0.594 V (arithmetic verified by another author).
	near(t, "4 mm2", DropV(6, 10, OhmPerM(4)), 0.594, 1e-9)
	// A published worked example: 22 A, 12 AWG stranded at 1.98 ohm/kft, 50 ft one way, 4.356 V.
	near(t, "12 AWG", DropV(50, 22, 1.98/1000), 4.356, 1e-9)
}

func TestStandardSizes(t *testing.T) {
	// IEC 60228, class 5, four independent tables.
	for area, ohmPerKm := range map[float64]float64{0.5: 39.0, 2.5: 7.98, 6: 3.30, 16: 1.21, 35: 0.554} {
		near(t, "ohm/km", 1000*OhmPerM(area), ohmPerKm, 1e-12)
	}
	near(t, "5 mm2", 1000*OhmPerM(5), 3.5, 1e-12) // no standard size: 0.0175 / 5
	near(t, "2 m of 16 mm2", Run{LengthM: 2, AreaMM2: 16}.ResistanceOhm(), 2*2*0.00121, 1e-15)
	near(t, "none", Run{}.ResistanceOhm(), 0, 0)
}

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		run  Run
		want string
	}{
		{Run{LengthM: 2}, "battery_area_mm2: is missing beside battery_length_m"},
		{Run{AreaMM2: 16}, "battery_length_m: is missing beside battery_area_mm2"},
		{Run{LengthM: -1, AreaMM2: 16}, "battery_length_m: -1 is not between 0 and 200"},
		{Run{LengthM: 2, AreaMM2: 16, AWG: "6"}, "battery_awg: stands beside battery_area_mm2: type one of the two"},
		{Run{AWG: "6"}, "battery_length_m: is missing beside battery_awg"},
	} {
		if f := c.run.Check("battery"); len(f) != 1 || !strings.HasPrefix(f[0].Error(), c.want) {
			t.Errorf("got %v, want %q", f, c.want)
		}
	}
	r := Run{LengthM: 2, AreaMM2: 16}
	if f := r.Check("battery"); f != nil {
		t.Error(f)
	}
}
