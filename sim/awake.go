package sim

import (
	"fmt"
	"math"
	"strings"

	"tideover/loads"
	"tideover/sim/clock"
	"tideover/sim/inverter"
	"tideover/sim/limit"
)

// ask is what the AC loads ask, step by step, once the inverter's own rules have spoken: search, auto-off and ratings.
//
// All of it is worked out before the run, as though the battery never ran out: an inverter that an outage switched off is
// not taken to come back awake, nor its time under little load to start anew. Loads of a step are mean powers, so time
// inside a step is reckoned by three rules. What runs through the whole of it is on together with everything else; shorter
// uses come one after another, so that two of them never wake an inverter that neither wakes alone. What does not wake it
// gets its share of the time in which others do. A use that grows from this step to the next lies at the end of this one;
// one that is over in the next lies at the start.
type ask struct {
	acW    []float64 // at the load terminals, mean, when the battery serves all
	mustAC []bool    // some of it is must-have
	idleW  []float64 // no-load draw, search draw and the draw after auto-off, mean

	withheldW, mustWithheldShare []float64 // kept off by the user's own rule; share of the step for must-have loads, at most 1
	deadW, mustDeadShare         []float64 // lost to auto-off until someone comes: unserved
	offShare                     []float64 // of the step, off by auto-off; nil: never

	trips []inverter.Trip

	found *found  // by packs that wait; nil: none do
	small []small // parts that never wake the inverter alone

	notes, warnings []string
}

// small is a part that never wakes an inverter in search mode alone.
type small struct {
	name        string
	mostW       float64
	asksH, offH float64   // in the run, and of it kept off
	offInStepH  []float64 // kept off in each step; nil where no packs wait
}

// searchNote tells of them at a threshold of wakesAtW. wokenH, nil or one value each, is for how long of that packs which wait woke
// the inverter for them.
func searchNote(list []small, wakesAtW float64, wokenH []float64) string {
	var words []string
	for k, s := range list {
		off := s.offH
		if wokenH != nil {
			off = max(0, off-wokenH[k])
		}
		words = append(words, fmt.Sprintf("%s (%.3g W, kept off %.0f of %.0f h)", s.name, s.mostW, off, s.asksH))
	}
	return fmt.Sprintf("search mode: these never wake the inverter alone, at %s W: %s", limit.Plain(wakesAtW), strings.Join(words, ", "))
}

// attended reports whether a person is there when the load begins.
func attended(l *loads.Load) bool {
	return l.Kind == loads.Timetable || l.Kind == loads.Packs || l.Kind == loads.RandomUses
}

// part is a load or, apart from it, what it draws while it is not in use.
type part struct {
	load     *loads.Load
	standby  bool
	attended bool
	led      bool // begins only where its own standby has power: a lamp with a sensor

	meanW, onW, onVA, share []float64 // of each step; what the timetable withholds left out
}

func (k *part) name() string {
	if k.standby {
		return k.load.Name + " on standby"
	}
	return k.load.Name
}

// parts calls do with each part of each AC load.
func parts(at loads.Place, list []loads.Load, do func(*part)) {
	for i := range list {
		l := &list[i]
		if l.Bus != loads.AC {
			continue
		}
		one := func(l loads.Load) loads.Demand { return loads.Sum(at, []loads.Load{l}) }
		use := *l
		switch {
		case l.Kind == loads.MotionLight && l.StandbyW > 0:
			use.StandbyW = 0
			lamp := one(use)
			do(&part{load: l, led: true, meanW: lamp.ACW, onW: lamp.ACOnW, onVA: lamp.ACOnVA, share: lamp.ACShare})
			use = *l
			use.PowerW = 0
			sensor := one(use)
			do(&part{load: l, standby: true, meanW: sensor.ACW, onW: sensor.ACOnW, onVA: sensor.ACOnVA, share: sensor.ACShare})
		case l.Kind == loads.Packs && l.StandbyW > 0:
			use.StandbyW = 0
			charging, all := one(use), one(*l)
			do(&part{load: l, attended: true, meanW: charging.ACW, onW: charging.ACOnW, onVA: charging.ACOnVA, share: charging.ACShare})
			k := &part{load: l, standby: true, meanW: all.ACW, onW: all.ACOnW, onVA: all.ACOnVA, share: all.ACShare}
			mostW := float64(l.Chargers) * l.StandbyW
			for i := range k.meanW {
				w := k.meanW[i] - charging.ACW[i]
				if w < 1e-9*k.meanW[i] { // rounding
					w = 0
				}
				if k.onW[i] > 0 {
					k.onVA[i] *= mostW / k.onW[i] // they are of one plate
				}
				k.meanW[i], k.onW[i], k.share[i] = w, mostW, min(1, w/mostW)
			}
			do(k)
		default:
			d := one(*l)
			do(&part{load: l, attended: attended(l), meanW: d.ACW, onW: d.ACOnW, onVA: d.ACOnVA, share: d.ACShare})
		}
	}
}

