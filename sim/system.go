package sim

import (
	"fmt"
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
	Feeds   int // the place of its controller in Controllers, from 0
}

// NamedController is a charge controller with the name that its person gave it; "" where there is only one.
type NamedController struct {
	Name string
	controller.Controller
}

// System is one building's power supply: values that the boxes' Check methods accept.
type System struct {
	Surface        plane.Surface
	Array          array.Array
	Feeds          int        // the controller that Array feeds, as in SubArray
	Beside         []SubArray // further sub-arrays
	Snow           plane.Snow
	Controller     controller.Controller
	ControllerName string
	Further        []NamedController  // more controllers on the same bus; they charge by the same voltages: see Unlike
	Bank           battery.Bank       // whole
	Inverter       *inverter.Inverter // nil: no AC
	AllInOne       bool               // battery, inverter and controller are one box, and what is between them its maker's
	ArrayCable     wiring.Run         // between the array and the controller; of several, each has one like it
	OutputCable    wiring.Run         // between the controller and the bus, likewise
	BatteryCable   wiring.Run         // between the battery and the bus
	InverterCable  wiring.Run         // between the bus and the inverter
	DCCable        wiring.Run         // between the bus and the DC loads, one trunk
	BatteryFuse    wiring.Fuse
	AC             wiring.ACSide
	Backup         *backup.Charger // nil: none
	Loads          []loads.Load
	Zone           *time.Location // wall clock of the loads; nil: the weather's standard time
	StepMin        int            // 0: 60
	Seed           uint64         // of what loads draw by lot
}

// SubArrays returns all sub-arrays, in the order typed.
func (s *System) SubArrays() []SubArray {
	return append([]SubArray{{s.Array, s.Surface, s.Feeds}}, s.Beside...)
}

// Controllers returns all charge controllers, in the order typed.
func (s *System) Controllers() []NamedController {
	return append([]NamedController{{s.ControllerName, s.Controller}}, s.Further...)
}

// Behind returns the system as it would be with the controller at place k alone and what feeds it. It panics where nothing
// does: our bug.
func (s *System) Behind(k int) *System {
	one, c := *s, s.Controllers()[k]
	one.Controller, one.ControllerName, one.Further, one.Feeds, one.Beside = c.Controller, c.Name, nil, 0, nil
	found := false
	for _, sub := range s.SubArrays() {
		switch {
		case sub.Feeds != k:
		case found:
			sub.Feeds = 0
			one.Beside = append(one.Beside, sub)
		default:
			one.Array, one.Surface, found = sub.Array, sub.Surface, true
		}
	}
	if !found {
		panic(fmt.Sprintf("sim: Behind: no sub-array feeds the controller at place %d of %d", k, 1+len(s.Further)))
	}
	return &one
}

// Unlike finds the first controller that would hold the bank otherwise than the first of all, and the key in which they differ:
// a bank has one voltage at a time, so on one bank all controllers are set alike. ok is false where they are.
func (s *System) Unlike() (k int, key string, holds, want float64, ok bool) {
	first := charging(&s.Controller, &s.Bank)
	for i := range s.Further {
		c := charging(&s.Further[i].Controller, &s.Bank)
		perCell := 1000 / float64(s.Bank.Cells())
		for _, v := range []struct {
			key         string
			holds, want float64
		}{{"absorption_v", c.chargeV, first.chargeV}, {"float_v", c.floatV, first.floatV}, {"absorption_h", c.absorptionH, first.absorptionH},
			{"temp_comp_mv_per_cell_k", c.compVPerK * perCell, first.compVPerK * perCell}} {
			if v.holds != v.want && (v.key != "absorption_h" || first.floatV > 0) {
				return i + 1, v.key, v.holds, v.want, true
			}
		}
	}
	return 0, "", 0, 0, false
}

// RatedW is the power on the plates of all modules, W.
func (s *System) RatedW() float64 {
	w := s.Array.RatedW()
	for _, b := range s.Beside {
		w += b.Array.RatedW()
	}
	return w
}
