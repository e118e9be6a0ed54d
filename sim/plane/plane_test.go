package plane

import (
	"fmt"
	"strings"
	"testing"
)

func TestCheckNamesEveryFault(t *testing.T) {
	good := func(change func(*Surface)) Surface {
		s := Default()
		s.TiltDeg, s.AzimuthDeg = 35, 180
		change(&s)
		return s
	}
	for _, c := range []struct {
		s    Surface
		want []string
	}{
		{good(func(s *Surface) {}), nil},
		{good(func(s *Surface) { s.FacesEquator, s.AzimuthDeg = true, 999 }), nil}, // not read
		{good(func(s *Surface) { s.TiltDeg = 300 }), []string{"tilt_deg: 300 is not between 0 and 90; example: tilt_deg: 35"}},
		{good(func(s *Surface) { s.AzimuthDeg = 361 }), []string{"azimuth_deg: 361 is not between 0 and 360; example: azimuth_deg: 180"}},
		{good(func(s *Surface) { s.AzimuthDeg = -90 }), []string{
			"azimuth_deg: -90 is not between 0 and 360, clockwise from true north: -90 is 270; example: azimuth_deg: 180"}},
		{good(func(s *Surface) { s.GroundReflectance = 20 }), []string{
			"ground_reflectance: 20 is not between 0 and 1: it looks like percent; 20 % is 0.2; example: ground_reflectance: 0.2"}},
		{good(func(s *Surface) { s.SoilingLoss = -0.1 }), []string{"soiling_loss: -0.1 is not between 0 and 0.9; example: soiling_loss: 0.03"}},
		{Surface{TiltDeg: -1, AzimuthDeg: 400, GroundReflectance: 2, SoilingLoss: 3}, []string{
			"tilt_deg: -1 is not between 0 and 90; example: tilt_deg: 35",
			"azimuth_deg: 400 is not between 0 and 360; example: azimuth_deg: 180",
			"ground_reflectance: 2 is not between 0 and 1: it looks like percent; 2 % is 0.02; example: ground_reflectance: 0.2",
			"soiling_loss: 3 is not between 0 and 0.9: it looks like percent; 3 % is 0.03; example: soiling_loss: 0.03"}},
	} {
		var got []string
		for _, f := range c.s.Check() {
			got = append(got, f.Error())
		}
		if fmt.Sprintf("%q", got) != fmt.Sprintf("%q", c.want) {
			t.Errorf("%+v:\ngot  %q\nwant %q", c.s, got, c.want)
		}
	}
}

func TestTiltAndAzimuthSwapped(t *testing.T) {
	s := Surface{TiltDeg: 180, AzimuthDeg: 35}
	const want = "tilt_deg: 180 is not between 0 and 90: tilt and azimuth look swapped, as azimuth_deg is 35; example: tilt_deg: 35"
	if f := s.Check(); len(f) != 1 || f[0].Error() != want {
		t.Errorf("got %v, want %s", f, want)
	}
	s.AzimuthDeg = 180
	if f := s.Check(); len(f) != 1 || strings.Contains(f[0].Error(), "swapped") {
		t.Errorf("tilt 180, azimuth 180: got %v, want no word of a swap", f)
	}
	if err := s.parseAzimuth([]string{"0x1F"}); err == nil {
		t.Error("azimuth 0x1F was taken")
	}
}

func TestAzimuthInWords(t *testing.T) {
	for _, c := range []struct {
		words   []string
		equator bool
		deg     float64
		fault   string
	}{
		{[]string{"equator"}, true, 0, ""},
		{[]string{"Equator"}, true, 0, ""},
		{[]string{"202.5"}, false, 202.5, ""},
		{[]string{"400"}, false, 400, ""}, // Check speaks of the range
		{[]string{"south"}, false, 7, "south is 180"},
		{[]string{"uphill"}, false, 7, `"uphill" is neither a number`},
		{[]string{"90", "180"}, false, 7, "has 2 values"},
		{nil, false, 7, "has 0 values"},
	} {
		s := Surface{AzimuthDeg: 7}
		err := s.Keys()[1].SetWords(c.words)
		if (err == nil) != (c.fault == "") || err != nil && !strings.Contains(err.Error(), c.fault) {
			t.Errorf("%q: error %v, want %q", c.words, err, c.fault)
		}
		if s.FacesEquator != c.equator || s.AzimuthDeg != c.deg {
			t.Errorf("%q: equator %v, %v deg, want %v, %v deg", c.words, s.FacesEquator, s.AzimuthDeg, c.equator, c.deg)
		}
	}
}

func TestKeysSayEverything(t *testing.T) {
	s := Default()
	for _, k := range s.Keys() {
		if k.Doc == "" || k.Example == "" || k.Need == (k.Origin != "") {
			t.Errorf("%s: doc %q, example %q, need %v, origin %q: want a doc, an example, and an origin or a need",
				k.Name, k.Doc, k.Example, k.Need, k.Origin)
		}
	}
}

func TestEquatorAndPole(t *testing.T) {
	for _, c := range []struct {
		equator          bool
		tilt, deg, lat   float64
		wantDeg          float64
		wantFacesThePole bool
	}{
		{true, 35, 0, 52, 180, false},
		{true, 35, 0, 0, 180, false},
		{true, 35, 0, -37, 0, false},
		{false, 35, 180, -37, 180, true},
		{false, 35, 0, 52, 0, true},
		{false, 35, 360, 52, 360, true},
		{false, 35, 301, 52, 301, true},
		{false, 35, 299, 52, 299, false},
		{false, 35, 90, 52, 90, false},
		{false, 10, 0, 52, 0, false}, // too flat to matter
	} {
		s := Surface{TiltDeg: c.tilt, AzimuthDeg: c.deg, FacesEquator: c.equator}
		if got := s.At(c.lat); got.FacesEquator || got.AzimuthDeg != c.wantDeg {
			t.Errorf("%+v at %v: faces %v, want %v", s, c.lat, got.AzimuthDeg, c.wantDeg)
		}
		if got := s.FacesPole(c.lat); got != c.wantFacesThePole {
			t.Errorf("%+v at %v: faces the pole %v, want %v", s, c.lat, got, c.wantFacesThePole)
		}
	}
}
