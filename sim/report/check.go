package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"tideover/sim/precheck"
)

// groupWords head the lines of precheck.
var groupWords = []string{"Panels and their input", "Battery", "Inverter", "Cables and fuses", "Outlets"}

// Check writes what is checked before anything is bought, on one page where that can be: each line its verdict, a number, its
// limit and the rule; below a line that is not passed, how the number came and what would cure it. Where the page is short,
// what is passed stands in one paragraph for each heading, without its rule, and then the empty lines go.
func Check(w io.Writer, h Header, r *precheck.Result, warnings, notes []string) error {
	text := checkText(h, r, warnings, notes, false, "\n")
	if strings.Count(text, "\n") > page {
		text = checkText(h, r, warnings, notes, true, "\n")
	}
	if strings.Count(text, "\n") > page {
		text = checkText(h, r, warnings, notes, true, "")
	}
	_, err := io.WriteString(w, text)
	return err
}

// page is how many lines a sheet of paper takes.
const page = 66

func checkText(h Header, r *precheck.Result, warnings, notes []string, dense bool, between string) string {
	var parts []string
	part := func(write func(b *strings.Builder)) {
		var b strings.Builder
		if write(&b); b.Len() > 0 {
			parts = append(parts, b.String())
		}
	}
	part(func(b *strings.Builder) {
		b.WriteString(cut(h.Title, columns) + "\n")
		paragraph(b, "", checkVerdict(r)+".")
		field(b, "Place", h.Place)
		field(b, "Weather", cut(h.Weather, columns-24))
		field(b, "System", h.System)
		field(b, "Coldest air", r.Cold)
	})
	for from := 0; from < len(r.Lines); {
		to := from
		for to < len(r.Lines) && r.Lines[to].Group == r.Lines[from].Group && r.Lines[to].Of == r.Lines[from].Of {
			to++
		}
		part(func(b *strings.Builder) { checkGroup(b, r.Lines[from:to], dense) })
		from = to
	}
	part(func(b *strings.Builder) { checkWays(b, r.Ways) })
	part(func(b *strings.Builder) {
		if h.Stagger != nil {
			field(b, "What to stagger", stagger(h.Stagger))
		}
	})
	part(func(b *strings.Builder) {
		b.WriteString("Cautions (in full: check --cautions)\n")
		for _, c := range r.Cautions {
			paragraph(b, "- ", c.Short)
		}
		for _, line := range warnings {
			paragraph(b, "! ", line)
		}
		for _, line := range notes {
			paragraph(b, "- ", line)
		}
		says := "A pass certifies nothing: local code and licensed people decide."
		if dense {
			says += " What is passed and names no rule goes by common practice."
		}
		paragraph(b, "", says)
	})
	return strings.Join(parts, between)
}

// Cautions writes what no line of Check can hold, in full.
func Cautions(w io.Writer, h Header, r *precheck.Result) error {
	var b strings.Builder
	b.WriteString(cut(h.Title, columns) + "\n")
	for _, c := range r.Cautions {
		paragraph(&b, "- ", c.Full)
	}
	paragraph(&b, "", "These are some of many: local code and licensed people decide.")
	_, err := io.WriteString(w, b.String())
	return err
}

// checkGroup writes the lines of one heading.
func checkGroup(b *strings.Builder, lines []precheck.Line, dense bool) {
	var passed [][]string // a paragraph each: of cables one for each circuit
	var untyped, sizedBy []string
	numbered, nPassed, circuit := false, 0, ""
	for i := range lines {
		l := &lines[i]
		numbered = numbered || strings.HasPrefix(l.Subject, "(")
		if !dense || l.Verdict != precheck.Pass {
			continue
		}
		its := ""
		if l.Group == precheck.Cables {
			its, _, _ = strings.Cut(l.Key, "_")
		}
		if nPassed == 0 || its != circuit {
			passed, circuit = append(passed, nil), its
		}
		passed[len(passed)-1] = append(passed[len(passed)-1], passes(l))
		nPassed++
	}
	head := groupWords[lines[0].Group]
	if of := lines[0].Of; of != "" {
		head += ": " + of
	}
	if nPassed < len(lines) {
		fmt.Fprintf(b, "%s%s%s %s\n", left(head, 44), right("is", 9), right("allowed", 11), "rule")
	} else {
		b.WriteString(head + "\n")
	}
	for i := range lines {
		l := &lines[i]
		is, allowed := sides(l)
		switch {
		case l.Verdict == precheck.Pass && dense:
			continue
		case l.Wants != "" && width(l.Wants) <= columns-49:
			b.WriteString(left(l.Verdict.String(), 8) + left(l.Subject, 28) + right(is, 9) + " -> " + l.Wants + "\n")
			untyped = append(untyped, l.Type)
			if !slices.Contains(sizedBy, l.Rule) {
				sizedBy = append(sizedBy, l.Rule)
			}
			continue
		}
		b.WriteString(strings.TrimRight(left(l.Verdict.String(), 8)+left(l.Subject, 36)+right(is, 9)+right(allowed, 11)+" "+left(l.Rule, 15), " ") + "\n")
		if l.Verdict == precheck.Pass {
			continue
		}
		says := "-> " + cure(l) + "."
		if l.Working != "" {
			says = l.Working + " " + says
		}
		paragraph(b, "        ", says)
	}
	if len(untyped) > 0 {
		says := "Cables that are not typed: type " + untyped[0]
		if len(untyped) > 1 {
			says += ", and so on"
		}
		paragraph(b, "        ", says+". Sized by "+inWords(sizedBy)+".")
	}
	for i, together := range passed {
		word := precheck.Pass.String()
		if i > 0 {
			word = ""
		}
		paragraph(b, left(word, 8), strings.Join(together, "; ")+".")
	}
	if numbered {
		paragraph(b, "        ", subArraysAre)
	}
}

