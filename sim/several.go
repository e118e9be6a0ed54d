package sim

import (
	"fmt"
	"slices"
)

// sideBySide makes ready what several controllers share. It panics where they do not go together: our bug.
func (p *Prepared) sideBySide() {
	if k, key, holds, want, ok := p.sys.Unlike(); ok {
		panic(fmt.Sprintf("sim: Prepare: the controller at place %d has %s %v, the first %v, on one bank", k, key, holds, want))
	}
	for k, c := range p.sys.Controllers() {
		if c.InputOffWhenBarred {
			panic(fmt.Sprintf("sim: Prepare: the controller at place %d of several shuts its input: only that of a box does", k))
		}
	}
	lowV, _ := cellRange(p.bank)
	p.lowestV = lowV * float64(p.bank.Cells())
}

// behindEach prepares what stands before each of several controllers as though it were the only one, and adds up what
// does not depend on the voltage of the bus.
func (p *Prepared) behindEach() {
	for i := range p.fixed {
		x := &p.fixed[i]
		x.arrayW, x.notStartedW, x.offPeakW, x.clippedW = 0, 0, 0, 0
	}
	p.parts = nil
	for k, c := range p.sys.Controllers() {
		q := *p
		q.sys, q.parts, q.maxOutA, q.warnings = p.sys.Behind(k), nil, c.MaxCurrentA, nil
		q.rated, q.warm = q.sys.RatedW(), nil // its steps are never walked
		q.steps, q.fixed = make([]step, len(p.steps)), make([]fixed, len(p.steps))
		q.panels()
		for _, w := range q.warnings {
			p.warnings = append(p.warnings, c.Name+": "+w)
		}
		share := q.rated / p.rated
		for i := range p.fixed {
			x, y := &p.fixed[i], &q.fixed[i]
			if q.pwm != nil && q.pwm.dark(i) { // at any voltage
				y.notStartedW += q.pwm.mppW[i]
			}
			x.arrayW += y.arrayW
			x.notStartedW += y.notStartedW
			x.offPeakW += y.offPeakW
			x.clippedW += y.clippedW
			p.readyW[i] += q.readyW[i]
			p.light.planeWm2[i] += share * q.light.planeWm2[i]
			p.light.cellC[i] += share * q.light.cellC[i]
			p.light.stopped[i] |= q.light.stopped[i]
		}
		part := q.Plant // not all of q: its columns may go
		p.parts = append(p.parts, &part)
	}
}

// join is toBus for several controllers. Where none of them can be over its rating, and none has the voltage of the bus, they are
// one that gives the sum.
func (p *Prepared) join() {
	var sentWh, gotWh float64
	for i := range p.steps {
		st := &p.steps[i]
		st.apart = false
		var s source
		for _, q := range p.parts {
			s.add(q.tracked(i), 1)
			st.apart = st.apart || q.steps[i].busW > q.maxOutA*p.lowestV || q.pwm != nil && !q.pwm.dark(i)
		}
		st.busW, st.wirePer, st.lossPer = 0, 0, 0
		if s.rawW > 0 {
			st.wirePer, st.lossPer = float32(s.wireW/s.rawW), float32(s.lossW/s.rawW)
			st.busW = s.drawnW / st.perOut()
		}
		sentWh += s.drawnW
		gotWh += st.busW
		st.night = !slices.ContainsFunc(p.parts, func(q *Plant) bool { return !q.steps[i].night })
		if st.carried { // the arrays stay behind
			st.busW, st.apart = 0, false
			x := &p.fixed[i]
			x.notStartedW, x.offPeakW, x.clippedW = x.arrayW, 0, 0
		}
	}
	p.perOut = 1
	if gotWh > 0 {
		p.perOut = sentWh / gotWh
	}
	if p.warm != nil { // else to be called again
		p.brief()
	}
}

// tracked is what a step's tracked power is at the bus and before.
func (p *Plant) tracked(i int) source {
	in := &p.steps[i]
	s := source{rawW: in.busW, wireW: in.busW * float64(in.wirePer), lossW: in.busW * float64(in.lossPer), drawnW: in.busW * in.perOut()}
	s.arrayW = s.drawnW
	return s
}

// add adds a share of one controller's.
func (s *source) add(one source, share float64) {
	s.rawW += share * one.rawW
	s.arrayW += share * one.arrayW
	s.drawnW += share * one.drawnW
	s.wireW += share * one.wireW
	s.lossW += share * one.lossW
}

// together is what several controllers give at a voltage of the bus, each within its own rating. Of what the bus then does not take
// each gives the same share less, as they all stand at one voltage. At the module terminals their ratings take overW, and dimW is
// what is too dim for that voltage.
func (p *Plant) together(i int, busV float64) (s source, overW, dimW float64) {
	busV = max(busV, p.lowestV)
	for _, q := range p.parts {
		var one source
		if q.pwm == nil {
			one = q.tracked(i)
		} else if q.source(&one, &q.steps[i], i, busV); one.arrayW == 0 && !q.pwm.dark(i) {
			dimW += q.pwm.mppW[i]
		}
		share := 1.0
		if mayW := q.maxOutA * busV; one.rawW > mayW {
			share = mayW / one.rawW
			overW += one.arrayW * (1 - share)
		}
		s.add(one, share)
	}
	return s, overW, dimW
}
