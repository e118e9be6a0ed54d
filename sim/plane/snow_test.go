package plane

import (
	"math"
	"strings"
	"testing"
)

func TestSnowSlides(t *testing.T) {
	// By hand from the rule of Marion et al. 2013 (from memory): 1.97 sin(tilt) tenths of the slant height an hour, 9.85 %
	// at 30, 13.93 % at 45, 17.06 % at 60 degrees; at 400 W/m2 it slides above -5 degC.
	for _, c := range []struct {
		covered           float64
		fresh             bool
		wm2, air, tilt, h float64
		want              float64
		what              string
	}{
		{1, false, 400, -4.9, 30, 1, 1 - 0.0985, "30 deg"},
		{1, false, 400, -4.9, 45, 1, 1 - 0.1393, "45 deg"},
		{1, false, 400, -4.9, 60, 1, 1 - 0.1706, "60 deg"},
		{1, false, 400, -4.9, 60, 0.25, 1 - 0.1706/4, "a quarter of an hour"},
		{1, false, 400, -5.1, 60, 1, 1, "too cold"},
		{1, false, 0, -0.1, 60, 1, 1, "frost in the dark"},
		{0.05, false, 400, -4, 60, 1, 0, "the last of it"},
		{0, false, 0, -20, 60, 1, 0, "none"},
		{0.2, true, 800, 10, 60, 1, 1, "fresh snow"},
		{1, false, 400, 9, 0, 1, 0.75, "melts on the flat: 9 of 36 K h"},
	} {
		if got := Lying(c.covered, c.fresh, c.wm2, c.air, c.tilt, c.h); math.Abs(got-c.want) > 5e-5 {
			t.Errorf("%s: %v left, want %v", c.what, got, c.want)
		}
	}
	// Hours from a fall until the array is clear, at -2 degC under 400 W/m2, by the slide above: 11 at 30, 6 at 60 degrees.
	for tilt, want := range map[float64]int{30: 11, 60: 6} {
		hours := 0
		for covered := 1.0; covered > 0; hours++ {
			covered = Lying(covered, false, 400, -2, tilt, 1)
		}
		if hours != want {
			t.Errorf("tilt %v: clear after %d h, want %d", tilt, hours, want)
		}
	}
}

func TestSnowFromDepths(t *testing.T) {
	f := FromDepth([]float64{3, 3, 5, 4, 4.5, 0, 1, 30}, 1)
	for i, want := range []struct {
		fresh  bool
		ground float64
	}{{false, 0.6}, {false, 0.6}, {true, 1}, {false, 0.8}, {false, 0.9}, {false, 0}, {true, 0.2}, {true, 1}} {
		if f.Fresh[i] != want.fresh || math.Abs(f.Ground[i]-want.ground) > 1e-12 {
			t.Errorf("step %d: fresh %v, ground %v, want %v, %v", i, f.Fresh[i], f.Ground[i], want.fresh, want.ground)
		}
	}
}

func TestSnowFromDepthsOfShortSteps(t *testing.T) {
	// Quarters of an hour: 0.4 cm each is 1.2 cm in three quarters, a fall; 0.2 cm each is 0.8 in the hour, none; a jump is one
	// fall, not one in each step of the hour after it.
	got := FromDepth([]float64{0, .4, .8, 1.2, 1.4, 1.6, 1.8, 2, 2.2, 9, 9, 9, 9, 9}, 4).Fresh
	for i, fresh := range got {
		if want := i == 3 || i == 9; fresh != want {
			t.Errorf("step %d: fresh %v, want %v", i, fresh, want)
		}
	}
}

