package sim

import (
	"tideover/loads"
)

// Wants is what each step would draw at the bus if nothing were ever cut: mean W of the step, one value each. What the
// user's own rule withholds is left out. Packs that wait are taken to charge when they are plugged in.
type Wants struct {
	StepH      float64
	Month, Day []int     // of each step: index into the run's months and days
	ACW, DCW   []float64 // at the load terminals
	IdleW      []float64 // the inverter's no-load draw, by its mode
	ConvertW   []float64 // its conversion loss
	StandbyW   []float64 // of controller, box and board; less while a box is off by auto-off
}

// CountsFullSOC is the state of charge at which the bank counts as full, and a spell begins.
func (p *Prepared) CountsFullSOC() float64 { return p.countsAh / p.capAh }

// Wants returns new columns of what the system would draw.
func (p *Prepared) Wants() Wants {
	n := len(p.steps)
	block := make([]float64, 5*n)
	w := Wants{
		StepH: p.stepH, Month: make([]int, n), Day: make([]int, n),
		ACW: block[:n:n], DCW: block[n : 2*n : 2*n], IdleW: block[2*n : 3*n : 3*n], ConvertW: block[3*n : 4*n : 4*n],
		StandbyW: block[4*n:],
	}
	for i := range p.steps {
		st := &p.steps[i]
		w.Month[i], w.Day[i] = int(st.month), int(st.day)
		w.ACW[i], w.DCW[i], w.IdleW[i], w.ConvertW[i] = st.acW, st.dcW, st.idleW, st.convertW
		w.StandbyW[i] = p.standbyOf(st)
	}
	if p.waiting != nil {
		p.atOnce(&w)
	}
	return w
}

// atOnce fills w with packs that wait charging when they are plugged in.
func (p *Prepared) atOnce(w *Wants) {
	at, v := p.place(true), p.sys.Inverter
	d := loads.Sum(at, p.sys.Loads)
	a := newAsk(v, at, p.sys.Loads, &d)
	for i := range p.steps {
		if p.steps[i].carried {
			continue
		}
		w.ACW[i], w.DCW[i], w.IdleW[i] = a.acW[i], d.DCW[i], a.idleW[i]
		if v != nil {
			w.ConvertW[i] = v.LossW(a.acW[i])
		}
	}
}

// LoadsAt is where and when the loads are used, as the run has it. With rule, the AC bus is live only when the inverter's
// timetable says so; without, whenever a load asks.
func (p *Prepared) LoadsAt(rule bool) loads.Place { return p.place(rule) }