const slackW = 1e-9 // of a sum of ratings

// watch finds the share of each step in which at least needW is asked.
type watch struct {
	needW  float64
	base   []float64 // W of what runs through the whole step
	counts func(*part) bool
	live   []float64 // share of the step in which the outlets are live by the timetable; nil: all
	share  []float64
}

func (w *watch) liveShare(i int) float64 {
	if w.live == nil {
		return 1
	}
	return w.live[i]
}

// through reports whether k runs through step i.
func (w *watch) through(k *part, i int) bool { return k.share[i] >= w.liveShare(i)-1e-9 }

func (w *watch) addBase(k *part) {
	if !w.counts(k) {
		return
	}
	for i, meanW := range k.meanW {
		if meanW > 0 && w.through(k, i) {
			w.base[i] += k.onW[i]
		}
	}
}

// enough reports whether k, with what runs through step i, asks what is needed.
func (w *watch) enough(k *part, i int) bool {
	if k.meanW[i] <= 0 || !w.counts(k) {
		return false
	}
	if w.through(k, i) {
		return w.base[i] >= w.needW-slackW
	}
	return w.base[i]+k.onW[i] >= w.needW-slackW
}

func (w *watch) addShare(k *part) {
	for i := range k.meanW {
		if w.enough(k, i) {
			w.share[i] = min(w.liveShare(i), w.share[i]+k.share[i])
		}
	}
}

// newAsk applies the rules of v, nil where there is none, to what the loads ask in sum. at and sum are those of all loads.
func newAsk(v *inverter.Inverter, at loads.Place, list []loads.Load, sum *loads.Demand) *ask {
	n := at.Clock.N
	a := &ask{acW: sum.ACW, mustAC: sum.MustAC, withheldW: sum.WithheldW, mustWithheldShare: sum.MustWithheldShare,
		idleW: make([]float64, n), deadW: make([]float64, n), mustDeadShare: make([]float64, n), trips: make([]inverter.Trip, n)}
	a.found = newFound(at, sum)
	if v == nil {
		return a
	}
	var live []float64
	if v.Mode == inverter.Timetable {
		live = v.When.Shares(at.Clock, nil)
	}
	for i := range n {
		on := 1.0
		switch {
		case live != nil:
			on = live[i]
		case v.Mode == inverter.OnDemand:
			on = sum.ACShare[i]
		}
		a.idleW[i] = v.IdleW * on
	}
	if a.found != nil && v.Mode == inverter.OnDemand {
		a.found.awake = sum.ACShare
	}
	if v.Mode == inverter.Search || v.GoesOff() {
		a.sleeps(v, at, list, live, sum.Jobs)
	}
	a.rate(v, at, list, sum)
	a.warnings = append(a.warnings, v.Warnings()...)
	if v.Wave == inverter.Modified {
		for i := range list {
			if l := &list[i]; l.Bus == loads.AC && l.NeedsPureSine {
				a.warnings = append(a.warnings, l.Name+" needs a pure sine and hangs on an inverter of modified wave: it may run hot or fail")
			}
		}
	}
	return a
}

