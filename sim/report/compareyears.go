package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"tideover/sim/ledger"
	"tideover/sim/study"
)

// CompareYears writes many years of each system side by side, the first repeated in every block, then what the years show
// of each one's difference from the first. All had the same weather, year by year.
func CompareYears(w io.Writer, h Header, records []*study.Record) error {
	var b strings.Builder
	b.WriteString(cut(h.Title, columns) + "\n")
	field(&b, "Place", h.Place)
	field(&b, "Weather", h.Weather)
	field(&b, "System", h.System)
	sums := make([]*study.Summary, len(records))
	for i, rec := range records {
		sums[i] = rec.Summary()
	}
	for from := 1; from == 1 || from < len(records); from += perBlock - 1 {
		columns := []int{0}
		for i := from; i < min(from+perBlock-1, len(records)); i++ {
			columns = append(columns, i)
		}
		b.WriteString("\n")
		yearsBlock(&b, records, sums, columns)
	}
	if len(records) > 1 {
		n := sums[0].Years
		b.WriteString("\n")
		paragraph(&b, "", fmt.Sprintf("What %s show against %s, each year on the same weather (%s %% sure):",
			plural(n, "year", "years"), plain(records[0].Name), percent(study.Sure)))
		for _, rec := range records[1:] {
			paragraph(&b, "- ", plain(rec.Name)+": "+yearsDifference(records[0], rec)+".")
		}
	}
	for i, rec := range records {
		for _, line := range rec.Warnings {
			if i == 0 {
				paragraph(&b, "! ", line)
			} else if !slices.Contains(records[0].Warnings, line) {
				paragraph(&b, "! ", plain(rec.Name)+": "+line)
			}
		}
	}
	for _, line := range records[0].Notes {
		paragraph(&b, "- ", line)
	}
	paragraph(&b, "", caution)
	_, err := io.WriteString(w, b.String())
	return err
}

func yearsBlock(b *strings.Builder, records []*study.Record, sums []*study.Summary, show []int) {
	const nameW = 24
	runW := min((columns-nameW)/len(show), 30)
	put := func(label string, cell func(rec *study.Record, s *study.Summary) string) {
		b.WriteString(left(label, nameW))
		for _, i := range show {
			b.WriteString(" " + right(cell(records[i], sums[i]), runW-1))
		}
		b.WriteString("\n")
	}
	kWh := func(f ledger.Flow) func(rec *study.Record, s *study.Summary) string {
		return func(rec *study.Record, s *study.Summary) string {
			return number(rec.Total[f]/1000/float64(s.Years), 1) + " kWh"
		}
	}
	mean := func(of func(y *study.Year) float64) func(rec *study.Record, s *study.Summary) float64 {
		return func(rec *study.Record, s *study.Summary) float64 {
			sum := 0.0
			for k := range rec.Years {
				sum += of(&rec.Years[k])
			}
			return sum / float64(s.Years)
		}
	}
	days := mean(func(y *study.Year) float64 { return float64(y.DaysWithoutPower) })
	byRule := mean(func(y *study.Year) float64 { return float64(y.DaysOffByRule) })
	hours := mean(func(y *study.Year) float64 { return y.HoursWithoutPower })
	var names []string
	for _, i := range show {
		names = append(names, records[i].Name)
	}
	heads(b, names, nameW, runW)
	put("days without power, mean", func(rec *study.Record, s *study.Summary) string { return number(days(rec, s), 1) })
	put("  one year in ten", func(_ *study.Record, s *study.Summary) string { return number(s.Days.OneInTen.Value, 0) })
	put("  worst year", func(_ *study.Record, s *study.Summary) string { return number(s.Days.Worst, 0) })
	put("years with none", func(_ *study.Record, s *study.Summary) string { return percent(s.NoneShare.Value) + " %" })
	put("days off by rule, mean", func(rec *study.Record, s *study.Summary) string { return number(byRule(rec, s), 1) })
	put("hours without, mean", func(rec *study.Record, s *study.Summary) string { return number(hours(rec, s), 1) + " h" })
	put("lowest charge, median", func(_ *study.Record, s *study.Summary) string {
		return number(100*s.LowestSOC.Median.Value, 1) + " %"
	})
	put("inverter idle a year", kWh(ledger.InverterIdle))
	put("curtailed a year", kWh(ledger.Curtailed))
	put("unserved a year", kWh(ledger.Unserved))
	put("withheld a year", kWh(ledger.Withheld))
	put("served a year", kWh(ledger.Served))
}

