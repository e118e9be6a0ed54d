package hourfile

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tideover/sim/limit"
	"tideover/weather"
)

// The places of the quantities in a row.
const (
	ghi = iota
	dni
	dhi
	temp
	wind
	snow
	tmin // of a day
	tmax
	quantities
)

// quantity is what a column may hold: a name for messages, its range in our unit, and which numbers mean "missing", as
// written and in our unit.
type quantity struct {
	name    string
	allowed limit.Range
	missing func(raw, value float64) bool
}

var plainKinds = [quantities]quantity{
	ghi:  {"global light", weather.LightRange, lightMissing},
	dni:  {"beam light", weather.LightRange, lightMissing},
	dhi:  {"diffuse light", weather.LightRange, lightMissing},
	temp: {"air temperature", weather.TempRange, tempMissing},
	wind: {"wind speed", weather.WindRange, func(_, v float64) bool { return v <= -9 || v >= 999 }},
	snow: {"snow depth", weather.SnowRange, func(raw, v float64) bool { return v < 0 || v == 999 || raw == 9999 || raw == 99999 }},
	tmin: {"lowest temperature", weather.TempRange, tempMissing},
	tmax: {"highest temperature", weather.TempRange, tempMissing},
}

func lightMissing(raw, _ float64) bool {
	switch raw {
	case -99, -99.9, -999, -999.9, -9999, -9900, 9999, 99999, -6999, -7999:
		return true
	}
	return false
}

// Tenths of a degree may hold -99, so the code counts in degC.
func tempMissing(_, v float64) bool { return v <= -99 || v == 99.9 || v >= 999 }

// column is where a quantity stands and how its numbers become ours: value = (number + shift) x scale, and where it is an
// energy, over the hours of the step.
type column struct {
	at    int // from 0; -1: absent
	unit  unit
	codes []float64 // more numbers that mean "missing"
}

// rows collects the rows of a file, in whatever format.
type rows struct {
	t     *text
	opt   Options
	site  weather.Site // NaN where the file does not say
	kinds [quantities]quantity
	cols  [quantities]column

	clockH        float64 // offset of the rows' clock from UTC; NaN: local standard time
	endLabel      bool    // times are the ends of steps
	perHour       int     // records of an EPW
	readingsAtEnd bool    // temperature and wind are readings at the end of the step
	daily         bool    // a row is a day
	snowInPassing bool    // the format has a place for snow depth, which need not hold any
	isTypical     bool    // the file says that its dates only place it
	isMeasured    bool    // the file says that its dates are those of the weather

	times   []int64 // minutes since 1970 of the rows' clock
	lines   []int32
	offsets []int32 // of the line in the text
	values  [quantities][]float64

	stepMin         int64
	warnings, notes []string
}

func unknownSite() weather.Site {
	nan := math.NaN()
	return weather.Site{LatDeg: nan, LonDeg: nan, ElevationM: nan, OffsetH: nan}
}

// placeValue is a number of the site, and where it is read from.
type placeValue struct {
	into    *float64
	from    part
	what    string
	allowed limit.Range
}

func (r *rows) placeValues(lat, lon, offset, elevation part) []placeValue {
	return []placeValue{
		{&r.site.LatDeg, lat, "latitude", weather.LatitudeRange},
		{&r.site.LonDeg, lon, "longitude", weather.LongitudeRange},
		{&r.site.OffsetH, offset, "time zone", weather.OffsetRange},
		{&r.site.ElevationM, elevation, "elevation", weather.ElevationRange},
	}
}

// add takes one row, whose time is in minutes since 1970.
func (r *rows) add(at int64, f []part) error {
	if len(r.times) >= MaxRows {
		return r.t.fault(1, "more than %d rows", MaxRows)
	}
	for q := range r.cols {
		c := &r.cols[q]
		if c.at < 0 {
			continue
		}
		if q == snow && r.snowInPassing {
			r.values[q] = append(r.values[q], snowCell(f, c.at))
			continue
		}
		v, ok := cell(f[c.at].text)
		if !ok {
			return r.t.fault(f[c.at].col, "%s: %q is not a number", r.kinds[q].name, clip(f[c.at].text))
		}
		r.values[q] = append(r.values[q], v)
	}
	r.times = append(r.times, at)
	r.lines = append(r.lines, int32(r.t.lineNo))
	r.offsets = append(r.offsets, int32(r.t.at))
	return nil
}

// goTo makes row i the current line again.
func (r *rows) goTo(i int) {
	r.t.end = int(r.offsets[i])
	r.t.next()
	r.t.lineNo = int(r.lines[i])
}

