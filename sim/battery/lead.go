package battery

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/interp"
)

// Wells is the charge of a lead-acid bank, Ah: what can be drawn at once, and what must first flow to it.
type Wells struct{ AvailableAh, BoundAh float64 }

// Ah is the charge of both.
func (w Wells) Ah() float64 { return w.AvailableAh + w.BoundAh }

// Lead is a lead-acid Bank made ready for stepping: two wells of charge, of which one alone meets the terminals.
//
// With c the available well's share of the capacity Q, its fill h1 = AvailableAh / (c Q) and the other's h2, charge flows
// to it at k c (1-c) Q (h2 - h1): the only place where the rate of a discharge changes what can be taken. Open-circuit
// voltage is linear in the fill of a well, from EmptyV to FullV, and the energy held is its integral over the charge
// of both; what flows from the higher well to the lower gives up the difference, which is the kinetic loss.
//
// Discharging, the terminals lie below the open-circuit voltage of the available well by the current times ohmic
// resistance x (1/2 + 1/(2 h1)). Charging, they lie above it such that at the reference voltage a bank accepts the current
// AcceptPerH x rated capacity x (1 - h1), and less in proportion at a lower voltage. The shape of both is a guess: it
// puts the end of a 10 h discharge near the usual 10.8 V for 12 V, and the start of absorption at 70 to 85 % of charge.
// Source of the wells: J. F. Manwell, J. G. McGowan, "Lead acid battery storage model for hybrid energy systems", Solar
// Energy 50 (1993) 399-405 (equations from memory). Self-discharge leaves through the available well.
type Lead struct {
	CapacityAh  float64 // Q: of both wells, drawn very slowly, at 25 C, now
	RatedAh     float64 // in 20 h, now
	Share       float64 // c
	RatePerH    float64 // k
	EmptyV      float64 // open-circuit
	FullV       float64
	Ohm         float64 // of the bank, full, at 25 C
	CableOhm    float64 // to the bus
	ChargeEff   float64 // coulombic, before gassing
	MaxChargeA  float64
	AcceptPerH  float64
	ReferenceV  float64 // at which AcceptPerH holds
	fullAh      float64 // of the available well
	perFull     float64 // 1/fullAh
	perBound    float64 // 1/boundFullAh
	perMidV     float64 // 1/(open-circuit voltage half full)
	perCapacity float64 // 1/CapacityAh
	boundFullAh float64 // of the other
	swing       float64 // FullV - EmptyV
	half, half2 float64 // voltage for each Ah in a well, halved
	in, out     float64 // flow into the available well and out of the other for each unfilled share, 1/h
	perOut      float64 // 1/out
	stepH       float64 // the span whose decay is known
	stepDecay   float64
	stepPerA    float64
	acceptScale float64 // AcceptPerH x RatedAh, A
	perAccept   float64 // 1/acceptScale
	perI10      float64 // over the current of 10 h
}

// LeadMove is what a stretch of time did to a lead-acid bank.
type LeadMove struct {
	SpanH      float64
	End        Wells
	CurrentA   float64 // mean, at the terminals
	TerminalV  float64 // mean by charge passed, at the bank, without the cable
	PowerW     float64 // mean at the bus
	WireWh     float64 // in the cable
	LossWh     float64 // in the bank: resistance, gassing, self-discharge, flow between the wells
	StoreWh    float64
	EndCurrent float64 // A, at the end
}

