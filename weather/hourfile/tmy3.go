package hourfile

import (
	"strings"

	"tideover/weather"
)

// TMY3 marks a missing value with -9900, whatever the column.
func tmy3Missing(raw, _ float64) bool { return raw <= -9900 }

var tmy3Kinds = [quantities]quantity{
	ghi:  {"GHI", weather.LightRange, tmy3Missing},
	dni:  {"DNI", weather.LightRange, tmy3Missing},
	dhi:  {"DHI", weather.LightRange, tmy3Missing},
	temp: {"Dry-bulb", weather.TempRange, tmy3Missing},
	wind: {"Wspd", weather.WindRange, tmy3Missing},
}

// readTMY3 reads from the line of the station, which is the current one. Columns are found by their titles, less the
// unit in brackets: the release of 2008 has 68 of them, the reissue of 2015 has 71.
func (r *rows) readTMY3() error {
	t := r.t
	r.site.Source = "TMY3"
	f, err := t.need(7, "the line of the station")
	if err != nil {
		return err
	}
	if err := r.where(f[1], f[4], f[5], f[3], f[6]); err != nil {
		return err
	}
	t.next() // the titles: Read has seen them
	columns := map[string]int{}
	width := 0
	for i, f := range t.all() {
		title, _, _ := strings.Cut(f.text, "(")
		title = strings.ToLower(strings.TrimSpace(title))
		if _, twice := columns[title]; !twice {
			columns[title] = i
		}
	}
	place := func(title string) (int, error) {
		i, ok := columns[strings.ToLower(title)]
		if !ok {
			return 0, t.fault(1, "no column is titled %q", title)
		}
		width = max(width, i+1)
		return i, nil
	}
	r.kinds, r.endLabel, r.readingsAtEnd = tmy3Kinds, true, true
	for q := range snow { // the format has no snow depth
		if r.cols[q].at, err = place(tmy3Kinds[q].name); err != nil {
			return err
		}
	}
	dateAt, err := place("Date")
	if err != nil {
		return err
	}
	timeAt, err := place("Time")
	if err != nil {
		return err
	}
	for t.next() {
		if t.blank() {
			continue
		}
		f, err := t.need(width, "the row")
		if err != nil {
			return err
		}
		at, ok := dateOf(f[dateAt].text)
		if !ok {
			return t.fault(f[dateAt].col, "%q is not a date as MM/DD/YYYY", clip(f[dateAt].text))
		}
		hour, minute, _ := strings.Cut(f[timeAt].text, ":")
		if at.hour, ok = whole(hour); !ok || strings.TrimSpace(minute) != "00" {
			return t.fault(f[timeAt].col, "%q is not an hour from 01:00 to 24:00", clip(f[timeAt].text))
		}
		if err := r.addHour(at, f, f[dateAt].col, f[timeAt].col); err != nil {
			return err
		}
	}
	return nil
}

// dateOf reads MM/DD/YYYY.
func dateOf(s string) (moment, bool) {
	month, rest, _ := strings.Cut(s, "/")
	day, year, _ := strings.Cut(rest, "/")
	var at moment
	var okM, okD, okY bool
	at.month, okM = whole(month)
	at.day, okD = whole(day)
	at.year, okY = whole(year)
	return at, okM && okD && okY
}
