package sim

import (
	"fmt"
	"time"

	"tideover/sim/ledger"
)

const settlePasses = 5

func (p *Prepared) newBooks() *books {
	days, sessions := len(p.clock.Dates), 0
	if p.waiting != nil {
		sessions = len(p.demand.Jobs) + MostWaiting
	}
	return &books{
		begun: make([]begun, 0, sessions), needWh: make([]float64, len(p.clock.Months)), wokenH: make([]float64, len(p.small)),
		months:   make([]ledger.Flows, len(p.clock.Months)),
		days:     make([]ledger.Day, days),
		dayLowAh: make([]float64, days),
		outages:  make([]outage, 0, 256),
		missedWh: make([]float64, len(p.clock.Months)),
		heatWh:   make([]float64, len(p.clock.Months)),
		asleepWh: make([]float64, len(p.clock.Months)), asleepBarredWh: make([]float64, len(p.clock.Months)),
		cableWh: make([]float64, len(p.clock.Months)),
	}
}

func (p *Prepared) newHours() *ledger.Hours {
	n := len(p.steps)
	h := &ledger.Hours{
		StepH: p.stepH, End: make([]time.Time, n),
		GHIWm2: p.above.ghi, DNIWm2: p.above.dni, DHIWm2: p.above.dhi, AirTempC: p.airC,
		PlaneWm2: p.light.planeWm2, CellTempC: p.light.cellC,
	}
	for i := range n {
		h.End[i] = p.clock.StepEnd(i)
	}
	// One block for all columns keeps the garbage collector out of it.
	block := make([]float64, (int(ledger.NFlows)+9)*n)
	next := func() []float64 {
		c := block[:n:n]
		block = block[n:]
		return c
	}
	for f := range h.FlowW {
		h.FlowW[f] = next()
	}
	h.ACDemandW, h.DCDemandW, h.BatteryW, h.BatteryV, h.SOC = next(), next(), next(), next(), next()
	h.CutOffSOC, h.BatteryTempC, h.AsleepW, h.AsleepBarredW = next(), next(), next(), next()
	for i := range p.steps {
		h.CutOffSOC[i] = p.cutSOC(i)
	}
	return h
}

func backupWh(b *books) (wh float64) {
	for i := range b.months {
		wh += b.months[i][ledger.Backup]
	}
	return wh
}

// at is the wall-clock time h hours after the start of the run, to the minute.
func (p *Prepared) at(h float64) time.Time {
	return p.clock.StepStart(0).Add(time.Duration(h*60+0.5) * time.Minute)
}

// heldWh is the energy in a full bank at 25 C.
func (p *Plant) heldWh() float64 {
	if p.lead != nil {
		return p.lead.HeldWh(p.lead.Full(1))
	}
	return p.pack.HeldWh(p.capAh)
}

// cutSOC is the state of charge at which a rested bank's loads are cut in a step.
func (p *Plant) cutSOC(i int) float64 {
	if p.lead != nil {
		return max(p.bank.DisconnectSOC, p.warm[i].FloorHead)
	}
	return p.warm[i].FloorAh / p.capAh
}

