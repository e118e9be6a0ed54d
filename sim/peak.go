package sim

import (
	"cmp"
	"slices"
	"time"

	"tideover/loads"
	"tideover/sim/inverter"
)

// Peak is the most that loads may draw at one moment of a run.
type Peak struct {
	ACW float64
	At  time.Time // start of the first step that has it, on the wall; zero where no AC load ever asks
	On  []Asking  // the AC loads that may ask in it, greatest first
	DCW float64   // of the DC loads, maybe at another moment
}

// Asking is one load and what it may draw at once, W.
type Asking struct {
	Load string
	OnW  float64
}

// Peak returns the coincident peak: what a timetable keeps off does not count.
func (p *Prepared) Peak() Peak {
	d := &p.demand
	peak := Peak{ACW: d.PeakACOnW}
	if len(d.DCOnW) > 0 {
		peak.DCW = slices.Max(d.DCOnW)
	}
	if peak.ACW == 0 {
		return peak
	}
	at := loads.Place{Clock: p.clock, DarkShare: p.above.darkShare}
	if v := p.sys.Inverter; v != nil && v.Mode == inverter.Timetable {
		at.ACOn = v.When.Stretches(p.clock)
	}
	peak.At = p.clock.StepStart(d.PeakACStep)
	for _, l := range p.sys.Loads {
		if l.Bus != loads.AC {
			continue
		}
		if w := loads.Sum(at, []loads.Load{l}).ACOnW[d.PeakACStep]; w > 0 {
			peak.On = append(peak.On, Asking{l.Name, w})
		}
	}
	slices.SortStableFunc(peak.On, func(a, b Asking) int { return cmp.Compare(b.OnW, a.OnW) })
	return peak
}
