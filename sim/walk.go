package sim

import (
	"math"

	"tideover/sim/ledger"
)

// brief is what walk reads of a step: a row fills a line of the cache. Its limits are at most the true ones.
type brief struct {
	busW, loadW                float64 // as the step's; all that is asked there
	ohm                        float64 // of a lithium bank, without the cable, unless it is nearly empty
	floorAh                    float64
	wirePer, lossPer           float32
	maxChargeA, chargeV, sagAh float32
	day                        int32
	stop, barred               bool // not for walk; charging
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
			floorAh: t.FloorAh, wirePer: in.wirePer, lossPer: in.lossPer, maxChargeA: below(t.MaxChargeA), chargeV: below(t.ChargeV),
			sagAh: in.sagAh, day: in.day, stop: in.overload || in.carried, barred: t.Barred,
		}
		if p.lead == nil {
			r.ohm = p.pack.BankOhm * t.OhmFactor
		}
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

// walk does whole steps of a lithium system, from step i on, as long as no limit is met and nothing but the battery's current is
// unknown: most steps of most systems are such. It returns the first step that is not, and books as run does.
func (p *Plant) walk(st *State, i, last int, b *books) int {
	if st.Off || st.TripH > 0 {
		return i
	}
	pk, h := &p.pack, p.stepH
	charge, cableOhm := st.ChargeAh, pk.CableOhm
	piece := pk.PieceAt(charge)
	rows := p.briefs[:last]
	for i < len(rows) {
		from, day := i, rows[i].day
		lowAh, lowAt, full := math.Inf(1), 0, false
		var drawnW, convertW, wireW, inW, outW, lostW, storeW, clippedW, curtailedW float64
		for ; i < len(rows); i++ {
			r := &rows[i]
			if r.day != day || r.stop {
				break
			}
			pk.SetOhm(charge, r.ohm)
			sunW, netW := r.busW, r.busW-r.loadW
			if charge >= p.fullAh && netW >= 0 { // full: it takes what makes up for self-discharge
				amps, openV, powerW, lossW := pk.Rest(charge)
				mayW := min(sunW, p.maxOutA*(openV+pk.ResistanceOhm*amps))
				if r.barred || mayW < r.loadW+powerW {
					break
				}
				sunW = r.loadW + powerW
				perOut := 1 + float64(r.wirePer) + float64(r.lossPer)
				clippedW += (r.busW - mayW) * perOut
				curtailedW += (mayW - sunW) * perOut
				inW += powerW
				lostW += lossW
				if cableOhm > 0 {
					w := cableOhm * amps * amps
					wireW, lostW, inW = wireW+w, lostW-w, inW-w
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
					if end < r.floorAh || end < float64(r.sagAh) || charge <= float64(r.sagAh) || sunW > p.maxOutA*termV {
						break
					}
				} else if r.barred || end > pk.CapacityAh || amps > float64(r.maxChargeA) || charge <= float64(r.sagAh) || sunW > p.maxOutA*termV ||
					piece.OpenV(end)+pk.ResistanceOhm*amps > float64(r.chargeV) {
					break
				}
				charge = end
				lostW += lossW
				storeW += toStoreW
				if netW < 0 {
					outW -= netW
				} else {
					inW += netW
				}
				if cableOhm > 0 {
					w := cableOhm * heatW / pk.ResistanceOhm
					wireW, lostW = wireW+w, lostW-w
					if netW < 0 {
						outW += w
					} else {
						inW -= w
					}
				}
			}
			if charge < lowAh {
				lowAh, lowAt = charge, i
			}
			full = full || charge >= p.countsAh
			if r.busW > 0 {
				wire, loss := float64(r.wirePer), float64(r.lossPer)
				drawnW += sunW * (1 + wire + loss)
				convertW += sunW * loss
				wireW += sunW * wire
			}
		}
		if i == from {
			break
		}
		f := &b.months[p.steps[from].month]
		p.served(f, &b.days[day], from, i)
		f[ledger.Drawn] += drawnW * h
		f[ledger.ControllerLoss] += convertW * h
		f[ledger.WiringLoss] += wireW * h
		f[ledger.BatteryIn] += inW * h
		f[ledger.BatteryOut] += outW * h
		f[ledger.BatteryLoss] += lostW * h
		f[ledger.StoreChange] += storeW * h
		f[ledger.Clipped] += clippedW * h
		f[ledger.Curtailed] += curtailedW * h
		if b.isOpen {
			b.restored()
		}
		if full {
			b.barredWh, b.spellWh = 0, 0
		}
		if lowAh < b.dayLowAh[day] {
			b.dayLowAh[day] = lowAh
			if lowAh < b.lowAh {
				b.lowAh, b.lowAtH = lowAh, float64(lowAt+1)*h
			}
		}
		if i < len(rows) && rows[i].day == day {
			break
		}
	}
	st.ChargeAh = charge
	return i
}
