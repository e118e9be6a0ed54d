package loads

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tideover/sim/clock"
)

// Place is where and when the loads are used.
type Place struct {
	Clock     *clock.Clock
	DarkShare []float64 // share of each step with the sun below the horizon, 0..1; one value a step

	// ACOn is when the AC bus is live by the user's own rule, in order and apart; what AC loads ask at other times is
	// withheld. nil: always.
	ACOn []clock.Stretch
}

// LoadSum is one load over the run.
type LoadSum struct {
	Name     string
	Bus      Bus
	DemandWh float64
}

// Demand is what all loads ask, at their own terminals. Columns hold one value a step.
type Demand struct {
	ACW, DCW []float64 // mean power

	// Power while on, W, of all loads that may overlap within the step; never below the mean. Ratings, voltage sag and
	// battery current go by it: short uses do coincide some day, and that day the inverter must carry them.
	ACOnW, DCOnW []float64

	// ACShare is the share of the step, 0..1, in which some AC load asks: the sum of the shares of all, at most 1. For
	// time, unlike for ratings, short uses are taken to come one after another: most days they do, and it does not
	// flatter an inverter that runs only while a load asks.
	ACShare []float64

	MustAC, MustDC []bool // a must-have load asks within the step

	// What ACOn keeps off, mean power, and the share of the step in which it does so to a must-have load: the sum over
	// such loads, at most 1. The columns above hold none of it.
	WithheldW, MustWithheldShare []float64

	PerLoad    []LoadSum // in the order of the loads
	PeakACOnW  float64   // the highest ACOnW
	PeakACStep int       // the first step that has it
}

// slackS hides the rounding of sums of seconds: a piece of a step that is shorter is none.
const slackS = 1e-6

// Sum returns what the loads ask at p. A load that has faults by its Check gives no sensible demand.
// It panics when DarkShare does not hold one value of 0..1 for each step: our bug.
func Sum(p Place, list []Load) Demand {
	n, stepS := p.Clock.N, float64(p.Clock.StepMin)*60
	if len(p.DarkShare) != n {
		panic(fmt.Sprintf("loads: Sum: %d dark shares for %d steps", len(p.DarkShare), n))
	}
	for i, d := range p.DarkShare {
		if !(d >= 0 && d <= 1) {
			panic(fmt.Sprintf("loads: Sum: dark share of step %d is %v, want 0..1", i, d))
		}
	}
	var buses [2]bus
	for b := range buses {
		buses[b] = bus{meanW: make([]float64, n), onW: make([]float64, n), share: make([]float64, n), must: make([]bool, n), last: make([]int32, n)}
	}
	d := Demand{PerLoad: make([]LoadSum, len(list)), WithheldW: make([]float64, n), MustWithheldShare: make([]float64, n)}
	if p.ACOn != nil {
		buses[AC].rule = &rule{p.ACOn, d.WithheldW, d.MustWithheldShare}
	}
	for k, l := range list {
		f := feeder{bus: &buses[l.Bus], n: n, stepS: stepS, mustHave: l.Priority == MustHave}
		switch l.Kind {
		case AlwaysOn:
			f.steady(0, float64(n)*stepS, l.PowerW, l.OnMinutesPerHour/60)
		case Timetable:
			for _, s := range l.When.Stretches(p.Clock) {
				f.steady(float64(s.FromS), float64(s.ToS), l.PowerW, l.OnMinutesPerHour/60)
			}
		case DuskToDawn:
			f.dusk(p, l)
		case MotionLight:
			f.motion(p, l)
		case Packs:
			f.packs(p, l)
		}
		d.PerLoad[k] = LoadSum{l.Name, l.Bus, f.demandWh}
	}
	for b := range buses {
		buses[b].overlap()
	}
	ac, dc := &buses[AC], &buses[DC]
	d.ACW, d.ACOnW, d.ACShare, d.MustAC = ac.meanW, ac.onW, ac.share, ac.must
	d.DCW, d.DCOnW, d.MustDC = dc.meanW, dc.onW, dc.must
	for i := range n {
		d.ACShare[i] = min(1, d.ACShare[i])
		d.MustWithheldShare[i] = min(1, d.MustWithheldShare[i])
		if d.ACOnW[i] > d.PeakACOnW {
			d.PeakACOnW, d.PeakACStep = d.ACOnW[i], i
		}
	}
	return d
}

// bus gathers the loads of one bus.
type bus struct {
	meanW, onW, share []float64
	must              []bool
	parts             []part  // of loads that are on for a part of a step
	last              []int32 // of each step: the place in parts of the one that came last, from 1; 0: none
	rule              *rule   // nil: the bus is live whenever it can be
}

