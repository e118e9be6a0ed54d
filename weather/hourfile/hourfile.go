// Package hourfile reads weather from text files with one row per step or per day (EPW, TMY3, CSV, any table whose
// columns are named) and writes it in our own plain CSV.
//
// # EPW and TMY3
//
// Both give local standard time without daylight saving, offsets and longitudes positive to the east, and hours 1 to 24
// named by their end: hour 1 covers 00:00 to 01:00. Light is the mean of that hour (Wh/m2 over an hour is W/m2);
// temperature and wind are readings at the end of the hour, so the mean of an hour is taken as the mean of the readings
// at its two ends; the first hour of a file keeps its own. An EPW may have 2, 4, 6, 12 or 60 records an hour; whether their
// light is a mean or an energy, the sun tells. Sources: S. Wilcox, W. Marion, Users Manual for TMY3 Data
// Sets, NREL/TP-581-43156 (2008); D. B. Crawley, J. W. Hand, L. K. Lawrie, Improving the weather information available to
// simulation programs, Building Simulation '99, and the public EPW data dictionary. Only the columns that weather.Year
// has are read; the others may hold anything.
//
// # Plain CSV
//
// The first line that is neither blank nor starts with # names the columns, each with its unit:
//
//	ghi_w_m2       light on the level; needed
//	dni_w_m2       beam on a plane facing the sun, with dhi_w_m2 or not at all
//	dhi_w_m2       diffuse light on the level
//	temp_c         air temperature, mean of the step
//	wind_m_s       wind speed
//	snow_depth_cm  snow on the ground
//	time           start of the step, as 2011-01-31 13:00 or 2011-01-31T13:00Z or +01:00; time_end for its end
//
// Light may be in W/m2, Wh/m2, kWh/m2, kJ/m2, MJ/m2 or J/cm2, temperature in C, 0.1 C, K or F, wind in m/s, 0.1 m/s,
// km/h, mph or kn, snow depth in cm, mm, m or in, written ghi_kj_m2 or "GHI (kJ/m2)". The date and the hour may stand in
// columns of their own: date, and hour_start (0 to 23), hour_end (1 to 24), hour (either: 24 tells) or time (13:00); or
// year, month, day, hour. A name that ends in _utc says that the clock is UTC; otherwise it is local standard time. Other
// columns may hold anything. The separator is the one of , ; and tab that fits the names; decimals have a point or a comma.
//
// Lines such as "# latitude_deg: 52.1" before the names say what else is known: name, source, latitude_deg,
// longitude_deg, elevation_m, offset_h (local standard time less UTC), dates (measured or typical).
//
// # Days
//
// Where a row is a day, its light is spread over the hours; see daily.go. The columns are date, ghi_kwh_m2 (or another
// unit), and temp_min_c with temp_max_c, or temp_c, or none.
//
// # Gaps
//
// A short gap is filled and counted in a warning: up to MaxGapLightH hours of daylight by the clearness of the steps
// around it (by night there is no light to miss), up to MaxGapTempH hours of temperature by a straight line. A longer one is
// refused with its dates, or cut: see Options.Cut. Wind and snow are never a reason to refuse a file: see fillWind and
// settleSnow.
package hourfile

import (
	"fmt"
	"io"
	"math"
	"strings"

	"tideover/sim/limit"
	"tideover/weather"
)

// The largest file that is read.
const (
	MaxBytes = 64 << 20
	MaxRows  = 1_000_000
)

// Options is what a file does not say. Start from DefaultOptions.
type Options struct {
	LatDeg, LonDeg float64 // NaN: as in the file
	ElevationM     float64 // NaN: as in the file, else 0
	OffsetH        float64 // local standard time less UTC; NaN: as in the file, else the clock of its rows
	Layout         *Layout // which column holds what; nil: the file is known by its look
	Cut            bool    // where gaps are too long to be filled, keep the best stretch without one
}

