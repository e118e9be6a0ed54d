// Package study answers questions that need several runs, on one ordered runner: result i is that of input i, whatever
// the number of jobs, and the first error stops the rest.
package study

import (
	"context"
	"errors"
	"fmt"
	"runtime/debug"

	"golang.org/x/sync/errgroup"
)

// each calls f for 0..n-1 on at most jobs goroutines and returns the results in order. A panic in f stops the rest and goes on
// in the caller, with the stack of where it began: there it can be caught and become an exit status.
func each[T any](ctx context.Context, n, jobs int, f func(context.Context, int) (T, error)) ([]T, error) {
	out := make([]T, n)
	g, ctx := errgroup.WithContext(ctx)
	g.SetLimit(max(1, jobs))
	for i := range n {
		g.Go(func() (err error) {
			defer func() {
				if bug := recover(); bug != nil {
					err = &workerBug{bug, debug.Stack()}
				}
			}()
			if err = ctx.Err(); err == nil {
				out[i], err = f(ctx, i)
			}
			return err
		})
	}
	err := g.Wait()
	var bug *workerBug
	if errors.As(err, &bug) {
		panic(bug.Error())
	}
	return out, err
}

// workerBug is a panic on a goroutine of ours.
type workerBug struct {
	value any
	stack []byte
}

func (b *workerBug) Error() string { return fmt.Sprintf("%v\n%s", b.value, b.stack) }
