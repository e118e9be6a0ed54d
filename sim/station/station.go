// Package station expands the rating plate of an all-in-one box (battery, inverter and controller in one case) into
// those three boxes, so that the step loop knows nothing of it.
package station

import (
	"errors"
	"fmt"
	"strings"

	"tideover/sim/battery"
	"tideover/sim/clock"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/limit"
)

// WhenBarred is what the box does with the sun while it is too cold or too hot to charge.
type WhenBarred int

// What it may do.
const (
	CarryLoads WhenBarred = iota // the sun still feeds the loads
	InputOff                     // the input is shut, and the battery feeds them
)

var whenBarredWords = []string{"carry_loads", "input_off"}

// String returns it as typed.
func (w WhenBarred) String() string { return whenBarredWords[w] }

// Station is an all-in-one box as its rating plate and its owner describe it.
type Station struct {
	EnergyWh       float64 // printed
	UsableWh       float64 // of EnergyWh, between full and the cut; 0: by the state of charge at which loads are cut
	ExpansionPacks int     // further batteries plugged into it
	ExpansionWh    float64 // printed, each

	MaxInputW  float64 // solar input
	MaxInputA  float64 // 0: only the power limits
	MinInputV  float64
	MaxInputV  float64
	Efficiency float64 // solar input to battery
	OutputW    float64 // AC, continuous

	OffW       float64 // fully off
	AwakeW     float64 // outlets off
	OutletsOnW float64 // on top of AwakeW with the outlets on and nothing plugged in

	WakesOnSun     bool // after the battery went flat; or by hand
	WokenAtMin     int  // minute of the day, 1..1440, at which someone passes, where it does not wake by itself; 0: not given
	WhenBarred     WhenBarred
	MaxChargeTempC float64

	inverter inverter.Inverter
	battery  battery.Bank
}

const blockV = 25.6 // the cells inside; the choice moves nothing but inner currents

// Default returns a station with every value that has a sensible default.
func Default() Station {
	return Station{Efficiency: 0.93, WakesOnSun: true, MaxChargeTempC: 45, inverter: inverter.Default(), battery: battery.Default()}
}

// Keys declares the parameters: the rating plate, then the keys of the battery and inverter that an owner can set.
func (s *Station) Keys() []limit.Key {
	keys := []limit.Key{
		limit.Num("energy_wh", &s.EnergyWh, limit.Between(20, 100000), "printed energy of the battery inside", "1024").Needed(),
		limit.Num("usable_wh", &s.UsableWh, limit.AtLeast(0), "of the printed energy, what it gives between full and cut-off; 0 means "+
			"down to disconnect_soc", "920").From("down to disconnect_soc"),
		limit.Int("expansion_packs", &s.ExpansionPacks, limit.Between(0, 100), "further batteries plugged into it", "1").From("none"),
		limit.Num("expansion_wh", &s.ExpansionWh, limit.Between(0, 100000), "printed energy of each of them", "1024").From("none"),
		limit.Num("max_input_w", &s.MaxInputW, limit.Between(5, 100000), "rated solar input power", "300").Needed(),
		limit.Num("max_input_a", &s.MaxInputA, limit.Between(0, 1000), "rated solar input current; 0 means only the power limits", "10").
			From("no limit"),
		limit.Num("min_input_v", &s.MinInputV, limit.AboveTo(0, 1500), "lowest solar input voltage", "12").Needed(),
		limit.Num("max_input_v", &s.MaxInputV, limit.Between(5, 1500), "highest solar input voltage", "55").Needed(),
		limit.Num("efficiency", &s.Efficiency, limit.AboveTo(0.5, 1), "solar input to battery", "0.93").
			From("a guess: 92 to 95 % in one controller maker's manual"),
		limit.Num("output_w", &s.OutputW, limit.Between(10, 100000), "continuous rating of the AC outlets", "1000").Needed(),
		limit.Num("off_w", &s.OffW, limit.Between(0, 100), "own draw when it is fully off", "0.3").From("a guess: next to nothing"),
		limit.Num("awake_w", &s.AwakeW, limit.Between(0, 100), "own draw with the outlets off", "6").Needed(),
		limit.Num("outlets_on_w", &s.OutletsOnW, limit.Between(0, 1000),
			"draw on top of that with the AC outlets on and nothing plugged in", "14").Needed(),
		limit.Bool("wakes_on_sun", &s.WakesOnSun, "after it went flat it comes on by itself once the sun has charged it; false: someone "+
			"must press a button", "false").From("as most do, a guess"),
		limit.Parsed("woken_at", s.setWoken, "where it does not wake by itself: time of day at which someone passes to press it", "08:00").
			From("none: wanted with wakes_on_sun: false"),
		limit.OneOf("when_barred", &s.WhenBarred, whenBarredWords, "what the solar input does while it is too cold or too hot to charge: "+
			"feeds the loads, or nothing", "input_off").From("common practice"),
		limit.Num("max_charge_temp_c", &s.MaxChargeTempC, limit.Between(30, 80), "charging is barred while the battery is hotter", "45").
			From("typical cell data sheet, from memory"),
	}
	for _, k := range s.inverter.Keys() {
		switch k.Name {
		case "rated_w", "idle_w", "off_w", "cutoff_v": // on the plate under names of its own, or inside the case
		default:
			keys = append(keys, k)
		}
	}
	for _, k := range s.battery.Keys() {
		switch k.Name {
		case "disconnect_soc", "reconnect_soc", "min_off_min", "min_charge_temp_c", "resume_charge_temp_c", "reduced_below_c", "reduced_rate_per_h", "room", "building_lag_h", "room_c", "temp_lag_h", "heat_capacity_wh_per_k", "heater_w", "heater_to_c", "health", "self_discharge", "start_soc":
			keys = append(keys, k)
		}
	}
	return keys
}

