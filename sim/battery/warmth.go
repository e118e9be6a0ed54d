package battery

import "math"

// Warmth is what a temperature makes of a bank.
type Warmth struct { // what a lithium bank's step reads comes first
	OhmFactor    float64 // resistance, discharging, over that at 25 C
	FloorAh      float64 // lithium: the charge at which loads are cut, by rule or because cold keeps the rest in
	MaxChargeA   float64
	ChargeV      float64 // held by the charger at this temperature; the caller's
	Barred       bool    // charging
	FloatV       float64
	ChargeFactor float64 // lead: the voltage that a charging current needs, over that at 25 C
	FloorHead    float64 // lead: the fill of the available well below which nothing comes out
	LeakPerH     float64 // self-discharge, share of the charge an hour
	TempC        float64
}

// At returns what tempC makes of the bank. wasBarred is whether charging was barred just before.
//
// Lithium: resistance doubles for each 25 C of cold, from -20 to 45 C (from memory). Lead: 0.7 % per degree discharging
// and 2.5 % charging, after Copetti, Lorenzo and Chenlo 1993 (from memory), and self-discharge doubles for each 10 C.
func (b *Bank) At(tempC float64, wasBarred bool) Warmth {
	w := Warmth{TempC: tempC, MaxChargeA: b.MaxChargeA, LeakPerH: -math.Log1p(-b.SelfDischarge) / 730, ChargeFactor: 1}
	if w.MaxChargeA == 0 {
		w.MaxChargeA = b.CapacityAh * b.preset().chargeRate
	}
	if b.Type == Lithium {
		w.OhmFactor = math.Exp2((25 - min(45, max(-20, tempC))) / 25)
		w.FloorAh = b.CapacityAh * b.Health * max(b.DisconnectSOC, 1-ColdShare(tempC))
	} else {
		c := min(50, max(-20, tempC))
		w.OhmFactor, w.ChargeFactor = 1-0.007*(c-25), 1-0.025*(min(45, c)-25)
		w.FloorHead = 1 - LeadColdShare(tempC)
		w.LeakPerH *= math.Exp2((c - 20) / 10)
	}
	if tempC < b.ReducedBelowC {
		w.MaxChargeA = min(w.MaxChargeA, b.ReducedRate*b.CapacityAh)
	}
	from := b.MinChargeTempC
	if wasBarred {
		from = max(from, b.ResumeChargeTempC)
	}
	w.Barred = tempC < from || tempC > b.MaxChargeTempC
	return w
}

// RoomAir returns the temperature of the air around the bank in each step, C: that outdoors, that of a building which
// follows it, or the typed one of the month (0..11). dst may be nil.
func (b *Bank) RoomAir(outdoorsC []float64, month func(i int) int, stepH float64, dst []float64) []float64 {
	switch b.Room {
	case Building:
		return LagTemp(outdoorsC, stepH, b.BuildingLagH, dst)
	case Profile:
		if len(dst) != len(outdoorsC) {
			dst = make([]float64, len(outdoorsC))
		}
		for i := range dst {
			dst[i] = b.RoomC[month(i)]
		}
		return dst
	}
	return outdoorsC
}

// Node is a bank's temperature while a heater may run: one lump of heat capacity that gives heat to the air around it.
type Node struct {
	keep    float64 // of a difference to the air, over a step
	mean    float64 // weight of the start within the step's mean
	riseK   float64 // above the air, in the end, for the heater's power
	heaterW float64
	toC     float64
}

// Node makes the node ready for steps of stepH. Heat from the bank's own losses is left out.
func (b *Bank) Node(stepH float64) Node {
	keep := math.Exp(-stepH / b.TempLagH)
	return Node{keep: keep, mean: (1 - keep) * b.TempLagH / stepH, riseK: b.HeaterW * b.TempLagH / b.HeatWhPerK(),
		heaterW: b.HeaterW, toC: b.HeaterToC}
}

// Step returns what the heater draws in a step that begins at startC in air of airC: what its thermostat needs to end
// the step at its temperature, at most its power; and the means and the end with it.
func (n *Node) Step(startC, airC float64) (heaterW, meanC, endC float64) {
	free := airC + (startC-airC)*n.keep
	on := 0.0
	if free < n.toC {
		on = min(1, (n.toC-free)/(n.riseK*(1-n.keep)))
	}
	return on * n.heaterW, n.Mean(startC, airC, on*n.heaterW), n.End(startC, airC, on*n.heaterW)
}

// End is the temperature after a step with heaterW.
func (n *Node) End(startC, airC, heaterW float64) float64 {
	to := airC + n.riseK*heaterW/n.heaterW
	return to + (startC-to)*n.keep
}

// Mean is the mean temperature of a step with heaterW.
func (n *Node) Mean(startC, airC, heaterW float64) float64 {
	to := airC + n.riseK*heaterW/n.heaterW
	return to + (startC-to)*n.mean
}
