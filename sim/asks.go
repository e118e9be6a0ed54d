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
	var onShare []float64
	if v != nil {
		p.restartH = v.RestartAfterMin / 60
		if v.Mode == inverter.Timetable {
			onShare = v.When.Shares(p.clock, nil)
			at.ACOn = append([]clock.Stretch{}, v.When.Stretches(p.clock)...)
		}
	}
	d := loads.Sum(at, p.sys.Loads)
	p.demand = d
	for i := range p.steps {
		st := &p.steps[i]
		st.acW, st.dcW, st.mustAC, st.mustDC = d.ACW[i], d.DCW[i], d.MustAC[i], d.MustDC[i]
		if v == nil {
			if st.acW > 0 {
				panic(fmt.Sprintf("sim: Prepare: step %d asks %v W AC without an inverter", i, st.acW))
			}
			continue
		}
		p.fixed[i].withheldW, p.fixed[i].ruleMin = d.WithheldW[i], d.MustWithheldShare[i]*p.stepH*60
		on := 1.0
		switch v.Mode {
		case inverter.Timetable:
			on = onShare[i]
		case inverter.OnDemand:
			on = d.ACShare[i]
		}
		st.idleW = v.IdleW * on
		st.convertW = v.LossW(st.acW)
		st.overload = st.acW > 0 && d.ACOnW[i] > v.RatedW
	}
}
