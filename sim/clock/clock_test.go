package clock

import (
	"fmt"
	"testing"
	"time"
	_ "time/tzdata"

	"pgregory.net/rapid"
)

func zone(t testing.TB, name string) *time.Location {
	t.Helper()
	z, err := time.LoadLocation(name)
	if err != nil {
		t.Fatal(err)
	}
	return z
}

// yearOf returns the year 2025 in the zone, with local standard time as given.
func yearOf(t testing.TB, name string, stdMin, stepMin int) *Clock {
	t.Helper()
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, time.FixedZone("", stdMin*60))
	return New(start, stepMin, 365*24*60/stepMin, zone(t, name))
}

// stepsByDate counts the steps booked to each date.
func stepsByDate(c *Clock) map[string]int {
	m := map[string]int{}
	for _, k := range c.Day {
		m[c.Dates[k].Format("2 Jan 2006")]++
	}
	return m
}

func TestDayLengthsAtClockChanges(t *testing.T) {
	// Dates of the changes in 2025, by law: EU Directive 2000/84/EC (last Sunday of March and of October); New Zealand
	// Daylight Time Order 2007 (first Sunday of April, last of September); Lord Howe Island: first Sundays of April and
	// October, by half an hour (IANA time zone database, file australasia).
	for _, tc := range []struct {
		zone            string
		stdMin, stepMin int
		odd             map[string]int // steps of the dates that are not of the usual length
	}{
		{"Europe/Amsterdam", 60, 60, map[string]int{"30 Mar 2025": 23, "26 Oct 2025": 25}},
		// Summer time holds at New Year: the first hour of the standard-time year is already 01:00 on the wall, and the
		// last, 00:00 of 1 January on the wall, is booked to 31 December.
		{"Pacific/Auckland", 12 * 60, 60, map[string]int{"6 Apr 2025": 25, "28 Sep 2025": 23, "1 Jan 2025": 23, "31 Dec 2025": 25}},
		{"Australia/Lord_Howe", 10*60 + 30, 30, map[string]int{"6 Apr 2025": 49, "5 Oct 2025": 47, "1 Jan 2025": 47, "31 Dec 2025": 49}},
		// India is 5 h 30 min ahead of hourly data in UTC: the step 18:00 to 19:00 UTC has its middle at midnight.
		{"Asia/Kolkata", 0, 60, map[string]int{"1 Jan 2025": 18, "31 Dec 2025": 30}},
		{"UTC", 0, 15, nil},
	} {
		c := yearOf(t, tc.zone, tc.stdMin, tc.stepMin)
		got := stepsByDate(c)
		if len(got) != 365 || len(c.Dates) != 365 || len(c.Months) != 12 {
			t.Errorf("%s: %d dates with steps, %d dates, %d months; want 365, 365, 12", tc.zone, len(got), len(c.Dates), len(c.Months))
		}
		for date, n := range got {
			want := 24 * 60 / tc.stepMin
			if odd, ok := tc.odd[date]; ok {
				want = odd
			}
			if n != want {
				t.Errorf("%s: %s has %d steps, want %d", tc.zone, date, n, want)
			}
		}
	}
}

func TestDatesAndMonthsAgainstStandardLibrary(t *testing.T) {
	// Among them: midnight skipped (Santiago, Cairo), a wall set back from 00:01 to 23:01 (St Johns 2006), a date that
	// never was (Apia, 30 December 2011), data in another zone than the wall's.
	zones := []string{"Europe/Amsterdam", "Pacific/Auckland", "Australia/Lord_Howe", "Asia/Kolkata", "America/Santiago",
		"Africa/Cairo", "America/St_Johns", "Pacific/Apia", "Pacific/Kiritimati", "America/Anchorage", "UTC"}
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom(zones).Draw(t, "zone")
		z, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		std := time.FixedZone("", rapid.IntRange(-24, 28).Draw(t, "stdHalfHours")*1800)
		start := time.Date(rapid.IntRange(1958, 2040).Draw(t, "year"), time.Month(rapid.IntRange(1, 12).Draw(t, "month")), 1, 0, 0, 0, 0, std)
		stepMin := rapid.SampledFrom([]int{1, 5, 10, 15, 30, 60}).Draw(t, "stepMin")
		c := New(start, stepMin, rapid.IntRange(1, 1500).Draw(t, "n"), z)
		step := time.Duration(stepMin) * time.Minute
		for i := range c.N {
			mid := start.Add(time.Duration(i)*step + step/2)
			y, m, d := mid.In(z).Date()
			if y > mid.Year() {
				y, m, d = mid.Year(), time.December, 31
			} else if y < mid.Year() {
				y, m, d = mid.Year(), time.January, 1
			}
			if y == 2011 && m == time.December && name == "Pacific/Apia" {
				continue // the date that booking to the year's end would ask for may be the one that never was
			}
			gy, gm, gd := c.Dates[c.Day[i]].Date()
			if gy != y || gm != m || gd != d || c.Months[c.MonthOf[i]] != (Month{y, m}) {
				t.Fatalf("step %d, middle %v: booked to %d %v %d, month %v; want %d %v %d", i, mid.In(z), gd, gm, gy, c.Months[c.MonthOf[i]], d, m, y)
			}
			if !c.StepStart(i).Equal(start.Add(time.Duration(i)*step)) || !c.StepEnd(i).Equal(c.StepStart(i).Add(step)) {
				t.Fatalf("step %d runs %v to %v", i, c.StepStart(i), c.StepEnd(i))
			}
		}
	})
}

