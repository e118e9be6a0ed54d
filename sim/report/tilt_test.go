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
		{4, 5, "No tilt that is never turned saves a day: 4 days without power as it stands, turned by month, and 5 at best"},
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

// An array that is turned by month may gain more than any that is never turned: it is told what it is held against, and
// the verdict which it means.
func TestTiltOfAnArrayTurned(t *testing.T) {
	tilts := invented.Tilts()
	tilts.AsItStands.TiltByMonth[6] = 10
	tilts.AsItStands.HarvestWh = 1.037 * tilts.MostEnergy.HarvestWh
	tilts.AsItStands.DaysWithoutPower, tilts.FewestDays.DaysWithoutPower = 6, 5
	var b bytes.Buffer
	if err := Tilt(&b, header(), tilts, nil, nil); err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(b.String()), " ")
	for _, want := range []string{
		"64 deg tilt, azimuth 180 deg, never turned, leaves 5 days without power, 1 fewer than as it stands.",
		" +3.7 % ", "Percent: against the best in the column of those never turned; as it stands, the array is turned by month;",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, b.String())
		}
	}
	tilts.AsItStands.DaysWithoutPower, tilts.FewestDays.DaysWithoutPower, tilts.AsItStands.DesignRatio = 0, 0, 2
	if got, want := tiltVerdict(tilts), "As it stands, turned by month, no day is without power; no tilt that is never turned has a better design month"; got != want {
		t.Errorf("got  %s\nwant %s", got, want)
	}
}

// What one stand is best at twice is told once, and a day is one day.
func TestTiltCosts(t *testing.T) {
	tilts := invented.Tilts()
	tilts.FewestDays = tilts.BestMonth
	tilts.MostEnergy.DaysWithoutPower = tilts.BestMonth.DaysWithoutPower + 1
	var b bytes.Buffer
	if err := Tilt(&b, header(), tilts, nil, nil); err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(b.String()), " ")
	if strings.Contains(text, "against fewest days") {
		t.Errorf("it is told twice:\n%s", b.String())
	}
	for _, want := range []string{"- fewest days without: the same as best design month.", ", +1 day. -", ", -1 day. - fewest"} {
		if !strings.Contains(text, want) {
			t.Errorf("it does not say %q:\n%s", want, b.String())
		}
	}
	tilts.MostEnergy = tilts.BestMonth
	b.Reset()
	if err := Tilt(&b, header(), tilts, nil, nil); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), "- most energy: the best by all three.\n") {
		t.Errorf("one stand:\n%s", b.String())
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
