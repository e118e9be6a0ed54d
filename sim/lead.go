package sim

import (
	"math"

	"tideover/sim/battery"
)

// lowTol is how near to a level a lead-acid bank counts as at it, share of the capacity.
const lowTol = 1e-9

// overTol is half of how far a charge may go over its limit before it changes to the next, share of a current, voltage or power.
const overTol = 1e-5

// wells is the charge of a lead-acid bank.
func (s *State) wells() battery.Wells {
	return battery.Wells{AvailableAh: s.AvailableAh, BoundAh: s.ChargeAh - s.AvailableAh}
}

// fromLead takes over a lead-acid bank's move.
func (fl *flow) fromLead(m *battery.LeadMove) {
	fl.move = battery.Move{SpanH: m.SpanH, EndAh: m.End.Ah(), CurrentA: m.CurrentA, PowerW: m.PowerW, LossWh: m.LossWh, StoreWh: m.StoreWh}
	fl.availableAh, fl.wireWh, fl.bankV = m.End.AvailableAh, m.WireWh, m.TerminalV
	fl.busV = busV(m)
}

// busV is the mean voltage of the bus, V.
func busV(m *battery.LeadMove) float64 {
	if m.WireWh > 0 {
		return m.PowerW / m.CurrentA
	}
	return m.TerminalV
}

// stopHead is the fill of the available well at which a discharge of powerW (< 0) has the loads cut.
func (p *Plant) stopHead(t *battery.Warmth, powerW float64) float64 {
	if v := p.bank.DisconnectV; v > 0 {
		return max(t.FloorHead, p.lead.StopHead(powerW, v, t))
	}
	return t.FloorHead
}

// inputHead is the fill at which the coincident draw pulls the inverter's input, beyond the cable, to its cut-off.
func (p *Plant) inputHead(in *step, t *battery.Warmth) float64 {
	peakW, cutV := float64(in.peakW), float64(in.cutV)
	return p.lead.StopHead(-peakW, cutV+p.lead.CableOhm*peakW/cutV, t)
}

// backHead is the fill of the available well at which loads that were cut may come back.
func (p *Plant) backHead(t *battery.Warmth) float64 {
	return min(t.FloorHead+p.bank.ReconnectSOC-p.bank.DisconnectSOC, 0.999)
}

// lowGap is how far the bank is above the level at which a discharge of powerW (< 0) has the loads cut, share of the capacity.
func (p *Plant) lowGap(w battery.Wells, t *battery.Warmth, powerW float64) float64 {
	return min(p.lead.SOC(w)-p.bank.DisconnectSOC, p.lead.Head(w)-p.stopHead(t, powerW))
}

// leadBus is bus for a lead-acid bank. Limits that a move crosses are found by closing in on them.
func (p *Plant) leadBus(fl *flow, t *battery.Warmth, st *State, rawW, loadW, spanH float64, anyA bool) bool {
	w := st.wells()
	if (st.Asleep || w.AvailableAh <= lowTol*p.capAh) && rawW < loadW {
		if st.Off {
			p.sleep(fl, st, t, spanH)
		} else {
			fl.move.PowerW = -1 // the caller cuts
		}
		return true
	}
	outW, overA := rawW, p.maxOutA
	if anyA {
		overA = math.Inf(1)
	}
	for pass := 0; ; pass++ {
		var ok bool
		fl.outW = outW
		if outW < loadW {
			ok = p.leadDischarge(fl, t, st, w, outW-loadW, spanH)
		} else {
			var m battery.LeadMove
			p.leadCharge(&m, fl, t, st, w, outW, loadW, spanH)
			fl.fromLead(&m)
			ok = true
		}
		if !ok {
			return false
		}
		most := min(rawW, overA*fl.busV)
		if most >= fl.outW-1e-9*rawW || pass == 5 || fl.asleep || fl.busV <= 0 {
			break
		}
		if fl.outW > loadW && most < loadW {
			most = loadW // charging lifts the voltage: is it enough where the bank does nothing?
		}
		outW = most
		*fl = flow{odd: true}
	}
	// The rating comes before what the bank leaves.
	mayW := fl.outW
	if outW >= loadW {
		mayW = min(rawW, max(overA*fl.busV, fl.outW))
	}
	if (mayW < rawW || outW < rawW) && !fl.asleep {
		fl.barredW = min(fl.barredW, mayW-fl.outW)
		fl.clippedW, fl.curtailedW, fl.odd = rawW-mayW, mayW-fl.outW-fl.barredW, true
	}
	return true
}

