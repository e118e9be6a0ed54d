package hourfile

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"tideover/sim/limit"
)

// text walks the lines of a file.
type text struct {
	name, data string
	at         int    // where the line starts in data
	end        int    // where the next one starts
	line       string // without its end
	lineNo     int    // from 1
	sep        byte   // between fields; ' ' stands for any run of blanks
	parts      []part // of the line, reused
}

// part is one field: what it holds, unquoted but not trimmed, and the column where it starts.
type part struct {
	text string
	col  int
}

// next goes to the next line and reports whether there is one.
func (t *text) next() bool {
	if t.end >= len(t.data) {
		return false
	}
	t.at = t.end
	if n := strings.IndexByte(t.data[t.at:], '\n'); n >= 0 {
		t.line, t.end = t.data[t.at:t.at+n], t.at+n+1
	} else {
		t.line, t.end = t.data[t.at:], len(t.data)
	}
	t.line = strings.TrimSuffix(t.line, "\r")
	t.lineNo++
	return true
}

// blank reports whether the line holds nothing but blanks.
func (t *text) blank() bool { return strings.TrimSpace(t.line) == "" }

// fields splits the line into its first n fields at least; what follows them may be left out. A field in quotes may hold
// separators. The result is good until the next call and has one element or more.
func (t *text) fields(n int) []part {
	t.parts = t.parts[:0]
	if t.sep == ' ' {
		for at := 0; at < len(t.line); {
			if isBlank(t.line[at]) {
				at++
				continue
			}
			from := at
			for at < len(t.line) && !isBlank(t.line[at]) {
				at++
			}
			t.parts = append(t.parts, part{t.line[from:at], from + 1})
		}
		if len(t.parts) == 0 {
			t.parts = append(t.parts, part{"", 1})
		}
		return t.parts
	}
	for at := 0; len(t.parts) < n; {
		rest := t.line[at:]
		var end int
		field := rest
		if strings.HasPrefix(rest, `"`) {
			end = strings.IndexByte(rest[1:], '"')
			if end >= 0 {
				field = rest[1 : 1+end]
				end += 2
				if more := strings.IndexByte(rest[end:], t.sep); more >= 0 {
					end += more
				} else {
					end = -1
				}
			}
		} else if end = strings.IndexByte(rest, t.sep); end >= 0 {
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

func isBlank(c byte) bool { return c == ' ' || c == '\t' }

// MaxColumns is how many columns of a table are looked at.
const MaxColumns = 1000

// all returns the fields of the line, MaxColumns at most.
func (t *text) all() []part {
	f := t.fields(MaxColumns)
	return f[:min(len(f), MaxColumns)]
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

// parse reads a decimal number, with a point or a comma. It knows no inf, nan or hexadecimal, which strconv takes.
func parse(s string) (float64, bool) {
	s = trim(s)
	if v, ok := parseShort(s); ok {
		return v, true
	}
	comma := -1
	for i := range len(s) {
		switch c := s[i]; {
		case c >= '0' && c <= '9' || c == '+' || c == '-' || c == '.' || c == 'e' || c == 'E':
		case c == ',' && comma < 0:
			comma = i
		default:
			return 0, false
		}
	}
	if comma >= 0 {
		if strings.Contains(s, ".") { // thousands and decimals cannot be told apart
			return 0, false
		}
		s = s[:comma] + "." + s[comma+1:]
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

// cell reads a field of a row: a number, or NaN where it is blank or says that there is none.
func cell(s string) (v float64, ok bool) {
	if v, ok = parse(s); ok {
		return v, true
	}
	switch strings.ToLower(trim(s)) {
	case "", "na", "n/a", "nan", "null", "none", "-", "--", "?":
		return math.NaN(), true
	}
	return 0, false
}

func trim(s string) string {
	for len(s) > 0 && isBlank(s[0]) {
		s = s[1:]
	}
	for len(s) > 0 && isBlank(s[len(s)-1]) {
		s = s[:len(s)-1]
	}
	return s
}

// whole reads a whole number of at most four digits, blanks around it allowed.
func whole(s string) (int, bool) {
	s = trim(s)
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

// clip shortens what is quoted in a message.
func clip(s string) string {
	if len(s) > 40 {
		return s[:40] + "..."
	}
	return s
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

// label is latin for a name, without the separators at its end: spreadsheets leave them, and a header line loses them.
func label(s string) string {
	return strings.TrimRightFunc(latin(s), func(c rune) bool { return c == ',' || c == ';' || unicode.IsSpace(c) })
}
