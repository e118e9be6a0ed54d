package main

import (
	"os"
	"time"

	"github.com/schollz/progressbar/v3"
	"golang.org/x/term"
)

// progress shows on a terminal how many of n are done, each told by a call of step; clear takes it away. Where stderr is
// no terminal, nothing is shown.
func (c *call) progress(n int, what string) (step, clear func()) {
	f, ok := c.stderr.(*os.File)
	if !ok || !term.IsTerminal(int(f.Fd())) {
		return nil, func() {}
	}
	bar := progressbar.NewOptions(n, progressbar.OptionSetWriter(f), progressbar.OptionSetDescription(what),
		progressbar.OptionShowCount(), progressbar.OptionSetWidth(30), progressbar.OptionSetPredictTime(false),
		progressbar.OptionThrottle(100*time.Millisecond), progressbar.OptionClearOnFinish())
	return func() { bar.Add(1) }, func() { bar.Clear() } // a bar that fails to draw is no fault
}