// yearsDifference says what the years show of the difference between two systems, and which flows explain it.
func yearsDifference(a, b *study.Record) string {
	parts := append([]string{shown(study.Paired(a.Years, b.Years), len(a.Years))},
		explained(daily{&a.Total, a.Days, a.CapacityWh, a.HeatBarredWh}, daily{&b.Total, b.Days, b.CapacityWh, b.HeatBarredWh}, 1)...)
	rule := 0
	for k := range a.Years {
		rule += b.Years[k].DaysOffByRule - a.Years[k].DaysOffByRule
	}
	switch perYear := float64(rule) / float64(len(a.Years)); {
	case rule > 0:
		parts = append(parts, number(perYear, 1)+" days a year more off by rule")
	case rule < 0:
		parts = append(parts, number(-perYear, 1)+" days a year fewer off by rule")
	}
	return strings.Join(parts, "; ")
}

// shown says what n years show of a difference.
func shown(d study.Difference, n int) string {
	change := func(v float64) string {
		if v > 0 {
			return number(v, 1) + " more"
		}
		return number(-v, 1) + " fewer"
	}
	years := plural(n, "year", "years")
	switch {
	case d.Fewer+d.More == 0 && n == 1:
		return "as many days without power; but one year is one draw"
	case d.Fewer+d.More == 0:
		return "as many days without power in each of the " + years
	case n == 1:
		return change(d.Mean) + " days without power; but one year is one draw and shows nothing sure"
	case d.BySign && d.Shown:
		return fmt.Sprintf("%s days a year without power; fewer in %d of %s, more in %d: too few for a range, but not chance (sign test)",
			change(d.Mean), d.Fewer, years, d.More)
	case d.BySign:
		return fmt.Sprintf("no difference that %s can show: fewer days without power in %d, more in %d, as many in the rest",
			years, d.Fewer, d.More)
	case !d.Shown:
		return fmt.Sprintf("no difference that %s can show: %s days a year without power, between %s and %s",
			years, change(d.Mean), change(d.Low), change(d.High))
	}
	low, high := d.Low, d.High
	if d.Mean < 0 {
		low, high = -high, -low
	}
	return fmt.Sprintf("%s days a year without power (%s to %s)", change(d.Mean), number(low, 1), number(high, 1))
}

// CompareYearsJSON writes what CompareYears prints, and every year. An end of a range that is not known is null.
func CompareYearsJSON(w io.Writer, h Header, records []*study.Record) error {
	variants := make([]object, len(records))
	for i, rec := range records {
		o := object{{"name", rec.Name}}
		o = append(o, summaryOf(rec, rec.Summary())...)
		o = append(o, pair{"ledger_wh_all_years", termsOf(&rec.Total)}, pair{"each_year", eachYear(rec)})
		if i > 0 {
			d := study.Paired(records[0].Years, rec.Years)
			o = append(o, pair{"difference", object{
				{"days_without_power", estimateOf(study.Estimate{Value: d.Mean, Range: d.Range})},
				{"years_with_fewer", d.Fewer}, {"years_with_more", d.More}, {"by_sign_test", d.BySign}, {"shown", d.Shown},
				{"in_words", yearsDifference(records[0], rec)},
			}})
		}
		variants[i] = append(o, pair{"warnings", list(rec.Warnings)})
	}
	return writeJSON(w, append(headerOf(h), pair{"variants", variants}))
}
