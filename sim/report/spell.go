package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"tideover/sim"
	"tideover/sim/study"
)

// oftenDays are the lengths of the table of how often spells come.
var oftenDays = []int{1, 2, 3, 5, 7, 10}

// Spell writes what dull spells do: in words, then by month, then how often they come.
func Spell(w io.Writer, h Header, s *study.Spells) error {
	var b strings.Builder
	b.WriteString(cut(h.Title, columns) + "\n")
	for k, share := range s.Shares {
		b.WriteString("\nA dull spell at " + shareWord(share) + " % of the usual sun:\n")
		for _, stretch := range s.Stretches(k) {
			paragraph(&b, "- ", sentence(s, stretch))
		}
	}
	b.WriteString("\n")
	field(&b, "Place", h.Place)
	field(&b, "Weather", h.Weather)
	field(&b, "System", h.System)
	b.WriteString("\n")
	spellMonths(&b, s)
	if s.Often != nil {
		b.WriteString("\n")
		often(&b, s)
	}
	b.WriteString("\n")
	if s.Trips > 0 {
		paragraph(&b, "! ", fmt.Sprintf("must-have loads overload the inverter in %s of the run, whatever the charge: a spell that holds such a step counts as not carried; see run", plural(s.Trips, "step", "steps")))
	}
	for _, line := range s.Warnings {
		paragraph(&b, "! ", line)
	}
	for _, line := range append(spellNotes(s), s.Notes...) {
		paragraph(&b, "- ", line)
	}
	paragraph(&b, "", caution)
	_, err := io.WriteString(w, b.String())
	return err
}

// shareWord prints a share as the user typed it.
func shareWord(share float64) string {
	return strconv.FormatFloat(math.Round(1e6*share)/1e4, 'f', -1, 64)
}

// sentence says what one stretch's spells come to.
func sentence(s *study.Spells, n study.Stretch) string {
	when := n.String()
	text := strings.ToUpper(when[:1]) + when[1:] + " it "
	switch {
	case n.Days == 0 && n.Middle == 0:
		text += "does not carry a single day"
	case n.Days == 0:
		text += "is not sure to carry a single day"
	case n.Days == s.Days:
		text += "carries " + count(n.Days, "day") + ", the longest tried"
	default:
		text += "carries " + count(n.Days, "day")
	}
	if n.Middle > n.Days {
		text += fmt.Sprintf(" (%d on half of the start dates)", n.Middle)
	}
	if n.Days > 0 && n.BackupH > 0 {
		text += ", with the backup charger running for up to " + backupWord(n.BackupH, s.FuelLPerH)
	}
	after := ", and "
	if n.Days == 0 {
		after = "; after one it "
	}
	switch days := fullDays(n.FullH); {
	case days == 0:
		text += after + "is full at its end"
	case days < 0:
		text += after + fmt.Sprintf("is not full again within %d days", sim.MaxFullDays)
	default:
		text += after + "needs " + count(days, "day") + " to be full again"
	}
	if n.Off > 0 {
		text += fmt.Sprintf("; on %d of %s its loads are off already", n.Off, plural(n.Dates, "start date", "start dates"))
	}
	switch v := n.LongerPerYear; {
	case math.IsNaN(v):
	case v == 0:
		text += fmt.Sprintf("; none longer began then in %s", count(s.Often.Years, "year"))
	default:
		text += "; a longer one begins then " + timesAYear(v)
	}
	return text + "."
}

// backupWord is so many hours of the backup charger, with the fuel that it burns.
func backupWord(h, fuelLPerH float64) string {
	s := number(h, 0) + " h"
	if fuelLPerH > 0 {
		s += " (" + number(h*fuelLPerH, 0) + " l of fuel)"
	}
	return s
}

// timesAYear says how often something comes.
func timesAYear(v float64) string {
	if v < 0.67 {
		return "once in " + count(int(math.Round(1/v)), "year")
	}
	return number(v, 1) + " times a year"
}

// fullDays is the time until full in begun days; -1 where it is not known.
func fullDays(h float64) int {
	if math.IsInf(h, 1) {
		return -1
	}
	return int(math.Ceil(h/24 - 1e-9))
}

