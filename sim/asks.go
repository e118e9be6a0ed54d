package sim

import (
	"fmt"
	"slices"

	"tideover/loads"
	"tideover/sim/clock"
	"tideover/sim/inverter"
)

// place is where and when the loads are used; with rule, AC only when the inverter's timetable says so.
func (p *Prepared) place(rule bool) loads.Place {
	at := loads.Place{Clock: p.clock, DarkShare: p.above.darkShare, AirC: p.airC, Seed: p.sys.Seed}
	if v := p.sys.Inverter; rule && v != nil && v.Mode == inverter.Timetable {
		at.ACOn = append([]clock.Stretch{}, v.When.Stretches(p.clock)...)
	}
	return at
}

// asks turns the loads into what each step asks of the buses.
func (p *Prepared) asks() {
	v := p.sys.Inverter
	at := p.place(true)
	at.Defer = Waits(p.sys.Loads) > 0
	if v != nil {
		p.restartH = v.RestartAfterMin / 60
		if c := v.CutoffAt(p.bank.NominalV); c >= 1 { // a typed cut-off under a volt is none
			p.cutoffV = c
		}
	}
	d := loads.Sum(at, p.sys.Loads)
	p.demand = d
	if v == nil {
		for i := range p.steps {
			if d.ACW[i] > 0 {
				panic(fmt.Sprintf("sim: Prepare: step %d asks %v W AC without an inverter", i, d.ACW[i]))
			}
		}
		if slices.ContainsFunc(d.Jobs, func(j loads.Job) bool { return j.Bus == loads.AC }) {
			panic("sim: Prepare: packs ask for AC without an inverter")
		}
	}
	if p.bank.WokenAtMin > 0 {
		for i := range p.steps {
			from := p.clock.StepStart(i)
			p.steps[i].visitMin = -1
			if into := p.bank.WokenAtMin%1440 - from.Hour()*60 - from.Minute(); into >= 0 && into < p.clock.StepMin {
				p.steps[i].visitMin = int8(into)
			}
		}
	}
	a := newAsk(v, at, p.sys.Loads, &d)
	cableOhm := p.sys.InverterCable.ResistanceOhm()
	for i := range p.steps {
		st, x := &p.steps[i], &p.fixed[i]
		st.dcW, st.mustDC = d.DCW[i], d.MustDC[i]
		st.acW, st.mustAC = a.acW[i], a.mustAC[i]
		if v == nil {
			continue
		}
		st.idleW, st.convertW = a.idleW[i], v.LossW(a.acW[i])
		st.overload = a.trips[i] != inverter.Carried
		x.withheldW, x.ruleMin = a.withheldW[i], a.mustWithheldShare[i]*p.stepH*60
		x.deadW, x.mustDeadShare = a.deadW[i], a.mustDeadShare[i]
		p.anyDead = p.anyDead || x.deadW > 0
		if a.offShare != nil && p.readyW[i] == 0 {
			st.lessW = float32(v.OffLessW * a.offShare[i])
		}
		if st.acW > 0 {
			var peakW float64
			peakW, st.cutV = peakAt(v, p.cutoffV, cableOhm, d.ACOnW[i], d.DCOnW[i])
			st.peakW = float32(peakW)
			// The board of the battery cuts off at its own current.
			if most := p.bank.MaxDischargeA; most > 0 && peakW > most*p.bank.NominalV {
				st.overload = true
			}
		}
	}
	p.small, p.searchNoteAt = a.small, len(p.notes)
	p.notes, p.warnings = append(p.notes, a.notes...), append(p.warnings, a.warnings...)
	p.waiting = nil
	if at.Defer {
		p.waiting = p.newWaiting(at, &d, a.found)
		p.waiting.small = a.small
	}
	p.shedding(at)
}

// peakAt is the coincident draw at the bus of loads that take acOnW and dcOnW, W, and the voltage there, V, at which it has the
// inverter's input at cutoffV, beyond its cable.
func peakAt(v *inverter.Inverter, cutoffV, cableOhm, acOnW, dcOnW float64) (peakW float64, cutV float32) {
	inputW := v.IdleW + acOnW + v.LossW(acOnW)
	if cutoffV == 0 {
		return inputW + dcOnW, 0
	}
	busV := cutoffV + cableOhm*inputW/cutoffV
	return inputW*busV/cutoffV + dcOnW, float32(busV)
}

// shedding finds what is asked below each level of charge at which loads are left off.
func (p *Prepared) shedding(at loads.Place) {
	v := p.sys.Inverter
	p.shedAh, p.shed = nil, nil
	cableOhm := p.sys.InverterCable.ResistanceOhm()
	for _, level := range loads.Levels(p.sys.Loads) {
		kept := slices.DeleteFunc(slices.Clone(p.sys.Loads), func(l loads.Load) bool {
			return l.Priority == loads.FirstToGo && l.BelowSOC >= level
		})
		d := loads.Sum(at, kept)
		a := newAsk(v, at, kept, &d)
		if p.waiting != nil {
			p.waiting.level(at, kept, a.found)
		}
		rows := make([]lesser, len(p.steps))
		for i := range rows {
			in, r := &p.steps[i], &rows[i]
			r.acW, r.dcW = min(a.acW[i], in.acW), d.DCW[i]
			if v == nil {
				continue
			}
			r.idleW, r.convertW = a.idleW[i], v.LossW(r.acW)
			r.overload = r.acW > 0 && a.trips[i] != inverter.Carried && in.overload
			if r.acW > 0 {
				peakW, cutV := peakAt(v, p.cutoffV, cableOhm, d.ACOnW[i], d.DCOnW[i])
				r.peakW, r.cutV = min(in.peakW, float32(peakW)), min(in.cutV, cutV)
			}
		}
		p.shedAh, p.shed = append(p.shedAh, level*p.capAh), append(p.shed, rows)
	}
}
