package report

import (
	"fmt"
	"io"
	"math"
	"regexp"
	"strings"
	"time"

	"tideover/weather"
	"tideover/weather/summary"
)

// Weather is what a weather file or a climate holds, with the words around it.
type Weather struct {
	Title   string // the file, or the place
	Source  string // one line
	Columns string // what is known of each step, in words
	Summary *summary.Summary
	Means   *Means   // what a synthetic year was made from; nil for a file
	Flaws   []string // what cannot be, or is doubtful: of the reader and of the checks
	Notes   []string
}

// Means are the twelve monthly means of a climate, January to December.
type Means struct {
	GHIKWhM2Day, TempMeanC, TempMinC, TempMaxC [12]float64
	Years                                      int // real years behind them, 0 when not known
}

// mostYears is how many years are listed one by one.
const mostYears = 30

// WeatherText writes what a weather file or climate holds, on about one screen of 80 columns.
func WeatherText(w io.Writer, h Weather) error {
	var b strings.Builder
	s := h.Summary
	b.WriteString(cut(h.Title, columns) + "\n")
	field(&b, "Place", WeatherPlace(s.Site))
	field(&b, "Source", h.Source)
	field(&b, "Holds", holds(h))
	field(&b, "Sun", sunOf(s))
	field(&b, "Air temperature", fmt.Sprintf("mean %s C; lowest %s C on %s, highest %s C on %s", number(s.All.TempC, 1),
		number(s.LowestC, 1), whenOf(s, s.LowestAt), number(s.HighestC, 1), whenOf(s, s.HighestAt)))
	b.WriteString("\n")
	if h.Means != nil {
		meansTable(&b, h.Means)
	}
	weatherTable(&b, h)
	b.WriteString("\n")
	runsTable(&b, s)
	yearsTable(&b, s)
	b.WriteString("\n")
	for _, line := range h.Flaws {
		paragraph(&b, "! ", line)
	}
	if len(h.Flaws) == 0 {
		b.WriteString("no flaw found\n")
	}
	for _, line := range h.Notes {
		paragraph(&b, "- ", line)
	}
	_, err := io.WriteString(w, trailing.ReplaceAllString(b.String(), ""))
	return err
}

// trailing is blanks at the end of a line: cells that hold nothing.
var trailing = regexp.MustCompile(`(?m) +$`)

// WeatherPlace says where weather was taken, in one line.
func WeatherPlace(s weather.Site) string {
	side := func(v float64, positive, negative string) string {
		if v < 0 {
			positive = negative
		}
		return fmt.Sprintf("%.2f %s", math.Abs(v), positive)
	}
	line := fmt.Sprintf("%s %s, %s m above the sea, %s", side(s.LatDeg, "N", "S"), side(s.LonDeg, "E", "W"), number(s.ElevationM, 0), offset(s.OffsetH))
	if s.Name != "" {
		line = s.Name + ", " + line
	}
	return line
}

// offset is an offset from UTC, as UTC+05:30, or UTC-5 where it is whole.
func offset(h float64) string {
	if min := int(math.Round(math.Abs(h) * 60)); min%60 != 0 {
		sign := '+'
		if h < 0 {
			sign = '-'
		}
		return fmt.Sprintf("UTC%c%02d:%02d", sign, min/60, min%60)
	}
	return fmt.Sprintf("UTC%+g", h)
}

func holds(h Weather) string {
	s := h.Summary
	// The span ends with the last day that has a step.
	line := fmt.Sprintf("%d steps of %d min, %s to %s", s.Steps, s.StepMin, dayOf(s, s.Start), dayOf(s, s.End.Add(-time.Second)))
	switch {
	case h.Means != nil:
		line = fmt.Sprintf("one synthetic year of %d steps of %d min, made from the twelve means", s.Steps, s.StepMin)
	case !s.Measured:
		line = fmt.Sprintf("a typical year, %d steps of %d min", s.Steps, s.StepMin)
	}
	return line + "; " + h.Columns
}

func sunOf(s *summary.Summary) string {
	year := fmt.Sprintf("%s kWh/m2 on the level in %s days", number(s.All.GHIKWhM2, 0), number(s.All.Days, 0))
	switch {
	case s.WholeYears == 1:
		year = number(s.WholeYearKWhM2, 0) + " kWh/m2 on the level in the year"
	case s.WholeYears > 1:
		year = fmt.Sprintf("%s kWh/m2 a year on the level, mean of %d years", number(s.WholeYearKWhM2, 0), s.WholeYears)
	}
	line := fmt.Sprintf("%s, %s a day", year, number(s.All.KWhM2Day(), 2))
	if k := s.All.Clearness(); !math.IsNaN(k) {
		line += fmt.Sprintf(", %s of that outside the air", number(k, 2))
	}
	return line
}

