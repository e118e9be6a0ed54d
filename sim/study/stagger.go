package study

import (
	"cmp"
	"fmt"
	"slices"
	"strings"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/clock"
	"tideover/sim/ledger"
	"tideover/weather"
)

// Stagger is what may be done about loads that together are more than the inverter carries.
type Stagger struct {
	Over    Carries       // the most that they are at one moment
	May     Carries       // what is carried
	Board   bool          // it is the battery's board that limits May.W
	InBox   bool          // the inverter is that of an all-in-one box
	Trips   int           // steps of the year in which they trip it, as the calendar and its lots have them
	Alone   []Heavy       // loads that are too much by themselves: no stagger cures that; the heaviest first
	Changes []Change      // the smallest found that fits; nil: none was
	System  *sim.System   // with the changes
	Before  StaggerResult // of the year
	After   StaggerResult // with the changes
}

// Carries is power at the AC terminals at one moment.
type Carries struct {
	W, VA  float64
	StartW float64 // while one load starts; of a rating 0: not known
}

// Heavy is a load that is too much by itself.
type Heavy struct {
	Load  string
	W, VA float64
}

// StaggerResult is what a run says of it.
type StaggerResult struct {
	Trips            int // outages by overload
	DaysWithoutPower int
	UnservedWh       float64
}

// Change is one thing to be done otherwise: a load moved to other hours, or two that are never on together.
type Change struct {
	Load     string
	With     string       // never on together with it; "": moved
	From, To []clock.Span // hours of use, or of charging
	Unplug   string       // of packs whose unplugging moves too, "17:00"
	weight   int
	shiftMin int
}

// String says what a person does.
func (c Change) String() string {
	if c.With != "" {
		return fmt.Sprintf("never run %s and %s together", c.Load, c.With)
	}
	s := fmt.Sprintf("run %s at %s, not %s", c.Load, spans(c.To), spans(c.From))
	if c.Unplug != "" {
		s = fmt.Sprintf("charge %s at %s, not %s", c.Load, spans(c.To), spans(c.From))
		if c.Unplug != "as typed" {
			s += ", and unplug at " + c.Unplug
		}
	}
	return s
}

func spans(list []clock.Span) string {
	words := make([]string, len(list))
	for i, s := range list {
		words[i] = s.String()
	}
	return strings.Join(words, " and ")
}

// NewStagger looks for the smallest change of hours that keeps the loads within what the inverter carries. It returns nil
// where they are, by the calendar and in the year. p is sys prepared with y, and before its run, or nil where there is
// none yet.
func NewStagger(sys *sim.System, y *weather.Year, p *sim.Prepared, before *ledger.Run) (*Stagger, error) {
	v := sys.Inverter
	if v == nil {
		return nil, nil
	}
	s := newSearch(p.Where(), sys.Loads)
	s.fits = func(list []loads.Load) bool {
		other := *sys
		other.Loads = list
		return sim.Prepare(&other, y).Overloads() == 0
	}
	st := &Stagger{Trips: p.Overloads(), InBox: sys.AllInOne}
	s.may, st.Board = carried(sys, p.DCPeakW(), max(v.RatedW, v.Rating30MinW))
	whole := s.start()
	st.Over, st.May = most(whole.peaks), s.may
	if whole.excess <= 0 && st.Trips == 0 {
		return nil, nil
	}
	lasting, _ := carried(sys, p.DCPeakW(), v.RatedW)
	for k, l := range sys.Loads {
		if l.Bus != loads.AC {
			continue
		}
		one := most(loads.Together(sys.Loads[k:k+1], [][]loads.Use{whole.uses[k]}))
		if over(one, s.may) > 0 || over(one, lasting) > 0 && !s.fits(sys.Loads[k:k+1]) {
			st.Alone = append(st.Alone, Heavy{l.Name, one.W, one.VA})
		}
	}
	slices.SortStableFunc(st.Alone, func(a, b Heavy) int { return cmp.Compare(b.W, a.W) })
	if len(st.Alone) == 0 {
		best := s.find(whole)
		if best == nil && v.Rating30MinW > v.RatedW { // what the 30-minute rating carries may be too long
			s.may = lasting
			best = s.find(s.start())
		}
		if best != nil {
			other := *sys
			other.Loads, st.Changes = best.list, best.changes
			st.System = &other
		}
	}
	if st.System == nil {
		return st, nil
	}
	var err error
	if before == nil {
		if before, err = p.Run(false); err != nil {
			return nil, err
		}
	}
	after, err := sim.Prepare(st.System, y).Run(false)
	if err != nil {
		return nil, err
	}
	st.Before, st.After = staggerResult(before), staggerResult(after)
	return st, nil
}

