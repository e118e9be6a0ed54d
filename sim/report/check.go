package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"tideover/sim/precheck"
)

// groupWords head the lines of precheck.
var groupWords = []string{"Panels and their input", "Battery", "Inverter", "Cables and fuses", "Outlets"}

// Check writes what is checked before anything is bought: each line its verdict, a number, its limit and the rule; below a
// line that is not passed, how the number came and what would cure it.
func Check(w io.Writer, h Header, r *precheck.Result, warnings, notes []string) error {
	var b strings.Builder
	b.WriteString(cut(h.Title, columns) + "\n")
	paragraph(&b, "", checkVerdict(r)+".")
	field(&b, "Place", h.Place)
	field(&b, "Weather", h.Weather)
	field(&b, "System", h.System)
	field(&b, "Coldest air", r.Cold)
	group, of := precheck.Group(-1), ""
	for i := range r.Lines {
		l := &r.Lines[i]
		if l.Group != group || l.Of != of {
			group, of = l.Group, l.Of
			head := groupWords[group]
			if of != "" {
				head += ": " + of
			}
			fmt.Fprintf(&b, "\n%s%s%s %s\n", left(head, 44), right("is", 9), right("allowed", 11), "rule")
		}
		allowed := ""
		if !math.IsNaN(l.Limit) {
			allowed = "<= " + measure(l.Limit, l.Unit)
			if l.AtLeast {
				allowed = ">= " + measure(l.Limit, l.Unit)
			}
		}
		is := ""
		if !math.IsNaN(l.Number) {
			is = measure(l.Number, l.Unit)
		}
		b.WriteString(strings.TrimRight(left(l.Verdict.String(), 8)+left(l.Subject, 36)+right(is, 9)+right(allowed, 11)+" "+left(l.Rule, 15), " ") + "\n")
		if l.Verdict != precheck.Pass {
			says := "-> " + l.Cure + "."
			if l.Working != "" {
				says = l.Working + " " + says
			}
			paragraph(&b, "        ", says)
		}
	}
	if len(r.Ways) > 0 {
		several := slices.ContainsFunc(r.Ways, func(y precheck.Way) bool { return y.SubArray > 1 })
		fmt.Fprintf(&b, "\n%s%s%s%s\n", left("The same modules,", 24), right("open", 10), right("max power", 11), right("Isc", 10))
		fmt.Fprintf(&b, "%s%s%s%s\n", left("in series x side by side", 24), right("cold", 10), right("hot", 11), right("x 1.25", 10))
		for _, y := range r.Ways {
			name := fmt.Sprintf("%d x %d", y.InSeries, y.Parallel)
			if several {
				name = fmt.Sprintf("(%d) %s", y.SubArray, name)
			}
			if y.Typed {
				name += ", as typed"
			}
			verdict := y.Verdict.String()
			if y.Why != "" {
				verdict += ": " + y.Why
			}
			b.WriteString(left(name, 24) + right(measure(y.ColdV, "V"), 10) + right(measure(y.HotV, "V"), 11) + right(measure(y.CurrentA, "A"), 10) + "  " + verdict + "\n")
		}
	}
	b.WriteString("\nCautions\n")
	for _, line := range r.Cautions {
		paragraph(&b, "- ", line)
	}
	for _, line := range warnings {
		paragraph(&b, "! ", line)
	}
	for _, line := range notes {
		paragraph(&b, "- ", line)
	}
	paragraph(&b, "", "A pass certifies nothing: these are some of many rules, by what was typed. Local code and licensed people decide.")
	_, err := io.WriteString(w, b.String())
	return err
}

// measure prints a number with its unit, in three digits or so.
func measure(v float64, unit string) string {
	decimals := 1
	if math.Abs(v) >= 100 || v == math.Round(v) {
		decimals = 0
	}
	return number(v, decimals) + " " + unit
}

// checkVerdict answers in one sentence.
func checkVerdict(r *precheck.Result) string {
	fail, tight, unknown := r.Count(precheck.Fail), r.Count(precheck.Tight), r.Count(precheck.Unknown)
	var parts []string
	if tight > 0 {
		parts = append(parts, fmt.Sprintf("%d tight", tight))
	}
	if unknown > 0 {
		parts = append(parts, fmt.Sprintf("%d unknown", unknown))
	}
	rest := ""
	if len(parts) > 0 {
		rest = "; " + strings.Join(parts, ", ")
	}
	switch {
	case fail == 1:
		return "Don't buy it like this: 1 line fails" + rest
	case fail > 1:
		return fmt.Sprintf("Don't buy it like this: %d lines fail%s", fail, rest)
	case len(parts) > 0:
		return "Nothing fails; settle before buying: " + strings.Join(parts, ", ")
	}
	return fmt.Sprintf("All %d lines pass", len(r.Lines))
}

// CheckJSON writes what Check prints, with the working of each line. A number or limit that is not known is null.
func CheckJSON(w io.Writer, h Header, r *precheck.Result, warnings, notes []string) error {
	known := func(v float64) any {
		if math.IsNaN(v) {
			return nil
		}
		return six(v)
	}
	lines := make([]object, 0, len(r.Lines))
	for i := range r.Lines {
		l := &r.Lines[i]
		limit := "most"
		if l.AtLeast {
			limit = "least"
		}
		line := object{
			{"group", groupWords[l.Group]}, {"key", l.Key}, {"subject", l.Subject}, {"number", known(l.Number)}, {"unit", l.Unit},
			{"limit", known(l.Limit)}, {"limit_is", limit}, {"rule", l.Rule}, {"working", l.Working}, {"verdict", l.Verdict.String()}, {"cure", l.Cure},
		}
		if l.Of != "" {
			line = append(line, pair{"controller", l.Of})
		}
		lines = append(lines, line)
	}
	ways := make([]object, 0, len(r.Ways))
	for _, y := range r.Ways {
		ways = append(ways, object{
			{"sub_array", y.SubArray}, {"in_series", y.InSeries}, {"in_parallel", y.Parallel}, {"open_circuit_cold_v", six(y.ColdV)},
			{"max_power_hot_v", six(y.HotV)}, {"current_a", six(y.CurrentA)}, {"as_typed", y.Typed}, {"verdict", y.Verdict.String()}, {"why", y.Why},
		})
	}
	return writeJSON(w, append(headerOf(h),
		pair{"fails", r.Count(precheck.Fail)}, pair{"tight", r.Count(precheck.Tight)}, pair{"unknown", r.Count(precheck.Unknown)},
		pair{"coldest_air", r.Cold}, pair{"lines", lines}, pair{"ways", ways}, pair{"cautions", list(r.Cautions)}, pair{"warnings", list(warnings)}, pair{"notes", list(notes)}))
}
