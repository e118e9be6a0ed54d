// Package hourfile reads a year of hourly weather from the text of an EPW or a TMY3 file.
//
// Both formats give local standard time without daylight saving, offsets and longitudes positive to the east, and hours
// 1 to 24 named by their end: hour 1 covers 00:00 to 01:00. Light is the mean of that hour (Wh/m2 over an hour is W/m2);
// temperature and wind are readings at the end of the hour, so the mean of an hour is taken as the mean of the readings
// at its two ends; the first hour of a file keeps its own.
//
// Sources: S. Wilcox, W. Marion, Users Manual for TMY3 Data Sets, NREL/TP-581-43156 (2008); D. B. Crawley, J. W. Hand,
// L. K. Lawrie, Improving the weather information available to simulation programs, Building Simulation '99, and the
// public EPW data dictionary. Only the columns that weather.Year has are read; the others may hold anything.
package hourfile

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"tideover/sim/limit"
	"tideover/weather"
)

// The largest file that is read.
const (
	MaxBytes = 64 << 20
	MaxRows  = 1_000_000
)

// Error is a fault of the file at a place. Columns are counted in bytes from 1, as editors do for plain text.
type Error struct {
	File      string
	Line, Col int
	Msg       string
}

func (e *Error) Error() string { return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Col, e.Msg) }

// Pos returns the place of the fault.
func (e *Error) Pos() (file string, line, col int) { return e.File, e.Line, e.Col }

// Read reads an EPW or a TMY3 file, told apart by their first lines. The name is used in errors only.
//
// The year is Measured when the dates of its rows follow one another, years included; else it is a typical year put
// together from months of different years, which must be whole: it is dated 2025, or 2024 with a 29 February, until
// weather.Year.WithCalendarYear says otherwise.
//
// A missing or impossible value of light or air temperature, rows out of order and a file over MaxBytes or MaxRows are
// refused with an *Error. Missing wind takes the reading before, or leaves the column out, and is noted.
func Read(name string, r io.Reader) (*weather.Year, error) {
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	t := &text{name: name, rest: string(data)}
	if len(data) > MaxBytes {
		return nil, t.fault(1, "the file is larger than %d MiB", MaxBytes>>20)
	}
	t.rest = strings.TrimPrefix(t.rest, "\ufeff")
	if !t.next() {
		return nil, &Error{name, 1, 1, "the file is empty"}
	}
	first := t.line
	if f := t.fields(1); strings.EqualFold(strings.TrimSpace(f[0].text), "LOCATION") {
		return readEPW(t)
	}
	if second, _, _ := strings.Cut(t.rest, "\n"); len(second) >= 4 && strings.EqualFold(second[:4], "date") {
		return readTMY3(t)
	}
	return nil, t.fault(1, "this is neither EPW (line 1 would start with LOCATION) nor TMY3 (line 2 would start with Date), but %q", clip(first))
}

// clip shortens what is quoted in a message.
func clip(s string) string {
	if len(s) > 40 {
		return s[:40] + "..."
	}
	return s
}

// text walks the lines of a file.
type text struct {
	name, rest string
	line       string // without its end
	lineNo     int    // from 1
	parts      []part // of the line, reused
}

// part is one field: what it holds, unquoted but not trimmed, and the column where it starts.
type part struct {
	text string
	col  int
}

// next goes to the next line and reports whether there is one.
func (t *text) next() bool {
	if t.rest == "" {
		return false
	}
	t.line, t.rest, _ = strings.Cut(t.rest, "\n")
	t.line = strings.TrimSuffix(t.line, "\r")
	t.lineNo++
	return true
}

