package battery

import (
	"fmt"
	"math"
)

// knots are the states of charge between which the open-circuit voltage is taken as linear: within 2 mV a cell of the
// curve in the flat middle, and no more of them than that takes, as each one crossed costs time.
var knots = [nodes + 1]float64{0, 0.05, 0.10, 0.15, 0.20, 0.30, 0.40, 0.60, 0.80, 0.95, 1}

const (
	nodes = 10 // pieces of the curve; node i begins piece i
	cells = 20 // equal parts of the capacity; each lies in one piece
)

// Pack is a Bank made ready for stepping. Its methods move charge and never change it.
type Pack struct {
	CapacityAh    float64
	BankOhm       float64 // at 25 C, well charged
	CableOhm      float64 // to the bus
	ResistanceOhm float64 // of both, now: see Set
	ChargeEff     float64 // coulombic
	MaxChargeA    float64
	ChargeV       float64
	LeakPerH      float64 // self-discharge, share of the charge an hour

	perAh      float64 // cells per Ah
	fifthAh    float64 // of the capacity
	perFifthAh float64
	halfPerV   float64 // half over the nominal voltage
	pieceOf    [cells]uint8
	fromAh     [nodes + 1]float64 // charge at node i
	openV      [nodes + 1]float64 // at node i
	heldWh     [nodes + 1]float64 // energy held at node i
	pieces     [nodes]Piece
}

// Piece is a straight part of the open-circuit voltage over the charge.
type Piece struct {
	fromAh, toAh float64
	zeroV        float64 // where the line meets no charge, V
	slope        float64 // V/Ah
}

// Holds reports whether chargeAh lies on the piece.
func (c *Piece) Holds(chargeAh float64) bool { return chargeAh >= c.fromAh && chargeAh <= c.toAh }

// OpenV is the open-circuit voltage there, V.
func (c *Piece) OpenV(chargeAh float64) float64 { return c.zeroV + c.slope*chargeAh }

// Move is what a stretch of time did.
type Move struct {
	SpanH    float64
	EndAh    float64 // charge held at its end
	CurrentA float64 // mean
	OpenV    float64 // mean open-circuit voltage
	PowerW   float64 // mean at the bus
	LossWh   float64 // resistance, coulombic loss, self-discharge
	HeatWh   float64 // of these, resistance
	StoreWh  float64 // change of the energy held
}

// openCellV is the rested voltage of one lithium iron phosphate cell at a state of charge.
//
// Between 5 and 95 % it is a 3.4323 V plateau minus the graphite potential of M. Safari and C. Delacourt, J.
// Electrochem. Soc. 158 (2011), at the stoichiometry x = 0.0085 + SOC (0.78 - 0.0085) of Schimpe et al. (2018). Real
// cells lie within about 0.02 V of it. The ends, where the positive electrode matters, are typical rested values:
// 2.75 V empty, 3.40 V full. Hysteresis between charge and discharge is left out.
func openCellV(soc float64) float64 {
	switch {
	case soc < 0.025:
		return 2.75
	case soc > 0.975:
		return 3.40
	}
	x := 0.0085 + soc*(0.78-0.0085)
	graphite := 0.6379 + 0.5416*math.Exp(-305.5309*x) + 0.044*math.Tanh(-(x-0.1958)/0.1088) -
		0.1978*math.Tanh((x-1.0571)/0.0854) - 0.6875*math.Tanh((x+0.0117)/0.0529) -
		0.0175*math.Tanh((x-0.5692)/0.0875)
	return 3.4323 - graphite
}

