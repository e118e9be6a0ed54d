package study

import (
	"cmp"
	"context"
	"fmt"
	"runtime/debug"
	"slices"

	"golang.org/x/sync/errgroup"

	"tideover/sim"
	"tideover/sim/ledger"
	"tideover/weather"
)

// NineInTen is the share of years that are no worse than the one-in-ten year, and in which a target must be met.
const NineInTen = 0.9

// Half is the share of years that are no worse than the median year.
const Half = 0.5

// Year is what is kept of one year of many.
type Year struct {
	CalendarYear      int
	Start             sim.State // from which it ran
	StartSOC          float64
	DaysWithoutPower  int
	DaysOffByRule     int
	MonthDays         [12]int // without power, January to December
	HoursWithoutPower float64
	LongestOutageH    float64
	UnservedShare     float64
	LowestSOC         float64
	BackupHours       float64 // of the backup charger
	FuelL             float64
}

// Record is one system's many years, run one after another: each begins in the state in which the one before it ended.
type Record struct {
	Name         string
	Years        []Year
	Total        ledger.Flows // of all years, Wh
	HeatBarredWh float64      // of Total[ledger.ChargeBarred], what heat refused
	Days         int          // of all years
	Backup       bool         // there is a charger beside the sun
	CapacityWh   float64
	SettlePasses int // of the first year's starting charge; 0 when it was typed
	Settled      bool
	Warnings     []string // of the first year
	Notes        []string
}

// RunYears runs every variant through the n years of weather that year returns for 0..n-1, and returns the records in the
// variants' order. Years are made and prepared by jobs goroutines, so year must be safe for them and give the same year
// for the same k; they are run in order, and what is not kept is let go, so that memory grows only by the Years. done,
// unless nil, is called after each year. The result does not depend on jobs.
func RunYears(ctx context.Context, variants []Variant, year func(k int) *weather.Year, n, jobs int, done func()) ([]*Record, error) {
	jobs = max(1, jobs)
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var g errgroup.Group
	g.SetLimit(jobs)
	type made struct {
		plants []*sim.Prepared
		bug    any // a panic, to go on where the caller can catch it
	}
	ready := make(chan chan made, jobs) // in the order of the years
	go func() {
		defer close(ready)
		for k := range n {
			next := make(chan made, 1)
			select {
			case ready <- next:
			case <-ctx.Done():
				return
			}
			g.Go(func() error {
				var m made
				defer func() {
					if bug := recover(); bug != nil {
						m.bug = fmt.Sprintf("%v\n%s", bug, debug.Stack())
					}
					next <- m
				}()
				if ctx.Err() != nil {
					return nil
				}
				y := year(k)
				for _, v := range variants {
					m.plants = append(m.plants, sim.Prepare(v.System, y))
				}
				return nil
			})
		}
	}()
	records := make([]*Record, len(variants))
	ends := make([]sim.State, len(variants))
	for i, v := range variants {
		records[i] = &Record{Name: v.Name, Years: make([]Year, 0, n)}
	}
	for next := range ready {
		m := <-next
		if m.bug != nil {
			panic(m.bug)
		}
		if err := ctx.Err(); err != nil {
			return nil, err
		}
		for i, p := range m.plants {
			var err error
			if ends[i], err = records[i].run(p, ends[i]); err != nil {
				return nil, fmt.Errorf("%s, year %d: %w", variants[i].Name, len(records[i].Years), err)
			}
		}
		if done != nil {
			done()
		}
	}
	if err := ctx.Err(); err != nil {
		return nil, err
	}
	return records, nil
}

// run runs the next year from the state given, or the first from its own start, books it and returns the end.
func (rec *Record) run(p *sim.Prepared, start sim.State) (sim.State, error) {
	first := len(rec.Years) == 0
	if first {
		var err error
		if start, rec.SettlePasses, rec.Settled, err = p.Start(); err != nil {
			return sim.State{}, err
		}
	}
	r, end, err := p.RunFrom(start, false)
	if err != nil {
		return sim.State{}, err
	}
	a := &r.Answer
	y := Year{
		CalendarYear: r.Months[0].Year, Start: start, StartSOC: a.StartSOC,
		DaysWithoutPower: a.DaysWithoutPower, DaysOffByRule: a.DaysOffByRule, HoursWithoutPower: a.HoursWithoutPower,
		LongestOutageH: a.LongestOutageH, UnservedShare: a.UnservedShare, LowestSOC: a.LowestSOC,
	}
	if c := r.Backup; c != nil {
		rec.Backup = true
		y.BackupHours, y.FuelL = c.Hours, c.FuelL
	}
	for i := range r.Months {
		m := &r.Months[i]
		y.MonthDays[m.Month-1] += m.DaysWithoutPower
		rec.Days += m.Days
	}
	rec.Years = append(rec.Years, y)
	rec.Total.Add(&r.Total)
	rec.HeatBarredWh += r.HeatBarredWh()
	rec.CapacityWh = r.CapacityWh
	if first {
		rec.Warnings, rec.Notes = r.Warnings, r.Notes
	}
	return end, nil
}

