package clock

import (
	"math"
	"reflect"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tideover/sim/limit"
)

// hours sums the shares of the steps that keep allows, in hours.
func hours(c *Clock, t Timetable, keep func(i int) bool) float64 {
	var h float64
	for i, s := range t.Shares(c, nil) {
		if keep == nil || keep(i) {
			h += s * c.StepH()
		}
	}
	return h
}

func must[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func on(c *Clock, date string) func(int) bool {
	return func(i int) bool { return c.Dates[c.Day[i]].Format("2 Jan") == date }
}

func TestZeroIsAlways(t *testing.T) {
	c := yearOf(t, "Asia/Kolkata", 0, 60)
	for i, s := range (Timetable{}).Shares(c, nil) {
		if s != 1 {
			t.Fatalf("step %d has share %v, want 1", i, s)
		}
	}
}

func TestHoursThroughClockChanges(t *testing.T) {
	// Hand counts. In Amsterdam 02:00 to 03:00 does not exist on 30 March 2025 and comes twice on 26 October; at Lord
	// Howe it is 02:00 to 02:30 on 5 October, and 01:30 to 02:00 comes twice on 6 April.
	for _, tc := range []struct {
		zone          string
		stdMin, step  int
		hours, date   string
		want, session float64 // h; session 0: not asked
	}{
		{"Europe/Amsterdam", 60, 60, "02:00 to 03:00", "30 Mar", 0, 0},
		{"Europe/Amsterdam", 60, 60, "02:15 to 02:45", "30 Mar", 0, 0},
		{"Europe/Amsterdam", 60, 60, "01:30 to 03:30", "30 Mar", 1, 1},
		{"Europe/Amsterdam", 60, 60, "00:00 to 24:00", "30 Mar", 23, 23},
		{"Europe/Amsterdam", 60, 60, "02:00 to 03:00", "26 Oct", 2, 2}, // the wall shows 03:00 only after both
		{"Europe/Amsterdam", 60, 15, "02:15 to 02:45", "26 Oct", 1, 0.5},
		{"Europe/Amsterdam", 60, 60, "01:30 to 03:30", "26 Oct", 3, 3},
		{"Europe/Amsterdam", 60, 60, "00:00 to 24:00", "26 Oct", 25, 25},
		{"Pacific/Auckland", 720, 60, "02:00 to 03:00", "28 Sep", 0, 0},
		{"Pacific/Auckland", 720, 60, "02:00 to 03:00", "6 Apr", 2, 2},
		{"Australia/Lord_Howe", 630, 60, "01:00 to 03:00", "5 Oct", 1.5, 1.5},
		{"Australia/Lord_Howe", 630, 60, "01:00 to 03:00", "6 Apr", 2.5, 2.5},
		{"Australia/Lord_Howe", 630, 60, "01:30 to 02:00", "6 Apr", 1, 1},
		{"Asia/Kolkata", 0, 60, "05:10 to 05:40", "7 Jul", 0.5, 0.5},
	} {
		c := yearOf(t, tc.zone, tc.stdMin, tc.step)
		tt := Timetable{Hours: must(ParseHours([]string{tc.hours})), Season: must(ParseSeason([]string{tc.date}))}
		if got := hours(c, tt, nil); math.Abs(got-tc.want) > 1e-12 { // sums of a few shares
			t.Errorf("%s, %s on %s: on for %v h, want %v", tc.zone, tc.hours, tc.date, got, tc.want)
		}
		if tc.session == 0 {
			continue
		}
		if s := tt.Sessions(c); len(s) != 1 || float64(s[0].ToS-s[0].FromS)/3600 != tc.session {
			t.Errorf("%s, %s on %s: sessions %v s, want one of %v h", tc.zone, tc.hours, tc.date, s, tc.session)
		}
	}
}

func TestStepAcrossMidnight(t *testing.T) {
	// 1 January 2025 was a Wednesday; 18:00 to 19:00 UTC is 23:30 to 00:30 in India.
	c := yearOf(t, "Asia/Kolkata", 0, 60)
	got := Timetable{Days: must(ParseDays([]string{"wed"}))}.Shares(c, nil)
	for i, want := range map[int]float64{0: 1, 17: 1, 18: 0.5, 19: 0, 6*24 + 18: 0.5, 6*24 + 19: 1} {
		if got[i] != want {
			t.Errorf("step %d has share %v, want %v", i, got[i], want)
		}
	}
}

func TestWeekdaysOf2025(t *testing.T) {
	c := yearOf(t, "Europe/Amsterdam", 60, 60)
	for w := time.Sunday; w <= time.Saturday; w++ {
		n := 0
		for d := time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC); d.Year() == 2025; d = d.AddDate(0, 0, 1) {
			if d.Weekday() == w {
				n++
			}
		}
		tt := Timetable{Days: 1 << w, Hours: []Span{{12 * 60, 13 * 60}}}
		if got := hours(c, tt, nil); got != float64(n) {
			t.Errorf("%v: noon to one on %v days, want %d", w, got, n)
		}
	}
}

