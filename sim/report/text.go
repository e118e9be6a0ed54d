package report

import (
	"cmp"
	"fmt"
	"io"
	"slices"
	"strconv"
	"strings"
	"time"

	"tideover/sim/ledger"
)

// Text writes the answer, then the ledger, on about one screen of 80 columns.
func Text(w io.Writer, h Header, r *ledger.Run) error {
	var b strings.Builder
	s := spanOf(r)
	b.WriteString(cut(h.Title, columns) + "\n")
	paragraph(&b, "", verdict(&r.Answer, s)+".")
	field(&b, "Place", h.Place)
	field(&b, "Weather", h.Weather)
	field(&b, "System", h.System)
	b.WriteString("\n")
	answer(&b, h, r)
	b.WriteString("\n")
	table(&b, r, s)
	b.WriteString("\n")
	draws(&b, h, r)
	longest(&b, r)
	for _, line := range r.Warnings {
		paragraph(&b, "! ", line)
	}
	for _, line := range r.Notes {
		paragraph(&b, "- ", line)
	}
	if h.Hand && h.Beside != nil {
		b.WriteString("\n")
		handSum(&b, h.Beside, r)
		b.WriteString("\n")
		usable(&b, h.Beside)
	}
	paragraph(&b, "", caution)
	_, err := io.WriteString(w, b.String())
	return err
}

// verdict answers whether the battery tides the building over.
func verdict(a *ledger.Answer, s span) string {
	v := "Yes: no day without power"
	if a.DaysWithoutPower > 0 {
		v = "No: " + count(a.DaysWithoutPower, "day") + " without power"
	}
	v += " " + s.String()
	if s.years > 1 && a.DaysWithoutPower > 0 {
		v += ", " + number(s.perYear(float64(a.DaysWithoutPower)), 1) + " a year"
	}
	if a.DaysOffByRule > 0 {
		v += "; " + count(a.DaysOffByRule, "day") + " off by your own rule"
	}
	return v
}

func answer(b *strings.Builder, h Header, r *ledger.Run) {
	a := &r.Answer
	days := fmt.Sprint(a.DaysWithoutPower)
	var causes []string
	for c, n := range r.DaysByCause {
		if ledger.Cause(c) == ledger.ColdBarred {
			n -= r.DaysHeatBarred
		}
		if n > 0 {
			causes = append(causes, fmt.Sprintf("%s %d", ledger.Cause(c), n))
		}
	}
	if n := r.DaysHeatBarred; n > 0 {
		causes = append(causes, fmt.Sprintf("%s %d", ledger.HeatBarred, n))
	}
	if len(causes) > 0 {
		days += ", by cause: " + strings.Join(causes, ", ")
	}
	field(b, "Days without power", days)
	field(b, "Days off by rule", fmt.Sprintf("%d; days wholly dark %d", a.DaysOffByRule, a.DaysWhollyDark))
	hours := "0 h"
	if a.HoursWithoutPower > 0 {
		hours = number(a.HoursWithoutPower, 1) + " h; the longest outage " + number(a.LongestOutageH, 1) + " h"
	}
	if r.Cuts > 0 {
		hours += fmt.Sprintf("; cut %d times", r.Cuts)
		if r.Cuts == 1 {
			hours = strings.TrimSuffix(hours, "1 times") + "once"
		}
	}
	if twoMeasures(r) {
		hours += " (hours: those in which must-have loads asked; an outage: from its first moment to its last)"
	}
	field(b, "Hours without power", hours)
	field(b, "Lowest state of charge", lowest(r))
	field(b, "Unserved share", number(100*a.UnservedShare, 2)+" % of what the loads asked for")
	peak := number(a.CoincidentPeakW, 0) + " W"
	switch {
	case r.InverterRatedW == 0:
		peak += "; there is no inverter"
	case a.CoincidentPeakW > r.InverterRatedW:
		peak += ", MORE than the inverter's rating of " + number(r.InverterRatedW, 0) + " W"
	case a.CoincidentPeakVA > r.InverterVA:
		peak += fmt.Sprintf(" but %s VA, MORE than the inverter's rating of %s VA", number(a.CoincidentPeakVA, 0), number(r.InverterVA, 0))
	default:
		peak += ", within the inverter's rating of " + number(r.InverterRatedW, 0) + " W"
	}
	field(b, "Coincident peak", peak)
	if h.Stagger != nil {
		field(b, "What to stagger", stagger(h.Stagger))
	}
	if r.Backup != nil {
		field(b, "Backup charger", charged(r))
	}
	if len(r.Waited) > 0 {
		field(b, "Packs that wait", waited(r))
	}
	field(b, "Starting charge", starting(h, r))
	field(b, "More array or battery?", why(r))
}

