package loads

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"tideover/sim/clock"
)

// Place is where and when the loads are used, and how their demand is to be told.
type Place struct {
	Clock     *clock.Clock
	DarkShare []float64 // share of each step with the sun below the horizon, 0..1; one value a step
	AirC      []float64 // outside, mean of each step; nil: all that depends on it runs as at its DutyAtC
	Seed      uint64    // of what is drawn by lot

	// ACOn is when the AC bus is live by the user's own rule, in order and apart; what AC loads ask at other times is
	// withheld. nil: always.
	ACOn []clock.Stretch

	// ShedBelow withholds what all loads ask that are FirstToGo with a BelowSOC of this or more. 0: none.
	ShedBelow float64

	// Defer keeps what waiting packs charge out of the columns and tells it as Jobs. Without it they charge when they are
	// plugged in.
	Defer bool

	// AnyMoment is for ratings: what comes at moments drawn by lot or waited for may come at any that is allowed. Means are
	// then spread over those.
	AnyMoment bool
}

// LoadSum is one load over the run.
type LoadSum struct {
	Name       string
	Bus        Bus
	DemandWh   float64 // all that it asks, also what is withheld or put off
	StandbyWh  float64 // of that, while it is not used: a sensor, a full pack in its charger
	HoursInUse float64 // h in which it draws more than standby, sum of the shares of the steps
}

// Demand is what all loads ask, at their own terminals. Columns hold one value a step.
type Demand struct {
	ACW, DCW []float64 // mean power

	// Power while on, W, of all loads that may overlap within the step and that no NotWith parts; never below the mean.
	// Ratings, voltage sag and battery current go by it: short uses do coincide some day, and that day the inverter must
	// carry them. ACOnVA is the sum of their volt-amperes, as if all were equally out of step: at least the true one.
	ACOnW, DCOnW []float64
	ACOnVA       []float64

	// The same with one of the loads that may then be on at its start, the one that makes it the most, W.
	ACStartW, DCStartW []float64

	// ACShare is the share of the step, 0..1, in which some AC load asks: the sum of the shares of all, at most 1. For
	// time, unlike for ratings, short uses are taken to come one after another: most days they do, and it does not
	// flatter an inverter that runs only while a load asks.
	ACShare []float64

	MustAC, MustDC []bool // a must-have load asks within the step

	// What ACOn and ShedBelow keep off, mean power, and the share of the step in which ACOn does so to a must-have load:
	// the sum over such loads, at most 1, without the standby of one that Idles. The columns above hold none of it. WithheldDCW is the part of WithheldW that DC
	// loads ask; nil: none.
	WithheldW, MustWithheldShare []float64
	WithheldDCW                  []float64

	Jobs []Job // with Defer, in the order of the loads and of time

	PerLoad    []LoadSum // in the order of the loads
	PeakACOnW  float64   // the highest ACOnW
	PeakACStep int       // the first step that has it
}

// Levels returns each BelowSOC of the loads that are FirstToGo once, the highest first.
func Levels(list []Load) []float64 {
	var levels []float64
	for _, l := range list {
		if l.Priority == FirstToGo {
			levels = append(levels, l.BelowSOC)
		}
	}
	slices.SortFunc(levels, func(a, b float64) int { return cmp.Compare(b, a) })
	return slices.Compact(levels)
}

// SumLevels returns the demand with nothing shed, then with what is shed below each of Levels(list).
func SumLevels(p Place, list []Load) []Demand {
	p.ShedBelow = 0
	out := []Demand{Sum(p, list)}
	for _, p.ShedBelow = range Levels(list) {
		out = append(out, Sum(p, list))
	}
	return out
}

// slackS hides the rounding of sums of seconds: a piece of a step that is shorter is none.
const slackS = 1e-6