func (s *Station) setWoken(words []string) error {
	if len(words) != 1 {
		return errors.New("wants one time of day, as 08:00")
	}
	minute, err := clock.ParseTime(words[0])
	if err != nil {
		return err
	}
	if minute == 0 {
		minute = 24 * 60 // 0 is not given
	}
	s.WokenAtMin = minute
	return nil
}

// Check returns what is wrong with the parameters.
func (s *Station) Check() []limit.Fault {
	faults := limit.Check(s.Keys())
	if len(faults) > 0 {
		return faults
	}
	add := func(key, msg, example string) {
		faults = append(faults, limit.Fault{Key: key, Msg: msg, Example: example})
	}
	p := limit.Plain
	if s.MinInputV >= s.MaxInputV {
		add("min_input_v", fmt.Sprintf("%v is not below max_input_v %v", s.MinInputV, s.MaxInputV), "12")
	}
	if s.UsableWh > s.EnergyWh {
		add("usable_wh", p(s.UsableWh)+" is above energy_wh "+p(s.EnergyWh)+": type what is printed there, and what it gives here", p(0.9*s.EnergyWh))
	} else if s.UsableWh > 0 && s.UsableWh < 0.3*s.EnergyWh {
		msg := p(s.UsableWh) + " is under a third of energy_wh " + p(s.EnergyWh)
		if s.UsableWh*1000 <= s.EnergyWh {
			msg += ": it looks like kWh; " + p(s.UsableWh) + " kWh is " + p(s.UsableWh*1000) + " Wh"
		}
		add("usable_wh", msg, p(0.9*s.EnergyWh))
	}
	switch {
	case s.ExpansionPacks > 0 && s.ExpansionWh == 0:
		add("expansion_wh", "is missing beside expansion_packs: the energy printed on each", "1024")
	case s.ExpansionPacks == 0 && s.ExpansionWh > 0:
		add("expansion_packs", "is missing beside expansion_wh: how many of "+p(s.ExpansionWh)+" Wh are plugged in?", "1")
	}
	if s.OffW > s.AwakeW {
		add("off_w", p(s.OffW)+" is above awake_w "+p(s.AwakeW)+": it would draw more off than on", "0.3")
	}
	if !s.WakesOnSun && s.WokenAtMin == 0 {
		add("woken_at", "is missing beside wakes_on_sun: false: when does someone pass to wake the box?", "08:00")
	}
	if s.MaxChargeTempC <= s.battery.MinChargeTempC {
		add("max_charge_temp_c", p(s.MaxChargeTempC)+" is not above min_charge_temp_c "+p(s.battery.MinChargeTempC)+": it would never charge", "45")
	}
	c, b, v := s.Expand()
	b.DisconnectSOC, b.ReconnectSOC = s.battery.DisconnectSOC, s.battery.ReconnectSOC // as typed
	plate := map[string]string{"rated_w": "output_w", "idle_w": "outlets_on_w"}
	words := strings.NewReplacer("rated_w", "output_w", "idle_w", "outlets_on_w")
	for _, list := range [][]limit.Fault{c.Check(), b.Check(), v.Check()} {
		for _, f := range list {
			if k, ok := plate[f.Key]; ok {
				f.Key = k
			}
			if f.Key == "min_input_v" || f.Key == "start_input_v" || f.Key == "max_charge_temp_c" && s.MaxChargeTempC <= s.battery.MinChargeTempC {
				continue // said above
			}
			f.Msg = words.Replace(f.Msg)
			faults = append(faults, f)
		}
	}
	return faults
}

// Expand returns the three boxes inside. The draw with outlets off is the controller's own draw, so it is booked as
// standby; the draw of the outlets is the inverter's no-load draw. The input window is the plate's. Expansion packs are
// more of the same battery. Usable energy raises the state of charge at which loads are cut, and that at which they come
// back with it.
func (s *Station) Expand() (controller.Controller, battery.Bank, inverter.Inverter) {
	c := controller.Default()
	c.Efficiency, c.OwnDrawW = s.Efficiency, s.AwakeW
	c.MaxInputW, c.MaxInputA, c.MaxInputV = s.MaxInputW, s.MaxInputA, s.MaxInputV
	c.MinInputV, c.StartInputV = s.MinInputV, s.MinInputV
	c.MaxCurrentA = 2 * s.MaxInputW / blockV // never the limit: the plate gives the input's
	c.InputOffWhenBarred = s.WhenBarred == InputOff
	b := s.battery
	b.NominalV, b.CapacityAh = blockV, (s.EnergyWh+float64(s.ExpansionPacks)*s.ExpansionWh)/blockV
	b.BoardDrawW = 0 // within AwakeW
	b.MaxChargeTempC = s.MaxChargeTempC
	if !s.WakesOnSun {
		b.WokenAtMin = s.WokenAtMin
	}
	if s.UsableWh > 0 {
		raise := max(0, 1-s.UsableWh/s.EnergyWh-b.DisconnectSOC)
		b.DisconnectSOC += raise
		b.ReconnectSOC = min(1, b.ReconnectSOC+raise)
	}
	v := s.inverter
	v.RatedW, v.IdleW = s.OutputW, s.OutletsOnW
	v.OffLessW = s.AwakeW - s.OffW
	v.CutoffV = 2.5 / 3.2 * blockV // where the board inside cuts its cells off, common practice
	return c, b, v
}