// whenOf prints the time of a step; the year of a typical one means nothing.
func whenOf(s *summary.Summary, t time.Time) string {
	if s.Measured {
		return t.Format("2 Jan 2006 15:04")
	}
	return t.Format("2 Jan 15:04")
}

func dayOf(s *summary.Summary, t time.Time) string {
	if s.Measured {
		return t.Format("2 Jan 2006")
	}
	return t.Format("2 Jan")
}

// monthsHead is the heading of a table with a column for each month, and one for the year. labelW, cellW and yearW are
// those of the ledger's table.
func monthsHead(b *strings.Builder, label string) {
	b.WriteString(left(label, labelW))
	for m := time.January; m <= time.December; m++ {
		b.WriteString(right(m.String()[:3], cellW))
	}
	b.WriteString(right("all", yearW) + "\n")
}

func meansTable(b *strings.Builder, m *Means) {
	label := "Twelve means"
	monthsHead(b, label)
	row := func(name string, values [12]float64, decimals int, last string) {
		line(b, name, append(twelve(values, decimals), last), true)
	}
	// The mean over the days of a plain year.
	var sum, temp float64
	for i := range 12 {
		days := float64(time.Date(2025, time.Month(i+2), 0, 0, 0, 0, 0, time.UTC).Day())
		sum += m.GHIKWhM2Day[i] * days
		temp += m.TempMeanC[i] * days
	}
	row("sun kWh/m2 d", m.GHIKWhM2Day, 2, number(sum/365, 2))
	row("mean C", m.TempMeanC, 1, number(temp/365, 1))
	row("daily low C", m.TempMinC, 1, "")
	row("daily high C", m.TempMaxC, 1, "")
}

// weatherTable writes the months of the weather itself.
func weatherTable(b *strings.Builder, h Weather) {
	s := h.Summary
	label := "Months"
	if h.Means != nil {
		label = "The year made"
	}
	monthsHead(b, label)
	row := func(name string, decimals int, value func(m *summary.Month) float64, all float64) {
		var values [12]float64
		for i := range values {
			values[i] = math.NaN()
		}
		for i := range s.Months {
			values[s.Months[i].Month-1] = value(&s.Months[i])
		}
		line(b, name, append(twelve(values, decimals), maybe(all, decimals)), true)
	}
	nan := math.NaN()
	row("sun kWh/m2 d", 2, func(m *summary.Month) float64 { return m.KWhM2Day() }, s.All.KWhM2Day())
	row("clearness", 2, func(m *summary.Month) float64 { return m.Clearness() }, s.All.Clearness())
	row("mean C", 1, func(m *summary.Month) float64 { return m.TempC }, s.All.TempC)
	row("daily low C", 1, func(m *summary.Month) float64 { return m.MinC }, nan)
	row("daily high C", 1, func(m *summary.Month) float64 { return m.MaxC }, nan)
}

// twelve prints a number a month, with a decimal less where one of them would fill its column.
func twelve(values [12]float64, decimals int) []string {
	cells := make([]string, 12)
	for m, v := range values {
		cells[m] = maybe(v, decimals)
		if len(cells[m]) >= cellW && decimals > 0 {
			return twelve(values, decimals-1)
		}
	}
	return cells
}

// maybe prints a number, or nothing where there is none.
func maybe(v float64, decimals int) string {
	if math.IsNaN(v) {
		return ""
	}
	return number(v, decimals)
}

func percentOrDash(share float64) string {
	if math.IsNaN(share) {
		return "-"
	}
	return number(100*share, 0) + " %"
}

func runsTable(b *strings.Builder, s *summary.Summary) {
	if len(s.Runs) == 0 {
		b.WriteString("Worst runs: there is no whole day\n")
		return
	}
	b.WriteString("Worst runs    kWh/m2 a day   from             usual at that time of year   share\n")
	for _, r := range s.Runs {
		fmt.Fprintf(b, "%-14s%12s   %-17s%26s%8s\n", count(r.Days, "day"), number(r.KWhM2Day, 2), dayOf(s, r.First), number(r.UsualKWhM2Day, 2), percentOrDash(r.Share()))
	}
}

