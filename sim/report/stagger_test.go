package report

import (
	"bytes"
	"encoding/json"
	"strings"
	"testing"

	"tideover/sim/clock"
	"tideover/sim/report/invented"
	"tideover/sim/study"
)

func TestStaggerInWords(t *testing.T) {
	over := study.Carries{W: 1782, VA: 1831.76}
	for want, s := range map[string]*study.Stagger{
		"never run wheel and kettle together. The year again with that: trips 156 -> 0, days without power 156 -> 15, unserved 37.2 -> 5.7 kWh": {
			Over: over, May: study.Carries{W: 1600, VA: 1800}, Trips: 156, Changes: []study.Change{{Load: "wheel", With: "kettle"}},
			Before: study.StaggerResult{Trips: 156, DaysWithoutPower: 156, UnservedWh: 37154}, After: study.StaggerResult{DaysWithoutPower: 15, UnservedWh: 5727}},
		"run saw at 10:00 to 11:00, not 12:00 to 13:00; charge drill packs at 12:00 to 13:19, not 10:00 to 11:19, and unplug at 20:00. " +
			"The year again with that: trips 0 -> 0, days without power 0 -> 0, unserved 0.0 -> 0.0 kWh": {
			Over: over, May: study.Carries{W: 1600, VA: 1800}, Changes: []study.Change{
				{Load: "saw", From: []clock.Span{{From: 720, To: 780}}, To: []clock.Span{{From: 600, To: 660}}},
				{Load: "drill packs", From: []clock.Span{{From: 600, To: 679}}, To: []clock.Span{{From: 720, To: 799}}, Unplug: "20:00"}}},
		"no other hours cure it: kettle alone takes 1500 W and heater alone takes 1450 W, more than the inverter's 1400 W; that wants an inverter of 1500 W, all at once one of 1782 W and 1832 VA": {
			Over: over, May: study.Carries{W: 1400, VA: 1400}, Alone: []study.Heavy{{Load: "kettle", W: 1500, VA: 1500}, {Load: "heater", W: 1450, VA: 1450}}},
		"no other hours cure it: kettle alone takes 1500 W, more than the 1200 W that the battery's board lets through; that wants a board for more current, all at once one for 1782 W and 1832 VA": {
			Over: over, May: study.Carries{W: 1200, VA: 1400}, Board: true, Alone: []study.Heavy{{Load: "kettle", W: 1500, VA: 1500}}},
		"no other hours cure it: saw alone takes 900 W and 1200 VA, more than the inverter's 1000 W and 1000 VA; that wants an inverter of 900 W and 1200 VA, all at once one of 1782 W and 1832 VA; " +
			"the watts fit, so type the power_factor or class of the load, and station.rated_va from its plate, where these are the defaults": {
			Over: over, May: study.Carries{W: 1000, VA: 1000}, InBox: true, Alone: []study.Heavy{{Load: "saw", W: 900, VA: 1200}}},
		"no other hours were found that keep within the inverter's 1600 W and 1800 VA; all at once are 1782 W and 1832 VA": {
			Over: over, May: study.Carries{W: 1600, VA: 1800}},
	} {
		if got := stagger(s); got != want {
			t.Errorf("got  %q\nwant %q", got, want)
		}
		h := header()
		h.Stagger = s
		printed := text(t, h, invented.Hut().Run())
		atMost80(t, "run", printed)
		if !strings.Contains(string(printed), "\nWhat to stagger ") {
			t.Error("the run does not say so")
		}
		var b bytes.Buffer
		if err := JSON(&b, h, invented.Hut().Run()); err != nil {
			t.Fatal(err)
		}
		var got struct {
			Stagger *struct {
				Changes []struct {
					Do, Load string
					NotWith  string `json:"not_with"`
					From, To []string
				}
				Alone []struct{ Load string } `json:"too_much_alone"`
				After *struct{ Trips int }
			}
		}
		if err := json.Unmarshal(b.Bytes(), &got); err != nil {
			t.Fatal(err)
		}
		g := got.Stagger
		if g == nil || len(g.Changes) != len(s.Changes) || len(g.Alone) != len(s.Alone) || (g.After != nil) != (s.Changes != nil) {
			t.Errorf("%+v", g)
		}
	}
}
