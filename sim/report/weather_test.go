package report

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"tideover/weather"
	"tideover/weather/summary"
)

// few is days of an even light by day in a place of the far north, in their polar night, and very cold.
func few(days int) Weather {
	y := &weather.Year{Site: weather.Site{Name: "Demo\nHill\x1b[1m", LatDeg: 85, OffsetH: 5.75}, StepMin: 60, Measured: true}
	y.Start = time.Date(2021, 12, 20, 0, 0, 0, 0, y.Site.Zone())
	for range 24 * days {
		y.GHIWm2, y.TempC = append(y.GHIWm2, 0), append(y.TempC, -44.44)
	}
	return Weather{
		Title: strings.Repeat("a long name ", 20), Source: "invented", Columns: "global light, temperature", Summary: summary.Of(y),
		Flaws: []string{strings.Repeat("a long flaw ", 20)}, Notes: []string{"a note"},
	}
}

// What there is not is left empty in the text and null in the JSON; no line is too wide.
func TestWeatherOfAPolarNight(t *testing.T) {
	for _, days := range []int{1, 2, 40} {
		h := few(days)
		var text, doc strings.Builder
		if err := WeatherText(&text, h); err != nil {
			t.Fatal(err)
		}
		for line := range strings.Lines(text.String()) {
			if line = strings.TrimSuffix(line, "\n"); width(line) > columns || strings.HasSuffix(line, " ") || strings.ContainsAny(line, "\x1b") {
				t.Errorf("%d days: %q", days, line)
			}
		}
		for _, want := range []string{"UTC+05:45", "20 Dec 2021", "\n! a long flaw", "\n- a note\n", "lowest -44.4 C", "       -\n"} {
			if !strings.Contains(text.String(), want) {
				t.Errorf("%d days: %q is missing in\n%s", days, want, text.String())
			}
		}
		for _, not := range []string{"NaN", "no flaw found"} {
			if strings.Contains(text.String(), not) {
				t.Errorf("%d days: %q in\n%s", days, not, text.String())
			}
		}
		if err := WeatherJSON(&doc, h); err != nil {
			t.Fatal(err)
		}
		var got struct {
			Yearly *float64 `json:"ghi_kwh_m2_year"`
			All    struct {
				Clearness *float64 `json:"clearness"`
				Temp      float64  `json:"temp_mean_c"`
			} `json:"all"`
			Runs []struct {
				Share *float64 `json:"share_of_usual"`
				First string   `json:"first"`
			} `json:"worst_runs"`
			Flaws []string `json:"flaws"`
		}
		if err := json.Unmarshal([]byte(doc.String()), &got); err != nil {
			t.Fatal(err)
		}
		if got.Yearly != nil || got.All.Clearness != nil || got.All.Temp != -44.44 || got.Runs[0].Share != nil || got.Runs[0].First != "2021-12-20" || len(got.Flaws) != 1 {
			t.Errorf("%d days: %+v", days, got)
		}
	}
}
