// Package battery models lithium iron phosphate and lead-acid banks by the charge they hold: open-circuit voltage,
// resistance, coulombic efficiency, self-discharge, the limits of what they accept, what cold does to them, and the levels
// at which loads are cut and come back. Pack steps a lithium bank, Lead one of lead.
//
// Power and current are positive when charging. State of charge is charge over capacity at 25 C. The energy held is
// the integral of open-circuit voltage over charge, so it depends on the charge alone.
package battery

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"tideover/sim/limit"
)

// Type is what a bank is made of.
type Type int

// The types.
const (
	Lithium Type = iota // lithium iron phosphate
	Flooded
	AGM
	Gel
)

// TypeWords are the words for `type`, in order.
var TypeWords = []string{"lifepo4", "flooded", "agm", "gel"}

// String returns the type as typed.
func (t Type) String() string { return TypeWords[t] }

// Words says the type in words.
func (t Type) Words() string {
	return [...]string{"lithium iron phosphate", "flooded lead-acid", "AGM lead-acid", "gel lead-acid"}[t]
}

// preset is what a type has where nothing is typed.
type preset struct {
	cellV                        float64 // nominal, for one cell
	absorptionCellV              float64
	emptyCellV, fullCellV        float64 // rested; lead only
	chargeRate                   float64 // highest charging current over capacity, 1/h
	ohm100Ah                     float64 // of a 12 V block of 100 Ah
	coulombic, selfDischarge     float64
	disconnect, reconnect        float64
	ratio5, ratio100, acceptance float64
	heatWhPerKPerKWh             float64 // heat capacity over nominal energy
}

// Absorption voltages: one inverter-charger's manual, for 12 V flooded 14.6, AGM 14.3 to 14.5, gel 14.1; lithium 14.2, a charger's
// manual. Rested voltages: flooded, a battery maker's five-point table (11.89 to 12.65 V, which
// a straight line meets within 0.03 V); AGM and gel read 0.1 to 0.2 V more when full (from memory). Ratios of the capacity in
// 5 h and 100 h to that in 20 h: flooded, a golf-cart block's 185, 225, 250 Ah (from memory); AGM and gel, guesses within the range of their
// Peukert exponents (1.05 to 1.25). Heat capacity: about 1 kJ/(kg K) and 10 kg for a kWh of lithium, 0.9 and 33 for lead: guesses.
var presets = [...]preset{
	Lithium: {3.2, 3.55, 0, 0, 0.5, 0.0146, 0.995, 0.025, 0.10, 0.20, 0, 0, 0, 2.8},
	Flooded: {2, 14.6 / 6, 11.89 / 6, 12.65 / 6, 0.2, 0.016, 0.97, 0.05, 0.50, 0.60, 185.0 / 225, 250.0 / 225, 1, 8},
	AGM:     {2, 14.4 / 6, 11.95 / 6, 12.80 / 6, 0.3, 0.008, 0.98, 0.02, 0.50, 0.60, 0.87, 1.06, 1.5, 8},
	Gel:     {2, 14.1 / 6, 11.95 / 6, 12.80 / 6, 0.2, 0.012, 0.98, 0.02, 0.50, 0.60, 0.85, 1.08, 1, 8},
}

func (b *Bank) preset() *preset { return &presets[b.Type] }

