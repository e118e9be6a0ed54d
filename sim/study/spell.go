package study

import (
	"context"
	"math"
	"slices"
	"time"

	"tideover/sim"
	"tideover/weather"
)

// Spells is what dull spells of every start date and length do to a system.
type Spells struct {
	Shares   []float64 // of the usual sun, 0..1
	Days     int       // the longest spell
	Dates    []time.Time
	StartSOC []float64
	StartOff []bool       // the loads are cut already
	Of       [][]sim.Dull // by share and start date

	Backup    bool    // there is a charger beside the sun
	FuelLPerH float64 // that it burns
	Quiet     bool    // it may not run at all hours

	LowSOC   float64 // a spell whose lowest charge is under it is carried with little left
	Trips    int     // steps in which must-have loads overload the inverter, whatever the charge
	Passes   int     // that settled the starting charge; 0 when it was typed
	Settled  bool
	Warnings []string
	Notes    []string

	Often *Often // nil when not asked for
}

// littleLeft is how far above the cut-off a charge is called little.
const littleLeft = 0.15

// RunSpells walks spells of 1 to days days from every date of the year y, at each of the shares, with at most jobs at once.
// The result does not depend on jobs.
func RunSpells(ctx context.Context, sys *sim.System, y *weather.Year, shares []float64, days, jobs int) (*Spells, error) {
	ready, err := sim.Prepare(sys, y).Spells(shares)
	if err != nil {
		return nil, err
	}
	s := &Spells{
		Shares: shares, Days: days, Dates: ready.Dates, StartSOC: ready.StartSOC, StartOff: ready.StartOff,
		LowSOC: math.Round(100*min(1, ready.CutSOC+littleLeft)) / 100, Trips: ready.Trips,
		Passes: ready.Passes, Settled: ready.Settled, Warnings: ready.Warnings, Notes: ready.Notes,
	}
	if c := sys.Backup; c != nil {
		s.Backup, s.FuelLPerH, s.Quiet = true, c.FuelLPerH, !c.Quiet.Always()
	}
	const chunk = 8 // dates to a task, which share one walker
	parts, err := each(ctx, (len(s.Dates)+chunk-1)/chunk, jobs, func(ctx context.Context, i int) ([][]sim.Dull, error) {
		dates := s.Dates[i*chunk : min((i+1)*chunk, len(s.Dates))]
		ends := make([]sim.DullEnd, days*len(dates)*len(shares))
		part := make([][]sim.Dull, len(shares))
		w := ready.Walker()
		for k := range shares {
			part[k] = make([]sim.Dull, len(dates))
			for d := range dates {
				if err := ctx.Err(); err != nil {
					return nil, err
				}
				part[k][d].Ends, ends = ends[:days:days], ends[days:]
				if err := w.Walk(i*chunk+d, k, &part[k][d]); err != nil {
					return nil, err
				}
			}
		}
		return part, nil
	})
	if err != nil {
		return nil, err
	}
	s.Of = make([][]sim.Dull, len(shares))
	for _, part := range parts {
		for k := range shares {
			s.Of[k] = append(s.Of[k], part[k]...)
		}
	}
	return s, nil
}

// Carried is the length of the longest spell that is carried, days; one that is longer than Days is not looked at.
func (s *Spells) Carried(share, date int) int {
	ends := s.Of[share][date].Ends
	n := slices.IndexFunc(ends, func(e sim.DullEnd) bool { return !e.Carried() })
	if n < 0 {
		return len(ends)
	}
	return n
}

// fullH is the time until the battery is full again after a spell of so many days (one at the least), h.
func (s *Spells) fullH(share, date, days int) float64 {
	return s.Of[share][date].Ends[max(1, days)-1].FullH
}

// Halves is the number of half months in a year: 1 to 15 January, 16 to 31 January...
const Halves = 24

func halfOf(month time.Month, day int) int {
	h := 2 * (int(month) - 1)
	if day > 15 {
		h++
	}
	return h
}

// Stretch is a stretch of the year in which spells are carried alike.
type Stretch struct {
	From, To int     // half months, 0..23, both in it; it may pass the year's end
	Dates    int     // start dates in it
	Off      int     // of these, with the loads cut already
	Days     int     // a spell of so many days is carried on nine of ten of its start dates
	Middle   int     // on half of them
	BackupH  float64 // in one of them the backup charger runs no longer on nine of ten
	FullH    float64 // and after one of them (of one day at the least) it is full again so soon on nine of ten; +Inf: over sim.MaxFullDays
	// LongerPerYear is how many spells a year that begin in it last longer than Days; NaN: not known.
	LongerPerYear float64
}

// Whole reports whether the stretch is the whole year.
func (s *Stretch) Whole() bool { return (s.To+1)%Halves == s.From }

// String says the stretch: "from mid-November to the end of January".
func (s Stretch) String() string {
	if s.Whole() {
		return "all year"
	}
	month := func(h int) string { return time.Month(h/2 + 1).String() }
	if s.From%2 == 0 && s.To == s.From+1 {
		return "in " + month(s.From)
	}
	from, to := "the start of "+month(s.From), "mid-"+month(s.To)
	if s.From%2 == 1 {
		from = "mid-" + month(s.From)
	}
	if s.To%2 == 1 {
		to = "the end of " + month(s.To)
	}
	return "from " + from + " to " + to
}

