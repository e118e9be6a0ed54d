package sim

import (
	"fmt"

	"tideover/loads"
	"tideover/sim/clock"
	"tideover/sim/inverter"
)

// asks turns the loads into what each step asks of the buses.
func (p *Prepared) asks() {
	v := p.sys.Inverter
	at := loads.Place{Clock: p.clock, DarkShare: p.above.darkShare}
	if v != nil {
		p.restartH = v.RestartAfterMin / 60
		if v.Mode == inverter.Timetable {
			at.ACOn = append([]clock.Stretch{}, v.When.Stretches(p.clock)...)
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
	}
	a := newAsk(v, at, p.sys.Loads, &d)
	for i := range p.steps {
		st, x := &p.steps[i], &p.fixed[i]
		st.dcW, st.mustDC = d.DCW[i], d.MustDC[i]
		st.acW, st.mustAC = a.acW[i], a.mustAC[i]
		if v == nil {
			continue
		}
		st.idleW, st.convertW = a.idleW[i], v.LossW(a.acW[i])
		st.overload = a.trips[i] != inverter.Carried
		// What auto-off by hand keeps off belongs to unserved: until the loop books it, it stands with withheld.
		x.withheldW = a.withheldW[i] + a.deadW[i]
		x.ruleMin = min(1, a.mustWithheldShare[i]+a.mustDeadShare[i]) * p.stepH * 60
	}
	p.notes, p.warnings = append(p.notes, a.notes...), append(p.warnings, a.warnings...)
}
