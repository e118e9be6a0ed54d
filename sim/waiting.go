package sim

import (
	"math"
	"slices"

	"tideover/loads"
	"tideover/sim/battery"
	"tideover/sim/inverter"
	"tideover/sim/ledger"
)

// MostWaiting is how many loads of packs may wait in one system: what they do is part of the state, which does not grow.
const MostWaiting = 16

// session is how far the packs of a load that waits are.
type session struct {
	Plugged bool  // in, and not begun
	Asked   int16 // step of their charging, from 1; 0: none
}

// waiting is the loads that wait, made ready. What they ask comes on top of the steps.
type waiting struct {
	loads        []waiter
	v            *inverter.Inverter // nil: none
	live         []float64          // share of each step in which the timetable has it on; nil: all
	searchW      float64            // what wakes it; 0: nothing is needed
	busyW        float64            // what holds off auto-off
	levels       []found            // with no load left off, and at each level of shedding
	acOhm, dcOhm float64            // of the cables to the loads, over the square of the nominal voltage
	cableOhm     float64            // of that to the inverter
	mostW        float64            // of the battery's board; 0: no limit
	stepH        float64
	small        []small
}

// waiter is one load that waits.
type waiter struct {
	place        int // in the list of loads
	name         string
	ac, mustHave bool
	shedAt       int8    // level of shedding at which it is left off
	waitAh       float64 // 0: for sun
	rivals       uint16  // others that wait and are never on with it
	apart        bool    // it has rivals among all loads
	due          []int32 // of each step in which packs may be plugged in: 1 + that in which they must begin; 0: none are
	jobs         []loads.Job
	*loads.Charging
}

// found is what a session finds in each step: what the other loads may draw at one moment, and what the inverter does.
type found struct {
	ratings
	beside []*ratings // of each waiter that has rivals: without them; else nil

	awake              []float64 // on demand, search: share of the time in which it is awake; nil: all
	up                 []float64 // share in which it has not gone off by auto-off; nil: all
	wasUp              []bool    // it has not as the step begins
	throughW           []float64 // what runs through the whole step
	keptOffW, lostW    []float64 // what the others ask in vain, as it sleeps or is off
	mustKeptOff        []float64 // the share of the step in which must-have loads do
	mustLost           []float64
	shortMin, mostJobW []float64 // see overMin
	mostJobVA          []float64
}

// ratings are columns of a loads.Demand.
type ratings struct{ onW, onVA, startW, dcOnW []float64 }

func ratingsOf(d *loads.Demand) ratings { return ratings{d.ACOnW, d.ACOnVA, d.ACStartW, d.DCOnW} }

// newFound returns what sum says, or nil where nothing waits.
func newFound(at loads.Place, sum *loads.Demand) *found {
	if !at.Defer {
		return nil
	}
	o := &found{ratings: ratingsOf(sum)}
	o.mostJobW, o.mostJobVA = mostAtOnce(sum.Jobs, at.Clock.N)
	return o
}

// mostAtOnce is the most that sessions on the AC bus may draw in each step, W and VA.
func mostAtOnce(jobs []loads.Job, n int) (mostW, mostVA []float64) {
	mostW, mostVA = make([]float64, n), make([]float64, n)
	for _, j := range jobs {
		if j.Bus != loads.AC {
			continue
		}
		w, va := slices.Max(j.OnW), slices.Max(j.OnVA)
		for i := j.PluggedStep; i < min(n, j.DeadlineStep+len(j.OnW)); i++ {
			mostW[i] += w
			mostVA[i] += va
		}
	}
	return mostW, mostVA
}

// overMin finds for how long the use that takes a step over the rating lasts, should sessions run in it: it is over for no
// longer than the shortest without which it would not be. More may run than do, which lengthens it.
func (o *found) overMin(v *inverter.Inverter, at loads.Place, list []loads.Load, sum *loads.Demand) {
	stepMin := float64(at.Clock.StepMin)
	o.shortMin = make([]float64, at.Clock.N)
	for i := range o.shortMin {
		o.shortMin[i] = stepMin
	}
	parts(at, list, func(k *part) {
		for i, meanW := range k.meanW {
			if meanW > 0 && v.Load(sum.ACOnW[i]+o.mostJobW[i]-k.onW[i], sum.ACOnVA[i]+o.mostJobVA[i]-k.onVA[i]) <= v.RatedW {
				o.shortMin[i] = min(o.shortMin[i], k.share[i]*stepMin)
			}
		}
	})
}