// sleeps withholds what does not wake the inverter, and takes out what is lost to auto-off.
func (a *ask) sleeps(v *inverter.Inverter, at loads.Place, list []loads.Load, live []float64, waiting []loads.Job) {
	n, stepH := at.Clock.N, at.Clock.StepH()
	everything := func(*part) bool { return true }
	watching := func(needW float64, counts func(*part) bool) *watch {
		return &watch{needW, make([]float64, n), counts, live, make([]float64, n)}
	}
	searchW := 0.0
	if v.Mode == inverter.Search {
		searchW = v.WakesAtW
	}
	wakes := watching(searchW, everything)
	// What does not wake it takes nothing, so it cannot hold off auto-off either.
	busy := watching(max(v.AutoOffW, searchW), everything)
	comes := watching(busy.needW, func(k *part) bool { return k.attended })
	all := []*watch{wakes, busy, comes}
	parts(at, list, func(k *part) {
		for _, w := range all {
			w.addBase(k)
		}
	})
	parts(at, list, func(k *part) {
		for _, w := range all {
			if w != wakes || !k.led {
				w.addShare(k)
			}
		}
	})
	for _, j := range waiting { // who plugs them in sees to it that there is power
		if j.Bus == loads.AC && j.PluggedStep > 0 {
			for _, w := range []*watch{busy, comes} {
				w.share[j.PluggedStep] = min(w.liveShare(j.PluggedStep), w.share[j.PluggedStep]+1/float64(at.Clock.StepMin))
			}
		}
	}
	up := make([]float64, n)
	for i := range up {
		up[i] = 1
	}
	var offs int
	wasUp := make([]bool, n)
	if v.GoesOff() {
		offs = autoOff(v, at.Clock, live, busy.share, comes.share, up, wasUp)
		a.offShare = make([]float64, n)
	}
	seen := a.found
	if seen != nil {
		block := make([]float64, 4*n)
		seen.keptOffW, seen.mustKeptOff, seen.lostW, seen.mustLost = block[:n:n], block[n:2*n:2*n], block[2*n:3*n:3*n], block[3*n:]
		seen.throughW = wakes.base
		if v.Mode == inverter.Search {
			seen.awake = wakes.share
		}
		if v.GoesOff() {
			seen.up, seen.wasUp = up, wasUp
		}
	}
	for i := range n {
		liveShare := wakes.liveShare(i)
		awake := 1.0 // of the time that it is up
		if v.Mode == inverter.Search {
			awake = wakes.share[i]
			if up[i] > 0 && up[i] < 1 && comes.share[i] > 0 {
				awake = min(1, awake/up[i]) // it was woken, so all of it lies where it is up
			}
		}
		a.idleW[i] = liveShare * (up[i]*(awake*v.IdleW+(1-awake)*v.SearchW) + (1-up[i])*v.OffW)
		if a.offShare != nil {
			a.offShare[i] = liveShare * (1 - up[i])
		}
	}

	a.acW, a.mustAC = make([]float64, n), make([]bool, n)
	withheld, mustWithheld := a.withheldW, a.mustWithheldShare
	lost, mustLost := a.deadW, a.mustDeadShare
	if v.WakeAtMin > 0 { // by rule
		lost, mustLost = withheld, mustWithheld
	}
	lostWh := 0.0
	parts(at, list, func(k *part) {
		must := k.load.Priority == loads.MustHave
		missed := must && !(k.standby && k.load.Idles())
		offH, asksH, mostW := 0.0, 0.0, 0.0
		var offInStepH []float64
		if seen != nil {
			offInStepH = make([]float64, n)
		}
		for i, meanW := range k.meanW {
			if meanW <= 0 {
				continue
			}
			feels := 1.0 // the share of its energy that search lets through
			if v.Mode == inverter.Search {
				if k.led || !wakes.enough(k, i) {
					feels = wakes.share[i]
				}
				off := k.share[i] * (1 - feels) * stepH
				mostW, asksH, offH = max(mostW, k.onW[i]), asksH+k.share[i]*stepH, offH+off
				if seen != nil {
					offInStepH[i] = off
				}
			}
			has := up[i]
			if v.WakeAtMin == 0 && comes.enough(k, i) {
				has = 1 // it woke the inverter, or found it up
			}
			servedW := meanW * feels * has
			withheld[i] += meanW * (1 - feels)
			lost[i] += meanW * feels * (1 - has)
			if seen != nil {
				seen.keptOffW[i] += meanW * (1 - feels)
				seen.lostW[i] += meanW * feels * (1 - has)
			}
			lostWh += meanW * feels * (1 - has) * stepH
			a.acW[i] += servedW
			if must {
				a.mustAC[i] = a.mustAC[i] || servedW > 0
				off, lacks := k.share[i]*(1-feels), k.share[i]*feels*(1-has)
				if !missed { // by no rule; what is unserved counts
					off = 0
					if v.WakeAtMin > 0 {
						lacks = 0
					}
				}
				mustWithheld[i] = min(1, mustWithheld[i]+off)
				mustLost[i] = min(1, mustLost[i]+lacks)
				if seen != nil {
					seen.mustKeptOff[i] = min(1, seen.mustKeptOff[i]+off)
					seen.mustLost[i] = min(1, seen.mustLost[i]+lacks)
				}
			}
		}
		if mostW < v.WakesAtW && !k.led && offH > 0 {
			a.small = append(a.small, small{k.name(), mostW, asksH, offH, offInStepH})
		}
	})
	if len(a.small) > 0 {
		a.notes = append(a.notes, searchNote(a.small, v.WakesAtW, nil)) // the first of them
	}
	if v.GoesOff() {
		offH := 0.0
		for _, s := range a.offShare {
			offH += s * stepH
		}
		lost := fmt.Sprintf("%.3g kWh that was asked meanwhile is unserved, until someone comes to use a load of %s W or more", lostWh/1000, limit.Plain(busy.needW))
		switch {
		case lostWh == 0:
			lost = "nothing was asked meanwhile"
		case v.WakeAtMin > 0:
			lost = fmt.Sprintf("%.3g kWh that was asked meanwhile is withheld, until it wakes at %s", lostWh/1000, clock.TimeWord(v.WakeAtMin%(24*60)))
		}
		besides := ""
		if seen != nil {
			besides = ", and without the packs that wait"
		}
		a.notes = append(a.notes, fmt.Sprintf("auto-off after %s h under %s W: off for %.0f h in all, gone off %d times; %s (reckoned as "+
			"if the battery never ran out"+besides+")", limit.Plain(v.AutoOffH), limit.Plain(busy.needW), offH, offs, lost))
	}
}

