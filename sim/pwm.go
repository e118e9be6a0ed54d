package sim

import (
	"slices"

	"tideover/sim/array"
	"tideover/sim/battery"
	"tideover/sim/plane"
)

// pwmPoints is how many voltages of the bus an array's current is tabulated at.
const pwmPoints = 8

// pwm is what arrays behind PWM controllers give at the voltage of the bus, tabulated step by step.
type pwm struct {
	firstV, stepV float64 // voltages at the bus
	perStepV      float64 // 1/stepV
	points        int
	amps          []float64 // of each step, points to a step
	mppW          []float64 // their maximum power at the module terminals
	dropV         float64   // over the switch
	cableOhm      float64   // from the array to the bus
}

// source is what all arrays give at some voltage of the bus: rawW there, drawnW at the module terminals, of arrayW that they
// could; wireW and lossW stay on the way.
type source struct{ rawW, arrayW, drawnW, wireW, lossW float64 }

// ampsAt is their current in step i, at most that of their maximum power: near it a curve from the sheet's points and a power from
// its coefficient may differ by a few thousandths.
func (w *pwm) ampsAt(i int, busV float64) float64 {
	at := (busV - w.firstV) * w.perStepV
	if at < 0 {
		at = 0
	}
	k := int(at)
	if k > w.points-2 {
		k = w.points - 2
		at = min(at, float64(w.points-1))
	}
	row := w.amps[i*w.points+k:]
	amps := row[0] + (row[1]-row[0])*(at-float64(k))
	if amps <= 0 {
		return 0
	}
	if gives, most := amps*(busV+w.dropV+w.cableOhm*amps), w.mppW[i]; gives > most {
		amps *= most / gives
	}
	return amps
}

// rawW is what all arrays give at a voltage of the bus, there.
func (p *Plant) rawW(in *step, i int, busV float64) float64 {
	return in.busW + busV*p.pwm.ampsAt(i, busV)
}

// source finds it for a step.
func (p *Plant) source(s *source, in *step, i int, busV float64) {
	w := p.pwm
	amps := w.ampsAt(i, busV)
	out, loss, wire := busV*amps, w.dropV*amps, w.cableOhm*amps*amps
	drawnW := out + loss + wire
	*s = source{rawW: out, arrayW: drawnW, drawnW: drawnW, wireW: wire, lossW: loss}
	if amps > 0 {
		s.arrayW = max(w.mppW[i], drawnW) // but for rounding
	}
	if in.busW > 0 {
		trackedW := in.busW * in.perOut()
		s.rawW += in.busW
		s.arrayW += trackedW
		s.drawnW += trackedW
		s.wireW += in.busW * float64(in.wirePer)
		s.lossW += in.busW * float64(in.lossPer)
	}
}

// cellRange is between which voltages of its cells a bank is looked at, V.
func cellRange(b *battery.Bank) (lowV, highV float64) {
	if b.Type != battery.Lithium {
		return 1.6, 2.75
	}
	return 2.4, 3.75
}

// newPWM makes the table for the voltages that the bank can have.
func (p *Prepared) newPWM() *pwm {
	n := len(p.steps)
	lowV, highV := cellRange(p.bank)
	cells := float64(p.bank.Cells())
	for i := range p.fixed {
		x := &p.fixed[i]
		x.arrayW, x.notStartedW, x.offPeakW, x.clippedW = 0, 0, 0, 0
	}
	stepV := (highV - lowV) * cells / (pwmPoints - 1)
	return &pwm{
		firstV: lowV * cells, stepV: stepV, perStepV: 1 / stepV, points: pwmPoints, amps: make([]float64, n*pwmPoints),
		mppW: make([]float64, n), dropV: p.sys.Controller.SwitchDropV, cableOhm: p.pwmOhm(),
	}
}

// volts are the voltages at the controller's input, V.
func (w *pwm) volts() []float64 {
	v := make([]float64, w.points)
	for k := range v {
		v[k] = w.firstV + float64(k)*w.stepV + w.dropV
	}
	return v
}

// add adds one sub-array's currents to a step's row.
func (w *pwm) add(i int, amps []float64, maxInputV float64, at *array.Point, x *fixed) {
	x.arrayW += at.PowerW
	if at.OcVoltageV > maxInputV {
		x.notStartedW += at.PowerW
		return
	}
	w.mppW[i] += at.PowerW
	row := w.amps[i*w.points : (i+1)*w.points]
	for k := range row {
		row[k] += amps[k]
	}
}

// shaded is add for a sub-array under a shadow and with a share under snow, as best takes them.
func (w *pwm) shaded(i int, c *array.Curve, clear, dim, snow float64, shadow plane.Shadow, cellC float64, volts []float64, ohm float64,
	a *array.Array, maxInputV float64, x *fixed) {
	free := func(shade bool) ([]float64, float64) {
		top := func(held, bypassed array.Point) float64 { return max(held.PowerW, bypassed.PowerW) }
		switch {
		case !shade && snow == 0:
			return c.CurrentsA(nil, clear, cellC, volts, ohm), a.PowerW(clear, cellC)
		case !shade:
			return c.ShadedCurrentsA(nil, clear, 0, snow, cellC, false, volts, ohm), top(a.Shaded(clear, 0, snow, cellC, false))
		case snow == 0:
			return c.ShadedCurrentsA(nil, clear, dim, shadow.Share, cellC, shadow.Along, volts, ohm), top(a.Shaded(clear, dim, shadow.Share, cellC, shadow.Along))
		}
		one := c.ShadedCurrentsA(nil, clear, 0, max(snow, shadow.Share), cellC, false, volts, ohm)
		for k, amps := range c.ShadedCurrentsA(nil, dim, 0, snow, cellC, false, volts, ohm) {
			one[k] = max(one[k], amps)
		}
		return one, max(top(a.Shaded(clear, 0, max(snow, shadow.Share), cellC, false)), top(a.Shaded(dim, 0, snow, cellC, false)))
	}
	amps, mppW := free(false)
	if t := shadow.TimeShare; t > 0 {
		shaded, w := free(true)
		for k := range amps {
			amps[k] = amps[k]*(1-t) + shaded[k]*t
		}
		mppW = mppW*(1-t) + w*t
	}
	w.add(i, amps, maxInputV, &array.Point{PowerW: mppW, OcVoltageV: a.OcVoltageV(clear, cellC)}, x)
}

// dark reports whether the arrays give nothing in a step at any voltage.
func (w *pwm) dark(i int) bool { return slices.Max(w.amps[i*w.points:(i+1)*w.points]) <= 0 }

// off cuts the arrays off for a step.
func (w *pwm) off(i int) {
	clear(w.amps[i*w.points : (i+1)*w.points])
	w.mppW[i] = 0
}