// Again runs year k, counted from 0, once more, from the state in which it began, and keeps every step's flows. p must be
// of the same system and the same year of weather.
func (rec *Record) Again(p *sim.Prepared, k int) (*ledger.Run, error) {
	r, _, err := p.RunFrom(rec.Years[k].Start, true)
	if err != nil {
		return nil, err
	}
	if k == 0 {
		r.SettlePasses, r.Settled = rec.SettlePasses, rec.Settled
	}
	p.Explain(r)
	return r, nil
}

// Spread is one number over many years: what half of the years and nine in ten are no worse than, and the worst year's.
type Spread struct {
	Median, OneInTen Estimate
	Worst            float64
}

// Summary is what many years tell. Each Spread is ranked on its own.
type Summary struct {
	Years         int
	Days          Spread // without power
	DaysOffByRule Spread
	Hours         Spread // without power
	UnservedShare Spread
	LowestSOC     Spread
	BackupHours   Spread
	FuelL         Spread
	None          int      // years without a day without power
	NoneShare     Estimate // their share
	WorseOnceIn   float64  // a year worse than the worst comes less often than once in so many years, as surely as Sure
	Ranked        []int    // the years by days without power, then hours, unserved share, lowest charge; the worst last
	OneInTen      int      // the year that stands at nine in ten of Ranked
	Months        [12]struct {
		MeanDays float64 // without power
		WithAny  int     // years in which the month has any
	}
}

// Worst returns the worst year, counted from 0.
func (s *Summary) Worst() int { return s.Ranked[len(s.Ranked)-1] }

// Place returns the place in Ranked of the year that a share p of the years is no worse than.
func (s *Summary) Place(p float64) int { return rank(p, s.Years) }

// Summary tells what the years of the record have in common.
func (rec *Record) Summary() *Summary {
	n := len(rec.Years)
	s := &Summary{Years: n, WorseOnceIn: RarerThanOnceIn(n)}
	column := func(of func(y *Year) float64) []float64 {
		out := make([]float64, n)
		for k := range out {
			out[k] = of(&rec.Years[k])
		}
		return out
	}
	s.Days = spread(column(func(y *Year) float64 { return float64(y.DaysWithoutPower) }))
	s.DaysOffByRule = spread(column(func(y *Year) float64 { return float64(y.DaysOffByRule) }))
	s.Hours = spread(column(func(y *Year) float64 { return y.HoursWithoutPower }))
	s.UnservedShare = spread(column(func(y *Year) float64 { return y.UnservedShare }))
	s.BackupHours = spread(column(func(y *Year) float64 { return y.BackupHours }))
	s.FuelL = spread(column(func(y *Year) float64 { return y.FuelL }))
	s.LowestSOC = spread(column(func(y *Year) float64 { return -y.LowestSOC })).negative()
	for k := range rec.Years {
		y := &rec.Years[k]
		s.Ranked = append(s.Ranked, k)
		if y.DaysWithoutPower == 0 {
			s.None++
		}
		for m, d := range y.MonthDays {
			s.Months[m].MeanDays += float64(d) / float64(n)
			if d > 0 {
				s.Months[m].WithAny++
			}
		}
	}
	s.NoneShare = Share(s.None, n)
	slices.SortStableFunc(s.Ranked, func(i, j int) int {
		a, b := &rec.Years[i], &rec.Years[j]
		return cmp.Or(cmp.Compare(a.DaysWithoutPower, b.DaysWithoutPower), cmp.Compare(a.HoursWithoutPower, b.HoursWithoutPower),
			cmp.Compare(a.UnservedShare, b.UnservedShare), cmp.Compare(b.LowestSOC, a.LowestSOC))
	})
	s.OneInTen = s.Ranked[s.Place(NineInTen)]
	return s
}
