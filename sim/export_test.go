package sim

import "tideover/weather"

// OnPlane returns the light of each step on the plane of a system's first sub-array, before glass and dirt, W/m2, with
// nothing in its way: the sky and the plane alone, for benchmarks.
func OnPlane(sys *System, y *weather.Year) []float64 {
	p := &Prepared{sys: sys}
	p.sky(y)
	surface := sys.Surface.Prepare(y.Site.LatDeg)
	out := make([]float64, y.Len())
	for i := range out {
		out[i] = surface.Light(p.above.over(i)).PlaneWm2() * p.above.lit[i]
	}
	return out
}

// Loop returns one turn of the step loop over the whole run, with nothing prepared or settled in it, for benchmarks.
func (p *Prepared) Loop() func() error {
	b := p.newBooks()
	start := p.stateAt(1)
	return func() error {
		p.reset(b, start.ChargeAh, false)
		_, err := p.run(start, 0, len(p.steps), b, nil)
		return err
	}
}

// Parted returns the direct and the diffuse light of each step, W/m2.
func (p *Prepared) Parted() (dni, dhi []float64) { return p.above.dni, p.above.dhi }

// Input returns, for a controller that tracks, the power that it found in each step and what of it was over the rating of
// its input, W: all before the battery is asked.
func (p *Prepared) Input() (foundW, overW []float64) {
	foundW, overW = make([]float64, len(p.fixed)), make([]float64, len(p.fixed))
	for i := range p.fixed {
		x := &p.fixed[i]
		foundW[i], overW[i] = x.arrayW-x.notStartedW-x.offPeakW, x.clippedW
	}
	return foundW, overW
}

// Trips returns the steps in which what may be on at once is over the inverter's rating.
func (p *Prepared) Trips() []bool {
	out := make([]bool, len(p.steps))
	for i := range p.steps {
		out[i] = p.steps[i].overload
	}
	return out
}

// ChargeV returns the voltage at which charging tapers in each step, V.
func (p *Prepared) ChargeV() []float64 {
	out := make([]float64, len(p.warm))
	for i := range p.warm {
		out[i] = p.warm[i].ChargeV
	}
	return out
}