// fields splits the line into its first n fields at least; what follows them may be left out. A field in quotes may hold
// commas. The result is good until the next call and has one element or more.
func (t *text) fields(n int) []part {
	t.parts = t.parts[:0]
	for at := 0; len(t.parts) < n; {
		rest := t.line[at:]
		var end int
		field := rest
		if strings.HasPrefix(rest, `"`) {
			end = strings.IndexByte(rest[1:], '"')
			if end >= 0 {
				field = rest[1 : 1+end]
				end += 2
				if more := strings.IndexByte(rest[end:], ','); more >= 0 {
					end += more
				} else {
					end = -1
				}
			}
		} else if end = strings.IndexByte(rest, ','); end >= 0 {
			field = rest[:end]
		}
		t.parts = append(t.parts, part{field, at + 1})
		if end < 0 {
			break
		}
		at += end + 1
	}
	return t.parts
}

func (t *text) fault(col int, format string, args ...any) *Error {
	return &Error{t.name, max(1, t.lineNo), col, fmt.Sprintf(format, args...)}
}

// need returns the first n fields of the line, or an error that says what the line lacks.
func (t *text) need(n int, what string) ([]part, error) {
	f := t.fields(n)
	if len(f) < n {
		return nil, t.fault(len(t.line)+1, "%s has %d fields, want %d at least", what, len(f), n)
	}
	return f, nil
}

// number reads a field that must be a number in a range.
func (t *text) number(f part, what string, allowed limit.Range) (float64, error) {
	v, ok := parse(f.text)
	if !ok {
		return 0, t.fault(f.col, "%s: %q is not a number", what, clip(f.text))
	}
	if msg := allowed.Fault(v); msg != "" {
		return 0, t.fault(f.col, "%s: %s", what, msg)
	}
	return v, nil
}

// parse reads a decimal number. It knows no inf, nan or hexadecimal, which strconv takes.
func parse(s string) (float64, bool) {
	s = strings.Trim(s, " \t")
	if v, ok := parseShort(s); ok {
		return v, true
	}
	for i := range len(s) {
		if c := s[i]; (c < '0' || c > '9') && !strings.ContainsRune("+-.eE", rune(c)) {
			return 0, false
		}
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil
}

// parseShort reads what nearly every field holds, such as "-12.5": at most 15 digits, so that the division by a power of
// ten rounds as strconv does.
func parseShort(s string) (float64, bool) {
	neg := strings.HasPrefix(s, "-")
	if neg {
		s = s[1:]
	}
	if len(s) == 0 || len(s) > 15 {
		return 0, false
	}
	whole, scale, digits := 0, 0.0, 0
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9':
			whole, digits = whole*10+int(c-'0'), digits+1
			scale *= 10
		case c == '.' && scale == 0:
			scale = 1
		default:
			return 0, false
		}
	}
	v := float64(whole)
	if scale > 1 {
		v /= scale
	}
	if neg {
		v = -v
	}
	return v, digits > 0
}

// site reads what both formats say of the place; the fields are name, latitude, longitude, offset and elevation.
func (t *text) site(y *weather.Year, name, lat, lon, offset, elevation part) error {
	y.Site.Name = latin(name.text)
	for _, v := range []struct {
		into    *float64
		from    part
		what    string
		allowed limit.Range
	}{
		{&y.Site.LatDeg, lat, "latitude", weather.LatitudeRange},
		{&y.Site.LonDeg, lon, "longitude", weather.LongitudeRange},
		{&y.Site.OffsetH, offset, "time zone", weather.OffsetRange},
		{&y.Site.ElevationM, elevation, "elevation", weather.ElevationRange},
	} {
		var err error
		if *v.into, err = t.number(v.from, v.what, v.allowed); err != nil {
			return err
		}
	}
	if off := math.Remainder(y.Site.LonDeg/15-y.Site.OffsetH, 24); math.Abs(off) > 2 {
		y.Warnings = append(y.Warnings, fmt.Sprintf(
			"the time zone of the file, UTC%+g, is %.1f h away from the sun at longitude %g: one of them may be wrong",
			y.Site.OffsetH, math.Abs(off), y.Site.LonDeg))
	}
	return nil
}

// latin turns text that is not UTF-8 into UTF-8, taking it for Latin-1.
func latin(s string) string {
	s = strings.TrimSpace(s)
	if utf8.ValidString(s) {
		return s
	}
	runes := make([]rune, len(s))
	for i := range len(s) {
		runes[i] = rune(s[i])
	}
	return string(runes)
}