// Bank is a bank as its owner describes it: by the sheet of one of its blocks, until Whole makes one of them all.
type Bank struct {
	Type                Type
	CapacityAh          float64 // nameplate; lead: in 20 h at 25 C
	NominalV            float64 // 3.2 V for each lithium cell in series: 12.8, 25.6, 51.2; 2 V for one of lead
	InSeries            int     // blocks of which the two above, resistance, currents, board and heat capacity are told; see Whole
	InParallel          int     // and such strings side by side
	Of                  Blocks  // what Whole made it of
	Health              float64 // share of the nameplate capacity that age has left
	ResistanceOhm       float64 // whole bank with its board and links, at 25 C; 0 takes DefaultResistanceOhm
	CoulombicEfficiency float64 // charge kept of charge put in; lead: before gassing
	MaxChargeA          float64 // 0 takes a share of the capacity in one hour
	MaxDischargeA       float64 // of the protection board; 0: no limit
	ChargeV             float64 // terminal voltage at which charging tapers; 0 takes the type's
	SelfDischarge       float64 // share of the charge lost in a month of 730 h, at 20 C
	BoardDrawW          float64 // protection board, always
	DisconnectSOC       float64 // loads are cut here
	ReconnectSOC        float64 // and come back here
	DisconnectV         float64 // or where the terminals are pulled down to this; 0: not by voltage
	ReconnectV          float64 // and they have risen to this
	MinOffMin           float64 // but not before so many minutes
	MinChargeTempC      float64 // charging is barred below this temperature of the bank
	ResumeChargeTempC   float64 // and allowed again above this
	MaxChargeTempC      float64 // barred above it
	ReducedBelowC       float64 // below it the charging current is at most ReducedRate x capacity
	ReducedRate         float64
	Room                Room
	BuildingLagH        float64     // the air in an unheated building follows that outdoors with this time constant
	RoomC               [12]float64 // typed monthly means of the room's air
	TempLagH            float64     // time constant with which the bank follows the air around it, h
	HeatCapacityWhPerK  float64     // 0: from its weight
	HeaterW             float64     // of a heater pad; 0: none
	HeaterToC           float64     // which its thermostat keeps
	Ratio5H, Ratio100H  float64     // lead: capacity in 5 h and in 100 h over that in 20 h; 0: the type's
	AcceptancePerH      float64     // lead: charging current taken at the absorption voltage over the capacity still to fill, 1/h
	WokenAtMin          int         // after a cut, minute of the day, 1..1440, at which loads can come back; 0: any
	StartSOC            float64     // NaN: settled by repeating the first year
}

// Room is where a bank stands.
type Room int

// The rooms.
const (
	Outdoors Room = iota
	Building      // unheated, with a lag of its own
	Profile       // with typed temperatures
)

// RoomWords are the words for `room`, in order.
var RoomWords = []string{"outdoors", "building", "profile"}

// Default returns a lithium bank with every value that has a sensible default.
func Default() Bank { return New(Lithium) }

// New returns a bank of a type with every value that has a sensible default.
func New(t Type) Bank {
	p := &presets[t]
	b := Bank{
		Type: t, NominalV: 12.8, InSeries: 1, InParallel: 1, Health: 1, CoulombicEfficiency: p.coulombic, SelfDischarge: p.selfDischarge,
		DisconnectSOC: p.disconnect, ReconnectSOC: p.reconnect, BuildingLagH: 12, TempLagH: 6, StartSOC: math.NaN(),
		MaxChargeTempC: 60, HeaterToC: 5, ReducedBelowC: -40, ReducedRate: 0.2,
	}
	switch t {
	case Lithium:
		b.BoardDrawW, b.ResumeChargeTempC, b.ReducedBelowC = 0.05, 2, 15
		b.MaxChargeTempC = 45
	default:
		b.NominalV, b.MinChargeTempC, b.ResumeChargeTempC = 12, -40, -40
	}
	return b
}

