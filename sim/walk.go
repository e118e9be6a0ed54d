package sim

import (
	"math"

	"tideover/sim/battery"
	"tideover/sim/ledger"
)

// brief is what walk reads of a step: a row fills a line of the cache. Its limits are at most the true ones.
type brief struct {
	busW, loadW                float64 // as the step's; all that is asked there
	ohm                        float64 // of a lithium bank, without the cable, unless it is nearly empty
	need                       float64 // lithium: the charge, lead: the fill of the ready part, that it may not come under
	wirePer, lossPer           float32
	maxChargeA, chargeV, sagAh float32
	day                        int32
	stop, barred, night        bool // not for walk; charging, at any time in it; as the step's
}

// given is what loads and standby take, Wh.
type given struct{ standby, dc, ac, idle, convert, wire float64 }

// below is x as a float32 that is not above it.
func below(x float64) float32 {
	y := float32(x)
	if float64(y) > x {
		y = math.Nextafter32(y, 0)
	}
	return y
}

// brief fills the briefs.
func (p *Plant) brief() {
	p.briefs = make([]brief, len(p.steps))
	for i := range p.briefs {
		in, t := &p.steps[i], &p.warm[i]
		r := &p.briefs[i]
		*r = brief{
			busW: in.busW, loadW: p.standbyOf(in) + in.dcW + in.acW + in.idleW + in.convertW + float64(in.acWireW) + float64(in.dcWireW),
			need: t.FloorAh, wirePer: in.wirePer, lossPer: in.lossPer, maxChargeA: below(t.MaxChargeA), chargeV: below(t.ChargeV),
			sagAh: in.sagAh, day: in.day, stop: in.overload || in.carried || in.apart || p.lead != nil && in.changes || p.inputOff && t.Barred || p.pwm != nil && in.night && p.fixed[i].arrayW > p.fixed[i].notStartedW,
			barred: t.Barred, night: in.night,
		}
		if p.lead == nil {
			r.ohm = p.pack.BankOhm * t.OhmFactor
			continue
		}
		r.need = t.FloorHead
		if in.acW > 0 && p.cutoffV > 0 {
			r.need = max(r.need, p.inputHead(in, t)+1e-9)
		}
	}
	for k := range p.changes { // what does not bind in the worst of a step's stretches binds in none
		c := &p.changes[k]
		r := &p.briefs[c.Step]
		r.barred, r.maxChargeA = r.barred || c.Barred, min(r.maxChargeA, below(c.MaxChargeA))
	}
}

// standbyOf is the standby draw of a step.
func (p *Plant) standbyOf(in *step) float64 { return max(0, p.standbyW-float64(in.lessW)) } // but for rounding

// give fills what each day was given.
func (p *Plant) give() {
	p.given = make([]given, len(p.steps))
	var g given
	for i := range p.given {
		in, h := &p.steps[i], p.stepH
		if i > 0 && in.day != p.steps[i-1].day {
			g = given{}
		}
		g.standby += p.standbyOf(in) * h
		g.dc += in.dcW * h
		g.ac += in.acW * h
		g.idle += in.idleW * h
		g.convert += in.convertW * h
		g.wire += (float64(in.acWireW) + float64(in.dcWireW)) * h
		p.given[i] = g
	}
}

// served books that all was served in the steps from the first to before the last, of one day.
func (p *Plant) served(f *ledger.Flows, day *ledger.Day, first, last int) {
	g := p.given[last-1]
	if first > 0 && p.briefs[first-1].day == p.briefs[first].day {
		was := &p.given[first-1]
		g.standby -= was.standby
		g.dc -= was.dc
		g.ac -= was.ac
		g.idle -= was.idle
		g.convert -= was.convert
		g.wire -= was.wire
	}
	f[ledger.Standby] += g.standby
	f[ledger.ServedDC] += g.dc
	f[ledger.ServedAC] += g.ac
	f[ledger.InverterIdle] += g.idle
	f[ledger.InverterLoss] += g.convert
	f[ledger.WiringLoss] += g.wire
	f[ledger.Served] += g.dc + g.ac
	day.ServedWh += g.dc + g.ac
}

