package sim

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
