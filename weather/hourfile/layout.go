package hourfile

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"tideover/sim/limit"
)

// Layout says which column of a table holds what. Columns are named by their titles or, in a table without titles, by
// their numbers from 1. Start from DefaultLayout.
type Layout struct {
	Time     []Part  // the columns of the time, in any order
	TimeIs   TimeIs  // what the time of a row names
	Readings Reading // what temperature and wind are
	// Clock is the offset of the rows' clock from UTC, h, -12..14; NaN: local standard time.
	ClockH float64

	GHI, DNI, DHI    Held // GHI is needed
	Temp, TMin, TMax Held // TMin and TMax in rows of a day
	Wind             Held
	SnowDepth        Held
	Separator        Separator
	SkipLines        int       // lines before the titles, or the rows, 0..10000
	Comment          string    // what a line to be left out starts with; "" none
	Missing          []float64 // numbers that mean "missing", beside the common codes
}

// Part is a column of the time and its form: YYYY, MM, DD, hh, mm, ss and what stands between them.
type Part struct{ Column, Form string }

// Held is a column and the unit of its numbers.
type Held struct{ Column, Unit string }

// TimeIs is what the time of a row names.
type TimeIs int

// The start or the end of a step. An hour 24 ends at midnight either way.
const (
	StepStart TimeIs = iota
	StepEnd
)

// Reading is what a temperature or a wind speed stands for.
type Reading int

// The mean of the step, or a reading at its end.
const (
	StepMean Reading = iota
	AtStepEnd
)

// Separator stands between fields.
type Separator int

// Auto takes the one of , ; and tab that fits the titles. Blanks are any run of blanks and tabs.
const (
	Auto Separator = iota
	Comma
	Semicolon
	Tab
	Blanks
)

var separators = [...]byte{Comma: ',', Semicolon: ';', Tab: '\t', Blanks: ' '}

// DefaultLayout returns a layout with what need not be typed.
func DefaultLayout() Layout { return Layout{ClockH: math.NaN(), Comment: "#"} }

// Keys lists the parameters as a person types them, reading and writing l.
func (l *Layout) Keys() []limit.Key {
	held := func(name string, into *Held, q int, doc, example string) limit.Key {
		return limit.Parsed(name, func(words []string) error {
			if len(words) != 2 {
				return fmt.Errorf("has %d values, want two: the column and its unit", len(words))
			}
			if _, ok := findUnit(q, words[1]); !ok {
				return fmt.Errorf("%q is not a unit that is known: %s", words[1], unitNames(q))
			}
			*into = Held{words[0], words[1]}
			return nil
		}, doc, example)
	}
	return []limit.Key{
		limit.Parsed("time", l.parseTime,
			"pairs of a column and its form, of YYYY MM DD hh mm ss: one column or several", "[YYYYMMDD, YYYYMMDD, HH, hh]").Needed(),
		limit.OneOf("time_is", &l.TimeIs, []string{"start", "end"}, "whether the time of a row is the start or the end of its step", "end").
			From("our plain CSV"),
		limit.Parsed("clock", l.parseClock, "the clock of the rows: local (standard time), utc, or an offset from UTC such as +05:30", "utc").
			From("most files"),
		held("ghi", &l.GHI, ghi, "column and unit of the light on the level", "[Q, J/cm2]").Needed(),
		held("dni", &l.DNI, dni, "column and unit of the beam on a plane facing the sun", "[BN, W/m2]").From("optional"),
		held("dhi", &l.DHI, dhi, "column and unit of the diffuse light on the level", "[DH, W/m2]").From("optional"),
		held("temp", &l.Temp, temp, "column and unit of the air temperature", "[T, 0.1 C]").From("optional"),
		held("temp_min", &l.TMin, tmin, "column and unit of the lowest temperature of a day", "[TN, 0.1 C]").From("optional"),
		held("temp_max", &l.TMax, tmax, "column and unit of the highest temperature of a day", "[TX, 0.1 C]").From("optional"),
		held("wind", &l.Wind, wind, "column and unit of the wind speed", "[FH, 0.1 m/s]").From("optional"),
		held("snow_depth", &l.SnowDepth, snow, "column and unit of the depth of snow on the ground", "[SD, cm]").From("optional"),
		limit.OneOf("readings", &l.Readings, []string{"mean", "at_end"}, "whether temperature and wind are means of the step or readings at its end", "at_end").
			From("our plain CSV"),
		limit.OneOf("separator", &l.Separator, []string{"auto", "comma", "semicolon", "tab", "blanks"}, "what stands between fields", "semicolon").
			From("the one that fits the titles"),
		limit.Int("skip_lines", &l.SkipLines, limit.Between(0, 10000), "lines before the titles; where columns have titles it is not needed", "3").
			From("none"),
		limit.Str("comment", &l.Comment, "what a line starts with that is to be left out", `"#"`).From("common practice"),
		limit.Parsed("missing", l.parseMissing, "numbers that mean a value is missing, beside blanks and the common codes", "[-7999, 990]").
			From("none"),
	}
}