// tally is what steps of one day did, Wh (walk: W times steps), beside what was served.
type tally struct {
	drawn, offPeak, convert, wire, cable, in, out, lost, store, clipped, barred, curtailed float64
	lowAh                                                                                  float64
	lowAt                                                                                  float64 // its time, in steps
}

// close books it, with its flows times h.
func (y *tally) close(p *Plant, b *books, first, last int, h float64) {
	f := &b.months[p.steps[first].month]
	day := p.briefs[first].day
	p.served(f, &b.days[day], first, last)
	f[ledger.Drawn] += y.drawn * h
	f[ledger.OffPeak] += y.offPeak * h
	f[ledger.ControllerLoss] += y.convert * h
	f[ledger.WiringLoss] += (y.wire + y.cable) * h
	b.cableWh[p.steps[first].month] += y.cable * h
	f[ledger.BatteryIn] += y.in * h
	f[ledger.BatteryOut] += y.out * h
	f[ledger.BatteryLoss] += y.lost * h
	f[ledger.StoreChange] += y.store * h
	f[ledger.Clipped] += y.clipped * h
	f[ledger.ChargeBarred] += y.barred * h
	f[ledger.Curtailed] += y.curtailed * h
	if b.isOpen {
		b.restored()
	}
	if y.lowAh < b.dayLowAh[day] {
		b.dayLowAh[day] = y.lowAh
		if y.lowAh < b.lowAh {
			b.lowAh, b.lowAtH = y.lowAh, y.lowAt*h
		}
	}
}

// walk does whole steps of a lithium system, from step i on, as long as no limit is met and nothing but the battery's current is
// unknown: most steps of most systems are such. It returns the first step that is not, and books as run does.
func (p *Plant) walk(st *State, i, last int, b *books) int {
	if st.Off || st.TripH > 0 {
		return i
	}
	pk, h := &p.pack, p.stepH
	charge, cableOhm, lowAh := st.ChargeAh, pk.CableOhm, 0.5*p.capAh // under it the resistance may be another within the step
	piece := pk.PieceAt(charge)
	rows := p.briefs[:last]
	for i < len(rows) {
		from, day := i, rows[i].day
		y, highAh := tally{lowAh: math.Inf(1)}, 0.0
		for ; i < len(rows); i++ {
			r := &rows[i]
			if r.day != day || r.stop {
				break
			}
			sunW, netW := r.busW, r.busW-r.loadW
			if pk.ResistanceOhm = r.ohm + cableOhm; charge < lowAh {
				pk.SetOhm(pk.MidAh(charge, netW*h, r.need), r.ohm)
			}
			if charge >= p.fullAh && netW >= 0 { // full: it takes what makes up for self-discharge
				amps, openV, powerW, lossW := pk.Rest(charge)
				mayW := min(sunW, p.maxOutA*(openV+pk.ResistanceOhm*amps))
				if r.barred || mayW < r.loadW+powerW || charge <= float64(r.sagAh) {
					break
				}
				sunW = r.loadW + powerW
				perOut := 1 + float64(r.wirePer) + float64(r.lossPer)
				y.clipped += (r.busW - mayW) * perOut
				y.curtailed += (mayW - sunW) * perOut
				y.in += powerW
				y.lost += lossW
				if cableOhm > 0 {
					w := cableOhm * amps * amps
					y.cable, y.lost, y.in = y.cable+w, y.lost-w, y.in-w
				}
			} else {
				end, amps, openV, heatW, lossW, toStoreW := pk.Within(piece, charge, netW, h)
				if math.IsNaN(end) {
					m, ok := pk.Power(charge, netW, h)
					if !ok {
						break
					}
					end, amps, openV, heatW, lossW, toStoreW = m.EndAh, m.CurrentA, m.OpenV, m.HeatWh/h, m.LossWh/h, m.StoreWh/h
					piece = pk.PieceAt(end)
				}
				termV := openV + pk.ResistanceOhm*amps
				if netW < 0 {
					if end < r.need || end < float64(r.sagAh) || charge <= float64(r.sagAh) || sunW > p.maxOutA*termV {
						break
					}
				} else if r.barred || end > pk.CapacityAh || amps > float64(r.maxChargeA) || charge <= float64(r.sagAh) || sunW > p.maxOutA*termV ||
					piece.OpenV(end)+pk.ResistanceOhm*amps > float64(r.chargeV) {
					break
				}
				charge = end
				y.lost += lossW
				y.store += toStoreW
				if netW < 0 {
					y.out -= netW
				} else {
					y.in += netW
				}
				if cableOhm > 0 {
					w := cableOhm * heatW / pk.ResistanceOhm
					y.cable, y.lost = y.cable+w, y.lost-w
					if netW < 0 {
						y.out += w
					} else {
						y.in -= w
					}
				}
			}
			if charge < y.lowAh {
				y.lowAh, y.lowAt = charge, float64(i+1)
			}
			highAh = max(highAh, charge)
			if r.busW > 0 {
				wire, loss := float64(r.wirePer), float64(r.lossPer)
				y.drawn += sunW * (1 + wire + loss)
				y.convert += sunW * loss
				y.wire += sunW * wire
			}
		}
		if i == from {
			break
		}
		y.close(p, b, from, i, h)
		if highAh >= p.countsAh {
			b.full()
		} else if b.barredWh > 0 {
			b.refuse(0, p.roomWh(highAh, 0), p.steps[from].month, false)
		}
		if i < len(rows) && rows[i].day == day {
			break
		}
	}
	st.ChargeAh = charge
	return i
}

