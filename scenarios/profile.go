package scenarios

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"tideover/loads"
)

// maxProfileBytes is more than a year of minutes takes.
const maxProfileBytes = 20 << 20

// Beside returns what reads the files that a scenario at path names, in its own folder. No more of a file is read than
// shows that it is too large.
func Beside(path string) func(name string) ([]byte, error) {
	dir := filepath.Dir(path)
	return func(name string) ([]byte, error) {
		if !filepath.IsAbs(name) {
			name = filepath.Join(dir, filepath.FromSlash(name))
		}
		info, err := os.Stat(name)
		if err != nil {
			return nil, err
		}
		if !info.Mode().IsRegular() { // a pipe may never end
			return nil, errors.New("it is no regular file")
		}
		f, err := os.Open(name)
		if err != nil {
			return nil, err
		}
		defer f.Close()
		return io.ReadAll(io.LimitReader(f, maxProfileBytes+1))
	}
}

// profiled is a file of a measured load as read before.
type profiled struct {
	series *loads.Series
	fault  string
}

// profile reads the file of a measured load, once for all variants, or says what is wrong.
func (d *decoder) profile(name string) (*loads.Series, string) {
	p, ok := d.profiles[name]
	if !ok {
		p = d.readProfile(name)
		if d.profiles == nil {
			d.profiles = map[string]profiled{}
		}
		d.profiles[name] = p
	}
	return p.series, p.fault
}

func (d *decoder) readProfile(name string) profiled {
	switch {
	case strings.TrimSpace(name) == "" || strings.ContainsFunc(name, func(r rune) bool { return unprintable(r) || r < ' ' }):
		return profiled{fault: "is no name of a file"}
	}
	var src []byte
	err := fs.ErrNotExist
	if d.read != nil {
		src, err = d.read(name)
	}
	if errors.Is(err, fs.ErrNotExist) {
		return profiled{fault: "there is no file " + show(name) + " beside the scenario"}
	}
	if err != nil {
		var path *fs.PathError
		if errors.As(err, &path) { // it names the file once more
			err = path.Err
		}
		return profiled{fault: show(name) + " cannot be read: " + err.Error()}
	}
	s, err := ParseProfile(brief(name), src)
	if err != nil {
		return profiled{fault: err.Error()}
	}
	return profiled{series: s}
}

// ParseProfile reads the measured power of a load: a table with the columns time,power_w. Its first row is 00:00 of a day,
// mon 00:00 of a week or 01-01 00:00 of a year (2025-01-01 00:00 will do), its rows follow one another in equal steps of whole
// minutes, and it ends where the day, the week or the year does. Each time is the beginning of its step, by the clock on the wall;
// power is the mean of the step, W. Lines that are empty or begin with # are left out. The error has file and line.
func ParseProfile(file string, src []byte) (*loads.Series, error) {
	if len(src) > maxProfileBytes {
		return nil, fmt.Errorf("%s is larger than %d MB, which is more than a year of minutes", file, maxProfileBytes>>20)
	}
	src = bytes.TrimPrefix(src, byteOrderMark)
	var rows []profileRow
	titles := false
	number := 0
	for line := range bytes.Lines(src) {
		number++
		at := func(format string, a ...any) error {
			return fmt.Errorf("%s:%d: %s", file, number, fmt.Sprintf(format, a...))
		}
		text := strings.TrimSpace(string(line))
		if text == "" || text[0] == '#' {
			continue
		}
		when, power, two := strings.Cut(text, ",")
		when, power = strings.TrimSpace(when), strings.TrimSpace(power)
		switch {
		case !titles && (when != "time" || power != "power_w"):
			return nil, at("%s is not the titles time,power_w", show(text))
		case !titles:
			titles = true
			continue
		case !two || strings.Contains(power, ","):
			return nil, at("%s is not a time and a power with a comma between", show(text))
		}
		r, ok := readProfileTime(when)
		if !ok {
			return nil, at("%s is not a time: write 00:00 for a day, mon 00:00 for a week, 01-01 00:00 for a year", show(when))
		}
		r.line = number
		w, err := strconv.ParseFloat(power, 64)
		if err != nil || !decimal.MatchString(power) {
			return nil, at("%s is not a plain number of watts", show(power))
		}
		if w < 0 || w > 1e5 {
			return nil, at("%s W is not between 0 and 100000", brief(power))
		}
		r.powerW = w
		if len(rows) > 0 && r.form != rows[0].form {
			return nil, at("%s is another kind of time than in the rows before", show(when))
		}
		rows = append(rows, r)
		if len(rows) > 366*24*60 {
			return nil, at("there are more rows than minutes in a year")
		}
	}
	if len(rows) < 2 {
		return nil, fmt.Errorf("%s has %d rows: at least two are wanted below the titles time,power_w", file, len(rows))
	}
	return series(file, rows)
}