// stretchesMost is how many stretches a year has at most, shortest how many half months each has at least, worthIt the part of
// the whole scatter that one more must explain, and fullWeight what the scatter of the days until full counts.
const (
	stretchesMost, shortest = 4, 2
	worthIt                 = 0.05
	fullWeight              = 0.25
)

// Stretches parts the year into at most four stretches in which spells go alike, in the order of the calendar: that parting
// into half months which leaves the least scatter of the logarithms of one more than the days carried and, with less
// weight, of one more than the days until full. A part that does not explain a twentieth of the scatter is not made; two
// neighbours that carry as many days and whose days until full differ by less than half are one.
func (s *Spells) Stretches(share int) []Stretch {
	var sum, squares [Halves][2]float64
	var n [Halves]float64
	for d, date := range s.Dates {
		h := halfOf(date.Month(), date.Day())
		carried := s.Carried(share, d)
		n[h]++
		for j, v := range [2]float64{float64(carried), cappedDays(s.fullH(share, d, carried))} {
			v = math.Log1p(v)
			sum[h][j] += v
			squares[h][j] += v * v
		}
	}
	scatter := func(from, to int) float64 { // from the beginning of one to before the other, round the year's end
		var a, b [2]float64
		var count float64
		for h := from; h < to; h++ {
			h := h % Halves
			count += n[h]
			for j := range a {
				a[j], b[j] = a[j]+sum[h][j], b[j]+squares[h][j]
			}
		}
		of := func(j int) float64 { return max(0, b[j]-a[j]*a[j]/max(1, count)) }
		return of(0) + fullWeight*of(1)
	}
	best := []int{0}
	whole := scatter(0, Halves)
	left := whole
	for parts := 2; parts <= stretchesMost; parts++ {
		least, at := math.Inf(1), []int(nil)
		cuts := make([]int, parts)
		var try func(k int, sofar float64)
		try = func(k int, sofar float64) {
			if k == parts {
				if last := cuts[0] + Halves; last-cuts[k-1] >= shortest {
					if sofar += scatter(cuts[k-1], last); sofar < least-1e-9 {
						least, at = sofar, slices.Clone(cuts)
					}
				}
				return
			}
			for c := cuts[k-1] + shortest; c < Halves; c++ {
				cuts[k] = c
				try(k+1, sofar+scatter(cuts[k-1], c))
			}
		}
		for cuts[0] = 0; cuts[0] < Halves; cuts[0]++ {
			try(1, 0)
		}
		if at == nil || left-least < worthIt*whole+1e-9 {
			break
		}
		best, left = at, least
	}
	for {
		stretches := make([]Stretch, len(best))
		alike := -1
		for i, from := range best {
			stretches[i] = s.stretch(share, from, (best[(i+1)%len(best)]+Halves-1)%Halves)
		}
		for i := range stretches {
			next := (i + 1) % len(stretches)
			a, b := cappedDays(stretches[i].FullH), cappedDays(stretches[next].FullH)
			if i != next && (stretches[next].Dates == 0 ||
				stretches[i].Days == stretches[next].Days && max(a, b) <= 1.5*min(a, b)) {
				alike = next
			}
		}
		if alike < 0 {
			return stretches
		}
		best = slices.Delete(best, alike, alike+1)
		if len(best) == 1 {
			best[0] = 0
		}
	}
}

// cappedDays is the time until full in days, at least one and at most as long as it is watched.
func cappedDays(h float64) float64 { return min(max(1, h/24), sim.MaxFullDays) }

func (s *Spells) stretch(share, from, to int) Stretch {
	out := Stretch{From: from, To: to, LongerPerYear: math.NaN()}
	in := func(h int) bool {
		if from <= to {
			return h >= from && h <= to
		}
		return h >= from || h <= to
	}
	var carried, at []int
	for d, date := range s.Dates {
		if in(halfOf(date.Month(), date.Day())) {
			carried, at = append(carried, s.Carried(share, d)), append(at, d)
			if s.StartOff[d] {
				out.Off++
			}
		}
	}
	if out.Dates = len(at); out.Dates == 0 {
		return out
	}
	tenth := out.Dates / 10
	slices.Sort(carried)
	out.Days, out.Middle = carried[tenth], carried[(len(carried)-1)/2]
	var full, backup []float64
	for _, d := range at {
		backup = append(backup, s.Of[share][d].Ends[max(1, out.Days)-1].BackupH)
		full = append(full, s.fullH(share, d, out.Days))
	}
	slices.Sort(backup)
	out.BackupH = backup[len(backup)-1-tenth]
	slices.Sort(full)
	out.FullH = full[len(full)-1-tenth]
	if s.Often != nil && out.Days < s.Days {
		out.LongerPerYear = 0
		for h := range Halves {
			if in(h) {
				out.LongerPerYear += s.Often.ByHalf[share][out.Days][h]
			}
		}
	}
	return out
}

