// Package weather holds a stretch of weather as equal-length columns on one clock: light in W/m2, air temperature in
// degC, wind in m/s.
//
// The clock is local standard time, without daylight saving. Step i covers [Start + i steps, Start + (i+1) steps); light,
// temperature and wind are the means of the step. Latitude north, longitude east and an offset east of Greenwich are
// positive.
package weather

import (
	"fmt"
	"math"
	"slices"
	"time"

	"tideover/sim/limit"
	"tideover/weather/sun"
)

// Site is where the weather was taken, and by whom.
type Site struct {
	Name, Source string
	LatDeg       float64 // -90..90
	LonDeg       float64 // -180..180
	ElevationM   float64 // -500..9000 above the sea
	OffsetH      float64 // local standard time less UTC, -12..14
}

// Zone returns local standard time as a zone without daylight saving.
func (s Site) Zone() *time.Location {
	return time.FixedZone(fmt.Sprintf("UTC%+g", s.OffsetH), int(math.Round(s.OffsetH*3600)))
}

// Sun returns the site as the sun sees it.
func (s Site) Sun() sun.Site { return sun.Site{LatDeg: s.LatDeg, LonDeg: s.LonDeg} }

// Year is a year of weather, or any other stretch.
type Year struct {
	Site     Site
	Start    time.Time // start of the first step, in the site's standard time
	StepMin  int       // 60, 30, 15, 10, 5 or 1
	Measured bool      // the dates are those of the weather; otherwise they only place it in a calendar

	GHIWm2 []float64 // light on the level, 0..2000
	DNIWm2 []float64 // beam on a plane facing the sun, 0..2000; nil with DHIWm2 when only the global light is known
	DHIWm2 []float64 // diffuse light on the level, 0..2000
	TempC  []float64 // air temperature, -90..70
	WindMs []float64 // wind speed, 0..120; nil when unknown

	// Track is where the sun is in each step, for those who share it; nil: not worked out. It holds for Site, Start and
	// StepMin as they are.
	Track []sun.Step

	SnowDepthCM []float64 // snow on the ground, 0..2000; nil when unknown

	Warnings []string // what is doubtful, one line each
	Notes    []string // what was assumed, one line each
}

// The ranges that Check allows. They are wide: a reading outside is a code or a slip, not weather. Clouds can lift the
// light of a minute to half as much again as the sun outside the air; the lowest and highest air temperatures on record
// are -89 and 57 degC; the EPW data dictionary bounds temperature at +-70.
var (
	LightRange = limit.Between(0, 2000) // W/m2
	TempRange  = limit.Between(-90, 70) // degC
	WindRange  = limit.Between(0, 120)  // m/s
	SnowRange  = limit.Between(0, 2000) // cm

	LatitudeRange  = limit.Between(-90, 90)    // deg
	LongitudeRange = limit.Between(-180, 180)  // deg
	ElevationRange = limit.Between(-500, 9000) // m
	OffsetRange    = limit.Between(-12, 14)    // h
)

var stepsMin = []int{60, 30, 15, 10, 5, 1}

// Len returns the number of steps.
func (y *Year) Len() int { return len(y.GHIWm2) }

// Sun returns where the sun is in each step, worked out if need be. Do not change it.
func (y *Year) Sun() []sun.Step {
	if len(y.Track) == y.Len() {
		return y.Track
	}
	return sun.Track(y.Start, y.StepH(), y.Len(), y.Site.Sun())
}

// StepH returns the length of a step, h.
func (y *Year) StepH() float64 { return float64(y.StepMin) / 60 }

type column struct {
	name     string
	values   []float64
	allowed  limit.Range
	optional bool
}

func (y *Year) columns() []column {
	return []column{
		{"global light", y.GHIWm2, LightRange, false},
		{"beam light", y.DNIWm2, LightRange, true},
		{"diffuse light", y.DHIWm2, LightRange, true},
		{"temperature", y.TempC, TempRange, false},
		{"wind", y.WindMs, WindRange, true},
		{"snow depth", y.SnowDepthCM, SnowRange, true},
	}
}

// Check returns what makes the year unfit for use: a site outside its ranges, columns of different lengths, or a value
// that is not finite or outside its range; the error names the first bad step.
func (y *Year) Check() error {
	for _, v := range []struct {
		name    string
		value   float64
		allowed limit.Range
	}{
		{"latitude", y.Site.LatDeg, LatitudeRange},
		{"longitude", y.Site.LonDeg, LongitudeRange},
		{"elevation", y.Site.ElevationM, ElevationRange},
		{"offset from UTC", y.Site.OffsetH, OffsetRange},
	} {
		if msg := v.allowed.Fault(v.value); msg != "" {
			return fmt.Errorf("weather: %s of the site: %s", v.name, msg)
		}
	}
	switch {
	case !slices.Contains(stepsMin, y.StepMin):
		return fmt.Errorf("weather: a step of %d min is not one of %v", y.StepMin, stepsMin)
	case y.Start.IsZero():
		return fmt.Errorf("weather: the first step has no date")
	case y.Len() == 0:
		return fmt.Errorf("weather: no steps")
	case (y.DNIWm2 == nil) != (y.DHIWm2 == nil):
		return fmt.Errorf("weather: beam and diffuse light go together: one of them is missing")
	}
	for _, c := range y.columns() {
		if c.values == nil && c.optional {
			continue
		}
		if len(c.values) != y.Len() {
			return fmt.Errorf("weather: %s has %d steps, global light has %d", c.name, len(c.values), y.Len())
		}
		for i, v := range c.values {
			if msg := c.allowed.Fault(v); msg != "" {
				return fmt.Errorf("weather: %s in step %d (%s): %s", c.name, i, y.at(i).Format("2 Jan 2006 15:04"), msg)
			}
		}
	}
	return nil
}

