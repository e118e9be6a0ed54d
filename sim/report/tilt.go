package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strings"
	"time"

	"tideover/sim/study"
)

// Tilt writes which way the array should stand, by three measures, what each costs by the others, and what turning it by
// hand is worth. Warnings and notes are those of the system.
func Tilt(w io.Writer, h Header, t *study.Tilts, warnings, notes []string) error {
	var b strings.Builder
	b.WriteString(cut(h.Title, columns) + "\n")
	paragraph(&b, "", tiltVerdict(t)+".")
	field(&b, "Place", h.Place)
	field(&b, "Weather", h.Weather)
	field(&b, "System", h.System)
	if t.Of > 1 {
		turned := fmt.Sprintf("sub-array %d of %d", t.Sub+1, t.Of)
		if t.Feeds != "" {
			turned += " (" + t.Feeds + ")"
		}
		field(&b, "Turned", turned+"; the others stay")
	}
	b.WriteString("\n")
	picks := picksOf(t)
	const row = "%-20s%6s%9s%10s%8s%18s%9s\n"
	fmt.Fprintf(&b, row, "", "tilt", "azimuth", "harvest", "", "design month", "days")
	fmt.Fprintf(&b, row, "", "deg", "deg", "kWh/y", "", "harvest/need", "no power")
	for _, p := range picks {
		tilt := steep(p.stand)
		fmt.Fprintf(&b, row, p.name, tilt, number(p.stand.AzimuthDeg, 0),
			number(p.stand.HarvestWh/1000, 1), gap(p.stand.HarvestWh/t.MostEnergy.HarvestWh-1),
			month3(p.stand.DesignMonth)+" "+number(p.stand.DesignRatio, 2)+" "+right(gap(p.stand.DesignRatio/t.BestMonth.DesignRatio-1), 7),
			daysA(p.stand.DaysWithoutPower, t.Years))
	}
	if t.BestMonth.DesignRatio < 0.005 {
		b.WriteString("\n")
		paragraph(&b, "", fmt.Sprintf("%s, the design month, gives next to nothing at any tilt.", t.BestMonth.DesignMonth))
	}
	b.WriteString("\nWhat each costs by the measures of the others:\n")
	for i, p := range picks[1:] {
		var parts []string
		same := ""
		for j, q := range picks[1:] {
			switch {
			case j == i:
			case !stoodAs(p.stand, q.stand):
				if slices.ContainsFunc(picks[1:j+1], func(o pick) bool { return stoodAs(o.stand, q.stand) }) {
					continue // said of the other
				}
				parts = append(parts, "against "+q.name+" "+costs(p.stand, q.stand, t.Years))
			case j < i && same == "":
				same = q.name
			}
		}
		switch {
		case same != "":
			parts = []string{"the same as " + same}
		case len(parts) == 0:
			parts = []string{"the best by all three"}
		}
		paragraph(&b, "- ", p.name+": "+strings.Join(parts, "; ")+".")
	}
	fmt.Fprintf(&b, "\nTurned by hand, azimuth %s deg as it stands:\n", number(t.AsItStands.AzimuthDeg, 0))
	for _, g := range []struct {
		name string
		all  []study.Turned
	}{{"for the most energy in the year", t.ByEnergy}, {"for the best design month", t.ByMonth}} {
		fmt.Fprintf(&b, "%-48s%7s%8s%9s%8s\n", g.name, "kWh/y", "", "design", "days")
		for i := range g.all {
			a, more := &g.all[i], ""
			if i > 0 {
				more = signed(100*(a.HarvestWh/g.all[0].HarvestWh-1), 1) + " %"
			}
			fmt.Fprintf(&b, "  %-46s%7s%8s%9s%8s\n", seasonWords(a.Seasons), number(a.HarvestWh/1000, 1), more, month3(a.DesignMonth)+" "+number(a.DesignRatio, 2), daysA(a.DaysWithoutPower, t.Years))
		}
	}
	b.WriteString("\n")
	against := "the best of the column"
	if turnedNow(t) {
		against = "the best in the column of those never turned; as it stands, the array is turned by month"
	}
	paragraph(&b, "", "Percent: against "+against+"; by hand, against never. Harvest: at the battery bus, what the controller could deliver if all of it found room. Design month: the one "+
		"with the least harvest for what loads, idle and standing draws need in it; a ratio below 1 is a deficit no battery cures.")
	for _, line := range warnings {
		paragraph(&b, "! ", line)
	}
	for _, line := range notes {
		paragraph(&b, "- ", line)
	}
	paragraph(&b, "", caution)
	_, err := io.WriteString(w, b.String())
	return err
}

type pick struct {
	name, key string
	stand     *study.Stand
}

func picksOf(t *study.Tilts) []pick {
	return []pick{
		{"as it stands", "as_it_stands", &t.AsItStands},
		{"most energy", "most_energy", &t.MostEnergy},
		{"best design month", "best_design_month", &t.BestMonth},
		{"fewest days without", "fewest_days_without_power", &t.FewestDays},
	}
}

// stoodAs reports whether two stands that are never turned are one.
func stoodAs(a, b *study.Stand) bool {
	return a.TiltDeg() == b.TiltDeg() && a.AzimuthDeg == b.AzimuthDeg
}

// turnedNow reports whether the array as it stands is turned by month.
func turnedNow(t *study.Tilts) bool {
	tilts := t.AsItStands.TiltByMonth[:]
	return slices.Min(tilts) < slices.Max(tilts)
}

