package plane

import (
	"math"
	"strings"
	"testing"
	"time"

	"tideover/sim/clock"
)

// yearOf is a clock of 2025 in standard time.
func yearOf(stepMin int) *clock.Clock {
	zone := time.FixedZone("UTC-5", -5*3600)
	return clock.New(time.Date(2025, 1, 1, 0, 0, 0, 0, zone), stepMin, 365*24*60/stepMin, zone)
}

func shade(t *testing.T, change func(*Shade), words ...string) Shade {
	t.Helper()
	s := DefaultShade()
	for i, name := range []string{"hours", "season"} {
		if i < len(words) {
			if err := s.Keys()[i].SetWords([]string{words[i]}); err != nil {
				t.Fatalf("%s %q: %v", name, words[i], err)
			}
		}
	}
	if change != nil {
		change(&s)
	}
	return s
}

func TestShadeAfterThreeFromOctoberToMarch(t *testing.T) {
	// "After 15:00 from October to March, whole array", by the words: in the hours from 15 to 24 of those months.
	s := Surface{Shades: []Shade{shade(t, func(s *Shade) { s.SkyShare = 0.1 }, "after 15:30", "oct to mar")}}
	c := yearOf(60)
	for i, got := range s.Shadows(c, 45) {
		at := c.StepStart(i)
		want := 0.0
		if m := at.Month(); m >= 10 || m <= 3 {
			if at.Hour() == 15 {
				want = 0.5
			} else if at.Hour() > 15 {
				want = 1
			}
		}
		if got.TimeShare != want || want > 0 && (got.Share != 1 || got.Takes != 1) || math.Abs(got.SkyHidden-0.1) > 1e-12 {
			t.Fatalf("%v: %+v, want a time share of %v and a tenth of the sky hidden", at, got, want)
		}
	}
	if (Surface{}).Shadows(c, 45) != nil {
		t.Error("no shades: want nil")
	}
}

func TestLeavesFollowTheSeason(t *testing.T) {
	tree := func(s *Shade) { s.Kind, s.LeaflessShare = Leaves, 0.3 }
	c := yearOf(60)
	noon := func(m time.Month, d int) int {
		return int(time.Date(2025, m, d, 0, 0, 0, 0, time.UTC).YearDay()-1)*24 + 12
	}
	for _, k := range []struct {
		lat    float64
		inLeaf []clock.DateSpan
		step   int
		want   float64
	}{
		{45, nil, noon(7, 1), 1}, {45, nil, noon(1, 15), 0.3}, {45, nil, noon(5, 1), 1}, {45, nil, noon(11, 1), 0.3},
		{-37, nil, noon(7, 1), 0.3}, {-37, nil, noon(1, 15), 1},
		{45, []clock.DateSpan{{From: clock.Date{Month: 6, Day: 10}, To: clock.Date{Month: 9, Day: 1}}}, noon(6, 1), 0.3},
	} {
		sh := shade(t, tree, "10:00 to 14:00")
		sh.InLeaf = k.inLeaf
		got := Surface{Shades: []Shade{sh}}.Shadows(c, k.lat)[k.step]
		if got.TimeShare != 1 || math.Abs(got.Takes-k.want) > 1e-12 || math.Abs(got.SkyHidden-0.05*k.want) > 1e-12 {
			t.Errorf("latitude %v, %v: %+v, want it to take %v", k.lat, c.StepStart(k.step), got, k.want)
		}
	}
}

func TestTheDarkerOfTwoShadesCounts(t *testing.T) {
	half := shade(t, func(s *Shade) { s.Share, s.Lies = 0.5, Along }, "12:00 to 16:00")
	whole := shade(t, nil, "15:00 to 18:00")
	got := Surface{Shades: []Shade{half, whole}}.Shadows(yearOf(60), 45)
	for hour, want := range map[int]Shadow{11: {}, 12: {1, 0.5, 1, true, 0}, 15: {1, 1, 1, false, 0}, 17: {1, 1, 1, false, 0}, 18: {}} {
		g := got[hour]
		if math.Abs(g.SkyHidden-(1-0.95*0.95)) > 1e-12 {
			t.Errorf("hour %d: hides %v of the sky, want %v", hour, g.SkyHidden, 1-0.95*0.95)
		}
		g.SkyHidden = 0
		if g != want {
			t.Errorf("hour %d: %+v, want %+v", hour, g, want)
		}
	}
}

func TestShadeFaults(t *testing.T) {
	s := DefaultShade()
	for _, c := range []struct {
		key   int
		words string
		fault string
	}{
		{0, "after lunch", "not a time of day"}, {0, "15:00", "not a span of hours"}, {0, "after 15:00", ""},
		{0, "before 9:30", ""}, {0, "before 9:00, after 16:00", ""}, {1, "winter", "is not a month"},
	} {
		err := s.Keys()[c.key].SetWords([]string{c.words})
		if (err == nil) != (c.fault == "") || err != nil && !strings.Contains(err.Error(), c.fault) {
			t.Errorf("%q: error %v, want %q", c.words, err, c.fault)
		}
	}
	s.Share = 30
	if f := s.Check(); len(f) != 1 || f[0].Error() != "share: 30 is not above 0 and at most 1: it looks like percent; 30 % is 0.3; example: share: 0.5" {
		t.Errorf("faults %v", f)
	}
	for _, k := range s.Keys() {
		if k.Doc == "" || k.Example == "" || k.Need == (k.Origin != "") {
			t.Errorf("%s: doc %q, example %q, need %v, origin %q", k.Name, k.Doc, k.Example, k.Need, k.Origin)
		}
	}
}
