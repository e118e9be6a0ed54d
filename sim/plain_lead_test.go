package sim_test

// The lead-acid bank of the plain engine: two wells of charge, one of which is ready, after Manwell and McGowan.

import "math"

// plainLeadType is what a type has where nothing is typed. Voltages are those of six cells.
type plainLeadType struct {
	emptyV, fullV, absorptionV, floatV float64
	ohm                                float64 // of 100 Ah
	acceptancePerH, chargeRatePerH     float64
}

func (b plainBank) leadType() plainLeadType {
	switch b.kind {
	case "flooded":
		return plainLeadType{11.89, 12.65, 14.6, 13.4, 0.016, 1, 0.2}
	case "agm":
		return plainLeadType{11.95, 12.80, 14.4, 13.5, 0.008, 1.5, 0.3}
	case "gel":
		return plainLeadType{11.95, 12.80, 14.1, 13.6, 0.012, 1, 0.2}
	}
	panic("plain engine: " + b.kind + " is no lead-acid bank")
}

// ratedAh is what the bank gives in 20 h.
func (b plainBank) ratedAh() float64 { return b.nameplateAh * b.health }

// leadFullAh is all the charge of a full bank, of which ratedAh can be taken in 20 h.
func (b plainBank) leadFullAh() float64 {
	if b.wellsAh > 0 {
		return b.wellsAh
	}
	c, k, h := b.readyShare, b.wellsPerH, 20.0
	e := math.Exp(-k * h)
	return b.ratedAh() / (k * c * h / (1 - e + c*(k*h-1+e)))
}

// head is the fill of the ready well, 0..1.
func (b plainBank) head(q plainCharge) float64 {
	return clamp(q.readyAh/(b.readyShare*b.leadFullAh()), 0, 1)
}

func (b plainBank) boundHead(q plainCharge) float64 {
	return q.boundAh / ((1 - b.readyShare) * b.leadFullAh())
}

// wellsFlowA is the current from the bound well into the ready one.
func (b plainBank) wellsFlowA(q plainCharge) float64 {
	c := b.readyShare
	return b.wellsPerH * c * (1 - c) * b.leadFullAh() * (b.boundHead(q) - b.head(q))
}

// wellV is the open-circuit voltage of a well filled to head.
func (b plainBank) wellV(head float64) float64 {
	t := b.leadType()
	return (t.emptyV + (t.fullV-t.emptyV)*head) * b.cells() / 6
}

func (b plainBank) leadHeldWh(q plainCharge) float64 {
	return q.readyAh*b.wellV(b.head(q)/2) + q.boundAh*b.wellV(b.boundHead(q)/2)
}

// leadDischargeOhm is 0.7 % less for each degree above 25 C, and rises where the ready well runs low.
func (b plainBank) leadDischargeOhm(q plainCharge, tempC float64) float64 {
	own := b.resistanceOhm
	if own == 0 {
		own = b.leadType().ohm * b.cells() / 6 * 100 / b.nameplateAh
	}
	own *= 1 - 0.007*(clamp(tempC, -20, 50)-25)
	return own * (0.5 + 0.5/math.Max(b.head(q), 0.05))
}

// leadChargeOhm is such that at the absorption voltage of 25 C and at that temperature the bank takes acceptance times the
// rated charge times what its ready well lacks; 2.5 % less for each degree above.
func (b plainBank) leadChargeOhm(q plainCharge, tempC float64) float64 {
	if b.head(q) >= 1 {
		return 0 // no current flows
	}
	a := b.acceptancePerH
	if a == 0 {
		a = b.leadType().acceptancePerH
	}
	factor := 1 - 0.025*(clamp(tempC, -20, 45)-25)
	return (b.absorptionV() - b.openV(q)) * factor / (a * b.ratedAh() * (1 - b.head(q)))
}

// absorptionV is that at 25 C.
func (b plainBank) absorptionV() float64 {
	if b.chargeV > 0 {
		return b.chargeV
	}
	return b.leadType().absorptionV * b.cells() / 6
}

// leadHeldV is the voltage of the charging stage, 5 mV a cell lower for each degree above 25 C.
func (b plainBank) leadHeldV(tempC float64, float bool) float64 {
	v := b.absorptionV()
	if float {
		v = b.leadType().floatV * b.cells() / 6
	}
	return v - 0.005*b.cells()*(clamp(tempC, -20, 50)-25)
}

// leadKeeps is what gassing leaves of a charging current, after Stevens and Corey (1996).
func (b plainBank) leadKeeps(q plainCharge, amps float64) float64 {
	i10 := 0.091 * b.ratedAh()
	return math.Max(0.02, 1-math.Exp(20.73*(b.soc(q)-1)/(amps/i10+0.55)))
}
