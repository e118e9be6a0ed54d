// Package station expands the rating plate of an all-in-one box (battery, inverter and controller in one case) into
// those three boxes, so that the step loop knows nothing of it.
package station

import (
	"fmt"
	"strings"

	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/limit"
)

// Station is an all-in-one box as its rating plate and its owner describe it.
type Station struct {
	EnergyWh   float64 // printed
	MaxInputW  float64 // solar input
	MaxInputA  float64 // 0: only the power limits
	MinInputV  float64
	MaxInputV  float64
	Efficiency float64 // solar input to battery
	OutputW    float64 // AC, continuous
	AwakeW     float64 // outlets off
	OutletsOnW float64 // on top of AwakeW with the outlets on and nothing plugged in

	inverter inverter.Inverter
	battery  battery.Bank
}

const blockV = 25.6 // the cells inside; the choice moves nothing but inner currents

// Default returns a station with every value that has a sensible default.
func Default() Station {
	return Station{Efficiency: 0.93, inverter: inverter.Default(), battery: battery.Default()}
}

// Keys declares the parameters: the rating plate, then the keys of the battery and inverter that an owner can set.
func (s *Station) Keys() []limit.Key {
	keys := []limit.Key{
		limit.Num("energy_wh", &s.EnergyWh, limit.Between(20, 100000), "printed energy of the battery inside", "1024").Needed(),
		limit.Num("max_input_w", &s.MaxInputW, limit.Between(5, 100000), "rated solar input power", "300").Needed(),
		limit.Num("max_input_a", &s.MaxInputA, limit.Between(0, 1000), "rated solar input current; 0 means only the power limits", "10").
			From("no limit"),
		limit.Num("min_input_v", &s.MinInputV, limit.AboveTo(0, 1500), "lowest solar input voltage", "12").Needed(),
		limit.Num("max_input_v", &s.MaxInputV, limit.Between(5, 1500), "highest solar input voltage", "55").Needed(),
		limit.Num("efficiency", &s.Efficiency, limit.AboveTo(0.5, 1), "solar input to battery", "0.93").
			From("a guess: 92 to 95 % in one controller maker's manual"),
		limit.Num("output_w", &s.OutputW, limit.Between(10, 100000), "continuous rating of the AC outlets", "1000").Needed(),
		limit.Num("awake_w", &s.AwakeW, limit.Between(0, 100), "own draw with the outlets off", "6").Needed(),
		limit.Num("outlets_on_w", &s.OutletsOnW, limit.Between(0, 1000),
			"draw on top of that with the AC outlets on and nothing plugged in", "14").Needed(),
	}
	for _, k := range s.inverter.Keys() {
		if k.Name != "rated_w" && k.Name != "idle_w" {
			keys = append(keys, k)
		}
	}
	for _, k := range s.battery.Keys() {
		switch k.Name {
		case "disconnect_soc", "reconnect_soc", "min_off_min", "min_charge_temp_c", "temp_lag_h", "self_discharge", "start_soc":
			keys = append(keys, k)
		}
	}
	return keys
}

// Check returns what is wrong with the parameters.
func (s *Station) Check() []limit.Fault {
	faults := limit.Check(s.Keys())
	if len(faults) > 0 {
		return faults
	}
	if s.MinInputV >= s.MaxInputV {
		faults = append(faults, limit.Fault{Key: "min_input_v", Msg: fmt.Sprintf("%v is not below max_input_v %v",
			s.MinInputV, s.MaxInputV), Example: "12"})
	}
	c, b, v := s.Expand()
	b.CapacityAh = max(b.CapacityAh, 1e-9)
	plate := map[string]string{"rated_w": "output_w", "idle_w": "outlets_on_w"}
	for _, list := range [][]limit.Fault{c.Check(), b.Check(), v.Check()} {
		for _, f := range list {
			if k, ok := plate[f.Key]; ok {
				f.Key, f.Msg = k, strings.ReplaceAll(f.Msg, "rated_w", "output_w")
			}
			if f.Key == "min_input_v" || f.Key == "start_input_v" {
				continue // said above
			}
			faults = append(faults, f)
		}
	}
	return faults
}

// Expand returns the three boxes inside. The draw with outlets off is the controller's own draw, so it is booked as
// standby; the draw of the outlets is the inverter's no-load draw. The input window is the plate's.
func (s *Station) Expand() (controller.Controller, battery.Bank, inverter.Inverter) {
	c := controller.Default()
	c.Efficiency, c.OwnDrawW = s.Efficiency, s.AwakeW
	c.MaxInputW, c.MaxInputA, c.MaxInputV = s.MaxInputW, s.MaxInputA, s.MaxInputV
	c.MinInputV, c.StartInputV = s.MinInputV, s.MinInputV
	c.MaxCurrentA = 2 * s.MaxInputW / blockV // never the limit: the plate gives the input's
	b := s.battery
	b.NominalV, b.CapacityAh = blockV, s.EnergyWh/blockV
	b.BoardDrawW = 0 // within AwakeW
	v := s.inverter
	v.RatedW, v.IdleW = s.OutputW, s.OutletsOnW
	return c, b, v
}
