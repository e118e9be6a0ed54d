package main

import (
	"fmt"
	"math"
	"strconv"

	"github.com/spf13/pflag"

	"tideover/sim/ledger"
	"tideover/sim/study"
)

// target is a limit that the user sets on a run.
type target struct {
	flag, unit string
	limit      float64
	atLeast    bool // the value must not be below the limit; else not above
	highest    float64
}

func (c *call) targetFlags(f *pflag.FlagSet) {
	c.targets = []*target{
		{flag: "max-days-without-power", unit: "days without power", highest: 366},
		{flag: "min-soc", unit: "% as its lowest charge", atLeast: true, highest: 100},
		{flag: "max-unserved", unit: "% of demand unserved", highest: 100},
	}
	for i, says := range []string{
		"exit with status 1 where more `days` are without power; over many years, in more than one year of ten",
		"exit with status 1 where the charge falls below this `percent`; over many years likewise",
		"exit with status 1 where more than this `percent` of the demand is unserved; over many years likewise",
	} {
		t := c.targets[i]
		f.Float64Var(&t.limit, t.flag, 0, says)
	}
}

// checkTargets drops the targets that were not typed, and refuses those out of range.
func (c *call) checkTargets() error {
	var typed []*target
	for _, t := range c.targets {
		if !c.typed(t.flag) {
			continue
		}
		if !(t.limit >= 0 && t.limit <= t.highest) {
			return wrong("--%s: %v is not between 0 and %v", t.flag, t.limit, t.highest)
		}
		typed = append(typed, t)
	}
	c.targets = typed
	return nil
}

// meets allows for rounding where the charge stops at the cut-off.
func (t *target) meets(v float64) bool {
	if t.atLeast {
		v, limit := -v, -t.limit
		return v <= limit+1e-9
	}
	return v <= t.limit+1e-9
}

// of picks the target's value.
func (t *target) of(days int, lowestSOC, unservedShare float64) float64 {
	switch t.flag {
	case "min-soc":
		return 100 * lowestSOC
	case "max-unserved":
		return 100 * unservedShare
	}
	return float64(days)
}

// judge notes the targets that one year misses.
func (c *call) judge(a *ledger.Answer) {
	for _, t := range c.targets {
		if v := t.of(a.DaysWithoutPower, a.LowestSOC, a.UnservedShare); !t.meets(v) {
			c.missed = append(c.missed, fmt.Sprintf("target missed: --%s %v: the year has %s %s", t.flag, t.limit, digits(v, t.limit), t.unit))
		}
	}
}

// judgeYears notes the targets that fewer than nine years in ten meet.
func (c *call) judgeYears(rec *study.Record) {
	n := len(rec.Years)
	for _, t := range c.targets {
		met := 0
		for k := range rec.Years {
			y := &rec.Years[k]
			if t.meets(t.of(y.DaysWithoutPower, y.LowestSOC, y.UnservedShare)) {
				met++
			}
		}
		if need := int(math.Ceil(study.NineInTen*float64(n) - 1e-9)); met < need {
			s := rec.Summary()
			v := t.of(int(s.Days.OneInTen.Value), s.LowestSOC.OneInTen.Value, s.UnservedShare.OneInTen.Value)
			c.missed = append(c.missed, fmt.Sprintf("target missed: --%s %v, in nine years of ten: %d of %d years meet it; the year at one in ten has %s %s",
				t.flag, t.limit, met, n, digits(v, t.limit), t.unit))
		}
	}
}

// digits prints v to three figures, or as many as tell it from the limit.
func digits(v, limit float64) string {
	for n := 3; n < 12; n++ {
		if s := strconv.FormatFloat(v, 'g', n, 64); s != strconv.FormatFloat(limit, 'g', n, 64) {
			return s
		}
	}
	return fmt.Sprint(v)
}