// autoOff fills up with the share of each step's live time in which the inverter is not off by auto-off, and returns how
// often it went off. busy is the share of each step in which enough is asked to hold it on, comes that in which someone
// is there who asks as much. wasUp gets whether it is on as the step begins. The run is taken as a ring, so that its start is settled.
func autoOff(v *inverter.Inverter, c *clock.Clock, live, busy, comes, up []float64, wasUp []bool) (offs int) {
	n, stepH := c.N, c.StepH()
	if n == 0 {
		return 0
	}
	daily := make([]float64, n) // 1 + the place in the step at which it is woken by rule; 0: it is not
	if v.WakeAtMin > 0 {
		atMin := v.WakeAtMin % (24 * 60)
		t := clock.Timetable{Hours: []clock.Span{{From: atMin, To: atMin + 1}}}
		stepS := c.StepMin * 60
		for _, s := range t.Sessions(c) {
			if i := s.FromS / stepS; s.FromS >= 0 && i < n {
				daily[i] = 1 + float64(s.FromS%stepS)/float64(stepS)
			}
		}
	}
	off, quietH := false, 0.0
	step := func(i int) {
		wasUp[i] = !off
		h := stepH
		if live != nil {
			if live[i] == 0 { // the timetable switches it on anew
				off, quietH, up[i], wasUp[i] = false, 0, 1, true
				return
			}
			h *= live[i]
		}
		before, after := (i+n-1)%n, (i+1)%n
		from, to := 1.0, 1.0 // the busy part of the step, shares of it
		switch b := busy[i]; {
		case b == 0:
		case busy[before] == 0 && busy[after] > b:
			from = 1 - b/busy[after]
		case busy[after] == 0 && busy[before] > b:
			from, to = 0, b/busy[before]
		default:
			from = 0
		}
		up[i] = 0
		at := 0.0
		quiet := func(until float64) { // nothing holds it on from at to there
			if span := (until - at) * h; !off && quietH+span > v.AutoOffH+1e-9 {
				up[i] += max(0, v.AutoOffH-quietH) / h
				off = true
				offs++
			} else if !off {
				up[i] += until - at
				quietH += span
			}
			at = until
		}
		rests := func(until float64) {
			if d := daily[i] - 1; daily[i] > 0 && d >= at && d < until {
				quiet(d)
				if off {
					off, quietH = false, 0
				}
			}
			quiet(until)
		}
		rests(from)
		if from < to {
			if v.WakeAtMin == 0 && comes[i] > 0 {
				off = false
			}
			if d := daily[i] - 1; daily[i] > 0 && off && d >= at && d < to {
				at, off = d, false
			}
			if !off {
				quietH = 0
				up[i] += to - at
			}
			at = to
			rests(1)
		}
		up[i] = min(1, up[i])
	}
	for i := range n {
		step(i)
	}
	offs = 0
	for i := range n {
		step(i)
	}
	return offs
}