// Pack makes the bank ready for stepping, behind a cable to the bus of cableOhm, both wires. It panics on a bank that Check refuses, that is not whole or not lithium: our bug.
func (b *Bank) Pack(cableOhm float64) Pack {
	if f := b.Check(); len(f) > 0 || b.Type != Lithium || !b.isWhole() {
		panic(fmt.Sprintf("battery: Pack: %v, %v", b.Type, f))
	}
	p := Pack{
		CapacityAh: b.CapacityAh * b.Health, BankOhm: b.ResistanceOhm, CableOhm: cableOhm, ChargeEff: b.CoulombicEfficiency,
		MaxChargeA: b.MaxChargeA, ChargeV: b.ChargeLimitV(), LeakPerH: -math.Log1p(-b.SelfDischarge) / 730,
		perAh: cells / (b.CapacityAh * b.Health), fifthAh: b.CapacityAh * b.Health / 5, perFifthAh: 5 / (b.CapacityAh * b.Health), halfPerV: 0.5 / (b.preset().cellV * float64(b.cells())),
	}
	if p.BankOhm == 0 {
		p.BankOhm = b.DefaultResistanceOhm()
	}
	p.ResistanceOhm = p.BankOhm + cableOhm
	if p.MaxChargeA == 0 {
		p.MaxChargeA = b.CapacityAh / 2
	}
	for i, soc := range knots {
		p.fromAh[i] = soc * p.CapacityAh
		p.openV[i] = openCellV(soc) * float64(b.cells())
	}
	for i := range nodes {
		wide := p.fromAh[i+1] - p.fromAh[i]
		slope := (p.openV[i+1] - p.openV[i]) / wide
		p.pieces[i] = Piece{p.fromAh[i], p.fromAh[i+1], p.openV[i] - slope*p.fromAh[i], slope}
		p.heldWh[i+1] = p.heldWh[i] + (p.openV[i]+p.openV[i+1])/2*wide
		for c := range cells {
			if mid := (float64(c) + 0.5) / cells; mid > knots[i] && mid < knots[i+1] {
				p.pieceOf[c] = uint8(i)
			}
		}
	}
	return p
}

// Set makes resistance and highest charging current those of a charge and a warmth.
func (p *Pack) Set(chargeAh float64, w *Warmth) {
	p.SetOhm(chargeAh, p.BankOhm*w.OhmFactor)
	p.MaxChargeA = w.MaxChargeA
}

// SetOhm makes the resistance that of a charge, for a bank that has wellOhm when well charged: twice as much when empty as from a
// fifth of the charge up, a guess.
func (p *Pack) SetOhm(chargeAh, wellOhm float64) {
	if chargeAh < p.fifthAh {
		wellOhm *= 2 - chargeAh*p.perFifthAh
	}
	p.ResistanceOhm = wellOhm + p.CableOhm
}

// MidAh is the charge about halfway through a move of wh (at the bus, either sign) that does not go under floorAh, where the
// resistance goes by it.
func (p *Pack) MidAh(chargeAh, wh, floorAh float64) float64 {
	mid := chargeAh + wh*p.halfPerV
	if mid >= p.fifthAh || chargeAh >= p.CapacityAh/2 {
		return p.fifthAh
	}
	if chargeAh <= floorAh { // cut long ago
		floorAh = 0
	}
	return max(mid, (chargeAh+floorAh)/2)
}

// NextLookAh is the charge under chargeAh at which a discharge that is held against a voltage does well to Set again: in
// fortieths of the last fifth, so that the resistance is known within an eightieth.
func (p *Pack) NextLookAh(chargeAh float64) float64 {
	return p.fifthAh * max(0, min(1, math.Ceil(chargeAh*p.perFifthAh*40-1e-6)/40-0.025))
}

// piece is the piece of the voltage curve that holds chargeAh; a charge on a node may belong to either side of it.
func (p *Pack) piece(chargeAh float64) int {
	return int(p.pieceOf[max(0, min(cells-1, int(chargeAh*p.perAh)))])
}

// OpenV is the open-circuit voltage at chargeAh, V.
func (p *Pack) OpenV(chargeAh float64) float64 {
	return p.PieceAt(chargeAh).OpenV(chargeAh)
}

// PieceAt is the piece that holds chargeAh.
func (p *Pack) PieceAt(chargeAh float64) *Piece { return &p.pieces[p.piece(chargeAh)] }

// HeldWh is the energy held at chargeAh: the integral of open-circuit voltage from empty, Wh.
func (p *Pack) HeldWh(chargeAh float64) float64 {
	i := p.piece(chargeAh)
	d := chargeAh - p.fromAh[i]
	return p.heldWh[i] + d*(p.openV[i]+p.pieces[i].slope*d/2)
}