// Lead makes the bank ready for stepping with spans that are mostly stepH long, behind a cable of cableOhm, both wires.
// It panics on a bank that Check refuses, that is not whole or not lead-acid: our bug.
func (b *Bank) Lead(cableOhm, stepH float64) Lead {
	if f := b.Check(); len(f) > 0 || b.Type == Lithium || !b.isWhole() {
		panic(fmt.Sprintf("battery: Lead: %v, %v", b.Type, f))
	}
	cells := float64(b.cells())
	l := Lead{
		RatedAh: b.CapacityAh * b.Health, Ohm: b.ResistanceOhm, CableOhm: cableOhm, ChargeEff: b.CoulombicEfficiency,
		MaxChargeA: b.MaxChargeA, AcceptPerH: b.AcceptancePerH, ReferenceV: b.ChargeLimitV(),
		EmptyV: b.preset().emptyCellV * cells, FullV: b.preset().fullCellV * cells, stepH: stepH,
	}
	ratio5, ratio100 := b.rates()
	if l.AcceptPerH == 0 {
		l.AcceptPerH = b.preset().acceptance
	}
	l.Share, l.RatePerH, _ = FitWells(ratio5, ratio100)
	l.CapacityAh = l.RatedAh / WellsAt(l.Share, l.RatePerH, 20)
	if l.Ohm == 0 {
		l.Ohm = b.DefaultResistanceOhm()
	}
	if l.MaxChargeA == 0 {
		l.MaxChargeA = b.CapacityAh * b.preset().chargeRate
	}
	l.fullAh, l.swing, l.acceptScale = l.Share*l.CapacityAh, l.FullV-l.EmptyV, l.AcceptPerH*l.RatedAh
	l.perCapacity, l.perFull, l.boundFullAh, l.perAccept, l.perI10 = 1/l.CapacityAh, 1/l.fullAh, l.CapacityAh-l.fullAh, 1/l.acceptScale, 1/(0.091*l.RatedAh)
	l.perBound, l.perMidV = 1/l.boundFullAh, 2/(l.EmptyV+l.FullV)
	l.half, l.half2 = l.swing/(2*l.fullAh), l.swing/(2*l.boundFullAh)
	l.in, l.out = l.RatePerH*(1-l.Share), l.RatePerH*l.Share
	l.perOut = 1 / l.out
	l.stepDecay = math.Exp(-l.RatePerH * stepH)
	l.stepPerA = l.perA(stepH, l.stepDecay)
	return l
}

// WellsAt is the share of the capacity that a steady discharge from full gives in hours h, until the available well is
// empty, for an available share c and a rate k (1/h): k c h / (1 - e + c (k h - 1 + e)), e = exp(-k h).
func WellsAt(c, k, h float64) float64 {
	e := math.Exp(-k * h)
	return k * c * h / (1 - e + c*(k*h-1+e))
}

// FitWells finds the wells from the capacity in 5 h and in 100 h over that in 20 h. ok is false where no wells have such
// capacities; then it returns those of DefaultWells.
func FitWells(ratio5, ratio100 float64) (c, k float64, ok bool) {
	// c from the ratio f of the capacities at t1 and t2 for a given k, in the form of Manwell and McGowan.
	from := func(f, t1, t2, k float64) float64 {
		a, b := -math.Expm1(-k*t1), -math.Expm1(-k*t2)
		return (f*a*t2 - b*t1) / (f*a*t2 - b*t1 - k*f*t1*t2 + k*t1*t2)
	}
	gap := func(k float64) float64 { return from(ratio5, 5, 20, k) - from(ratio100, 100, 20, k) }
	// The fits of real banks lie within these; the gap changes sign where all three capacities are met.
	last, lastGap := 0.0, math.NaN()
	for k := 1e-3; k < 20; k *= 1.1 {
		g := gap(k)
		if lastGap*g <= 0 && math.Abs(lastGap-g) < 1 { // no pole lies between
			lo, hi := last, k
			for range 60 {
				mid := (lo + hi) / 2
				if gap(mid)*lastGap > 0 {
					lo = mid
				} else {
					hi = mid
				}
			}
			if c := from(ratio5, 5, 20, lo); c > 0.02 && c < 0.98 {
				return c, lo, true
			}
		}
		last, lastGap = k, g
	}
	return 0.6064271, 0.2238298, false
}

// Full is the bank's state when full.
func (l *Lead) Full(soc float64) Wells {
	return Wells{soc * l.fullAh, soc * (l.CapacityAh - l.fullAh)}
}

// Head is the fill of the available well, 0..1.
func (l *Lead) Head(w Wells) float64 { return w.AvailableAh * l.perFull }

