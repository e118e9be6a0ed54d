package ledger

import (
	"testing"
	"time"
)

func TestDaysAreCounted(t *testing.T) {
	zone := time.FixedZone("", 3600)
	day := func(d int) time.Time { return time.Date(2025, 1, d, 0, 0, 0, 0, zone) }
	r := &Run{Months: []Month{{Year: 2025, Month: time.January}, {Year: 2025, Month: time.February}}}
	for d := 30; d <= 33; d++ { // 30 and 31 January, 1 and 2 February
		r.Days = append(r.Days, Day{Date: day(d), AskedWh: 10, ServedWh: 5, LowestSOC: 0.5})
	}
	for i := range r.Months {
		r.Months[i].LowestSOC = 1
	}
	r.Days[0].LackMin = 1     // one minute in all is not more than one
	r.Days[1].LackMin = 1.001 // and this is
	r.Days[2].LackMin, r.Days[2].ServedWh = 1440, 0
	r.Days[3].OffByRuleMin, r.Days[3].LowestSOC = 30, 0.2
	// From 31 January 23:00 for 27 h by overload, after two hours of an empty battery that evening.
	r.Outages = []Outage{
		{Start: day(31).Add(20 * time.Hour), Hours: 2, MustHaveHours: 2, Cause: BatteryEmpty},
		{Start: day(31).Add(23 * time.Hour), Hours: 27, MustHaveHours: 25, Cause: Overload},
	}
	r.CountDays()
	a := r.Answer
	if a.DaysWithoutPower != 2 || a.DaysOffByRule != 1 || a.DaysWhollyDark != 1 {
		t.Errorf("%d without power, %d off by rule, %d wholly dark; want 2, 1, 1", a.DaysWithoutPower, a.DaysOffByRule, a.DaysWhollyDark)
	}
	if r.DaysByCause[BatteryEmpty] != 1 || r.DaysByCause[Overload] != 1 {
		t.Errorf("by cause %v: want the evening's two hours to be of the empty battery, the next day of the overload", r.DaysByCause)
	}
	if r.Months[0].DaysWithoutPower != 1 || r.Months[1].DaysWithoutPower != 1 || r.Months[0].Days != 2 || r.Months[1].LowestSOC != 0.2 {
		t.Errorf("months %+v", r.Months)
	}
}

func TestResidual(t *testing.T) {
	// By hand: 100 Wh offered, 1 off peak, 40 refused, 59 drawn; 3 lost in the controller, 56 at the bus: 20 into the
	// battery (2 lost, 18 stored), 30 served, 6 idle. A missing 0.5 Wh of demand is 0.5 / (100 + 20 + 1).
	var f Flows
	f[Array], f[OffPeak], f[Curtailed], f[Drawn] = 100, 1, 40, 59
	f[ControllerLoss], f[BatteryLoss], f[StoreChange], f[InverterIdle], f[ServedAC] = 3, 2, 18, 6, 30
	f[BatteryIn] = 20
	f[Demand], f[Served], f[Unserved] = 40, 30, 10
	if r := f.Residual(); r != 0 {
		t.Errorf("closed books leave %v: %v", r, f.Gaps())
	}
	f[Unserved] = 9.5
	if r, want := f.Residual(), 0.5/121; r < want*(1-1e-12) || r > want*(1+1e-12) {
		t.Errorf("residual %v, want %v", r, want)
	}
	var sum Flows
	sum.Add(&f)
	sum.Add(&f)
	if sum[Array] != 200 || sum[Unserved] != 19 {
		t.Errorf("twice is %v", sum)
	}
}

func TestEveryFlowAndCauseHasAName(t *testing.T) {
	seen := map[string]bool{}
	for f := range NFlows {
		if f.String() == "" || seen[f.String()] {
			t.Errorf("flow %d is called %q", f, f)
		}
		seen[f.String()] = true
	}
	for c := range NCauses {
		if c.String() == "" {
			t.Errorf("cause %d has no name", c)
		}
	}
}
