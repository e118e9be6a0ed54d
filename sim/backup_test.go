package sim_test

import (
	"strings"
	"testing"

	"tideover/sim"
	"tideover/sim/backup"
	"tideover/sim/clock"
	"tideover/sim/ledger"
)

func TestQuietToTheMinute(t *testing.T) {
	// By hand: 100 W from midnight to midnight but for 10:30 to 16:45 are 17.75 h, 1,775 Wh, at any length of step.
	for _, stepMin := range []int{60, 15, 1} {
		s := ideal()
		s.Bank.CapacityAh *= 10
		s.Bank.StartSOC = 0.1
		c := backup.Default()
		c.PowerW, c.StartSOC, c.StopSOC = 100, 0.9, 1
		c.Quiet.Hours = []clock.Span{{From: 10*60 + 30, To: 16*60 + 45}}
		s.Backup = &c
		r := run(t, s, inSteps(bright(24, 0, 25), stepMin))
		near(t, "from the charger", r.Total[ledger.Backup], 1775, 1e-6)
		near(t, "hours of the charger", r.Backup.Hours, 17.75, 1e-9)
	}
}

func TestHoursCarriedAway(t *testing.T) {
	// By hand: 80 % of a battery without losses that holds 1000 Wh, given at 100 W, is 8 h, and not the 72 h of the three dates;
	// 3 %, as the volts rise a little on the way. Fuel is 0.5 l for each of these hours.
	s := ideal()
	s.Bank.StartSOC = 0.2
	c := backup.Default()
	c.PowerW, c.CarriedW, c.NeverStarted, c.FuelLPerH = 400, 100, true, 0.5
	c.Carried = []clock.DateSpan{{From: clock.Date{Month: 6, Day: 2}, To: clock.Date{Month: 6, Day: 4}}}
	s.Backup = &c
	r := run(t, s, bright(24*6, 0, 25))
	near(t, "hours of the charger", r.Backup.Hours, 8, 0.24)
	near(t, "energy over power", r.Backup.Hours, r.Total[ledger.Backup]/100, 1e-9)
	near(t, "fuel", r.Backup.FuelL, 0.5*8, 0.12)
}

// A run with an engine says that its exhaust kills; one whose battery is only carried to a charger elsewhere does not.
func TestEngineIsWarnedOf(t *testing.T) {
	s := ideal()
	for _, c := range []struct {
		charger backup.Charger
		want    bool
	}{
		{backup.Charger{PowerW: 100, Efficiency: 0.8, StartSOC: 0.3, StopSOC: 0.8}, true},
		{backup.Charger{PowerW: 100, Efficiency: 0.8, StartSOC: 0.3, StopSOC: 0.8, Source: backup.Mains}, false},
		{backup.Charger{PowerW: 100, Efficiency: 0.8, StartSOC: 0.3, StopSOC: 0.8, NeverStarted: true}, false},
	} {
		s.Backup = &c.charger
		r, err := sim.Prepare(s, dark(24)).Run(false)
		if err != nil {
			t.Fatal(err)
		}
		if got := strings.Contains(strings.Join(r.Warnings, " "), "carbon monoxide"); got != c.want {
			t.Errorf("%+v: %q", c.charger, r.Warnings)
		}
	}
}