// profileRow is one row as typed.
type profileRow struct {
	form       int // 0 a day, 1 a week, 2 a year
	day        int // of the week, from Monday
	month, dom int
	minute     int
	powerW     float64
	line       int
}

// at is the row's minute since the beginning of the day, the week or the year.
func (r profileRow) at(leap bool) int {
	if r.form == 2 {
		year := 2025
		if leap {
			year = 2024
		}
		return (time.Date(year, time.Month(r.month), r.dom, 0, 0, 0, 0, time.UTC).YearDay()-1)*24*60 + r.minute
	}
	return r.day*24*60 + r.minute
}

var weekdays = []string{"mon", "tue", "wed", "thu", "fri", "sat", "sun"}

// readProfileTime reads HH:MM, alone or behind a weekday or a date.
func readProfileTime(s string) (r profileRow, ok bool) {
	s = strings.ToLower(strings.Replace(s, "T", " ", 1))
	day, clock, two := strings.Cut(s, " ")
	if !two {
		day, clock = "", s
	}
	whole := func(s string, n, lo, hi int) int {
		v, err := strconv.Atoi(s)
		if err != nil || len(s) != n || s[0] == '+' || v < lo || v > hi {
			ok = false
			return 0
		}
		return v
	}
	ok = true
	h, m, _ := strings.Cut(strings.TrimSpace(clock), ":")
	r.minute = whole(h, 2, 0, 23)*60 + whole(m, 2, 0, 59)
	switch date := strings.Split(day, "-"); {
	case day == "":
	case slices.Contains(weekdays, day):
		r.form, r.day = 1, slices.Index(weekdays, day)
	case len(date) == 2 || len(date) == 3:
		if len(date) == 3 {
			whole(date[0], 4, 1, 9999)
			date = date[1:]
		}
		r.form, r.month = 2, whole(date[0], 2, 1, 12)
		if ok {
			r.dom = whole(date[1], 2, 1, time.Date(2024, time.Month(r.month)+1, 0, 0, 0, 0, 0, time.UTC).Day())
		}
	default:
		ok = false
	}
	return r, ok
}

// series makes a series of rows, which must follow one another from the first moment to the last.
func series(file string, rows []profileRow) (*loads.Series, error) {
	days := []int{1, 7, 365}[rows[0].form]
	leap := slices.ContainsFunc(rows, func(r profileRow) bool { return r.month == 2 && r.dom == 29 })
	if leap {
		days++
	}
	if rows[0].at(leap) != 0 {
		return nil, fmt.Errorf("%s:%d: the first row is not the beginning: %s", file, rows[0].line, []string{"00:00", "mon 00:00", "01-01 00:00"}[rows[0].form])
	}
	step := rows[1].at(leap)
	if step < 1 || 24*60%step != 0 {
		return nil, fmt.Errorf("%s:%d: comes %d minutes after the first row: a step is a whole part of a day, as 60, 15, 5 or 1 minutes", file, rows[1].line, step)
	}
	s := &loads.Series{StepMin: step, PowerW: make([]float64, len(rows))}
	most := 0.0
	for k, r := range rows {
		if got := r.at(leap); got != k*step {
			return nil, fmt.Errorf("%s:%d: comes %d minutes after the row before, where the step is %d", file, r.line, got-(k-1)*step, step)
		}
		s.PowerW[k] = r.powerW
		most = math.Max(most, r.powerW)
	}
	if len(rows)*step != days*24*60 {
		return nil, fmt.Errorf("%s:%d: ends %s before the end of the %s", file, rows[len(rows)-1].line,
			minutes(days*24*60-len(rows)*step), []string{"day", "week", "year"}[rows[0].form])
	}
	if most == 0 {
		return nil, fmt.Errorf("%s draws nothing: every power_w is 0", file)
	}
	return s, nil
}

// minutes says a time in days, hours or minutes.
func minutes(n int) string {
	switch {
	case n%(24*60) == 0:
		return fmt.Sprintf("%d days", n/(24*60))
	case n%60 == 0:
		return fmt.Sprintf("%d h", n/60)
	}
	return fmt.Sprintf("%d min", n)
}