// Waits reports how many of the loads may put off their charging.
func Waits(list []loads.Load) (n int) {
	for i := range list {
		if list[i].Waits() {
			n++
		}
	}
	return n
}

// newWaiting makes the loads that wait ready; first is what is found with nothing shed.
func (p *Prepared) newWaiting(at loads.Place, d *loads.Demand, first *found) *waiting {
	list, v := p.sys.Loads, p.sys.Inverter
	w := &waiting{v: v, stepH: p.stepH, mostW: p.bank.MaxDischargeA * p.bank.NominalV}
	vv := p.bank.NominalV * p.bank.NominalV
	w.cableOhm = p.sys.InverterCable.ResistanceOhm()
	w.acOhm, w.dcOhm = w.cableOhm/vv, p.sys.DCCable.ResistanceOhm()/vv
	if v != nil {
		if v.Mode == inverter.Timetable {
			w.live = v.When.Shares(p.clock, nil)
		}
		if v.Mode == inverter.Search {
			w.searchW = v.WakesAtW
		}
		w.busyW = max(w.searchW, v.AutoOffW)
	}
	for k := range list {
		l := &list[k]
		if !l.Waits() {
			continue
		}
		x := waiter{place: k, name: l.Name, ac: l.Bus == loads.AC, mustHave: l.Priority == loads.MustHave, shedAt: math.MaxInt8,
			due: make([]int32, p.clock.N)}
		if l.WaitForSOC > 0 {
			x.waitAh = min(l.WaitForSOC*p.capAh, p.countsAh) * (1 - lowTol)
		}
		if l.Priority == loads.FirstToGo {
			x.shedAt = int8(1 + slices.Index(loads.Levels(list), l.BelowSOC))
		}
		for _, j := range d.Jobs {
			if j.Load != k {
				continue
			}
			x.jobs, x.Charging = append(x.jobs, j), j.Charging
			for i := j.PluggedStep; i <= j.DeadlineStep; i++ {
				x.due[i] = int32(j.DeadlineStep) + 1
			}
		}
		if x.Charging == nil {
			x.Charging = &loads.Charging{} // it may still go on from the run before
		}
		w.loads = append(w.loads, x)
	}
	for a := range w.loads {
		for b := range w.loads {
			if apart(&list[w.loads[a].place], &list[w.loads[b].place]) {
				w.loads[a].rivals |= 1 << b
			}
		}
		x := &w.loads[a]
		x.apart = slices.ContainsFunc(list, func(l loads.Load) bool { return apart(&list[x.place], &l) })
	}
	w.level(at, list, first)
	return w
}

// apart reports whether a rule keeps two loads of one bus apart.
func apart(a, b *loads.Load) bool {
	return a.Bus == b.Bus && (slices.Contains(a.NotWith, b.Name) || slices.Contains(b.NotWith, a.Name))
}

// level adds what is found with the loads that are kept.
func (w *waiting) level(at loads.Place, kept []loads.Load, o *found) {
	for k := range w.loads {
		if !w.loads[k].apart {
			o.beside = append(o.beside, nil)
			continue
		}
		i := slices.IndexFunc(kept, func(l loads.Load) bool { return l.Name == w.loads[k].name })
		if i < 0 { // it is left off itself
			o.beside = append(o.beside, nil)
			continue
		}
		d := loads.Sum(at, slices.DeleteFunc(slices.Clone(kept), func(l loads.Load) bool { return apart(&kept[i], &l) }))
		r := ratingsOf(&d)
		o.beside = append(o.beside, &r)
	}
	// What is lost only as other loads are left off is withheld with them, and stays so.
	if len(w.levels) > 0 && o.lostW != nil {
		all := &w.levels[0]
		for i := range o.lostW {
			o.keptOffW[i], o.lostW[i] = min(o.keptOffW[i], all.keptOffW[i]), min(o.lostW[i], all.lostW[i])
			o.mustKeptOff[i], o.mustLost[i] = min(o.mustKeptOff[i], all.mustKeptOff[i]), min(o.mustLost[i], all.mustLost[i])
		}
	}
	w.levels = append(w.levels, *o)
}