// SOC is the charge of both wells over the capacity, 0..1.
func (l *Lead) SOC(w Wells) float64 { return w.Ah() * l.perCapacity }

// OpenV is the open-circuit voltage at the available well's fill, V.
func (l *Lead) OpenV(head float64) float64 { return l.EmptyV + l.swing*head }

// HeldWh is the energy held.
func (l *Lead) HeldWh(w Wells) float64 {
	return w.AvailableAh*(l.EmptyV+l.half*w.AvailableAh) + w.BoundAh*(l.EmptyV+l.half2*w.BoundAh)
}

// leastHead is the fill under which the resistance rises no more.
const leastHead = 0.05

// drainOhm is the resistance while discharging.
func (l *Lead) drainOhm(head float64, t *Warmth) float64 {
	return l.Ohm * t.OhmFactor * (0.5 + 0.5/max(head, leastHead))
}

// acceptA is the current that the terminals take at volts, by the fill of the available well, per unfilled share of it.
func (l *Lead) acceptA(head, volts float64, t *Warmth) float64 {
	v := l.OpenV(head)
	return l.acceptScale * max(0, volts-v) / (t.ChargeFactor * (l.ReferenceV - v))
}

// TakesA is the current that a bank held at volts takes, A.
func (l *Lead) TakesA(w Wells, volts float64, t *Warmth) float64 {
	h := l.Head(w)
	return l.acceptA(h, volts, t) * max(0, 1-h)
}

// chargeOhm is the slope of the terminal voltage with the charging current.
func (l *Lead) chargeOhm(head float64, t *Warmth) float64 {
	return (l.ReferenceV - l.OpenV(head)) * t.ChargeFactor * l.perAccept / max(1-head, 1e-6)
}

// meanChargeOhm is its mean on a way between two fills: of (a + b u)/u for what is unfilled, u.
func (l *Lead) meanChargeOhm(from, to float64, t *Warmth) float64 {
	u0, u1 := max(1-from, 1e-6), max(1-to, 1e-6)
	// The mean of 1/u is 2/(u0 + u1) times atanh(r)/r, r = (u0 - u1)/(u0 + u1): the quotient is its Pade approximant in r^2, to within 2e-4.
	sum2, gap2 := (u0+u1)*(u0+u1), (u0-u1)*(u0-u1)
	perU := 2 * (sum2*(945*sum2-735*gap2) + 64*gap2*gap2) / ((u0 + u1) * (sum2*(945*sum2-1050*gap2) + 225*gap2*gap2))
	if gap2 > sum2/2 {
		perU = math.Log(u0/u1) / (u0 - u1)
	}
	return ((l.ReferenceV-l.FullV)*perU + l.swing) * t.ChargeFactor * l.perAccept
}

// gasPerSOC is how fast gassing rises with the charge.
const gasPerSOC = 20.73

// keeps is the share of a charging current that stays as charge. Gassing takes the rest near full: J. B. Copetti, E.
// Lorenzo, F. Chenlo, "A general battery model for PV system simulation", Prog. Photovolt. 1 (1993) 283-292, from memory:
// 1 - exp(20.73 (SOC - 1) / (I / I10 + 0.55)), here never below 0.02. I10 is taken as a tenth of 0.91 of the 20 h capacity.
//
// Beyond 0.95 it is not published and tells too much: with 100 Ah at 25 C and three hours of absorption a day 1.09 (gel) to 1.12 (AGM)
// of what was drawn goes in at half of the capacity a day, but 1.39 (flooded) to 1.49 (AGM) at a fifth, where the trade (from memory)
// says 1.1 for sealed cells and 1.2 for flooded ones.
//
// It is the mean of a way from a state of charge up by gain: that of an exponential is its middle's times sinh(x)/x.
func (l *Lead) keeps(soc, gain, amps float64) float64 {
	a, b := l.gasses(soc+gain/2, amps)
	x := gasPerSOC / 2 * gain / b
	x *= x
	return l.ChargeEff * max(0.02, 1-exp(-a/b)*(1+x/6*(1+x/20)))
}

