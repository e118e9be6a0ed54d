package plane

import (
	"math"
	"slices"
	"strings"
	"testing"
)

func TestHorizonBetweenPoints(t *testing.T) {
	// By hand: straight lines, also through north, and an upright edge where two points share an azimuth.
	h := Horizon{{30, 10}, {90, 40}, {90, 0}, {330, 4}}
	for _, c := range []struct{ az, want float64 }{
		{30, 10}, {60, 25}, {89.999999, 40}, {90, 0}, {210, 2}, {330, 4}, {0, 7}, {360, 7}, {-30, 4}, {345, 5.5}, {15, 8.5},
	} {
		if got := h.HeightDeg(c.az); math.Abs(got-c.want) > 1e-5 {
			t.Errorf("at %v deg: %v, want %v", c.az, got, c.want)
		}
	}
	if got := (Horizon{{200, 12}}).HeightDeg(20); got != 12 {
		t.Errorf("one point: %v all around, want 12", got)
	}
	if got := (Horizon)(nil).HeightDeg(20); got != 0 {
		t.Errorf("open: %v, want 0", got)
	}
}

func TestSkyThatTheHorizonHides(t *testing.T) {
	// An even ring of height h. On the level: integral of sin e cos e over the hidden part, sin(h)^2. On an upright wall:
	// (2h + sin 2h)/pi, h in radians. Both by hand. Half the round hides half of the first. Tolerance: the wall's kink at
	// its own plane falls between the half degrees.
	for _, deg := range []float64{1, 10, 30, 60, 89} {
		rad := deg * math.Pi / 180
		ring := Horizon{{0, deg}}
		for _, c := range []struct {
			name       string
			h          Horizon
			tilt, want float64
		}{
			{"level", ring, 0, math.Sin(rad) * math.Sin(rad)},
			{"wall", ring, 90, (2*rad + math.Sin(2*rad)) / math.Pi},
			{"level, half", Horizon{{0, deg}, {180, deg}, {180, 0}, {360, 0}}, 0, math.Sin(rad) * math.Sin(rad) / 2},
		} {
			if got := c.h.hides(c.tilt, 180); math.Abs(got-c.want) > 1e-4 {
				t.Errorf("%s under %v deg: hides %.6f, want %.6f", c.name, deg, got, c.want)
			}
		}
	}
	// What stands behind a wall that faces south hides nothing of its sky.
	behind := Horizon{{0, 50}, {90, 50}, {90, 0}, {270, 0}, {270, 50}, {360, 50}}
	if got := behind.hides(90, 180); got > 1e-12 {
		t.Errorf("behind the wall: hides %v, want 0", got)
	}
}

func TestHorizonBlocksTheBeam(t *testing.T) {
	s := Surface{TiltDeg: 30, AzimuthDeg: 180, Horizon: Horizon{{0, 20}}}
	p := s.Prepare(50)
	at := func(heightDeg, az float64) SunAt { return SunAt{90 - heightDeg, az} }
	for _, c := range []struct {
		name               string
		before, now, after SunAt
		want               float64
	}{
		{"well above", at(30, 150), at(35, 165), at(38, 180), 0},
		{"well below", at(5, 100), at(10, 110), at(15, 120), 1},
		{"rises through it at the middle", at(10, 100), at(20, 110), at(30, 120), 0.5},
		{"rises through it at three quarters", at(14.75, 100), at(19.75, 110), at(20.75, 120), 0.75},
		{"night", at(-20, 0), at(-15, 10), at(-10, 20), 0},
	} {
		if got := p.Hidden(c.before, c.now, c.after); math.Abs(got-c.want) > 1.0/12+1e-12 {
			t.Errorf("%s: hidden %v of the step, want %v", c.name, got, c.want)
		}
	}
	// Behind the horizon the array gets the dome's light alone, by hand: with an even sky DHI x view x (1 - hidden).
	s.SkyModel = Isotropic
	p = s.Prepare(50)
	sky := Sky{GHIWm2: 300, DNIWm2: 600, DHIWm2: 100, ZenithDeg: 75, AzimuthDeg: 180, ExtraNormalWm2: 1361, BeamBlocked: 1}
	l := p.Light(sky)
	want := 100 * (1 + math.Cos(math.Pi/6)) / 2 * (1 - s.Horizon.hides(30, 180))
	if l.BeamWm2 != 0 || math.Abs(l.SkyWm2-want) > 1e-9 {
		t.Errorf("got %+v, want no beam and %v W/m2 of sky", l, want)
	}
}

func TestHorizonInWords(t *testing.T) {
	for _, c := range []struct {
		words []string
		want  Horizon
		fault string
	}{
		{[]string{"90 5", "135 20.5", "225 0"}, Horizon{{90, 5}, {135, 20.5}, {225, 0}}, ""},
		{[]string{"90"}, nil, "write it as 135 20"},
		{[]string{"90 5 3"}, nil, "write it as 135 20"},
		{[]string{"east 5"}, nil, "the azimuth east is not a number"},
		{[]string{"90 tall"}, nil, "the height tall is not a number"},
		{[]string{"-90 5"}, nil, "the azimuth -90 is not between 0 and 360"},
		{[]string{"90 95"}, nil, "the height 95 is not between 0 and 89"},
		{[]string{"NaN 5"}, nil, "not a finite number"},
		{[]string{"135 5", "90 20"}, nil, "do not rise"},
	} {
		var h Horizon
		err := h.parse(c.words)
		if (err == nil) != (c.fault == "") || err != nil && !strings.Contains(err.Error(), c.fault) {
			t.Errorf("%q: error %v, want %q", c.words, err, c.fault)
		}
		if !slices.Equal(h, c.want) {
			t.Errorf("%q: got %v, want %v", c.words, h, c.want)
		}
	}
}
