package clock

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"tideover/sim/limit"
)

// Days is a set of weekdays: bit 1<<weekday. The zero value is every day.
type Days uint8

// Has reports whether w is in the set.
func (d Days) Has(w time.Weekday) bool { return d == 0 || d&(1<<w) != 0 }

// Span is a part of the day in minutes on the wall, From within and To without: 0 <= From < 1440 and
// From < To <= From+1440. A To past 1440 lies on the next day; the span belongs to the day on which it begins.
type Span struct{ From, To int }

// Date is a day of any year.
type Date struct {
	Month time.Month
	Day   int
}

// DateSpan is a part of the year, both ends included. It passes New Year when To comes before From.
type DateSpan struct{ From, To Date }

// Has reports whether a date lies in the span.
func (s DateSpan) Has(month, day int) bool { return s.has(time.Month(month), day) }

func (s DateSpan) has(m time.Month, d int) bool {
	day, from, to := int(m)*32+d, int(s.From.Month)*32+s.From.Day, int(s.To.Month)*32+s.To.Day
	if from <= to {
		return from <= day && day <= to
	}
	return day >= from || day <= to
}

// Timetable says when something is on, by the clock on the wall: within Hours of a date that is in Days and in Season, is
// one of every EveryDays, and is not in Away. What is left out does not limit, so the zero value is always. Hours, Season
// and Away each hold no spans that overlap.
type Timetable struct {
	Days      Days
	Hours     []Span
	Season    []DateSpan
	EveryDays int  // 0 and 1: every date
	First     Date // from which EveryDays counts, in each year anew; zero: see counted
	Away      []DateSpan
}

// HasSeason reports whether dates of the year limit the timetable, other than by absence.
func (t Timetable) HasSeason() bool {
	return len(t.Season) > 0 || t.EveryDays > 1 && t.First != (Date{})
}

// on reports whether t allows the date, given in days since 1970.
func (t Timetable) on(day int64) bool {
	date := civil(day)
	if !t.Days.Has(date.Weekday()) {
		return false
	}
	_, m, d := date.Date()
	in := func(s DateSpan) bool { return s.has(m, d) }
	if len(t.Season) > 0 && !slices.ContainsFunc(t.Season, in) || slices.ContainsFunc(t.Away, in) {
		return false
	}
	return t.EveryDays <= 1 || (day-t.counted(day))%int64(t.EveryDays) == 0
}

// counted returns the date, in days since 1970, from which EveryDays counts for a day that Days and Season allow: the
// latest First not after it or, without a First, the first weekday of Days from the beginning of the year on, or from
// that of the span of Season that holds the day. Absence does not shift the count. A 29 February that is not there is 1 March.
func (t Timetable) counted(day int64) int64 {
	y, m, d := civil(day).Date()
	first := t.First
	if first == (Date{}) {
		first = Date{time.January, 1}
		for _, s := range t.Season {
			if s.has(m, d) {
				first = s.From
			}
		}
	}
	from := dayNumber(y, first.Month, first.Day)
	if from > day {
		from = dayNumber(y-1, first.Month, first.Day)
	}
	if t.First == (Date{}) {
		for !t.Days.Has(civil(from).Weekday()) {
			from++
		}
	}
	return from
}

// RunsIn reports whether t allows any date of a calendar year.
func (t Timetable) RunsIn(year int) bool {
	for day := dayNumber(year, time.January, 1); day < dayNumber(year+1, time.January, 1); day++ {
		if t.on(day) {
			return true
		}
	}
	return false
}

// Always reports whether nothing limits the timetable.
func (t Timetable) Always() bool {
	return t.Days == 0 && len(t.Hours) == 0 && len(t.Season) == 0 && t.EveryDays <= 1 && len(t.Away) == 0
}

// Keys declares `days`, `hours` and `season`, in this order, each with prefix before it.
func (t *Timetable) Keys(prefix ...string) []limit.Key {
	p := strings.Join(prefix, "")
	return []limit.Key{
		limit.Parsed(p+"days", into(&t.Days, ParseDays),
			"weekdays, one or a list; a span that passes midnight belongs to the day on which it begins", "mon to fri").
			From("not given: every day"),
		limit.Parsed(p+"hours", into(&t.Hours, ParseHours),
			"hours by the clock on the wall, one span or a list; may pass midnight", "17:00 to 21:30").
			From("not given: all hours"),
		limit.Parsed(p+"season", into(&t.Season, ParseSeason),
			"dates of the year, both included, one span or a list; may pass New Year", "1 Oct to 31 Mar").
			From("not given: all year"),
	}
}