// Keys declares the parameters; their defaults are those of b's type.
func (b *Bank) Keys() []limit.Key {
	keys := []limit.Key{
		limit.OneOf("type", &b.Type, TypeWords, "what it is made of: lithium iron phosphate, or lead with liquid acid, acid in glass mat, or gel", "flooded").
			From("lithium iron phosphate"),
		limit.Num("capacity_ah", &b.CapacityAh, limit.Above(0), "nameplate charge of one block; lead: in 20 h", "100").Needed(),
	}
	keys = append(keys, limit.Num("nominal_v", &b.NominalV, limit.Between(2, mostBankV),
		"nominal voltage of one block: 3.2 V for each lithium cell in series (12.8, 25.6, 51.2; 12 and 24 are taken as 12.8 and 25.6), 2 V for one of lead (12, 24, 48)", "12.8").From("the commonest block: 12.8, lead 12"))
	keys = append(keys,
		limit.Int("blocks_in_series", &b.InSeries, limit.Between(1, 200), "equal blocks joined end to end to a string: volts add up", "2").
			From("one: the bank is a block, or its totals are typed as one"),
		limit.Int("strings_in_parallel", &b.InParallel, limit.Between(1, 100), "such strings side by side: ampere-hours add up", "2").From("one"),
		limit.Num("health", &b.Health, limit.Between(0.2, 1), "share of the nameplate capacity that age has left", "0.85").From("new"),
		limit.Num("resistance_ohm", &b.ResistanceOhm, limit.AtLeast(0),
			"resistance of one block with its board and links at 25 C; 0 scales a typical block", "0.015").
			From("a guess: about 95 % of a lithium bank's energy comes back at a fifth of the capacity per hour, some 80 % of lead's"),
		limit.Num("coulombic_efficiency", &b.CoulombicEfficiency, limit.AboveTo(0.5, 1),
			"charge kept of charge put in; lead loses more near full, by gassing", limit.Plain(b.preset().coulombic)).
			From("lithium 0.99 to 0.999, trade pages; lead above 0.95 at low charge, Stevens & Corey 1996"),
		limit.Num("max_charge_a", &b.MaxChargeA, limit.AtLeast(0),
			"highest charging current of one block; 0 means a share of the capacity in an hour: lithium 0.5, flooded and gel 0.2, AGM 0.3", "50").
			From("lithium: typical cell data sheet, 15 to 45 C; lead: common practice"),
		limit.Num("max_discharge_a", &b.MaxDischargeA, limit.AtLeast(0),
			"highest discharging current of one block or its protection board; 0 means no limit", "100").From("no limit"),
		limit.Num("charge_v", &b.ChargeV, limit.AtLeast(0),
			"terminal voltage of the whole bank at which charging tapers, at 25 C; 0 means the usual: lithium 3.55 V a cell; for each 12 V flooded 14.6, AGM 14.4, gel 14.1", "14.2").
			From("common charger settings"),
		limit.Num("self_discharge", &b.SelfDischarge, limit.Between(0, 0.5),
			"share of the charge lost in a month at 20 C; lead: twice as much for each 10 C", "0.025").
			From("a month: lithium 2 to 3 %, AGM and gel under 2 %, trade pages; flooded 5 %, from memory"),
		limit.Num("board_draw_w", &b.BoardDrawW, limit.AtLeast(0), "draw of one block's protection board, day and night", "0.05").
			From("lithium: 1 to 10 mA, from memory; lead has none"),
		limit.Num("disconnect_soc", &b.DisconnectSOC, limit.Between(0, 0.95), "state of charge at which loads are cut", "0.1").
			From("common practice: lithium 0.1, lead 0.5"),
		limit.Num("reconnect_soc", &b.ReconnectSOC, limit.Between(0.01, 1), "state of charge at which loads come back", "0.2").
			From("a guess: 0.1 above the cut"),
		limit.Num("disconnect_v", &b.DisconnectV, limit.AtLeast(0),
			"loads are cut too where they pull the whole bank down to this voltage; 0 means not by voltage", "11.5").From("not by voltage"),
		limit.Num("reconnect_v", &b.ReconnectV, limit.AtLeast(0),
			"and come back only when the whole bank has risen to this; 0 means, beside a disconnect_v, the usual: 12.6 V for each 12 V of lead, 13.0 V for each 12.8 V of lithium", "12.6").
			From("common practice, from memory; without a disconnect_v not by voltage"),
		limit.Num("min_off_min", &b.MinOffMin, limit.Between(0, 10080), "minutes that a cut lasts at the least", "0").
			From("no delay"),
		limit.Num("min_charge_temp_c", &b.MinChargeTempC, limit.Between(-40, 30),
			"charging is barred while the bank is colder", "0").From("lithium: typical cell data sheet; lead: not barred"),
		limit.Num("resume_charge_temp_c", &b.ResumeChargeTempC, limit.Between(-40, 40),
			"once barred, charging is allowed again at this temperature; never below min_charge_temp_c", "2").From("lithium: a guess, 2 C; lead: not barred"),
		limit.Num("max_charge_temp_c", &b.MaxChargeTempC, limit.Between(10, 100),
			"charging is barred while the bank is warmer", "45").From("lithium: typical pack sheet; lead: a guess"),
	)
	keys = append(keys,
		limit.Num("reduced_below_c", &b.ReducedBelowC, limit.Between(-40, 40),
			"below this temperature the charging current is reduced", "15").From("lithium: typical cell data sheet; lead: not reduced"),
		limit.Num("reduced_rate_per_h", &b.ReducedRate, limit.AboveTo(0, 10),
			"to this share of the capacity in an hour", "0.2").From("typical cell data sheet"),
		limit.Num("ratio_5h", &b.Ratio5H, limit.Between(0, 1), "lead: capacity in 5 h over that in 20 h; 0 means the type's", "0.82").
			From("flooded 0.82, a golf-cart block, from memory; AGM 0.87, gel 0.85, guesses"),
		limit.Num("ratio_100h", &b.Ratio100H, limit.Between(0, 2), "lead: capacity in 100 h over that in 20 h; 0 means the type's", "1.11").
			From("flooded 1.11, a golf-cart block, from memory; AGM 1.06, gel 1.08, guesses"),
		limit.Num("acceptance_per_h", &b.AcceptancePerH, limit.Between(0, 20),
			"lead: current taken at charge_v over the charge that its ready part still lacks, 1/h: with 1, absorption begins at 70 to 85 %; 0 means the type's", "1").
			From("a guess: flooded and gel 1, AGM 1.5"),
	)
	return append(keys,
		limit.OneOf("room", &b.Room, RoomWords, "where it stands: outdoors, in an unheated building, or in a room of typed temperatures", "building").
			From("outdoors, which is the harshest"),
		limit.Num("building_lag_h", &b.BuildingLagH, limit.Between(0, 1000),
			"hours in which the air in the building makes up 63 % of a step outdoors", "12").From("a guess"),
		limit.Parsed("room_c", b.setRoom, "twelve monthly means of the room's air, January first", "[5, 5, 8, 11, 15, 18, 20, 20, 17, 13, 8, 6]").
			From("none"),
		limit.Num("temp_lag_h", &b.TempLagH, limit.Between(0, 1000),
			"hours in which the bank makes up 63 % of a step in air temperature: its heat capacity over its conductance to the air", "6").From("a guess"),
		limit.Num("heat_capacity_wh_per_k", &b.HeatCapacityWhPerK, limit.AtLeast(0),
			"heat that warms it, or one of its blocks, by one degree; 0 means from its weight", "3").From("a guess: 10 kg for a kWh of lithium, 33 of lead"),
		limit.Num("heater_w", &b.HeaterW, limit.AtLeast(0), "power of the heater pads that the battery itself feeds, all together; 0 means none", "20").From("none"),
		limit.Num("heater_to_c", &b.HeaterToC, limit.Between(-30, 40), "temperature that its thermostat keeps", "5").From("a guess"),
		limit.Parsed("start_soc", b.setStart, "state of charge at the start, or settled: the first year repeated until it"+
			" ends as it began", "settled").From("settled"),
	)
}