// SpellMonth is a calendar month's start dates taken together; the middle one is the median.
type SpellMonth struct {
	Month           time.Month
	StartSOC        float64 // middle
	Lowest, Middle  int     // days carried
	CutH            float64 // into a spell, middle; +Inf: not within Spells.Days
	FullH           float64 // after the longest spell carried (of one day at the least), middle; +Inf: over sim.MaxFullDays
	Dates, DatesOff int
}

// Months returns the calendar months that have start dates, in order.
func (s *Spells) Months(share int) []SpellMonth {
	var out []SpellMonth
	for m := time.January; m <= time.December; m++ {
		var soc, cut, full []float64
		var carried []int
		off := 0
		for d, date := range s.Dates {
			if date.Month() != m {
				continue
			}
			n := s.Carried(share, d)
			carried, soc = append(carried, n), append(soc, s.StartSOC[d])
			cut, full = append(cut, s.Of[share][d].CutH), append(full, s.fullH(share, d, n))
			if s.StartOff[d] {
				off++
			}
		}
		if len(carried) == 0 {
			continue
		}
		slices.Sort(carried)
		out = append(out, SpellMonth{
			Month: m, StartSOC: middle(soc), Lowest: carried[0], Middle: carried[(len(carried)-1)/2],
			CutH: middle(cut), FullH: middle(full), Dates: len(carried), DatesOff: off,
		})
	}
	return out
}

// middle is the median, the lower of two.
func middle(v []float64) float64 {
	slices.Sort(v)
	return v[(len(v)-1)/2]
}

// Often is how often dull spells come, over many years of weather.
type Often struct {
	Years  int
	ByHalf [][][Halves]float64 // spells a year, by share, by days less one, and by the half month in which they begin
}

// PerYear is the number of spells a year of at least so many days.
func (o *Often) PerYear(share, days int) float64 {
	sum := 0.0
	for _, v := range o.ByHalf[share][days-1] {
		sum += v
	}
	return sum
}

// HowOften counts spells in the n years of weather that year returns for 0..n-1, one after the other. A spell of at least
// so many days at a share is a stretch of days on which the plane gets, in the mean of any so many days running that it is
// made up of, no more than that share of their usual light; the usual of a day is the mean of the 15 days before and after
// it over all years. year, and done after each year unless nil, are called by several goroutines.
func HowOften(ctx context.Context, sys *sim.System, year func(k int) *weather.Year, n int, shares []float64, days, jobs int, done func()) (*Often, error) {
	type light struct {
		whM2  []float64
		dayOf []int
	}
	years, err := each(ctx, n, jobs, func(_ context.Context, k int) (light, error) {
		whM2, dayOf := sim.Prepare(sys, year(k)).PlaneDays()
		if done != nil {
			done()
		}
		return light{whM2, dayOf}, nil
	})
	if err != nil {
		return nil, err
	}
	var whM2 []float64
	var dayOf []int
	for _, y := range years {
		whM2, dayOf = append(whM2, y.whM2...), append(dayOf, y.dayOf...)
	}
	o := &Often{Years: n}
	usual := usualDays(whM2, dayOf)
	for _, share := range shares {
		byDays := make([][Halves]float64, days)
		for length := 1; length <= days; length++ {
			for _, at := range spellsIn(whM2, usual, share, length) {
				byDays[length-1][half(dayOf[at])] += 1 / float64(n)
			}
		}
		o.ByHalf = append(o.ByHalf, byDays)
	}
	return o, nil
}

const yearDays, around = 365, 15

// usualDays is the usual light of each day.
func usualDays(whM2 []float64, dayOf []int) []float64 {
	var sum, n [yearDays]float64
	for i, d := range dayOf {
		sum[d] += whM2[i]
		n[d]++
	}
	usual := make([]float64, len(whM2))
	for i, d := range dayOf {
		var a, b float64
		for k := d - around; k <= d+around; k++ {
			j := (k + yearDays) % yearDays
			a, b = a+sum[j], b+n[j]
		}
		usual[i] = a / b
	}
	return usual
}

// spellsIn returns the first days of the spells of at least length days. Days without any usual light, in the polar night,
// make none.
func spellsIn(whM2, usual []float64, share float64, length int) (starts []int) {
	var got, want float64
	end := -1 // the last day of the spell before
	for i := range whM2 {
		got, want = got+whM2[i], want+usual[i]
		first := i + 1 - length
		if first < 0 {
			continue
		}
		if first > 0 {
			got, want = got-whM2[first-1], want-usual[first-1]
		}
		if want > 1e-6 && got <= share*want*(1+1e-12)+1e-6 {
			if first > end+1 || end < 0 {
				starts = append(starts, first)
			}
			end = i
		}
	}
	return starts
}

// half is the half month of a day of the year, 0..364.
func half(dayOfYear int) int {
	t := time.Date(2025, time.January, 1+dayOfYear, 0, 0, 0, 0, time.UTC)
	return halfOf(t.Month(), t.Day())
}
