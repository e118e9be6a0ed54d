// Package report turns a ledger into text for a screen, CSV, JSON and files on disk. It rounds, it never computes.
//
// Text is plain ASCII but for the user's own words, at most 80 columns wide, without colour, with units everywhere.
package report

import (
	"fmt"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"tideover/sim/ledger"
	"tideover/sim/precheck"
	"tideover/sim/study"
)

// Header is what the run itself does not know: the words the user gave, and where the weather came from.
// Empty fields are left out of the text.
type Header struct {
	Title    string // the scenario's name
	Scenario string // the file, or the shipped scenario
	About    string // the scenario's own line on itself
	Place    string // one line: name and coordinates
	Weather  string // one line: source and year
	System   string // one line: ratings of array, battery and inverter
	Carried  bool   // the starting charge is that at the end of the year before

	Stagger *study.Stagger // loads that are too much at once; nil: none are, or it was not asked

	Beside *precheck.Beside // what stands beside the run; nil: not known
	Hand   bool             // the text shows hand sum and usable capacity
}

// columns is the width of the screen.
const columns = 80

// caution closes every text.
const caution = "Estimates, no guarantee or certificate: local code and licensed people decide."

// plain makes the user's words safe in a column: one line, no control or formatting characters.
func plain(s string) string {
	return strings.Map(func(r rune) rune {
		switch {
		case r == utf8.RuneError:
			return '?'
		case unicode.IsControl(r), unicode.Is(unicode.Zl, r), unicode.Is(unicode.Zp, r):
			return ' '
		case unicode.Is(unicode.Cf, r):
			return -1
		}
		return r
	}, s)
}

// runeWidth is the number of columns a terminal gives r: 0 for marks that combine, 2 for the wide East Asian ranges
// and emoji (blocks of Unicode Standard Annex 11, whole blocks only), else 1.
func runeWidth(r rune) int {
	switch {
	case unicode.In(r, unicode.Mn, unicode.Me):
		return 0
	case r >= 0x1100 && r <= 0x115f, r >= 0x2e80 && r <= 0xa4cf, r >= 0xac00 && r <= 0xd7a3,
		r >= 0xf900 && r <= 0xfaff, r >= 0xfe30 && r <= 0xfe6f, r >= 0xff00 && r <= 0xff60,
		r >= 0xffe0 && r <= 0xffe6, r >= 0x1f300 && r <= 0x1faff, r >= 0x20000 && r <= 0x3fffd:
		return 2
	}
	return 1
}

// width is the number of columns s takes.
func width(s string) int {
	n := 0
	for _, r := range s {
		n += runeWidth(r)
	}
	return n
}

// cut shortens s to n columns, with two dots where something is missing.
func cut(s string, n int) string {
	if s = plain(s); width(s) <= n {
		return s
	}
	return strings.TrimRight(head(s, n-2), " ") + ".."
}

// head is as much of s as fits in n columns.
func head(s string, n int) string {
	used := 0
	for i, r := range s {
		if used += runeWidth(r); used > n {
			return s[:i]
		}
	}
	return s
}

// left and right pad s, cut to n columns.
func left(s string, n int) string {
	s = cut(s, n)
	return s + strings.Repeat(" ", n-width(s))
}

func right(s string, n int) string {
	s = cut(s, n)
	return strings.Repeat(" ", n-width(s)) + s
}

// unitWords are not parted from their numbers.
var unitWords = []string{"%", "W", "Wh", "kWh", "V", "VA", "A", "kA", "Ah", "m", "mm2", "AWG", "h", "K", "C", "deg", "days", "day", "m2"}

// glued is the words of s, a unit together with its number.
func glued(s string) []string {
	var words []string
	for w := range strings.FieldsSeq(plain(s)) {
		if n := len(words); n > 0 && slices.Contains(unitWords, strings.TrimRight(w, ",;:.)")) && endsInDigit(words[n-1]) {
			words[n-1] += " " + w
			continue
		}
		words = append(words, w)
	}
	return words
}

func endsInDigit(s string) bool { c := s[len(s)-1]; return c >= '0' && c <= '9' }

// wrap breaks s at spaces into lines that, after indent columns, end by the 80th. A longer word is broken.
func wrap(s string, indent int) []string {
	room := columns - indent
	var lines []string
	line := ""
	for _, word := range glued(s) {
		if line != "" && width(line)+1+width(word) <= room {
			line += " " + word
			continue
		}
		if line != "" {
			lines = append(lines, line)
		}
		for width(word) > room {
			part := head(word, room)
			lines, word = append(lines, part), word[len(part):]
		}
		line = word
	}
	if line != "" {
		lines = append(lines, line)
	}
	return lines
}

// paragraph writes s behind a label; the lines that follow are indented by the label's width.
func paragraph(b *strings.Builder, label, s string) {
	for i, line := range wrap(s, width(label)) {
		if i > 0 {
			label = strings.Repeat(" ", width(label))
		}
		b.WriteString(label + line + "\n")
	}
}

// field is a paragraph behind one of the labels of the answer.
func field(b *strings.Builder, label, s string) {
	if s != "" {
		paragraph(b, left(label, 24), s)
	}
}

// number prints v with the decimals given, and never as minus zero.
func number(v float64, decimals int) string {
	s := fmt.Sprintf("%.*f", decimals, v)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}

// count says "1 day", "23 days".
func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// moment prints a time of the local clock to the minute, cut off, but for half a second of rounding.
func moment(t time.Time) string { return t.Round(time.Second).Format("Mon 2 Jan 2006 15:04") }

// span is how long a run is, by its months.
type span struct {
	days  int
	years int // 0 when it is not a whole number of years
}

func spanOf(r *ledger.Run) span {
	var s span
	var seen [13]int
	for i := range r.Months {
		s.days += r.Months[i].Days
		seen[r.Months[i].Month]++
	}
	for _, n := range seen[1:] {
		if n != seen[1] {
			return s
		}
	}
	if s.days >= 365*seen[1] {
		s.years = seen[1]
	}
	return s
}

// perDay is the mean of a sum over the days of the run; perYear the mean over its years, or the sum itself.
func (s span) perDay(v float64) float64  { return v / float64(max(1, s.days)) }
func (s span) perYear(v float64) float64 { return v / float64(max(1, s.years)) }

// String says the span after a number of days: "in the year", "in 10 years", "in 9 days".
func (s span) String() string {
	switch s.years {
	case 0:
		return "in " + count(s.days, "day")
	case 1:
		return "in the year"
	}
	return "in " + count(s.years, "year")
}