// spellMonths writes the table by month of the start date.
func spellMonths(b *strings.Builder, s *study.Spells) {
	row := func(label string, months []study.SpellMonth, cell func(m *study.SpellMonth) string) {
		b.WriteString(left(label, labelW))
		for i := range months {
			b.WriteString(right(cell(&months[i]), cellW))
		}
		b.WriteString("\n")
	}
	all := make([][]study.SpellMonth, len(s.Shares))
	for k := range s.Shares {
		all[k] = s.Months(k)
	}
	row("start in", all[0], func(m *study.SpellMonth) string { return m.Month.String()[:3] })
	row("charge, %", all[0], func(m *study.SpellMonth) string { return number(100*m.StartSOC, 0) })
	if slices.Contains(s.StartOff, true) {
		row("dates off", all[0], func(m *study.SpellMonth) string { return fmt.Sprint(m.DatesOff) })
	}
	for k, share := range s.Shares {
		b.WriteString("at " + shareWord(share) + " % of the usual sun\n")
		days := func(n int) string {
			if n == s.Days {
				return fmt.Sprintf("%d+", n)
			}
			return fmt.Sprint(n)
		}
		row("  days, lowest", all[k], func(m *study.SpellMonth) string { return days(m.Lowest) })
		row("  days, middle", all[k], func(m *study.SpellMonth) string { return days(m.Middle) })
		row("  cut after, h", all[k], func(m *study.SpellMonth) string {
			if math.IsInf(m.CutH, 1) {
				return "-"
			}
			return number(m.CutH, 0)
		})
		row("  full in, d", all[k], func(m *study.SpellMonth) string {
			if d := fullDays(m.FullH); d >= 0 {
				return fmt.Sprint(d)
			}
			return fmt.Sprintf(">%d", sim.MaxFullDays)
		})
	}
	paragraph(b, "", "Charge as it was when the spell began; days carried; cut and full again in the middle of the start dates, full again after the longest spell carried (one day where none is).")
}

// often writes the table of how often spells come.
func often(b *strings.Builder, s *study.Spells) {
	b.WriteString(left("Spells a year, days", 30))
	for _, d := range oftenDays {
		if d <= s.Days {
			b.WriteString(right(fmt.Sprint(d), 7))
		}
	}
	b.WriteString("\n")
	for k, share := range s.Shares {
		b.WriteString(left("  at "+shareWord(share)+" % or under", 30))
		for _, d := range oftenDays {
			if d <= s.Days {
				b.WriteString(right(spellsAYear(s.Often.PerYear(k, d)), 7))
			}
		}
		b.WriteString("\n")
	}
	paragraph(b, "", fmt.Sprintf("Mean of %s of this weather: stretches of at least so many days on which the array's plane gets no more than that share of its usual light, in the mean of so many days running.",
		count(s.Often.Years, "year")))
}

func spellsAYear(v float64) string {
	switch {
	case v == 0:
		return "0"
	case v < 0.01:
		return "<0.01"
	case v < 0.95:
		return number(v, 2)
	}
	return number(v, 1)
}

// spellNotes says what the figures stand for.
func spellNotes(s *study.Spells) []string {
	begins := "typed"
	if s.Passes > 0 {
		begins = "settled"
		if !s.Settled {
			begins = fmt.Sprintf("NOT settled after %s", plural(s.Passes, "pass", "passes"))
		}
	}
	notes := []string{
		"each sentence holds on nine start dates of ten in its stretch; carried: must-have loads lack power for a minute at the most",
		"every spell starts from the charge the ordinary year had that day (its own start " + begins + "); after it the ordinary weather goes on, round the year's end",
		"the usual sun is the mean light on the array's plane at that time of day over the 15 days before and after; in a spell it all comes evenly from the sky, the panels are free of snow, and temperature stays the year's own",
	}
	if s.Backup {
		notes = append(notes, "the backup charger runs in a spell as in the ordinary year, as long as there is fuel: days carried are the battery's and its own")
	}
	if s.Backup && s.Quiet {
		notes = append(notes, "it does not run in its quiet hours: where the charge falls to its start in them the loads may be cut before it begins, so that a brighter spell, which gets there at another time, may carry fewer days")
	}
	return notes
}

func fullJSON(h float64) any {
	if math.IsInf(h, 1) {
		return nil
	}
	return six(h / 24)
}

func hoursJSON(h float64) any {
	if math.IsInf(h, 1) {
		return nil
	}
	return six(h)
}