// part is a part of a step in which a load may be on.
type part struct {
	before    int32 // the one that came before in the same step, as in last
	aS, bS, w float64
}

// overlap adds to each step the most power that its parts may draw at one moment.
func (b *bus) overlap() {
	var here []part // few, so that all may be held against all
	for i, k := range b.last {
		if k == 0 {
			continue
		}
		for here = here[:0]; k != 0; k = b.parts[k-1].before {
			here = append(here, b.parts[k-1])
		}
		var mostW, at float64
		for j := range here { // the most is drawn where some load begins
			if j > 0 && here[j].aS == at {
				continue
			}
			at = here[j].aS
			var nowW float64
			for k := range here {
				if here[k].aS <= at && at < here[k].bS {
					nowW += here[k].w
				}
			}
			mostW = max(mostW, nowW)
		}
		b.onW[i] += mostW
	}
}

// rule is when a bus is live, and what it is asked at other times.
type rule struct {
	on              []clock.Stretch
	meanW, mustTime []float64
}

// feeder adds one load to its bus. Seconds count from the start of the run.
type feeder struct {
	*bus
	n        int
	stepS    float64
	mustHave bool
	demandWh float64
}

// pieces calls do with the parts that the steps cut from fromS..toS; what lies outside the run is left out.
func (f *feeder) pieces(fromS, toS float64, do func(i int, aS, bS float64)) {
	fromS = max(fromS, 0)
	for i := int(fromS / f.stepS); i < f.n; i++ {
		a, b := max(fromS, float64(i)*f.stepS), min(toS, float64(i+1)*f.stepS)
		if b-a >= slackS {
			do(i, a, b)
		}
		if b >= toS {
			return
		}
	}
}

// add books a piece of step i in which the load may draw onW at any moment, does so for the given share, and draws meanW.
func (f *feeder) add(i int, aS, bS, onW, meanW, share float64) {
	if meanW <= 0 || bS-aS < slackS {
		return
	}
	f.demandWh += meanW * (bS - aS) / 3600
	if f.rule == nil {
		f.book(i, aS, bS, onW, meanW, share)
		return
	}
	off := func(fromS, toS float64) {
		if part := (toS - fromS) / f.stepS; part > 0 {
			f.rule.meanW[i] += meanW * part
			if f.mustHave {
				f.rule.mustTime[i] += part
			}
		}
	}
	at := aS
	k, _ := slices.BinarySearchFunc(f.rule.on, aS, func(s clock.Stretch, atS float64) int {
		return cmp.Compare(float64(s.ToS), atS)
	})
	for ; k < len(f.rule.on) && float64(f.rule.on[k].FromS) < bS; k++ {
		fromS, toS := max(at, float64(f.rule.on[k].FromS)), min(bS, float64(f.rule.on[k].ToS))
		off(at, fromS)
		if toS > fromS {
			f.book(i, fromS, toS, onW, meanW, share)
		}
		at = max(at, toS)
	}
	off(at, bS)
}

func (f *feeder) book(i int, aS, bS, onW, meanW, share float64) {
	time := (bS - aS) / f.stepS
	f.meanW[i] += meanW * time
	f.share[i] += share * time
	f.must[i] = f.must[i] || f.mustHave
	if time >= 1 {
		f.onW[i] += onW
	} else {
		f.parts = append(f.parts, part{f.last[i], aS, bS, onW})
		f.last[i] = int32(len(f.parts))
	}
}

// steady adds the same power from fromS to toS.
func (f *feeder) steady(fromS, toS, powerW, share float64) {
	// Whole steps in which the bus is live are all alike.
	first, last := int(math.Ceil(max(fromS, 0)/f.stepS)), min(f.n, int(toS/f.stepS))
	if meanW := powerW * share; meanW > 0 && f.rule == nil && first < last {
		f.demandWh += meanW * float64(last-first) * f.stepS / 3600
		mean, on, time, must := f.meanW[first:last], f.onW[first:last], f.share[first:last], f.must[first:last]
		for i := range mean {
			mean[i] += meanW
			on[i] += powerW
			time[i] += share
			must[i] = must[i] || f.mustHave
		}
		f.steady(fromS, float64(first)*f.stepS, powerW, share)
		f.steady(float64(last)*f.stepS, toS, powerW, share)
		return
	}
	f.pieces(fromS, toS, func(i int, aS, bS float64) { f.add(i, aS, bS, powerW, powerW*share, share) })
}