const subArraysAre = "(1), (2) and so on are the sub-arrays in the order typed."

// sides are a line's number and limit as printed.
func sides(l *precheck.Line) (is, allowed string) {
	if !math.IsNaN(l.Limit) {
		allowed = "<= " + measure(l.Limit, l.Unit)
		if l.AtLeast {
			allowed = ">= " + measure(l.Limit, l.Unit)
		}
	}
	if !math.IsNaN(l.Number) {
		is = measure(l.Number, l.Unit)
		over := l.Number > l.Limit
		if l.AtLeast {
			over = l.Number < l.Limit
		}
		for n := 1; over && n < 6 && same(is, measure(l.Limit, l.Unit)); n++ {
			is = number(l.Number, n) + " " + l.Unit // a hair over it does not look like it
		}
	}
	return is, allowed
}

// same reports whether two printed measures are the same number.
func same(a, b string) bool {
	x, _, _ := strings.Cut(a, " ")
	y, _, _ := strings.Cut(b, " ")
	v, err := strconv.ParseFloat(x, 64)
	w, werr := strconv.ParseFloat(y, 64)
	return err == nil && werr == nil && v == w
}

const commonPractice = "common practice"

// passes is a line that is passed, in a sentence with its rule, unless that is common practice.
func passes(l *precheck.Line) string {
	is, allowed := sides(l)
	says := l.Subject
	if is+allowed != "" {
		says += ": " + is + " " + allowed
	}
	if l.Rule != commonPractice {
		says += " (" + l.Rule + ")"
	}
	return strings.Join(strings.Fields(says), " ")
}

// cure is what would help, with the keys to type.
func cure(l *precheck.Line) string {
	if l.Type != "" {
		return l.Cure + "; type " + l.Type
	}
	return l.Cure
}

// checkWays writes in which other ways the modules could be wired.
func checkWays(b *strings.Builder, ways []precheck.Way) {
	if len(ways) == 0 {
		return
	}
	several := slices.ContainsFunc(ways, func(y precheck.Way) bool { return y.SubArray > 1 })
	fmt.Fprintf(b, "%s%s%s%s\n", left("In series x side by side", 24), right("open cold", 10), right("best hot", 10), right("short", 11))
	for _, y := range ways {
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
		gap := "  "
		if width(verdict) > columns-57 {
			gap = " "
		}
		b.WriteString(left(name, 24) + right(measure(y.ColdV, "V"), 10) + right(measure(y.HotV, "V"), 10) + right(measure(y.CurrentA, "A"), 11) + gap + verdict + "\n")
	}
	says := "Open circuit in the cold; best power in the heat; short circuit x 1.25."
	if several {
		says += " " + subArraysAre
	}
	paragraph(b, "", says)
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
			{"limit", known(l.Limit)}, {"limit_is", limit}, {"rule", l.Rule}, {"working", l.Working}, {"verdict", l.Verdict.String()}, {"cure", cure(l)},
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
	cautions := make([]string, len(r.Cautions))
	for i, c := range r.Cautions {
		cautions[i] = c.Full
	}
	o := append(headerOf(h),
		pair{"fails", r.Count(precheck.Fail)}, pair{"tight", r.Count(precheck.Tight)}, pair{"unknown", r.Count(precheck.Unknown)},
		pair{"coldest_air", r.Cold}, pair{"lines", lines}, pair{"ways", ways}, pair{"cautions", cautions}, pair{"warnings", list(warnings)}, pair{"notes", list(notes)})
	if h.Stagger != nil {
		o = append(o, pair{"stagger", staggerOf(h.Stagger)})
	}
	return writeJSON(w, o)
}