// SpellJSON writes the whole result: stretches, months and every spell. Null is a cut that never came, or a battery not full
// within sim.MaxFullDays.
func SpellJSON(w io.Writer, h Header, s *study.Spells) error {
	shares := make([]object, len(s.Shares))
	for k, share := range s.Shares {
		var stretches, months, starts []object
		for _, n := range s.Stretches(k) {
			o := object{{"when", n.String()}, {"start_dates", n.Dates}, {"start_dates_off", n.Off},
				{"carried_days", n.Days}, {"carried_days_middle", n.Middle}, {"full_again_days", fullJSON(n.FullH)}}
			if s.Backup {
				o = append(o, pair{"backup_h", six(n.BackupH)}, pair{"fuel_l", six(n.BackupH * s.FuelLPerH)})
			}
			if !math.IsNaN(n.LongerPerYear) {
				o = append(o, pair{"longer_per_year", six(n.LongerPerYear)})
			}
			stretches = append(stretches, o)
		}
		for _, m := range s.Months(k) {
			months = append(months, object{{"month", int(m.Month)}, {"start_dates", m.Dates}, {"start_dates_off", m.DatesOff},
				{"start_soc_middle", six(m.StartSOC)}, {"carried_days_lowest", m.Lowest}, {"carried_days_middle", m.Middle},
				{"cut_after_h_middle", hoursJSON(m.CutH)}, {"full_again_days_middle", fullJSON(m.FullH)}})
		}
		for d, date := range s.Dates {
			of := &s.Of[k][d]
			lowest, full := make([]six, len(of.Ends)), make([]any, len(of.Ends))
			for i, e := range of.Ends {
				lowest[i], full[i] = six(e.LowestSOC), fullJSON(e.FullH)
			}
			starts = append(starts, object{{"start", date.Format("2006-01-02")}, {"start_soc", six(s.StartSOC[d])},
				{"start_off", s.StartOff[d]}, {"carried_days", s.Carried(k, d)}, {"cut_after_h", hoursJSON(of.CutH)},
				{"lowest_soc", lowest}, {"full_again_days", full}})
		}
		shares[k] = object{{"share", six(share)}, {"stretches", stretches}, {"months", months}, {"spells", starts}}
		if s.Often != nil {
			var perYear []six
			for d := range s.Days {
				perYear = append(perYear, six(s.Often.PerYear(k, d+1)))
			}
			shares[k] = append(shares[k], pair{"spells_per_year", perYear})
		}
	}
	years := 0
	if s.Often != nil {
		years = s.Often.Years
	}
	return writeJSON(w, append(headerOf(h),
		pair{"longest_days", s.Days}, pair{"full_again_within_days", sim.MaxFullDays}, pair{"years_counted", years},
		pair{"start", object{{"typed", s.Passes == 0}, {"passes", s.Passes}, {"settled", s.Passes > 0 && s.Settled}}},
		pair{"by_share", shares}, pair{"warnings", list(s.Warnings)}, pair{"notes", append(spellNotes(s), s.Notes...)},
	))
}

// SpellCSV writes a row for each share, start date and length; where there is a backup charger, with what it ran in the spell.
func SpellCSV(w io.Writer, s *study.Spells) error {
	var b strings.Builder
	b.WriteString("share,start,days,start_soc,carried,cut_after_h,lowest_soc,full_again_days")
	if s.Backup {
		b.WriteString(",backup_h,fuel_l")
	}
	b.WriteString("\n")
	var cells []byte
	for k, share := range s.Shares {
		for d, date := range s.Dates {
			of := &s.Of[k][d]
			for i, e := range of.Ends {
				cells = appendNumber(cells[:0], share, 6)
				cells = append(cells, ',')
				cells = date.AppendFormat(cells, "2006-01-02")
				cells = append(cells, ',')
				cells = strconv.AppendInt(cells, int64(i+1), 10)
				cells = append(cells, ',')
				cells = appendNumber(cells, s.StartSOC[d], 4)
				cells = append(cells, ',')
				cells = strconv.AppendBool(cells, e.Carried())
				cells = append(cells, ',')
				if !e.Carried() {
					cells = appendNumber(cells, of.CutH, 2)
				}
				cells = append(cells, ',')
				cells = appendNumber(cells, e.LowestSOC, 4)
				cells = append(cells, ',')
				if !math.IsInf(e.FullH, 1) {
					cells = appendNumber(cells, e.FullH/24, 2)
				}
				if s.Backup {
					cells = appendNumber(append(cells, ','), e.BackupH, 2)
					cells = appendNumber(append(cells, ','), e.BackupH*s.FuelLPerH, 2)
				}
				b.Write(append(cells, '\n'))
			}
		}
	}
	_, err := io.WriteString(w, b.String())
	return err
}
