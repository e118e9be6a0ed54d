package clock

import (
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"
)

// dated builds a timetable of noon to one o'clock from words.
func dated(t testing.TB, days, season, first, away string, every int) Timetable {
	t.Helper()
	tt := Timetable{Hours: []Span{{12 * 60, 13 * 60}}, EveryDays: every}
	var err error
	set := func(e error) {
		if e != nil {
			err = e
		}
	}
	if days != "" {
		set(into(&tt.Days, ParseDays)([]string{days}))
	}
	if season != "" {
		set(into(&tt.Season, ParseSeason)([]string{season}))
	}
	if first != "" {
		set(into(&tt.First, ParseDate)([]string{first}))
	}
	if away != "" {
		set(into(&tt.Away, ParseSeason)([]string{away}))
	}
	if err != nil {
		t.Fatal(err)
	}
	return tt
}

// Dates counted by hand in the calendar of 2025, which begins on a Wednesday.
func TestEveryFewDaysAndAway(t *testing.T) {
	c := yearOf(t, "Europe/Amsterdam", 60, 60)
	for _, tc := range []struct {
		days, season, first, away string
		every, want               int
		some                      string // of the dates, in order
	}{
		{every: 3, want: 122, some: "1 Jan, 4 Jan, 31 Jan, 30 Dec"},                    // 1 + 3 k, k 0 to 121
		{every: 14, days: "mon", want: 26, some: "6 Jan, 20 Jan, 22 Dec"},              // the first Monday is the 6th
		{every: 2, days: "sat, sun", want: 52, some: "4 Jan, 12 Jan, 18 Jan, 26 Jan"},  // from Saturday the 4th: each weekend has one even day
		{every: 100, first: "3 Mar", want: 4, some: "3 Mar, 11 Jun, 19 Sep, 28 Dec"},   // from 3 March 2024 on the next is 7 April
		{every: 7, first: "3 Mar", want: 53, some: "5 Jan, 2 Mar, 3 Mar, 10 Mar"},      // 3 March was a Sunday in 2024, a Monday in 2025
		{every: 10, season: "1 Oct to 31 Mar", want: 19, some: "9 Jan, 30 Mar, 1 Oct"}, // 9 January is 100 days after 1 October 2024
		{every: 5, season: "1 jun to 10 jun, 20 jun to 30 jun", want: 5, some: "1 Jun, 6 Jun, 20 Jun, 25 Jun, 30 Jun"},
		{away: "24 Dec to 1 Jan", want: 356, some: "2 Jan, 23 Dec"},
		{away: "jul, 24 dec", days: "thu", want: 52 - 5, some: "26 Jun, 7 Aug"}, // Thursdays of July: 3, 10, 17, 24, 31
		{every: 3, away: "1 Jan to 3 Jan", want: 121, some: "4 Jan, 7 Jan"},     // absence does not shift the count
		{every: 365, first: "29 Feb", want: 2, some: "28 Feb, 1 Mar"},           // 365 days after that of 2024; 2025 has none
	} {
		tt := dated(t, tc.days, tc.season, tc.first, tc.away, tc.every)
		var got []string
		for _, d := range tt.ByDay(c) {
			got = append(got, civil(d.Day).Format("2 Jan"))
		}
		if len(got) != tc.want {
			t.Errorf("%v: %d dates, want %d: %v", tt, len(got), tc.want, got)
		}
		at := 0
		for _, date := range strings.Split(tc.some, ", ") {
			k := slices.Index(got[at:], date)
			if k < 0 {
				t.Errorf("%v: %s is missing or out of order in %v", tt, date, got)
				break
			}
			at += k
		}
		if h := hours(c, tt, nil); h != float64(tc.want) {
			t.Errorf("%v: on for %v h, want %d", tt, h, tc.want)
		}
		if !tt.RunsIn(2025) || tt.Always() {
			t.Errorf("%v: RunsIn or Always is wrong", tt)
		}
	}
	if dated(t, "tue", "", "6 Jan", "", 7).RunsIn(2025) {
		t.Error("every 7 days from Monday 6 January (a Saturday in 2024) there is never a Tuesday")
	}
}

func TestDateWords(t *testing.T) {
	tt := dated(t, "", "", "3 Mar", "12 Jul to 2 Aug", 3)
	tt.Hours = nil
	if got := tt.String(); got != "every 3 days from 3 Mar; away 12 Jul to 2 Aug" {
		t.Errorf("String is %q", got)
	}
	for words, want := range map[string]string{
		"3 Mar, 4 Mar":  "takes one date; write it as 3 Mar",
		"mar":           `"mar" is a whole month; write a date, as 1 Mar`,
		"30 Feb":        "30 Feb does not exist: February has 29 days",
		"3 Mar to 5":    `"3 mar to 5" is not a date of the year; write it as 1 Oct`,
		"":              "has an empty entry; leave the key out where nothing limits",
		"3rd of March.": `"3rd of march." is not a date of the year; write it as 1 Oct`,
	} {
		if _, err := ParseDate([]string{words}); err == nil || err.Error() != want {
			t.Errorf("%q: got %v, want %s", words, err, want)
		}
	}
	if d, err := ParseDate([]string{"Mar 3"}); err != nil || d != (Date{time.March, 3}) {
		t.Errorf("Mar 3 is %v, %v", d, err)
	}
	if f := (&Timetable{First: Date{3, 3}}).Check(); len(f) != 1 || tt.Check() != nil {
		t.Errorf("a first day without every_days: %v", f)
	}
}

// By day or not, a timetable is on for the same time, and the wall shows what is said.
func TestByDayAgainstStretches(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		name := rapid.SampledFrom([]string{"Europe/Amsterdam", "Australia/Lord_Howe", "Asia/Kolkata", "America/Santiago"}).Draw(t, "zone")
		z, err := time.LoadLocation(name)
		if err != nil {
			t.Fatal(err)
		}
		start := time.Date(2025, time.Month(rapid.IntRange(1, 12).Draw(t, "month")), 1, 0, 0, 0, 0, time.UTC)
		c := New(start, 60, 24*40, z)
		from := rapid.IntRange(0, 1439).Draw(t, "from")
		tt := Timetable{EveryDays: rapid.IntRange(0, 5).Draw(t, "every"),
			Hours: []Span{{from, from + rapid.IntRange(1, 1440).Draw(t, "minutes")}}}
		var byDay, whole int
		for _, d := range tt.ByDay(c) {
			for _, p := range d.Parts {
				byDay += min(p.ToS, c.N*3600) - max(p.FromS, 0)
				wall := time.Unix(c.startS+int64(p.FromS), 0).In(z)
				midnight := time.Date(wall.Year(), wall.Month(), wall.Day(), 0, 0, 0, 0, time.UTC).Unix()
				if want := int(midnight-d.Day*dayS) + wall.Hour()*3600 + wall.Minute()*60; p.WallS != want {
					t.Fatalf("%s, %v: the wall shows %d s, want %d", name, wall, p.WallS, want)
				}
			}
		}
		for _, s := range tt.Stretches(c) {
			whole += s.ToS - s.FromS
		}
		if byDay != whole {
			t.Fatalf("%s, %v: %d s by day, %d s in all", name, tt, byDay, whole)
		}
	})
}