// DefaultOptions leaves all to the file.
func DefaultOptions() Options {
	return Options{LatDeg: math.NaN(), LonDeg: math.NaN(), ElevationM: math.NaN(), OffsetH: math.NaN()}
}

// Error is a fault of the file at a place. Columns are counted in bytes from 1, as editors do for plain text.
type Error struct {
	File      string
	Line, Col int
	Msg       string
}

func (e *Error) Error() string { return fmt.Sprintf("%s:%d:%d: %s", e.File, e.Line, e.Col, e.Msg) }

// Pos returns the place of the fault.
func (e *Error) Pos() (file string, line, col int) { return e.File, e.Line, e.Col }

// Read reads a file that says all itself; see ReadWith.
func Read(name string, r io.Reader) (*weather.Year, error) {
	return ReadWith(name, r, DefaultOptions())
}

// ReadWith reads a file by its layout or, without one, by its look: EPW, TMY3 or plain CSV. The name is used in errors
// only. What the options say of the place goes before what the file says.
//
// The year is Measured when the dates of its rows follow one another, years included; else it is a typical year put
// together from months of different years, which must be whole: it is dated 2025, or 2024 with a 29 February, until
// weather.Year.WithCalendarYear says otherwise.
//
// A value that is no number or outside its range, a long gap, rows out of order and a file over MaxBytes or MaxRows are
// refused with an *Error. A clear line in Warnings or Notes says what was filled, left out or assumed. Missing wind takes
// the reading before. Light down to -20 W/m2, the night offset of a sensor, counts as 0. A year without temperature gets
// that of the standard atmosphere, 15 degC less 6.5 K per km of elevation, and a warning.
func ReadWith(name string, r io.Reader, opt Options) (*weather.Year, error) {
	for _, v := range []struct {
		name    string
		value   float64
		allowed limit.Range
	}{
		{"latitude", opt.LatDeg, weather.LatitudeRange},
		{"longitude", opt.LonDeg, weather.LongitudeRange},
		{"elevation", opt.ElevationM, weather.ElevationRange},
		{"offset from UTC", opt.OffsetH, weather.OffsetRange},
	} {
		if msg := v.allowed.Fault(v.value); msg != "" && !math.IsNaN(v.value) {
			return nil, fmt.Errorf("%s: %s: %s", name, v.name, msg)
		}
	}
	if opt.Layout != nil {
		if faults := opt.Layout.Check(); len(faults) > 0 {
			return nil, fmt.Errorf("%s: layout: %s", name, faults[0].Error())
		}
	}
	data, err := io.ReadAll(io.LimitReader(r, MaxBytes+1))
	if err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	t := &text{name: name, data: string(data), sep: ','}
	if len(data) > MaxBytes {
		return nil, t.fault(1, "the file is larger than %d MiB", MaxBytes>>20)
	}
	if strings.IndexByte(t.data[:min(len(t.data), 4096)], 0) >= 0 {
		return nil, t.fault(1, "the file is not plain text, or is UTF-16: save it as UTF-8")
	}
	t.data = strings.TrimPrefix(t.data, "\ufeff")
	if !t.next() {
		return nil, t.fault(1, "the file is empty")
	}
	rows := &rows{t: t, opt: opt, site: unknownSite(), clockH: math.NaN(), kinds: plainKinds}
	for q := range rows.cols {
		rows.cols[q].at = -1
	}
	first := t.fields(8)
	second, _, _ := strings.Cut(t.data[t.end:], "\n")
	switch {
	case opt.Layout != nil:
		err = rows.readLayout(opt.Layout)
	case strings.EqualFold(strings.TrimSpace(first[0].text), "LOCATION"):
		err = rows.readEPW()
	case len(first) >= 7 && len(second) >= 4 && strings.EqualFold(second[:4], "date") && !strings.HasPrefix(t.line, "#"):
		err = rows.readTMY3()
	default:
		err = rows.readPlain()
	}
	if err != nil {
		return nil, err
	}
	return rows.finish()
}