func TestSpanPastMidnightBelongsToItsDay(t *testing.T) {
	c := yearOf(t, "Europe/Amsterdam", 60, 60)
	// 3 January 2025 was the first Friday.
	tt := Timetable{Days: must(ParseDays([]string{"fri"})), Hours: must(ParseHours([]string{"22:00 to 02:00"}))}
	for date, want := range map[string]float64{"2 Jan": 0, "3 Jan": 2, "4 Jan": 2, "5 Jan": 0} {
		if got := hours(c, tt, on(c, date)); got != want {
			t.Errorf("%s: on for %v h, want %v", date, got, want)
		}
	}
	// A span that began on the last day of December before the run reaches into it.
	tt = Timetable{Season: must(ParseSeason([]string{"31 Dec"})), Hours: must(ParseHours([]string{"22:00 to 02:00"}))}
	if got := hours(c, tt, on(c, "1 Jan")); got != 2 {
		t.Errorf("1 Jan: on for %v h, want 2", got)
	}
	// Data in UTC begin at 15:00 of 31 December in Anchorage; a span of the day before that reaches into them.
	c = yearOf(t, "America/Anchorage", 0, 60)
	tt = Timetable{Season: must(ParseSeason([]string{"30 Dec"})), Hours: must(ParseHours([]string{"23:00 to 16:30"}))}
	if got := tt.Shares(c, nil); got[0] != 1 || got[1] != 0.5 || got[2] != 0 {
		t.Errorf("Anchorage: shares %v, want 1, 0.5, 0", got[:3])
	}
}

func TestSeasonPastNewYear(t *testing.T) {
	// October to March: 31+30+31 + 31+28+31 = 182 days; one loses an hour and one gains it.
	c := yearOf(t, "Europe/Amsterdam", 60, 60)
	tt := Timetable{Season: must(ParseSeason([]string{"1 Oct to 31 Mar"}))}
	if got := hours(c, tt, nil); got != 182*24 {
		t.Errorf("on for %v h, want %v", got, 182*24)
	}
	for date, want := range map[string]float64{"30 Sep": 0, "1 Oct": 24, "31 Dec": 24, "1 Jan": 24, "31 Mar": 24, "1 Apr": 0} {
		if got := hours(c, tt, on(c, date)); got != want {
			t.Errorf("%s: on for %v h, want %v", date, got, want)
		}
	}
}

// anyTimetable draws a timetable of up to two spans of each kind that do not overlap.
func anyTimetable(t *rapid.T) Timetable {
	tt := Timetable{Days: Days(rapid.IntRange(0, 126).Draw(t, "days"))}
	for range rapid.IntRange(0, 2).Draw(t, "spans") {
		from, length := rapid.IntRange(0, 1439).Draw(t, "from"), rapid.IntRange(1, 1439).Draw(t, "length")
		if s := (Span{from, from + length}); len(tt.Hours) == 0 || !overlap(s, tt.Hours[0], 1440) {
			tt.Hours = append(tt.Hours, s)
		}
	}
	if rapid.Bool().Draw(t, "has season") {
		date := rapid.Custom(func(t *rapid.T) Date {
			return Date{time.Month(rapid.IntRange(1, 12).Draw(t, "month")), rapid.IntRange(1, 28).Draw(t, "day")}
		})
		tt.Season = []DateSpan{{date.Draw(t, "first"), date.Draw(t, "last")}}
	}
	return tt
}

