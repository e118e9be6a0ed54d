package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"tideover/sim/ledger"
	"tideover/sim/study"
)

// OneYear is one of many years, run with every step.
type OneYear struct {
	Header Header
	Run    *ledger.Run
}

// Years writes what many years tell: the answer, its numbers with the ranges in which they are known, and the calendar
// months; then, in full, the year at one in ten.
func Years(w io.Writer, h Header, rec *study.Record, s *study.Summary, full *OneYear) error {
	var b strings.Builder
	b.WriteString(cut(h.Title, columns) + "\n")
	paragraph(&b, "", yearsVerdict(s)+".")
	field(&b, "Place", h.Place)
	field(&b, "Weather", h.Weather)
	field(&b, "System", h.System)
	b.WriteString("\n")
	spreads(&b, rec, s)
	b.WriteString("\n")
	field(&b, "Years with none", fmt.Sprintf("%d of %d: %s %% (%s)", s.None, s.Years, percent(s.NoneShare.Value),
		between(percent(s.NoneShare.Low), percent(s.NoneShare.High))))
	field(&b, "The worst year", worstYear(rec, s))
	b.WriteString("\n")
	yearsByMonth(&b, s)
	few := ""
	if math.IsInf(s.Days.OneInTen.High, 0) {
		few = " \"Or more\", \"or less\", \"no range\": so few years do not tell how far it may go."
	}
	paragraph(&b, "", fmt.Sprintf("Median: half of the years are no worse. One in ten: nine in ten are no worse. "+
		"Each line ranks the years by itself. In brackets: where the true value lies, %s %% sure, for ever more years of this weather; "+
		"no more is known of the weather itself.%s", percent(study.Sure), few))
	fmt.Fprintf(&b, "\nThe year at one in ten, %d, in full:\n\n", rec.Years[s.OneInTen].CalendarYear)
	if _, err := io.WriteString(w, b.String()); err != nil {
		return err
	}
	return Text(w, full.Header, full.Run)
}

// yearsVerdict answers whether the battery tides the building over, year after year.
func yearsVerdict(s *study.Summary) string {
	if s.Years == 1 {
		return verdict(&ledger.Answer{DaysWithoutPower: int(s.Days.Worst), DaysOffByRule: int(s.DaysOffByRule.Worst)}, span{365, 1})
	}
	years := strconv.Itoa(s.Years) + " years"
	var v string
	switch ofTen := int(s.Days.OneInTen.Value); {
	case s.None == s.Years:
		v = "Yes: no day without power in any of " + years
	case ofTen == 0 && s.Days.OneInTen.High == 0:
		v = fmt.Sprintf("Yes, in nine years of ten: no day without power in %d of %s", s.None, years)
	case ofTen == 0:
		v = fmt.Sprintf("Nearly: no day without power in %d of %s, too few to be sure of nine in ten", s.None, years)
	default:
		v = fmt.Sprintf("No: days without power in %d of %s, at most %d in nine years of ten", s.Years-s.None, years, ofTen)
	}
	if s.DaysOffByRule.Median.Value > 0 {
		v += "; days off by your own rule in most years"
	}
	return v
}

func percent(share float64) string { return number(100*share, 0) }

// between says a range whose ends are printed already; an end of "" is not known.
func between(low, high string) string {
	switch {
	case low == "" && high == "":
		return "no range"
	case high == "":
		return low + " or more"
	case low == "":
		return high + " or less"
	}
	return low + " to " + high
}

func estimate(e study.Estimate, scale float64, decimals int) string {
	end := func(v float64) string {
		if math.IsInf(v, 0) {
			return ""
		}
		return number(scale*v, decimals)
	}
	return number(scale*e.Value, decimals) + " (" + between(end(e.Low), end(e.High)) + ")"
}

// spreads writes the numbers of the answer, one a line.
func spreads(b *strings.Builder, rec *study.Record, s *study.Summary) {
	const label, cell, last = 24, 21, 14
	put := func(name, median, oneInTen, worst string) {
		b.WriteString(left(name, label) + right(median, cell) + right(oneInTen, cell) + right(worst, last) + "\n")
	}
	put(plural(s.Years, "year", "years"), "median", "one in ten", "worst")
	line := func(name string, v study.Spread, scale float64, most int) {
		for d := most; ; d-- {
			median, oneInTen := estimate(v.Median, scale, d), estimate(v.OneInTen, scale, d)
			if d == 0 || max(len(median), len(oneInTen)) < cell {
				put(name, median, oneInTen, number(scale*v.Worst, d))
				return
			}
		}
	}
	line("Days without power", s.Days, 1, 0)
	line("Days off by rule", s.DaysOffByRule, 1, 0)
	line("Hours without power, h", s.Hours, 1, 1)
	line("Unserved share, %", s.UnservedShare, 100, 2)
	line("Lowest charge, %", s.LowestSOC, 100, 1)
	if rec.Backup {
		line("Backup, h a year", s.BackupHours, 1, 1)
		if s.FuelL.Worst > 0 {
			line("Fuel, l a year", s.FuelL, 1, 1)
		}
	}
}

// worstYear says which it was, and how rare a worse one is.
func worstYear(rec *study.Record, s *study.Summary) string {
	y := &rec.Years[s.Worst()]
	v := fmt.Sprintf("%d, %s without power; ", y.CalendarYear, count(y.DaysWithoutPower, "day"))
	if s.None == s.Years {
		v = "none had any; "
	}
	if s.WorseOnceIn < 2 {
		return v + plural(s.Years, "year does", "years do") + " not tell how often a worse one comes"
	}
	worse := "a worse one"
	if s.None == s.Years {
		worse = "a year with any"
	}
	return v + fmt.Sprintf("%s comes less often than once in %.0f years (%s %% sure)", worse, math.Floor(s.WorseOnceIn), percent(study.Sure))
}