func TestSnowFromTypedMonths(t *testing.T) {
	// Thirty days of January in steps of 12 h: days 3 and 7 are dull and cold, day 5 is dull and warm, day 9 the coldest.
	n := 60
	month, ghi, air := make([]int, n), make([]float64, n), make([]float64, n)
	for d := range 30 {
		light, c := 200.0, -3.0
		switch d {
		case 3, 7:
			light = 20
		case 5:
			light, c = 10, 6
		case 9:
			c = -15
		}
		ghi[2*d+1], air[2*d], air[2*d+1] = light, c, c
	}
	s := DefaultSnow()
	s.FallDays, s.DepthCM = make([]float64, 12), make([]float64, 12)
	s.FallDays[0], s.DepthCM[0] = 2, 2.5
	f := s.FromMonths(month, ghi, air, 2)
	for i, fresh := range f.Fresh {
		if want := i == 6 || i == 14; fresh != want {
			t.Errorf("step %d: fresh %v, want %v", i, fresh, want)
		}
		if f.Ground[i] != 0.5 {
			t.Errorf("step %d: ground %v, want 0.5", i, f.Ground[i])
		}
	}
	// More falls than cold days: the coldest of the warm ones come last.
	s.FallDays[0] = 30
	falls := 0
	for _, fresh := range s.FromMonths(month, ghi, air, 2).Fresh {
		if fresh {
			falls++
		}
	}
	if falls != 30 {
		t.Errorf("%d falls, want 30", falls)
	}
}

func TestSnowBrightensTheGround(t *testing.T) {
	// By hand: an upright wall sees half the ground; GHI 500, snow 0.65 over half of a ground of 0.2.
	p := south(90, 0.2).Prepare(45)
	sky := Sky{GHIWm2: 500, DHIWm2: 500, ZenithDeg: 60, AzimuthDeg: 180, ExtraNormalWm2: 1361, SnowGround: 0.5, SnowBright: 0.65}
	if got, want := p.Light(sky).GroundWm2, 500*(0.5*0.2+0.5*0.65)/2; math.Abs(got-want) > 1e-9 {
		t.Errorf("ground gives %v W/m2, want %v", got, want)
	}
}

func TestByMonth(t *testing.T) {
	var soil, tilt []string
	for m := range 12 {
		soil, tilt = append(soil, []string{"0.02", "0.1"}[m/6]), append(tilt, []string{"60", "20"}[m/6])
	}
	s := Surface{AzimuthDeg: 180, TiltDeg: 35, SoilingLoss: 0.5}
	byName := map[string]func([]string) error{}
	for _, k := range s.Keys() {
		byName[k.Name] = k.SetWords
	}
	if err := byName["soiling_by_month"](soil); err != nil {
		t.Fatal(err)
	}
	if err := byName["tilt_by_month"](tilt); err != nil {
		t.Fatal(err)
	}
	p := s.Prepare(45)
	sky := Sky{GHIWm2: 500, DNIWm2: 500, ZenithDeg: 60, AzimuthDeg: 180, ExtraNormalWm2: 1361}
	for m, want := range map[int]struct{ tilt, clean float64 }{1: {60, 0.98}, 6: {60, 0.98}, 7: {20, 0.9}, 12: {20, 0.9}, 0: {35, 0.5}} {
		sky.Month = m
		l := p.Light(sky)
		clean := Surface{AzimuthDeg: 180, TiltDeg: want.tilt}.Prepare(45).Light(sky).UsableWm2
		if p.TiltDeg(m) != want.tilt || math.Abs(l.UsableWm2-clean*want.clean) > 1e-9 {
			t.Errorf("month %d: tilt %v, %v of the clean light, want %v, %v", m, p.TiltDeg(m), l.UsableWm2/clean, want.tilt, want.clean)
		}
	}
	for words, fault := range map[string]string{"0.1": "has 1 value, want twelve", "3 x12": "3 % is 0.03"} {
		w := []string{words}
		if words == "3 x12" {
			w = make([]string, 12)
			for i := range w {
				w[i] = "3"
			}
		}
		if err := byName["soiling_by_month"](w); err == nil || !strings.Contains(err.Error(), fault) {
			t.Errorf("%q: error %v, want %q", words, err, fault)
		}
	}
}
