package main

import (
	"slices"

	"github.com/spf13/pflag"

	"tideover/sim"
	"tideover/sim/ledger"
	"tideover/sim/precheck"
	"tideover/sim/report"
	"tideover/sim/study"
)

var checkVerb = verb{
	name:    "check",
	example: "check trail-store",
	says: `before buying: volts, amperes, cables, fuses against their limits

Power is not energy: whether the string's voltage destroys the input on the
coldest morning, whether all that is on at once may be on, what the battery and
each cable must carry, which fuse. Each line is pass, tight, fail or unknown,
with its rule and a cure; the status is 1 where one fails. Loads that are too
much at one moment are staggered, and the year is run again. It warns, and
certifies nothing.`,
	flags: func(f *pflag.FlagSet, c *call) {
		weatherFlags(f, c)
		f.StringVar(&c.variant, "variant", "", "check this variant of the scenario instead of its base")
		f.BoolVar(&c.cautions, "cautions", false, "print the cautions alone, in full")
		f.BoolVar(&c.json, "json", false, "print the whole result for programs")
	},
	do: check,
}

func check(c *call) error {
	if c.json && c.cautions {
		return wrong("--cautions and --json exclude each other: the JSON holds the cautions in full")
	}
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
	y, err := s.Weather(in.weather)
	if err != nil {
		return inputError{err}
	}
	placed, err := s.Place(y, in.weather != nil)
	if err != nil {
		return err
	}
	p := sim.Prepare(placed.System, y)
	peak := p.Peak()
	var run *ledger.Run
	if sim.Waits(placed.System.Loads) > 0 { // when they charge, only a run knows
		if run, err = p.Run(false); err != nil {
			return err
		}
		peak.YearW = run.Answer.CoincidentPeakW
	}
	r := precheck.Check(&precheck.Input{
		System: placed.System, RecordLowC: s.Site.RecordLowC, RecordLowSource: s.Site.RecordLowSource,
		LowestC: slices.Min(y.TempC), HighestC: slices.Max(y.TempC),
		Peak: peak, CoeffTyped: s.VoltageCoeffTyped,
	})
	h := in.header(s, y)
	if c.cautions {
		return report.Cautions(c.stdout, h, r)
	}
	for i := range r.Lines {
		if l := &r.Lines[i]; l.Verdict == precheck.Fail {
			subject := l.Subject
			if l.Of != "" {
				subject = l.Of + ": " + subject
			}
			c.missed = append(c.missed, "check fails: "+subject)
		}
	}
	if h.Stagger, err = study.NewStagger(placed.System, y, p, run); err != nil {
		return err
	}
	if c.json {
		return report.CheckJSON(c.stdout, h, r, placed.Warnings, placed.Notes)
	}
	return report.Check(c.stdout, h, r, placed.Warnings, placed.Notes)
}
