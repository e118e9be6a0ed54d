package sim

import (
	"time"

	"tideover/loads"
	"tideover/sim/array"
	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/plane"
	"tideover/sim/wiring"
)

// System is one building's power supply: values that the boxes' Check methods accept.
type System struct {
	Surface      plane.Surface
	Array        array.Array
	Controller   controller.MPPT
	Bank         battery.Bank
	Inverter     *inverter.Inverter // nil: no AC
	BatteryCable wiring.Run         // between the battery and the bus
	Loads        []loads.Load
	Zone         *time.Location // wall clock of the loads; nil: the weather's standard time
	StepMin      int            // 0: 60
}
