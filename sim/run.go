package sim

import (
	"errors"
	"fmt"
	"math"

	"tideover/sim/battery"
	"tideover/sim/ledger"
)

// State is what a run carries from one step to the next.
type State struct {
	ChargeAh float64
	Off      bool    // loads are disconnected
	WaitH    float64 // of the minimum off time, still to go
	TripH    float64 // before the inverter starts again after an overload, still to go
}

// step is one step made ready: powers in W, constant within it. It holds what the loop reads, in one line of the cache.
type step struct {
	readyW          float64 // at the controller's input, after its window, tracking and input ratings
	acW, dcW        float64 // asked at the load terminals, withheld excluded
	idleW, convertW float64 // the inverter's, while acW runs
	floorAh         float64 // the loads are cut here
	day, month      int32
	barred          bool // charging, by cold
	overload        bool // coincident on-watts over the rating
	mustAC, mustDC  bool // a must-have load asks there
}

// fixed is what a step books whatever the battery does, unless the box is asleep. Powers in W.
type fixed struct {
	arrayW, notStartedW, offPeakW, clippedW float64 // array = notStarted + offPeak + clipped + ready
	withheldW, ruleMin                      float64
}

// Plant is a System made ready for one weather: everything that does not depend on the charge is computed. It is
// read-only while it runs, so that many runs may share it.
type Plant struct {
	pack        battery.Pack
	steps       []step
	fixed       []fixed        // of each step
	fixedMonths []ledger.Flows // the same, summed, Wh
	fixedDays   []ledger.Day
	stepH       float64
	standbyW    float64
	efficiency  float64 // controller
	perOut      float64 // 1 / efficiency
	maxOutA     float64 // controller
	restartH    float64
	minOffH     float64
	reconnectAh float64 // above the level at which the loads are cut
	fullAh      float64 // the capacity, but for rounding
}

// book adds what step i books whatever the battery does.
func (p *Plant) book(f *ledger.Flows, i int) {
	in, x, h := &p.steps[i], &p.fixed[i], p.stepH
	f[ledger.Array] += x.arrayW * h
	f[ledger.NotStarted] += x.notStartedW * h
	f[ledger.OffPeak] += x.offPeakW * h
	f[ledger.Clipped] += x.clippedW * h
	f[ledger.Withheld] += x.withheldW * h
	f[ledger.Demand] += (in.acW + in.dcW + x.withheldW) * h
}

// sumFixed fills what is the same in every run.
func (p *Plant) sumFixed(months int, days []ledger.Day) {
	p.fixedMonths, p.fixedDays = make([]ledger.Flows, months), days
	for i := range p.steps {
		var f ledger.Flows
		p.book(&f, i)
		p.fixedMonths[p.steps[i].month].Add(&f)
		d := &days[p.steps[i].day]
		d.AskedWh += f[ledger.Demand]
		d.OffByRuleMin += p.fixed[i].ruleMin
	}
}

// books is what a run writes; it is reused from pass to pass.
type books struct {
	months   []ledger.Flows
	days     []ledger.Day
	outages  []outage
	open     outage
	isOpen   bool
	dayLowAh []float64
	lowAh    float64
	lowAtH   float64
	lackH    float64
	spellWh  float64 // lacking at the bus since the battery was last full
	mostWh   float64 // the highest of them so far
	mostAtH  float64
	barredWh float64 // refused for cold since the battery was last full, less what it would have served since; at the bus
}

// outage is a ledger.Outage while it is running; times in hours from the start of the run.
type outage struct {
	startH, endH, mustH float64
	unservedWh          float64
	byCauseWh           [ledger.NCauses]float64
}

