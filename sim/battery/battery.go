// Package battery models a lithium iron phosphate bank by the charge it holds: open-circuit voltage, resistance,
// coulombic efficiency, self-discharge, the limits of what it accepts, and the levels at which loads are cut and come
// back.
//
// Power and current are positive when charging. State of charge is charge over capacity at 25 C. The energy held is
// the integral of open-circuit voltage over charge, so it depends on the charge alone.
package battery

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"

	"tideover/sim/limit"
)

// Bank is a lithium iron phosphate bank as its owner describes it.
type Bank struct {
	CapacityAh          float64
	NominalV            float64 // 3.2 V for each cell in series: 12.8, 25.6, 51.2
	ResistanceOhm       float64 // whole bank with its board and links; 0 takes DefaultResistanceOhm
	CoulombicEfficiency float64 // charge kept of charge put in
	MaxChargeA          float64 // 0 takes half the capacity in one hour
	ChargeV             float64 // terminal voltage at which charging tapers; 0 takes 3.55 V a cell
	SelfDischarge       float64 // share of the charge lost in a month of 730 h
	BoardDrawW          float64 // protection board, always
	DisconnectSOC       float64 // loads are cut here
	ReconnectSOC        float64 // and come back here
	MinOffMin           float64 // but not before so many minutes
	MinChargeTempC      float64 // charging is barred below this temperature of the bank
	MaxChargeTempC      float64 // and above this; 0: no such limit
	WokenAtMin          int     // after it went flat: minute of the day, 1..1440, at which loads can come back; 0: any
	TempLagH            float64 // time constant with which the bank follows the air around it, h
	StartSOC            float64 // NaN: settled by repeating the first year
}

// Default returns a bank with every value that has a sensible default.
func Default() Bank {
	return Bank{
		NominalV: 12.8, CoulombicEfficiency: 0.995, SelfDischarge: 0.025, BoardDrawW: 0.05,
		DisconnectSOC: 0.10, ReconnectSOC: 0.20, TempLagH: 6, StartSOC: math.NaN(),
	}
}