// colOf returns the column of a quantity in row i, and its text.
func (r *rows) cellOf(i, q int) part {
	r.goTo(i)
	if f := r.t.fields(r.cols[q].at + 1); r.cols[q].at < len(f) {
		return f[r.cols[q].at]
	}
	return part{"", 1}
}

// finish turns the rows into the year.
func (r *rows) finish() (*weather.Year, error) {
	if len(r.times) == 0 {
		return nil, r.t.fault(len(r.t.line)+1, "the file has no hours")
	}
	if err := r.place(); err != nil {
		return nil, err
	}
	if err := r.findStep(); err != nil {
		return nil, err
	}
	r.recordLight()
	if err := r.convert(); err != nil {
		return nil, err
	}
	y := &weather.Year{Site: r.site, StepMin: int(r.stepMin), Measured: !r.isTypical}
	g, err := r.grid(y)
	if err != nil {
		return nil, err
	}
	if r.daily {
		err = g.spreadDays(y)
	} else {
		err = g.fill(y)
	}
	if err != nil {
		return nil, err
	}
	r.setOffset(y)
	if end := y.Start.Add(time.Duration(y.Len()*y.StepMin) * time.Minute); y.Measured && !wholeYears(y.Start, end) {
		r.warn("the file covers %s to %s, which is not a whole number of years",
			y.Start.Format("2 January 2006"), end.Add(-time.Minute).Format("2 January 2006"))
	}
	for _, n := range r.notes {
		if !slices.Contains(y.Notes, n) {
			y.Notes = append(y.Notes, n)
		}
	}
	for _, w := range r.warnings {
		if !slices.Contains(y.Warnings, w) {
			y.Warnings = append(y.Warnings, w)
		}
	}
	if err := y.Check(); err != nil { // every cell was checked on the way
		panic(fmt.Sprintf("hourfile: Read: %s: %v", r.t.name, err))
	}
	return y, nil
}

func (r *rows) warn(format string, args ...any) {
	r.warnings = append(r.warnings, fmt.Sprintf(format, args...))
}

func (r *rows) note(format string, args ...any) {
	r.notes = append(r.notes, fmt.Sprintf(format, args...))
}

func wholeYears(start, end time.Time) bool {
	return end.Equal(start.AddDate(end.Year()-start.Year(), 0, 0))
}

// place settles where the file was taken and on which clock its rows are.
func (r *rows) place() error {
	s := &r.site
	for _, v := range []struct {
		into *float64
		pin  float64
	}{{&s.LatDeg, r.opt.LatDeg}, {&s.LonDeg, r.opt.LonDeg}, {&s.ElevationM, r.opt.ElevationM}, {&s.OffsetH, r.opt.OffsetH}} {
		if !math.IsNaN(v.pin) {
			*v.into = v.pin
		}
	}
	if math.IsNaN(s.LatDeg) || math.IsNaN(s.LonDeg) {
		return &Error{r.t.name, 1, 1, "the file does not say where it was taken: its latitude and longitude must be given"}
	}
	if math.IsNaN(s.ElevationM) {
		s.ElevationM = 0
	}
	s.OffsetH = math.Round(s.OffsetH*60) / 60 // clocks are set to the minute
	switch known := !math.IsNaN(s.OffsetH); {
	case known && math.IsNaN(r.clockH):
		r.clockH = s.OffsetH
	case known:
	case !math.IsNaN(r.clockH):
		s.OffsetH = r.clockH
	case r.daily:
		s.OffsetH = math.Round(s.LonDeg/15) + 0 // never -0
		r.clockH = s.OffsetH
		r.note("the file does not say which clock its days follow: UTC%+g is taken, the nearest whole hour to the sun's", s.OffsetH)
	default:
		return &Error{r.t.name, 1, 1, "the file does not say which clock its rows follow: give the offset of local standard time from UTC, or name the column time_utc"}
	}
	off := math.Abs(math.Remainder(s.LonDeg/15-s.OffsetH, 24))
	switch {
	case off <= 2:
	case s.OffsetH == 0 && r.clockH == 0 && math.IsNaN(r.opt.OffsetH):
		r.note("the rows are in UTC and no local offset is given: hours and days are those of UTC, %.1f h away from the sun's at longitude %g", off, s.LonDeg)
	default:
		r.warn("the time zone of the file, UTC%+g, is %.1f h away from the sun at longitude %g: one of them may be wrong", s.OffsetH, off, s.LonDeg)
	}
	return nil
}