// begun is the beginning of a session.
type begun struct {
	step int32
	load int8 // among those that wait
	due  bool // it began because it had to
}

// extra is what sessions add to a step.
type extra struct {
	up, sessionUp float64 // share of the step in which auto-off leaves the inverter on, and sessions with it
	shed          int8    // as the step begins
	backW         float64 // of others, lost to auto-off before the run, and served, as sessions hold it off

	// Of each turn.
	askedW, acAskedW float64
	withheldW        float64 // what was withheld before the run and is not is taken off it
	ruleShare        float64 // of the step, in which must-have loads are kept off by rule, the same
	lostW, mustLost  float64 // to auto-off; share of the step for must-have sessions
	onW, share       float64 // of sessions on the AC bus
	peakW, peakVA    float64 // of all AC loads at one moment
	woken            float64 // share of what search keeps off in the step, that sessions wake the inverter for
}

// add returns a step, in, with what the sessions ask in it; own is room for it. It fills x from askedW on.
func (w *waiting) add(p *Plant, st *State, in, own *step, i int, x *extra) *step {
	*x = extra{up: x.up, sessionUp: x.sessionUp, shed: x.shed, backW: x.backW}
	level, shed := st.Shed, st.Shed
	if in.carried {
		level = 0
	}
	if x.sessionUp < 1 {
		shed = x.shed // what is lost to auto-off is booked for the whole step
	}
	o := &w.levels[level]
	live := 1.0
	if w.live != nil {
		live = w.live[i]
	}
	var acW, dcW, startW float64
	var free, tied, rest atOnce
	var mustAC, mustDC bool
	var mustOff, mustShare float64 // shares of the step
	running := false
	for k := range w.loads {
		c := int(st.Sessions[k].Asked) - 1
		if c < 0 {
			continue
		}
		l := &w.loads[k]
		running = true
		meanW := l.MeanW[c]
		x.askedW += meanW
		if l.ac {
			x.acAskedW += meanW
		}
		r, beside := &free, o.beside[k]
		if beside != nil {
			r = &tied
		}
		switch {
		case in.carried:
			x.withheldW += meanW
			if l.mustHave {
				mustOff = 1
			}
			continue
		case l.shedAt <= shed:
			x.withheldW += meanW
			continue
		case !l.ac:
			dcW += meanW
			mustDC = mustDC || l.mustHave
			r.dcOnW += l.OnW[c]
			if beside != nil {
				rest.dcOnW = max(rest.dcOnW, beside.dcOnW[i])
			}
			continue
		}
		x.withheldW += meanW * (1 - live)
		if l.mustHave {
			mustOff += l.Share[c] * (1 - live)
		}
		if live == 0 {
			continue
		}
		acW += meanW * live
		mustAC = mustAC || l.mustHave
		if l.mustHave {
			mustShare += l.Share[c] * live
		}
		x.share = min(1, x.share+l.Share[c])
		x.onW += l.OnW[c]
		startW = max(startW, l.StartW)
		r.onW, r.onVA = r.onW+l.OnW[c], r.onVA+l.OnVA[c]
		if beside != nil {
			rest.onW, rest.onVA, rest.startW = max(rest.onW, beside.onW[i]), max(rest.onVA, beside.onVA[i]), max(rest.startW, beside.startW[i])
		}
	}
	held := o.up != nil && x.up > o.up[i]
	if !running && !held {
		return in
	}
	*own = *in
	own.dcW += dcW
	own.mustDC = in.mustDC || mustDC
	dcOnW := max(o.dcOnW[i], rest.dcOnW+tied.dcOnW) + free.dcOnW
	if dcW > 0 {
		own.dcWireW = float32(w.dcOhm * own.dcW * max(own.dcW, dcOnW))
	}
	own.peakW += float32(dcOnW - o.dcOnW[i])
	if w.v == nil || acW == 0 && !held {
		x.ruleShare = mustOff
		return own
	}

	// What the inverter is woken for others have too.
	awake, feels, more := 1.0, 1.0, 0.0
	if o.awake != nil {
		was := o.awake[i]
		if awake = was; acW > 0 && o.throughAnd(x.onW, i) < w.searchW-slackW {
			feels = was
		} else if awake = min(1, was+x.share); awake > was {
			more = (awake - was) / (1 - was)
		}
	}
	x.woken = more
	if more > 0 && o.keptOffW != nil {
		own.acW += more * o.keptOffW[i]
		x.withheldW -= more * o.keptOffW[i]
		x.ruleShare -= more * o.mustKeptOff[i]
		mustAC = mustAC || o.mustKeptOff[i] > 0
	}
	x.withheldW += acW * (1 - feels)
	x.ruleShare += mustOff + mustShare*(1-feels)
	x.lostW, x.mustLost = acW*feels*(1-x.sessionUp), mustShare*feels*(1-x.sessionUp)
	own.acW += acW*feels*x.sessionUp + x.backW
	own.mustAC = in.mustAC || mustAC && feels*x.sessionUp > 0 || x.backW > 0 && o.mustLost[i] > 0
	asleepW := 0.0
	if w.v.Mode == inverter.Search {
		asleepW = w.v.SearchW
	}
	own.idleW = live * (x.up*(awake*w.v.IdleW+(1-awake)*asleepW) + (1-x.up)*w.v.OffW)
	own.convertW = w.v.LossW(own.acW)
	if held {
		own.lessW = float32(float64(in.lessW) * (1 - x.up) / (1 - o.up[i]))
	}
	onW := max(o.onW[i], rest.onW+tied.onW) + free.onW
	onVA := max(o.onVA[i], rest.onVA+tied.onVA) + free.onVA
	highW := max(max(o.startW[i], rest.startW+tied.onW)+free.onW, onW+startW)
	if own.acW <= 0 {
		own.acWireW = 0
		return own
	}
	meanW := own.acW + own.idleW + own.convertW
	own.acWireW = float32(w.acOhm * meanW * max(meanW, onW))
	x.peakW, x.peakVA = onW, onVA
	peakW, cutV := peakAt(w.v, p.cutoffV, w.cableOhm, onW, dcOnW)
	own.peakW, own.cutV = float32(peakW), cutV
	own.overload = in.overload || w.v.Trips(onW, onVA, highW, w.overMin(o, st, i)) != inverter.Carried ||
		w.mostW > 0 && float64(own.peakW) > w.mostW
	if p.lead == nil && p.cutoffV > 0 {
		own.sagAh = float32(math.Inf(1)) // to look
	}
	return own
}