// reset empties the books for a run that starts with startAh. With hours the run itself books what is fixed.
func (p *Plant) reset(b *books, startAh float64, hours bool) {
	copy(b.months, p.fixedMonths)
	if hours {
		clear(b.months)
	}
	copy(b.days, p.fixedDays)
	for i := range b.dayLowAh {
		b.dayLowAh[i] = math.Inf(1)
	}
	b.outages = b.outages[:0]
	b.open, b.isOpen = outage{}, false
	b.lowAh, b.lowAtH, b.lackH, b.barredWh = startAh, 0, 0, 0
	b.spellWh, b.mostWh, b.mostAtH = 0, 0, 0
}

// lack books a stretch in which wantW was asked, busW at the bus, and not supplied.
func (b *books) lack(atH, spanH, wantW, busW float64, must bool, cause ledger.Cause) {
	if spanH <= 0 {
		return
	}
	if !b.isOpen {
		b.isOpen = true
		b.open = outage{startH: atH}
	}
	o := &b.open
	o.endH = atH + spanH
	o.unservedWh += wantW * spanH
	if must {
		o.mustH += spanH
		b.lackH += spanH
	}
	if b.spellWh += busW * spanH; b.spellWh > b.mostWh {
		b.mostWh, b.mostAtH = b.spellWh, atH
	}
	if cause == ledger.BatteryEmpty { // the charge refused for cold would have covered a part of it
		part := min(1, b.barredWh/(busW*spanH))
		b.barredWh -= part * busW * spanH
		o.byCauseWh[ledger.ColdBarred] += part * wantW * spanH
		wantW *= 1 - part
	}
	o.byCauseWh[cause] += wantW * spanH
}

// restored closes the open outage.
func (b *books) restored() {
	if b.isOpen {
		b.isOpen = false
		b.outages = append(b.outages, b.open)
	}
}

var errStuck = errors.New("a step did not come to an end: please report this with the scenario")

