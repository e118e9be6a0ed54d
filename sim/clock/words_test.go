package clock

import (
	"reflect"
	"strings"
	"testing"
	"time"
)

func weekdays(ws ...time.Weekday) (d Days) {
	for _, w := range ws {
		d |= 1 << w
	}
	return d
}

func TestParseDays(t *testing.T) {
	for _, tc := range []struct {
		words string // list items parted by |
		want  Days
		say   string
	}{
		{"fri", weekdays(5), "fri"},
		{"Fridays", weekdays(5), "fri"},
		{"mon to fri", weekdays(1, 2, 3, 4, 5), "mon to fri"},
		{"weekdays", weekdays(1, 2, 3, 4, 5), "mon to fri"},
		{"sat to mon", weekdays(6, 0, 1), "mon, sat, sun"},
		{"mon|Wed|sunday", weekdays(1, 3, 0), "mon, wed, sun"},
		{"tues, thurs", weekdays(2, 4), "tue, thu"},
		{"weekend", weekdays(0, 6), "weekend"},
		{"every day", 0, "every day"},
		{"mon to sun", 0, "every day"},
	} {
		got, err := ParseDays(strings.Split(tc.words, "|"))
		if err != nil || got != tc.want || got.String() != tc.say {
			t.Errorf("%q: %07b %q, %v; want %07b %q", tc.words, got, got, err, tc.want, tc.say)
		}
	}
}

func TestParseHours(t *testing.T) {
	for _, tc := range []struct {
		words string
		want  []Span
		say   string
	}{
		{"17:00 to 21:30", []Span{{1020, 1290}}, "17:00 to 21:30"},
		{"7:05 TO  24:00", []Span{{425, 1440}}, "07:05 to 24:00"},
		{"22:00 to 06:00", []Span{{1320, 1800}}, "22:00 to 06:00"},
		{"22:00 to 00:00", []Span{{1320, 1440}}, "22:00 to 24:00"},
		{"17:00 to 18:00|07:00 to 08:00", []Span{{420, 480}, {1020, 1080}}, "07:00 to 08:00, 17:00 to 18:00"},
		{"07:00 to 08:00, 08:00 to 07:00", []Span{{420, 480}, {480, 1860}}, "07:00 to 08:00, 08:00 to 07:00"},
	} {
		got, err := ParseHours(strings.Split(tc.words, "|"))
		if err != nil || !reflect.DeepEqual(got, tc.want) || list(got) != tc.say {
			t.Errorf("%q: %v, %v; want %v", tc.words, got, err, tc.want)
		}
	}
}

func TestParseSeason(t *testing.T) {
	for _, tc := range []struct {
		words string
		want  []DateSpan
		say   string
	}{
		{"1 Oct to 31 Mar", []DateSpan{{Date{10, 1}, Date{3, 31}}}, "1 Oct to 31 Mar"},
		{"oct 1 to march 31", []DateSpan{{Date{10, 1}, Date{3, 31}}}, "1 Oct to 31 Mar"},
		{"Apr to Oct", []DateSpan{{Date{4, 1}, Date{10, 31}}}, "1 Apr to 31 Oct"},
		{"february", []DateSpan{{Date{2, 1}, Date{2, 29}}}, "1 Feb to 29 Feb"},
		{"24 Dec", []DateSpan{{Date{12, 24}, Date{12, 24}}}, "24 Dec"},
		{"1 Oct to 31 Oct|1 Mar to 30 Apr", []DateSpan{{Date{3, 1}, Date{4, 30}}, {Date{10, 1}, Date{10, 31}}}, "1 Mar to 30 Apr, 1 Oct to 31 Oct"},
		{"1 Jan to 31 Dec", []DateSpan{{Date{1, 1}, Date{12, 31}}}, "1 Jan to 31 Dec"},
	} {
		got, err := ParseSeason(strings.Split(tc.words, "|"))
		if err != nil || !reflect.DeepEqual(got, tc.want) || list(got) != tc.say {
			t.Errorf("%q: %v, %v; want %v", tc.words, got, err, tc.want)
		}
	}
}

