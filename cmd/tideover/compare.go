package main

import (
	"runtime"

	"github.com/spf13/pflag"

	"tideover/scenarios"
	"tideover/sim/report"
	"tideover/sim/study"
)

var compareVerb = verb{
	name:    "compare",
	example: "compare trail-store",
	says: `a scenario's variants side by side on the same weather

Each variant under variants: is the scenario with some of its keys changed. The
first column is the base.`,
	flags: func(f *pflag.FlagSet, c *call) {
		weatherFlags(f, c)
		f.BoolVar(&c.json, "json", false, "print the whole result for programs")
		f.IntVar(&c.jobs, "jobs", runtime.NumCPU(), "how many variants run at once")
		f.Lookup("jobs").DefValue = "all cores"
	},
	do: compareVariants,
}

func compareVariants(c *call) error {
	in, err := c.read()
	if err != nil {
		return err
	}
	if len(in.file.Variants) == 0 {
		return wrong("%s has no variants: type them under variants:, as in\n\n  variants:\n    on demand:\n      inverter: {mode: on_demand}", in.path)
	}
	if c.jobs < 1 {
		return wrong("--jobs: %d is not at least 1", c.jobs)
	}
	all := append([]*scenarios.Scenario{in.file.Base}, in.file.Variants...)
	names := []string{"base"}
	for i, s := range all {
		if i > 0 {
			names = append(names, s.Variant)
			if !s.SameWeather(all[0]) {
				return wrong("variant %q changes the weather (site or seed): variants are compared on the same weather; make it a scenario of its own", s.Variant)
			}
		}
	}
	y, err := all[0].Weather(in.weather)
	if err != nil {
		return inputError{err}
	}
	var placed []*scenarios.Placed
	var variants []study.Variant
	for i, s := range all {
		p, err := s.Place(y, in.weather != nil)
		if err != nil {
			return err
		}
		placed = append(placed, p)
		variants = append(variants, study.Variant{Name: names[i], System: p.System})
	}
	runs, err := study.Compare(c.ctx, variants, y, c.jobs)
	if err != nil {
		return err
	}
	for i, r := range runs {
		placed[i].Tell(r)
	}
	h := in.header(all[0], y)
	if c.json {
		return report.CompareJSON(c.stdout, h, names, runs)
	}
	return report.Compare(c.stdout, h, names, runs)
}
