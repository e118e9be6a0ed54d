package study_test

import (
	"math"
	"testing"

	"tideover/sim"
	"tideover/sim/study"
)

// The shipped studio with a box of 1600 W. By hand: the kettle trips it on 52 Tuesdays, Thursdays and Saturdays each of
// 2025, and for the hour 100 Wh of kettle, 80 of the wheel, 36 of lamps and 6 of the radio are unserved, and for a minute
// more, until it starts again, 122 W of the last three; 1536 W remain when the kettle waits for the wheel, which takes nothing from anyone.
// The battery is so large that it never runs out.
func TestStaggerOfAYear(t *testing.T) {
	_, sys, y := shippedPlace(t, "clay-studio")
	if st, err := study.NewStagger(sys, y, sim.Prepare(sys, y), nil); st != nil || err != nil {
		t.Errorf("as shipped it is within 1800 W: %+v, %v", st, err)
	}
	box := *sys.Inverter
	box.RatedW, box.RatedVA = 1600, 1800
	small := *sys
	small.Bank.CapacityAh, small.Bank.StartSOC = 50*sys.Bank.CapacityAh, 1
	small.Inverter = &box
	p := sim.Prepare(&small, y)
	st, err := study.NewStagger(&small, y, p, nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(st.Changes) != 1 || st.Changes[0].String() != "never run wheel and kettle together" || st.Alone != nil {
		t.Fatalf("%+v", st)
	}
	if st.Trips != 156 || st.Before.Trips != 156 || st.Before.DaysWithoutPower != 156 || st.After != (study.StaggerResult{}) {
		t.Errorf("trips in %d hours; before %+v, after %+v", st.Trips, st.Before, st.After)
	}
	if want := 156 * (222 + 122.0/60); math.Abs(st.Before.UnservedWh-want) > 0.001*want {
		t.Errorf("unserved %v Wh, want %v", st.Before.UnservedWh, want)
	}
	if want := (study.Carries{W: 1782, VA: 1500 + 282/0.85, StartW: 1782}); math.Abs(st.Over.W-want.W) > 1e-6 || math.Abs(st.Over.VA-want.VA) > 1e-6 {
		t.Errorf("at once %+v, want %+v", st.Over, want)
	}

	// A board that lets 1700 W through an inverter without losses, of 1800 W.
	box.RatedW, box.RatedVA, box.IdleW, box.ProportionalLoss, box.ResistiveLoss = 1800, 2000, 0, 0, 0
	small.Bank.MaxDischargeA = 1700 / small.Bank.NominalV
	st, err = study.NewStagger(&small, y, sim.Prepare(&small, y), nil)
	if err != nil || !st.Board || math.Abs(st.May.W-1700) > 1e-6 || len(st.Changes) != 1 || st.Before.Trips != 156 || st.After.Trips != 0 {
		t.Errorf("%+v, %v", st, err)
	}
	small.Bank.MaxDischargeA, box.ProportionalLoss = 0, 0.1

	// A kettle that is too much by itself: nothing is moved for it.
	box.RatedW, box.RatedVA = 1400, 0
	st, err = study.NewStagger(&small, y, sim.Prepare(&small, y), nil)
	if err != nil {
		t.Fatal(err)
	}
	if len(st.Alone) != 1 || st.Alone[0] != (study.Heavy{Load: "kettle", W: 1500, VA: 1500}) || st.Changes != nil {
		t.Errorf("%+v", st)
	}

	// For half an hour it carries 1700 W: the kettle is on for 4 minutes of it, which alone it carries.
	box.RatedW, box.Rating30MinW = 1400, 1700
	st, err = study.NewStagger(&small, y, sim.Prepare(&small, y), nil)
	if err != nil || len(st.Alone) != 0 || st.After.Trips != 0 || len(st.Changes) != 1 {
		t.Errorf("%+v, %v", st, err)
	}
}