// close fills the result from the books.
func (p *Prepared) close(out *ledger.Run, b *books, start State) {
	capAh := p.capAh
	out.Start, out.End = p.at(0), p.at(float64(len(p.steps))*p.stepH)
	out.OffAtStart = start.Off && len(b.outages) > 0 && b.outages[0].startH < b.backAtH
	out.OffAtEnd = b.openEnd
	out.CapacityWh = p.heldWh()
	out.DisconnectSOC, out.ColdCutOffSOC = p.sys.Bank.DisconnectSOC, p.sys.Bank.DisconnectSOC
	for i := range p.steps {
		out.ColdCutOffSOC = max(out.ColdCutOffSOC, p.cutSOC(i))
	}
	out.CutV, out.BackV = p.bank.DisconnectV, p.bank.ReconnectV
	out.Cuts, out.FrostHours = b.cuts, b.frostH
	if b.frostH > 0 {
		out.Warnings = append(out.Warnings, fmt.Sprintf("the acid may freeze: for %.0f h the battery is colder than the freezing point of its charge, by cautious figures (0 C when flat, -20 C half full, -57 C full); frozen acid breaks the case",
			b.frostH))
	}
	if c := p.sys.Backup; c != nil {
		u := &ledger.Charged{Hours: b.backupH, InputWh: c.InputWh(backupWh(b)), FuelL: b.backupH * c.FuelLPerH}
		for _, h := range b.starts {
			u.Starts = append(u.Starts, p.at(h))
		}
		out.Backup = u
	}
	if v := p.sys.Inverter; v != nil {
		out.InverterRatedW, out.InverterVA = v.RatedW, max(v.RatedW, v.RatedVA)
	}
	out.Days = b.days
	for i := range out.Days {
		out.Days[i].LowestSOC = min(1, b.dayLowAh[i]/capAh)
	}
	for i, m := range p.clock.Months {
		out.Months = append(out.Months, ledger.Month{Year: m.Year, Month: m.Month, Wh: b.months[i], LowestSOC: 1,
			MissedWh: b.missedWh[i], HeatBarredWh: min(b.heatWh[i], b.months[i][ledger.ChargeBarred]), CableWh: b.cableWh[i]})
		out.Total.Add(&b.months[i])
	}
	for i := range out.Months {
		m := &out.Months[i]
		if taken := m.Wh[ledger.Drawn] + m.Wh[ledger.Curtailed] + m.Wh[ledger.ChargeBarred]; taken > 0 {
			toBus := 1 / p.perOut
			m.HarvestWh = toBus * taken
			m.BarredWh = toBus * m.Wh[ledger.ChargeBarred]
		}
		m.AsleepWh = b.asleepWh[i]
		m.HarvestWh += m.AsleepWh
		m.BarredWh += b.asleepBarredWh[i]
	}
	for i := range p.steps {
		st := &p.steps[i]
		need := p.fixed[i].deadW + st.acW + st.dcW + st.idleW + st.convertW + float64(st.acWireW) + float64(st.dcWireW) + max(0, p.standbyW-float64(st.lessW))
		out.Months[st.month].NeedWh += need * p.stepH
	}
	for i, wh := range b.needWh {
		out.Months[i].NeedWh += wh
	}
	out.SpellLackWh, out.SpellLackAt = b.mostWh, p.at(b.mostAtH)
	if b.mostWh > 0 {
		out.SpellLackFrom = p.at(b.mostOfH)
	}
	for i, g := range p.light.planeWm2 {
		wh := g / 1000 * p.rated * p.stepH
		out.Months[p.clock.MonthOf[i]].SunlightWh += wh
		out.SunlightWh += wh
	}
	for _, o := range b.outages {
		if o.unservedWh <= 0 {
			continue
		}
		cause := ledger.BatteryEmpty
		for c := range o.byCauseWh {
			if o.byCauseWh[c] > o.byCauseWh[cause] {
				cause = ledger.Cause(c)
			}
		}
		out.Outages = append(out.Outages, ledger.Outage{
			Start: p.at(o.startH), Hours: o.endH - o.startH, MustHaveHours: o.mustH, Cause: cause, UnservedWh: o.unservedWh,
			Hot: cause == ledger.ColdBarred && 2*o.hotWh > o.byCauseWh[cause],
		})
	}
	a := &out.Answer
	a.StartSOC = start.ChargeAh / capAh
	a.LowestSOC, a.LowestSOCTime = b.lowAh/capAh, p.at(b.lowAtH)
	a.HoursWithoutPower = b.lackH
	if d := out.Total[ledger.Demand]; d > 0 {
		a.UnservedShare = out.Total[ledger.Unserved] / d
	}
	for _, o := range out.Outages {
		if o.MustHaveHours > 0 {
			a.LongestOutageH = max(a.LongestOutageH, o.Hours)
		}
	}
	for i := range p.steps {
		if p.steps[i].acW > 0 {
			a.CoincidentPeakW = max(a.CoincidentPeakW, p.demand.ACOnW[i])
			a.CoincidentPeakVA = max(a.CoincidentPeakVA, p.demand.ACOnVA[i])
		}
	}
	a.CoincidentPeakW, a.CoincidentPeakVA = max(a.CoincidentPeakW, b.peakW), max(a.CoincidentPeakVA, b.peakVA)
	for _, l := range p.demand.PerLoad {
		out.Loads = append(out.Loads, ledger.LoadSum{Name: l.Name, Bus: l.Bus.String(), DemandWh: l.DemandWh})
	}
	if p.waiting != nil { // what their sessions did ask in this run
		for k := range p.waiting.loads {
			l := &p.waiting.loads[k]
			out.Loads[l.place].DemandWh += b.sessionWh[k] - float64(len(l.jobs))*l.EnergyWh
		}
	}
	out.Waited = p.waited(b)
	out.CountDays()
}