func (b *Bank) setRoom(words []string) error {
	if len(words) != 12 {
		return fmt.Errorf("wants twelve temperatures, January first; these are %d", len(words))
	}
	for i, w := range words {
		v, err := strconv.ParseFloat(w, 64)
		if err != nil || !(v >= -60 && v <= 60) {
			return fmt.Errorf("%q is not a temperature between -60 and 60 C", w)
		}
		b.RoomC[i] = v
	}
	b.Room = Profile
	return nil
}

func (b *Bank) setStart(words []string) error {
	if len(words) != 1 {
		return errors.New("wants one value: a state of charge from 0 to 1, or settled")
	}
	if words[0] == "settled" {
		b.StartSOC = math.NaN()
		return nil
	}
	v, err := strconv.ParseFloat(words[0], 64)
	if err != nil || !(v >= 0 && v <= 1) || strings.Trim(words[0], "0123456789.") != "" {
		msg := strconv.Quote(words[0]) + " is not a state of charge between 0 and 1, nor the word settled"
		if v, err := strconv.ParseFloat(strings.TrimRight(words[0], " %"), 64); err == nil && v > 1 && v <= 100 {
			msg += ": it looks like percent; " + limit.Plain(v) + " % is " + limit.Plain(math.Round(v*1e6)/1e8)
		}
		return errors.New(msg)
	}
	b.StartSOC = v
	return nil
}

