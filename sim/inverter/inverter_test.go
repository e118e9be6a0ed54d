package inverter

import (
	"math"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func kilowatt() Inverter {
	v := Default()
	v.RatedW, v.IdleW = 1000, 12
	return v
}

func TestLossCurve(t *testing.T) {
	// Rows IN-01 to IN-08 of the form of Schmidt & Sauer 1996 (form from memory, arithmetic verified by another
	// author): p_self .012, v_loss .03, r_loss .05 on 1,000 W. DC power = no-load draw + AC + loss.
	v := kilowatt()
	for _, c := range []struct{ share, dcW float64 }{
		{0, 12}, {.05, 63.625}, {.10, 115.5}, {.20, 220}, {.30, 325.5}, {.50, 539.5}, {.75, 812.625}, {1, 1092},
	} {
		acW := c.share * 1000
		if got := v.IdleW + acW + v.LossW(acW); math.Abs(got-c.dcW) > 1e-9 {
			t.Errorf("at %v W: %v W DC, want %v", acW, got, c.dcW)
		}
	}
	// A 1,000 W inverter that feeds 15 W is perhaps 50 to 60 % efficient, common practice for a no-load draw of 10-15 W.
	if eff := 15 / (v.IdleW + 15 + v.LossW(15)); eff < 0.5 || eff > 0.6 {
		t.Errorf("efficiency at 15 W %v, want 0.5..0.6", eff)
	}
}

func TestDrawAtLowBattery(t *testing.T) {
	// By hand: 1,500 W at 12.0 V and 88 % is 142 A. Handbook arithmetic (verified by another author): 1,000 W at 11.0 V
	// and 0.88 is 103.31 A, 2,000 W at 10.5 V and 0.85 is 224.09 A.
	for _, c := range []struct{ acW, busV, eff, wantA, tol float64 }{
		{1500, 12.0, 0.88, 142, 0.5}, {1000, 11.0, 0.88, 103.31, 0.005}, {2000, 10.5, 0.85, 224.09, 0.005},
	} {
		v := Inverter{RatedW: 2000, ProportionalLoss: 1/c.eff - 1}
		if got := v.DrawA(c.acW, c.busV); math.Abs(got-c.wantA) > c.tol {
			t.Errorf("%v W at %v V: %v A, want %v", c.acW, c.busV, got, c.wantA)
		}
	}
}

func TestLossIsNeverNegative(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		v := kilowatt()
		a := rapid.Float64Range(0, 1000).Draw(t, "lessW")
		b := rapid.Float64Range(a, 1000).Draw(t, "moreW")
		if v.LossW(a) < 0 || v.LossW(b) < v.LossW(a) {
			t.Fatalf("loss %v at %v W, %v at %v W", v.LossW(a), a, v.LossW(b), b)
		}
	})
}

func TestSlips(t *testing.T) {
	for w, want := range map[float64]string{10: "", 1.5: "1.5 W is too small for an inverter: it looks like kW; 1.5 kW is 1500 W"} {
		got := ""
		for _, f := range (&Inverter{RatedW: w}).Slips() {
			got += f.Msg
		}
		if got != want {
			t.Errorf("%v W: got %q, want %q", w, got, want)
		}
	}
}

func TestCheck(t *testing.T) {
	for _, c := range []struct {
		edit func(*Inverter)
		want string
	}{
		{func(v *Inverter) { v.RatedW = -1 }, "rated_w: -1 is not above 0"},
		{func(v *Inverter) { v.IdleW = 120 }, "idle_w: 120 is over a tenth of rated_w 1000"},
		{func(v *Inverter) { v.Mode = 7 }, "mode: is not one of always_on, timetable, on_demand"},
		{func(v *Inverter) { v.Mode = Timetable }, "hours: "},
	} {
		v := kilowatt()
		c.edit(&v)
		if f := v.Check(); len(f) != 1 || !strings.HasPrefix(f[0].Error(), c.want) {
			t.Errorf("got %v, want %q", f, c.want)
		}
	}
}
