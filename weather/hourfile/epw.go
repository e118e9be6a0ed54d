package hourfile

import (
	"math"
	"slices"
	"strings"
	"time"

	"tideover/weather"
	"tideover/weather/sun"
)

// The fields of an EPW row that are read, from 0: year, month, day and hour stand first, then the minute, which is
// ignored where a record is an hour. It is 0 in some families of files and 60 in others, and the hour ends at its name in
// both.
const (
	epwMinute = 4

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
// since real files swap them; only the records per hour are needed from them. For more than one, see placeRecords and
// recordLight.
func (r *rows) readEPW() error {
	t := r.t
	f, err := t.need(10, "LOCATION")
	if err != nil {
		return err
	}
	r.site.Source = label(f[4].text)
	if err := r.where(f[1], f[6], f[7], f[8], f[9]); err != nil {
		return err
	}
	r.kinds, r.endLabel, r.readingsAtEnd, r.snowInPassing = epwKinds, true, true, true
	r.cols = [quantities]column{ghi: {at: epwGHI}, dni: {at: epwDNI}, dhi: {at: epwDHI}, temp: {at: epwTemp}, wind: {at: epwWind},
		snow: {at: epwSnow}, tmin: {at: -1}, tmax: {at: -1}}
	header, perHour := true, 1
	var minutes []uint8
	for t.next() {
		if header {
			f := t.fields(3)
			if word := strings.TrimSpace(f[0].text); word == "" || word[0] < '0' || word[0] > '9' {
				if strings.EqualFold(word, "DATA PERIODS") && len(f) == 3 {
					var ok bool
					if perHour, ok = whole(f[2].text); !ok || !slices.Contains(perHours, perHour) {
						return t.fault(f[2].col, "%q records per hour; 1, 2, 4, 6, 12 or 60 can be read", clip(f[2].text))
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
		if perHour > 1 {
			minute, ok := whole(f[epwMinute].text)
			if !ok || minute > 60 {
				return t.fault(f[epwMinute].col, "minute: %q is not a whole number from 0 to 60", clip(f[epwMinute].text))
			}
			minutes = append(minutes, uint8(minute))
		}
	}
	if perHour > 1 && len(minutes) > 0 {
		return r.placeRecords(perHour, minutes)
	}
	return nil
}

var perHours = []int{1, 2, 4, 6, 12, 60}

// placeRecords moves each record, which stands at the end of its hour, to its own end. Files name a record by the minute
// at which it ends (15 to 60) or starts (0 to 45), and some write one minute throughout: then the order tells.
func (r *rows) placeRecords(perHour int, minutes []uint8) error {
	step := int64(60 / perHour)
	least, most := slices.Min(minutes), slices.Max(minutes)
	r.perHour = perHour
	if least != most {
		for i, m := range minutes {
			r.times[i] += int64(m) - 60
			if least == 0 && most < 60 {
				r.times[i] += step
			}
		}
		return nil
	}
	hourly := true
	for i := 1; i < len(r.times); i++ {
		hourly = hourly && r.times[i] != r.times[i-1]
	}
	if hourly && len(r.times) > 1 {
		r.perHour = 1
		r.warn("the header says %d records per hour, but the file has one: it is read by the hour", perHour)
		return nil
	}
	for from := 0; from < len(r.times); {
		to := from
		for to < len(r.times) && r.times[to] == r.times[from] {
			to++
		}
		if n := to - from; n != perHour {
			r.goTo(from)
			return r.t.fault(1, "this hour has %d records, where the header says %d, and their minutes are all %d: they cannot be placed", n, perHour, least)
		}
		for k := range perHour {
			r.times[from+k] += int64(k+1-perHour) * step
		}
		from = to
	}
	return nil
}

// recordLight settles whether the light of records shorter than an hour is their mean, W/m2, or their energy, Wh/m2: the
// data dictionary writes Wh/m2 and does not say of what. The sun tells. Of the hours with a sun above 20 deg, the clearest
// twentieth is clearer than 0.68 to 0.87 in nine real files of eight climates, two of them off their clock (our own count).
// The energy of half an hour looks half as clear, that of a shorter record less: 0.53 stands between. Less than 30 days may
// all be dull: they are taken as means, and warned about.
func (r *rows) recordLight() {
	if r.perHour <= 1 || r.stepMin > 60 {
		return
	}
	var clear []float64
	high := math.Sin(20 * math.Pi / 180)
	for i, v := range r.values[ghi] {
		if !(v > 0 && v < 9999) {
			continue
		}
		start := time.Unix(r.times[i]*60-int64(math.Round(r.clockH*3600)), 0)
		at, lit := sun.MidStep(start, float64(r.stepMin)/60, r.site.Sun())
		if sin := math.Cos(at.ZenithDeg * math.Pi / 180); lit == 1 && sin > high {
			clear = append(clear, v/(sun.SolarConstantWm2*at.DistanceFactor*sin))
		}
	}
	slices.Sort(clear)
	dull := len(clear) == 0 || clear[len(clear)*95/100] < 0.53
	switch long := len(clear) > 0 && int64(len(r.times))*r.stepMin >= 30*1440; {
	case dull && long:
		for _, q := range []int{ghi, dni, dhi} {
			r.cols[q].unit = unit{scale: 1, energy: true}
		}
		r.note("%d records an hour: their light is taken as the energy of each record, Wh/m2, as W/m2 it would be too little on the clearest days", r.perHour)
	case dull:
		r.warn("%d records an hour: their light is taken as W/m2; the file is too short or too dull to tell whether it is the energy of each record", r.perHour)
	default:
		r.note("%d records an hour: their light is taken as the mean of each record, W/m2, as the energy of each it would be too much", r.perHour)
	}
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
	r.site.Name = label(name.text)
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
