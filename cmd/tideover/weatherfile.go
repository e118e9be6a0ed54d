package main

import (
	"errors"
	"fmt"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"

	"github.com/spf13/pflag"

	"tideover/scenarios"
	"tideover/weather"
	"tideover/weather/hourfile"
	"tideover/weather/quality"
)

// fileFlags is what is typed about a weather file.
type fileFlags struct {
	shiftClockH float64

	// What the file does not say, for the weather verb; a scenario pins its site itself.
	pins hourfile.Options
	csv  string
	list bool
	seed uint64
}

// shiftFlag adds the flag that mends a file's clock.
func shiftFlag(f *pflag.FlagSet, c *call) {
	f.Float64Var(&c.file.shiftClockH, "shift-clock", 0, "move the file's rows later by so many `hours`")
	f.Lookup("shift-clock").DefValue = "0" // not shown
}

// weatherFile reads a weather file, moves its clock when asked to, and adds to its warnings what is wrong with it.
func (c *call) weatherFile(path string, opt hourfile.Options) (*weather.Year, error) {
	y, err := c.readWeather(path, opt)
	if err != nil {
		return nil, err
	}
	y.Warnings = append(slices.Clone(y.Warnings), quality.Lines(quality.Judge(y))...)
	return y, nil
}

// shiftNeedsFile refuses to move the clock of weather that is no file's.
func (c *call) shiftNeedsFile() error {
	if c.file.shiftClockH != 0 {
		return wrong("--shift-clock mends a weather file: give it with --weather FILE")
	}
	return nil
}

// readWeather reads a weather file and moves its clock when asked to.
func (c *call) readWeather(path string, opt hourfile.Options) (*weather.Year, error) {
	if !(math.Abs(c.file.shiftClockH) <= 24) {
		return nil, wrong("--shift-clock: %v h is not between -24 and 24", c.file.shiftClockH)
	}
	if at, err := os.Stat(path); err == nil && at.IsDir() {
		return nil, wrong("%s is a folder; name the weather file in it", path)
	}
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		if near := fileLike(path); near != "" {
			return nil, wrong("there is no file %s; did you mean %s?", path, near)
		}
		return nil, wrong("there is no file %s", path)
	}
	if err != nil {
		return nil, inputError{fmt.Errorf("the weather file cannot be read: %w", err)}
	}
	defer f.Close()
	y, err := hourfile.ReadWith(filepath.ToSlash(path), f, opt)
	if err != nil {
		return nil, inputError{err}
	}
	if y, err = quality.ShiftClock(y, c.file.shiftClockH); err != nil {
		return nil, inputError{err}
	}
	return y, nil
}

// fileLike is the file beside path with the nearest name, or "".
func fileLike(path string) string {
	dir := filepath.Dir(path)
	list, _ := os.ReadDir(dir) // where dir cannot be read, nothing in it is near
	var names []string
	for _, f := range list {
		if !f.IsDir() {
			names = append(names, f.Name())
		}
	}
	near := scenarios.Nearest(filepath.Base(path), names)
	if near == "" {
		return ""
	}
	return filepath.ToSlash(filepath.Join(dir, near))
}
