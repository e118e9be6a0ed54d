package clock

import (
	"cmp"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// ParseDays reads weekdays: "fri", "mon to fri", "every day", "weekdays", "weekend", or several of these, as a list or with
// commas. Names may be written out. A day named twice is refused.
func ParseDays(words []string) (Days, error) {
	all, err := items(words)
	if err != nil {
		return 0, err
	}
	var days Days
	for _, item := range all {
		from, to, err := daySpan(item)
		if err != nil {
			return 0, err
		}
		for i := from; ; i = (i + 1) % 7 {
			bit := Days(1) << weekdayAt(i)
			if days&bit != 0 {
				return 0, fmt.Errorf("%s is named twice", dayWord(i))
			}
			days |= bit
			if i == to {
				break
			}
		}
	}
	if days == 1<<7-1 {
		days = 0
	}
	return days, nil
}

// daySpan reads one item into places counted from Monday.
func daySpan(item string) (from, to int, err error) {
	switch item {
	case "every day":
		return 0, 6, nil
	case "weekdays":
		return 0, 4, nil
	case "weekend":
		return 5, 6, nil
	}
	first, last, isSpan := cut(item)
	if from, err = dayPlace(first); err != nil || !isSpan {
		return from, from, err
	}
	if to, err = dayPlace(last); err == nil && from == to {
		err = fmt.Errorf("%q begins and ends on the same day; write %s, or every day", item, dayWord(from))
	}
	return from, to, err
}

func dayPlace(word string) (int, error) {
	known := []string{"every day", "weekdays", "weekend"}
	for i := range 7 {
		name := strings.ToLower(weekdayAt(i).String())
		if len(word) >= 3 && strings.HasPrefix(name+"s", word) {
			return i, nil
		}
		known = append(known, name, name[:3])
	}
	near := nearest(word, known)
	if strings.HasSuffix(near, "day") && near != "every day" {
		near = near[:3]
	}
	return 0, unknown(word, "a weekday", near, "mon, tue, wed, thu, fri, sat or sun")
}

// ParseHours reads parts of the day: "17:00 to 21:30", or several, as a list or with commas. One that ends before it
// begins passes midnight. Spans that overlap, today's or with those of the day before, are refused.
func ParseHours(words []string) ([]Span, error) {
	all, err := items(words)
	if err != nil {
		return nil, err
	}
	var spans []Span
	for _, item := range all {
		first, last, ok := cut(item)
		if !ok {
			return nil, fmt.Errorf("%q is not a span of hours; write it as 17:00 to 21:30", item)
		}
		s := Span{}
		if s.From, err = ParseTime(first); err != nil {
			return nil, err
		}
		if s.To, err = ParseTime(last); err != nil {
			return nil, err
		}
		if s.From == 24*60 {
			return nil, fmt.Errorf("%q: 24:00 can only be an end; a day begins at 00:00", item)
		}
		if s.From == s.To {
			return nil, fmt.Errorf("%q never runs: it ends as it begins; for the whole day write 00:00 to 24:00", item)
		}
		if s.To < s.From {
			s.To += 24 * 60
		}
		for _, o := range spans {
			if overlap(s, o, 24*60) {
				return nil, fmt.Errorf("%v and %v overlap; write them as one", o, s)
			}
		}
		spans = append(spans, s)
	}
	slices.SortFunc(spans, func(a, b Span) int { return cmp.Compare(a.From, b.From) })
	return spans, nil
}

// ParseTime reads one time of day, 00:00 to 24:00, into minutes since midnight.
func ParseTime(word string) (int, error) {
	word = tidy(word)
	short := strings.ReplaceAll(strings.ReplaceAll(word, ".", ""), " ", "")
	for i, half := range []string{"am", "pm"} {
		if clock12, ok := strings.CutSuffix(short, half); ok {
			say := "17:00"
			h, m, _ := strings.Cut(clock12, ":")
			if m == "" {
				m = "00"
			}
			if hour, ok := digits(h, 2); ok && hour >= 1 && hour <= 12 {
				if minute, ok := digits(m, 2); ok && minute < 60 {
					say = TimeWord((hour%12+12*i)*60 + minute)
				}
			}
			return 0, fmt.Errorf("%q: times run from 00:00 to 24:00; write it as %s", word, say)
		}
	}
	h, m, ok := strings.Cut(word, ":")
	hour, okH := digits(h, 2)
	minute, okM := digits(m, 2)
	switch {
	case !ok || !okH || !okM || len(m) != 2:
		return 0, fmt.Errorf("%q is not a time of day; write it as 17:00", word)
	case minute > 59 || hour*60+minute > 24*60:
		return 0, fmt.Errorf("%q is not a time of day: they run from 00:00 to 24:00", word)
	}
	return hour*60 + minute, nil
}

// digits reads a whole number of at most n digits.
func digits(s string, n int) (int, bool) {
	if s == "" || len(s) > n || strings.Trim(s, "0123456789") != "" {
		return 0, false
	}
	v, err := strconv.Atoi(s)
	return v, err == nil
}

// ParseSeason reads parts of the year, both ends included: "1 Oct to 31 Mar", "apr to oct", "24 dec", or several, as a
// list or with commas. One that ends before it begins passes New Year. Spans that overlap are refused.
func ParseSeason(words []string) ([]DateSpan, error) {
	all, err := items(words)
	if err != nil {
		return nil, err
	}
	var seasons []DateSpan
	var taken []Span
	for _, item := range all {
		first, last, isSpan := cut(item)
		if !isSpan {
			last = first
		}
		from, _, err := dateOf(first)
		if err != nil {
			return nil, err
		}
		_, to, err := dateOf(last)
		if err != nil {
			return nil, err
		}
		s := Span{placeInYear(from), placeInYear(to) + 1}
		if s.To <= s.From {
			s.To += 366
		}
		for i, o := range taken {
			if overlap(s, o, 366) {
				return nil, fmt.Errorf("%v and %v overlap; write them as one", seasons[i], DateSpan{from, to})
			}
		}
		taken = append(taken, s)
		seasons = append(seasons, DateSpan{from, to})
	}
	slices.SortFunc(seasons, func(a, b DateSpan) int { return cmp.Compare(placeInYear(a.From), placeInYear(b.From)) })
	return seasons, nil
}

// ParseDate reads one day of the year: "3 Mar".
func ParseDate(words []string) (Date, error) {
	all, err := items(words)
	if err != nil {
		return Date{}, err
	}
	if len(all) != 1 {
		return Date{}, errors.New("takes one date; write it as 3 Mar")
	}
	first, last, err := dateOf(all[0])
	if err == nil && first != last {
		err = fmt.Errorf("%q is a whole month; write a date, as 1 %s", all[0], first.Month.String()[:3])
	}
	return first, err
}

// placeInYear counts from 0 in a year that has 29 February.
func placeInYear(d Date) int {
	return time.Date(2024, d.Month, d.Day, 0, 0, 0, 0, time.UTC).YearDay() - 1
}

// dateOf reads "1 oct", or "oct" as its first and last day.
func dateOf(words string) (first, last Date, err error) {
	f := strings.Fields(words)
	const form = "write it as 1 Oct"
	if len(f) == 0 || len(f) > 2 {
		return first, last, fmt.Errorf("%q is not a date of the year; %s", words, form)
	}
	if len(f) == 2 && strings.Trim(f[1], "0123456789") == "" {
		f[0], f[1] = f[1], f[0] // oct 1
	}
	month, err := monthOf(f[len(f)-1])
	if err != nil {
		return first, last, err
	}
	days := time.Date(2024, month+1, 0, 0, 0, 0, 0, time.UTC).Day()
	if len(f) == 1 {
		return Date{month, 1}, Date{month, days}, nil
	}
	day, ok := digits(f[0], 2)
	switch {
	case !ok:
		return first, last, fmt.Errorf("%q is not a day of the month; %s", f[0], form)
	case day < 1 || day > days:
		return first, last, fmt.Errorf("%d %s does not exist: %s has %d days", day, month.String()[:3], month, days)
	}
	return Date{month, day}, Date{month, day}, nil
}

func monthOf(word string) (time.Month, error) {
	var known []string
	for m := time.January; m <= time.December; m++ {
		name := strings.ToLower(m.String())
		if len(word) >= 3 && strings.HasPrefix(name, word) {
			return m, nil
		}
		known = append(known, name, name[:3])
	}
	near := nearest(word, known)
	if near != "" {
		near = strings.ToUpper(near[:1]) + near[1:3]
	}
	return 0, unknown(word, "a month", near, "Jan, Feb, Mar and so on, as in 1 Oct to 31 Mar")
}

// unknown refuses a word, with the nearest known one or, when none is near, what is known.
func unknown(word, what, near, known string) error {
	if near != "" {
		return fmt.Errorf("%q is not %s; did you mean %s?", word, what, near)
	}
	return fmt.Errorf("%q is not %s; write %s", word, what, known)
}

// items splits a list of words at commas too and tidies each.
func items(words []string) ([]string, error) {
	var out []string
	for _, w := range words {
		for item := range strings.SplitSeq(w, ",") {
			if item = tidy(item); item == "" {
				return nil, errors.New("has an empty entry; leave the key out where nothing limits")
			}
			out = append(out, item)
		}
	}
	if len(out) == 0 {
		return nil, errors.New("is empty; leave the key out where nothing limits")
	}
	return out, nil
}

// tidy writes words in lower case with single spaces.
func tidy(s string) string { return strings.Join(strings.Fields(strings.ToLower(s)), " ") }

// cut parts "a to b".
func cut(item string) (from, to string, ok bool) { return strings.Cut(item, " to ") }

// overlap reports whether two spans share anything on a round of the given length.
func overlap(a, b Span, round int) bool {
	ab, ba := (b.From-a.From+round)%round, (a.From-b.From+round)%round
	return ab < a.To-a.From || ba < b.To-b.From
}

// nearest returns the known word that the fewest single-letter changes make of word, or "" when that takes many.
func nearest(word string, known []string) string {
	if len(word) > 20 {
		return "" // no slip of the finger
	}
	best, bestD := "", 3
	for _, k := range known {
		if d := changes(word, k); d < bestD && d < len(k)-1 {
			best, bestD = k, d
		}
	}
	return best
}

// changes counts the letters to insert, drop or replace that make b of a.
func changes(a, b string) int {
	row := make([]int, len(b)+1)
	for j := range row {
		row[j] = j
	}
	for i := range len(a) {
		diagonal := row[0]
		row[0] = i + 1
		for j := range len(b) {
			replace := diagonal
			if a[i] != b[j] {
				replace++
			}
			diagonal = row[j+1]
			row[j+1] = min(replace, row[j]+1, row[j+1]+1)
		}
	}
	return row[len(b)]
}