// MinutesADay is how long t is on in the spans of one of its dates, minutes, without clock changes.
func (t Timetable) MinutesADay() int {
	if len(t.Hours) == 0 {
		return 24 * 60
	}
	n := 0
	for _, h := range t.Hours {
		n += h.To - h.From
	}
	return n
}

// DateKeys declares `every_days`, `first_day` and `away`, in this order: what else may limit the dates of a load.
func (t *Timetable) DateKeys() []limit.Key {
	return []limit.Key{
		limit.Int("every_days", &t.EveryDays, limit.Between(0, 366),
			"on one date of so many, of those that days and season allow; 0: on all of them", "3").From("not given: every date"),
		limit.Parsed("first_day", into(&t.First, ParseDate),
			"date from which every_days counts, each year anew", "3 Mar").
			From("the first of the days in the year, or in each span of the season"),
		limit.Parsed("away", into(&t.Away, ParseSeason),
			"dates of the year on which it is not used, both included, one span or a list; may pass New Year", "12 Jul to 2 Aug").
			From("not given: never away"),
	}
}

// Check returns what is wrong with values that Keys and DateKeys take each alone.
func (t *Timetable) Check() []limit.Fault {
	if t.First != (Date{}) && t.EveryDays <= 1 {
		return []limit.Fault{{Key: "first_day", Msg: "is given without every_days, which counts from it", Example: ""}}
	}
	return nil
}

func into[T any](dst *T, parse func([]string) (T, error)) func([]string) error {
	return func(words []string) error {
		v, err := parse(words)
		if err == nil {
			*dst = v
		}
		return err
	}
}

// Stretch is a stretch of real time, s since the start of the first step.
type Stretch struct{ FromS, ToS int }

// spans calls f with each span of each date that t allows, in seconds since 1970 on the wall, from the day before the
// run to the day after.
func (t Timetable) spans(c *Clock, f func(fromS, toS int64)) {
	hours := t.Hours
	if len(hours) == 0 {
		hours = []Span{{0, 24 * 60}}
	}
	// The wall is at most a day off Unix time, and a span may come from the day before.
	for day := dayOf(c.startS) - 2; day <= dayOf(c.endS())+1; day++ {
		if !t.on(day) {
			continue
		}
		for _, h := range hours {
			f(day*dayS+int64(h.From)*60, day*dayS+int64(h.To)*60)
		}
	}
}

// Stretches returns when t is on within the run, in order and apart. An hour that the wall skips is not there; one that
// it repeats is there twice.
func (t Timetable) Stretches(c *Clock) []Stretch {
	var out []Stretch
	t.spans(c, func(fromS, toS int64) {
		for _, r := range c.rules {
			a := max(fromS-r.offS, r.fromS, c.startS)
			b := min(toS-r.offS, r.toS, c.endS())
			if a < b {
				out = append(out, Stretch{int(a - c.startS), int(b - c.startS)})
			}
		}
	})
	slices.SortFunc(out, func(a, b Stretch) int { return cmp.Compare(a.FromS, b.FromS) })
	return out
}

// Sessions returns one unbroken stretch for each span of each date that t allows: from the moment the wall first shows
// its start, or skips it, to the moment the wall first shows its end. Those that reach into the run are there whole, so
// the first may begin before 0 and the last may end after the run.
func (t Timetable) Sessions(c *Clock) []Stretch {
	var out []Stretch
	t.spans(c, func(fromS, toS int64) {
		a, b := c.moment(fromS), c.moment(toS)
		if a < b && b > c.startS && a < c.endS() {
			out = append(out, Stretch{int(a - c.startS), int(b - c.startS)})
		}
	})
	return out
}

// DayParts is when t is on within the spans that begin on one date.
type DayParts struct {
	Day   int64 // since 1970
	Parts []DayPart
}