// yearsByMonth writes the days without power of the calendar months.
func yearsByMonth(b *strings.Builder, s *study.Summary) {
	heading, mean, any := left("", labelW), left("days no power", labelW), left("years with, %", labelW)
	total := 0.0
	for m := range s.Months {
		heading += right(time.Month(m + 1).String()[:3], cellW)
		mean += right(number(s.Months[m].MeanDays, 1), cellW)
		any += right(percent(float64(s.Months[m].WithAny)/float64(s.Years)), cellW)
		total += s.Months[m].MeanDays
	}
	b.WriteString(heading + right("year", yearW) + "\n" + mean + right(number(total, 1), yearW) + "\n" +
		any + right(percent(1-s.NoneShare.Value), yearW) + "\n")
}

func estimateOf(e study.Estimate) object {
	end := func(v float64) any {
		if math.IsInf(v, 0) {
			return nil
		}
		return six(v)
	}
	return object{{"value", six(e.Value)}, {"low", end(e.Low)}, {"high", end(e.High)}}
}

func spreadOf(s study.Spread) object {
	return object{{"median", estimateOf(s.Median)}, {"one_in_ten", estimateOf(s.OneInTen)}, {"worst", six(s.Worst)}}
}

// summaryOf is what Years prints. An end of a range that is not known is null.
func summaryOf(rec *study.Record, s *study.Summary) object {
	months := make([]object, len(s.Months))
	for m := range s.Months {
		months[m] = object{
			{"month", m + 1}, {"mean_days_without_power", six(s.Months[m].MeanDays)},
			{"share_of_years_with_any", six(float64(s.Months[m].WithAny) / float64(s.Years))},
		}
	}
	o := object{
		{"years", s.Years}, {"sure", six(study.Sure)},
		{"days_without_power", spreadOf(s.Days)}, {"days_off_by_rule", spreadOf(s.DaysOffByRule)},
		{"hours_without_power", spreadOf(s.Hours)}, {"unserved_share", spreadOf(s.UnservedShare)},
		{"lowest_soc", spreadOf(s.LowestSOC)}, {"share_of_years_with_none", estimateOf(s.NoneShare)},
		{"worst_year", rec.Years[s.Worst()].CalendarYear}, {"worse_less_often_than_once_in_years", six(s.WorseOnceIn)},
		{"one_in_ten_year", rec.Years[s.OneInTen].CalendarYear}, {"months", months},
	}
	if rec.Backup {
		o = append(o, pair{"backup_hours", spreadOf(s.BackupHours)}, pair{"fuel_l", spreadOf(s.FuelL)})
	}
	return o
}

// eachYear lists the years as they were run.
func eachYear(rec *study.Record) []object {
	out := make([]object, len(rec.Years))
	for k := range rec.Years {
		y := &rec.Years[k]
		out[k] = object{
			{"calendar_year", y.CalendarYear}, {"days_without_power", y.DaysWithoutPower}, {"days_off_by_rule", y.DaysOffByRule},
			{"hours_without_power", six(y.HoursWithoutPower)}, {"longest_outage_h", six(y.LongestOutageH)},
			{"unserved_share", six(y.UnservedShare)}, {"lowest_soc", six(y.LowestSOC)}, {"start_soc", six(y.StartSOC)},
			{"month_days_without_power", y.MonthDays},
		}
		if rec.Backup {
			out[k] = append(out[k], pair{"backup_hours", six(y.BackupHours)}, pair{"fuel_l", six(y.FuelL)})
		}
	}
	return out
}

// YearsJSON writes what Years prints, every year, and the year at one in ten in full, unless that is nil.
func YearsJSON(w io.Writer, h Header, rec *study.Record, s *study.Summary, full *OneYear) error {
	o := append(headerOf(h), summaryOf(rec, s)...)
	o = append(o, pair{"each_year", eachYear(rec)})
	if full != nil {
		o = append(o, pair{"year_in_full", resultOf(full.Header, full.Run)})
	}
	return writeJSON(w, o)
}

// YearsCSV writes years.csv: one line a year, in the order in which they were run; of a backup charger its hours and fuel.
func YearsCSV(w io.Writer, rec *study.Record) error {
	b := []byte("calendar_year,days_without_power,days_off_by_rule,hours_without_power_h,longest_outage_h,unserved_share,lowest_soc,start_soc")
	for m := time.January; m <= time.December; m++ {
		b = append(b, ",days_without_power_"+strings.ToLower(m.String()[:3])...)
	}
	if rec.Backup {
		b = append(b, ",backup_hours,fuel_l"...)
	}
	for k := range rec.Years {
		y := &rec.Years[k]
		b = fmt.Appendf(append(b, '\n'), "%d,%d,%d,", y.CalendarYear, y.DaysWithoutPower, y.DaysOffByRule)
		for i, v := range []float64{y.HoursWithoutPower, y.LongestOutageH, y.UnservedShare, y.LowestSOC, y.StartSOC} {
			if i > 0 {
				b = append(b, ',')
			}
			b = appendNumber(b, v, 6)
		}
		for _, d := range y.MonthDays {
			b = strconv.AppendInt(append(b, ','), int64(d), 10)
		}
		if rec.Backup {
			b = appendNumber(append(b, ','), y.BackupHours, 6)
			b = appendNumber(append(b, ','), y.FuelL, 6)
		}
	}
	_, err := w.Write(append(b, '\n'))
	return err
}
