package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"tideover/sim/report/invented"
)

func TestTiltGolden(t *testing.T) {
	h := Header{Title: "a hut", Place: "nowhere, 50.00 N 10.00 E", Weather: "invented", System: "none"}
	for _, name := range []string{"tilt", "tilt-years"} {
		tilts := invented.Tilts()
		if name == "tilt-years" {
			tilts.Years, tilts.Sub = 10, 1
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
