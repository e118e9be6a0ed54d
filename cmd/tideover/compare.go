package main

import (
	"fmt"
	"path/filepath"
	"slices"
	"strings"

	"github.com/spf13/pflag"

	"tideover/scenarios"
	"tideover/sim/report"
	"tideover/sim/study"
	"tideover/weather"
)

var compareVerb = verb{
	name:    "compare",
	example: "compare trail-store",
	says: `variants, or several scenarios, side by side on the same weather

Each variant under variants: is the scenario with some of its keys changed. The
first column is the base. Of several scenarios the first is the base, and all
get its weather. With --years N each year is compared with the same year, and
what N years cannot show is not called a difference.`,
	flags: func(f *pflag.FlagSet, c *call) {
		weatherFlags(f, c)
		f.BoolVar(&c.json, "json", false, "print the whole result for programs")
		c.yearsFlags(f, "how many variants run at once")
	},
	do: compareVariants,
}

// candidates are what is compared: the first is the base.
type candidates struct {
	*input
	all   []*scenarios.Scenario
	names []string
}

// readCandidates reads a scenario with its variants, or several scenarios.
func (c *call) readCandidates() (*candidates, error) {
	if len(c.args) < 2 {
		in, err := c.read()
		if err != nil {
			return nil, err
		}
		if len(in.file.Variants) == 0 {
			return nil, wrong("%s has no variants: type them under variants:, as in\n\n  variants:\n    on demand:\n      inverter: {mode: on_demand}\n\nor name another scenario beside it", in.path)
		}
		out := &candidates{in, []*scenarios.Scenario{in.file.Base}, []string{"base"}}
		for _, s := range in.file.Variants {
			if !s.SameWeather(in.file.Base) {
				return nil, wrong("variant %q changes the weather (site or seed): variants are compared on the same weather; make it a scenario of its own", s.Variant)
			}
			out.all, out.names = append(out.all, s), append(out.names, s.Variant)
		}
		return out, nil
	}
	out := &candidates{}
	for i, path := range c.args {
		in, err := c.decode(path)
		if err != nil {
			return nil, err
		}
		if i == 0 {
			out.input = in
		}
		name := in.file.Base.Name
		if slices.Contains(out.names, name) {
			name = fmt.Sprintf("%s (%s)", name, filepath.Base(path))
		}
		out.all, out.names = append(out.all, in.file.Base), append(out.names, name)
	}
	return out, c.readFile(out.input)
}

// place sets all up for a year of the first one's weather.
func (c *candidates) place(y *weather.Year) ([]*scenarios.Placed, []study.Variant, error) {
	var placed []*scenarios.Placed
	var variants []study.Variant
	for i, s := range c.all {
		here := *s
		if i > 0 && here.Site.Zone == nil {
			here.Site.Zone = placed[0].System.Zone
		}
		p, err := here.Place(y, c.weather != nil)
		if err != nil {
			return nil, nil, err
		}
		if base := c.all[0]; c.weather == nil && !s.SameWeather(base) {
			p.Warnings = append(p.Warnings, fmt.Sprintf("its own weather (site or seed) is not that of %s, on which it runs here", c.names[0]))
		}
		placed = append(placed, p)
		variants = append(variants, study.Variant{Name: c.names[i], System: p.System})
	}
	return placed, variants, nil
}

// head makes a header speak of all that is compared.
func (c *candidates) head(h report.Header) report.Header {
	if c.all[0].Variant == "" && len(c.all) > 1 && c.all[1].Variant == "" { // several scenarios
		h.Title = strings.Join(c.names, ", ")
		h.About = ""
		var systems []string
		for i, s := range c.all {
			systems = append(systems, c.names[i]+": "+system(s))
		}
		h.System = strings.Join(systems, ". ")
	}
	return h
}

func compareVariants(c *call) error {
	if err := c.checkYears(); err != nil {
		return err
	}
	all, err := c.readCandidates()
	if err != nil {
		return err
	}
	if c.years > 0 {
		return c.compareYears(all)
	}
	y, err := all.all[0].Weather(all.weather)
	if err != nil {
		return inputError{err}
	}
	placed, variants, err := all.place(y)
	if err != nil {
		return err
	}
	runs, err := study.Compare(c.ctx, variants, y, c.jobs)
	if err != nil {
		return err
	}
	for i, r := range runs {
		placed[i].Tell(r)
	}
	h := all.head(all.header(all.all[0], y))
	if c.json {
		return report.CompareJSON(c.stdout, h, all.names, runs)
	}
	return report.Compare(c.stdout, h, all.names, runs)
}

func (c *call) compareYears(all *candidates) error {
	years, err := all.all[0].Years(all.weather)
	if err != nil {
		return inputError{err}
	}
	placed, variants, err := all.place(years.Year(0))
	if err != nil {
		return err
	}
	step, clear := c.progress(c.years, "years")
	records, err := study.RunYears(c.ctx, variants, years.Year, c.years, c.jobs, step)
	clear()
	if err != nil {
		return err
	}
	for i, rec := range records {
		rec.Warnings = append(rec.Warnings, placed[i].Warnings...)
		rec.Notes = append(rec.Notes, placed[i].Notes...)
	}
	h := all.head(c.yearsHeader(all.input, all.all[0], years))
	if c.json {
		return report.CompareYearsJSON(c.stdout, h, records)
	}
	return report.CompareYears(c.stdout, h, records)
}