// wholeCells reports whether NominalV is that of cells in series: 2 V for one of lead; 3.2 V for one of lithium, or 3.3 or 3, as
// some plates have it (12 V for four).
func (b *Bank) wholeCells() bool {
	cells := float64(b.cellsIn())
	plates := []float64{b.preset().cellV}
	if b.Type == Lithium {
		plates = []float64{3.2, 3.3, 3}
	}
	return slices.ContainsFunc(plates, func(cellV float64) bool { return math.Abs(b.NominalV-cellV*cells) < 0.005*b.NominalV })
}

// Check returns what is wrong with the parameters.
func (b *Bank) Check() []limit.Fault {
	faults := limit.Check(b.Keys())
	if len(faults) > 0 {
		return faults
	}
	if !b.wholeCells() {
		faults = append(faults, limit.Fault{Key: "nominal_v", Msg: fmt.Sprintf("%s is not a whole number of %v V cells",
			limit.Plain(b.NominalV), b.preset().cellV), Example: limit.Plain(4 * 3.2)})
		if b.Type != Lithium {
			faults[len(faults)-1].Example = "12"
		}
	}
	if b.ReconnectSOC < b.DisconnectSOC+0.01-1e-12 {
		faults = append(faults, limit.Fault{Key: "reconnect_soc", Msg: fmt.Sprintf(
			"%v is not at least 0.01 above disconnect_soc %v: the loads would come and go without end",
			b.ReconnectSOC, b.DisconnectSOC), Example: limit.Plain(min(1, math.Round(100*b.DisconnectSOC+10)/100))})
	}
	if v := b.NominalV * float64(b.InSeries); v > mostBankV {
		faults = append(faults, limit.Fault{Key: "blocks_in_series", Msg: fmt.Sprintf("%d blocks of %s V make %s V, above %d: nominal_v is that of one block",
			b.InSeries, limit.Plain(b.NominalV), limit.Plain(v), mostBankV), Example: "2"})
	}
	n, before := float64(b.cells()), len(faults)
	lo, hi := chargeCellV(b.Type)
	if b.ChargeV != 0 && !(b.ChargeV >= lo*n && b.ChargeV <= hi*n+1e-9) {
		faults = append(faults, limit.Fault{Key: "charge_v", Msg: fmt.Sprintf(
			"%v is not between %.4g and %.4g, %v to %v V for each of %d cells%s", b.ChargeV, lo*n, hi*n, lo, hi, b.cells(), b.ofAll(b.ChargeV, lo, hi)),
			Example: fmt.Sprintf("%.4g", b.preset().absorptionCellV*n)})
	}
	lo, hi = 2.4, 3.4
	if b.Type != Lithium {
		lo, hi = 1.6, 2.1
	}
	if b.DisconnectV != 0 && !(b.DisconnectV >= lo*n-1e-9 && b.DisconnectV <= hi*n) {
		faults = append(faults, limit.Fault{Key: "disconnect_v", Msg: fmt.Sprintf(
			"%v is not between %.4g and %.4g, %v to %v V for each of %d cells%s", b.DisconnectV, lo*n, hi*n, lo, hi, b.cells(), b.ofAll(b.DisconnectV, lo, hi)),
			Example: fmt.Sprintf("%.4g", (lo+hi)/2*n)})
	}
	if v := b.restV(0.95); len(faults) == before && b.DisconnectV > v {
		faults = append(faults, limit.Fault{Key: "disconnect_v", Msg: fmt.Sprintf(
			"%v is more than the bank has at rest with 95 %% of its charge, %.4g V: any load would be cut with the bank full", b.DisconnectV, v),
			Example: fmt.Sprintf("%.4g", (lo+hi)/2*n)})
	}
	if b.ReconnectV != 0 && !(b.ReconnectV > b.DisconnectV && b.ReconnectV < b.ChargeLimitV()-0.02*n) {
		faults = append(faults, limit.Fault{Key: "reconnect_v", Msg: fmt.Sprintf(
			"%v is not above disconnect_v %v and well below the charging voltage, %.4g: the loads would never come back, or come and go",
			b.ReconnectV, b.DisconnectV, b.ChargeLimitV()), Example: fmt.Sprintf("%.4g", (b.DisconnectV+b.ChargeLimitV())/2)})
	}
	if v := b.returnV(); len(faults) == before && b.ReconnectV == 0 && v > 0 && v >= b.ChargeLimitV()-0.02*n {
		faults = append(faults, limit.Fault{Key: "disconnect_v", Msg: fmt.Sprintf("%v is too near the charging voltage, %.4g: the loads would never come back, or come and go",
			b.DisconnectV, b.ChargeLimitV()), Example: fmt.Sprintf("%.4g", (lo+hi)/2*n)})
	}
	if from := max(b.MinChargeTempC, b.ResumeChargeTempC); b.MaxChargeTempC <= from {
		faults = append(faults, limit.Fault{Key: "max_charge_temp_c", Msg: fmt.Sprintf("%v is not above %v, from where it is charged: it never would be",
			b.MaxChargeTempC, from), Example: "45"})
	}
	if b.Room == Profile && b.RoomC == [12]float64{} {
		faults = append(faults, limit.Fault{Key: "room", Msg: "profile wants the room's twelve temperatures in room_c", Example: "building"})
	}
	if b.HeaterW > 0 && b.TempLagH == 0 {
		faults = append(faults, limit.Fault{Key: "temp_lag_h", Msg: "is 0 beside a heater: a bank without heat capacity cannot be warmed",
			Example: "6"})
	}
	if b.HeaterW > 0 && b.MaxChargeTempC <= b.HeaterToC {
		faults = append(faults, limit.Fault{Key: "heater_to_c", Msg: fmt.Sprintf("%v is not below max_charge_temp_c %v",
			b.HeaterToC, b.MaxChargeTempC), Example: "5"})
	}
	if b.Type == Lithium {
		for _, k := range []struct {
			key string
			v   float64
		}{{"ratio_5h", b.Ratio5H}, {"ratio_100h", b.Ratio100H}, {"acceptance_per_h", b.AcceptancePerH}} {
			if k.v != 0 {
				faults = append(faults, limit.Fault{Key: k.key, Msg: "is for lead, and the type is lifepo4", Example: "0"})
			}
		}
	}
	if b.Type != Lithium && b.Ratio5H+b.Ratio100H > 0 {
		r5, r100 := b.rates()
		if _, _, ok := FitWells(r5, r100); !ok {
			key := "ratio_5h"
			if b.Ratio5H == 0 {
				key = "ratio_100h"
			}
			faults = append(faults, limit.Fault{Key: key, Msg: fmt.Sprintf(
				"no bank gives %s of its 20 h capacity in 5 h and %s in 100 h: are they from one data sheet?", limit.Plain(r5), limit.Plain(r100)), Example: map[string]string{"ratio_5h": "0.82", "ratio_100h": "1.11"}[key]})
		}
	}
	return faults
}

