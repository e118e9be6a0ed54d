// Package precheck answers what needs no simulation, before anything is bought: does the string's voltage destroy the
// input on the coldest morning, may all that is on at once be on, and do cables and fuses carry what the inverter draws?
// Power is not energy.
//
// Each line holds one number against one limit, by one rule. A line without what it needs is unknown, never passed. The
// lines warn; they certify nothing.
package precheck

import (
	"fmt"
	"math"
	"strings"

	"tideover/sim"
	"tideover/sim/battery"
)

// Verdict is what a line says. The order is that of concern.
type Verdict int

// The verdicts.
const (
	Pass    Verdict = iota
	Tight           // within the limit, with little left or resting on a guess; or over one that is seldom met
	Unknown         // something is not typed
	Fail
)

// String returns the word that is printed.
func (v Verdict) String() string { return [...]string{"pass", "tight", "unknown", "fail"}[v] }

// Group is the heading under which a line stands.
type Group int

// The groups, along the path of the energy.
const (
	Panels Group = iota
	Battery
	Inverter
	Cables
	Outlets
)

// Line is one number against one limit.
type Line struct {
	Group   Group
	Key     string // for programs: "open_circuit_cold"
	Of      string // the controller, where there are several and it is of one of them
	Subject string
	Number  float64 // NaN: not known
	Limit   float64 // NaN: none, or not known
	AtLeast bool    // the limit is the least allowed, not the most
	Unit    string
	Rule    string // standard and article, or "common practice"
	Working string // how the number came
	Verdict Verdict
	Cure    string // "" on a pass
	Wants   string // a cable that is not typed: what it wants, short
	Type    string // keys that would tell what is not known, "" where Cure says so
}

// Caution is what no line can hold.
type Caution struct {
	Short string // for a page
	Full  string
}

// Way is one way to wire a sub-array's modules.
type Way struct {
	SubArray           int // from 1
	InSeries, Parallel int
	ColdV, HotV        float64 // open circuit on the coldest morning; maximum power on the hottest day
	CurrentA           float64 // short circuit x 1.25
	Typed              bool    // as in the scenario
	Verdict            Verdict
	Why                string // what is wrong, "" on a pass
}

// Input is what the lines are drawn from.
type Input struct {
	System            *sim.System
	RecordLowC        float64 // coldest air ever measured nearby; NaN: not known
	RecordLowSource   string
	LowestC, HighestC float64 // hours of the weather
	Peak              sim.Peak
	CoeffTyped        []bool // of each sub-array: the module's voltage coefficient is from its data sheet; nil: of all
}

// Result is all that is said.
type Result struct {
	Cold     string // where the coldest air comes from
	Lines    []Line
	Ways     []Way
	Cautions []Caution
}

// Count is the number of lines with a verdict.
func (r *Result) Count(v Verdict) int {
	n := 0
	for i := range r.Lines {
		if r.Lines[i].Verdict == v {
			n++
		}
	}
	return n
}

// slim is the share of a limit above which a number is tight: a guess, the scatter of plates and meters.
const slim = 0.95

// most judges a number that may be at most limit.
func most(number, limit float64) Verdict {
	switch {
	case number > limit:
		return Fail
	case number > slim*limit:
		return Tight
	}
	return Pass
}

// least judges a number that must be at least limit.
func least(number, limit float64) Verdict {
	switch {
	case number < limit:
		return Fail
	case number*slim < limit:
		return Tight
	}
	return Pass
}

// Check draws the lines. It panics on a system that the boxes' Check refuses: our bug.
func Check(in *Input) *Result {
	c := &checker{Input: in, sys: in.System}
	c.chargeV = c.sys.Bank.ChargeLimitV()
	c.lowV = emptyV(&c.sys.Bank)
	c.airC = max(30, in.HighestC)
	if a := c.sys.BatteryCable.AirC; a > 0 {
		c.airC = a
	}
	if v := c.sys.Inverter; v != nil {
		c.inverterA = v.DrawA(v.RatedW, c.lowV)
	}
	c.dcA = in.Peak.DCW / c.lowV
	c.panels()
	if !c.sys.AllInOne {
		c.battery()
	}
	if c.sys.Inverter != nil {
		c.inverter()
	}
	c.cables()
	if c.sys.Inverter != nil {
		c.outlets()
	}
	c.cautions()
	c.out.Cold = c.coldWords()
	return &c.out
}

type checker struct {
	*Input
	sys            *sim.System
	chargeV, lowV  float64
	airC           float64 // around the cables
	inverterA, dcA float64 // at the battery's lowest voltage
	coldV          float64 // the highest of the sub-arrays'
	of             string  // the controller that is checked
	out            Result
}

func (c *checker) add(l Line) {
	if l.Verdict == Pass {
		l.Cure = ""
	}
	l.Of = c.of
	c.out.Lines = append(c.out.Lines, l)
}

// emptyV is the voltage at which an inverter must still run, V: that of the empty battery at rest, 11.0 V for four lithium
// cells, 11.9 V for six of lead. Common practice.
func emptyV(b *battery.Bank) float64 { return b.EmptyV() }

// coldest is the air of the coldest morning; known is false where it is a guess.
func (c *checker) coldest() (airC float64, known bool) {
	if math.IsNaN(c.RecordLowC) {
		return c.LowestC - 10, false
	}
	return min(c.RecordLowC, c.LowestC), true
}

// coldWords says where the coldest morning comes from.
func (c *checker) coldWords() string {
	switch {
	case math.IsNaN(c.RecordLowC):
		return fmt.Sprintf("%s C, a guess: 10 K below the weather's coldest hour", round(c.LowestC-10, 0))
	case c.LowestC < c.RecordLowC:
		return fmt.Sprintf("%s C is the coldest hour of the weather, below record_low_c %s", round(c.LowestC, 1), round(c.RecordLowC, 1))
	case c.RecordLowSource == "":
		return fmt.Sprintf("%s C, record_low_c, its source not typed", round(c.RecordLowC, 1))
	}
	return fmt.Sprintf("%s C, %s", round(c.RecordLowC, 1), c.RecordLowSource)
}

// TableFactor is the factor by which a crystalline-silicon module's open-circuit voltage grows at lowC, degC, where its
// coefficient is not known: NEC table 690.7(A), from memory. A temperature between two bands takes the colder one. Below
// -40 C the table ends, and ok is false: then 0.36 % for each kelvin is added, the steepest of usual coefficients.
func TableFactor(lowC float64) (factor float64, ok bool) {
	if lowC >= 25 {
		return 1, true
	}
	for i, f := range []float64{1.02, 1.04, 1.06, 1.08, 1.10, 1.12, 1.14, 1.16, 1.18, 1.20, 1.21, 1.23, 1.25} {
		if lowC >= float64(20-5*i) {
			return f, true
		}
	}
	return 1.25 + 0.0036*(-40-lowC), false
}

func round(v float64, decimals int) string {
	s := fmt.Sprintf("%.*f", decimals, v)
	if strings.Trim(s, "-0.") == "" {
		return strings.TrimPrefix(s, "-")
	}
	return s
}
