package main

import (
	"fmt"
	"io"
	"os"
	"runtime"
	"slices"

	"github.com/spf13/pflag"

	"tideover/plots"
	"tideover/sim/report"
	"tideover/sim/study"
)

// spellFlags are the flags of spell alone.
type spellFlags struct {
	shares []float64 // percent
	days   int
}

var spellVerb = verb{
	name:    "spell",
	example: "spell trail-store --years 100",
	says: `how long a dull spell the battery carries, and how long to full

From every day of the year, with the charge the system really had that day, a
run of dull days begins. It gets the given share of the sun that is usual there
at that time of the year. These are thousands of spells: it takes seconds.`,
	flags: func(f *pflag.FlagSet, c *call) {
		weatherFlags(f, c)
		f.StringVar(&c.variant, "variant", "", "take this variant of the scenario instead of its base")
		f.Float64SliceVar(&c.spell.shares, "share", []float64{10, 20}, "dullness, in `percent` of the usual sun; up to three, as in 5,10,20")
		f.Lookup("share").DefValue = "10,20"
		f.IntVar(&c.spell.days, "days", 30, "the longest spell, 1 to 60")
		f.IntVar(&c.years, "years", 0, "count such spells in `N` years: synthetic, or resampled from a measured file")
		f.StringVar(&c.out, "out", "", "write the map, spells.csv and spells.json into this `folder`")
		f.BoolVar(&c.json, "json", false, "print the whole result for programs")
		f.IntVar(&c.jobs, "jobs", runtime.NumCPU(), "how many start dates are walked at once")
		f.Lookup("jobs").DefValue = "all cores"
	},
	do: walkSpells,
}

func (own *spellFlags) check(c *call) error {
	if err := c.checkYears(); err != nil {
		return err
	}
	at, err := os.Stat(c.out)
	switch {
	case c.out != "" && err == nil && !at.IsDir():
		return wrong("--out: %s is a file; name a folder", c.out)
	case len(own.shares) == 0 || len(own.shares) > 3:
		return wrong("--share: %d shares, want one to three, as in --share 10,20", len(own.shares))
	case own.days < 1 || own.days > 60:
		return wrong("--days: %d is not between 1 and 60", own.days)
	}
	for i, v := range own.shares {
		if !(v >= 0 && v <= 100) {
			return wrong("--share: %v is not between 0 and 100 percent", v)
		}
		if slices.Contains(own.shares[:i], v) {
			return wrong("--share: %v stands there twice", v)
		}
		if v > 0 && v < 1 {
			fmt.Fprintf(c.stderr, "note: --share is in percent: %v means %v %% of the usual sun\n", v, v)
		}
	}
	return nil
}

func walkSpells(c *call) error {
	own := &c.spell
	if err := own.check(c); err != nil {
		return err
	}
	in, err := c.read()
	if err != nil {
		return err
	}
	sc := in.file.Base
	if c.variant != "" {
		if sc, err = in.variant(c.variant); err != nil {
			return err
		}
	}
	y, err := sc.Weather(in.weather)
	if err != nil {
		return inputError{err}
	}
	placed, err := sc.Place(y, in.weather != nil)
	if err != nil {
		return err
	}
	shares := make([]float64, len(own.shares))
	for i, v := range own.shares {
		shares[i] = v / 100
	}
	s, err := study.RunSpells(c.ctx, placed.System, y, shares, own.days, c.jobs)
	if err != nil {
		return err
	}
	s.Warnings, s.Notes = append(s.Warnings, placed.Warnings...), append(s.Notes, placed.Notes...)
	if c.years > 0 {
		years, err := sc.Years(in.weather)
		if err != nil {
			return inputError{err}
		}
		step, clear := c.progress(c.years, "years")
		s.Often, err = study.HowOften(c.ctx, placed.System, years.Year, c.years, shares, own.days, c.jobs, step)
		clear()
		if err != nil {
			return err
		}
	}
	h := in.header(sc, y)
	if c.out != "" {
		chart := plots.SpellMap(s)
		files := []report.File{
			{Name: "spells.csv", Write: func(w io.Writer) error { return report.SpellCSV(w, s) }},
			{Name: "spells.json", Write: func(w io.Writer) error { return report.SpellJSON(w, h, s) }},
			{Name: "spell-map.svg", Write: chart.SVG},
			{Name: "spell-map.png", Write: chart.PNG},
		}
		if err := report.WriteFiles(c.out, until(c.ctx, files)); err != nil {
			return err
		}
		fmt.Fprintf(c.stderr, "written to %s: spells.csv, spells.json, spell-map as .svg and .png\n", c.out)
	}
	if err := c.ctx.Err(); err != nil && c.out == "" {
		return err
	}
	if c.json {
		return report.SpellJSON(c.stdout, h, s)
	}
	return report.Spell(c.stdout, h, s)
}