// DayPart is a stretch of real time within which the wall runs on without a jump.
type DayPart struct {
	Stretch
	WallS int // what the wall shows at FromS, s since the midnight with which the date of DayParts begins
}

// ByDay returns what Stretches does, date by date, in order. What reaches into the run is there whole.
func (t Timetable) ByDay(c *Clock) []DayParts {
	var out []DayParts
	t.spans(c, func(fromS, toS int64) {
		day := dayOf(fromS)
		for _, r := range c.rules {
			a, b := max(fromS-r.offS, r.fromS), min(toS-r.offS, r.toS)
			if a >= b || b <= c.startS || a >= c.endS() {
				continue
			}
			if k := len(out) - 1; k < 0 || out[k].Day != day {
				out = append(out, DayParts{Day: day})
			}
			d := &out[len(out)-1]
			d.Parts = append(d.Parts, DayPart{Stretch{int(a - c.startS), int(b - c.startS)}, int(a + r.offS - day*dayS)})
		}
	})
	return out
}

// Shares returns the share, 0..1, of each step that lies inside t, exact to the minute. It uses dst when that is long
// enough.
func (t Timetable) Shares(c *Clock, dst []float64) []float64 {
	dst = slices.Grow(dst[:0], c.N)[:c.N]
	clear(dst)
	step := int(c.stepS)
	for _, s := range t.Stretches(c) {
		for i := s.FromS / step; i < c.N && i*step < s.ToS; i++ {
			dst[i] += float64(min(s.ToS, (i+1)*step) - max(s.FromS, i*step))
		}
	}
	for i := range dst {
		dst[i] /= float64(step)
	}
	return dst
}

// String says the days as they may be typed.
func (d Days) String() string {
	const weekend = 1<<time.Saturday | 1<<time.Sunday
	switch {
	case d == 0 || d == 1<<7-1:
		return "every day"
	case d == weekend:
		return "weekend"
	}
	var parts []string
	for i := 0; i < 7; i++ { // from Monday
		n := 0
		for i+n < 7 && d.Has(weekdayAt(i+n)) {
			n++
		}
		switch {
		case n >= 3:
			parts = append(parts, dayWord(i)+" to "+dayWord(i+n-1))
			i += n - 1
		case n > 0:
			parts = append(parts, dayWord(i))
		}
	}
	return strings.Join(parts, ", ")
}

func weekdayAt(fromMonday int) time.Weekday { return time.Weekday((fromMonday + 1) % 7) }

func dayWord(fromMonday int) string { return strings.ToLower(weekdayAt(fromMonday).String()[:3]) }

// String says the span as it may be typed.
func (s Span) String() string {
	to := s.To
	if to > 24*60 {
		to -= 24 * 60
	}
	return TimeWord(s.From) + " to " + TimeWord(to)
}

// TimeWord writes a minute of the day as it may be typed: 17:00.
func TimeWord(minute int) string { return fmt.Sprintf("%02d:%02d", minute/60, minute%60) }

// String says the date as it may be typed: 1 Oct.
func (d Date) String() string { return fmt.Sprintf("%d %s", d.Day, d.Month.String()[:3]) }

// String says the dates as they may be typed.
func (s DateSpan) String() string {
	if s.From == s.To {
		return s.From.String()
	}
	return s.From.String() + " to " + s.To.String()
}

// String says the timetable in words; "always" when nothing limits it.
func (t Timetable) String() string {
	if t.Always() {
		return "always"
	}
	var parts []string
	if t.Days != 0 {
		parts = append(parts, t.Days.String())
	}
	if len(t.Hours) > 0 {
		parts = append(parts, list(t.Hours))
	}
	if len(t.Season) > 0 {
		parts = append(parts, list(t.Season))
	}
	if t.EveryDays > 1 {
		every := fmt.Sprintf("every %d days", t.EveryDays)
		if t.First != (Date{}) {
			every += " from " + t.First.String()
		}
		parts = append(parts, every)
	}
	if len(t.Away) > 0 {
		parts = append(parts, "away "+list(t.Away))
	}
	return strings.Join(parts, "; ")
}

func list[T fmt.Stringer](spans []T) string {
	words := make([]string, len(spans))
	for i, s := range spans {
		words[i] = s.String()
	}
	return strings.Join(words, ", ")
}