func staggerResult(r *ledger.Run) StaggerResult {
	out := StaggerResult{DaysWithoutPower: r.Answer.DaysWithoutPower, UnservedWh: r.Total[ledger.Unserved]}
	for i := range r.Outages {
		if r.Outages[i].Cause == ledger.Overload {
			out.Trips++
		}
	}
	return out
}

// carried is what an inverter of ratedW carries, and what the battery's board lets through beside dcW; board says that this
// is less.
func carried(sys *sim.System, dcW, ratedW float64) (may Carries, board bool) {
	v := sys.Inverter
	may = Carries{W: ratedW, StartW: v.SurgeW}
	may.VA = may.W
	if v.RatedVA > 0 {
		may.VA *= v.RatedVA / v.RatedW
	}
	if a := sys.Bank.MaxDischargeA; a > 0 {
		// What idle draw and conversion leave of it, closed in on from above and below.
		low, high := 0.0, a*sys.Bank.NominalV
		for range 60 {
			if mid := (low + high) / 2; dcW+v.IdleW+mid+v.LossW(mid) > a*sys.Bank.NominalV {
				high = mid
			} else {
				low = mid
			}
		}
		if low < may.W {
			may.W, board = low, true
		}
	}
	return may, board
}

func most(p loads.Peaks) Carries { return Carries{p.RunW.Most, p.RunVA.Most, p.StartW.Most} }

// search looks for the fewest changes that bring the peaks within what is carried.
type search struct {
	at   loads.Place
	list []loads.Load
	may  Carries
	fits func([]loads.Load) bool // what the peaks alone do not show
	made map[string][]loads.Use
	left int // of mostWork
}

func newSearch(at loads.Place, list []loads.Load) *search {
	return &search{at: at, list: list, made: map[string][]loads.Use{}, fits: func([]loads.Load) bool { return true }, left: mostWork}
}

// plan is the loads with some changes.
type plan struct {
	list    []loads.Load
	uses    [][]loads.Use
	changes []Change
	peaks   loads.Peaks
	excess  float64 // 0: within
}

const (
	mostChanges = 4  // beyond, nobody keeps to them
	mostKept    = 12 // plans that are gone on with, of those with equally many changes
	mostTried   = 12 // plans that are run
	mostLoads   = 10 // whose changes are looked at, the heaviest of those on at one moment

	mostWork = 3e8 // uses times loads, over all plans: about a second; thousands of plans of a usual scenario, a few of a hundred loads
)

func (s *search) start() *plan {
	w := &plan{list: s.list}
	for _, l := range s.list {
		w.uses = append(w.uses, loads.Uses(s.at, l))
	}
	s.judge(w)
	return w
}

func (s *search) judge(w *plan) {
	w.peaks = loads.Together(w.list, w.uses)
	w.excess = over(most(w.peaks), s.may)
	n := len(w.list)
	for _, u := range w.uses {
		n += len(u)
	}
	s.left -= n * len(w.list)
}

// over is by how much of itself the tightest rating is passed, at least 0.
func over(c, may Carries) float64 {
	x := max(c.W/may.W, c.VA/may.VA) - 1
	if may.StartW > 0 {
		x = max(x, c.StartW/may.StartW-1)
	}
	if x < 1e-9 { // rounding of sums
		return 0
	}
	return x
}