func TestWordsRefused(t *testing.T) {
	days := func(w []string) error { _, err := ParseDays(w); return err }
	hours := func(w []string) error { _, err := ParseHours(w); return err }
	season := func(w []string) error { _, err := ParseSeason(w); return err }
	for _, tc := range []struct {
		parse func([]string) error
		words string
		want  string
	}{
		{days, "frday", `"frday" is not a weekday; did you mean fri?`},
		{days, "wen to fri", `"wen" is not a weekday; did you mean wed?`},
		{days, "weekand", `"weekand" is not a weekday; did you mean weekend?`},
		{days, "evry day", `"evry day" is not a weekday; did you mean every day?`},
		{days, "mo", `"mo" is not a weekday; did you mean mon?`},
		{days, "holidays at home", `"holidays at home" is not a weekday; write mon, tue, wed, thu, fri, sat or sun`},
		{days, "mon to mon", `"mon to mon" begins and ends on the same day; write mon, or every day`},
		{days, "mon to fri|wed", `wed is named twice`},
		{days, "", `has an empty entry; leave the key out where nothing limits`},
		{days, "mon,,tue", `has an empty entry; leave the key out where nothing limits`},
		{hours, "17:00", `"17:00" is not a span of hours; write it as 17:00 to 21:30`},
		{hours, "17:00-21:30", `"17:00-21:30" is not a span of hours; write it as 17:00 to 21:30`},
		{hours, "5 pm to 9 pm", `"5 pm": times run from 00:00 to 24:00; write it as 17:00`},
		{hours, "17:00 to 9:30p.m.", `"9:30p.m.": times run from 00:00 to 24:00; write it as 21:30`},
		{hours, "12am to 01:00", `"12am": times run from 00:00 to 24:00; write it as 00:00`},
		{hours, "17:00 to 25:00", `"25:00" is not a time of day: they run from 00:00 to 24:00`},
		{hours, "17:60 to 18:00", `"17:60" is not a time of day: they run from 00:00 to 24:00`},
		{hours, "17:00 to 24:01", `"24:01" is not a time of day: they run from 00:00 to 24:00`},
		{hours, "24:00 to 06:00", `"24:00 to 06:00": 24:00 can only be an end; a day begins at 00:00`},
		{hours, "1700 to 2100", `"1700" is not a time of day; write it as 17:00`},
		{hours, "-1:00 to 2:00", `"-1:00" is not a time of day; write it as 17:00`},
		{hours, "08:00 to 08:00", `"08:00 to 08:00" never runs: it ends as it begins; for the whole day write 00:00 to 24:00`},
		{hours, "17:00 to 21:00|20:00 to 22:00", `17:00 to 21:00 and 20:00 to 22:00 overlap; write them as one`},
		{hours, "22:00 to 06:00|05:00 to 08:00", `22:00 to 06:00 and 05:00 to 08:00 overlap; write them as one`},
		{season, "1 Okt to 31 Mar", `"okt" is not a month; did you mean Oct?`},
		{season, "1 Oct to 31 Feb", `31 Feb does not exist: February has 29 days`},
		{season, "31 apr to 1 may", `31 Apr does not exist: April has 30 days`},
		{season, "0 apr", `0 Apr does not exist: April has 30 days`},
		{season, "1st apr", `"1st" is not a day of the month; write it as 1 Oct`},
		{season, "2025-10-01", `"2025-10-01" is not a month; write Jan, Feb, Mar and so on, as in 1 Oct to 31 Mar`},
		{season, "the first of may", `"the first of may" is not a date of the year; write it as 1 Oct`},
		{season, "1 Oct to 31 Mar|1 Mar to 30 Apr", `1 Oct to 31 Mar and 1 Mar to 30 Apr overlap; write them as one`},
		{season, "1 Jan to 31 Dec|24 dec", `1 Jan to 31 Dec and 24 Dec overlap; write them as one`},
	} {
		if err := tc.parse(strings.Split(tc.words, "|")); err == nil || err.Error() != tc.want {
			t.Errorf("%q:\n got %v\nwant %s", tc.words, err, tc.want)
		}
	}
	for _, parse := range []func([]string) error{days, hours, season} {
		if err := parse(nil); err == nil {
			t.Error("an empty list is taken")
		}
	}
}

// FuzzParse: no words make a parser panic, and what it takes it says in words that mean the same.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"mon to fri", "17:00 to 21:30", "1 Oct to 31 Mar", "22:00 to 06:00, 07:00 to 08:00", "weekend",
		"frday", "31 feb", "5 pm to 9 pm", "a to b to c", " to ", "feb to feb", "\xff:00 to İ", "oct 1", "pm", "24:00 to 0:00"} {
		f.Add(s)
	}
	c := New(time.Date(2024, 12, 25, 0, 0, 0, 0, time.UTC), 60, 14*24, time.UTC)
	f.Fuzz(func(t *testing.T, s string) {
		words := strings.Split(s, "|")
		if d, err := ParseDays(words); err == nil {
			if again, err := ParseDays([]string{d.String()}); err != nil || again != d {
				t.Errorf("%q: %v, then %v, %v", s, d, again, err)
			}
		}
		var tt Timetable
		var err error
		if tt.Hours, err = ParseHours(words); err == nil {
			if again, err := ParseHours([]string{list(tt.Hours)}); err != nil || !reflect.DeepEqual(again, tt.Hours) {
				t.Errorf("%q: %v, then %v, %v", s, tt.Hours, again, err)
			}
		}
		if tt.Season, err = ParseSeason(words); err == nil {
			if again, err := ParseSeason([]string{list(tt.Season)}); err != nil || !reflect.DeepEqual(again, tt.Season) {
				t.Errorf("%q: %v, then %v, %v", s, tt.Season, again, err)
			}
		}
		for i, share := range tt.Shares(c, nil) {
			if !(share >= 0 && share <= 1) {
				t.Errorf("%q: share of step %d is %v", s, i, share)
			}
		}
	})
}