// returnV is the voltage to which the bank must rise before loads that were cut come back, V; 0: by charge alone. A load
// output's usual levels, from memory: 12.6 V for six cells of lead, 13.0 V for four of lithium; a cut that lies near them is given
// 0.05 V a cell, a guess.
func (b *Bank) returnV() float64 {
	if b.ReconnectV > 0 || b.DisconnectV == 0 {
		return b.ReconnectV
	}
	cellV := 2.1
	if b.Type == Lithium {
		cellV = 3.25
	}
	n := float64(b.cells())
	return max(cellV*n, b.DisconnectV+returnGapCellV*n)
}

const returnGapCellV = 0.05

// restV is the voltage of the bank at rest at a state of charge, V.
func (b *Bank) restV(soc float64) float64 {
	if b.Type == Lithium {
		return openCellV(soc) * float64(b.cells())
	}
	return (b.preset().emptyCellV + soc*(b.preset().fullCellV-b.preset().emptyCellV)) * float64(b.cells())
}

// restSOC is the state of charge at which it has that voltage, 0..1.
func (b *Bank) restSOC(volts float64) float64 {
	return float64(sort.Search(1000, func(i int) bool { return b.restV(float64(i)/1000) >= volts })) / 1000
}

// ofAll goes on where a voltage that is wrong for the whole bank would be right for one of its blocks, between lo and hi V a cell.
func (b *Bank) ofAll(volts, lo, hi float64) string {
	if n := float64(b.cellsIn()); b.InSeries <= 1 || volts < lo*n || volts > hi*n {
		return ""
	}
	return fmt.Sprintf(": it looks like one block's; %s V for each of %d in series is %s V", limit.Plain(volts), b.InSeries, limit.Plain(math.Round(1e6*volts*float64(b.InSeries))/1e6))
}