// findStep finds the length of a step, the most common one between rows, and turns the times into starts of steps.
func (r *rows) findStep() error {
	if r.daily {
		r.stepMin = 1440
	} else {
		counts := map[int64]int{}
		for i := 1; i < len(r.times); i++ {
			if d := r.times[i] - r.times[i-1]; d > 0 {
				counts[d]++
			}
		}
		r.stepMin = 60
		best := 0
		for d, n := range counts {
			if n > best || n == best && d < r.stepMin {
				best, r.stepMin = n, d
			}
		}
		switch r.stepMin {
		case 60, 30, 15, 10, 5, 1:
		case 1440:
			r.daily, r.endLabel = true, false
			r.note("a row is a day")
		default:
			r.goTo(min(1, len(r.times)-1))
			return r.t.fault(1, "the rows are %d min apart; a step must be 60, 30, 15, 10, 5 or 1 min, or a day", r.stepMin)
		}
	}
	if r.endLabel {
		for i := range r.times {
			r.times[i] -= r.stepMin
		}
	}
	for i, t := range r.times {
		if (t-r.times[0])%r.stepMin != 0 {
			r.goTo(i)
			return r.t.fault(1, "%s does not fit the steps of %d min before it, which start at %s", face(t), r.stepMin, face(r.times[0]))
		}
	}
	return nil
}

// convert turns what is written into our units, and codes into NaN.
func (r *rows) convert() error {
	negative := 0
	for q := range r.cols {
		c, k := &r.cols[q], &r.kinds[q]
		if c.at < 0 {
			continue
		}
		scale := c.unit.scale
		if scale == 0 { // the column's unit is ours
			scale = 1
		}
		if c.unit.energy {
			scale *= 60 / float64(r.stepMin)
		}
		for i, raw := range r.values[q] {
			v := (raw + c.unit.shift) * scale
			switch {
			case math.IsNaN(raw) || k.missing(raw, v) || slices.Contains(c.codes, raw):
				v = math.NaN()
			case q <= dhi && v < 0 && v >= -20:
				negative++
				v = 0
			default:
				if msg := k.allowed.Fault(v); msg != "" {
					at := r.cellOf(i, q)
					if c.unit.name != "" {
						msg += fmt.Sprintf(" %s (the file has %s, read as %s)", ourUnit(q), clip(trim(at.text)), c.unit.name)
					}
					return r.t.fault(at.col, "%s: %s", k.name, msg)
				}
			}
			r.values[q][i] = v
		}
	}
	if negative > 0 {
		r.note("light is slightly below zero in %d places, as sensors show by night: taken as 0", negative)
	}
	return nil
}

// grid is a file's rows on equal steps: NaN where nothing is known.
type grid struct {
	*rows
	from   int64                 // minutes since 1970 of the first step
	n      int                   // steps
	rowOf  []int32               // of each step, -1 where the file has no row
	column [quantities][]float64 // nil where absent
	skies  []sky                 // of each step, or nil: not asked for yet
}

// grid places the rows and settles whether they are a typical year.
func (r *rows) grid(y *weather.Year) (*grid, error) {
	inOrder, whole := true, true
	fault := -1
	for i := 1; i < len(r.times); i++ {
		if d := r.times[i] - r.times[i-1]; d != r.stepMin {
			whole = false
			if d <= 0 {
				inOrder = false
				if fault < 0 {
					fault = i
				}
			}
		}
	}
	first, last := r.times[0], r.times[len(r.times)-1]
	g := &grid{rows: r}
	if !whole && !r.isMeasured && r.placeTypical(inOrder) {
		y.Measured = false
		r.note("the months come from different years: a typical year, whose dates only place it in a calendar")
		year := clockTime(r.times[0]).Year()
		first = moment{year: year, month: 1, day: 1}.minutes()
		last = moment{year: year + 1, month: 1, day: 1}.minutes() - r.stepMin
	} else if !inOrder {
		r.goTo(fault)
		hint := ""
		if r.times[fault] > r.times[fault-1]-120 {
			hint = "; a clock with daylight saving doubles an hour in autumn, but rows must be in standard time or UTC"
		}
		return nil, r.t.fault(1, "%s comes after %s: a row is doubled or out of order%s", face(r.times[fault]), face(r.times[fault-1]), hint)
	}
	steps := (last-first)/r.stepMin + 1
	if steps > MaxRows {
		return nil, r.t.fault(1, "the rows run from %s to %s: more than %d steps", face(first), face(last), MaxRows)
	}
	g.from, g.n = first, int(steps)
	if whole && g.n == len(r.times) {
		g.column = r.values
		return g, nil
	}
	g.rowOf = make([]int32, g.n)
	for i := range g.rowOf {
		g.rowOf[i] = -1
	}
	for i, t := range r.times {
		g.rowOf[(t-first)/r.stepMin] = int32(i)
	}
	for q := range r.cols {
		if r.cols[q].at < 0 {
			continue
		}
		g.column[q] = make([]float64, g.n)
		for i, row := range g.rowOf {
			g.column[q][i] = math.NaN()
			if row >= 0 {
				g.column[q][i] = r.values[q][row]
			}
		}
	}
	return g, nil
}

