package hourfile

import (
	"strings"

	"tideover/weather"
)

// The fields of an EPW row that are read, from 0: year, month, day and hour stand first, then the minute, which is
// ignored. It is 0 in some families of files and 60 in others, and the hour ends at its name in both.
const (
	epwTemp = 6
	epwGHI  = 13
	epwDNI  = 14
	epwDHI  = 15
	epwWind = 21
)

// The codes of the EPW data dictionary for "missing": 9999 for light, 99.9 for the dry bulb, 999 for the wind.
var epwKinds = [quantities]quantity{
	ghi:  {"global horizontal light", weather.LightRange, func(v float64) bool { return v >= 9999 }},
	dni:  {"direct normal light", weather.LightRange, func(v float64) bool { return v >= 9999 }},
	dhi:  {"diffuse horizontal light", weather.LightRange, func(v float64) bool { return v >= 9999 }},
	temp: {"dry bulb temperature", weather.TempRange, func(v float64) bool { return v >= 99.9 }},
	wind: {"wind speed", weather.WindRange, func(v float64) bool { return v >= 999 }},
}

// readEPW reads from the LOCATION line, which is the current one. The other header lines are known by their first word,
// since real files swap them; only the records per hour are needed from them.
func readEPW(t *text) (*weather.Year, error) {
	y := &weather.Year{}
	f, err := t.need(10, "LOCATION")
	if err != nil {
		return nil, err
	}
	y.Site.Source = latin(f[4].text)
	if err := t.site(y, f[1], f[6], f[7], f[8], f[9]); err != nil {
		return nil, err
	}
	r := rows{t: t, kinds: epwKinds}
	header := true
	for t.next() {
		if header {
			f := t.fields(3)
			if word := strings.TrimSpace(f[0].text); word == "" || word[0] < '0' || word[0] > '9' {
				if strings.EqualFold(word, "DATA PERIODS") && len(f) == 3 {
					if perHour, ok := whole(f[2].text); !ok || perHour != 1 {
						return nil, t.fault(f[2].col, "%q records per hour; only 1 can be read", clip(f[2].text))
					}
				}
				continue
			}
			header = false
		}
		if strings.TrimSpace(t.line) == "" {
			continue
		}
		f, err := t.need(epwWind+1, "the row")
		if err != nil {
			return nil, err
		}
		var at stamp
		for i, into := range []*int{&at.year, &at.month, &at.day, &at.hour} {
			var ok bool
			if *into, ok = whole(f[i].text); !ok {
				return nil, t.fault(f[i].col, "%s: %q is not a whole number", [...]string{"year", "month", "day", "hour"}[i], clip(f[i].text))
			}
		}
		if err := t.check(at, f[1].col, f[3].col); err != nil {
			return nil, err
		}
		if err := r.add(at, [quantities]part{ghi: f[epwGHI], dni: f[epwDNI], dhi: f[epwDHI], temp: f[epwTemp], wind: f[epwWind]}); err != nil {
			return nil, err
		}
	}
	if err := r.finish(y); err != nil {
		return nil, err
	}
	return y, nil
}
