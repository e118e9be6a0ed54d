package inverter

import (
	"fmt"
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
		{func(v *Inverter) { v.Mode = 7 }, "mode: is not one of always_on, timetable, on_demand, search"},
		{func(v *Inverter) { v.Mode = Timetable }, "hours: "},
		{func(v *Inverter) { v.Mode = Search }, "search_threshold_w: is missing beside the mode search"},
		{func(v *Inverter) { v.Mode, v.WakesAtW = Search, 1000 }, "search_threshold_w: 1000 is not below rated_w 1000"},
		{func(v *Inverter) { v.Mode, v.WakesAtW, v.SearchW = Search, 10, 13 }, "search_w: 13 is above idle_w 12"},
		{func(v *Inverter) { v.AutoOffW = 1000 }, "auto_off_w: 1000 is not below rated_w 1000"},
		{func(v *Inverter) { v.AutoOffW, v.OffW = 10, 13 }, "off_w: 13 is above idle_w 12"},
		{func(v *Inverter) { v.RatedVA = 900 }, "rated_va: 900 is below rated_w 1000"},
		{func(v *Inverter) { v.Rating30MinW = 900 }, "rating_30min_w: 900 is below the continuous rating rated_w 1000"},
		{func(v *Inverter) { v.Rating30MinW, v.SurgeW = 1200, 1100 }, "surge_w: 1100 is below what it carries for longer, 1200 W"},
		{func(v *Inverter) { v.Efficiency10, v.Efficiency100 = .85, .9 }, "efficiency_50: is missing"},
		{func(v *Inverter) { v.Efficiency10, v.Efficiency50, v.Efficiency100 = .2, .9, .9 }, "efficiency_10: 0.2 is below 0.3"},
	} {
		v := kilowatt()
		c.edit(&v)
		if f := v.Check(); len(f) != 1 || !strings.HasPrefix(f[0].Error(), c.want) {
			t.Errorf("got %v, want %q", f, c.want)
		}
	}
}

func TestCoefficientsOfADataSheet(t *testing.T) {
	// Rows IN-03, IN-06 and IN-08 of TestLossCurve: 100 of 115.5 W, 500 of 539.5 W, 1,000 of 1,092 W (arithmetic verified
	// by another author). They must give back .012, .03, .05 to rounding.
	idle, proportional, resistive := Coefficients(100/115.5, 500/539.5, 1000/1092.0)
	for _, c := range []struct{ got, want float64 }{{idle, .012}, {proportional, .03}, {resistive, .05}} {
		if math.Abs(c.got-c.want) > 1e-12 {
			t.Errorf("got %v, want %v", c.got, c.want)
		}
	}
	// The curve goes through the three points, and the typed draw is its constant.
	v := kilowatt()
	v.ProportionalLoss, v.ResistiveLoss = 0.4, 0.4 // the data sheet takes their place
	v.Efficiency10, v.Efficiency50, v.Efficiency100 = 100/115.5, 500/539.5, 1000/1092.0
	for _, c := range []struct{ acW, dcW float64 }{{0, 12}, {100, 115.5}, {200, 220}, {500, 539.5}, {1000, 1092}} {
		if got := v.IdleW + c.acW + v.LossW(c.acW); math.Abs(got-c.dcW) > 1e-9 {
			t.Errorf("at %v W: %v W DC, want %v", c.acW, got, c.dcW)
		}
	}
	v.IdleW = 20 // counted once, as typed: 8 W more at every load
	if got := v.IdleW + 500 + v.LossW(500); math.Abs(got-547.5) > 1e-9 {
		t.Errorf("at 500 W: %v W DC, want 547.5", got)
	}
}

func TestDataSheetAgainstTheMeter(t *testing.T) {
	v := kilowatt()
	if w := v.Warnings(); w != nil {
		t.Errorf("without a data sheet: %v", w)
	}
	v.Efficiency10, v.Efficiency50, v.Efficiency100 = 100/115.5, 500/539.5, 1000/1092.0
	for _, c := range []struct {
		idleW float64
		want  bool
	}{{12, false}, {9, false}, {17, false}, {8, true}, {18, true}} { // a third away from the sheet's 12 W
		v.IdleW = c.idleW
		w := v.Warnings()
		if (len(w) == 1) != c.want {
			t.Errorf("idle %v W: %v", c.idleW, w)
		}
		if c.want && !(strings.Contains(w[0], "imply a draw of 12 W") && strings.Contains(w[0], fmt.Sprintf("idle_w %v W", c.idleW))) {
			t.Errorf("the warning does not hold both numbers: %s", w[0])
		}
	}
	// By hand: 1/.80, 1/.90, 1/.91 give (1.0989 - 2.5 + 1.5625)/9 = .0179, -1.4652 + 3.0556 - .5208 - 1 = .0695,
	// 2.4420 - 2.7778 + .3472 = .0115; at .94 for 100 % the last is 2.3641 - 2.7778 + .3472 = -.0665.
	v.Efficiency10, v.Efficiency50, v.Efficiency100 = .80, .90, .91
	v.IdleW = 18
	if w := v.Warnings(); w != nil {
		t.Errorf("all terms above 0: %v", w)
	}
	v.Efficiency100 = .94
	if w := v.Warnings(); len(w) != 1 || !strings.Contains(w[0], "below 0") || !strings.Contains(w[0], "-6.65 %") {
		t.Errorf("a term below 0: %v", w)
	}
	for acW := 0.0; acW <= 1000; acW += 50 {
		if v.LossW(acW) < 0 {
			t.Errorf("%v W: loss %v W", acW, v.LossW(acW))
		}
	}
}

