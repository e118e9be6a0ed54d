package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestInterruptedYears: in the middle of many years, too, an interrupt leaves no answer and no file, and does not wait.
func TestInterruptedYears(t *testing.T) {
	out := filepath.Join(t.TempDir(), "design")
	for _, args := range [][]string{{"run", "trail-store", "--years", "1000", "--out", out}, {"compare", "trail-store", "--years", "1000"}} {
		ctx, cancel := context.WithCancel(t.Context())
		time.AfterFunc(300*time.Millisecond, cancel)
		var stdout, stderr bytes.Buffer
		began := time.Now()
		if got := runWithin(ctx, args, &stdout, &stderr); got != interrupted || stdout.Len() > 0 || !strings.Contains(stderr.String(), "interrupted") {
			t.Errorf("%v: exit status %d, want %d; stdout %q, stderr %q", args, got, interrupted, stdout.String(), stderr.String())
		}
		if took := time.Since(began); took > 5*time.Second { // a thousand years take 15 s where nothing else runs
			t.Errorf("%v: stopped after %v", args, took)
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Errorf("%s is there", out)
	}
}

func TestDigits(t *testing.T) {
	for _, c := range []struct {
		v, limit float64
		want     string
	}{{23, 10, "23"}, {14.8123, 1, "14.8"}, {9.9964, 10, "9.996"}, {10.0000004, 10, "10.0000004"}, {0.00012345, 0, "0.000123"}} {
		if got := digits(c.v, c.limit); got != c.want {
			t.Errorf("digits(%v, %v) = %s, want %s", c.v, c.limit, got, c.want)
		}
	}
}
