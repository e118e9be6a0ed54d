package main

import (
	"fmt"
	"io"
	"runtime"

	"github.com/spf13/pflag"

	"tideover/plots"
	"tideover/sim"
	"tideover/sim/report"
	"tideover/sim/study"
)

var tiltVerb = verb{
	name:    "tilt",
	example: "tilt scenarios/trail-store.yaml --out design",
	says: `which tilt, which way: by energy, design month, days without power

Every tilt and azimuth looked at is a whole run on the same weather, some 200
in all: it takes seconds, with steps of 15 minutes or a heated battery some
ten. It also says what turning the array by hand is worth, twice or four times
a year; tilt_by_month in the scenario then holds the tilts.`,
	flags: func(f *pflag.FlagSet, c *call) {
		weatherFlags(f, c)
		f.StringVar(&c.variant, "variant", "", "turn the array of this variant of the scenario instead of its base")
		f.IntVar(&c.subArray, "sub-array", 1, "which sub-array is turned; the others stay")
		f.BoolVar(&c.keepAzimuth, "keep-azimuth", false, "leave the azimuth as it is, as on a roof")
		f.StringVar(&c.out, "out", "", "write the chart tilt (.svg, .png) and tilt.json into this `folder`")
		f.BoolVar(&c.json, "json", false, "print the whole result for programs")
		f.IntVar(&c.jobs, "jobs", runtime.NumCPU(), "how many runs at once")
		f.Lookup("jobs").DefValue = "all cores"
	},
	do: tilt,
}

func tilt(c *call) error {
	in, err := c.read()
	if err != nil {
		return err
	}
	s := in.file.Base
	if c.variant != "" {
		if s, err = in.variant(c.variant); err != nil {
			return err
		}
	}
	if c.jobs < 1 {
		return wrong("--jobs: %d is not at least 1", c.jobs)
	}
	y, err := s.Weather(in.weather)
	if err != nil {
		return inputError{err}
	}
	placed, err := s.Place(y, in.weather != nil)
	if err != nil {
		return err
	}
	if n := len(placed.System.SubArrays()); c.subArray < 1 || c.subArray > n {
		return wrong("--sub-array: %d is not between 1 and %d", c.subArray, n)
	}
	t, err := study.Tilt(c.ctx, placed.System, y, study.TiltOptions{Sub: c.subArray - 1, KeepAzimuth: c.keepAzimuth, Jobs: c.jobs})
	if err != nil {
		return inputError{err}
	}
	r, err := sim.Prepare(placed.System, y).Run(false) // for what is to be said of the system
	if err != nil {
		return err
	}
	placed.Tell(r)
	h := in.header(s, y)
	if c.out != "" {
		chart := plots.Tilt(t)
		if err := report.WriteFiles(c.out, []report.File{
			{Name: "tilt.json", Write: func(w io.Writer) error { return report.TiltJSON(w, h, t, r.Warnings, r.Notes) }},
			{Name: "tilt.svg", Write: chart.SVG}, {Name: "tilt.png", Write: chart.PNG},
		}); err != nil {
			return err
		}
		fmt.Fprintf(c.stderr, "written to %s: tilt.json, tilt.svg, tilt.png\n", c.out)
	}
	if c.json {
		return report.TiltJSON(c.stdout, h, t, r.Warnings, r.Notes)
	}
	return report.Tilt(c.stdout, h, t, r.Warnings, r.Notes)
}
