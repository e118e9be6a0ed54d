package hourfile

import (
	"fmt"
	"strings"
	"time"
)

// moment is a date and time as a row writes it. The hour may be 24.
type moment struct {
	year, month, day, hour, minute, second int
	zoneMin                                int // east of UTC, where zoned
	zoned                                  bool
}

// fault says what is wrong with a moment, or "".
func (m moment) fault() string {
	switch {
	case m.year < 1800 || m.year > 2200:
		return fmt.Sprintf("year %d is not between 1800 and 2200", m.year)
	case m.month < 1 || m.month > 12 || m.day < 1 || m.day > daysIn(m.year, m.month):
		if m.month >= 1 && m.month <= 12 && m.day == 29 {
			return fmt.Sprintf("there is no 29 February %d", m.year)
		}
		return fmt.Sprintf("there is no day %d of month %d", m.day, m.month)
	case m.hour > 24 || m.hour == 24 && m.minute > 0:
		return fmt.Sprintf("hour %d is not between 0 and 24", m.hour)
	case m.minute > 59 && !(m.minute == 60 && m.second == 0) || m.second > 59:
		return fmt.Sprintf("minute %d is not between 0 and 59", m.minute)
	}
	return ""
}

func daysIn(year, month int) int {
	switch month {
	case 2:
		if year%4 == 0 && (year%100 != 0 || year%400 == 0) {
			return 29
		}
		return 28
	case 4, 6, 9, 11:
		return 30
	}
	return 31
}

// minutes returns the moment as minutes since 1970 of its own clock, to the nearest.
func (m moment) minutes() int64 {
	return int64(m.dayNumber())*1440 + int64(m.hour*60+m.minute+(m.second+30)/60)
}

// dayNumber counts days since 1970 by the rule of the Gregorian calendar: years of 365 days from March on, so that the
// leap day comes last; 153 days every five months.
func (m moment) dayNumber() int {
	y, mon := m.year, m.month-3
	if mon < 0 {
		y, mon = y-1, mon+12
	}
	return 365*y + y/4 - y/100 + y/400 + (153*mon+2)/5 + m.day - 1 - 719468
}

// clockTime shows minutes since 1970 of a file's clock as a time in UTC, to be read by its face.
func clockTime(min int64) time.Time { return time.Unix(min*60, 0).UTC() }

func face(min int64) string { return clockTime(min).Format("2 Jan 2006 15:04") }

// format is a way to write a moment: the words YYYY, MM, DD, hh, mm and ss stand for their numbers, all else for itself.
// A blank stands for a T too. What follows may be seconds and an offset from UTC: ":00", "Z", "+01:00".
type format []token

type token struct {
	kind    byte // one of YMDhms, or 0
	digits  int
	literal byte
}

// compile reads a format; a letter that is in none of the words is a slip.
func compile(s string) (format, error) {
	var f format
	for rest := s; rest != ""; {
		n := 1
		for n < len(rest) && rest[n] == rest[0] {
			n++
		}
		c := rest[0]
		switch {
		case c == 'Y' && n == 4, strings.IndexByte("MDhms", c) >= 0 && n <= 2:
			f = append(f, token{kind: c, digits: max(n, 2)})
			rest = rest[n:]
		case c >= 'A' && c <= 'Z' && c != 'T' || c >= 'a' && c <= 'z':
			return nil, fmt.Errorf("%q is not a way to write a time: it is made of YYYY, MM, DD, hh, mm and ss, as YYYY-MM-DD hh:mm", clip(s))
		default:
			f = append(f, token{literal: c})
			rest = rest[1:]
		}
	}
	return f, nil
}

// has reports whether the format holds a word that starts with c.
func (f format) has(c byte) bool {
	for _, t := range f {
		if t.kind == c {
			return true
		}
	}
	return false
}