// tiltVerdict answers in one sentence.
func tiltVerdict(t *study.Tilts) string {
	f, now := &t.FewestDays, &t.AsItStands
	to := fmt.Sprintf("%s deg tilt, azimuth %s deg", number(f.TiltDeg(), 0), number(f.AzimuthDeg, 0))
	if turnedNow(t) {
		to += ", never turned,"
	}
	switch saved := now.DaysWithoutPower - f.DaysWithoutPower; {
	case saved < 0:
		return fmt.Sprintf("No tilt that is never turned saves a day: %s without power as it stands, turned by month, and %d at best", count(now.DaysWithoutPower, "day"), f.DaysWithoutPower)
	case now.DaysWithoutPower == 0 && now.DesignRatio > f.DesignRatio:
		return "As it stands, turned by month, no day is without power; no tilt that is never turned has a better design month"
	case now.DaysWithoutPower == 0:
		return fmt.Sprintf("As it stands no day is without power; the safest design month is at %s", strings.TrimSuffix(to, ","))
	case saved <= 0:
		return fmt.Sprintf("No tilt saves a day: %s without power as it stands, and at best", count(now.DaysWithoutPower, "day"))
	default:
		return fmt.Sprintf("%s leaves %s without power, %d fewer than as it stands", to, count(f.DaysWithoutPower, "day"), saved)
	}
}

// costs says what a costs against b, or gains.
func costs(a, b *study.Stand, years int) string {
	var parts []string
	if d := (a.HarvestWh - b.HarvestWh) / 1000; math.Abs(d) >= 0.05 {
		parts = append(parts, fmt.Sprintf("%s kWh a year (%s)", signed(d, 1), gap(a.HarvestWh/b.HarvestWh-1)))
	}
	if r := a.DesignRatio/b.DesignRatio - 1; math.Abs(r) >= 0.0005 {
		parts = append(parts, gap(r)+" in the design month")
	}
	if d := a.DaysWithoutPower - b.DaysWithoutPower; d != 0 {
		noun := "days"
		if years <= 1 && (d == 1 || d == -1) {
			noun = "day"
		}
		parts = append(parts, fmt.Sprintf("%s %s%s", signed(aYear(d, years), decimalsOf(years)), noun, each(years)))
	}
	if len(parts) == 0 {
		return "nothing"
	}
	return strings.Join(parts, ", ")
}

func aYear(days, years int) float64 { return float64(days) / float64(max(1, years)) }

func decimalsOf(years int) int {
	if years > 1 {
		return 1
	}
	return 0
}

func each(years int) string {
	if years > 1 {
		return " a year"
	}
	return ""
}

func daysA(days, years int) string {
	s := number(aYear(days, years), decimalsOf(years))
	if years > 1 {
		s += "/y"
	}
	return s
}

func signed(v float64, decimals int) string {
	s := number(v, decimals)
	if v > 0 {
		s = "+" + s
	}
	return s
}

// gap is a relative difference in percent, "" where it is nothing.
func gap(r float64) string {
	switch {
	case math.IsNaN(r) || math.IsInf(r, 0): // of nothing
		return ""
	case math.Abs(r) < 0.0005:
		return "best"
	}
	return signed(100*r, 1) + " %"
}

func month3(m time.Month) string { return m.String()[:3] }

// steep is the tilt, or the range over the months.
func steep(s *study.Stand) string {
	lo, hi := slices.Min(s.TiltByMonth[:]), slices.Max(s.TiltByMonth[:])
	if lo == hi {
		return number(lo, 0)
	}
	return number(lo, 0) + "-" + number(hi, 0)
}

func seasonWords(seasons []study.TiltMonths) string {
	if len(seasons) == 1 {
		return "never: " + number(seasons[0].TiltDeg, 0) + " deg"
	}
	var words []string
	for _, s := range seasons {
		words = append(words, fmt.Sprintf("%s-%s %s", month3(s.Months[0]), month3(s.Months[len(s.Months)-1]), number(s.TiltDeg, 0)))
	}
	return strings.Join(words, ", ")
}

// TiltJSON writes what Tilt prints, with the curve.
func TiltJSON(w io.Writer, h Header, t *study.Tilts, warnings, notes []string) error {
	stand := func(s *study.Stand) object {
		months := make([]six, 12)
		tilts := make([]six, 12)
		for m := range 12 {
			months[m], tilts[m] = six(s.MonthWh[m]), six(s.TiltByMonth[m])
		}
		return object{
			{"tilt_deg", tilts}, {"azimuth_deg", six(s.AzimuthDeg)}, {"harvest_wh_per_year", six(s.HarvestWh)},
			{"harvest_wh_by_month", months}, {"design_month", int(s.DesignMonth)}, {"design_ratio", six(s.DesignRatio)},
			{"days_without_power", s.DaysWithoutPower}, {"hours_without_power", six(s.HoursWithoutPower)},
		}
	}
	var best object
	for _, p := range picksOf(t) {
		best = append(best, pair{p.key, stand(p.stand)})
	}
	turned := func(all []study.Turned) []object {
		var out []object
		for i := range all {
			var seasons []object
			for _, s := range all[i].Seasons {
				seasons = append(seasons, object{{"months", s.Months}, {"tilt_deg", six(s.TiltDeg)}})
			}
			out = append(out, object{{"seasons", seasons}, {"result", stand(&all[i].Stand)}})
		}
		return out
	}
	var curve []object
	for i := range t.Curve {
		curve = append(curve, stand(&t.Curve[i]))
	}
	which := append(headerOf(h), pair{"sub_array", t.Sub + 1})
	if t.Feeds != "" {
		which = append(which, pair{"controller", t.Feeds})
	}
	return writeJSON(w, append(which, pair{"years", t.Years}, pair{"stands", best},
		pair{"turned_for_energy", turned(t.ByEnergy)}, pair{"turned_for_design_month", turned(t.ByMonth)}, pair{"curve", curve},
		pair{"warnings", list(warnings)}, pair{"notes", list(notes)}))
}