func TestTrips(t *testing.T) {
	// By definition of the ratings of a 1,000 W, 1,250 VA inverter that carries 1,200 W for half an hour and 2,000 W for 5 s.
	v := kilowatt()
	v.RatedVA, v.Rating30MinW, v.SurgeW, v.SurgeS = 1250, 1200, 2000, 5
	bare := kilowatt()
	for _, c := range []struct {
		v                         Inverter
		onW, onVA, startW, overMi float64
		want                      Trip
	}{
		{v, 1000, 1250, 1000, 0, Carried},
		{v, 1100, 1100, 1100, 30, Carried},
		{v, 1100, 1100, 1100, 31, Over30Min},
		{v, 1300, 1300, 1300, 4, Over30Min},
		{v, 1300, 1300, 1300, 5.0 / 60, Carried}, // a moment of it is a surge
		{v, 2100, 2100, 2100, 0.01, OverSurge},
		{v, 400, 400, 2100, 0, OverSurge}, // a motor that starts
		{v, 400, 400, 1900, 0, Carried},
		{v, 900, 1500, 900, 30, Carried}, // 1,500 of 1,250 VA is as 1,200 of 1,000 W
		{v, 900, 1510, 900, 30, Over30Min},
		{bare, 1001, 1001, 1001, 0.1, OverContinuous},
		{bare, 1000, 1000, 9000, 0, Carried}, // its surge rating is not known
		{bare, 900, 1001, 900, 60, OverContinuous},
	} {
		if got := c.v.Trips(c.onW, c.onVA, c.startW, c.overMi); got != c.want {
			t.Errorf("%v W, %v VA, start %v W for %v min: %v, want %v", c.onW, c.onVA, c.startW, c.overMi, got, c.want)
		}
	}
}

func TestSagNeed(t *testing.T) {
	v := Inverter{RatedW: 2000, IdleW: 20, ProportionalLoss: 0.05, ResistiveLoss: 0.05}
	// By hand: 1,000 W of 2,000 W: 1000 + 50 + 0.025 x 1000 + 20 = 1,095 W at the input; at 10.5 V that is 104.2857 A, over
	// 15 milliohm 1.5643 V: 12.0643 V.
	if got := v.SagNeedV(1000, 0.015, v.CutoffAt(12.8)); math.Abs(got-12.0643) > 5e-5 {
		t.Errorf("got %v V, want 12.0643", got)
	}
	// By hand: behind 0.15 ohm 1,095 W collapse at 2 sqrt(1095 x 0.15) = 25.632 V, where the terminals stand at 12.8 V.
	if got := v.SagNeedV(1000, 0.15, 10.5); math.Abs(got-25.632) > 5e-4 {
		t.Errorf("got %v V, want 25.632", got)
	}
	for nominal, want := range map[float64]float64{12: 10.5, 12.8: 10.5, 24: 21, 25.6: 21, 48: 42, 51.2: 42, 9.6: 7.875} {
		if got := v.CutoffAt(nominal); math.Abs(got-want) > 1e-9 {
			t.Errorf("cut-off at %v V: %v, want %v", nominal, got, want)
		}
	}
	v.CutoffV = 11
	if got := v.CutoffAt(12.8); got != 11 {
		t.Errorf("typed 11, got %v", got)
	}
}

func TestWake(t *testing.T) {
	for typed, want := range map[string]int{"by_hand": 0, "By hand": 0, "daily at 07:00": 420, "daily  at 00:00": 1440, "daily at 24:00": 1440} {
		v := Inverter{WakeAtMin: 99}
		if err := v.setWake([]string{typed}); err != nil || v.WakeAtMin != want {
			t.Errorf("%q: %v, %v; want %v", typed, v.WakeAtMin, err, want)
		}
	}
	for typed, want := range map[string]string{"daily": "wants by_hand", "daily at 7": "is not a time of day", "sun": "wants by_hand", "daily at 25:00": "times run", "": "wants"} {
		v := Inverter{WakeAtMin: 99}
		if err := v.setWake([]string{typed}); err == nil || v.WakeAtMin != 99 {
			t.Errorf("%q: taken, want %q", typed, want)
		}
	}
}