// leadDischarge fills fl with a discharge of powerW (< 0 at the bus) for spanH hours, or until a level is crossed.
func (p *Plant) leadDischarge(fl *flow, t *battery.Warmth, st *State, w battery.Wells, powerW, spanH float64) bool {
	l := p.lead
	var m battery.LeadMove
	ok := l.Power(&m, w, powerW, spanH, t)
	// The voltage holds for a while yet, unless it would collapse at once; and where the ready part falls by more than half, its
	// resistance and voltage are not those of one mean.
	for head := l.Head(w); !ok || head > 0.05 && l.Head(m.End) < head/2 && spanH > 1.0/60; {
		if spanH /= 2; spanH < 1e-6 {
			return false
		}
		ok = l.Power(&m, w, powerW, spanH, t)
	}
	stop := 0.0
	if !st.Off {
		stop = p.stopHead(t, powerW)
	}
	waits := st.Off && !p.leadBack(w, t)
	gap := func(w battery.Wells) float64 {
		head, soc := l.Head(w), l.SOC(w)
		g := head
		switch {
		case !st.Off:
			g = min(soc-p.bank.DisconnectSOC, head-stop, l.Spare(head, powerW, t))
			if p.pauseHead > 0 {
				g = min(g, head-p.pauseHead)
			}
		case waits: // charge that flows to the terminals may bring the loads back
			g = min(g, p.backGap(w, t))
		}
		if p.pauseDownAh > 0 { // a backup starts for controller and box too
			g = min(g, soc-p.pauseDownAh/p.capAh)
		}
		return g
	}
	if gap(m.End) < 0 {
		start := gap(w)
		if start <= lowTol { // the caller cuts, or goes on from a pause
			if !st.Off && l.Spare(l.Head(w), powerW, t) <= lowTol {
				return false
			}
			if st.Off && l.Head(w) <= lowTol || !st.Off && p.lowGap(w, t, powerW) <= lowTol {
				fl.move.PowerW = powerW
				if st.Off {
					p.sleep(fl, st, t, spanH)
				}
				return true
			}
		} else {
			h := closeIn(spanH, start, gap(m.End), lowTol/10, 1e-12*spanH, func(h float64) float64 {
				l.Power(&m, w, powerW, h, t)
				return gap(m.End)
			})
			l.Power(&m, w, powerW, h, t)
			if !st.Off && p.lowGap(m.End, t, powerW) <= 1e3*lowTol {
				fl.cut, fl.odd = true, true
			}
		}
	}
	fl.fromLead(&m)
	return true
}

// heldV is the voltage of the charging stage, V.
func heldV(st *State, t *battery.Warmth) float64 {
	if st.Float {
		return t.FloatV
	}
	return t.ChargeV
}

// leadCharge fills m with what the bank accepts of outW - loadW, and fl with what becomes of outW.
func (p *Plant) leadCharge(m *battery.LeadMove, fl *flow, t *battery.Warmth, st *State, w battery.Wells, outW, loadW, spanH float64) {
	l := p.lead
	holdV := heldV(st, t)
	spareW := outW - loadW
	takesA := l.TakesA(w, holdV, t)
	waits := st.Off && !p.leadBack(w, t)
	if t.Barred {
		l.Current(m, w, 0, spanH, t)
		if end := p.backGap(m.End, t); waits && end < 0 { // charge has flowed to the terminals
			l.Current(m, w, 0, closeIn(spanH, p.backGap(w, t), end, lowTol/10, 1e-12*spanH, func(h float64) float64 {
				var m battery.LeadMove
				l.Current(&m, w, 0, h, t)
				return p.backGap(m.End, t)
			}), t)
		}
		fl.barredW = min(spareW, l.ChargeW(w, min(takesA, p.warmA), t))
		fl.outW, fl.curtailedW, fl.odd = loadW, spareW-fl.barredW, true
		return
	}
	// At the voltage held the surplus is this current: a bank that takes less there does not take all of it.
	limit, mostA := byPower, min(l.AmpsAt(spareW, holdV), t.MaxChargeA)
	if l.OpenV(l.Head(w))*t.MaxChargeA < spareW && l.ChargeW(w, t.MaxChargeA, t) < spareW*(1-1e-9) {
		limit, mostA = byCurrent, t.MaxChargeA
	}
	rises := false
	if takesA <= mostA*(1+1e-9) { // at the voltage of the stage
		spanH = l.HoldH(takesA, spanH)
		l.Hold(m, w, holdV, spanH, t)
		// Where charge flows on to an emptier well the current may rise, until voltage no longer limits it.
		rises = m.EndCurrent > mostA || m.PowerW > spareW
		if fl.held = !rises || takesA < mostA*(1-1e-6); fl.held {
			limit = byVoltage
		}
	}
	levels := waits || p.pauseUpAh < math.Inf(1)
	if limit != byVoltage || rises || levels {
		c := leadStage{p: p, w: w, t: t, limit: limit, holdV: holdV, spareW: spareW, mostA: mostA, rises: rises, waits: waits}
		c.within(m, spanH, fl.held, levels)
	}
	if limit != byPower && m.PowerW > spareW { // where two limits meet
		l.Power(m, w, spareW, m.SpanH, t)
	}
	fl.outW = loadW + m.PowerW
	if spare := outW - fl.outW; spare > 1e-12*outW {
		fl.curtailedW, fl.odd = spare, true
	} else {
		fl.outW = outW
	}
	fl.odd = fl.odd || fl.held
}