// run walks the steps from the first to before the last, from the state given, and returns the state at the end. hours
// may be nil.
func (p *Plant) run(st State, first, last int, b *books, hours *ledger.Hours) (State, error) {
	cause := ledger.BatteryEmpty // of the present disconnection
	var scratch ledger.Flows
	var fl flow
	for i := first; i < last; i++ {
		in := &p.steps[i]
		f := &b.months[in.month]
		if hours != nil {
			scratch = ledger.Flows{}
			p.book(&scratch, i)
			f = &scratch
		}
		var voltH, servedWh float64
		day := &b.days[in.day]
		for left, turns := p.stepH, 0; left > 0; turns++ {
			if turns > 100000 {
				return st, fmt.Errorf("step %d: %w", i, errStuck)
			}
			if st.Off && st.WaitH <= 0 && st.ChargeAh >= p.backAh(in) {
				st.Off = false
			}
			span := left
			tripped := in.overload || st.TripH > 0
			if st.Off && st.WaitH > 0 {
				span = min(span, st.WaitH)
			}
			if st.TripH > 0 && !in.overload {
				span = min(span, st.TripH)
			}
			loadW := p.standbyW
			if !st.Off {
				loadW += in.dcW
				if !tripped {
					loadW += in.acW + in.idleW + in.convertW
				}
			}
			if fl.odd {
				fl = flow{}
			}
			ok := p.bus(&fl, in, st.ChargeAh, loadW, span, st.Off)
			if !ok || !st.Off && st.ChargeAh <= in.floorAh && fl.move.PowerW < 0 {
				if !st.Off {
					st.Off, st.WaitH = true, p.minOffH
					cause = ledger.BatteryEmpty
					if !ok { // what asks is the same to the end of the step
						st.WaitH = max(st.WaitH, left)
						cause = ledger.VoltageSag
					}
					continue
				}
				p.sleep(&fl, st.ChargeAh, span) // nothing left to cut
			}

			m := &fl.move
			h := m.SpanH
			if fl.odd {
				f[ledger.Clipped] += fl.clippedW * p.perOut * h
				f[ledger.ChargeBarred] += fl.barredW * p.perOut * h
				f[ledger.Curtailed] += fl.curtailedW * p.perOut * h
				b.barredWh += fl.barredW * h
			}
			if fl.asleep {
				x := &p.fixed[i]
				f[ledger.NotStarted] += (x.arrayW - x.notStartedW) * h
				f[ledger.OffPeak] = max(0, f[ledger.OffPeak]-x.offPeakW*h) // 0 but for rounding where all the step is slept
				f[ledger.Clipped] = max(0, f[ledger.Clipped]-x.clippedW*h)
			} else {
				if in.readyW > 0 {
					drawnWh := fl.outW * p.perOut * h
					f[ledger.Drawn] += drawnWh
					f[ledger.ControllerLoss] += drawnWh * (1 - p.efficiency)
				}
				f[ledger.Standby] += p.standbyW * h
			}
			wireWh := m.HeatWh * p.pack.CableShare
			f[ledger.WiringLoss] += wireWh
			f[ledger.BatteryLoss] += m.LossWh - wireWh
			f[ledger.StoreChange] += m.StoreWh
			if m.PowerW >= 0 {
				f[ledger.BatteryIn] += m.PowerW*h - wireWh
			} else {
				f[ledger.BatteryOut] += wireWh - m.PowerW*h
			}
			if hours != nil {
				voltH += (m.OpenV + p.pack.ResistanceOhm*(1-p.pack.CableShare)*m.CurrentA) * h
			}

			var lackW, lackBusW float64
			must, why := false, cause
			if st.Off {
				lackW, must = in.acW+in.dcW, in.mustAC || in.mustDC
				lackBusW = lackW + in.idleW + in.convertW
			} else {
				f[ledger.ServedDC] += in.dcW * h
				servedWh += in.dcW * h
				if tripped {
					lackW, must, why = in.acW, in.mustAC, ledger.Overload
				} else {
					f[ledger.ServedAC] += in.acW * h
					servedWh += in.acW * h
					f[ledger.InverterIdle] += in.idleW * h
					f[ledger.InverterLoss] += in.convertW * h
				}
			}
			if lackW > 0 {
				f[ledger.Unserved] += lackW * h
				b.lack(float64(i+1)*p.stepH-left, h, lackW, lackBusW, must, why)
				if must {
					day.LackMin += h * 60
				}
			} else if b.isOpen && !st.Off && !tripped {
				b.restored()
			}

			st.ChargeAh = m.EndAh
			if st.ChargeAh < b.dayLowAh[in.day] {
				b.dayLowAh[in.day] = st.ChargeAh
				if st.ChargeAh < b.lowAh {
					b.lowAh, b.lowAtH = st.ChargeAh, float64(i+1)*p.stepH-left+h
				}
			}
			if st.ChargeAh >= p.fullAh {
				b.barredWh, b.spellWh = 0, 0
			}
			if st.WaitH > 0 {
				st.WaitH = max(0, st.WaitH-h)
			}
			if st.TripH > 0 {
				st.TripH = max(0, st.TripH-h)
			}
			if left -= h; left < 1e-12 {
				left = 0
			}
			if fl.cut {
				st.Off, st.WaitH, cause = true, p.minOffH, ledger.BatteryEmpty
			}
		}
		if in.overload && !st.Off {
			st.TripH = p.restartH
		}
		f[ledger.Served] += servedWh
		day.ServedWh += servedWh
		if hours != nil {
			b.months[in.month].Add(f)
			for j, v := range f {
				hours.FlowW[j][i] = v / p.stepH
			}
			hours.ACDemandW[i] = in.acW + p.fixed[i].withheldW
			hours.DCDemandW[i] = in.dcW
			hours.BatteryW[i] = (f[ledger.BatteryIn] - f[ledger.BatteryOut]) / p.stepH
			hours.BatteryV[i] = voltH / p.stepH
			hours.SOC[i] = st.ChargeAh / p.pack.CapacityAh
		}
	}
	b.restored()
	return st, nil
}

// backAh is the charge at which loads that were cut come back.
func (p *Plant) backAh(in *step) float64 {
	return min(in.floorAh+p.reconnectAh, p.pack.CapacityAh*(1-1e-9))
}

