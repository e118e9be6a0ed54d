package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"tideover/sim/report/invented"
	"tideover/sim/study"
)

func TestTiltGolden(t *testing.T) {
	h := Header{Title: "a hut", Place: "nowhere, 50.00 N 10.00 E", Weather: "invented", System: "none"}
	for _, name := range []string{"tilt", "tilt-years"} {
		tilts := invented.Tilts()
		if name == "tilt-years" {
			tilts.Years, tilts.Sub, tilts.Of, tilts.Feeds = 10, 1, 3, "east"
			tilts.AsItStands.TiltByMonth[6] = 10
			tilts.AsItStands.DaysWithoutPower, tilts.FewestDays.DaysWithoutPower, tilts.BestMonth.DaysWithoutPower = 2345, 123, 1234
			tilts.MostEnergy.HarvestWh, tilts.FewestDays.DesignMonth = 23456789, time.September
		}
		var text, doc bytes.Buffer
		if err := Tilt(&text, h, tilts, []string{"a warning"}, []string{"a note"}); err != nil {
			t.Fatal(err)
		}
		golden(t, name+".txt", text.Bytes())
		for _, line := range strings.Split(text.String(), "\n") {
			if width(line) > columns {
				t.Errorf("%s: %d columns: %s", name, width(line), line)
			}
		}
		if err := TiltJSON(&doc, h, tilts, nil, nil); err != nil {
			t.Fatal(err)
		}
		if !json.Valid(doc.Bytes()) {
			t.Errorf("%s: no JSON: %s", name, doc.String())
		}
	}
}

// Where there are several sub-arrays, it always says which was turned.
func TestTiltSaysWhich(t *testing.T) {
	for want, turned := range map[string]func(*study.Tilts){
		"\nTurned                  sub-array 1 of 2; the others stay\n":        func(t *study.Tilts) { t.Of = 2 },
		"\nTurned                  sub-array 1 of 2 (east); the others stay\n": func(t *study.Tilts) { t.Of, t.Feeds = 2, "east" },
		"": func(t *study.Tilts) { t.Of = 1 },
	} {
		tilts := invented.Tilts()
		turned(tilts)
		var b bytes.Buffer
		if err := Tilt(&b, header(), tilts, nil, nil); err != nil {
			t.Fatal(err)
		}
		if s := b.String(); !strings.Contains(s, want) || want == "" && strings.Contains(s, "the others stay") {
			t.Errorf("it does not say %q:\n%s", want, s)
		}
	}
}

func TestTiltVerdict(t *testing.T) {
	for _, c := range []struct {
		now, best int
		want      string
	}{
		{0, 0, "As it stands no day is without power; the safest design month is at 64 deg tilt, azimuth 180 deg"},
		{5, 5, "No tilt saves a day: 5 days without power as it stands, and at best"},
		{5, 1, "64 deg tilt, azimuth 180 deg leaves 1 day without power, 4 fewer than as it stands"},
	} {
		tilts := invented.Tilts()
		tilts.AsItStands.DaysWithoutPower, tilts.FewestDays.DaysWithoutPower = c.now, c.best
		if got := tiltVerdict(tilts); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}

// A month without sun is told as such, and has no best of nothing.
func TestTiltOfNothing(t *testing.T) {
	tilts := invented.Tilts()
	for _, s := range []*study.Stand{&tilts.AsItStands, &tilts.MostEnergy, &tilts.BestMonth, &tilts.FewestDays} {
		s.DesignRatio, s.DesignMonth = 0, time.December
	}
	var b bytes.Buffer
	if err := Tilt(&b, header(), tilts, nil, nil); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); strings.Contains(s, "NaN") || strings.Contains(s, "in the design month") || !strings.Contains(s, "\nDecember, the design month, gives next to nothing at any tilt.\n") {
		t.Errorf("a December without sun:\n%s", s)
	}
}