func (l *Layout) parseTime(words []string) error {
	if len(words) == 0 || len(words)%2 != 0 {
		return fmt.Errorf("has %d values, want pairs: a column and its form", len(words))
	}
	l.Time = nil
	for i := 0; i < len(words); i += 2 {
		if _, err := compile(words[i+1]); err != nil {
			return err
		}
		l.Time = append(l.Time, Part{words[i], words[i+1]})
	}
	return nil
}

func (l *Layout) parseClock(words []string) error {
	if len(words) == 1 && strings.EqualFold(words[0], "local") {
		l.ClockH = math.NaN()
		return nil
	}
	if len(words) == 1 {
		if min, ok := offsetMin(words[0]); ok {
			l.ClockH = float64(min) / 60
			return nil
		}
	}
	return fmt.Errorf("%q is neither local nor utc nor an offset from UTC such as +05:30", strings.Join(words, ", "))
}

func (l *Layout) parseMissing(words []string) error {
	l.Missing = nil
	for _, w := range words {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
			return fmt.Errorf("%q is not a number; blanks and words such as NA need not be named", w)
		}
		l.Missing = append(l.Missing, v)
	}
	return nil
}

func (l *Layout) held() [quantities]Held {
	return [quantities]Held{ghi: l.GHI, dni: l.DNI, dhi: l.DHI, temp: l.Temp, wind: l.Wind, snow: l.SnowDepth, tmin: l.TMin, tmax: l.TMax}
}

// Check returns what is wrong with the parameters; nil when nothing is.
func (l Layout) Check() []limit.Fault {
	var faults []limit.Fault
	fault := func(key, msg, example string) {
		faults = append(faults, limit.Fault{Key: key, Msg: msg, Example: example})
	}
	words := ""
	for _, p := range l.Time {
		f, err := compile(p.Form)
		if err != nil {
			fault("time", err.Error(), "[Date, YYYY-MM-DD hh:mm]")
			continue
		}
		for _, t := range f {
			if t.kind != 0 {
				words += string(t.kind)
			}
		}
	}
	if len(l.Time) == 0 {
		fault("time", "names no column", "[Date, YYYY-MM-DD hh:mm]")
	} else if len(faults) == 0 {
		for _, c := range "YMDhms" {
			n := strings.Count(words, string(c))
			switch {
			case n > 1:
				fault("time", fmt.Sprintf("gives the %s twice", wordOf[c]), "[Date, YYYY-MM-DD hh:mm]")
			case n == 0 && strings.ContainsRune("YMD", c):
				fault("time", fmt.Sprintf("does not give the %s", wordOf[c]), "[Date, YYYY-MM-DD hh:mm]")
			}
		}
	}
	names := [quantities]string{"ghi", "dni", "dhi", "temp", "wind", "snow_depth", "temp_min", "temp_max"}
	for q, h := range l.held() {
		switch {
		case h == Held{} && q == ghi:
			fault("ghi", "names no column", "[Q, J/cm2]")
		case h == Held{}:
		default:
			if _, ok := findUnit(q, h.Unit); !ok {
				fault(names[q], fmt.Sprintf("%q is not a unit that is known: %s", h.Unit, unitNames(q)), "")
			}
		}
	}
	if !math.IsNaN(l.ClockH) && (l.ClockH < -12 || l.ClockH > 14) {
		fault("clock", limit.Between(-12, 14).Fault(l.ClockH), "utc")
	}
	return append(faults, limit.Check(l.Keys())...)
}