// Sum returns what the loads ask at p. A load that has faults by its Check gives no sensible demand.
// It panics when DarkShare does not hold one value of 0..1 for each step, or AirC one value for each: our bug.
func Sum(p Place, list []Load) Demand {
	d, buses := gather(p, list, noStep, onW, startW, onVA)
	for b := range buses {
		buses[b].overlap()
	}
	n := p.Clock.N
	ac, dc := &buses[AC], &buses[DC]
	d.ACW, d.ACShare, d.MustAC = ac.meanW, ac.share, ac.must
	d.DCW, d.MustDC = dc.meanW, dc.must
	d.ACOnW, d.ACOnVA, d.ACStartW = ac.on[onW], ac.on[onVA], ac.on[startW]
	d.DCOnW, d.DCStartW = dc.on[onW], dc.on[startW]
	if ac.apart != nil {
		for _, c := range [][]float64{d.ACOnW, d.ACOnVA, d.ACStartW} {
			atLeast(c, d.ACW)
		}
		for _, c := range [][]float64{d.DCOnW, d.DCStartW} {
			atLeast(c, d.DCW)
		}
	}
	for i := range n {
		d.ACShare[i] = min(1, d.ACShare[i])
		d.MustWithheldShare[i] = min(1, d.MustWithheldShare[i])
		if d.ACOnW[i] > d.PeakACOnW {
			d.PeakACOnW, d.PeakACStep = d.ACOnW[i], i
		}
	}
	return d
}

// atLeast lifts a column of ratings to the means, where loads ask for more time than rules leave them.
func atLeast(column, meanW []float64) {
	for i, w := range meanW {
		column[i] = max(column[i], w)
	}
}

// gather adds all loads to their buses, with columns of the ratings that are wanted; on the DC bus volt-amperes are watts
// and have none. With a step in only, or everyStep, the buses hold the parts of that step, or of all, and no ratings.
func gather(p Place, list []Load, only int, want ...int) (Demand, [2]bus) {
	n, stepS := p.Clock.N, float64(p.Clock.StepMin)*60
	if len(p.DarkShare) != n {
		panic(fmt.Sprintf("loads: Sum: %d dark shares for %d steps", len(p.DarkShare), n))
	}
	if p.AirC != nil && len(p.AirC) != n {
		panic(fmt.Sprintf("loads: Sum: %d air temperatures for %d steps", len(p.AirC), n))
	}
	for i, d := range p.DarkShare {
		if !(d >= 0 && d <= 1) {
			panic(fmt.Sprintf("loads: Sum: dark share of step %d is %v, want 0..1", i, d))
		}
	}
	var buses [2]bus
	apart, plates := rivals(list), platesOf(list)
	for b := range buses {
		buses[b] = bus{meanW: make([]float64, n), share: make([]float64, n), must: make([]bool, n),
			last: make([]int32, n), apart: apart, plates: plates, only: only}
		for _, r := range want {
			if r != onVA || Bus(b) == AC {
				buses[b].on[r] = make([]float64, n)
			}
		}
	}
	d := Demand{PerLoad: make([]LoadSum, len(list)), WithheldW: make([]float64, n), MustWithheldShare: make([]float64, n)}
	if p.ACOn != nil {
		buses[AC].rule = &rule{p.ACOn, d.WithheldW, d.MustWithheldShare}
	}
	for k := range list {
		l := &list[k]
		f := feeder{bus: &buses[l.Bus], n: n, stepS: stepS, mustHave: l.Priority == MustHave, load: int32(k)}
		f.plate, f.idles = plates[k], l.Idles()
		f.parted = only != noStep || apart != nil && apart[k] != nil
		if p.ShedBelow > 0 && l.Priority == FirstToGo && l.BelowSOC >= p.ShedBelow {
			f.shedW = [][]float64{d.WithheldW}
			if l.Bus == DC {
				if d.WithheldDCW == nil {
					d.WithheldDCW = make([]float64, n)
				}
				f.shedW = append(f.shedW, d.WithheldDCW)
			}
		}
		switch l.Kind {
		case AlwaysOn, Timetable:
			if l.When.Always() {
				f.steady(0, float64(n)*stepS, l.PowerW, l.OnMinutesPerHour/60)
				break
			}
			for _, s := range l.When.Stretches(p.Clock) {
				f.steady(float64(s.FromS), float64(s.ToS), l.PowerW, l.OnMinutesPerHour/60)
			}
		case DuskToDawn:
			f.dusk(p, l)
		case MotionLight:
			f.motion(p, l)
		case Packs:
			d.Jobs = f.packs(p, l, d.Jobs)
		case DutyCycle:
			f.dutyCycle(p, l)
		case RandomUses:
			f.random(p, l)
		case Profile:
			f.measured(p, l)
		}
		f.sum.Name, f.sum.Bus = l.Name, l.Bus
		d.PerLoad[k] = f.sum
	}
	return d, buses
}

// For gather, in place of a step.
const (
	noStep    = -1
	everyStep = -2
)