// twoMeasures reports whether outages of must-have loads are longer than the hours in which these asked.
func twoMeasures(r *ledger.Run) bool {
	var h float64
	for _, o := range r.Outages {
		if o.MustHaveHours > 0 {
			h += o.Hours
		}
	}
	return h > 1.001*r.Answer.HoursWithoutPower+0.05
}

// waited says how often the packs of each load that waits asked for their charge, served or not, how long they waited, and how often in vain.
func waited(r *ledger.Run) string {
	var lines []string
	for _, w := range r.Waited {
		s := w.Load + " never asked for a charge"
		if n := len(w.Begun); n > 0 {
			late := w.AtDeadline
			switch {
			case n == 1 && late == 0:
				s = fmt.Sprintf("%s asked for a charge once, %s h after plugging in", w.Load, number(w.MeanH, 1))
			case n == 1:
				s = fmt.Sprintf("%s asked for a charge once, %s h after plugging in, only as the deadline had come", w.Load, number(w.MeanH, 1))
			default:
				s = fmt.Sprintf("%s asked for a charge %d times, %s h after plugging in on average, %s of them only as the deadline had come", w.Load, n,
					number(w.MeanH, 1), noneOr(late))
			}
		}
		lines = append(lines, s)
	}
	return strings.Join(lines, "; ")
}

// charged says what the charger beside the sun did: hours, energy, fuel, and the first dates.
func charged(r *ledger.Run) string {
	c := r.Backup
	if c.Hours == 0 {
		return "never ran"
	}
	in := ""
	if years := spanOf(r).years; years > 1 {
		in = fmt.Sprintf(" in %d years", years)
	}
	s := fmt.Sprintf("ran %s h%s, %s kWh into the battery for %s kWh at its plug", number(c.Hours, 1), in, number(r.Total[ledger.Backup]/1000, 1), number(c.InputWh/1000, 1))
	if c.FuelL > 0 {
		s = fmt.Sprintf("ran %s h and burnt %s l of fuel%s, %s kWh into the battery", number(c.Hours, 1), number(c.FuelL, 1), in, number(r.Total[ledger.Backup]/1000, 1))
	}
	if n := len(c.Starts); n > 0 {
		var dates []string
		for _, t := range c.Starts[:min(n, 4)] {
			if d := t.Format("2 Jan"); !slices.Contains(dates, d) {
				dates = append(dates, d)
			}
		}
		s += fmt.Sprintf("; started on %s", strings.Join(dates, ", "))
		if n > 4 {
			s += fmt.Sprintf(" and %d times more", n-4)
		}
	}
	return s
}

// pattern says what most outages have in common.
func pattern(p ledger.Pattern) string {
	s := fmt.Sprintf("before %d of the %d outages ", p.Of, p.Outages)
	switch {
	case p.Of == p.Outages && p.Of == 2:
		s = "before both outages "
	case p.Of == p.Outages:
		s = fmt.Sprintf("before all %d outages ", p.Of)
	}
	if p.Load == "" {
		return s + "three days had less than 60 % of the usual sun"
	}
	s += p.Load + " drew more than usual"
	if p.On != "" {
		s += ", from " + p.On + " on"
	}
	if p.Dull {
		s += ", in a dull spell (three days of less than 60 % of the usual sun)"
	}
	return s
}

// noneOr is a count in a sentence.
func noneOr(n int) string {
	if n == 0 {
		return "none"
	}
	return strconv.Itoa(n)
}