var wordOf = map[rune]string{'Y': "year", 'M': "month", 'D': "day", 'h': "hour", 'm': "minute", 's': "second"}

// readLayout reads a table by its layout, from the file's first line, which is the current one.
func (r *rows) readLayout(l *Layout) error {
	t := r.t
	tab := &table{rows: r, comment: l.Comment}
	for range l.SkipLines {
		if !t.next() {
			return t.fault(1, "skip_lines is %d, but the file has %d lines", l.SkipLines, t.lineNo)
		}
	}
	held := l.held()
	var wanted []string
	for _, p := range l.Time {
		wanted = append(wanted, p.Column)
	}
	for _, h := range held {
		if h.Column != "" {
			wanted = append(wanted, h.Column)
		}
	}
	places, err := tab.find(l, wanted)
	if err != nil {
		return err
	}
	daily := true
	for i, p := range l.Time {
		f, err := compile(p.Form)
		if err != nil {
			return t.fault(1, "%v", err)
		}
		daily = daily && !f.has('h')
		tab.pieces = append(tab.pieces, piece{at: places[i], format: f})
	}
	places = places[len(l.Time):]
	for q, h := range held {
		if h.Column == "" {
			continue
		}
		u, _ := findUnit(q, h.Unit) // Check has seen it
		r.cols[q] = column{at: places[0], unit: u, codes: l.Missing}
		places = places[1:]
	}
	r.clockH, r.endLabel, r.daily = l.ClockH, l.TimeIs == StepEnd && !daily, daily
	r.readingsAtEnd = l.Readings == AtStepEnd && !daily
	return tab.read()
}

// find finds the line of the titles and returns the places of the wanted columns. Titles that are all numbers mean a
// table without titles.
func (tab *table) find(l *Layout, wanted []string) ([]int, error) {
	t := tab.t
	places := make([]int, len(wanted))
	numbered := true
	for i, w := range wanted {
		n, ok := whole(w)
		numbered = numbered && ok && n >= 1
		places[i] = n - 1
		tab.width = max(tab.width, n)
	}
	seps := separators[1:]
	if l.Separator != Auto {
		seps = separators[l.Separator : l.Separator+1]
	}
	// The most columns that any line names, for the message.
	best, lack, at := -1, "", 1
	const lookAt = 200 // lines
	for n := 0; n < lookAt; n++ {
		line := t.line
		if numbered && !t.blank() && !(l.Comment != "" && strings.HasPrefix(trim(line), l.Comment)) {
			for _, sep := range seps {
				if t.sep = sep; len(t.all()) < tab.width {
					continue
				}
				// A line of titles is passed over.
				if last := t.all()[places[len(places)-1]]; !looksNumeric(last.text) {
					break
				}
				t.end, t.lineNo = t.at, t.lineNo-1 // read takes it from here
				return places, nil
			}
		}
		if !numbered {
			for _, sep := range seps {
				t.sep = sep
				f := t.all()
				found, missing := 0, ""
				tab.width = 0
				for i, w := range wanted {
					places[i] = -1
					for j, p := range f {
						title := latin(p.text)
						if j == 0 && l.Comment != "" {
							title = strings.TrimSpace(strings.TrimPrefix(title, l.Comment))
						}
						if strings.EqualFold(title, strings.TrimSpace(w)) {
							places[i] = j
							break
						}
					}
					if places[i] < 0 {
						if missing == "" {
							missing = w
						}
						continue
					}
					found++
					tab.width = max(tab.width, places[i]+1)
				}
				if found == len(wanted) {
					return places, nil
				}
				if found > best {
					best, lack, at = found, missing, t.lineNo
				}
			}
		}
		if !t.next() {
			break
		}
	}
	if numbered {
		return nil, t.fault(1, "no line of the file has the %d columns that the layout names", tab.width)
	}
	return nil, &Error{t.name, at, 1, fmt.Sprintf("no line of the file has all the titles that the layout names: %q is missing", clip(lack))}
}

func looksNumeric(s string) bool { _, ok := cell(s); return ok }