// flow is what happens at the bus for the hours that move spans. outW, clippedW, barredW and curtailedW are at the
// controller's output.
type flow struct {
	move                                battery.Move
	outW, clippedW, barredW, curtailedW float64
	odd                                 bool // the three before it, or the two after it, may not be zero
	cut                                 bool // the loads are cut at the end of it
	asleep                              bool // nothing is fed, the array is not started
}

// sleep lets the charge leak while nothing runs.
func (p *Plant) sleep(fl *flow, chargeAh, spanH float64) {
	*fl = flow{asleep: true, odd: true} // nothing of what was tried before
	fl.move, _ = p.pack.Power(chargeAh, 0, spanH)
}

// bus balances array, loads and battery for at most spanH hours, and stops at the first limit crossed on the way. It
// fills fl, in which all but move and outW is zero, and reports false where the battery cannot give what is asked at any
// voltage.
func (p *Plant) bus(fl *flow, in *step, chargeAh, loadW, spanH float64, off bool) bool {
	outW := in.readyW * p.efficiency
	if chargeAh <= 0 && outW < loadW {
		if off {
			p.sleep(fl, chargeAh, spanH)
		} else {
			fl.move.PowerW = -1 // the caller cuts
		}
		return true
	}
	fl.outW = outW
	if outW >= loadW && (in.barred || chargeAh >= p.fullAh) { // most sunny hours: the battery takes nothing
		p.charge(fl, in, chargeAh, loadW, spanH, off)
		return true
	}
	var ok bool
	m := &fl.move
	if *m, ok = p.pack.Power(chargeAh, outW-loadW, spanH); !ok {
		return p.discharge(fl, in, chargeAh, outW-loadW, spanH, off)
	}
	if outW > p.maxOutA*(m.OpenV+p.pack.ResistanceOhm*m.CurrentA) {
		return p.strong(fl, in, chargeAh, loadW, spanH, off)
	}
	if m.PowerW < 0 {
		if m.EndAh >= p.stopAh(in, off) {
			return true
		}
		return p.discharge(fl, in, chargeAh, m.PowerW, spanH, off)
	}
	if !in.barred && m.EndAh <= p.pack.CapacityAh && m.CurrentA <= p.pack.MaxChargeA &&
		p.pack.OpenV(m.EndAh)+p.pack.ResistanceOhm*m.CurrentA <= p.pack.ChargeV &&
		!(off && chargeAh < p.backAh(in)) {
		return true
	}
	p.charge(fl, in, chargeAh, loadW, spanH, off)
	return true
}

// stopAh is where a discharge ends: where the loads are cut or, with the loads off, where the bank is flat.
func (p *Plant) stopAh(in *step, off bool) float64 {
	if off {
		return 0
	}
	return in.floorAh
}

// discharge fills fl with a discharge that may come to its end within spanH.
func (p *Plant) discharge(fl *flow, in *step, chargeAh, powerW, spanH float64, off bool) bool {
	stop := p.stopAh(in, off)
	if chargeAh <= stop { // the caller cuts
		fl.move.PowerW = powerW
		return true
	}
	var ok bool
	if fl.move, ok = p.pack.PowerTo(chargeAh, powerW, spanH, stop); !ok {
		return false
	}
	if !off && fl.move.EndAh <= stop {
		fl.cut, fl.odd = true, true
	}
	return true
}

// strong is bus where the controller's current rating binds: it finds the battery voltage at which it does.
func (p *Plant) strong(fl *flow, in *step, chargeAh, loadW, spanH float64, off bool) bool {
	rawW := in.readyW * p.efficiency
	fl.outW = min(rawW, p.maxOutA*p.pack.BusV(chargeAh, p.maxOutA, loadW, spanH))
	fl.clippedW, fl.odd = rawW-fl.outW, true
	if fl.outW >= loadW {
		p.charge(fl, in, chargeAh, loadW, spanH, off)
		return true
	}
	if off && chargeAh <= 0 { // flat, and the rating lets through less than the standby
		p.sleep(fl, chargeAh, spanH)
		return true
	}
	return p.discharge(fl, in, chargeAh, fl.outW-loadW, spanH, off)
}