// stamp is the date and hour of a row, and where they stand.
type stamp struct{ year, month, day, hour int }

func (s stamp) String() string {
	return fmt.Sprintf("hour %d of %d %s", s.hour, s.day, time.Month(s.month))
}

// quantity is a column to be read: a name for messages, its range, and which numbers mean "missing".
type quantity struct {
	name    string
	allowed limit.Range
	missing func(v float64) bool
}

// The places of the quantities in a row.
const (
	ghi = iota
	dni
	dhi
	temp
	wind
	quantities
)

// rows collects the hours of a file, in either format.
type rows struct {
	t          *text
	kinds      [quantities]quantity
	values     [quantities][]float64
	first      stamp
	last       stamp
	contiguous bool // each date is the day after the one before, years included
	leapDay    bool
	gap        *Error // the first missing value of light or temperature
	gaps       [quantities]int
	windless   int // rows before the first reading of the wind
}

// add takes one row; fields are in the order of the quantities.
func (r *rows) add(at stamp, fields [quantities]part) error {
	n := len(r.values[ghi])
	switch {
	case n >= MaxRows:
		return r.t.fault(1, "more than %d rows", MaxRows)
	case n == 0:
		if at.hour != 1 {
			return r.t.fault(1, "the first row is %v, want hour 1", at)
		}
		r.first, r.contiguous = at, true
	default:
		if err := r.follow(at); err != nil {
			return err
		}
	}
	r.last = at
	r.leapDay = r.leapDay || at.month == 2 && at.day == 29
	for q, f := range fields {
		k := &r.kinds[q]
		v, ok := parse(f.text)
		blank := !ok && strings.Trim(f.text, " \t") == ""
		if blank || ok && k.missing(v) {
			v = r.miss(q, n, f)
		} else if !ok {
			return r.t.fault(f.col, "%s: %q is not a number", k.name, clip(f.text))
		} else if msg := k.allowed.Fault(v); msg != "" {
			return r.t.fault(f.col, "%s: %s", k.name, msg)
		}
		r.values[q] = append(r.values[q], v)
	}
	return nil
}

// miss counts a missing value and returns what stands in for it.
func (r *rows) miss(q, row int, f part) float64 {
	r.gaps[q]++
	if q == wind {
		if r.windless == row {
			r.windless++
			return 0
		}
		return r.values[wind][row-1]
	}
	if r.gap == nil {
		code := "blank"
		if s := strings.Trim(f.text, " \t"); s != "" {
			code = "code " + s
		}
		r.gap = r.t.fault(f.col, "%s is missing (%s)", r.kinds[q].name, code)
	}
	return 0
}

// follow checks that a row is the hour after the one before. The year may jump from month to month, as in typical years.
func (r *rows) follow(at stamp) error {
	was := r.last
	ok := at.hour == was.hour+1 && at.month == was.month && at.day == was.day
	if ok && at.year != was.year {
		return r.t.fault(1, "the year changes from %d to %d within a day", was.year, at.year)
	}
	if !ok && was.hour == 24 && at.hour == 1 {
		real := nextDay(was, was.year)
		switch {
		case at.month == real.month && at.day == real.day && at.year == real.year:
			ok = true
		default:
			// Not the next day of the calendar, but it may be that of a year with or without a 29 February.
			a, b := nextDay(was, 2024), nextDay(was, 2025)
			ok = at.month == a.month && at.day == a.day || at.month == b.month && at.day == b.day
			r.contiguous = false
		}
	}
	if !ok {
		return r.t.fault(1, "%v comes after %v: a row is missing, doubled or out of order", at, was)
	}
	return nil
}

// nextDay returns the day after s in a calendar year.
func nextDay(s stamp, year int) stamp {
	d := time.Date(year, time.Month(s.month), s.day+1, 0, 0, 0, 0, time.UTC)
	return stamp{d.Year(), int(d.Month()), d.Day(), 1}
}