// bus gathers the loads of one bus.
type bus struct {
	meanW, share []float64
	must         []bool
	on           [4][]float64 // ratings of the loads that are on all through a step, or nil; after overlap, of all
	parts        []part       // of loads that are on for a part of a step, or that a NotWith parts from others
	last         []int32      // of each step: the place in parts of the one that came last, from 1; 0: none
	apart        [][]int32    // of each load: those of its bus that are never on with it; nil: no such rules
	plates       []plate      // of each load
	only         int          // the step whose parts are wanted, or everyStep, or noStep
	rule         *rule        // nil: the bus is live whenever it can be
}

// rule is when a bus is live, and what it is asked at other times.
type rule struct {
	on              []clock.Stretch
	meanW, mustTime []float64
}

// part is a part of a step in which a load may be on.
type part struct {
	before    int32 // the one that came before in the same step, as in last
	load      int32
	use       bool // not standby, which no rule keeps off
	aS, bS, w float64
}

// feeder adds one load to its bus. Seconds count from the start of the run.
type feeder struct {
	*bus
	n        int
	stepS    float64
	mustHave bool
	load     int32
	plate    plate
	parted   bool        // all of its use goes to parts
	shedW    [][]float64 // what takes all that it asks; nil: its bus does
	standby  bool        // what is added is not use
	idles    bool        // its standby does nothing: see Load.Idles
	sum      LoadSum
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
	f.count(meanW, share, bS-aS)
	if f.shedW != nil {
		for _, w := range f.shedW {
			w[i] += meanW * (bS - aS) / f.stepS
		}
		return
	}
	if f.rule == nil {
		f.book(i, aS, bS, onW, meanW, share)
		return
	}
	off := func(fromS, toS float64) {
		if part := (toS - fromS) / f.stepS; part > 0 {
			f.rule.meanW[i] += meanW * part
			if f.mustHave && !(f.standby && f.idles) {
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

// count adds to the sums of the load.
func (f *feeder) count(meanW, share, spanS float64) {
	wh := meanW * spanS / 3600
	f.sum.DemandWh += wh
	if f.standby {
		f.sum.StandbyWh += wh
	} else {
		f.sum.HoursInUse += share * spanS / 3600
	}
}

func (f *feeder) book(i int, aS, bS, w, meanW, share float64) {
	time := (bS - aS) / f.stepS
	f.meanW[i] += meanW * time
	f.share[i] += share * time
	f.must[i] = f.must[i] || f.mustHave
	if time >= 1 && (f.standby || !f.parted) && f.only == noStep {
		for k, v := range ratingsOf(w, f.plate, !f.standby) {
			switch column := f.on[k]; {
			case column == nil:
			case k == startW:
				column[i] = max(column[i], v)
			default:
				column[i] += v
			}
		}
	} else if f.only < 0 || f.only == i {
		f.parts = append(f.parts, part{f.last[i], f.load, !f.standby, aS, bS, w})
		f.last[i] = int32(len(f.parts))
	}
}

// steady adds the same power from fromS to toS.
func (f *feeder) steady(fromS, toS, powerW, share float64) {
	// Whole steps in which the bus is live are all alike.
	first, last := int(math.Ceil(max(fromS, 0)/f.stepS)), min(f.n, int(toS/f.stepS))
	if meanW := powerW * share; meanW > 0 && f.rule == nil && f.shedW == nil && !f.parted && first < last {
		f.count(meanW, share, float64(last-first)*f.stepS)
		mean, time, must := f.meanW[first:last], f.share[first:last], f.must[first:last]
		for k, v := range ratingsOf(powerW, f.plate, !f.standby) {
			switch {
			case f.on[k] == nil:
			case k == startW:
				for i, was := range f.on[k][first:last] {
					f.on[k][first+i] = max(was, v)
				}
			default:
				for i := range f.on[k][first:last] {
					f.on[k][first+i] += v
				}
			}
		}
		for i := range mean {
			mean[i] += meanW
			time[i] += share
			must[i] = must[i] || f.mustHave
		}
		f.steady(fromS, float64(first)*f.stepS, powerW, share)
		f.steady(float64(last)*f.stepS, toS, powerW, share)
		return
	}
	f.pieces(fromS, toS, func(i int, aS, bS float64) { f.add(i, aS, bS, powerW, powerW*share, share) })
}
