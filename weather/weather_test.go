package weather_test

import (
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tideover/weather"
	"tideover/weather/sun"
)

// clearSky returns days of made-up clear weather from a date: global and diffuse light that follow the sun.
func clearSky(site weather.Site, start time.Time, hours int) *weather.Year {
	y := &weather.Year{Site: site, Start: start, StepMin: 60}
	for _, s := range sun.Track(start, 1, hours, site.Sun()) {
		sine := s.LitShare * max(0, math.Cos(s.ZenithDeg*math.Pi/180))
		y.GHIWm2 = append(y.GHIWm2, 900*sine)
		y.DNIWm2 = append(y.DNIWm2, 800*s.LitShare)
		y.DHIWm2 = append(y.DHIWm2, 100*sine)
		y.TempC = append(y.TempC, 10)
		y.WindMs = append(y.WindMs, 2)
	}
	return y
}

var site = weather.Site{Name: "Demo hill", LatDeg: 52.1, LonDeg: 5.18, ElevationM: 2, OffsetH: 1}

func TestCheckNamesTheFirstBadStep(t *testing.T) {
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, site.Zone())
	for _, c := range []struct {
		spoil func(*weather.Year)
		want  string
	}{
		{func(*weather.Year) {}, ""},
		{func(y *weather.Year) { y.GHIWm2[30], y.GHIWm2[31] = -1, -2 }, "weather: global light in step 30 (2 Jan 2025 06:00): -1 is not between 0 and 2000"},
		{func(y *weather.Year) { y.TempC[0] = math.NaN() }, "weather: temperature in step 0 (1 Jan 2025 00:00): NaN is not a finite number"},
		{func(y *weather.Year) { y.WindMs[47] = 999 }, "weather: wind in step 47 (2 Jan 2025 23:00): 999 is not between 0 and 120"},
		{func(y *weather.Year) { y.TempC = y.TempC[1:] }, "weather: temperature has 47 steps, global light has 48"},
		{func(y *weather.Year) { y.TempC = nil }, "weather: temperature has 0 steps, global light has 48"},
		{func(y *weather.Year) { y.WindMs = nil }, ""},
		{func(y *weather.Year) { y.DNIWm2, y.DHIWm2 = nil, nil }, ""},
		{func(y *weather.Year) { y.DNIWm2 = nil }, "weather: beam and diffuse light go together: one of them is missing"},
		{func(y *weather.Year) { y.StepMin = 7 }, "weather: a step of 7 min is not one of [60 30 15 10 5 1]"},
		{func(y *weather.Year) { y.Start = time.Time{} }, "weather: the first step has no date"},
		{func(y *weather.Year) { *y = weather.Year{Start: start, StepMin: 60} }, "weather: no steps"},
		{func(y *weather.Year) { y.Site.LatDeg = 91 }, "weather: latitude of the site: 91 is not between -90 and 90"},
		{func(y *weather.Year) { y.Site.OffsetH = 15 }, "weather: offset from UTC of the site: 15 is not between -12 and 14"},
	} {
		y := clearSky(site, start, 48)
		c.spoil(y)
		got := ""
		if err := y.Check(); err != nil {
			got = err.Error()
		}
		if got != c.want {
			t.Errorf("got  %q\nwant %q", got, c.want)
		}
	}
}

// Laws: refining keeps the energy of every hour, makes no light where there was none, and keeps GHI >= DHI.
func TestRefineKeepsEachHour(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := weather.Site{
			LatDeg: rapid.Float64Range(-90, 90).Draw(t, "latDeg"), LonDeg: rapid.Float64Range(-180, 180).Draw(t, "lonDeg"),
			OffsetH: float64(rapid.IntRange(-12, 14).Draw(t, "offsetH")), // any clock, also a wrong one
		}
		start := time.Date(2025, 1, 1, 0, 0, 0, 0, s.Zone()).AddDate(0, 0, rapid.IntRange(0, 364).Draw(t, "day"))
		y := &weather.Year{Site: s, Start: start, StepMin: 60}
		for range 24 {
			ghi := rapid.Float64Range(0, 1200).Draw(t, "ghi")
			y.GHIWm2 = append(y.GHIWm2, ghi)
			y.DHIWm2 = append(y.DHIWm2, ghi*rapid.Float64Range(0, 1).Draw(t, "diffuseShare"))
			y.DNIWm2 = append(y.DNIWm2, rapid.Float64Range(0, 1000).Draw(t, "dni"))
			y.TempC = append(y.TempC, rapid.Float64Range(-40, 40).Draw(t, "tempC"))
		}
		stepMin := rapid.SampledFrom([]int{30, 15, 10, 5, 1}).Draw(t, "stepMin")
		fine, n := y.Refine(stepMin), 60/stepMin
		if err := fine.Check(); err != nil {
			t.Fatal(err)
		}
		if fine.Len() != 24*n || fine.WindMs != nil || fine.StepMin != stepMin {
			t.Fatalf("%d steps of %d min, wind %v", fine.Len(), fine.StepMin, fine.WindMs)
		}
		for h := range 24 {
			for _, c := range []struct {
				name      string
				was, fine []float64
			}{{"GHI", y.GHIWm2, fine.GHIWm2}, {"DNI", y.DNIWm2, fine.DNIWm2}, {"DHI", y.DHIWm2, fine.DHIWm2}, {"T", y.TempC, fine.TempC}} {
				var sum float64
				for _, v := range c.fine[h*n : (h+1)*n] {
					sum += v / float64(n)
				}
				if d := sum - c.was[h]; math.Abs(d) > 1e-9*(1+math.Abs(c.was[h])) { // rounding of at most 60 terms
					t.Fatalf("hour %d: %s sums to %v, was %v", h, c.name, sum, c.was[h])
				}
			}
		}
		for i := range fine.GHIWm2 {
			if fine.DHIWm2[i] > fine.GHIWm2[i]*(1+1e-12)+1e-12 {
				t.Fatalf("step %d: diffuse %v above global %v", i, fine.DHIWm2[i], fine.GHIWm2[i])
			}
		}
	})
}