// at returns the start of step i.
func (y *Year) at(i int) time.Time {
	return y.Start.Add(time.Duration(i) * time.Duration(y.StepMin) * time.Minute)
}

// Refine splits each step into shorter ones of stepMin minutes, which must divide it; with the step it has already, it
// returns y itself. The energy of each old step is kept.
//
// Global and diffuse light follow the sine of the sun's height, and the beam the time for which the sun is up (so it
// keeps its strength, but for the steps of sunrise and sunset). Where that would ask for more than the sun gives outside
// the air, as by twilight or where the clock of the weather is wrong, the light is spread evenly. Temperature and wind
// keep the mean of the old step. It panics where stepMin does not divide the step.
func (y *Year) Refine(stepMin int) *Year {
	if stepMin == y.StepMin {
		return y
	}
	if stepMin < 1 || y.StepMin%stepMin != 0 {
		panic(fmt.Sprintf("weather: Refine: %d min does not divide the step of %d min", stepMin, y.StepMin))
	}
	parts := y.StepMin / stepMin
	fine := *y
	fine.StepMin, fine.Track = stepMin, nil
	fine.GHIWm2 = make([]float64, y.Len()*parts)
	if y.DNIWm2 != nil {
		fine.DNIWm2, fine.DHIWm2 = make([]float64, y.Len()*parts), make([]float64, y.Len()*parts)
	}
	track := sun.Track(y.Start, fine.StepH(), y.Len()*parts, y.Site.Sun())
	fine.Track = track
	level, lit := make([]float64, parts), make([]float64, parts)
	for i, ghi := range y.GHIWm2 {
		from, to := i*parts, (i+1)*parts
		for j, s := range track[from:to] {
			lit[j] = s.LitShare
			level[j] = s.LitShare * max(0, math.Cos(s.ZenithDeg*math.Pi/180))
		}
		outsideWm2 := sun.SolarConstantWm2 * track[from].DistanceFactor
		if !spread(fine.GHIWm2[from:to], ghi, level, outsideWm2) {
			even(level)
			spread(fine.GHIWm2[from:to], ghi, level, math.Inf(1))
		}
		if y.DNIWm2 == nil {
			continue
		}
		if !spread(fine.DHIWm2[from:to], y.DHIWm2[i], level, math.Inf(1)) { // as the global light, so never above it
			even(level)
			spread(fine.DHIWm2[from:to], y.DHIWm2[i], level, math.Inf(1))
		}
		if !spread(fine.DNIWm2[from:to], y.DNIWm2[i], lit, outsideWm2) {
			even(lit)
			spread(fine.DNIWm2[from:to], y.DNIWm2[i], lit, math.Inf(1))
		}
	}
	fine.TempC = repeat(y.TempC, parts)
	fine.WindMs = repeat(y.WindMs, parts)
	fine.SnowDepthCM = repeat(y.SnowDepthCM, parts)
	return &fine
}

// spread fills dst with values of the given mean in proportion to share, and reports whether none is above
// outside x share.
func spread(dst []float64, mean float64, share []float64, outside float64) bool {
	var sum float64
	for _, s := range share {
		sum += s
	}
	if mean == 0 {
		clear(dst)
		return true
	}
	if sum == 0 {
		return false
	}
	perShare := mean * float64(len(dst)) / sum
	if perShare > outside {
		return false
	}
	for j, s := range share {
		dst[j] = s * perShare
	}
	return true
}

func even(share []float64) {
	for j := range share {
		share[j] = 1
	}
}

func repeat(values []float64, n int) []float64 {
	if values == nil {
		return nil
	}
	fine := make([]float64, 0, len(values)*n)
	for _, v := range values {
		for range n {
			fine = append(fine, v)
		}
	}
	return fine
}

// WithCalendarYear places a typical or synthetic year in a calendar year, 1900..2100, which sets its weekdays and clock
// changes. The result shares its columns with y. A measured year keeps its own dates and is returned as it is.
//
// It refuses weather that is not one whole year from 1 January, and a calendar year of another length: an hour of
// weather for each hour of the year is needed.
func (y *Year) WithCalendarYear(year int) (*Year, error) {
	if y.Measured {
		return y, nil
	}
	if year < 1900 || year > 2100 {
		return nil, fmt.Errorf("calendar year %d is not between 1900 and 2100", year)
	}
	hours, rest := y.Len()*y.StepMin/60, y.Len()*y.StepMin%60
	if y.Start.Month() != time.January || y.Start.Day() != 1 || y.Start.Hour() != 0 || y.Start.Minute() != 0 ||
		rest != 0 || hours != 8760 && hours != 8784 {
		return nil, fmt.Errorf("the weather is not one year from 1 January (8760 or 8784 hours, this is %d from %s): it cannot be given a calendar year",
			hours, y.Start.Format("2 January 15:04"))
	}
	leap := daysIn(year) == 366
	switch {
	case leap && hours == 8760:
		return nil, fmt.Errorf("calendar year %d has a 29 February, which this weather of 8760 hours lacks; %d or %d would do", year, year-1, year+1)
	case !leap && hours == 8784:
		return nil, fmt.Errorf("calendar year %d has no 29 February, which this weather of 8784 hours has; %d would do", year, nextLeap(year))
	}
	dated := *y
	dated.Track = nil
	dated.Start = time.Date(year, time.January, 1, 0, 0, 0, 0, y.Start.Location())
	return &dated, nil
}

func daysIn(year int) int { return time.Date(year, time.December, 31, 0, 0, 0, 0, time.UTC).YearDay() }

func nextLeap(year int) int {
	for daysIn(year) != 366 {
		year++
	}
	return year
}