// within fills m with the move, unless it is there already, and ends it where it may not go on as it began.
func (c *leadStage) within(m *battery.LeadMove, spanH float64, there, levels bool) {
	if !there {
		c.move(m, spanH)
	}
	end := c.gap(m)
	if !(end < 0) { // none where there is nothing to charge with
		return
	}
	l := c.p.lead
	first := battery.LeadMove{End: c.w, TerminalV: l.OpenV(l.Head(c.w))}
	if c.limit == byVoltage {
		c.move(&first, 1e-9)
	}
	start := c.gap(&first)
	if start <= lowTol {
		c.move(m, min(spanH, 1.0/60)) // along the limit: what limits is looked at again
		return
	}
	tol, within := overTol, 1e-4*spanH
	if levels { // they are met as they are
		tol, within = lowTol/10, 1e-12*spanH
	}
	h := closeIn(spanH, start, end, tol, within, func(h float64) float64 {
		c.move(m, h)
		return c.gap(m)
	})
	if m.SpanH != h { // mostly it is the last one tried
		c.move(m, h)
	}
}

// leadStage is a stretch of charging under one limit.
type leadStage struct {
	p             *Plant
	w             battery.Wells
	t             *battery.Warmth
	limit         chargeLimit
	holdV, spareW float64
	mostA         float64 // while neither power nor current binds
	rises, waits  bool    // the current held; loads for the bank to fill
}

type chargeLimit int

const (
	byPower chargeLimit = iota
	byCurrent
	byVoltage
)

func (c *leadStage) move(m *battery.LeadMove, h float64) {
	switch l := c.p.lead; c.limit {
	case byVoltage:
		l.Hold(m, c.w, c.holdV, h, c.t)
	case byCurrent:
		l.Current(m, c.w, c.mostA, h, c.t)
	default:
		l.Power(m, c.w, c.spareW, h, c.t)
	}
}

// gap is above 0 while a move may go on as it began: over a limit by overTol at the most.
func (c *leadStage) gap(m *battery.LeadMove) float64 {
	l, g := c.p.lead, math.Inf(1)
	switch {
	case c.limit != byVoltage:
		g = l.TakesA(m.End, c.holdV, c.t)/c.mostA - 1
		if over := c.holdV/m.TerminalV - 1; over < 0 { // a move that goes on long after the bank is full is none: its voltage tells
			g = min(g, over)
		}
		if c.limit == byCurrent {
			g = min(g, c.spareW/l.ChargeW(m.End, c.mostA, c.t)-1)
		}
	case c.rises:
		g = min(c.mostA/m.EndCurrent, c.spareW/m.PowerW) - 1
	}
	g += overTol
	if c.waits { // it counts down as the others do
		g = min(g, c.p.backGap(m.End, c.t))
	}
	if up := c.p.pauseUpAh; up < math.Inf(1) {
		g = min(g, up/c.p.capAh-l.SOC(m.End))
	}
	return g
}

// backGap is how far the bank is below the level at which loads come back; it falls as the bank is charged.
func (p *Plant) backGap(w battery.Wells, t *battery.Warmth) float64 {
	return max(p.backSOC-p.lead.SOC(w), p.backHead(t)-p.lead.Head(w))
}

func (p *Plant) leadBack(w battery.Wells, t *battery.Warmth) bool { return p.backGap(w, t) <= lowTol }

// closeIn returns the time in (0, spanH] at which f, positive at 0 and negative at spanH, comes within tol of zero, or where that
// lies to within within hours, on the side where f is negative: false position after N. Anderson and A. Bjorck, BIT 13 (1973)
// 253-264, which never leaves the bracket.
func closeIn(spanH, f0, f1, tol, within float64, f func(h float64) float64) float64 {
	a, b := 0.0, spanH // b is the latest
	for range 60 {
		h := (a*f1 - b*f0) / (f1 - f0)
		if low, high := min(a, b), max(a, b); !(h > low && h < high) {
			h = (a + b) / 2
		}
		g := f(h)
		if math.Abs(g) <= tol {
			return max(h, 1e-12)
		}
		if (g > 0) == (f1 > 0) { // the older end stays, and weighs less
			if m := 1 - g/f1; m > 0 {
				f0 *= m
			} else {
				f0 /= 2
			}
		} else {
			a, f0 = b, f1
		}
		if b, f1 = h, g; math.Abs(b-a) <= within {
			break
		}
	}
	if f1 > 0 {
		b = a
	}
	return max(b, 1e-12)
}
