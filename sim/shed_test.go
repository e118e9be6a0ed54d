package sim_test

import (
	"math"
	"testing"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/array"
	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/ledger"
	"tideover/sim/plane"
)

// TestFirstToGo: without sun a lamp of 50 W goes off at half the charge and leaves the rest to a router of 10 W. By hand, with all
// losses but resistance out: 100 Ah are 1,319 Wh from full to empty by the voltage curve; the two take the upper half, and the router
// alone what is above the cut at 10 %.
func TestFirstToGo(t *testing.T) {
	for _, kind := range []battery.Type{battery.Lithium, battery.AGM} {
		s := &sim.System{Surface: plane.Default(), Array: array.Default(), Controller: controller.Default(), Bank: battery.New(kind)}
		s.Array.Module.PowerW, s.Array.Module.MpVoltageV, s.Array.Module.MpCurrentA, s.Array.Module.OcVoltageV, s.Array.Module.ScCurrentA = 100, 18.6, 5.38, 22.3, 5.75
		s.Controller.MaxCurrentA, s.Controller.MaxInputV, s.Controller.OwnDrawW = 10, 60, 0
		s.Bank.CapacityAh, s.Bank.StartSOC, s.Bank.SelfDischarge, s.Bank.BoardDrawW = 100, 1, 0, 0
		s.Bank.DisconnectSOC, s.Bank.ReconnectSOC = 0.1, 0.3
		lamp, router := loads.New(loads.AlwaysOn), loads.New(loads.AlwaysOn)
		lamp.Name, lamp.Bus, lamp.PowerW, lamp.Priority, lamp.BelowSOC = "lamp", loads.DC, 50, loads.FirstToGo, 0.5
		router.Name, router.Bus, router.PowerW = "router", loads.DC, 10
		s.Loads = []loads.Load{lamp, router}
		var last *ledger.Run
		for _, stepMin := range []int{60, 15, 1} {
			r, err := runHours(s, inSteps(bright(24*8, 0, 25), stepMin))
			if err != nil {
				t.Fatal(err)
			}
			f := r.Total
			if gap := f[ledger.Demand] - f[ledger.Served] - f[ledger.Unserved] - f[ledger.Withheld]; math.Abs(gap) > 1e-6 || f[ledger.Withheld] == 0 {
				t.Errorf("%v, %d min: demand %.1f Wh, served %.1f, unserved %.1f, withheld %.1f", kind, stepMin, f[ledger.Demand], f[ledger.Served], f[ledger.Unserved], f[ledger.Withheld])
			}
			// All but what is cut is of the lamp: its hours are the withheld energy over 50 W.
			lampH, all := 24*8-f[ledger.Withheld]/50, 24.0*8
			both := 60 * lampH
			if half := f[ledger.BatteryOut] * 0.5 / 0.9; kind == battery.Lithium && math.Abs(both-half) > 0.03*half { // the curve is not quite flat
				t.Errorf("%v, %d min: %.1f Wh until the lamp goes off, want about %.1f", kind, stepMin, both, half)
			}
			if f[ledger.Unserved] > 10*(all-lampH) {
				t.Errorf("%v, %d min: %.1f Wh unserved", kind, stepMin, f[ledger.Unserved])
			}
			if last != nil && math.Abs(last.Total[ledger.Withheld]-f[ledger.Withheld]) > 0.01*f[ledger.Withheld] {
				t.Errorf("%v, %d min: withheld %.1f Wh, in longer steps %.1f", kind, stepMin, f[ledger.Withheld], last.Total[ledger.Withheld])
			}
			last = r
		}
	}
}
