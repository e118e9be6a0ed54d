package study

import (
	"context"
	"fmt"

	"tideover/sim"
	"tideover/sim/ledger"
	"tideover/weather"
)

// Variant is one system to compare, with its name.
type Variant struct {
	Name   string
	System *sim.System
}

// Compare runs every variant on the same weather, at most jobs at once, and returns the runs in the variants' order.
func Compare(ctx context.Context, variants []Variant, y *weather.Year, jobs int) ([]*ledger.Run, error) {
	return each(ctx, len(variants), jobs, func(_ context.Context, i int) (*ledger.Run, error) {
		r, err := sim.Prepare(variants[i].System, y).Run(false)
		if err != nil {
			return nil, fmt.Errorf("%s: %w", variants[i].Name, err)
		}
		return r, nil
	})
}