// why says in one sentence whether array or battery is short, or neither is the cure.
func why(r *ledger.Run) string {
	w := r.Why()
	if w.Month < 0 || w.NeedWh <= 0 {
		return ""
	}
	m := &r.Months[w.Month]
	pays := fmt.Sprintf("%s, the design month, could give %s Wh a day for the %s wanted with idle draw and losses",
		m.Month, number(w.HarvestWh, 0), number(w.NeedWh, 0))
	kind, trips := w.Shortage, ""
	if kind == ledger.Power && w.Beside != ledger.NoShortage {
		all := r.Answer.DaysWithoutPower
		kind, trips = w.Beside, fmt.Sprintf("power: %d of the %d days without power are trips, see the coincident peak; beside them ", w.PowerDays, all)
	}
	switch kind {
	case ledger.Deficit:
		return trips + "deficit: " + pays + "; more battery will not cure it"
	case ledger.Cold, ledger.Heat:
		return trips + refused(r, &w, kind)
	case ledger.Power:
		return "power: the outages are trips, with energy to spare; see the coincident peak"
	case ledger.Storage:
		if trips != "" { // what was lacked in the spell has that of trips in it
			return trips + "storage: " + pays
		}
		return fmt.Sprintf("storage: %s; the worst spell, %s, lacked %s days of store", pays, spellDates(r, &w), number(w.DaysShort, 1))
	}
	if c := r.Backup; c != nil && c.Hours > 0 {
		if w.HarvestWh < w.NeedWh {
			return "neither, as long as the backup charger runs: " + pays + "; " + covered(r, &w)
		}
		return "neither: " + pays + "; beside it the backup charger ran " + ranFor(r)
	}
	if w.HarvestWh < w.NeedWh {
		return "neither: " + pays + "; the battery makes up the rest"
	}
	return "neither: " + pays
}

// covered says what the backup charger gave in the design month.
func covered(r *ledger.Run, w *ledger.Why) string {
	m := &r.Months[w.Month]
	return fmt.Sprintf("it gave %s Wh a day in that month, %s", number(m.Wh[ledger.Backup]/float64(max(1, m.Days)), 0), ranFor(r))
}

// ranFor is what the backup charger ran in all.
func ranFor(r *ledger.Run) string {
	c := r.Backup
	about := func(v float64) string {
		if v < 10 {
			return number(v, 1)
		}
		return number(v, 0)
	}
	s := about(c.Hours) + " h"
	if c.FuelL > 0 {
		s += " (" + about(c.FuelL) + " l of fuel)"
	}
	return s + " " + spanOf(r).String()
}

// refused says that temperature, and neither array nor battery, is what most days are lost to, and then what is left.
func refused(r *ledger.Run, w *ledger.Why, kind ledger.Shortage) string {
	cure := "a warmer place, a heater, or a battery that charges in frost"
	switch {
	case kind == ledger.Heat:
		cure = "a cooler place, or a battery that charges in such heat"
	case r.Total[ledger.Heater] > 0:
		cure = "a warmer place, more heater, or a battery that charges in frost"
	}
	s := fmt.Sprintf("%s: but for the charge it refused the harvest would pay", kind)
	if most := w.BarredDays > w.OtherDays; most {
		s = fmt.Sprintf("%s: the charge it refused would have covered %d of the %d days without power", kind, w.BarredDays, r.Answer.DaysWithoutPower)
		if by := barredBy(float64(r.DaysHeatBarred), float64(w.BarredDays)); by != kind.String() {
			s = strings.Replace(s, "it refused", by+" refused", 1)
		}
	}
	s += ": first " + cure + "; then "
	pays := fmt.Sprintf("%s, the design month, could give %s Wh a day for the %s wanted", r.Months[w.Month].Month, number(w.HarvestWh, 0), number(w.NeedWh, 0))
	switch w.Left {
	case ledger.Deficit:
		return s + "more array or less draw, as " + pays
	case ledger.Storage:
		return s + pays + ", and " + plural(w.OtherDays, "day is", "days are") + " left, of an empty battery"
	}
	return s + pays
}

// spellDates says when the worst spell lacked: from the first lack to the last.
func spellDates(r *ledger.Run, w *ledger.Why) string {
	from, to := r.SpellLackFrom, r.SpellLackAt
	switch {
	case from.IsZero():
		return "in " + r.Months[w.ShortMonth].Month.String()
	case from.YearDay() == to.YearDay() && from.Year() == to.Year():
		return "on " + dateIn(r, to)
	}
	return dateIn(r, from) + " to " + dateIn(r, to)
}

// dateIn is a date, with its year in a run of several.
func dateIn(r *ledger.Run, t time.Time) string {
	if spanOf(r).years > 1 {
		return t.Format("2 Jan 2006")
	}
	return t.Format("2 Jan")
}