// ChargeAtV is the charge at which the open-circuit voltage reaches v, Ah, within 0..capacity.
func (p *Pack) ChargeAtV(v float64) float64 {
	if v <= p.openV[0] {
		return 0
	}
	for i := range nodes {
		if v < p.openV[i+1] {
			return p.fromAh[i] + (v-p.openV[i])/p.pieces[i].slope
		}
	}
	return p.CapacityAh
}

// meanV is the mean open-circuit voltage over the charge from a to b, V.
func (p *Pack) meanV(a, b float64) float64 {
	if math.Abs(b-a) < 1e-9*p.CapacityAh {
		return p.OpenV((a + b) / 2)
	}
	return (p.HeldWh(b) - p.HeldWh(a)) / (b - a)
}

// currentA is the current at which terminals at openV take powerW, A. It is NaN where the voltage would collapse: more
// asked than openV^2 / 4R.
func (p *Pack) currentA(openV, powerW float64) float64 {
	return 2 * powerW / (openV + math.Sqrt(openV*openV+4*p.ResistanceOhm*powerW))
}

// CurrentA is the current at which the terminals take powerW at chargeAh, A.
func (p *Pack) CurrentA(chargeAh, powerW float64) float64 {
	return p.currentA(p.OpenV(chargeAh), powerW)
}

// BusV is the mean terminal voltage over spanH hours in which a source of steady sourceA and a load of steady loadW
// share the bus with the bank, V: the greater root of V^2 - (E + r sourceA) V + r loadW = 0, with r the resistance
// plus half the rise of E by the charge put in.
func (p *Pack) BusV(chargeAh, sourceA, loadW, spanH float64) float64 {
	r := p.ResistanceOhm + p.PieceAt(chargeAh).slope*spanH/2
	b := p.OpenV(chargeAh) + r*sourceA
	return (b + math.Sqrt(max(0, b*b-4*r*loadW))) / 2
}

// Power holds powerW (W at the terminals, either sign) for spanH hours, whatever the limits.
// Within each straight piece of the voltage curve current is constant, at the mean open-circuit voltage of the
// charge passed through, so that energy is conserved exactly: the discrete-gradient rule. ok is false where the voltage
// would collapse.
func (p *Pack) Power(chargeAh, powerW, spanH float64) (m Move, ok bool) {
	i := p.piece(chargeAh)
	end, amps, openV, heatW, lossW, storeW := p.Within(&p.pieces[i], chargeAh, powerW, spanH)
	if math.IsNaN(end) {
		return p.follow(i, p.eff(powerW), chargeAh, powerW, spanH, math.NaN(), amps)
	}
	return Move{
		SpanH: spanH, EndAh: end, CurrentA: amps, OpenV: openV, PowerW: powerW,
		HeatWh: heatW * spanH, LossWh: lossW * spanH, StoreWh: storeW * spanH,
	}, true
}

// eff is the share of the charge put in that stays.
func (p *Pack) eff(powerW float64) float64 {
	if powerW > 0 {
		return p.ChargeEff
	}
	return 1
}

// Within is the heart of Power: what holding powerW from chargeAh on c for spanH hours does. endAh is the charge held at its end,
// NaN where the way leaves the piece or the voltage would collapse; openV the mean open-circuit voltage; heatW what the resistance
// loses, lossW all that is lost, and storeW what the energy held changes by.
func (p *Pack) Within(c *Piece, chargeAh, powerW, spanH float64) (endAh, amps, openV, heatW, lossW, storeW float64) {
	// The charge of the next step waits for this one's: what does not depend on it is kept out of the way. Mean open
	// voltage = base + lift x current.
	eff := p.eff(powerW)
	leakA := p.LeakPerH * chargeAh
	lift := c.slope * (eff * spanH / 2)
	base := c.zeroV + c.slope*(chargeAh*(1-p.LeakPerH*spanH/2))
	amps = 2 * powerW / (base + math.Sqrt(base*base+(4*powerW)*(p.ResistanceOhm+lift)))
	endAh = chargeAh*(1-p.LeakPerH*spanH) + amps*(eff*spanH)
	if !c.Holds(endAh) {
		endAh = math.NaN()
	}
	openV, heatW = base+lift*amps, p.ResistanceOhm*amps*amps
	return endAh, amps, openV, heatW, heatW + openV*((1-eff)*amps+leakA), openV * (eff*amps - leakA)
}

