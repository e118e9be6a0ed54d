package battery

import "math"

// Warmth is what a temperature makes of a bank.
type Warmth struct { // what a lithium bank's step reads comes first
	OhmFactor    float64 // resistance, discharging, over that at 25 C
	FloorAh      float64 // lithium: the charge at which loads are cut, by rule or because cold keeps the rest in
	MaxChargeA   float64
	ChargeV      float64 // held by the charger at this temperature; the caller's
	Barred       bool    // charging
	Hot          bool    // barred by heat, not by cold
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
	return b.warmth(tempC, b.barredAt(tempC, wasBarred), tempC < b.ReducedBelowC)
}

func (b *Bank) warmth(tempC float64, barred, reduced bool) Warmth {
	w := Warmth{TempC: tempC, Barred: barred, Hot: barred && b.TooHot(tempC), MaxChargeA: b.MaxChargeA, LeakPerH: -math.Log1p(-b.SelfDischarge) / 730, ChargeFactor: 1}
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
	if reduced {
		w.MaxChargeA = min(w.MaxChargeA, b.ReducedRate*b.CapacityAh)
	}
	return w
}

// TooHot reports whether, where charging is barred at tempC, it is by heat: the temperature is nearer to the upper limit.
func (b *Bank) TooHot(tempC float64) bool {
	return tempC > (max(b.MinChargeTempC, b.ResumeChargeTempC)+b.MaxChargeTempC)/2
}

// barredAt reports whether charging is barred at tempC.
func (b *Bank) barredAt(tempC float64, was bool) bool {
	from := b.MinChargeTempC
	if was {
		from = max(from, b.ResumeChargeTempC)
	}
	return tempC < from || tempC > b.MaxChargeTempC
}