func lowest(r *ledger.Run) string {
	s := number(100*r.Answer.LowestSOC, 1) + " %"
	if t := r.Answer.LowestSOCTime; !t.IsZero() {
		s += " on " + moment(t) + " local time"
	}
	if r.DisconnectSOC > 0 {
		s += "; cut-off " + number(100*r.DisconnectSOC, 0) + " %"
		if r.ColdCutOffSOC > r.DisconnectSOC+0.005 {
			s += ", " + number(100*r.ColdCutOffSOC, 0) + " % when cold"
		}
	}
	if r.CutV > 0 {
		s += fmt.Sprintf("; cut at %s V too, back at %s V", number(r.CutV, 1), number(r.BackV, 1))
	}
	return s
}

func starting(h Header, r *ledger.Run) string {
	s := number(100*r.Answer.StartSOC, 1) + " % of " + number(r.CapacityWh, 0) + " Wh, "
	switch {
	case h.Carried:
		return s + "carried over from the year before"
	case r.SettlePasses == 0:
		return s + "as typed"
	case r.Settled:
		return s + "settled in " + plural(r.SettlePasses, "pass", "passes")
	}
	return s + "NOT settled after " + plural(r.SettlePasses, "pass", "passes")
}

func plural(n int, one, many string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %s", n, many)
}

// row is one line of the table; the flow is a sum in Wh. Rows that keep print even when they are zero all year.
type row struct {
	label string
	flow  ledger.Flow
	keep  bool
}

// byHeat stands in the table for the part of ledger.ChargeBarred that heat refused; the row of that flow prints the rest.
const byHeat = ledger.NFlows

// rows follow the energy path, in three groups: at the array, at the bus, at the loads.
var rows = [][]row{{
	{"array offers", ledger.Array, true},
	{"not started", ledger.NotStarted, false},
	{"off peak", ledger.OffPeak, false},
	{"clipped", ledger.Clipped, false},
	{"barred by cold", ledger.ChargeBarred, false},
	{"barred by heat", byHeat, false},
	{"curtailed", ledger.Curtailed, true},
	{"drawn", ledger.Drawn, true},
}, {
	{"backup", ledger.Backup, false},
	{"controller", ledger.ControllerLoss, false},
	{"wiring loss", ledger.WiringLoss, false},
	{"battery loss", ledger.BatteryLoss, false},
	{"into store", ledger.StoreChange, false},
	{"inverter idle", ledger.InverterIdle, true},
	{"inverter loss", ledger.InverterLoss, false},
	{"standby", ledger.Standby, true},
	{"heater", ledger.Heater, false},
	{"served AC", ledger.ServedAC, false},
	{"served DC", ledger.ServedDC, false},
}, {
	{"asked for", ledger.Demand, true},
	{"unserved", ledger.Unserved, false},
	{"withheld", ledger.Withheld, false},
}}

// byMonth is a calendar month of the run, added up over the years.
type byMonth struct {
	name string
	sum  ledger.Month
	n    int
}

// wh is what the month has in a row of the table, Wh.
func (m *byMonth) wh(f ledger.Flow) float64 {
	switch f {
	case byHeat:
		return m.sum.HeatBarredWh
	case ledger.ChargeBarred:
		return m.sum.Wh[f] - m.sum.HeatBarredWh
	}
	return m.sum.Wh[f]
}

// byMonths are the calendar months in the order in which they first come.
func byMonths(r *ledger.Run) []byMonth {
	var out []byMonth
	for i := range r.Months {
		m := &r.Months[i]
		k := slices.IndexFunc(out, func(c byMonth) bool { return c.sum.Month == m.Month })
		if k < 0 {
			k = len(out)
			out = append(out, byMonth{name: m.Month.String()[:3], sum: ledger.Month{Month: m.Month}})
		}
		c := &out[k]
		c.n++
		c.sum.Days += m.Days
		c.sum.Wh.Add(&m.Wh)
		c.sum.HeatBarredWh += m.HeatBarredWh
		c.sum.DaysWithoutPower += m.DaysWithoutPower
		c.sum.DaysOffByRule += m.DaysOffByRule
	}
	return out
}

// unit is how the months' cells are written: a name and what divides Wh.
type unit struct {
	name     string
	divide   float64
	decimals int
}

