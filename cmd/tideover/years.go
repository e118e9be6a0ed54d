package main

import (
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"strings"

	"github.com/spf13/pflag"

	"tideover/plots"
	"tideover/scenarios"
	"tideover/sim"
	"tideover/sim/report"
	"tideover/sim/study"
)

// mostYears keeps a run within a minute, and the calendar within what the zones' rules are worth.
const mostYears = 1000

func (c *call) yearsFlags(f *pflag.FlagSet, jobs string) {
	f.IntVar(&c.years, "years", 0, "run `N` years one after another: synthetic, or resampled from a measured file")
	f.IntVar(&c.jobs, "jobs", runtime.NumCPU(), jobs)
	f.Lookup("jobs").DefValue = "all cores"
}

func (c *call) checkYears() error {
	if c.typed("years") && (c.years < 1 || c.years > mostYears) {
		return wrong("--years: %d is not between 1 and %d", c.years, mostYears)
	}
	if c.jobs < 1 {
		return wrong("--jobs: %d is not at least 1", c.jobs)
	}
	return nil
}

// yearsHeader is the header of many years.
func (c *call) yearsHeader(in *input, s *scenarios.Scenario, years *scenarios.Years) report.Header {
	y := years.Year(0)
	h := in.header(s, y)
	source, _, _ := strings.Cut(years.Source, ";")
	kind := "synthetic"
	if in.weather != nil {
		kind = "resampled"
		source = filepath.Base(in.weatherPath) + ", " + years.Source
	}
	first := y.Start.Year()
	when := fmt.Sprintf("1 %s year, %d", kind, first)
	if c.years > 1 {
		when = fmt.Sprintf("%d %s years, %d to %d", c.years, kind, first, first+c.years-1)
	}
	h.Weather = when + ", " + source
	return h
}

// runYears runs the scenario through many years, then once more the one that stands for one in ten.
func (c *call) runYears(in *input, s *scenarios.Scenario) error {
	years, err := s.Years(in.weather)
	if err != nil {
		return inputError{err}
	}
	placed, err := s.Place(years.Year(0), in.weather != nil)
	if err != nil {
		return err
	}
	step, clear := c.progress(c.years, "years")
	records, err := study.RunYears(c.ctx, []study.Variant{{Name: s.Name, System: placed.System}}, years.Year, c.years, c.jobs, step)
	clear()
	if err != nil {
		return err
	}
	rec := records[0]
	sum := rec.Summary()
	y := years.Year(sum.OneInTen)
	p := sim.Prepare(placed.System, y)
	r, err := rec.Again(p, sum.OneInTen)
	if err != nil {
		return err
	}
	placed.Tell(r)
	h, one := c.yearsHeader(in, s, years), in.header(s, y)
	one.Carried = sum.OneInTen > 0
	one.Beside, one.Hand = beside(s, placed, p, r), c.hand
	if c.out != "" {
		chart := plots.Years(rec, sum)
		err := writeFiles(c.ctx, c.out, one, placed.System, r,
			report.File{Name: "years.csv", Write: func(w io.Writer) error { return report.YearsCSV(w, rec) }},
			report.File{Name: "years.json", Write: func(w io.Writer) error { return report.YearsJSON(w, h, rec, sum, nil) }},
			report.File{Name: "years.svg", Write: chart.SVG}, report.File{Name: "years.png", Write: chart.PNG})
		if err != nil {
			return err
		}
		fmt.Fprintf(c.stderr, "written to %s: years.csv, years.json, years.svg and .png; of the year at one in ten, %d: hourly.csv, result.json, charge, spell and months as .svg and .png\n",
			c.out, y.Start.Year())
	}
	if err := c.ctx.Err(); err != nil && c.out == "" {
		return err
	}
	c.judgeYears(rec)
	full := report.OneYear{Header: one, Run: r}
	if c.json {
		return report.YearsJSON(c.stdout, h, rec, sum, &full)
	}
	return report.Years(c.stdout, h, rec, sum, &full)
}
