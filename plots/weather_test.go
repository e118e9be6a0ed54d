package plots

import (
	"bytes"
	"fmt"
	"image/color"
	"image/png"
	"math"
	"strings"
	"testing"
	"time"

	"tideover/weather"
	"tideover/weather/climate"
	"tideover/weather/summary"
)

// weathers are stretches of weather of every length and mood that the charts must take.
func weathers(t *testing.T) map[string]*weather.Year {
	t.Helper()
	place, err := climate.Find("De Bilt")
	if err != nil {
		t.Fatal(err)
	}
	g := climate.New(place, climate.Options{})
	join := func(years int) *weather.Year {
		y := *g.Year(2025, 1, 0)
		y.Measured = true
		for k := 1; k < years; k++ {
			more := g.Year(2025, 1, k)
			y.GHIWm2, y.TempC = append(y.GHIWm2, more.GHIWm2...), append(y.TempC, more.TempC...)
		}
		return &y
	}
	part := func(from, to int) *weather.Year {
		y := *join(1)
		y.Start = y.Start.Add(time.Duration(from) * time.Hour)
		y.GHIWm2, y.TempC = y.GHIWm2[from:to], y.TempC[from:to]
		return &y
	}
	m := map[string]*weather.Year{
		"synthetic": g.Year(2025, 1, 0), "two years": join(2), "ten years": join(10),
		"a day": part(0, 24), "six hours": part(9, 15), "a month and a half": part(5, 1100), "half a year": part(3000, 7400),
	}
	dark := *join(1)
	dark.Site.LatDeg, dark.GHIWm2 = 85, make([]float64, dark.Len())
	m["polar and dark"] = &dark
	utc := *join(1) // its days begin in the middle of the day
	utc.Site.LonDeg = -175
	m["hours of another zone"] = &utc
	fine := *join(1)
	m["quarters of an hour"] = fine.Refine(15)
	return m
}

// TestWeatherCharts: all texts lie on the paper and none on another; the same weather gives the same bytes.
func TestWeatherCharts(t *testing.T) {
	for name, y := range weathers(t) {
		s := summary.Of(y)
		for what, chart := range map[string]*Chart{"carpet": Carpet(y), "months": WeatherMonths(s), "runs": WeatherRuns(s)} {
			doc := svg(t, chart)
			if again := svg(t, chart); !bytes.Equal(doc, again) {
				t.Errorf("%s, %s: other bytes the second time", name, what)
			}
			// The picture within the carpet is no text: its letters may spell anything.
			if i := bytes.Index(doc, []byte("base64,")); i >= 0 {
				doc = append(doc[:i:i], doc[i+bytes.IndexByte(doc[i:], '"'):]...)
			}
			all := labels(t, doc)
			if len(all) < 3 {
				t.Errorf("%s, %s: only %d texts", name, what, len(all))
			}
			for i, a := range all {
				if a.box.Min.X < 0 || a.box.Min.Y < 0 || a.box.Max.X > chartW || a.box.Max.Y > chartH {
					t.Errorf("%s, %s: %q leaves the paper: %v", name, what, a.s, a.box)
				}
				for _, b := range all[:i] {
					if a.box.Min.X < b.box.Max.X && b.box.Min.X < a.box.Max.X && a.box.Min.Y < b.box.Max.Y && b.box.Min.Y < a.box.Max.Y {
						t.Errorf("%s, %s: %q lies on %q", name, what, a.s, b.s)
					}
				}
			}
		}
	}
}

// Noon of a summer's day stands where the axes say, and is lighter than midnight.
func TestCarpetStandsUpright(t *testing.T) {
	y := &weather.Year{Site: weather.Site{LatDeg: 50}, StepMin: 60, Start: time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC)}
	for i := range 8760 {
		g := 0.0
		if d, h := i/24, i%24; d >= 100 && d < 110 && h >= 18 { // ten days with light from 18 to 24 o'clock only
			g = 1000
		}
		y.GHIWm2, y.TempC = append(y.GHIWm2, g), append(y.TempC, 10)
	}
	var b bytes.Buffer
	if err := Carpet(y).PNG(&b); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&b)
	if err != nil {
		t.Fatal(err)
	}
	at := func(day, hour float64) color.Color {
		const px = dpi / 72
		x := float64(marginLeft) + day/365*float64(chartW-marginLeft-marginRight)
		up := float64(marginBottom) + hour/24*float64(chartH-marginTop-marginBottom)
		return img.At(int(px*x), int(px*(float64(chartH)-up)))
	}
	lightness := func(c color.Color) float64 { return float64(color.Gray16Model.Convert(c).(color.Gray16).Y) / 65535 }
	if v := lightness(at(105, 21)); v < 0.9 {
		t.Errorf("day 105 at 21: lightness %.2f, want it bright", v)
	}
	for _, p := range [][2]float64{{105, 2}, {105, 15.5}, {95, 21}, {115, 21}, {260, 21}} {
		if v := lightness(at(p[0], p[1])); v > 0.2 {
			t.Errorf("day %v at %v: lightness %.2f, want it dark", p[0], p[1], v)
		}
	}
}

// The ramp only grows lighter, so that it can be read without seeing hue.
func TestRampGrowsLighter(t *testing.T) {
	last := -1.0
	for i := range 101 {
		r, g, b, _ := rampAt(float64(i) / 100).RGBA()
		// Luminance of the sRGB primaries, Rec. ITU-R BT.709.
		v := 0.2126*math.Pow(float64(r), 2.2) + 0.7152*math.Pow(float64(g), 2.2) + 0.0722*math.Pow(float64(b), 2.2)
		if v <= last {
			t.Errorf("at %d %% it does not grow lighter", i)
		}
		last = v
	}
}

func TestWeatherTitles(t *testing.T) {
	all := weathers(t)
	for _, c := range []struct{ weather, want, got string }{
		{"ten years", "The sun hour by hour, each date's mean of 10 years: ", Carpet(all["ten years"]).Title()},
		{"polar and dark", "The worst 5 days bring 0.00 kWh/m2 a day", WeatherRuns(summary.Of(all["polar and dark"])).Title()},
		{"six hours", "The worst runs: there is no whole day", WeatherRuns(summary.Of(all["six hours"])).Title()},
		{"a day", "Sun and temperature: 0.", WeatherMonths(summary.Of(all["a day"])).Title()},
	} {
		if !strings.HasPrefix(c.got, c.want) {
			t.Errorf("%s: %q, want %q", c.weather, c.got, fmt.Sprint(c.want, ".."))
		}
	}
}