// check refuses a date or hour that does not exist.
func (t *text) check(at stamp, dateCol, hourCol int) error {
	switch {
	case at.month < 1 || at.month > 12 || at.day < 1 || at.day > daysIn[at.month-1]:
		return t.fault(dateCol, "there is no day %d of month %d", at.day, at.month)
	case at.year < 1800 || at.year > 2200:
		return t.fault(dateCol, "year %d is not between 1800 and 2200", at.year)
	case at.hour < 1 || at.hour > 24:
		return t.fault(hourCol, "hour %d is not between 1 and 24", at.hour)
	}
	return nil
}

var daysIn = [12]int{31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31}

// finish turns the rows into the year.
func (r *rows) finish(y *weather.Year) error {
	n := len(r.values[ghi])
	if n == 0 {
		return r.t.fault(len(r.t.line)+1, "the file has no hours")
	}
	if r.gap != nil {
		var counts []string
		for q, c := range r.gaps[:wind] {
			if c > 0 {
				counts = append(counts, fmt.Sprintf("%s in %d of %d hours", r.kinds[q].name, c, n))
			}
		}
		r.gap.Msg += "; missing in the file: " + strings.Join(counts, ", ")
		return r.gap
	}
	if r.last.hour != 24 {
		return r.t.fault(1, "the file ends at %v, in the middle of a day", r.last)
	}
	y.StepMin, y.Measured = 60, r.contiguous
	startYear := r.first.year
	if !r.contiguous {
		days := 365
		startYear = 2025
		if r.leapDay {
			days, startYear = 366, 2024
		}
		if n != 24*days || r.first.month != 1 || r.first.day != 1 {
			return r.t.fault(1, "the file has %d hours from %d %s; a year put together from several must have 8760 (or 8784 with a 29 February) from 1 January",
				n, r.first.day, time.Month(r.first.month))
		}
		y.Notes = append(y.Notes, "the months come from different years: a typical year, whose dates only place it in a calendar")
	}
	y.Start = time.Date(startYear, time.Month(r.first.month), r.first.day, 0, 0, 0, 0, y.Site.Zone())
	if end := y.Start.Add(time.Duration(n) * time.Hour); r.contiguous && !end.Equal(y.Start.AddDate(end.Year()-startYear, 0, 0)) {
		y.Warnings = append(y.Warnings, fmt.Sprintf("the file covers %s to %s, which is not a whole number of years",
			y.Start.Format("2 January 2006"), end.Add(-time.Hour).Format("2 January 2006")))
	}
	y.GHIWm2, y.DNIWm2, y.DHIWm2 = r.values[ghi], r.values[dni], r.values[dhi]
	y.TempC = meanOfEnds(r.values[temp])
	switch missing := r.gaps[wind]; {
	case missing == n:
		y.Notes = append(y.Notes, "the file has no wind")
	case missing > 0:
		w := r.values[wind]
		for i := range w[:r.windless] {
			w[i] = w[r.windless]
		}
		y.Notes = append(y.Notes, fmt.Sprintf("the wind is missing in %d of %d hours: the reading before was kept", missing, n))
		fallthrough
	default:
		y.WindMs = meanOfEnds(r.values[wind])
	}
	if err := y.Check(); err != nil { // every cell was checked on the way
		panic(fmt.Sprintf("hourfile: Read: %s: %v", r.t.name, err))
	}
	return nil
}

// meanOfEnds turns readings at the end of each hour into means of the hours, in place.
func meanOfEnds(readings []float64) []float64 {
	before := readings[0]
	for i, v := range readings {
		readings[i] = (before + v) / 2
		before = v
	}
	return readings
}

// whole reads a whole number of at most four digits, blanks around it allowed.
func whole(s string) (int, bool) {
	s = strings.Trim(s, " \t")
	if s == "" || len(s) > 4 {
		return 0, false
	}
	n := 0
	for i := range len(s) {
		if s[i] < '0' || s[i] > '9' {
			return 0, false
		}
		n = n*10 + int(s[i]-'0')
	}
	return n, true
}