func chargeCellV(t Type) (lo, hi float64) {
	if t == Lithium {
		return 3.3, 3.65
	}
	return 2.3, 2.6
}

// ChargeRange is what the bank may be charged to, V at 25 C.
func (b *Bank) ChargeRange() (lowV, highV float64) {
	lo, hi := chargeCellV(b.Type)
	return lo * float64(b.cells()), hi*float64(b.cells()) + 1e-9
}

// rates are the capacities in 5 h and 100 h over that in 20 h.
func (b *Bank) rates() (ratio5, ratio100 float64) {
	ratio5, ratio100 = b.Ratio5H, b.Ratio100H
	if ratio5 == 0 {
		ratio5 = b.preset().ratio5
	}
	if ratio100 == 0 {
		ratio100 = b.preset().ratio100
	}
	return ratio5, ratio100
}

// Slips returns what no outbuilding has and what is likely a value in other units. A study may go beyond.
func (b *Bank) Slips() []limit.Fault {
	var faults []limit.Fault
	if w := b.BoardDrawW; w > 20 {
		faults = append(faults, limit.Fault{Key: "board_draw_w", Msg: fmt.Sprintf("%s is above 20: it looks like mW; %[1]s mW is %s W",
			limit.Plain(w), limit.Plain(w/1000)), Example: "0.05"})
	}
	if r := b.ResistanceOhm; r > 20*b.DefaultResistanceOhm() {
		faults = append(faults, limit.Fault{Key: "resistance_ohm", Msg: fmt.Sprintf(
			"%s is over 20 times that of a typical bank of this size, %.3g: it looks like milliohm; %[1]s milliohm is %[3]s ohm",
			limit.Plain(r), b.DefaultResistanceOhm(), limit.Plain(r/1000)), Example: "0.015"})
	}
	const leastAh, mostAh = 0.5, 2000
	if ah := b.CapacityAh * float64(b.InParallel); b.CapacityAh <= mostAh && ah > mostAh {
		faults = append(faults, limit.Fault{Key: "strings_in_parallel", Msg: fmt.Sprintf("%d strings of %s Ah are %s Ah, above %d, a bank of %.0f kWh: capacity_ah is that of one block, not of all",
			b.InParallel, limit.Plain(b.CapacityAh), limit.Plain(ah), mostAh, ah*b.NominalV*float64(b.InSeries)/1000), Example: "2"})
	}
	if b.CapacityAh < leastAh {
		return append([]limit.Fault{{Key: "capacity_ah", Msg: fmt.Sprintf("%s is below %v Ah: it looks like kAh, or kWh; %[1]s kWh at %[3]s V is %.4[4]g Ah",
			limit.Plain(b.CapacityAh), leastAh, limit.Plain(b.NominalV), 1000*b.CapacityAh/b.NominalV), Example: "100"}}, faults...)
	}
	if b.CapacityAh <= mostAh {
		return faults
	}
	msg := fmt.Sprintf("%s is above %v Ah, a bank of %.0f kWh", limit.Plain(b.CapacityAh), mostAh, b.NominalWh()/1000)
	if ah := b.CapacityAh / b.NominalV; b.CapacityAh < 60e3 && ah >= 10 {
		msg += fmt.Sprintf(": it looks like Wh; %s Wh at %s V is %.4g Ah", limit.Plain(b.CapacityAh), limit.Plain(b.NominalV), ah)
	} else {
		msg += fmt.Sprintf(": it looks like mAh; %s mAh is %.4g Ah", limit.Plain(b.CapacityAh), b.CapacityAh/1000)
	}
	return append([]limit.Fault{{Key: "capacity_ah", Msg: msg, Example: "100"}}, faults...)
}