// gasses is the exponent of keeps, negated, as a quotient.
func (l *Lead) gasses(soc, amps float64) (a, b float64) {
	return gasPerSOC * (1 - min(soc, 1)), amps*l.perI10 + 0.55
}

// keepsFrom is keeps over a way of spanH hours that begins at soc. As the way goes by what is kept, it is a root: of
// k = 1 - e (exp(2 y k) - 1)/(2 y k), found by the tangent at k = 0, and a turn more, to within 0.01.
func (l *Lead) keepsFrom(soc, amps, spanH float64) float64 {
	a, b := l.gasses(soc, amps)
	e := exp(-a / b)
	y := gasPerSOC / b * l.ChargeEff * amps * spanH / 2 * l.perCapacity
	y *= (1 - e) / (1 + e*y)
	return l.ChargeEff * max(0.02, 1-e*(1+y*(1+2*y/3*(1+y/2*(1+2*y/5)))))
}

// drift is where the available well stands after h hours without current, and what each net ampere of charge adds.
func (l *Lead) drift(w Wells, h float64) (stillAh, perA float64) {
	e, perA := l.stepDecay, l.stepPerA
	if h != l.stepH {
		e = math.Exp(-l.RatePerH * h)
		perA = l.perA(h, e)
	}
	return w.AvailableAh*e + w.Ah()*l.Share*(1-e), perA
}

// perA is that of drift, with the decay e.
func (l *Lead) perA(h, e float64) float64 {
	return (1 - e + l.Share*(l.RatePerH*h-1+e)) / l.RatePerH
}

// settle fills a move that put ampH through the terminals, inWh of energy at the bank, kept as keeps of it.
func (l *Lead) settle(m *LeadMove, w Wells, end, ampH, inWh, keeps, leakAh float64) {
	netAh := keeps*ampH - leakAh
	flowAh := end - w.AvailableAh - netAh // from the bound well
	m.End = Wells{end, w.BoundAh - flowAh}
	v1 := l.EmptyV + l.half*(w.AvailableAh+end)
	v2 := l.EmptyV + l.half2*(w.BoundAh+m.End.BoundAh)
	m.LossWh = inWh - ampH*v1 + ((1-keeps)*ampH+leakAh)*v1 + (v2-v1)*flowAh
	m.StoreWh = v1*(netAh+flowAh) - v2*flowAh
}

// Power fills m with holding powerW (at the bus, either sign) for spanH hours, whatever the limits. Current is constant, at the mean
// open-circuit voltage of the way, so that energy is conserved exactly. ok is false where the voltage would collapse.
func (l *Lead) Power(m *LeadMove, w Wells, powerW, spanH float64, t *Warmth) (ok bool) {
	still, perA := l.drift(w, spanH)
	leakA := t.LeakPerH * w.Ah()
	base := l.EmptyV + l.half*(w.AvailableAh+still-perA*leakA)
	h0 := w.AvailableAh * l.perFull
	if powerW <= 0 {
		h1 := (still + perA*powerW*l.perMidV) * l.perFull
		ohm := l.drainOhm((h0+h1)/2, t)
		if math.Abs(h0-h1) > 0.2*h0 { // it rises steeply towards the end
			ohm = (l.drainOhm(h0, t) + 4*ohm + l.drainOhm(h1, t)) / 6
		}
		root := base*base + 4*powerW*(ohm+l.CableOhm+l.half*perA)
		if root < 0 {
			*m = LeadMove{}
			return false
		}
		amps := 2 * powerW / (base + math.Sqrt(root))
		l.steady(m, w, amps, 1, ohm, still, perA, leakA, spanH)
		return true
	}
	// Resistance and gassing follow from the current, and it from them: mostly one turn from about the current at the start is enough.
	amps, keeps, ohm := powerW/(l.OpenV(h0)+(l.chargeOhm(h0, t)+l.CableOhm)*powerW*l.perMidV), 0.0, 0.0
	for range 3 {
		was := amps
		keeps = l.keepsFrom(l.SOC(w), amps, spanH)
		ohm = l.meanChargeOhm(h0, (still+perA*(keeps*amps-leakA))*l.perFull, t)
		amps = 2 * powerW / (base + math.Sqrt(base*base+4*powerW*(ohm+l.CableOhm+l.half*perA*keeps)))
		if math.Abs(amps-was) < 0.03*amps {
			break
		}
	}
	l.steady(m, w, amps, keeps, ohm, still, perA, leakA, spanH)
	return true
}

