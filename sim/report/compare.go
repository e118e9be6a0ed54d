package report

import (
	"cmp"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"tideover/sim/ledger"
)

// perBlock is how many runs stand side by side, and nameW the width of the labels before them.
const perBlock, nameW = 4, 20

// Compare writes the runs side by side, the first repeated in every block, then what explains each one's difference
// from the first. The runs are meant to have had the same weather. It panics when names and runs differ in number.
func Compare(w io.Writer, h Header, names []string, runs []*ledger.Run) error {
	mustPair(names, runs)
	var b strings.Builder
	b.WriteString(cut(h.Title, columns) + "\n")
	field(&b, "Place", h.Place)
	field(&b, "Weather", h.Weather)
	field(&b, "System", h.System)
	for from := 1; from == 1 || from < len(runs); from += perBlock - 1 {
		to := min(from+perBlock-1, len(runs))
		b.WriteString("\n")
		block(&b, append([]string{names[0]}, names[from:to]...), append([]*ledger.Run{runs[0]}, runs[from:to]...))
	}
	if len(runs) > 1 {
		b.WriteString("\nWhat explains the difference from " + cut(names[0], 45) + ":\n")
		for i, r := range runs[1:] {
			paragraph(&b, "- ", plain(names[i+1])+": "+difference(runs[0], r)+".")
		}
	}
	for i, r := range runs {
		for _, line := range r.Warnings {
			// What the first run warns of is said once.
			if i == 0 {
				paragraph(&b, "! ", line)
			} else if !slices.Contains(runs[0].Warnings, line) {
				paragraph(&b, "! ", plain(names[i])+": "+line)
			}
		}
	}
	for _, line := range runs[0].Notes {
		paragraph(&b, "- ", line)
	}
	paragraph(&b, "", caution)
	_, err := io.WriteString(w, b.String())
	return err
}

func mustPair(names []string, runs []*ledger.Run) {
	if len(names) != len(runs) || len(runs) == 0 {
		panic(fmt.Sprintf("report: Compare: %d names for %d runs, want one each and at least one", len(names), len(runs)))
	}
}

func block(b *strings.Builder, names []string, runs []*ledger.Run) {
	runW := min((columns-nameW)/len(runs), 30)
	put := func(label string, cell func(r *ledger.Run) string) {
		b.WriteString(left(label, nameW))
		for _, r := range runs {
			b.WriteString(right(cell(r), runW))
		}
		b.WriteString("\n")
	}
	heads(b, names, nameW, runW)
	put("days without power", func(r *ledger.Run) string { return fmt.Sprint(r.Answer.DaysWithoutPower) })
	put("days off by rule", func(r *ledger.Run) string { return fmt.Sprint(r.Answer.DaysOffByRule) })
	put("hours without power", func(r *ledger.Run) string { return number(r.Answer.HoursWithoutPower, 1) + " h" })
	put("longest outage", func(r *ledger.Run) string { return number(r.Answer.LongestOutageH, 1) + " h" })
	put("lowest charge", func(r *ledger.Run) string { return number(100*r.Answer.LowestSOC, 1) + " %" })
	put("  on", func(r *ledger.Run) string { return lowestAt(r).Format("2 Jan 2006") })
	put("  at, local time", func(r *ledger.Run) string { return lowestAt(r).Format("15:04") })
	put("inverter idle a day", func(r *ledger.Run) string { return perDayWh(r, ledger.InverterIdle) })
	per := " a year"
	if spanOf(runs[0]).years == 0 {
		per = " in all"
	}
	for _, f := range []struct {
		label string
		flow  ledger.Flow
	}{
		{"inverter idle", ledger.InverterIdle}, {"standby", ledger.Standby}, {"curtailed", ledger.Curtailed},
		{"unserved", ledger.Unserved}, {"withheld", ledger.Withheld}, {"served", ledger.Served},
	} {
		put(f.label+per, func(r *ledger.Run) string {
			return number(spanOf(r).perYear(r.Total[f.flow])/1000, 1) + " kWh"
		})
	}
}

// headLines is how many lines the name of a column may take.
const headLines = 3

