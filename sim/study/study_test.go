package study

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"
	"sync/atomic"
	"testing"
	"time"
)

// Result i is that of input i at any number of jobs, also where the later ones end first.
func TestOrder(t *testing.T) {
	for _, jobs := range []int{0, 1, 3, 8} {
		var running, most atomic.Int32
		got, err := each(t.Context(), 8, jobs, func(_ context.Context, i int) (int, error) {
			most.Store(max(most.Load(), running.Add(1)))
			time.Sleep(time.Duration(8-i) * time.Millisecond)
			running.Add(-1)
			return 10 * i, nil
		})
		if want := []int{0, 10, 20, 30, 40, 50, 60, 70}; err != nil || !slices.Equal(got, want) {
			t.Errorf("%d jobs: %v, %v; want %v", jobs, got, err, want)
		}
		if int(most.Load()) > max(1, jobs) {
			t.Errorf("%d jobs: %d ran at once", jobs, most.Load())
		}
	}
}

// The first error stops what has not begun, and is the one returned.
func TestFirstErrorStopsTheRest(t *testing.T) {
	bad := errors.New("bad")
	var ran atomic.Int32
	_, err := each(t.Context(), 100, 1, func(_ context.Context, i int) (int, error) {
		ran.Add(1)
		if i == 2 {
			return 0, bad
		}
		return i, nil
	})
	if !errors.Is(err, bad) || ran.Load() != 3 {
		t.Errorf("%v after %d of 100 runs, want %v after 3", err, ran.Load(), bad)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	ran.Store(0)
	_, err = each(ctx, 100, 2, func(context.Context, int) (int, error) { ran.Add(1); return 0, nil })
	if !errors.Is(err, context.Canceled) || ran.Load() != 0 {
		t.Errorf("%v after %d runs, want %v after none", err, ran.Load(), context.Canceled)
	}
}

// A panic in a worker reaches the caller, who turns it into an exit status, and stops the rest.
func TestBugInAWorker(t *testing.T) {
	for _, jobs := range []int{1, 4} {
		var ran atomic.Int32
		func() {
			defer func() {
				if got := fmt.Sprint(recover()); !strings.HasPrefix(got, "a bug\n") || !strings.Contains(got, "study_test.go") {
					t.Errorf("%d jobs: panic %.200q, want a bug and where it is", jobs, got)
				}
			}()
			each(t.Context(), 1000, jobs, func(context.Context, int) (int, error) {
				if ran.Add(1) == 3 {
					panic("a bug")
				}
				return 0, nil
			})
			t.Errorf("%d jobs: it returned", jobs)
		}()
		if jobs == 1 && ran.Load() != 3 {
			t.Errorf("%d ran on after it", ran.Load()-3)
		}
	}
}