// BusV is about the mean voltage at the bus while amps (either sign) flow for spanH hours, V.
func (l *Lead) BusV(w Wells, amps, spanH float64, t *Warmth) float64 {
	keeps := 1.0
	if amps > 0 {
		keeps = l.ChargeEff * (1 - roughExp(l.gasses(l.SOC(w), amps)))
	}
	still, perA := l.drift(w, spanH)
	h := (l.Head(w) + max(0, min(1, (still+perA*(keeps*amps-t.LeakPerH*w.Ah()))*l.perFull))) / 2
	if amps < 0 {
		return l.OpenV(h) + (l.drainOhm(h, t)+l.CableOhm)*amps
	}
	return l.OpenV(h) + (l.chargeOhm(h, t)+l.CableOhm)*amps
}

// Current fills m with holding a steady current amps >= 0 for spanH hours.
func (l *Lead) Current(m *LeadMove, w Wells, amps, spanH float64, t *Warmth) {
	still, perA := l.drift(w, spanH)
	leakA := t.LeakPerH * w.Ah()
	keeps := l.keepsFrom(l.SOC(w), amps, spanH)
	ohm := l.meanChargeOhm(w.AvailableAh*l.perFull, (still+perA*(keeps*amps-leakA))*l.perFull, t)
	l.steady(m, w, amps, keeps, ohm, still, perA, leakA, spanH)
}

func (l *Lead) steady(m *LeadMove, w Wells, amps, keeps, ohm, still, perA, leakA, spanH float64) {
	end := still + perA*(keeps*amps-leakA)
	v := l.EmptyV + l.half*(w.AvailableAh+end) + ohm*amps
	l.settle(m, w, end, amps*spanH, v*amps*spanH, keeps, leakA*spanH)
	m.SpanH, m.CurrentA, m.EndCurrent, m.TerminalV = spanH, amps, amps, v
	m.WireWh = l.CableOhm * amps * amps * spanH
	m.PowerW = (v + l.CableOhm*amps) * amps
}

// Hold fills m with keeping the terminals at volts for spanH hours: the current decays in closed form, as charge fills the available well
// and flows on from it. The share that gassing takes is that of the middle of the way, which is found beforehand without
// exponentials.
func (l *Lead) Hold(m *LeadMove, w Wells, volts, spanH float64, t *Warmth) {
	q1, q2 := l.fullAh, l.boundFullAh
	u, v := 1-w.AvailableAh*l.perFull, 1-w.BoundAh*l.perBound // unfilled
	perU := l.acceptA(1-u, volts, t)
	if perU <= 0 {
		l.Current(m, w, 0, spanH, t)
		return
	}
	leakA, soc := t.LeakPerH*w.Ah(), l.SOC(w)
	keeps := l.ChargeEff * max(0.02, 1-roughExp(l.gasses(soc, perU*max(0, u))))
	u1, v1 := l.roughDecay(u, v, keeps*perU*l.perFull, spanH)
	keptAh := max(0, q1*(u-u1)+q2*(v-v1)) // what both wells gain
	keeps = l.keeps(soc, (keptAh-leakA*spanH)*l.perCapacity, keptAh/(keeps*spanH))
	if perU = l.acceptA(1-(u+u1)/2, volts, t); perU <= 0 {
		l.Current(m, w, 0, spanH, t)
		return
	}
	rest := leakA / (keeps * perU) // unfilled for good: what leaks is made up
	fast, slow := l.rates(keeps * perU * l.perFull)
	u1, v1 = l.decay(u-rest, v-rest, fast, slow, exp(fast*spanH), exp(slow*spanH))
	u1, v1 = u1+rest, v1+rest
	ampH := (q1*(u-u1) + q2*(v-v1) + leakA*spanH) / keeps
	if ampH < 0 {
		l.Current(m, w, 0, spanH, t)
		return
	}
	l.settle(m, w, q1*(1-u1), ampH, volts*ampH, keeps, leakA*spanH)
	m.SpanH, m.CurrentA, m.EndCurrent, m.TerminalV = spanH, ampH/spanH, l.acceptA(1-u1, volts, t)*max(0, u1), volts
	m.WireWh = l.CableOhm * m.CurrentA * m.CurrentA * spanH
	m.PowerW = (volts + l.CableOhm*m.CurrentA) * m.CurrentA
}