// charge lets the battery take what it accepts of a surplus. fl.outW is at the controller's output after its current
// rating took fl.clippedW at the voltage of an unhindered charge; where the battery takes less, its voltage is another
// and the rating is applied again.
func (p *Plant) charge(fl *flow, in *step, chargeAh, loadW, spanH float64, off bool) {
	pk := &p.pack
	rawW := fl.outW + fl.clippedW
	mayW := func(v float64) float64 { return min(rawW, max(p.maxOutA*v, loadW)) } // output that the rating allows
	if in.barred {
		v := pk.OpenV(chargeAh)
		spareW := mayW(v) - loadW
		if a := min(pk.TaperA(chargeAh), pk.MaxChargeA); chargeAh < pk.CapacityAh && a > 0 { // what a warm battery would take
			fl.barredW = min(spareW, (v+pk.ResistanceOhm*a)*a)
		}
		fl.move, _ = pk.Power(chargeAh, 0, spanH)
		fl.outW, fl.clippedW, fl.curtailedW, fl.odd = loadW, rawW-mayW(v), spareW-fl.barredW, true
		return
	}
	hold, taperA := pk.Hold(chargeAh, spanH), 0.0
	if chargeAh < p.fullAh {
		taperA = pk.TaperA(chargeAh)
	}
	if taperA <= hold.CurrentA {
		w := mayW(hold.OpenV + pk.ResistanceOhm*hold.CurrentA)
		if w < loadW+hold.PowerW { // not even enough against self-discharge
			hold, _ = pk.Power(chargeAh, w-loadW, spanH)
		}
		fl.takes(hold, w, rawW, loadW)
		return
	}
	stopAh := pk.CapacityAh
	if back := p.backAh(in); off && chargeAh < back {
		stopAh = back
	}
	spareW := fl.outW - loadW
	amps := pk.CurrentA(chargeAh, spareW)
	limitA := min(amps, pk.MaxChargeA)
	taperAh := pk.ChargeAtV(pk.ChargeV - pk.ResistanceOhm*min(spareW/pk.ChargeV, pk.MaxChargeA)) // the taper begins
	if taperA < limitA || taperAh <= chargeAh*(1+1e-12) {
		fl.takes(pk.Taper(chargeAh, spanH, stopAh), mayW(pk.ChargeV), rawW, loadW)
		return
	}
	stopAh = min(stopAh, taperAh)
	// Where the voltage has risen so far that this current takes all there is, power limits and not current.
	powerAh := pk.ChargeAtV(spareW/pk.MaxChargeA - pk.ResistanceOhm*pk.MaxChargeA)
	if amps > pk.MaxChargeA && powerAh > chargeAh*(1+1e-12) {
		stopAh = min(stopAh, powerAh)
		h := min(spanH, pk.UntilCurrent(chargeAh, pk.MaxChargeA, stopAh))
		m := pk.Current(chargeAh, pk.MaxChargeA, h)
		if h < spanH {
			m.EndAh = stopAh
		}
		fl.takes(m, mayW(m.OpenV+pk.ResistanceOhm*m.CurrentA), rawW, loadW)
		return
	}
	fl.move, _ = pk.PowerTo(chargeAh, spareW, spanH, stopAh)
}

// takes fills fl for a battery that takes only m's power of mayW, what the controller's rating leaves of rawW.
func (fl *flow) takes(m battery.Move, mayW, rawW, loadW float64) {
	fl.move, fl.outW = m, loadW+m.PowerW
	mayW = max(mayW, fl.outW) // where the two limits meet, the rating was taken at a slightly other voltage
	fl.clippedW, fl.curtailedW, fl.odd = max(0, rawW-mayW), mayW-fl.outW, true
}