// units go from fine to coarse; the first in which every cell fits is taken.
var (
	monthUnits = []unit{
		{"Wh a day", 1, 0}, {"kWh a day", 1e3, 1}, {"kWh a day", 1e3, 0}, {"MWh a day", 1e6, 1}, {"MWh a day", 1e6, 0},
	}
	yearUnits = []unit{{"kWh", 1e3, 1}, {"kWh", 1e3, 0}, {"MWh", 1e6, 1}, {"MWh", 1e6, 0}}
)

// print writes a number of Wh.
func (u unit) print(wh float64) string { return number(wh/u.divide, u.decimals) }

// fitting is the first unit in which all of wh leave one of so many columns free.
func fitting(units []unit, wh []float64, columns int) unit {
	for _, u := range units {
		if !slices.ContainsFunc(wh, func(v float64) bool { return len(u.print(v)) >= columns }) {
			return u
		}
	}
	return units[len(units)-1]
}

// labelW, cellW and yearW are the widths of the table's columns: 14 + 12 x 5 + 6 = 80.
const labelW, cellW, yearW = 14, 5, 6

// table writes where the energy went, month by month. A group whose numbers need another unit gets its own heading.
func table(b *strings.Builder, r *ledger.Run, s span) {
	months := byMonths(r)
	perDay := func(m byMonth, f ledger.Flow) float64 { return m.wh(f) / float64(max(1, m.sum.Days)) }
	total := func(f ledger.Flow) (wh float64) {
		for _, m := range months {
			wh += m.wh(f)
		}
		return wh
	}
	heading := ""
	var legend []string
	for i, group := range rows {
		var monthWh, yearWh []float64
		for _, row := range group {
			for _, m := range months {
				monthWh = append(monthWh, perDay(m, row.flow))
			}
			yearWh = append(yearWh, s.perYear(total(row.flow)))
		}
		mu, yu := fitting(monthUnits, monthWh, cellW), fitting(yearUnits, yearWh, yearW)
		was := heading
		heading = left(mu.name, labelW)
		for _, m := range months {
			heading += right(m.name, cellW)
		}
		year := yu.name
		if s.years > 0 {
			year += "/y"
		}
		heading += right(year, yearW) + "\n"
		switch {
		case heading != was:
			b.WriteString(heading)
		case i > 0:
			b.WriteString("\n")
		}
		for _, row := range group {
			var cells []string
			for _, m := range months {
				cells = append(cells, mu.print(perDay(m, row.flow)))
			}
			if line(b, row.label, append(cells, yu.print(s.perYear(total(row.flow)))), row.keep) && meanings[row.flow] != "" {
				legend = append(legend, meanings[row.flow])
			}
		}
	}
	without, byRule := make([]string, len(months)+1), make([]string, len(months)+1)
	for k, m := range months {
		without[k], byRule[k] = days(m.sum.DaysWithoutPower, m.n), days(m.sum.DaysOffByRule, m.n)
	}
	without[len(months)] = days(r.Answer.DaysWithoutPower, s.years)
	byRule[len(months)] = days(r.Answer.DaysOffByRule, s.years)
	line(b, "days no power", without, true)
	line(b, "days off, rule", byRule, false)
	paragraph(b, "", strings.Join(legend, " "))
}

// meanings say what a row of the table means, where its name does not; they stand under the table where the row does.
var meanings = map[ledger.Flow]string{
	ledger.NotStarted:     "Not started: too dim, hot or snowy, or the battery flat or away.",
	ledger.OffPeak:        "Off peak: not at the panels' best voltage.",
	ledger.Clipped:        "Clipped: over the controller's rating.",
	ledger.Curtailed:      "Curtailed: array could, battery full.",
	ledger.ControllerLoss: "Controller: its loss.",
	ledger.Withheld:       "Withheld: your rule.",
}

// line writes one line of the table, and reports whether it did: not where every cell is zero and it may be left out.
func line(b *strings.Builder, label string, cells []string, keep bool) bool {
	if !keep && !slices.ContainsFunc(cells, func(c string) bool { return strings.Trim(c, "0.") != "" }) {
		return false
	}
	b.WriteString(left(label, labelW))
	for _, c := range cells[:len(cells)-1] {
		b.WriteString(right(c, cellW))
	}
	b.WriteString(right(cells[len(cells)-1], yearW) + "\n")
	return true
}

