package scenarios

import (
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/weather"
)

const yearsSite = `name: x
site: {climate: Wellington, latitude_deg: -41, longitude_deg: 175, utc_offset_h: 12, calendar_year: 2027}
array:
  modules_in_series: 1
  strings_in_parallel: 1
  tilt_deg: 45
  azimuth_deg: equator
  module: {power_w: 100, mp_voltage_v: 20, mp_current_a: 5, oc_voltage_v: 24, sc_current_a: 5.3}
controller: {max_current_a: 10, max_input_v: 60}
battery: {capacity_ah: 50}
loads:
  lamp: {kind: dusk_to_dawn, bus: dc, power_w: 10}
`

func TestYears(t *testing.T) {
	f, err := Decode("x", []byte(yearsSite))
	if err != nil {
		t.Fatal(err)
	}
	years, err := f.Base.Years(nil)
	if err != nil {
		t.Fatal(err)
	}
	one, err := f.Base.Weather(nil)
	if err != nil {
		t.Fatal(err)
	}
	if y := years.Year(0); !slices.Equal(y.GHIWm2, one.GHIWm2) || !y.Start.Equal(one.Start) {
		t.Errorf("the first of many years is not the year of a plain run")
	}
	for k, hours := range []int{8760, 8784, 8760} { // 2028 is a leap year
		y := years.Year(k)
		if y.Len() != hours || y.Start.Year() != 2027+k || y.Site.LatDeg != -41 || y.Site.LonDeg != 175 || y.Site.OffsetH != 12 {
			t.Errorf("year %d: %d hours from %v at %v, want %d hours of %d where the scenario pins it", k, y.Len(), y.Start, y.Site, hours, 2027+k)
		}
	}

	if _, err := f.Base.Years(one); err == nil || !strings.Contains(err.Error(), "one year of weather is one draw") {
		t.Errorf("one year as a file: %v", err)
	}
	// Four measured years of one temperature each.
	start := time.Date(2011, 1, 1, 0, 0, 0, 0, time.FixedZone("", 11*3600))
	series := &weather.Year{Start: start, StepMin: 60, Measured: true, Site: weather.Site{LatDeg: -40, OffsetH: 11}}
	for at := start; at.Year() < 2015; at = at.Add(time.Hour) {
		series.GHIWm2, series.TempC = append(series.GHIWm2, 0), append(series.TempC, float64(at.Year()-2010))
	}
	years, err = f.Base.Years(series)
	if err != nil {
		t.Fatal(err)
	}
	y := years.Year(1)
	if y.Len() != 8784 || y.Start.Year() != 2028 || y.Site.LatDeg != -41 || y.Site.OffsetH != 12 || slices.Min(y.TempC) < 1 || slices.Max(y.TempC) > 4 {
		t.Errorf("resampled year: %d hours from %v at %v, %v to %v degC", y.Len(), y.Start, y.Site, slices.Min(y.TempC), slices.Max(y.TempC))
	}
	if want := "seed 1, resampled from 4 measured years"; years.Source != want {
		t.Errorf("source %q, want %q", years.Source, want)
	}
}
