// Package controller models a maximum-power-point charge controller between the array and the battery bus: the window
// of its input, its efficiency, its own draw and its ratings. Powers in W, never negative.
package controller

import (
	"fmt"

	"tideover/sim/limit"
)

// MPPT is a maximum-power-point charge controller.
type MPPT struct {
	Efficiency         float64 // output over input power
	TrackingEfficiency float64 // power found over maximum power
	OwnDrawW           float64 // day and night, from the bus
	MaxCurrentA        float64 // output
	MaxInputW          float64 // 0: no limit but the current
	MaxInputA          float64 // 0: no limit
	MaxInputV          float64 // the input is destroyed above it: never started
	MinInputV          float64 // runs down to this array voltage; 0: the bank's charging voltage + 1 V
	StartInputV        float64 // starts at this open-circuit voltage; 0: the bank's charging voltage + 5 V
	InputOffWhenBarred bool    // takes nothing while temperature forbids charging; else the sun still feeds the loads
}

// Default returns a controller with every value that has a sensible default.
func Default() MPPT { return MPPT{Efficiency: 0.95, TrackingEfficiency: 0.98, OwnDrawW: 1} }

// Keys declares the parameters.
func (c *MPPT) Keys() []limit.Key {
	return []limit.Key{
		limit.Num("efficiency", &c.Efficiency, limit.AboveTo(0.5, 1), "output over input power", "0.95").
			From("92 to 95 %, one maker's manual"),
		limit.Num("tracking_efficiency", &c.TrackingEfficiency, limit.AboveTo(0.5, 1),
			"power found over maximum power", "0.98").From("0.98 to 0.99 in the sense of EN 50530, from memory"),
		limit.Num("own_draw_w", &c.OwnDrawW, limit.AtLeast(0), "own draw from the battery, day and night", "1").
			From("up to 0.5 W for small units, 1 to 4 W for large ones, from memory"),
		limit.Num("max_current_a", &c.MaxCurrentA, limit.Above(0), "rated output current", "20").Needed(),
		limit.Num("max_input_w", &c.MaxInputW, limit.AtLeast(0), "rated input power; 0 means only the current limits", "290").
			From("no limit"),
		limit.Num("max_input_a", &c.MaxInputA, limit.AtLeast(0), "rated input current; 0 means none", "10").From("no limit"),
		limit.Num("max_input_v", &c.MaxInputV, limit.Between(5, 1500), "absolute limit of the input voltage", "75").Needed(),
		limit.Num("min_input_v", &c.MinInputV, limit.Between(0, 1500),
			"lowest array voltage at which it runs; 0 means 1 V above the charging voltage", "15").
			From("typical step-down unit, from memory"),
		limit.Num("start_input_v", &c.StartInputV, limit.Between(0, 1500),
			"open-circuit voltage at which it starts; 0 means 5 V above the charging voltage", "19").
			From("typical step-down unit, from memory"),
	}
}

// Check returns what is wrong with the parameters.
func (c *MPPT) Check() []limit.Fault {
	faults := limit.Check(c.Keys())
	if len(faults) > 0 {
		return faults
	}
	for _, v := range []struct {
		key   string
		volts float64
	}{{"min_input_v", c.MinInputV}, {"start_input_v", c.StartInputV}} {
		if v.volts >= c.MaxInputV {
			faults = append(faults, limit.Fault{Key: v.key, Msg: fmt.Sprintf("%v is not below max_input_v %v",
				v.volts, c.MaxInputV), Example: "19"})
		}
	}
	if c.StartInputV > 0 && c.MinInputV > c.StartInputV {
		faults = append(faults, limit.Fault{Key: "min_input_v", Msg: fmt.Sprintf("%v is above start_input_v %v",
			c.MinInputV, c.StartInputV), Example: "15"})
	}
	return faults
}

// Slips returns what no outbuilding has and what is likely a value in other units. A study may go beyond.
func (c *MPPT) Slips() []limit.Fault {
	var faults []limit.Fault
	for _, v := range []struct {
		key, unit, example string
		value, most        float64
	}{{"own_draw_w", "W", "1", c.OwnDrawW, 50}, {"max_current_a", "A", "20", c.MaxCurrentA, 1000}, {"max_input_a", "A", "10", c.MaxInputA, 1000}} {
		if v.value > v.most {
			faults = append(faults, limit.Fault{Key: v.key, Example: v.example, Msg: fmt.Sprintf("%s is above %s: it looks like m%s; %[1]s m%[3]s is %s %[3]s",
				limit.Plain(v.value), limit.Plain(v.most), v.unit, limit.Plain(v.value/1000))})
		}
	}
	return faults
}

// StartV is the open-circuit voltage of the array at which the controller starts, V.
func (c *MPPT) StartV(chargeV float64) float64 {
	if c.StartInputV > 0 {
		return c.StartInputV
	}
	return max(chargeV+5, c.MinInputV)
}

// RunV is the lowest voltage at maximum power at which the controller runs, V.
func (c *MPPT) RunV(chargeV float64) float64 {
	if c.MinInputV > 0 {
		return c.MinInputV
	}
	return chargeV + 1
}

// Offer is what becomes of the array's power before the battery is asked: Array = NotStarted + OffPeak + Clipped + Ready.
type Offer struct{ NotStartedW, OffPeakW, ClippedW, ReadyW float64 }

// Offer sorts arrayW (maximum power at the module terminals), given the array's voltages at that moment and the bank's
// charging voltage. ReadyW is at the input and still subject to the limit of the output current. A unit that is running
// goes on down to its lowest voltage; one that is not waits for its starting voltage.
func (c *MPPT) Offer(arrayW, mpVoltageV, openVoltageV, chargeV float64, running bool) Offer {
	run, start := c.RunV(chargeV), c.StartV(chargeV)
	if mpVoltageV < run || openVoltageV < start && !running || openVoltageV > c.MaxInputV {
		return Offer{NotStartedW: arrayW}
	}
	found := arrayW * c.TrackingEfficiency
	o := Offer{OffPeakW: arrayW * (1 - c.TrackingEfficiency)}
	most := found
	if c.MaxInputW > 0 {
		most = min(most, c.MaxInputW)
	}
	if c.MaxInputA > 0 {
		most = min(most, c.MaxInputA*mpVoltageV)
	}
	o.ClippedW, o.ReadyW = found-most, most
	return o
}
