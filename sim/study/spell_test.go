package study_test

import (
	"context"
	"errors"
	"math"
	"reflect"
	"runtime"
	"testing"
	"time"
	_ "time/tzdata"

	"tideover/scenarios"
	"tideover/sim"
	"tideover/sim/report/invented"
	"tideover/sim/study"
	"tideover/weather"
	"tideover/weather/climate"
)

func shippedPlace(t testing.TB, name string) (*scenarios.Scenario, *sim.System, *weather.Year) {
	t.Helper()
	src, err := scenarios.Shipped.ReadFile(name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	f, err := scenarios.Decode(name, src)
	if err != nil {
		t.Fatal(err)
	}
	y, err := f.Base.Weather(nil)
	if err != nil {
		t.Fatal(err)
	}
	p, err := f.Base.Place(y, false)
	if err != nil {
		t.Fatal(err)
	}
	return f.Base, p.System, y
}

func TestSpellsOnOneCoreOrEight(t *testing.T) {
	sc, sys, y := shippedPlace(t, "trail-store")
	g := climate.New(*sc.Site.Climate, sc.Site.Options)
	year := func(k int) *weather.Year { return g.Year(2025, sc.Seed, k) }
	var first *study.Spells
	for _, jobs := range []int{1, 8} {
		s, err := study.RunSpells(context.Background(), sys, y, []float64{0.1, 0.2}, 12, jobs)
		if err != nil {
			t.Fatal(err)
		}
		if s.Often, err = study.HowOften(context.Background(), sys, year, 6, s.Shares, 12, jobs, nil); err != nil {
			t.Fatal(err)
		}
		if first == nil {
			first = s
		} else if !reflect.DeepEqual(s, first) {
			t.Errorf("%d jobs give another result than one", jobs)
		}
	}
	if len(first.Of) != 2 || len(first.Of[1]) != 365 || len(first.Of[1][364].Ends) != 12 {
		t.Errorf("%d shares, %d dates: want 2, 365, and 12 lengths", len(first.Of), len(first.Of[1]))
	}
	for d := range first.Dates { // more of the usual sun leaves no lower charge, as long as no load is cut
		a, b := first.Carried(0, d), first.Carried(1, d)
		if n := min(a, b); n > 0 && first.Of[1][d].Ends[n-1].LowestSOC < first.Of[0][d].Ends[n-1].LowestSOC-1e-12 {
			t.Errorf("%v: lower charge at 20 %% of the usual sun than at 10 %%", first.Dates[d])
		}
	}
}

func TestSpellsAreInterrupted(t *testing.T) {
	_, sys, y := shippedPlace(t, "ewe-barn")
	ctx, stop := context.WithCancel(context.Background())
	stop()
	if _, err := study.RunSpells(ctx, sys, y, []float64{0.1}, 30, 2); !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want that of the context", err)
	}
}

func TestSeasons(t *testing.T) {
	// By construction three days in November to February, and seven in the other months.
	s := invented.Spells(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), 365, 30, 0.1)
	got := s.Stretches(0)
	if len(got) != 2 {
		t.Fatalf("%d stretches, want 2: %v", len(got), got)
	}
	for i, want := range []struct {
		words      string
		days       int
		fullH      float64
		dates, off int
	}{
		{"from the start of March to the end of October", 7, 10, 245, 0},
		{"from the start of November to the end of February", 3, 62, 120, 0}, // 3 x 24 - 10 h
	} {
		n := got[i]
		if n.String() != want.words || n.Days != want.days || n.FullH != want.fullH || n.Dates != want.dates || n.Off != want.off {
			t.Errorf("stretch %d: %s, %d days, full in %v h, %d dates, %d off; want %+v", i, n, n.Days, n.FullH, n.Dates, n.Off, want)
		}
	}
	// One start date of ten may do worse: of the 120 dark ones twelve carry nothing, and the figure stays. With a
	// thirteenth it falls.
	for i := range 13 {
		for n := range s.Of[0][i].Ends {
			s.Of[0][i].Ends[n].LackH = 1
		}
		if days := s.Stretches(0)[1].Days; i == 11 && days != 3 || i == 12 && days != 0 {
			t.Errorf("with %d bad dates of 120: %d days", i+1, days)
		}
	}
	// Where all dates are alike the year is not parted.
	s = invented.Spells(time.Date(2025, 3, 1, 0, 0, 0, 0, time.UTC), 240, 30, 0.1)
	if got := s.Stretches(0); len(got) != 1 || !got[0].Whole() || got[0].String() != "all year" || got[0].Days != 7 {
		t.Errorf("one kind of day: %v", got)
	}
}