// Cells is the number of cells in series in the whole bank; for lithium 12 and 24 V are taken as 12.8 and 25.6, 48 V as 15 cells.
func (b *Bank) Cells() int { return b.cells() }

func (b *Bank) cells() int { return max(1, b.InSeries) * b.cellsIn() }

// cellsIn is the number of cells in series in what NominalV is told of. A bank of blocks has what its blocks have: 12 V of lithium
// are four cells, and four times 12 V are sixteen.
func (b *Bank) cellsIn() int {
	volts, blocks := b.NominalV, 1
	if b.Of.InSeries > 0 {
		volts, blocks = b.Of.NominalV, b.Of.InSeries
	}
	return blocks * max(1, int(math.Round(volts/b.preset().cellV)))
}

// DefaultResistanceOhm is, for a lithium block of 12.8 V and 100 Ah, 0.0146 ohm, in proportion to cells and against capacity. At
// a fifth of the capacity per hour it loses 2.2 % each way; with coulombic losses about 95 % comes back, the usual
// figure for such a bank. For 12 V and 100 Ah of lead when full: flooded 0.016, gel 0.012, AGM 0.008 ohm. Guesses, not
// datasheet values.
func (b *Bank) DefaultResistanceOhm() float64 {
	blocks := float64(b.cellsIn()) * b.preset().cellV / 12
	if b.Type == Lithium {
		blocks = float64(b.cellsIn()) / 4
	}
	return b.preset().ohm100Ah * blocks * 100 / b.CapacityAh
}

// ChargeLimitV is the terminal voltage at which charging tapers, at 25 C, V.
func (b *Bank) ChargeLimitV() float64 {
	if b.ChargeV > 0 {
		return b.ChargeV
	}
	return b.preset().absorptionCellV * float64(b.cells())
}

// EmptyV is the voltage of the empty bank at rest, V.
func (b *Bank) EmptyV() float64 {
	if b.Type == Lithium {
		return openCellV(0) * float64(b.cells())
	}
	return b.preset().emptyCellV * float64(b.cells())
}

// HeatWhPerK is the heat that warms the bank by one degree.
func (b *Bank) HeatWhPerK() float64 {
	if b.HeatCapacityWhPerK > 0 {
		return b.HeatCapacityWhPerK
	}
	return b.preset().heatWhPerKPerKWh * b.NominalWh() / 1000
}

// NominalWh is the printed energy: capacity times nominal voltage, of the whole bank once it is whole.
func (b *Bank) NominalWh() float64 { return b.CapacityAh * b.NominalV }

// ColdShare is the part of the charge of a full bank that can be taken out at tempC, 0.5..1: 1.00 at 25 C, 0.92 at
// 10 C, 0.80 at 0 C, 0.70 at -20 C, linear between and on to 0.5 below. Cold limits what can be taken, never the
// charge held. Source: a maker's note for a 100 Ah block for 0 and -20 C; the 10 C value from memory.
func ColdShare(tempC float64) float64 {
	switch {
	case tempC >= 25:
		return 1
	case tempC >= 10:
		return 0.92 + (tempC-10)/15*0.08
	case tempC >= 0:
		return 0.80 + tempC/10*0.12
	default:
		return max(0.5, 0.80+tempC/20*0.10)
	}
}