func TestSharesAgainstEveryMinuteOnTheWall(t *testing.T) {
	zones := []string{"Europe/Amsterdam", "Pacific/Auckland", "Australia/Lord_Howe", "Asia/Kolkata", "America/Santiago", "UTC"}
	rapid.Check(t, func(t *rapid.T) {
		z, err := time.LoadLocation(rapid.SampledFrom(zones).Draw(t, "zone"))
		if err != nil {
			t.Fatal(err)
		}
		tt := anyTimetable(t)
		allowed := func(date time.Time) bool {
			if !tt.Days.Has(date.Weekday()) {
				return false
			}
			if len(tt.Season) == 0 {
				return true
			}
			key := func(m time.Month, d int) int { return int(m)*100 + d }
			day, from, to := key(date.Month(), date.Day()), key(tt.Season[0].From.Month, tt.Season[0].From.Day), key(tt.Season[0].To.Month, tt.Season[0].To.Day)
			if from > to {
				return !(day > to && day < from)
			}
			return day >= from && day <= to
		}
		inside := func(wall time.Time) bool {
			y, m, d := wall.Date()
			today := time.Date(y, m, d, 0, 0, 0, 0, time.UTC)
			minute := wall.Hour()*60 + wall.Minute()
			if len(tt.Hours) == 0 {
				return allowed(today)
			}
			for _, s := range tt.Hours {
				if minute >= s.From && minute < s.To && allowed(today) || minute+1440 < s.To && allowed(today.AddDate(0, 0, -1)) {
					return true
				}
			}
			return false
		}
		start := time.Date(2025, time.Month(rapid.IntRange(1, 12).Draw(t, "month")), rapid.IntRange(1, 28).Draw(t, "day"), 0, 0, 0, 0,
			time.FixedZone("", rapid.IntRange(-4, 24).Draw(t, "stdHalfHours")*1800))
		stepMin := rapid.SampledFrom([]int{1, 5, 10, 15, 30, 60}).Draw(t, "stepMin")
		c := New(start, stepMin, 9*24*60/stepMin, z)
		for i, got := range tt.Shares(c, nil) {
			n := 0
			for m := range stepMin {
				if inside(start.Add(time.Duration(i*stepMin+m) * time.Minute).In(z)) {
					n++
				}
			}
			if want := float64(n) / float64(stepMin); math.Abs(got-want) > 1e-15 {
				t.Fatalf("%v: step %d, %v: share %v, want %v", tt, i, c.StepStart(i), got, want)
			}
		}
		last := 0
		for _, s := range tt.Stretches(c) {
			if s.FromS < last || s.ToS <= s.FromS || s.ToS > c.N*stepMin*60 {
				t.Fatalf("%v: stretches %v", tt, tt.Stretches(c))
			}
			last = s.ToS
		}
	})
}

func TestKeys(t *testing.T) {
	var tt Timetable
	want := Timetable{Days: 1 << time.Friday, Hours: []Span{{17 * 60, 21*60 + 30}}, Season: []DateSpan{{Date{10, 1}, Date{3, 31}}}}
	words := map[string]string{"on_days": "fri", "on_hours": "17:00 to 21:30", "on_season": "1 Oct to 31 Mar"}
	for _, k := range tt.Keys("on_") {
		if k.Kind != limit.Words {
			t.Errorf("%s is of kind %v", k.Name, k.Kind)
		}
		if err := k.SetWords([]string{k.Example}); err != nil {
			t.Errorf("%s: the example %q is refused: %v", k.Name, k.Example, err)
		}
		if err := k.SetWords([]string{words[k.Name]}); err != nil {
			t.Errorf("%s: %v", k.Name, err)
		}
		if err := k.SetWords([]string{"nonsense"}); err == nil {
			t.Errorf("%s takes nonsense", k.Name)
		}
	}
	if !reflect.DeepEqual(tt, want) {
		t.Errorf("got %+v, want %+v", tt, want)
	}
	if got := tt.String(); got != "fri; 17:00 to 21:30; 1 Oct to 31 Mar" {
		t.Errorf("String is %q", got)
	}
	if !tt.HasSeason() || tt.Always() || (Timetable{}).HasSeason() || (Timetable{}).String() != "always" {
		t.Error("HasSeason, Always or the zero value's words are wrong")
	}
}

// Calendar facts: 2024 has a 29 February, a Thursday; 2025 has none, begins on a Wednesday, has a Thursday on 1 May and a
// Tuesday on 30 December.
func TestRunsIn(t *testing.T) {
	for _, c := range []struct {
		days, season string
		year         int
		want         bool
	}{
		{"", "29 Feb", 2024, true}, {"", "29 Feb", 2025, false}, {"thu", "29 Feb", 2024, true}, {"fri", "29 Feb", 2024, false},
		{"thu", "1 May", 2025, true}, {"mon to wed", "1 May", 2025, false}, {"tue", "30 Dec to 5 Jan", 2025, true}, {"mon", "30 Dec to 5 Jan", 2025, false}, {"sun", "", 2025, true},
	} {
		var tt Timetable
		var err error
		if c.days != "" {
			if tt.Days, err = ParseDays([]string{c.days}); err != nil {
				t.Fatal(err)
			}
		}
		if c.season != "" {
			if tt.Season, err = ParseSeason([]string{c.season}); err != nil {
				t.Fatal(err)
			}
		}
		if got := tt.RunsIn(c.year); got != c.want {
			t.Errorf("%q, %q in %d: got %v, want %v", c.days, c.season, c.year, got, c.want)
		}
	}
}
