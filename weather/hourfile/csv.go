package hourfile

import (
	"strings"
)

// piece is a column that holds the time or a part of it.
type piece struct {
	at     int
	format format
	guess  []format // until the first row tells which
}

// table is a CSV with named columns, as its header or a layout describes it.
type table struct {
	*rows
	pieces   []piece
	width    int // fields that a row must have
	comment  string
	bareHour bool // a column hour: 24 means that it is named by its end, 0 by its start
	saw24    bool
	sawZero  bool
	zoned    bool
	minZone  int
}

// readPlain reads our own CSV from the first line, which is the current one.
func (r *rows) readPlain() error {
	t := r.t
	first := clip(t.line)
	for {
		line := strings.TrimSpace(t.line)
		if strings.HasPrefix(line, "#") {
			if err := r.said(); err != nil {
				return err
			}
		} else if line != "" {
			break
		}
		if !t.next() {
			return t.fault(1, "the file has no names of columns")
		}
	}
	tab := &table{rows: r, comment: "#"}
	if err := tab.header(first); err != nil {
		return err
	}
	return tab.read()
}

// said reads the current line, a comment such as "# latitude_deg: 52.1".
func (r *rows) said() error {
	line := strings.TrimLeft(r.t.line, "# \t")
	i := strings.IndexAny(line, ":=")
	if i < 0 {
		return nil
	}
	value := strings.TrimLeft(line[i+1:], " \t")
	p := part{strings.TrimRight(value, ",; \t\r"), len(r.t.line) - len(value) + 1}
	value = p.text
	v := r.placeValues(p, p, p, p)
	switch snake(line[:i]) {
	case "latitude_deg", "latitude", "lat", "lat_deg":
		return r.setPlace(v[0])
	case "longitude_deg", "longitude", "lon", "lon_deg":
		return r.setPlace(v[1])
	case "elevation_m", "elevation", "altitude", "altitude_m":
		return r.setPlace(v[3])
	case "offset_h", "utc_offset", "offset", "time_zone", "timezone":
		min, ok := offsetMin(value)
		if !ok || min < -12*60 || min > 14*60 {
			return r.t.fault(p.col, "%q is not an offset from UTC between -12 and 14 h, as +1 or +05:30", clip(value))
		}
		r.site.OffsetH = float64(min) / 60
	case "name", "place", "station":
		r.site.Name = label(value)
	case "source":
		r.site.Source = label(value)
	case "dates":
		r.isTypical = strings.EqualFold(value, "typical")
		r.isMeasured = strings.EqualFold(value, "measured")
	case "warning":
		r.warnings = keep(r.warnings, value)
	case "note":
		r.notes = keep(r.notes, value)
	}
	return nil
}

// keep adds a remark of the file to a list of 100 at most.
func keep(list []string, s string) []string {
	if s = label(s); s == "" || len(list) >= 100 {
		return list
	}
	return append(list, s)
}

func (r *rows) setPlace(v placeValue) (err error) {
	*v.into, err = r.t.number(v.from, v.what, v.allowed)
	return err
}

// header reads the names of the columns from the current line. first is the file's first line, for the message.
func (tab *table) header(first string) error {
	t := tab.t
	best, bestSep := 0, byte(',')
	for _, sep := range []byte{',', ';', '\t'} {
		t.sep = sep
		known := 0
		for _, f := range t.all() {
			if _, _, ok, slip := titled(f.text); ok || slip != "" {
				known++
			} else if _, ok := timeTitle(f.text); ok {
				known++
			}
		}
		if known > best {
			best, bestSep = known, sep
		}
	}
	t.sep = bestSep
	var slips []string
	times := map[string]int{}
	for i, f := range t.all() {
		if name, ok := timeTitle(f.text); ok {
			if _, twice := times[name]; !twice {
				times[name] = i
			}
			continue
		}
		q, u, ok, slip := titled(f.text)
		switch {
		case ok && tab.cols[q].at >= 0:
			return t.fault(f.col, "two columns hold %s", tab.kinds[q].name)
		case ok:
			tab.cols[q] = column{at: i, unit: u}
			tab.width = max(tab.width, i+1)
		case slip != "":
			slips = append(slips, slip)
		}
	}
	if tab.cols[ghi].at < 0 {
		switch {
		case len(slips) > 0:
			return t.fault(1, "%s", slips[0])
		case len(times) == 0:
			return t.fault(1, "this is neither EPW (line 1 would start with LOCATION) nor TMY3 (line 2 would start with Date) nor a CSV whose columns are named with their units (as time,ghi_w_m2,temp_c), but %q", first)
		}
		return t.fault(1, "no column holds the global light with its unit, as ghi_w_m2")
	}
	return tab.timeColumns(times)
}

