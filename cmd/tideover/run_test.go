package main

import (
	"bytes"
	"context"
	"errors"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// An interrupted command says so with its own status, prints no answer and leaves no file.
func TestInterrupted(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	out := filepath.Join(t.TempDir(), "design")
	for _, args := range [][]string{{"run", "trail-store"}, {"run", "trail-store", "--out", out}, {"compare", "trail-store"}} {
		var stdout, stderr bytes.Buffer
		if got := runWithin(ctx, args, &stdout, &stderr); got != interrupted || stdout.Len() > 0 || !strings.Contains(stderr.String(), "interrupted") {
			t.Errorf("%v: exit status %d, want %d; stdout %q, stderr %q", args, got, interrupted, stdout.String(), stderr.String())
		}
	}
	if _, err := os.Stat(out); err == nil {
		t.Errorf("%s is there", out)
	}
}

type writer func([]byte) (int, error)

func (w writer) Write(b []byte) (int, error) { return w(b) }

// What goes wrong on our side is 3, never the 2 that means wrong input and that a Go panic ends with.
func TestStatusWhereTheAnswerCannotBeWritten(t *testing.T) {
	for _, c := range []struct {
		name   string
		stdout writer
		want   int
		says   string
	}{
		{"full disk", func([]byte) (int, error) { return 0, syscall.ENOSPC }, ourFault, "no space left"},
		{"fault of ours", func([]byte) (int, error) { panic(errors.New("a bug")) }, ourFault, "a fault of ours, please report it with the scenario: a bug"},
		{"reader gone", func([]byte) (int, error) { return 0, &os.PathError{Op: "write", Path: "|1", Err: syscall.EPIPE} }, done, ""},
	} {
		var stderr bytes.Buffer
		got := run([]string{"run", "trail-store"}, c.stdout, &stderr)
		if got != c.want || !strings.Contains(stderr.String(), c.says) || c.says == "" && stderr.Len() > 0 {
			t.Errorf("%s: exit status %d, want %d; stderr %q", c.name, got, c.want, stderr.String())
		}
	}
}