// walkLead is walk for lead. A step may be of several turns, as charging comes from one limit to the next.
func (p *Plant) walkLead(st *State, i, last int, b *books) int {
	if st.Off || st.TripH > 0 || st.Backup {
		return i
	}
	rows := p.briefs[:last]
	p.pauseUpAh = math.Inf(1)
	var x leadWalk
	for i < len(rows) {
		from, day := i, rows[i].day
		x.y = tally{lowAh: math.Inf(1)}
		for ; i < len(rows); i++ {
			r := &rows[i]
			if r.day != day || r.stop || !p.leadStep(&x, st, r, i, b) {
				break
			}
			if t := &p.warm[i]; t.TempC < 0 && t.TempC < battery.FreezesC(st.ChargeAh/p.capAh) {
				b.frostH += p.stepH
			}
		}
		if i == from {
			break
		}
		x.y.close(p, b, from, i, 1)
		if i < len(rows) && rows[i].day == day {
			break
		}
	}
	return i
}

// leadStep does step i for walkLead, or leaves all as it was and returns false.
func (p *Plant) leadStep(x *leadWalk, st *State, r *brief, i int, b *books) bool {
	t, m, fl, src, y, was := &p.warm[i], &x.move, &x.fl, &x.src, &x.y, &x.was
	was.kept = false
	if r.night {
		st.Float, st.AbsorbH = false, 0
	}
	p.pauseHead, p.pauseDownAh = r.need, 0
	if p.backup.powerW > 0 {
		p.pauseDownAh = p.backup.startAh
	}
	wirePer, lossPer, offPeakPer := float64(r.wirePer), float64(r.lossPer), 0.0
	perOut := 1 + wirePer + lossPer
	for left := p.stepH; left > 0; {
		w := st.wells()
		span := left
		if !r.night && p.hold.floatV > 0 && !st.Float {
			span = min(span, max(p.hold.absorptionH-st.AbsorbH, 1.0/60))
		}
		sunW, ok := r.busW, st.ChargeAh > p.pauseDownAh+lowTol*p.capAh && p.lead.Head(w) > r.need
		for turn, v := 0, 0.0; ok; turn++ {
			if p.pwm != nil && !r.night {
				if turn == 0 {
					if v = heldV(st, t); !fl.held || !p.holds(&p.steps[i], i, t, w, r.loadW, v) {
						v = p.guessV(&p.steps[i], i, t, st, r.loadW, false)
					}
				}
				if p.source(src, &p.steps[i], i, v); src.rawW <= 0 { // too dim for the voltage of the bus
					ok = false
					break
				}
				per := 1 / src.rawW
				sunW, perOut, wirePer, lossPer, offPeakPer = src.rawW, src.arrayW*per, src.wireW*per, src.lossW*per, (src.arrayW-src.drawnW)*per
			}
			fl.barredW, fl.curtailedW, fl.outW, fl.held = 0, 0, sunW, false
			if sunW < r.loadW {
				ok = p.leadFree(m, r, t, w, sunW-r.loadW, span)
			} else {
				p.leadCharge(m, fl, t, st, w, sunW, r.loadW, span)
			}
			if p.pwm == nil || r.night || turn >= 4 || busV(m) == v || p.meets(&p.steps[i], i, sunW, busV(m)) {
				break
			}
			v = busV(m)
		}
		if !ok || sunW > 0 && sunW > p.maxOutA*busV(m) {
			if was.kept {
				*st, *y, b.barredWh, b.hotWh, b.spellWh = was.st, was.y, was.barredWh, was.hotWh, was.spellWh
				b.missedWh[p.steps[i].month], b.heatWh[p.steps[i].month] = was.missedWh, was.heatWh
			}
			return false
		}

		h := m.SpanH
		if h < left && !was.kept {
			*was = before{true, *st, *y, b.barredWh, b.hotWh, b.spellWh, b.missedWh[p.steps[i].month], b.heatWh[p.steps[i].month]}
		}
		refusedWh, month := 0.0, p.steps[i].month
		if sunW > 0 {
			outWh := fl.outW * h
			y.drawn += outWh * (perOut - offPeakPer)
			y.offPeak += outWh * offPeakPer
			y.convert += outWh * lossPer
			y.wire += outWh * wirePer
			y.barred += fl.barredW * perOut * h
			y.curtailed += fl.curtailedW * perOut * h
			refusedWh = fl.barredW * h
			if t.Hot {
				b.heatWh[month] += refusedWh * perOut
			}
		}
		if b.barredWh+refusedWh > 0 {
			b.refuse(refusedWh, p.roomWh(m.End.Ah(), m.End.AvailableAh), month, t.Hot)
		}
		y.cable += m.WireWh
		y.lost += m.LossWh
		y.store += m.StoreWh
		if m.PowerW >= 0 {
			y.in += m.PowerW*h - m.WireWh
		} else {
			y.out += m.WireWh - m.PowerW*h
		}
		st.ChargeAh, st.AvailableAh = m.End.Ah(), m.End.AvailableAh
		if st.ChargeAh < y.lowAh {
			y.lowAh, y.lowAt = st.ChargeAh, float64(i+1)-(left-h)/p.stepH
		}
		if st.ChargeAh >= p.countsAh {
			b.full()
		}
		if fl.held && p.hold.floatV > 0 && !st.Float {
			if st.AbsorbH += h; st.AbsorbH >= p.hold.absorptionH-1e-9 {
				st.Float = true
			}
		}
		if left -= h; left < 1e-12 {
			left = 0
		}
	}
	return true
}