// days is a number of days, or its mean over n years.
func days(sum, n int) string {
	if n <= 1 || sum == 0 {
		return fmt.Sprint(sum)
	}
	return number(float64(sum)/float64(n), 1)
}

// longest lists the three longest outages.
func longest(b *strings.Builder, r *ledger.Run) {
	outages := slices.Clone(r.Outages)
	slices.SortStableFunc(outages, func(x, y ledger.Outage) int { return cmp.Compare(y.Hours, x.Hours) })
	label := "Longest outages "
	if n := len(outages); n > 3 {
		label = left(fmt.Sprintf("Longest of %d", n), len(label))
	}
	for k, o := range outages[:min(3, len(outages))] {
		ends := " Wh unserved"
		if o.MustHaveHours == 0 {
			ends = " Wh could wait"
		}
		text := fmt.Sprintf("%-17s %7s h  %s, %s", o.Start.Round(time.Second).Format("2 Jan 2006 15:04"),
			number(o.Hours, 1), o.CauseWords(), number(o.UnservedWh, 0)+ends)
		b.WriteString(cut(label+text, columns) + "\n")
		label = strings.Repeat(" ", len(label))
		if k == 0 && o.Chain != nil {
			paragraph(b, label, "after "+chain(o.Chain))
		}
	}
	if s := newYear(r); s != "" {
		paragraph(b, label, s)
	}
	if p, ok := r.Pattern(); ok {
		paragraph(b, label, pattern(p))
	}
}

// newYear says what the ends of the run have cut off an outage, or cut in two.
func newYear(r *ledger.Run) string {
	n := len(r.Outages)
	if n == 0 {
		return ""
	}
	first, last := &r.Outages[0], &r.Outages[n-1]
	both := r.OffAtStart && r.OffAtEnd
	switch {
	case both && n > 1 && r.SettlePasses > 0:
		h := (first.End().Sub(r.Start) + r.End.Sub(last.Start)).Hours()
		return fmt.Sprintf("those of %s and %s are one, cut in two by the turn of the settled year: %s h", last.Start.Format("2 Jan"), first.Start.Format("2 Jan"), number(h, 1))
	case both:
		return "the first outage had begun before the run, and the last goes on after it: both are longer than told"
	case r.OffAtStart:
		return "the first outage had begun before the run: it is longer than told"
	case r.OffAtEnd:
		return "the last outage goes on after the run: it is longer than told"
	}
	return ""
}

// chain says what went before an outage.
func chain(c *ledger.Chain) string {
	s := number(100*c.SunShare, 0) + " % of the usual sun for 3 days"
	switch {
	case c.Days < 1.0/48: // it began the run
		s = "nothing before in the run"
	case c.Days < 2.95:
		s = number(100*c.SunShare, 0) + " % of the usual sun for the " + number(c.Days, 1) + " days since the start"
	}
	if c.Off {
		s += ", the loads off already"
	}
	if c.Load != "" {
		s += ", " + c.Load + " from " + c.LoadOn.String() + " on (" + number(c.LoadWh, 0) + " Wh)"
	}
	if !c.Off {
		s += ", idle and standby " + number(100*c.StandingShare, 0) + " % of the draw"
	}
	if c.BarredWh >= 1 {
		s += ", " + number(c.BarredWh, 0) + " Wh barred by " + barredBy(c.HeatWh, c.BarredWh)
	}
	if c.AsleepWh >= 1 {
		s += ", " + number(c.AsleepWh, 0) + " Wh not taken, all asleep with a flat battery"
		switch {
		case c.AsleepHot:
			s += " too hot to charge"
		case c.AsleepBarred:
			s += " too cold to charge"
		}
	}
	if c.ClippedWh >= 1 {
		s += ", " + number(c.ClippedWh, 0) + " Wh clipped"
	}
	return s + "; charge " + number(100*c.StartSOC, 0) + " % before"
}

// barredBy says what refused barredWh of charge, of which heatWh for heat.
func barredBy(heatWh, barredWh float64) string {
	switch {
	case heatWh < 0.01*barredWh:
		return "cold"
	case heatWh > 0.99*barredWh:
		return "heat"
	}
	return "cold or heat"
}