// darkPiece returns the dark part of step i. It lies at the end of a step in which dusk falls (the next step is darker than
// the one before), at the start of others.
func (f *feeder) darkPiece(dark []float64, i int) (aS, bS float64) {
	d := dark[i]
	aS, bS = float64(i)*f.stepS, float64(i+1)*f.stepS
	if d == 1 {
		return aS, bS
	}
	before, after := dark[max(i-1, 0)], dark[min(i+1, len(dark)-1)]
	if after > before {
		return bS - d*f.stepS, bS
	}
	return aS, aS + d*f.stepS
}

// dusk adds a light that burns while it is dark and its timetable is on.
func (f *feeder) dusk(p Place, l Load) {
	for _, s := range l.When.Stretches(p.Clock) {
		f.pieces(float64(s.FromS), float64(s.ToS), func(i int, aS, bS float64) {
			fromS, toS := f.darkPiece(p.DarkShare, i)
			f.add(i, max(aS, fromS), min(bS, toS), l.PowerW, l.PowerW, 1)
		})
	}
}

// motion adds a motion light: each night's visits are spread evenly over its dark hours, as they come at no set time.
// A night runs from noon to noon on the wall; of one that the run cuts, the visits are cut in proportion.
func (f *feeder) motion(p Place, l Load) {
	if l.StandbyInDaylight {
		f.steady(0, float64(f.n)*f.stepS, l.StandbyW, 1)
	}
	noonToNoon := clock.Timetable{Hours: []clock.Span{{From: 12 * 60, To: 36 * 60}}}
	next := 0
	for _, night := range noonToNoon.Sessions(p.Clock) {
		first := next
		var darkS float64
		for ; next < f.n && (float64(next)+0.5)*f.stepS < float64(night.ToS); next++ {
			darkS += p.DarkShare[next] * f.stepS
		}
		inRunS := min(float64(night.ToS), float64(f.n)*f.stepS) - float64(max(night.FromS, 0))
		litS := l.VisitsPerNight * l.MinutesPerVisit * 60 * inRunS / float64(night.ToS-night.FromS)
		for i := first; i < next; i++ {
			if p.DarkShare[i] == 0 {
				continue
			}
			lit := min(1, litS/darkS) // a short night may be too short for them all
			aS, bS := f.darkPiece(p.DarkShare, i)
			f.add(i, aS, bS, l.PowerW, l.PowerW*lit, lit)
			if !l.StandbyInDaylight {
				f.add(i, aS, bS, l.StandbyW, l.StandbyW, 1)
			}
		}
	}
}

// packs adds chargers that take one pack after another from the moment they are plugged in, the next at once when one is
// full, then stand by. What is not full when they are unplugged is not asked for.
func (f *feeder) packs(p Place, l Load) {
	c := l.charge()
	t := clock.Timetable{Days: l.When.Days, Hours: []clock.Span{l.plugged()}, Season: l.When.Season}
	sessions := t.Sessions(p.Clock)
	runS := float64(f.n) * f.stepS

	// Some chargers take one pack more than the others; all of them draw together, so time is counted once.
	share := 1.0
	for _, group := range [2]struct{ chargers, packs int }{
		{l.Count % l.Chargers, l.Count/l.Chargers + 1},
		{l.Chargers - l.Count%l.Chargers, l.Count / l.Chargers},
	} {
		if group.chargers == 0 || group.packs == 0 {
			continue
		}
		many := float64(group.chargers)
		standby := func(fromS, toS float64) {
			f.pieces(fromS, toS, func(i int, aS, bS float64) { f.add(i, aS, bS, many*l.StandbyW, many*l.StandbyW, share) })
		}
		var idleS float64 // where the last session left off
		for _, s := range sessions {
			startS, endS := float64(s.FromS), float64(s.ToS)
			if l.UnplugMin == Never {
				standby(idleS, startS)
			}
			for range group.packs {
				f.pieces(startS, min(startS+c.lengthS(), endS), func(i int, aS, bS float64) {
					meanW := 3600 * (c.drawnWh(bS-startS) - c.drawnWh(aS-startS)) / (bS - aS)
					// Rounding may lift the mean of a flat stretch above the power itself.
					f.add(i, aS, bS, many*max(c.powerAtW(aS-startS), meanW), many*meanW, share)
				})
				startS = min(startS+c.lengthS(), endS)
			}
			if idleS = startS; l.UnplugMin != Never {
				standby(startS, endS)
			}
		}
		if l.UnplugMin == Never {
			standby(idleS, runS)
		}
		share = 0
	}
}