// find returns the plan with the fewest changes that fits; of those the one with the least weight, then with the least shift; nil
// where none was found. All single changes are tried; of two and more those whose first ones brought the most.
func (s *search) find(whole *plan) *plan {
	kept := []*plan{whole}
	for range mostChanges {
		var within, beyond []*plan
		for _, w := range kept {
			s.changes(w, func(next *plan) {
				if s.judge(next); next.excess == 0 {
					within = append(within, next)
				} else if next.excess < w.excess || w.excess == 0 {
					beyond = append(beyond, next)
				}
			})
		}
		slices.SortStableFunc(within, func(a, b *plan) int { return cmp.Or(cost(a, b)...) })
		for _, w := range within[:min(len(within), mostTried)] {
			if s.fits(w.list) {
				return w
			}
		}
		beyond = append(beyond, within...) // on paper they fit
		slices.SortStableFunc(beyond, func(a, b *plan) int {
			return cmp.Or(append([]int{cmp.Compare(a.excess, b.excess)}, cost(a, b)...)...)
		})
		if kept = beyond[:min(len(beyond), mostKept)]; len(kept) == 0 || s.left < 0 {
			return nil
		}
	}
	return nil
}

// cost ranks two plans of equally many changes.
func cost(a, b *plan) []int {
	sum := func(w *plan) (weight, shift int) {
		for _, c := range w.changes {
			weight, shift = weight+c.weight, shift+c.shiftMin
		}
		return weight, shift
	}
	aw, as := sum(a)
	bw, bs := sum(b)
	return []int{cmp.Compare(aw, bw), cmp.Compare(as, bs)}
}

// The weights of changes: nobody waits longer for a kettle that is not with a saw than the kettle boils; what can wait, and packs,
// are moved before what must be there.
const (
	apart = iota
	easily
	hardly
)

// changes calls try with each plan that is w with one change more, to a load of those that are the most at one moment.
func (s *search) changes(w *plan, try func(*plan)) {
	var on []int
	for _, p := range []loads.Peak{w.peaks.RunW, w.peaks.RunVA, w.peaks.StartW} {
		for _, k := range p.On {
			if !slices.Contains(on, k) {
				on = append(on, k)
			}
		}
	}
	slices.SortStableFunc(on, func(a, b int) int { return cmp.Compare(w.list[b].OnW(), w.list[a].OnW()) })
	on = on[:min(len(on), mostLoads)]
	slices.Sort(on)
	moved := func(k int) bool {
		return slices.ContainsFunc(w.changes, func(c Change) bool { return c.With == "" && c.Load == w.list[k].Name })
	}
	for _, k := range on {
		if s.left < 0 {
			return
		}
		l := &w.list[k]
		for _, j := range on {
			if j > k && canPart(l, &w.list[j]) {
				other := s.with(w, k, Change{Load: l.Name, With: w.list[j].Name, weight: apart})
				o := &other.list[k]
				o.NotWith = append(slices.Clone(o.NotWith), w.list[j].Name)
				try(other)
			}
		}
		if moved(k) {
			continue
		}
		for _, m := range moves(l) {
			uses := s.usesOf(&m.load, k, m.Change)
			if s.at.ACOn != nil && loads.Hours(uses) < 0.99*loads.Hours(w.uses[k]) { // it would be kept off by the inverter's timetable
				continue
			}
			other := s.with(w, k, m.Change)
			other.list[k].When, other.list[k].AtMin, other.list[k].UnplugMin = m.load.When, m.load.AtMin, m.load.UnplugMin
			other.uses[k] = uses
			try(other)
		}
	}
}

func (s *search) with(w *plan, k int, c Change) *plan {
	return &plan{list: slices.Clone(w.list), uses: slices.Clone(w.uses), changes: append(slices.Clip(w.changes), c)}
}

func (s *search) usesOf(l *loads.Load, k int, c Change) []loads.Use {
	key := fmt.Sprint(k, c.To, c.Unplug)
	if _, ok := s.made[key]; !ok {
		s.made[key] = loads.Uses(s.at, *l)
	}
	return s.made[key]
}