func TestRefineFollowsTheSun(t *testing.T) {
	// A clear day at 15 min must be the clear day of hours again: both were made from the sun at the middle of a step.
	start := time.Date(2025, 4, 10, 0, 0, 0, 0, site.Zone())
	hourly, want := clearSky(site, start, 24), clearSky(site, start, 24)
	want.GHIWm2, want.DNIWm2 = nil, nil
	for _, s := range sun.Track(start, 0.25, 96, site.Sun()) {
		want.GHIWm2 = append(want.GHIWm2, 900*s.LitShare*max(0, math.Cos(s.ZenithDeg*math.Pi/180)))
		want.DNIWm2 = append(want.DNIWm2, 800*s.LitShare)
	}
	got := hourly.Refine(15)
	for i := range got.GHIWm2 {
		// The sine at the middle of an hour is up to 0.29 % above its mean over the hour, and more in the hours of
		// sunrise and sunset, where the lit parts are short.
		if d := got.GHIWm2[i] - want.GHIWm2[i]; math.Abs(d) > 0.004*want.GHIWm2[i]+1 {
			t.Errorf("step %d: global %.2f, want %.2f", i, got.GHIWm2[i], want.GHIWm2[i])
		}
		// The edge of the day is found at each step's own declination: seconds, of 900.
		if d := got.DNIWm2[i] - want.DNIWm2[i]; math.Abs(d) > 5 {
			t.Errorf("step %d: beam %.2f, want %.2f", i, got.DNIWm2[i], want.DNIWm2[i])
		}
	}
}

func TestRefineByNight(t *testing.T) {
	y := clearSky(site, time.Date(2025, 12, 21, 0, 0, 0, 0, site.Zone()), 24)
	y.GHIWm2[2] = 8 // light with the sun far down: spread evenly, not lost
	if got := y.Refine(15).GHIWm2[8:12]; !slices.Equal(got, []float64{8, 8, 8, 8}) {
		t.Errorf("got %v", got)
	}
	if y.Refine(60) != y {
		t.Error("a year at its own step is not itself")
	}
	defer func() {
		if r := recover(); r != "weather: Refine: 45 min does not divide the step of 60 min" {
			t.Errorf("panic %v", r)
		}
	}()
	y.Refine(45)
}

func TestWithCalendarYear(t *testing.T) {
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, site.Zone())
	plain, leap := clearSky(site, start, 8760), clearSky(site, start.AddDate(-1, 0, 0), 8784)
	short, measured := clearSky(site, start, 48), clearSky(site, start, 48)
	measured.Measured = true
	for _, c := range []struct {
		y    *weather.Year
		year int
		want string
	}{
		{plain, 2026, ""}, {leap, 2028, ""}, {plain, 2100, ""},
		{plain, 2028, "calendar year 2028 has a 29 February, which this weather of 8760 hours lacks; 2027 or 2029 would do"},
		{leap, 2025, "calendar year 2025 has no 29 February, which this weather of 8784 hours has; 2028 would do"},
		{plain, 25, "calendar year 25 is not between 1900 and 2100"},
		{short, 2026, "the weather is not one year from 1 January (8760 or 8784 hours, this is 48 from 1 January 00:00): it cannot be given a calendar year"},
	} {
		got, err := c.y.WithCalendarYear(c.year)
		if err != nil || c.want != "" {
			if err == nil || err.Error() != c.want {
				t.Errorf("%d: %v\nwant %s", c.year, err, c.want)
			}
			continue
		}
		if want := time.Date(c.year, 1, 1, 0, 0, 0, 0, site.Zone()); !got.Start.Equal(want) || got.Len() != c.y.Len() {
			t.Errorf("%d: starts %v, want %v", c.year, got.Start, want)
		}
		if c.y.Start.Year() == c.year {
			t.Errorf("%d: the year given was changed", c.year)
		}
	}
	if got, err := measured.WithCalendarYear(2030); err != nil || got != measured {
		t.Errorf("a measured year: %v, %v", got, err)
	}
}

func TestZone(t *testing.T) {
	at := time.Date(2025, 7, 1, 0, 0, 0, 0, weather.Site{OffsetH: 9.5}.Zone())
	if got := at.Format("MST -07:00"); !strings.HasSuffix(got, " +09:30") {
		t.Errorf("zone %s, want +09:30", got)
	}
}

func BenchmarkYear(b *testing.B) {
	y := clearSky(site, time.Date(2025, 1, 1, 0, 0, 0, 0, site.Zone()), 8760)
	b.ReportAllocs()
	for b.Loop() {
		y.Refine(15)
	}
}