// atOnce is what runs at one moment.
type atOnce struct{ onW, onVA, startW, dcOnW float64 }

// throughAnd is what runs through the whole step with onW beside it.
func (o *found) throughAnd(onW float64, i int) float64 {
	if o.throughW == nil {
		return onW
	}
	return o.throughW[i] + onW
}

// overMin is for how long in the hour that ends with the step all loads are over the continuous rating, min. Sessions that
// ended within it are not counted.
func (w *waiting) overMin(o *found, st *State, i int) (overMin float64) {
	if o.shortMin == nil {
		return 0
	}
	stepMin := w.stepH * 60
	for j := 0; j <= i && (j == 0 || float64(j+1)*stepMin <= 60); j++ {
		onW, onVA, least := o.onW[i-j], o.onVA[i-j], o.shortMin[i-j]
		for k := range w.loads {
			if c := int(st.Sessions[k].Asked) - 1 - j; c >= 0 && w.loads[k].ac {
				onW, onVA = onW+w.loads[k].OnW[c], onVA+w.loads[k].OnVA[c]
			}
		}
		if w.v.Load(onW, onVA) <= w.v.RatedW {
			continue
		}
		for k := range w.loads {
			if c := int(st.Sessions[k].Asked) - 1 - j; c >= 0 && w.loads[k].ac && w.v.Load(onW-w.loads[k].OnW[c], onVA-w.loads[k].OnVA[c]) <= w.v.RatedW {
				least = min(least, w.loads[k].Share[c]*stepMin)
			}
		}
		overMin += least
	}
	return overMin
}

