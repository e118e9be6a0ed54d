package sim

import (
	"time"

	"tideover/loads"
	"tideover/sim/ledger"
)

const (
	beforeDays = 3  // of an outage, whose sun is looked at
	aroundDays = 15 // on either side of a day, whose mean is its usual sun
)

// Explain gives each outage of the run its chain, and adds a note of why the array did not start where much was lost to that. The run must be of p and hold its hours; it panics without: our bug.
// The days before the first of the run are its last where the charge was settled; where it began with a charge of its own, typed or
// of the year before, no more is looked at than the run holds.
func (p *Prepared) Explain(r *ledger.Run) {
	if r.Hours == nil {
		panic("sim: Explain: the run holds no hours")
	}
	if note := p.notStarted(r); note != "" {
		r.Notes = append(r.Notes, note)
	}
	if len(r.Outages) == 0 {
		return
	}
	n := len(p.steps)
	perDay := int(24/p.stepH + 0.5)
	ring := r.SettlePasses > 0
	first := func(i int) int { // of steps from i on, the first there is
		if ring {
			return i
		}
		return max(i, 0)
	}
	sum := func(column []float64, from, to int) float64 { // over steps, round the end of the run
		total := 0.0
		for i := from; i < to; i++ {
			total += column[((i%n)+n)%n]
		}
		return total
	}
	h := r.Hours
	var asks [][]float64 // of each load, W
	place := p.place(false)
	place.Defer = p.waiting != nil
	for k, l := range p.sys.Loads {
		d := loads.Sum(place, []loads.Load{l})
		if l.Bus == loads.AC {
			asks = append(asks, d.ACW)
		} else {
			asks = append(asks, d.DCW)
		}
		p.addSessions(r, k, asks[k])
	}
	heatW := p.heatBarredW(h)
	for k := range r.Outages {
		o := &r.Outages[k]
		at := int(o.Start.Sub(p.clock.StepStart(0)) / time.Duration(p.stepH*float64(time.Hour)))
		at = min(max(at, 0), n-1)
		from := first(at - beforeDays*perDay)
		c := &ledger.Chain{Days: float64(at-from) / float64(perDay), StartSOC: r.Answer.StartSOC, SunShare: 1}
		if ring || from > 0 {
			c.StartSOC = h.SOC[((from-1)%n+n)%n]
		}
		around := min(aroundDays*perDay, n/2)
		low := at - around
		if !ring {
			low = min(max(low, 0), n-2*around)
		}
		if usual := sum(p.light.planeWm2, low, low+2*around) / float64(2*around); at > from && usual > 0 {
			c.SunShare = sum(p.light.planeWm2, from, at) / (usual * float64(at-from))
		} else if at > from {
			c.SunShare = 0
		}
		standing := sum(h.FlowW[ledger.InverterIdle], from, at) + sum(h.FlowW[ledger.Standby], from, at)
		all := standing + sum(h.FlowW[ledger.Served], from, at) + sum(h.FlowW[ledger.InverterLoss], from, at)
		if all > 0 {
			c.StandingShare = standing / all
		}
		c.BarredWh = p.stepH * sum(h.FlowW[ledger.ChargeBarred], from, at)
		c.HeatWh = p.stepH * sum(heatW, from, at)
		c.Off = at > from && sum(h.FlowW[ledger.Served], from, at) == 0 && (all == 0 || sum(h.FlowW[ledger.Unserved], from, at) > 0)
		c.AsleepWh = p.stepH * sum(h.AsleepW, from, at)
		barredWh := p.stepH * sum(h.AsleepBarredW, from, at)
		c.AsleepBarred = barredWh > 0 && 2*barredWh > c.AsleepWh
		c.AsleepHot = c.AsleepBarred && p.bank.TooHot(sum(h.BatteryTempC, from, at)/float64(at-from))
		c.ClippedWh = p.stepH * sum(h.FlowW[ledger.Clipped], from, at)
		o.Chain = c
		if c.Off {
			continue
		}
		// A load is named that asked at least twice its mean in the last day, and a quarter of all that was asked.
		last := first(at + 1 - perDay)
		askedWh := p.stepH * sum(h.FlowW[ledger.Demand], last, at+1)
		for j, column := range asks {
			wh := p.stepH * sum(column, last, at+1)
			if meanWh := p.demand.PerLoad[j].DemandWh / (float64(n) * p.stepH) * 24; wh < 2*meanWh || wh < 0.25*askedWh || wh <= c.LoadWh {
				continue
			}
			c.Load, c.LoadWh = p.sys.Loads[j].Name, wh
			for i := last; i <= at; i++ {
				if column[((i%n)+n)%n] > 0 {
					c.LoadOn = p.clock.StepStart(((i % n) + n) % n).Weekday()
					break
				}
			}
		}
	}
}

// heatBarredW is what heat refused in each step, W at the module terminals.
func (p *Prepared) heatBarredW(h *ledger.Hours) []float64 {
	out := make([]float64, len(p.steps))
	for i, w := range h.FlowW[ledger.ChargeBarred] {
		if w > 0 && p.bank.TooHot(h.BatteryTempC[i]) {
			out[i] = w
		}
	}
	return out
}