// canPart reports whether a person can keep two loads apart, and both still get their time: what a thermostat, a sensor or
// the dusk switches asks nobody.
func canPart(a, b *loads.Load) bool {
	if slices.Contains(a.NotWith, b.Name) || slices.Contains(b.NotWith, a.Name) {
		return false
	}
	share := func(l *loads.Load) float64 {
		switch l.Kind {
		case loads.Timetable:
			return l.OnMinutesPerHour / 60
		case loads.RandomUses:
			return max(1, l.UsesPerDay) * l.MinutesPerUse / float64(l.When.MinutesADay())
		}
		return 1
	}
	return share(a)+share(b) <= 1
}

// move is a load at other hours.
type move struct {
	Change
	load loads.Load
}

// dayFromMin and dayToMin are when people are about to use things: a guess. What already runs at other times may go on so.
const dayFromMin, dayToMin = 6 * 60, 22 * 60

// moves are the other hours at which a load may be used, by whole hours: one of its spans, or all of them alike. Of packs it is
// the time at which they are plugged in, with or without that at which they are unplugged.
func moves(l *loads.Load) (list []move) {
	weight := hardly
	if l.Priority != loads.MustHave || l.Kind == loads.Packs {
		weight = easily
	}
	byDay := func(s clock.Span) bool { return s.From >= dayFromMin && s.To <= dayToMin }
	shifted := func(s clock.Span, byMin int) (clock.Span, bool) {
		t := clock.Span{From: s.From + byMin, To: s.To + byMin}
		return t, t.From >= 0 && t.From < 24*60 && (byDay(t) || !byDay(s))
	}
	add := func(m loads.Load, c Change, byMin int) {
		c.Load, c.weight, c.shiftMin = l.Name, weight, max(byMin, -byMin)
		list = append(list, move{c, m})
	}
	for h := 1; h <= 12; h++ {
		for _, byMin := range []int{60 * h, -60 * h} {
			switch {
			case l.Kind == loads.Timetable && len(l.When.Hours) > 0:
				for i, s := range l.When.Hours {
					t, ok := shifted(s, byMin)
					others := slices.Delete(slices.Clone(l.When.Hours), i, i+1)
					if !ok || slices.ContainsFunc(others, func(o clock.Span) bool { return meet(o, t) }) {
						continue
					}
					m := *l
					m.When.Hours = slices.Insert(others, i, t)
					add(m, Change{From: []clock.Span{s}, To: []clock.Span{t}}, byMin)
				}
				if len(l.When.Hours) > 1 {
					m, all := *l, true
					m.When.Hours = nil
					for _, s := range l.When.Hours {
						t, ok := shifted(s, byMin)
						m.When.Hours, all = append(m.When.Hours, t), all && ok
					}
					if all && !slices.ContainsFunc(m.When.Hours, func(s clock.Span) bool {
						return slices.ContainsFunc(m.When.Hours, func(o clock.Span) bool { return o != s && meet(o, s) })
					}) {
						add(m, Change{From: l.When.Hours, To: m.When.Hours}, byMin)
						list[len(list)-1].weight++
					}
				}
			case l.Kind == loads.Packs:
				from := clock.Span{From: l.AtMin, To: l.AtMin + l.ChargingMin()}
				to, ok := shifted(from, byMin)
				if !ok {
					continue
				}
				m := *l
				m.AtMin = to.From
				unplug := "as typed"
				if l.UnplugMin != loads.Never && (to.From >= l.UnplugMin || l.UnplugMin <= l.AtMin || l.Waits() || m.Check() != nil) {
					m.UnplugMin = (l.UnplugMin + byMin + 24*60) % (24 * 60)
					if m.UnplugMin == 0 {
						m.UnplugMin = 24 * 60
					}
					unplug = clock.TimeWord(m.UnplugMin)
				}
				if m.Check() != nil {
					continue
				}
				add(m, Change{From: []clock.Span{from}, To: []clock.Span{to}, Unplug: unplug}, byMin)
			}
		}
	}
	return list
}

// meet reports whether two spans of the day overlap, also past midnight.
func meet(a, b clock.Span) bool {
	for _, by := range []int{-24 * 60, 0, 24 * 60} {
		if a.From < b.To+by && b.From+by < a.To {
			return true
		}
	}
	return false
}