// yearsTable lists the years of a series of several, and the worst runs that begin in each.
func yearsTable(b *strings.Builder, s *summary.Summary) {
	if s.WholeYears < 2 {
		return
	}
	low, high := -1, -1
	part := 0
	for i := range s.Years {
		y := &s.Years[i]
		if !y.Whole {
			part++
			continue
		}
		if low < 0 || y.GHIKWhM2 < s.Years[low].GHIKWhM2 {
			low = i
		}
		if high < 0 || y.GHIKWhM2 > s.Years[high].GHIKWhM2 {
			high = i
		}
	}
	text := fmt.Sprintf("Whole years: from %s kWh/m2 in %d to %s in %d", number(s.Years[low].GHIKWhM2, 0), s.Years[low].Year,
		number(s.Years[high].GHIKWhM2, 0), s.Years[high].Year)
	if part > 0 {
		text += fmt.Sprintf("; %s in part, left out", plural(part, "year is there", "years are there"))
	}
	if len(s.Years) > mostYears {
		b.WriteString("\n" + text + "\n")
		return
	}
	fmt.Fprintf(b, "\n%s\nYear      kWh/m2   mean C    worst kWh/m2 a day of", text)
	for _, n := range summary.RunDays {
		fmt.Fprintf(b, "%5d", n)
	}
	b.WriteString(" days\n")
	for i := range s.Years {
		if y := &s.Years[i]; y.Whole {
			fmt.Fprintf(b, "%-10d%6s%9s%25s", y.Year, number(y.GHIKWhM2, 0), number(y.TempC, 1), "")
			for _, r := range y.Runs {
				fmt.Fprintf(b, "%5s", number(r.KWhM2Day, 2))
			}
			b.WriteString("\n")
		}
	}
}

// maybeSix is a number, null where there is none.
func maybeSix(v float64) any {
	if math.IsNaN(v) {
		return nil
	}
	return six(v)
}

func spanObject(s summary.Span) object {
	return object{
		{"days", six(s.Days)}, {"ghi_kwh_m2", six(s.GHIKWhM2)}, {"ghi_kwh_m2_day", six(s.KWhM2Day())},
		{"outside_kwh_m2_day", six(s.OutsideKWhM2 / s.Days)}, {"clearness", maybeSix(s.Clearness())}, {"temp_mean_c", six(s.TempC)},
	}
}

func runsObject(runs []summary.Run) []object {
	out := []object{}
	for _, r := range runs {
		out = append(out, object{
			{"days", r.Days}, {"first", r.First.Format(time.DateOnly)}, {"ghi_kwh_m2_day", six(r.KWhM2Day)},
			{"usual_kwh_m2_day", six(r.UsualKWhM2Day)}, {"share_of_usual", maybeSix(r.Share())},
		})
	}
	return out
}

// WeatherJSON writes the same for programs. Numbers are rounded to 1e-6; what there is not is null.
func WeatherJSON(w io.Writer, h Weather) error {
	s := h.Summary
	months, years := []object{}, []object{}
	for _, m := range s.Months {
		o := append(object{{"month", int(m.Month)}}, spanObject(m.Span)...)
		months = append(months, append(o, pair{"temp_min_c", maybeSix(m.MinC)}, pair{"temp_max_c", maybeSix(m.MaxC)}))
	}
	for _, y := range s.Years {
		o := append(object{{"year", y.Year}, {"whole", y.Whole}}, spanObject(y.Span)...)
		years = append(years, append(o, pair{"worst_runs", runsObject(y.Runs)}))
	}
	yearly := math.NaN()
	if s.WholeYears > 0 {
		yearly = s.WholeYearKWhM2
	}
	o := object{
		{"title", h.Title}, {"source", h.Source}, {"name", s.Site.Name},
		{"latitude_deg", six(s.Site.LatDeg)}, {"longitude_deg", six(s.Site.LonDeg)}, {"elevation_m", six(s.Site.ElevationM)},
		{"utc_offset_h", six(s.Site.OffsetH)}, {"measured", s.Measured}, {"synthetic", h.Means != nil},
		{"start", stamp(s.Start)}, {"end", stamp(s.End)}, {"step_min", s.StepMin}, {"steps", s.Steps}, {"columns", h.Columns},
		{"whole_years", s.WholeYears}, {"ghi_kwh_m2_year", maybeSix(yearly)},
		{"all", spanObject(s.All)},
		{"lowest_temp_c", six(s.LowestC)}, {"lowest_temp_time", stamp(s.LowestAt)},
		{"highest_temp_c", six(s.HighestC)}, {"highest_temp_time", stamp(s.HighestAt)},
		{"months", months}, {"worst_runs", runsObject(s.Runs)}, {"years", years},
	}
	if m := h.Means; m != nil {
		sixes := func(v [12]float64) (out []six) {
			for _, x := range v {
				out = append(out, six(x))
			}
			return out
		}
		o = append(o, pair{"means", object{
			{"ghi_kwh_m2_day", sixes(m.GHIKWhM2Day)}, {"temp_mean_c", sixes(m.TempMeanC)},
			{"temp_min_c", sixes(m.TempMinC)}, {"temp_max_c", sixes(m.TempMaxC)}, {"years", m.Years},
		}})
	}
	return writeJSON(w, append(o, pair{"flaws", list(h.Flaws)}, pair{"notes", list(h.Notes)}))
}