// rate holds the loads of each step against the ratings.
func (a *ask) rate(v *inverter.Inverter, at loads.Place, list []loads.Load, sum *loads.Demand) {
	n, stepMin := at.Clock.N, float64(at.Clock.StepMin)
	short := v.Rating30MinW > 0 || v.SurgeW > 0
	overMin := make([]float64, n) // at most, in the hour that ends with the step
	if short {
		// Without a use that it takes to be over the rating, nothing is: it is over for no longer than the shortest such.
		for i := range n {
			if v.Load(sum.ACOnW[i], sum.ACOnVA[i]) > v.RatedW {
				overMin[i] = stepMin
			}
		}
		parts(at, list, func(k *part) {
			for i, meanW := range k.meanW {
				if meanW > 0 && overMin[i] > 0 && v.Load(sum.ACOnW[i]-k.onW[i], sum.ACOnVA[i]-k.onVA[i]) <= v.RatedW {
					overMin[i] = min(overMin[i], k.share[i]*stepMin)
				}
			}
		})
		if a.found != nil {
			a.found.overMin(v, at, list, sum)
		}
		perHour := max(1, 60/at.Clock.StepMin)
		inStep := append([]float64(nil), overMin...)
		for i := range n {
			for j := 1; j < perHour && j <= i; j++ {
				overMin[i] += inStep[i-j]
			}
		}
	}
	var steps, times [inverter.OverSurge + 1]int // times: steps on end are once
	var mostW, longMin float64
	most, rating := "", ""
	for i, onW := range sum.ACOnW {
		if a.acW[i] <= 0 {
			continue
		}
		onVA := sum.ACOnVA[i]
		a.trips[i] = v.Trips(onW, onVA, max(onW, sum.ACStartW[i]), overMin[i])
		load := v.Load(onW, onVA)
		if load <= v.RatedW && a.trips[i] == inverter.Carried {
			continue // as most are
		}
		steps[a.trips[i]]++
		if i == 0 || a.trips[i-1] != a.trips[i] {
			times[a.trips[i]]++
		}
		if a.trips[i] != inverter.Carried {
			continue
		}
		if load > mostW {
			mostW = load
			if most, rating = fmt.Sprintf("%.0f W", onW), limit.Plain(v.RatedW)+" W"; load > onW {
				most, rating = fmt.Sprintf("%.0f VA", onVA), limit.Plain(max(v.RatedW, v.RatedVA))+" VA"
			}
		}
		longMin = max(longMin, overMin[i])
	}
	if !short {
		return
	}
	for why, count := range steps {
		h := float64(count) * stepMin / 60
		switch {
		case count == 0:
		case inverter.Trip(why) == inverter.Carried:
			a.notes = append(a.notes, fmt.Sprintf("inverter: in %.0f h the loads may ask up to %s at one moment, over its continuous "+
				"rating of %s: it carries them, as they do so for no more than %.0f minutes of an hour", h, most, rating, math.Ceil(longMin-1e-9)))
		default:
			a.notes = append(a.notes, fmt.Sprintf("inverter: %s, %s h in all, the loads together are %v: it trips", often(times[why]), limit.Plain(math.Round(10*h)/10), inverter.Trip(why)))
		}
	}
}

func often(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}