// HoldH is for how long a hold that begins with takesA is reckoned in one go, of spanH: until about 15 % of the capacity went in.
func (l *Lead) HoldH(takesA, spanH float64) float64 {
	if most := 0.15 * l.CapacityAh; takesA*spanH > most {
		return most / takesA
	}
	return spanH
}

// roughExp is exp(-a/b) for a >= 0 and b > 0 to within 0.01.
func roughExp(a, b float64) float64 {
	b4 := b * b * b * b
	return b4 / (b4 + a*(b*b*b+a/2*(b*b+a/3*(b+a/4))))
}

// exp is math.Exp(x) for x <= 0 to within a few 1e-7 of it, in less time.
func exp(x float64) float64 {
	if !(x > -4) {
		return math.Exp(x)
	}
	y := x / 16
	y2 := y * y
	e := 1 + y + y2*(1.0/2+y*(1.0/6)+y2*(1.0/24+y*(1.0/120)+y2*(1.0/720)))
	e *= e
	e *= e
	e *= e
	return e * e
}

// rates are those, 1/h, at which two wells settle of which the available one fills by the share a of what it lacks in an hour.
func (l *Lead) rates(a float64) (fast, slow float64) {
	sum := a + l.in + l.out
	root := sum + math.Sqrt(sum*sum-4*a*l.out)
	return -root / 2, -2 * a * l.out / root
}

// roughDecay is decay to within a few hundredths: of the inverse of 1 + h K + (h K)^2 / 2, where K is the matrix of the two equations.
func (l *Lead) roughDecay(u, v, a, h float64) (u1, v1 float64) {
	k11, k12, k21, k22 := (a+l.in)*h, -l.in*h, -l.out*h, l.out*h
	m11, m12 := 1+k11+(k11*k11+k12*k21)/2, k12+(k11*k12+k12*k22)/2
	m21, m22 := k21+(k21*k11+k22*k21)/2, 1+k22+(k21*k12+k22*k22)/2
	perDet := 1 / (m11*m22 - m12*m21)
	return (m22*u - m12*v) * perDet, (m11*v - m21*u) * perDet
}

// decay solves u' = -(a + b) u + b v, v' = d (u - v), with b and d the flow between the wells, for the rates of a and what an
// exponential of each has come down to.
func (l *Lead) decay(u, v, fast, slow, ef, es float64) (u1, v1 float64) {
	// v = A e^slow + B e^fast, and v' = d (u - v) gives u.
	B := (l.out*(u-v) - slow*v) / (fast - slow)
	A := v - B
	v1 = A*es + B*ef
	return (A*slow*es+B*fast*ef)*l.perOut + v1, v1
}

// ChargeW is the power at the bus that a charging current needs there, W.
func (l *Lead) ChargeW(w Wells, amps float64, t *Warmth) float64 {
	h := l.Head(w)
	return (l.OpenV(h) + (l.chargeOhm(h, t)+l.CableOhm)*amps) * amps
}

// AmpsAt is the current of a power at the bus, either sign, while the terminals are at volts.
func (l *Lead) AmpsAt(powerW, volts float64) float64 {
	if l.CableOhm == 0 {
		return powerW / volts
	}
	return 2 * powerW / (volts + math.Sqrt(max(0, volts*volts+4*l.CableOhm*powerW)))
}

