package hourfile

import (
	"math"
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
	epwSnow = 30
)

// atLeast is a code for "missing": that number and all above.
func atLeast(code float64) func(raw, value float64) bool {
	return func(raw, _ float64) bool { return raw >= code }
}

// The codes of the EPW data dictionary for "missing": 9999 for light, 99.9 for the dry bulb, 999 for wind and snow.
var epwKinds = [quantities]quantity{
	ghi:  {"global horizontal light", weather.LightRange, atLeast(9999)},
	dni:  {"direct normal light", weather.LightRange, atLeast(9999)},
	dhi:  {"diffuse horizontal light", weather.LightRange, atLeast(9999)},
	temp: {"dry bulb temperature", weather.TempRange, atLeast(99.9)},
	wind: {"wind speed", weather.WindRange, atLeast(999)},
	snow: {"snow depth", weather.SnowRange, func(raw, _ float64) bool { return raw < 0 || raw >= 999 }},
}

// readEPW reads from the LOCATION line, which is the current one. The other header lines are known by their first word,
// since real files swap them; only the records per hour are needed from them. More than one record per hour is refused:
// the data dictionary does not say whether their light is that of the record or of an hour.
func (r *rows) readEPW() error {
	t := r.t
	f, err := t.need(10, "LOCATION")
	if err != nil {
		return err
	}
	r.site.Source = latin(f[4].text)
	if err := r.where(f[1], f[6], f[7], f[8], f[9]); err != nil {
		return err
	}
	r.kinds, r.endLabel, r.readingsAtEnd, r.snowInPassing = epwKinds, true, true, true
	r.cols = [quantities]column{ghi: {at: epwGHI}, dni: {at: epwDNI}, dhi: {at: epwDHI}, temp: {at: epwTemp}, wind: {at: epwWind},
		snow: {at: epwSnow}, tmin: {at: -1}, tmax: {at: -1}}
	header := true
	for t.next() {
		if header {
			f := t.fields(3)
			if word := strings.TrimSpace(f[0].text); word == "" || word[0] < '0' || word[0] > '9' {
				if strings.EqualFold(word, "DATA PERIODS") && len(f) == 3 {
					if perHour, ok := whole(f[2].text); !ok || perHour != 1 {
						return t.fault(f[2].col, "%q records per hour; only 1 can be read", clip(f[2].text))
					}
				}
				continue
			}
			header = false
		}
		if t.blank() {
			continue
		}
		f := t.fields(epwSnow + 1)
		if len(f) <= epwWind {
			_, err := t.need(epwWind+1, "the row")
			return err
		}
		var at moment
		for i, into := range []*int{&at.year, &at.month, &at.day, &at.hour} {
			var ok bool
			if *into, ok = whole(f[i].text); !ok {
				return t.fault(f[i].col, "%s: %q is not a whole number", [...]string{"year", "month", "day", "hour"}[i], clip(f[i].text))
			}
		}
		if err := r.addHour(at, f, f[1].col, f[3].col); err != nil {
			return err
		}
	}
	return nil
}

// addHour adds a row whose hour is 1 to 24 and named by its end.
func (r *rows) addHour(at moment, f []part, dateCol, hourCol int) error {
	if at.hour < 1 || at.hour > 24 {
		return r.t.fault(hourCol, "hour %d is not between 1 and 24", at.hour)
	}
	if msg := at.fault(); msg != "" {
		return r.t.fault(dateCol, "%s", msg)
	}
	return r.add(at.minutes(), f)
}

// where reads what both formats say of the place. A blank latitude, longitude or offset must come from the options.
func (r *rows) where(name, lat, lon, offset, elevation part) error {
	r.site.Name = latin(name.text)
	for _, v := range r.placeValues(lat, lon, offset, elevation) {
		if strings.TrimSpace(v.from.text) == "" {
			continue
		}
		var err error
		if *v.into, err = r.t.number(v.from, v.what, v.allowed); err != nil {
			return err
		}
	}
	if math.IsNaN(r.site.ElevationM) {
		r.notes = append(r.notes, "the file gives no elevation: taken as 0 m")
	}
	return nil
}