// begin goes on with the sessions at the start of step i, lets those begin that may or must, and books what they ask and what
// the turns do not tell. It returns what auto-off costs in the step, W, and the share of it for must-have loads. own and
// lessened are room for steps.
func (w *waiting) begin(p *Plant, st *State, t *battery.Warmth, i int, heaterW float64, f *ledger.Flows, b *books, x *extra, own, lessened *step) (deadW, mustDead float64) {
	all := &p.steps[i]
	fixed := &p.fixed[i]
	in := all
	if p.shed != nil {
		in = p.lessen(st, all, lessened, i)
	}
	level := st.Shed
	if in.carried {
		level = 0
	}
	o := &w.levels[level]
	*x = extra{up: 1, sessionUp: 1, shed: st.Shed}
	if o.up != nil {
		x.up = o.up[i]
	}
	waits := false
	for k := range w.loads {
		l, s := &w.loads[k], &st.Sessions[k]
		if s.Asked > 0 {
			if s.Asked++; int(s.Asked) > len(l.MeanW) {
				s.Asked = 0
			}
		}
		if due := l.due[i]; due > 0 && (i == 0 || l.due[i-1] != due) {
			s.Plugged = true
		}
		waits = waits || s.Plugged
	}
	with := w.add(p, st, in, own, i, x)
	if waits {
		for k := range w.loads {
			l, s := &w.loads[k], &st.Sessions[k]
			if !s.Plugged || s.Asked > 0 {
				continue
			}
			may := w.may(p, st, with, t, o, k, i, heaterW)
			if due := int(l.due[i]); !may && i+1 < due {
				continue
			}
			*s = session{Asked: 1}
			b.begun = append(b.begun, begun{int32(i), int8(k), !may})
			with = w.add(p, st, in, own, i, x)
		}
	}
	if o.up != nil && !in.carried {
		w.holdsOff(p, st, o, i, x)
		with = w.add(p, st, in, own, i, x)
	} else {
		st.HoldH = 0
	}

	h := p.stepH
	day := &b.days[in.day]
	if x.woken > 0 {
		for k := range w.small {
			b.wokenH[k] += x.woken * w.small[k].offInStepH[i]
		}
	}
	for k := range w.loads {
		if c := int(st.Sessions[k].Asked) - 1; c >= 0 {
			b.sessionWh[k] += w.loads[k].MeanW[c] * h
		}
	}
	f[ledger.Demand] += x.askedW * h
	day.AskedWh += x.askedW * h
	if x.ruleShare != 0 {
		wasMin := fixed.ruleMin
		day.OffByRuleMin += min(h*60, max(0, wasMin+x.ruleShare*h*60)) - wasMin
	}
	b.peakW, b.peakVA = max(b.peakW, x.peakW), max(b.peakVA, x.peakVA)
	needW := with.acW + with.dcW + with.idleW + with.convertW + float64(with.acWireW) + float64(with.dcWireW) -
		in.acW - in.dcW - in.idleW - in.convertW - float64(in.acWireW) - float64(in.dcWireW)
	b.needWh[in.month] += needW * h

	deadW, mustDead = fixed.deadW, fixed.mustDeadShare
	if x.lostW == 0 && x.backW == 0 {
		return deadW, mustDead
	}
	if w.v.WakeAtMin > 0 { // by rule
		f[ledger.Withheld] = max(0, f[ledger.Withheld]+(x.lostW-x.backW)*h)
		return deadW, mustDead
	}
	b.needWh[in.month] += (x.lostW - x.backW) * h
	f[ledger.Unserved] = max(0, f[ledger.Unserved]+(x.lostW-x.backW)*h)
	back := 0.0
	if x.backW > 0 {
		back = x.backW / o.lostW[i]
	}
	return max(0, deadW+x.lostW-x.backW), min(1, max(0, mustDead-back*o.mustLost[i]+x.mustLost))
}