func TestMonths(t *testing.T) {
	s := invented.Spells(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), 365, 30, 0.1, 0.2)
	months := s.Months(1)
	if len(months) != 12 {
		t.Fatalf("%d months", len(months))
	}
	jan, jul := months[0], months[6]
	if jan.Lowest != 4 || jan.Middle != 4 || jan.CutH != 4*24+5 || jan.FullH != 86 || jan.Dates != 31 { // 4 x 24 - 10 h
		t.Errorf("January: %+v", jan)
	}
	if jul.Lowest != 8 || jul.FullH != 10 {
		t.Errorf("July: %+v", jul)
	}
}

// flat is a weather of one light all day and all year, but for the days given, which get a share of it.
func flat(year int, dullShare float64, dull ...int) *weather.Year {
	start := time.Date(year, 1, 1, 0, 0, 0, 0, time.UTC)
	n := int(start.AddDate(1, 0, 0).Sub(start).Hours())
	y := &weather.Year{Site: weather.Site{Name: "nowhere", LatDeg: 0.5, LonDeg: 0}, Start: start, StepMin: 60,
		GHIWm2: make([]float64, n), DNIWm2: make([]float64, n), DHIWm2: make([]float64, n), TempC: make([]float64, n)}
	for i := range y.GHIWm2 {
		w := 100.0
		for _, d := range dull {
			if i/24 == d {
				w *= dullShare
			}
		}
		y.GHIWm2[i], y.DHIWm2[i], y.TempC[i] = w, w, 20
	}
	return y
}

// TestHowOften counts by hand. Around a dull day the usual is the mean of 31 days of four years, 124 of them.
func TestHowOften(t *testing.T) {
	_, sys, _ := shippedPlace(t, "ewe-barn")
	sys.Surface.TiltDeg = 0
	sys.Zone = time.UTC
	// Four years. In the second, 100 to 104 (April) give nothing: one spell of at least 1, 2, 3, 4 and 5 days, and at a
	// quarter of the usual one of six days too, since the mean of six days with one bright one is a sixth. Day 200 (July)
	// alone is a spell of one day. In the third, day 300 is a tenth, and 302 too (October): two spells of one day; with
	// the bright day between them the mean of three is 0.4. New Year: the last day of the third year and the first two of
	// the fourth are one spell of three; a bright day with them makes a mean of (10 + 100) / 4, over a quarter.
	years := []*weather.Year{
		flat(2025, 0), flat(2026, 0, 100, 101, 102, 103, 104, 200), flat(2027, 0.1, 300, 302, 364), flat(2028, 0, 0, 1),
	}
	o, err := study.HowOften(context.Background(), sys, func(k int) *weather.Year { return years[k] }, 4, []float64{0.12, 0.25}, 8, 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		share, days int
		spells      float64 // in all
	}{
		{0, 1, 5}, {0, 2, 2}, {0, 3, 2}, {0, 4, 1}, {0, 5, 1}, {0, 6, 0}, {0, 8, 0},
		{1, 1, 5}, {1, 2, 2}, {1, 3, 2}, {1, 4, 1}, {1, 5, 1}, {1, 6, 1}, {1, 7, 0},
	} {
		if got := 4 * o.PerYear(c.share, c.days); math.Abs(got-c.spells) > 1e-9 {
			t.Errorf("share %d, at least %d days: %v spells in four years, want %v", c.share, c.days, got, c.spells)
		}
	}
	// The spell over New Year begins on 31 December.
	if got := 4 * o.ByHalf[0][2][23]; math.Abs(got-1) > 1e-9 {
		t.Errorf("%v spells of three days begin in late December, want 1", got)
	}
}

// TestTheAverageDayHasNoSpell: repeated all year it is never under a fifth of the usual.
func TestTheAverageDayHasNoSpell(t *testing.T) {
	sc, sys, _ := shippedPlace(t, "trail-store")
	g := climate.New(*sc.Site.Climate, sc.Site.Options)
	o, err := study.HowOften(context.Background(), sys, func(int) *weather.Year { return g.AverageYear(2025) }, 1, []float64{0.2}, 1, 1, nil)
	if err != nil {
		t.Fatal(err)
	}
	if got := o.PerYear(0, 1); got != 0 {
		t.Errorf("%v dull days", got)
	}
}

// BenchmarkSpell is a whole answer without its printing: every date of the year x 30 lengths x two shares, prepared,
// settled, walked and watched until full.
func BenchmarkSpell(b *testing.B) {
	for _, name := range []string{"trail-store", "clay-studio", "ewe-barn"} {
		b.Run(name, func(b *testing.B) {
			_, sys, y := shippedPlace(b, name)
			b.ReportAllocs()
			for b.Loop() {
				if _, err := study.RunSpells(context.Background(), sys, y, []float64{0.1, 0.2}, 30, runtime.NumCPU()); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}
