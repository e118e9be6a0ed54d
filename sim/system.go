package sim

import (
	"time"

	"tideover/loads"
	"tideover/sim/array"
	"tideover/sim/backup"
	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/plane"
	"tideover/sim/wiring"
)

// SubArray is equal strings on one plane.
type SubArray struct {
	Array   array.Array
	Surface plane.Surface
}

// System is one building's power supply: values that the boxes' Check methods accept.
type System struct {
	Surface       plane.Surface
	Array         array.Array
	Beside        []SubArray // further sub-arrays on the same controller
	Snow          plane.Snow
	Controller    controller.Controller
	Bank          battery.Bank       // whole
	Inverter      *inverter.Inverter // nil: no AC
	AllInOne      bool               // battery, inverter and controller are one box, and what is between them its maker's
	ArrayCable    wiring.Run         // between the array and the controller
	OutputCable   wiring.Run         // between the controller and the bus
	BatteryCable  wiring.Run         // between the battery and the bus
	InverterCable wiring.Run         // between the bus and the inverter
	DCCable       wiring.Run         // between the bus and the DC loads, one trunk
	BatteryFuse   wiring.Fuse
	AC            wiring.ACSide
	Backup        *backup.Charger // nil: none
	Loads         []loads.Load
	Zone          *time.Location // wall clock of the loads; nil: the weather's standard time
	StepMin       int            // 0: 60
	Seed          uint64         // of what loads draw by lot
}

// SubArrays returns all sub-arrays, in the order typed.
func (s *System) SubArrays() []SubArray {
	return append([]SubArray{{s.Array, s.Surface}}, s.Beside...)
}

// RatedW is the power on the plates of all modules, W.
func (s *System) RatedW() float64 {
	w := s.Array.RatedW()
	for _, b := range s.Beside {
		w += b.Array.RatedW()
	}
	return w
}