// may reports whether a session may begin before its deadline; with is the step as it is without it.
func (w *waiting) may(p *Plant, st *State, with *step, t *battery.Warmth, o *found, k, i int, heaterW float64) bool {
	l := &w.loads[k]
	if st.Off || with.carried || l.shedAt <= st.Shed {
		return false
	}
	for other := range w.loads {
		if l.rivals&(1<<other) != 0 && st.Sessions[other].Asked > 0 {
			return false
		}
	}
	tripped := st.TripH > 0 || with.overload
	if l.ac {
		if tripped || w.live != nil && w.live[i] < 1-1e-9 || o.up != nil && !o.wasUp[i] && st.HoldH <= 0 {
			return false
		}
	}
	if l.waitAh > 0 {
		return st.ChargeAh >= l.waitAh
	}
	openV := 0.0
	if p.lead != nil {
		openV = p.lead.OpenV(p.lead.Head(st.wells()))
	} else {
		openV = p.pack.OpenV(st.ChargeAh)
	}
	sunW := with.busW
	if p.pwm != nil {
		sunW = p.rawW(with, i, openV)
	}
	sunW = min(sunW, p.maxOutA*openV)
	if p.inputOff && t.Barred {
		return false
	}
	elseW := p.standbyOf(with) + with.dcW + float64(with.dcWireW) + heaterW
	if !tripped {
		elseW += with.acW + with.idleW + with.convertW + float64(with.acWireW)
	}
	return sunW > elseW
}

// holdsOff finds what sessions and auto-off make of each other in a step: one that draws enough holds it off for as long as it
// runs, and for its hours after; one whose turn comes while the inverter is off gets nothing until somebody or the clock wakes it.
func (w *waiting) holdsOff(p *Plant, st *State, o *found, i int, x *extra) {
	up, h := o.up[i], p.stepH
	wasUp := o.wasUp[i] || st.HoldH > 0
	x.up = max(up, min(1, st.HoldH/h))
	hold := max(0, st.HoldH-h)
	x.sessionUp = x.up
	if enough := x.onW > 0 && o.throughAnd(x.onW, i) >= w.busyW-slackW; enough && wasUp {
		x.sessionUp = 1
		x.up = max(x.up, min(1, x.share+w.v.AutoOffH/h))
		hold = max(hold, w.v.AutoOffH-(1-x.share)*h)
	} else if enough && up > 0 {
		hold = max(hold, w.v.AutoOffH-(1-x.share)*h)
	}
	if w.live != nil && w.live[i] == 0 {
		hold = 0 // the timetable switches it on anew
	}
	st.HoldH = hold
	if x.up > up {
		x.backW = (x.up - up) / (1 - up) * o.lostW[i]
	}
}

// waited tells what the sessions of a run did.
func (p *Prepared) waited(b *books) []ledger.Waited {
	if p.waiting == nil {
		return nil
	}
	var out []ledger.Waited
	for k := range p.waiting.loads {
		l := &p.waiting.loads[k]
		t := ledger.Waited{Load: l.name}
		next, steps := 0, 0
		for _, s := range b.begun {
			if int(s.load) != k {
				continue
			}
			for next+1 < len(l.jobs) && l.jobs[next+1].PluggedStep <= int(s.step) {
				next++
			}
			if len(l.jobs) > 0 {
				steps += int(s.step) - l.jobs[next].PluggedStep
			}
			t.Begun = append(t.Begun, p.clock.StepStart(int(s.step)))
			if s.due {
				t.AtDeadline++
			}
		}
		if n := len(t.Begun); n > 0 {
			t.MeanH = float64(steps) * p.stepH / float64(n)
		}
		out = append(out, t)
	}
	return out
}

// addSessions adds to a column what the sessions of a load, by its place, asked in the run.
func (p *Prepared) addSessions(r *ledger.Run, place int, columnW []float64) {
	if p.waiting == nil {
		return
	}
	for k := range p.waiting.loads {
		l := &p.waiting.loads[k]
		if l.place != place {
			continue
		}
		for _, t := range r.Waited[k].Begun {
			first := int(t.Sub(p.clock.StepStart(0)).Hours()/p.stepH + 0.5)
			for c, w := range l.MeanW[:min(len(l.MeanW), len(columnW)-first)] {
				columnW[first+c] += w
			}
		}
	}
}