// Spare is the share of the power that the bank could give at most at a fill which powerW (< 0, at the bus) leaves, where
// that may run out; below 0 its voltage collapses.
func (l *Lead) Spare(head, powerW float64, t *Warmth) float64 {
	if v := l.EmptyV; v*v+4*powerW*(l.drainOhm(0, t)+l.CableOhm) > 0 {
		return 1 // it never does
	}
	v := l.OpenV(head)
	return 1 + 4*powerW*(l.drainOhm(head, t)+l.CableOhm)/(v*v)
}

// StopHead is the fill of the available well at which a discharge of powerW (< 0, at the bus) pulls the terminals down to
// volts, 0 or above: with the current I constant there, E + S h - I R (1/2 + 1/(2h)) = V is a quadratic in h, until the resistance
// stands still.
func (l *Lead) StopHead(powerW, volts float64, t *Warmth) float64 {
	amps := -l.AmpsAt(powerW, volts)
	a := amps * l.Ohm * t.OhmFactor / 2
	b := l.EmptyV - volts - a
	if h := (-b + math.Sqrt(b*b+4*l.swing*a)) / (2 * l.swing); h > leastHead {
		return h
	}
	return max(0, (a*(1+1/leastHead)+volts-l.EmptyV)/l.swing)
}

// The share of its 20 h capacity that a lead-acid bank gives at a temperature, C, base 25 C: the 20 h column of the table in
// A. King, W. Knight, "Uninterruptible Power Supplies and Standby Power Systems", McGraw-Hill, p. 199.
var (
	leadC     = []float64{-9.4, -6.7, -3.9, -1.1, 1.7, 4.4, 7.2, 10.0, 12.8, 15.6, 18.3, 21.1, 25.0}
	leadShare = []float64{0.735, 0.765, 0.790, 0.815, 0.840, 0.865, 0.890, 0.910, 0.930, 0.950, 0.965, 0.980, 1.000}
)

// LeadColdShare is that share at tempC, 0.4..1: warmth above 25 C is not credited, and below -9.4 C the table is carried on
// at its last slope.
func LeadColdShare(tempC float64) float64 {
	switch {
	case tempC >= 25:
		return 1
	case tempC < leadC[0]:
		return max(0.4, leadShare[0]+(tempC-leadC[0])*(leadShare[1]-leadShare[0])/(leadC[1]-leadC[0]))
	}
	var table interp.PiecewiseLinear
	if err := table.Fit(leadC, leadShare); err != nil {
		panic("battery: LeadColdShare: " + err.Error())
	}
	return table.Predict(tempC)
}

// GivesShare is the share of the rated 20 h energy that comes out at a steady draw of powerW at the bus, half full: what the
// wells give at that rate, at most all, less what resistance takes.
func (l *Lead) GivesShare(powerW float64) float64 {
	volts := l.OpenV(0.5)
	amps := powerW / volts
	if amps <= 0 {
		return 1
	}
	shortH, longH := 1e-3, 1e5 // of the discharge; the current falls with it
	for range 80 {
		mid := math.Sqrt(shortH * longH)
		if l.CapacityAh*WellsAt(l.Share, l.RatePerH, mid)/mid > amps {
			shortH = mid
		} else {
			longH = mid
		}
	}
	gives := min(1, l.CapacityAh*WellsAt(l.Share, l.RatePerH, shortH)/l.RatedAh)
	return gives * max(0, 1-(l.Ohm*1.5+l.CableOhm)*amps/volts)
}

// FreezesC is the temperature at which the acid of a lead-acid bank freezes at a state of charge, C. Sources disagree; the
// cautious of them: about 0 C flat and -20 C half full (trade reports), -37 C at 75 % and -57 C full (acid tables, from
// memory), straight between.
func FreezesC(soc float64) float64 {
	switch {
	case soc < 0.5:
		return -40 * max(0, soc)
	case soc < 0.75:
		return -20 - 68*(soc-0.5)
	}
	return -37 - 80*(min(1, soc)-0.75)
}
