package sim_test

import (
	"math"
	"testing"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/battery"
	"tideover/sim/ledger"
	"tideover/sim/wiring"
)

// TestCableBehindTheController: the cable's loss against the exact I^2 R of the current that came to the bus, at the voltage
// that the bus then had. The tolerances are those that the model states: its one voltage is off by that of the bank's state.
func TestCableBehindTheController(t *testing.T) {
	for _, c := range []struct {
		name   string
		bank   battery.Bank
		within float64
	}{{"lithium", battery.Default(), 0.06}, {"lead", battery.New(battery.Flooded), 0.15}} {
		s := ideal()
		s.Bank = c.bank
		s.Bank.CapacityAh, s.Bank.StartSOC = 200, 0.4
		s.OutputCable = wiring.Run{LengthM: 3, AreaMM2: 6}
		s.Loads = []loads.Load{always("lamp", loads.DC, 5)}
		ohm := s.OutputCable.ResistanceOhm()
		r, err := runHours(s, bright(7, 800, 15))
		if err != nil {
			t.Fatal(err)
		}
		h := r.Hours
		var got, want, through float64
		for i := range h.End {
			if h.FlowW[ledger.Curtailed][i] > 0 {
				t.Fatalf("%s: full in hour %d: this is to be a charge at full offer", c.name, i)
			}
			busW := h.FlowW[ledger.Drawn][i] - h.FlowW[ledger.ControllerLoss][i] - h.FlowW[ledger.WiringLoss][i]
			amps := busW / h.BatteryV[i]
			got, want, through = got+h.FlowW[ledger.WiringLoss][i], want+ohm*amps*amps, through+busW
		}
		t.Logf("%s: %.2f Wh lost of %.0f, exactly %.2f, at %.2f to %.2f V", c.name, got, through, want, h.BatteryV[0], h.BatteryV[len(h.BatteryV)-1])
		if want < 0.01*through || math.Abs(got-want) > c.within*want {
			t.Errorf("%s: %.3f Wh are lost, exactly %.3f, more than %v of it apart", c.name, got, want, c.within)
		}
		near(t, "in all", r.Total[ledger.WiringLoss], got, 1e-9)
	}
}

// TestCableBehindASwitchingController: array, switch and battery are one loop, so that a cable loses the same on either side
// of the switch.
func TestCableBehindASwitchingController(t *testing.T) {
	lost := func(put func(s *sim.System, c wiring.Run)) ledger.Flows {
		s := behind(36)
		put(s, wiring.Run{LengthM: 5, AreaMM2: 4})
		r, err := runHours(s, bright(48, 700, 15))
		if err != nil {
			t.Fatal(err)
		}
		return r.Total
	}
	before := lost(func(s *sim.System, c wiring.Run) { s.ArrayCable = c })
	after := lost(func(s *sim.System, c wiring.Run) { s.OutputCable = c })
	if before != after || before[ledger.WiringLoss] == 0 {
		t.Errorf("before the switch %v Wh, behind it %v Wh", before, after)
	}
}

// TestCableBehindTheControllerAtItsLimit: by hand. A controller of 5 A sends 25 times R through the cable, whatever the array
// offers; the tolerance is that of the voltage, as above.
func TestCableBehindTheControllerAtItsLimit(t *testing.T) {
	s := ideal()
	s.Bank.StartSOC = 0.3
	s.Controller.MaxCurrentA = 5
	s.OutputCable = wiring.Run{LengthM: 10, AreaMM2: 4}
	s.Loads = []loads.Load{always("lamp", loads.DC, 5)}
	r, err := runHours(s, bright(1, 800, 15))
	if err != nil {
		t.Fatal(err)
	}
	if want := 25 * s.OutputCable.ResistanceOhm(); math.Abs(r.Total[ledger.WiringLoss]-want) > 0.05*want || r.Total[ledger.Clipped] == 0 {
		t.Errorf("%v Wh are lost, want %v; %v Wh clipped", r.Total[ledger.WiringLoss], want, r.Total[ledger.Clipped])
	}
}
