package sim

// pwm is what arrays behind PWM controllers give at the voltage of the bus, tabulated step by step.
type pwm struct {
	firstV, stepV float64 // voltages at the bus
	points        int
	amps          []float64 // of each step, points to a step
	mppW          []float64 // their maximum power at the module terminals
	dropV         float64   // over the switch
	cableOhm      float64   // from the array
}

// source is what all arrays give at some voltage of the bus: rawW there, drawnW at the module terminals, of arrayW that they
// could; wireW and lossW stay on the way.
type source struct{ rawW, arrayW, drawnW, wireW, lossW float64 }

// source finds it for a step.
func (p *Plant) source(in *step, i int, busV float64) source {
	w := p.pwm
	s := source{rawW: in.busW, arrayW: in.busW * in.perOut, drawnW: in.busW * in.perOut, wireW: in.busW * in.wirePer, lossW: in.busW * in.lossPer}
	at := max(0, min(float64(w.points-1), (busV-w.firstV)/w.stepV))
	k := min(int(at), w.points-2)
	row := w.amps[i*w.points:]
	amps := row[k] + (row[k+1]-row[k])*(at-float64(k))
	if amps <= 0 {
		return s
	}
	out, loss, wire := busV*amps, w.dropV*amps, w.cableOhm*amps*amps
	s.rawW += out
	s.lossW += loss
	s.wireW += wire
	s.drawnW += out + loss + wire
	s.arrayW += max(w.mppW[i], out+loss+wire) // the table is straight between its points
	return s
}