// heads writes the names of the columns, each wrapped within its width and standing on the numbers below it.
func heads(b *strings.Builder, names []string, nameW, runW int) {
	all := make([][]string, len(names))
	most := 0
	for i, name := range names {
		lines := wrap(name, columns-(runW-1))
		if len(lines) > headLines {
			lines = append(lines[:headLines-1], strings.Join(lines[headLines-1:], " "))
		}
		all[i], most = lines, max(most, len(lines))
	}
	for k := range most {
		line := strings.Repeat(" ", nameW)
		for _, lines := range all {
			text := ""
			if at := k - (most - len(lines)); at >= 0 {
				text = lines[at]
			}
			line += " " + right(text, runW-1)
		}
		b.WriteString(strings.TrimRight(line, " ") + "\n")
	}
}

func lowestAt(r *ledger.Run) time.Time { return r.Answer.LowestSOCTime.Round(time.Second) }

func perDayWh(r *ledger.Run, f ledger.Flow) string {
	return number(spanOf(r).perDay(r.Total[f]), 0) + " Wh"
}

// effect is what a fall of a flow means for the array.
type effect int

const (
	supply  effect = iota // what the array brings
	burden                // what the array must find
	outcome               // what is left over; names a difference only when nothing else does
)

// terms are the flows that can explain a difference, in words.
var terms = []struct {
	flow ledger.Flow
	name string
	effect
}{
	{ledger.Array, "what the array could give", supply},
	{ledger.NotStarted, "array energy below the controller's start", supply},
	{ledger.OffPeak, "array energy lost off peak", supply},
	{ledger.Clipped, "clipped energy", supply},
	{ledger.ChargeBarred, "charge barred by cold", supply},
	{ledger.Backup, "backup energy", supply},
	{ledger.ControllerLoss, "controller loss", burden},
	{ledger.WiringLoss, "wiring loss", burden},
	{ledger.BatteryLoss, "battery loss", burden},
	{ledger.InverterIdle, "inverter idle", burden},
	{ledger.InverterLoss, "inverter loss", burden},
	{ledger.Standby, "standby", burden},
	{ledger.Heater, "heater energy", burden},
	{ledger.Demand, "what the loads ask", burden},
	{ledger.Withheld, "what your own rule withholds", supply},
	{ledger.Curtailed, "curtailed energy", outcome},
}

// daily is what a system's flows come to in a day.
type daily struct {
	wh         *ledger.Flows
	days       int
	capacityWh float64
	heatWh     float64 // of the charge barred, by heat
}

func (d daily) of(f ledger.Flow) float64 { return d.wh[f] / float64(max(1, d.days)) }

// difference says in one sentence which booked flows set b apart from a, and what came of it.
func difference(a, b *ledger.Run) string {
	from, to := daily{&a.Total, spanOf(a).days, a.CapacityWh, a.HeatBarredWh()}, daily{&b.Total, spanOf(b).days, b.CapacityWh, b.HeatBarredWh()}
	parts := causes(a, b)
	if parts == nil {
		parts = explained(from, to, 1)
	} else {
		parts = append(parts, explained(from, to, max(1, trifle*from.of(ledger.Demand)))...)
	}
	without := b.Answer.DaysWithoutPower - a.Answer.DaysWithoutPower
	byRule := b.Answer.DaysOffByRule - a.Answer.DaysOffByRule
	switch {
	case without < 0:
		parts = append(parts, count(-without, "day")+" fewer without power")
	case without > 0:
		parts = append(parts, count(without, "day")+" more without power")
	default:
		parts = append(parts, fmt.Sprintf("as many days without power (%d)", b.Answer.DaysWithoutPower))
	}
	switch {
	case byRule > 0 && without < 0:
		parts = append(parts, plural(byRule, "day is", "days are")+" off by rule instead")
	case byRule > 0:
		parts = append(parts, count(byRule, "day")+" more off by rule")
	case byRule < 0:
		parts = append(parts, count(-byRule, "day")+" fewer off by rule")
	}
	return strings.Join(parts, "; ")
}

// trifle is the share of what the loads ask, under which a flow explains no days that are put to a cause: a guess.
const trifle = 0.02

