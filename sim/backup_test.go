package sim_test

import (
	"testing"

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