// read adds what s says to m.
func (f format) read(s string, m *moment) bool {
	s = trim(s)
	width, packed := 0, len(f) > 1
	for _, t := range f {
		width += t.digits
		packed = packed && t.kind != 0
	}
	if packed && len(s) < width && len(s) > 0 && width <= 4 { // 100 for 01:00
		s = "0000"[:width-len(s)] + s
	}
	for i, t := range f {
		if t.kind == 0 {
			if s == "" || s[0] != t.literal && !(t.literal == ' ' && s[0] == 'T') {
				return false
			}
			s = s[1:]
			continue
		}
		v, n := 0, 0
		for n < len(s) && n < t.digits && s[n] >= '0' && s[n] <= '9' {
			v = v*10 + int(s[n]-'0')
			n++
		}
		ends := i+1 == len(f) || f[i+1].kind == 0 // nothing else would take the missing digit
		if n == 0 || n < t.digits && (t.kind == 'Y' || !ends) {
			return false
		}
		s = s[n:]
		switch t.kind {
		case 'Y':
			m.year = v
		case 'M':
			m.month = v
		case 'D':
			m.day = v
		case 'h':
			m.hour = v
		case 'm':
			m.minute = v
		case 's':
			m.second = v
		}
	}
	return f.tail(s, m)
}

// tail reads seconds and an offset behind a time of day.
func (f format) tail(s string, m *moment) bool {
	if s == "" {
		return true
	}
	if !f.has('h') {
		return false
	}
	if s[0] == ':' && f.has('m') && !f.has('s') && len(s) >= 3 && isDigit(s[1]) && isDigit(s[2]) {
		m.second = int(s[1]-'0')*10 + int(s[2]-'0')
		s = s[3:]
	}
	if strings.HasPrefix(s, ".") && (f.has('s') || m.second >= 0) {
		s = strings.TrimLeft(s[1:], "0123456789")
	}
	s = strings.TrimSpace(s)
	if s == "" {
		return true
	}
	zone, ok := offsetMin(s)
	if !ok {
		return false
	}
	m.zoned, m.zoneMin = true, zone
	return true
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// offsetMin reads an offset from UTC in minutes: Z, UTC, GMT, +1, -05:30, UTC+5.5.
func offsetMin(s string) (int, bool) {
	s = strings.ToUpper(strings.TrimSpace(s))
	if s == "Z" {
		return 0, true
	}
	for _, word := range []string{"UTC", "GMT"} {
		if rest, ok := strings.CutPrefix(s, word); ok {
			if s = strings.TrimSpace(rest); s == "" {
				return 0, true
			}
		}
	}
	sign := 1
	switch {
	case strings.HasPrefix(s, "+"):
		s = s[1:]
	case strings.HasPrefix(s, "-"):
		s, sign = s[1:], -1
	case strings.HasPrefix(s, "\u2212"):
		s, sign = strings.TrimPrefix(s, "\u2212"), -1
	}
	if s == "" || !isDigit(s[0]) {
		return 0, false
	}
	h, m, found := strings.Cut(s, ":")
	if !found && len(s) == 4 && !strings.ContainsAny(s, ".,") {
		h, m, found = s[:2], s[2:], true
	}
	if found {
		hours, okH := whole(h)
		minutes, okM := whole(m)
		if !okH || !okM || minutes > 59 || hours > 14 {
			return 0, false
		}
		return sign * (hours*60 + minutes), true
	}
	v, ok := parse(s)
	if !ok || v < 0 || v > 14 {
		return 0, false
	}
	return sign * int(v*60+0.5), true
}

// The ways to write a time that are known without being told, most common first. Dates with slashes and the year last
// are not among them: day and month could be either way round.
var (
	knownTimes = formats("YYYY-MM-DD hh:mm", "YYYY-MM-DD hh", "YYYY/MM/DD hh:mm", "DD.MM.YYYY hh:mm", "YYYYMMDD hh:mm",
		"YYYYMMDD:hhmm", "YYYYMMDD hhmm", "YYYYMMDDhhmm", "YYYYMMDDhh")
	knownDates = formats("YYYY-MM-DD", "YYYYMMDD", "YYYY/MM/DD", "DD.MM.YYYY")
	knownClock = formats("hh:mm", "hhmm")
	fourYears  = formats("YYYY")[0]
	twoMonths  = formats("MM")[0]
	twoDays    = formats("DD")[0]
	twoHours   = formats("hh")[0]
	twoMinutes = formats("mm")[0]
)

func formats(words ...string) []format {
	var all []format
	for _, w := range words {
		f, err := compile(w)
		if err != nil {
			panic("hourfile: " + err.Error())
		}
		all = append(all, f)
	}
	return all
}
