// Package study answers questions that need several runs, on one ordered runner: result i is that of input i, whatever
// the number of jobs, and the first error stops the rest.
package study

import (
	"context"

	"golang.org/x/sync/errgroup"
)

// each calls f for 0..n-1 on at most jobs goroutines and returns the results in order.
func each[T any](ctx context.Context, n, jobs int, f func(context.Context, int) (T, error)) ([]T, error) {
	out := make([]T, n)
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(max(1, jobs))
	for i := range n {
		g.Go(func() (err error) {
			if err = ctx.Err(); err == nil {
				out[i], err = f(ctx, i)
			}
			return err
		})
	}
	return out, g.Wait()
}
