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