// holds reports whether a PWM array brings a bank to volts and holds it there: whether it gives more than the bank takes there, at that voltage
// and at that of no current. A load whose current falls with the voltage may leave less at the one or the other.
func (p *Plant) holds(in *step, i int, t *battery.Warmth, w battery.Wells, loadW, volts float64) bool {
	takesA, openV := p.lead.TakesA(w, volts, t), p.lead.OpenV(p.lead.Head(w))
	return p.rawW(in, i, volts)-loadW >= takesA*volts && p.rawW(in, i, openV)-loadW >= takesA*openV
}

// leadWalk is what walkLead works with.
type leadWalk struct {
	move battery.LeadMove
	fl   flow // what becomes of the sun's power: of the last turn's, until the next one's is known
	src  source
	y    tally
	was  before
}

// before is how things stood before a step of several turns.
type before struct {
	kept                     bool
	st                       State
	y                        tally
	barredWh, hotWh, spellWh float64
	missedWh, heatWh         float64
}

// leadFree fills m with a discharge in which no level comes near, and reports whether that is so.
func (p *Plant) leadFree(m *battery.LeadMove, r *brief, t *battery.Warmth, w battery.Wells, powerW, spanH float64) bool {
	l := p.lead
	head := l.Head(w)
	if head <= r.need+lowTol || !l.Power(m, w, powerW, spanH, t) {
		return false
	}
	end := l.Head(m.End)
	return end >= head/2 && end >= r.need && l.SOC(m.End) >= p.bank.DisconnectSOC+lowTol && m.End.Ah() >= p.pauseDownAh && l.Spare(end, powerW, t) >= 0
}