// PowerTo is Power that ends when the charge comes to stopAh, if it lies on the way: then SpanH is the time used and
// EndAh is stopAh.
func (p *Pack) PowerTo(chargeAh, powerW, spanH, stopAh float64) (m Move, ok bool) {
	eff, i := p.eff(powerW), p.piece(chargeAh)
	return p.follow(i, eff, chargeAh, powerW, spanH, stopAh, p.pieceA(i, eff, chargeAh, powerW, spanH))
}

// pieceA is the current that holds powerW over spanH hours if the voltage curve went on as in piece i, A; NaN where it
// would collapse.
func (p *Pack) pieceA(i int, eff, chargeAh, powerW, spanH float64) float64 {
	base := p.pieces[i].zeroV + p.pieces[i].slope*(chargeAh*(1-p.LeakPerH*spanH/2))
	return 2 * powerW / (base + math.Sqrt(base*base+4*(p.ResistanceOhm+p.pieces[i].slope*eff*spanH/2)*powerW))
}

// follow moves along the voltage curve piece by piece, from piece i with the current amps that would hold there, until
// spanH is over or the charge comes to stopAh (NaN: nowhere).
func (p *Pack) follow(i int, eff, chargeAh, powerW, spanH, stopAh, amps float64) (m Move, ok bool) {
	r := p.ResistanceOhm
	m.PowerW = powerW
	var ampH, voltH float64
	for left := spanH; ; amps = p.pieceA(i, eff, chargeAh, powerW, left) {
		from, to := p.fromAh[i], p.fromAh[i+1]
		leakA := p.LeakPerH * chargeAh
		here := p.pieces[i].zeroV + p.pieces[i].slope*chargeAh
		target := chargeAh + (eff*amps-leakA)*left
		if math.IsNaN(amps) { // the voltage of this piece, drawn on for so long, would collapse: it ends before
			if i == 0 && !(stopAh >= 0 && stopAh <= chargeAh) {
				return Move{}, false
			}
			target = math.Inf(-1)
		}
		next := i
		switch {
		case target < from && i > 0:
			next, target = i-1, from
		case target > to && i < nodes-1:
			next, target = i+1, to
		}
		if stopAh >= chargeAh && stopAh <= target || stopAh <= chargeAh && stopAh >= target {
			next, target = -1, stopAh
		}
		openV, h := here+p.pieces[i].slope*(target-chargeAh)/2, left
		if next != i { // only as far as the target
			if amps = p.currentA(openV, powerW); math.IsNaN(amps) {
				return Move{}, false
			}
			if speed := eff*amps - leakA; speed != 0 {
				h = min(left, max(0, (target-chargeAh)/speed))
			}
		}
		m.HeatWh += r * amps * amps * h
		m.LossWh += (r*amps*amps + openV*((1-eff)*amps+leakA)) * h
		m.StoreWh += openV * (eff*amps - leakA) * h
		ampH += amps * h
		voltH += openV * h
		chargeAh, left = target, left-h
		if next == i || next < 0 || left <= 0 {
			m.SpanH, m.EndAh, m.CurrentA, m.OpenV = spanH-left, chargeAh, amps, openV
			if m.SpanH > 0 {
				m.CurrentA, m.OpenV = ampH/m.SpanH, voltH/m.SpanH
			}
			return m, true
		}
		i = next
	}
}

// UntilCurrent is the time in which a steady charging currentA brings the charge to targetAh, h.
func (p *Pack) UntilCurrent(chargeAh, currentA, targetAh float64) float64 {
	return until(targetAh-chargeAh, p.ChargeEff*currentA-p.LeakPerH*chargeAh)
}

func until(wayAh, speedA float64) float64 {
	if wayAh == 0 {
		return 0
	}
	if h := wayAh / speedA; h > 0 {
		return h
	}
	return math.Inf(1) // the wrong way, or collapse
}

