package sim

import (
	"cmp"
	"slices"
	"time"

	"tideover/loads"
)

// Peak is the most that loads may draw at one moment of a run.
type Peak struct {
	ACW float64
	At  time.Time // start of the first step that has it, on the wall; zero where no AC load ever asks
	On  []Asking  // the AC loads that may ask in it, greatest first
	DCW float64   // of the DC loads, maybe at another moment

	VA       float64 // the most volt-amperes of AC loads that no rule parts
	StartW   float64 // the most while one of them starts
	Starter  string  // which
	StartS   float64 // how long its start lasts
	RestartW float64 // all that may run at one moment start together, as after a cut
	LongW    float64 // the highest mean of the AC loads over three hours, what heats the inverter
	YearW    float64 // the most of the AC loads in the weather and the draw of lots of this run, packs that wait as when plugged in
}

// Asking is one load and what it may draw at once, W.
type Asking struct {
	Load string
	OnW  float64
}

// Peak returns the coincident peak: what a timetable keeps off does not count.
func (p *Prepared) Peak() Peak {
	d := &p.demand
	if p.waiting != nil { // with packs that wait as when they are plugged in
		now := loads.Sum(p.place(true), p.sys.Loads)
		d = &now
	}
	peak := Peak{ACW: d.PeakACOnW, DCW: maxOf(d.DCOnW)}
	if peak.ACW == 0 {
		return peak
	}
	at := p.Where()
	all := loads.Coincide(at, p.sys.Loads, loads.AC)
	peak.YearW, peak.ACW = d.PeakACOnW, max(d.PeakACOnW, all.RunW.Most)
	peak.VA, peak.StartW, peak.RestartW = all.RunVA.Most, max(all.StartW.Most, peak.ACW), all.RestartW.Most
	if k := all.StartW.Starter; k >= 0 {
		peak.Starter, peak.StartS = p.sys.Loads[k].Name, all.StartW.StartS
	}
	peak.LongW = longest(d.ACW, max(1, int(3/p.stepH+0.5)))
	peak.At = p.clock.StepStart(all.RunW.Step)
	for _, k := range all.RunW.On {
		l := p.sys.Loads[k]
		if w := loads.Coincide(at, []loads.Load{l}, loads.AC).RunW.Most; w > 0 {
			peak.On = append(peak.On, Asking{l.Name, w})
		}
	}
	slices.SortStableFunc(peak.On, func(a, b Asking) int { return cmp.Compare(b.OnW, a.OnW) })
	return peak
}

// longest is the highest mean of n values that follow each other, or of all where there are fewer.
func longest(w []float64, n int) (mean float64) {
	sum := 0.0
	for i := range w {
		sum += w[i]
		if i >= n {
			sum -= w[i-n]
		}
		mean = max(mean, sum/float64(min(n, len(w))))
	}
	return mean
}

// DCPeakW is the most that the DC loads may draw at one moment of the run.
func (p *Prepared) DCPeakW() float64 {
	return maxOf(p.demand.DCOnW)
}

func maxOf(w []float64) float64 {
	if len(w) == 0 {
		return 0
	}
	return slices.Max(w)
}

// Where is the place and time of the loads, with what the inverter's timetable keeps off.
func (p *Prepared) Where() loads.Place { return p.place(true) }

// Overloads is in how many steps the loads trip the inverter, or the battery's board, if they are on as the calendar and
// this run's lots have them.
func (p *Prepared) Overloads() int {
	n := 0
	for i := range p.steps {
		if st := &p.steps[i]; st.overload && st.acW > 0 {
			n++
		}
	}
	return n
}