// placeTypical tries to read the rows as months of different years, or as a leap year without its leap day. When they
// are, it moves them into one calendar year and returns true.
func (r *rows) placeTypical(inOrder bool) bool {
	n := len(r.times)
	if int64(n)*r.stepMin > 366*1440 {
		return false
	}
	firstYear, severalYears, leapDay := clockTime(r.times[0]).Year(), false, false
	months := make([]time.Time, n)
	for i, t := range r.times {
		months[i] = clockTime(t)
		severalYears = severalYears || months[i].Year() != firstYear
		leapDay = leapDay || months[i].Month() == time.February && months[i].Day() == 29
	}
	nearlyWhole := int64(n)*r.stepMin > 360*1440
	switch {
	case severalYears && (!inOrder || r.times[n-1]-r.times[0] > 366*1440 && int64(n)*r.stepMin > 330*1440):
	case !severalYears && inOrder && !leapDay && daysIn(firstYear, 2) == 29 && nearlyWhole:
	default:
		return false
	}
	year := 2025
	if leapDay {
		year = 2024
	}
	placed := make([]int64, n)
	for i, t := range months {
		placed[i] = moment{year: year, month: int(t.Month()), day: t.Day(), hour: t.Hour(), minute: t.Minute()}.minutes()
		switch before := months[max(0, i-1)]; { // the year may change with the month only
		case i > 0 && placed[i] <= placed[i-1], t.Month() == before.Month() && t.Year() != before.Year():
			return false
		}
	}
	r.times = placed
	return true
}

// setOffset gives the year its start, and the offset that was asked for where the rows follow another clock.
func (r *rows) setOffset(y *weather.Year) {
	local := y.Site.OffsetH
	y.Site.OffsetH = r.clockH
	y.Start = time.Date(y.Start.Year(), y.Start.Month(), y.Start.Day(), y.Start.Hour(), y.Start.Minute(), 0, 0, y.Site.Zone())
	if local == r.clockH {
		return
	}
	site := y.Site
	site.OffsetH = local
	here := y.Start.In(site.Zone())
	length := time.Duration(y.Len()*y.StepMin) * time.Minute
	// Rows that are whole years of the local calendar as they stand are not moved.
	already := y.Measured && here.YearDay() == 1 && here.Hour() == 0 && here.Minute() == 0 && wholeYears(here, here.Add(length))
	shiftMin := int(math.Round((local - r.clockH) * 60))
	switch {
	case shiftMin%y.StepMin == 0 && !already && (!y.Measured || wholeYears(y.Start, y.Start.Add(length))):
		// A typical year has no moments, only a calendar; whole years are worth more whole than a few hours in their place.
		y.Site.OffsetH = local
		y.Start = time.Date(y.Start.Year(), y.Start.Month(), y.Start.Day(), y.Start.Hour(), y.Start.Minute(), 0, 0, y.Site.Zone())
		for _, c := range [...][]float64{y.GHIWm2, y.DNIWm2, y.DHIWm2, y.TempC, y.WindMs, y.SnowDepthCM} {
			rotate(c, shiftMin/y.StepMin)
		}
		from, to := "last", "first"
		if shiftMin < 0 {
			from, to = to, from
		}
		r.note("the rows are in UTC%+g; they are moved to UTC%+g, and the %s %g h of the file stand %s, so that its years stay whole",
			r.clockH, local, from, math.Abs(float64(shiftMin))/60, to)
	case y.Measured: // the same moments by another name
		y.Site.OffsetH = local
		y.Start = y.Start.In(y.Site.Zone())
		r.note("the rows are in UTC%+g; they are shown in UTC%+g", r.clockH, local)
	default:
		r.note("the rows are in UTC%+g and stay so: the %d min to UTC%+g are no whole number of steps", r.clockH, shiftMin, local)
	}
}

// rotate moves values n places on, those at the end to the front.
func rotate(values []float64, n int) {
	if len(values) == 0 {
		return
	}
	n = ((n % len(values)) + len(values)) % len(values)
	slices.Reverse(values)
	slices.Reverse(values[:n])
	slices.Reverse(values[n:])
}

// meanOfEnds turns readings at the end of each step into means of the steps, in place.
func meanOfEnds(readings []float64) []float64 {
	if len(readings) == 0 {
		return readings
	}
	before := readings[0]
	for i, v := range readings {
		readings[i] = (before + v) / 2
		before = v
	}
	return readings
}

func ourUnit(q int) string {
	switch {
	case q <= dhi:
		return "W/m2"
	case q == wind:
		return "m/s"
	case q == snow:
		return "cm"
	}
	return "C"
}