// Current charges with a steady currentA (>= 0) for spanH hours; the caller keeps within full.
func (p *Pack) Current(chargeAh, currentA, spanH float64) Move {
	leakA := p.LeakPerH * chargeAh
	end := chargeAh + (p.ChargeEff*currentA-leakA)*spanH
	v := p.meanV(chargeAh, end)
	return Move{
		SpanH: spanH, EndAh: end, CurrentA: currentA, OpenV: v, PowerW: (v + p.ResistanceOhm*currentA) * currentA,
		HeatWh:  p.ResistanceOhm * currentA * currentA * spanH,
		LossWh:  (p.ResistanceOhm*currentA*currentA + v*((1-p.ChargeEff)*currentA+leakA)) * spanH,
		StoreWh: p.HeldWh(end) - p.HeldWh(chargeAh),
	}
}

// TaperA is the current that the bank takes with its terminals at ChargeV, A; not above 0 where it would give some.
func (p *Pack) TaperA(chargeAh float64) float64 {
	return (p.ChargeV - p.OpenV(chargeAh)) / p.ResistanceOhm
}

// Hold keeps the charge as it is for spanH hours: the current makes up for self-discharge.
func (p *Pack) Hold(chargeAh, spanH float64) Move {
	amps, v, powerW, lossW := p.Rest(chargeAh)
	return Move{
		SpanH: spanH, EndAh: chargeAh, CurrentA: amps, OpenV: v, PowerW: powerW,
		HeatWh: p.ResistanceOhm * amps * amps * spanH, LossWh: lossW * spanH,
	}
}

// Rest is what Hold takes: the current, at the open-circuit voltage openV, its power at the terminals, and of it what is lost.
func (p *Pack) Rest(chargeAh float64) (amps, openV, powerW, lossW float64) {
	leakA := p.LeakPerH * chargeAh
	amps, openV = leakA/p.ChargeEff, p.OpenV(chargeAh)
	return amps, openV, (openV + p.ResistanceOhm*amps) * amps, p.ResistanceOhm*amps*amps + openV*((1-p.ChargeEff)*amps+leakA)
}

// Taper charges with the terminals at ChargeV for at most spanH hours, to stopAh or the end of the segment of the voltage
// curve at the furthest: the caller goes on from there. The current decays in closed form, since the open-circuit voltage is
// linear in charge: time constant R / (slope x coulombic efficiency).
func (p *Pack) Taper(chargeAh, spanH, stopAh float64) Move {
	i := p.piece(chargeAh)
	top := p.fromAh[i+1]
	if top-chargeAh < 1e-12*p.CapacityAh && i+1 < nodes { // on the node, but for rounding
		i, top = i+1, p.fromAh[i+2]
	}
	top = min(top, stopAh)
	leakA := p.LeakPerH * chargeAh
	r, eff := p.ResistanceOhm, p.ChargeEff
	still := leakA / eff // the current that only holds
	start := p.TaperA(chargeAh)
	if start <= still {
		return p.Hold(chargeAh, spanH)
	}
	tau := r / (p.pieces[i].slope * eff)
	gone := -math.Expm1(-spanH / tau) // share of the decay that is over
	end := chargeAh + eff*(start-still)*tau*gone
	if end >= top {
		end = top
		gone = max(0, top-chargeAh) / (eff * (start - still) * tau)
		spanH = -tau * math.Log1p(-gone)
	}
	over := start - still
	ah := still*spanH + over*tau*gone
	sqAh := still*still*spanH + 2*still*over*tau*gone + over*over*tau/2*gone*(2-gone) // integral of current squared
	inWh, heatWh := p.ChargeV*ah, r*sqAh
	m := Move{
		SpanH: spanH, EndAh: end, HeatWh: heatWh,
		LossWh:  heatWh + (1-eff)*(inWh-heatWh) + leakA*(p.ChargeV*spanH-r*ah),
		StoreWh: p.HeldWh(end) - p.HeldWh(chargeAh),
	}
	if spanH > 0 {
		m.CurrentA, m.PowerW = ah/spanH, inWh/spanH
		m.OpenV = p.ChargeV - r*m.CurrentA
	}
	return m
}