func TestDateThatBeginsAtOne(t *testing.T) {
	// Chile sets the wall from 24:00 of the first Saturday of September 2025 to 01:00 (IANA database, file southamerica).
	c := yearOf(t, "America/Santiago", -4*60, 60)
	for _, d := range c.Dates {
		want := "00:00"
		if d.Format("2 Jan") == "7 Sep" {
			want = "01:00"
		}
		if got := d.Format("15:04"); got != want {
			t.Errorf("%s begins at %s, want %s", d.Format("2 Jan"), got, want)
		}
	}
}

func TestSeveralYears(t *testing.T) {
	start := time.Date(2024, 1, 1, 0, 0, 0, 0, time.FixedZone("", 12*3600))
	c := New(start, 60, 8784+8760, zone(t, "Pacific/Auckland"))
	if len(c.Dates) != 366+365 || len(c.Months) != 24 {
		t.Fatalf("%d dates, %d months, want 731 and 24", len(c.Dates), len(c.Months))
	}
	got := stepsByDate(c)
	for date, want := range map[string]int{"31 Dec 2024": 25, "1 Jan 2025": 23, "29 Feb 2024": 24} {
		if got[date] != want {
			t.Errorf("%s has %d steps, want %d", date, got[date], want)
		}
	}
}

// TestLeapYearsBeyondTheZonesTable: the tables of zones end in 2037; from there on the rule of the zone holds, and the
// standard library puts the end of a leap year's last stretch on 31 December.
func TestLeapYearsBeyondTheZonesTable(t *testing.T) {
	for _, name := range []string{"America/Los_Angeles", "Europe/Amsterdam", "Pacific/Auckland", "Asia/Kolkata"} {
		z := zone(t, name)
		for year := 2036; year <= 2060; year++ {
			_, winter := time.Date(year, 1, 1, 12, 0, 0, 0, z).Zone()
			_, summer := time.Date(year, 7, 1, 12, 0, 0, 0, z).Zone()
			start := time.Date(year, 1, 1, 0, 0, 0, 0, time.FixedZone("", min(winter, summer)))
			n := int(start.AddDate(1, 0, 0).Sub(start) / time.Hour)
			c := New(start, 60, n, z)
			changes := 0
			for i := 1; i < n; i++ {
				_, was := c.StepStart(i - 1).Zone()
				if _, is := c.StepStart(i).Zone(); is != was {
					changes++
				}
				if want := c.StepStart(i).In(z).Format(time.DateOnly); c.Dates[c.Day[i]].Format(time.DateOnly) != want && i < n-1 {
					t.Fatalf("%s, %d: step %d is booked to %s, want %s", name, year, i, c.Dates[c.Day[i]].Format(time.DateOnly), want)
				}
			}
			if want := map[bool]int{true: 2, false: 0}[winter != summer]; changes != want || len(c.rules) != want+1 {
				t.Errorf("%s, %d: %d clock changes, %d stretches of rules, want %d and %d", name, year, changes, len(c.rules), want, want+1)
			}
		}
	}
}

func TestMinuteAt(t *testing.T) {
	c := yearOf(t, "Europe/Amsterdam", 60, 60)
	i := (31+28+29)*24 + 1 // 30 March, 01:00 standard time
	for _, tc := range []struct {
		h    float64
		want string
	}{{0, "01:00 CET"}, {0.4999999, "01:30 CET"}, {0.999, "03:00 CEST"}, {1.5, "03:30 CEST"}} {
		if got := c.MinuteAt(i, tc.h).Format("15:04 MST"); got != tc.want {
			t.Errorf("MinuteAt(%d, %v) is %s, want %s", i, tc.h, got, tc.want)
		}
	}
	if c.StepH() != 1 {
		t.Errorf("StepH is %v, want 1", c.StepH())
	}
}

func TestNewPanics(t *testing.T) {
	defer func() {
		const want = "clock: New: stepMin 0, n 1, zone UTC, want stepMin >= 1, n >= 0 and a zone"
		if got := fmt.Sprint(recover()); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}()
	New(time.Time{}, 0, 1, time.UTC)
}

func BenchmarkYear(b *testing.B) {
	z := zone(b, "Europe/Amsterdam")
	start := time.Date(2025, 1, 1, 0, 0, 0, 0, time.FixedZone("", 3600))
	b.ReportAllocs()
	for b.Loop() {
		New(start, 60, 8760, z)
	}
}

func BenchmarkSharesYear(b *testing.B) {
	c := yearOf(b, "Europe/Amsterdam", 60, 60)
	t := Timetable{Days: 1 << time.Friday, Hours: []Span{{17 * 60, 26 * 60}}, Season: []DateSpan{{Date{10, 1}, Date{3, 31}}}}
	var dst []float64
	b.ReportAllocs()
	for b.Loop() {
		dst = t.Shares(c, dst)
	}
}