// Keys declares the parameters.
func (b *Bank) Keys() []limit.Key {
	return []limit.Key{
		limit.Num("capacity_ah", &b.CapacityAh, limit.Above(0), "nameplate charge of the whole bank", "100").Needed(),
		limit.Num("nominal_v", &b.NominalV, limit.Between(3, 410),
			"nominal voltage, 3.2 V for each cell in series: 12.8, 25.6, 51.2", "12.8").From("the commonest block"),
		limit.Num("resistance_ohm", &b.ResistanceOhm, limit.AtLeast(0),
			"resistance of the whole bank with board and links; 0 scales a typical block", "0.015").
			From("a guess: about 95 % of the energy comes back at a fifth of the capacity per hour"),
		limit.Num("coulombic_efficiency", &b.CoulombicEfficiency, limit.AboveTo(0.5, 1),
			"charge kept of charge put in", "0.995").From("0.99 to 0.999, trade pages"),
		limit.Num("max_charge_a", &b.MaxChargeA, limit.AtLeast(0),
			"highest charging current; 0 means half the capacity in an hour", "50").From("typical cell data sheet, 15 to 45 C"),
		limit.Num("charge_v", &b.ChargeV, limit.AtLeast(0),
			"terminal voltage at which charging tapers; 0 means 3.55 V a cell", "14.2").From("common charger setting"),
		limit.Num("self_discharge", &b.SelfDischarge, limit.Between(0, 0.5),
			"share of the charge lost in a month", "0.025").From("2 to 3 % a month, trade pages"),
		limit.Num("board_draw_w", &b.BoardDrawW, limit.AtLeast(0), "draw of the protection board, day and night", "0.05").
			From("1 to 10 mA, from memory"),
		limit.Num("disconnect_soc", &b.DisconnectSOC, limit.Between(0, 0.95), "state of charge at which loads are cut", "0.1").
			From("common practice"),
		limit.Num("reconnect_soc", &b.ReconnectSOC, limit.Between(0.01, 1), "state of charge at which loads come back", "0.2").
			From("a guess"),
		limit.Num("min_off_min", &b.MinOffMin, limit.Between(0, 10080), "minutes that a cut lasts at the least", "0").
			From("no delay"),
		limit.Num("min_charge_temp_c", &b.MinChargeTempC, limit.Between(-40, 30),
			"charging is barred while the bank is colder", "0").From("typical cell data sheet"),
		limit.Num("temp_lag_h", &b.TempLagH, limit.Between(0, 1000),
			"hours in which the bank makes up 63 % of a step in air temperature", "6").From("a guess"),
		limit.Parsed("start_soc", b.setStart, "state of charge at the start, or settled: the first year repeated until it"+
			" ends as it began", "settled").From("settled"),
	}
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

// Check returns what is wrong with the parameters.
func (b *Bank) Check() []limit.Fault {
	faults := limit.Check(b.Keys())
	if len(faults) > 0 {
		return faults
	}
	if c := b.cells(); math.Abs(b.NominalV-3.2*float64(c)) > 0.07*b.NominalV {
		faults = append(faults, limit.Fault{Key: "nominal_v", Msg: limit.Plain(b.NominalV) +
			" is not a whole number of 3.2 V cells", Example: "12.8"})
	}
	if b.ReconnectSOC < b.DisconnectSOC+0.01-1e-12 {
		faults = append(faults, limit.Fault{Key: "reconnect_soc", Msg: fmt.Sprintf(
			"%v is not at least 0.01 above disconnect_soc %v: the loads would come and go without end",
			b.ReconnectSOC, b.DisconnectSOC), Example: limit.Plain(min(1, math.Round(100*b.DisconnectSOC+10)/100))})
	}
	lo, hi := 3.3*float64(b.cells()), 3.65*float64(b.cells())
	if b.ChargeV != 0 && !(b.ChargeV >= lo && b.ChargeV <= hi+1e-9) {
		faults = append(faults, limit.Fault{Key: "charge_v", Msg: fmt.Sprintf(
			"%v is not between %.4g and %.4g, 3.3 to 3.65 V for each of %d cells", b.ChargeV, lo, hi, b.cells()),
			Example: fmt.Sprintf("%.4g", 3.55*float64(b.cells()))})
	}
	return faults
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

// cells is the number of cells in series; 12, 24 and 48 V are taken as 12.8, 25.6 and 51.2.
func (b *Bank) cells() int { return max(1, int(math.Round(b.NominalV/3.2))) }

// DefaultResistanceOhm is 0.0146 ohm for a 100 Ah block of four cells, in proportion to cells and against capacity. At
// a fifth of the capacity per hour it loses 2.2 % each way; with coulombic losses about 95 % comes back, the usual
// figure for such a bank. A guess, not a datasheet value.
func (b *Bank) DefaultResistanceOhm() float64 {
	return 0.0146 * float64(b.cells()) / 4 * 100 / b.CapacityAh
}

// ChargeLimitV is the terminal voltage at which charging tapers, V.
func (b *Bank) ChargeLimitV() float64 {
	if b.ChargeV > 0 {
		return b.ChargeV
	}
	return 3.55 * float64(b.cells())
}

// NominalWh is the printed energy: capacity times nominal voltage.
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

// LagTemp returns the temperature of the bank in each step, C: the air's, through a first-order lag of lagH hours
// driven by the steps' means. The series is taken as a ring so that its start is settled. dst may be nil.
func LagTemp(airC []float64, stepH, lagH float64, dst []float64) []float64 {
	if len(dst) != len(airC) {
		dst = make([]float64, len(airC))
	}
	if lagH <= 0 || len(airC) == 0 {
		copy(dst, airC)
		return dst
	}
	keep := math.Exp(-stepH / lagH)
	mean := (1 - keep) * lagH / stepH // weight of the start within the step's mean
	t := 0.0
	for _, a := range airC {
		t = a + (t-a)*keep
	}
	t /= -math.Expm1(-stepH * float64(len(airC)) / lagH) // the start that comes back at the end
	for i, a := range airC {
		dst[i] = a + (t-a)*mean
		t = a + (t-a)*keep
	}
	return dst
}