// causes says how many dates without power each cause took, most changed first, where trips, sag or auto-off took more or
// fewer. What an empty or a frozen battery took the flows explain, and alone it needs no such words: nil.
func causes(a, b *ledger.Run) []string {
	var list []ledger.Cause
	power := false
	for c := range ledger.NCauses {
		if a.DaysByCause[c] != b.DaysByCause[c] {
			list = append(list, c)
			power = power || c != ledger.BatteryEmpty && c != ledger.ColdBarred
		}
	}
	if !power {
		return nil
	}
	more := func(c ledger.Cause) int { return b.DaysByCause[c] - a.DaysByCause[c] }
	size := func(c ledger.Cause) int { return max(more(c), -more(c)) }
	slices.SortStableFunc(list, func(x, y ledger.Cause) int { return size(y) - size(x) })
	var parts []string
	for _, c := range list {
		verb := "fall"
		if more(c) > 0 {
			verb = "rise"
		}
		word := c.String()
		if c == ledger.ColdBarred {
			word = barredBy(float64(a.DaysHeatBarred+b.DaysHeatBarred), float64(a.DaysByCause[c]+b.DaysByCause[c])) + "-barred"
		}
		parts = append(parts, fmt.Sprintf("days by %s %s from %d to %d", word, verb, a.DaysByCause[c], b.DaysByCause[c]))
	}
	return parts
}

// explained says which booked flows set b apart from a by least Wh a day or more; beside other words it may be none.
func explained(a, b daily, least float64) []string {
	type change struct {
		term     int
		from, to float64 // Wh a day, rounded
	}
	size := func(c change) float64 { return math.Abs(c.to - c.from) }
	var parts []string
	if math.Abs(b.capacityWh-a.capacityWh) > 0.005*a.capacityWh {
		parts = append(parts, fmt.Sprintf("the battery holds %.0f Wh, not %.0f Wh", b.capacityWh, a.capacityWh))
	}
	var changes []change
	lessUnserved := a.of(ledger.Unserved) - b.of(ledger.Unserved)
	for i, t := range terms {
		c := change{i, math.Round(a.of(t.flow)), math.Round(b.of(t.flow))}
		// A loss that grows by less than the loads are served more follows from serving them; and the reverse.
		follows := t.effect == burden && t.flow != ledger.Demand &&
			(c.to-c.from)*lessUnserved > 0 && size(c) <= math.Abs(lessUnserved)+1
		if size(c) >= least && !follows {
			changes = append(changes, c)
		}
	}
	slices.SortStableFunc(changes, func(x, y change) int { return cmp.Compare(size(y), size(x)) })
	// What is left over mirrors the rest, and comes last unless it is more than five times as large.
	if len(changes) > 1 && terms[changes[0].term].effect == outcome && size(changes[1])*5 > size(changes[0]) {
		changes = append(changes[1:], changes[0])
	}
	said := false
	for i, c := range changes[:min(2, len(changes))] {
		t := terms[c.term]
		if i > 0 && (size(c)*5 < size(changes[0]) || t.effect == outcome) {
			break
		}
		verb := "falls"
		if c.to > c.from {
			verb = "rises"
		}
		name := t.name
		if t.flow == ledger.ChargeBarred {
			name = "charge barred by " + barredBy(a.heatWh+b.heatWh, a.wh[t.flow]+b.wh[t.flow])
		}
		parts = append(parts, fmt.Sprintf("%s %s from %.0f to %.0f Wh a day", name, verb, c.from, c.to))
		if !said && t.effect == burden {
			said = true
			if c.to < c.from {
				parts = append(parts, fmt.Sprintf("that is %.0f Wh a day the array need not find", size(c)))
			} else {
				parts = append(parts, fmt.Sprintf("that is %.0f Wh a day more for the array to find", size(c)))
			}
		}
	}
	if len(parts) == 0 && least <= 1 {
		parts = append(parts, "no booked flow differs by 1 Wh a day")
	}
	return parts
}

// CompareJSON writes what Compare prints, and the whole ledger of each run, keyed as in result.json.
func CompareJSON(w io.Writer, h Header, names []string, runs []*ledger.Run) error {
	mustPair(names, runs)
	variants := make([]object, len(runs))
	for i, r := range runs {
		variants[i] = object{
			{"name", names[i]}, {"answer", answerOf(&r.Answer)}, {"days_by_cause", daysByCause(r)},
			{"start", settleOf(h, r)}, {"ledger_wh", ledgerOf(r)}, {"warnings", list(r.Warnings)},
		}
		if i > 0 {
			variants[i] = append(variants[i], pair{"difference", difference(runs[0], r)})
		}
	}
	return writeJSON(w, append(headerOf(h), pair{"variants", variants}))
}