// timeTitle says which part of the time a title stands for. A trailing _utc is kept.
func timeTitle(title string) (string, bool) {
	if len(title) > 100 {
		return "", false
	}
	name := snake(title)
	name, utc := strings.CutSuffix(name, "_utc")
	if gmt, ok := strings.CutSuffix(name, "_gmt"); ok {
		name, utc = gmt, true
	}
	for _, end := range []string{"_local", "_lst"} {
		name = strings.TrimSuffix(name, end)
	}
	switch name {
	case "datetime", "date_time", "timestamp", "start", "start_time", "time_start":
		name = "time"
	case "end", "end_time":
		name = "time_end"
	case "hour_ending":
		name = "hour_end"
	case "utc":
		name, utc = "time", true
	case "time", "time_end", "date", "day", "month", "year", "hour", "hour_start", "hour_end", "minute":
	default:
		return "", false
	}
	if utc {
		name += "_utc"
	}
	return name, true
}

// timeColumns settles from their names what the columns of the time are.
func (tab *table) timeColumns(names map[string]int) error {
	at := map[string]int{}
	for n, i := range names {
		plain, utc := strings.CutSuffix(n, "_utc")
		if utc {
			tab.clockH = 0
		}
		at[plain] = i
	}
	add := func(name string, guess []format) bool {
		i, ok := at[name]
		if ok {
			tab.pieces = append(tab.pieces, piece{at: i, guess: guess})
			tab.width = max(tab.width, i+1)
		}
		return ok
	}
	dated := add("date", knownDates)
	if !dated {
		if _, ok := at["year"]; ok {
			dated = true
			for _, p := range []struct {
				name   string
				format format
			}{{"year", fourYears}, {"month", twoMonths}, {"day", twoDays}} {
				if !add(p.name, []format{p.format}) {
					return tab.t.fault(1, "a column year needs month and day beside it")
				}
			}
		}
	}
	if !dated {
		for _, p := range []struct {
			name string
			end  bool
		}{{"time", false}, {"hour_start", false}, {"time_end", true}, {"hour_end", true}, {"hour", false}} {
			if add(p.name, knownTimes) {
				tab.endLabel = p.end
				return nil
			}
		}
		return tab.t.fault(1, "no column holds the time: name it time (the start of each step) or time_end")
	}
	switch {
	case add("time", knownClock):
	case add("time_end", knownClock), add("hour_end", []format{twoHours}):
		tab.endLabel = true
	case add("hour_start", []format{twoHours}):
	case add("hour", []format{twoHours}):
		tab.bareHour = true
	default:
		tab.daily = true
		return nil
	}
	add("minute", []format{twoMinutes})
	return nil
}

// read reads the rows below the current line.
func (tab *table) read() error {
	t := tab.t
	for t.next() {
		if t.blank() || tab.comment != "" && strings.HasPrefix(trim(t.line), tab.comment) {
			continue
		}
		f, err := t.need(tab.width, "the row")
		if err != nil {
			return err
		}
		at, err := tab.time(f)
		if err != nil {
			return err
		}
		if err := tab.add(at, f); err != nil {
			return err
		}
	}
	if tab.bareHour && tab.saw24 {
		if tab.sawZero {
			return &Error{t.name, 1, 1, "the column hour holds both 0 and 24: name it hour_start (0 to 23) or hour_end (1 to 24)"}
		}
		tab.endLabel = true
	}
	if tab.zoned {
		for i := range tab.times {
			tab.times[i] += int64(tab.minZone)
		}
		tab.clockH = float64(tab.minZone) / 60
	}
	return nil
}

// time reads the time of a row: minutes since 1970 on the rows' clock, or in UTC where rows give their offset.
func (tab *table) time(f []part) (int64, error) {
	t := tab.t
	m := moment{month: 1, day: 1}
	for i := range tab.pieces {
		p := &tab.pieces[i]
		s := f[p.at].text
		if p.guess != nil {
			for _, g := range p.guess {
				try := m
				if g.read(s, &try) {
					p.format, p.guess = g, nil
					break
				}
			}
			if p.guess != nil {
				hint := ""
				if strings.Count(s, "/") == 2 {
					hint = ": day and month could be either way round, which a layout can say"
				}
				return 0, t.fault(f[p.at].col, "%q is not a time in a form that is known, as 2011-01-31 13:00%s", clip(s), hint)
			}
		}
		if !p.format.read(s, &m) {
			return 0, t.fault(f[p.at].col, "%q is not a time in the form of the rows before", clip(s))
		}
	}
	if msg := m.fault(); msg != "" {
		return 0, t.fault(f[tab.pieces[0].at].col, "%s", msg)
	}
	at := m.minutes()
	if tab.bareHour {
		tab.saw24 = tab.saw24 || m.hour == 24
		tab.sawZero = tab.sawZero || m.hour == 0
	}
	if len(tab.times) == 0 {
		tab.zoned, tab.minZone = m.zoned, m.zoneMin
	} else if tab.zoned != m.zoned {
		return 0, t.fault(f[tab.pieces[0].at].col, "some rows give their offset from UTC and some do not")
	}
	if m.zoned {
		if m.zoneMin < -12*60 || m.zoneMin > 14*60 {
			return 0, t.fault(f[tab.pieces[0].at].col, "the offset from UTC is not between -12 and 14 h")
		}
		at -= int64(m.zoneMin)
		tab.minZone = min(tab.minZone, m.zoneMin)
	}
	return at, nil
}
