package study

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"tideover/sim"
	"tideover/sim/ledger"
	"tideover/sim/plane"
	"tideover/weather"
)

// Stand is one way for the array to stand, and what came of it under the weather and the loads.
type Stand struct {
	TiltByMonth [12]float64 // degrees, January to December
	AzimuthDeg  float64

	HarvestWh   float64 // a year, at the bus: what the controller could have delivered, had all of it found room
	MonthWh     [12]float64
	DesignMonth time.Month // the month with the least harvest for its need
	DesignRatio float64    // the harvest over the need in it
	ratios      [12]float64

	DaysWithoutPower  int
	HoursWithoutPower float64
}

// TiltDeg is the tilt, degrees, of a stand that is never turned; of another, that of January.
func (s *Stand) TiltDeg() float64 { return s.TiltByMonth[0] }

// TiltMonths is some months with one tilt.
type TiltMonths struct {
	Months  []time.Month // in order, from the first of the season
	TiltDeg float64
}

// Turned is an array turned by hand at the ends of its seasons.
type Turned struct {
	Seasons []TiltMonths
	Stand
}

// Tilts is the answer to: which tilt, which way?
type Tilts struct {
	Sub        int    // the sub-array that was turned, from 0
	Of         int    // how many there are
	Feeds      string // the name of its controller, "" where there is one
	Years      int
	AsItStands Stand
	// The best of the stands that are never turned, by three measures. Equal days are told apart by the design month, then
	// by the harvest.
	MostEnergy, BestMonth, FewestDays Stand
	// Curve is the harvest against the tilt, from 0 to 90 degrees, at the azimuth of the array as it stands.
	Curve []Stand
	// ByEnergy and ByMonth are the array turned never, twice and four times a year at the azimuth as it stands: for the most
	// harvest in the year, and for the best design month.
	ByEnergy, ByMonth []Turned
	DesignNeedWh      float64 // a day in the design month of AsItStands
	DesignDays        float64 // days in that month, over all years
	DaysInYear        float64
}

// TiltOptions sets what is searched.
type TiltOptions struct {
	Sub         int  // which sub-array is turned, from 0; the others stay
	KeepAzimuth bool // the azimuth stays as it is: a roof
	Jobs        int
}

// seasonsOf are the ways to cut the year: never, at the equinoxes, by the quarters of the weather.
var seasonsOf = [][][]time.Month{
	{{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12}},
	{{10, 11, 12, 1, 2, 3}, {4, 5, 6, 7, 8, 9}},
	{{12, 1, 2}, {3, 4, 5}, {6, 7, 8}, {9, 10, 11}},
}

// curveStepDeg is between the points of the curve, and so between the tilts that seasons choose from.
const curveStepDeg = 1

// Tilt searches tilt and azimuth of one sub-array, first by coarse steps over all of them (the poleward side is left out
// beyond the tropics), then around the best by finer ones down to 1 and 5 degrees. Every stand is a whole run: the sun,
// the light above the panels and the loads are found once and shared. The answer does not depend on jobs.
//
// It refuses weather that does not hold every month, and loads that ask for nothing.
func Tilt(ctx context.Context, sys *sim.System, y *weather.Year, o TiltOptions) (*Tilts, error) {
	subs := sys.SubArrays()
	if o.Sub < 0 || o.Sub >= len(subs) {
		return nil, fmt.Errorf("sub-array %d: there are %d", o.Sub+1, len(subs))
	}
	own := subs[o.Sub].Surface.At(y.Site.LatDeg)
	t := &tilting{ctx: ctx, p: sim.Prepare(sys, y), own: own, options: o, known: map[place]*Stand{}}
	out := &Tilts{Sub: o.Sub, Of: len(subs)}
	if all := sys.Controllers(); len(all) > 1 {
		out.Feeds = all[subs[o.Sub].Feeds].Name
	}
	now, run, err := t.run(own)
	if err != nil {
		return nil, err
	}
	out.AsItStands = now
	var has [13]int
	for i := range run.Months {
		if run.Months[i].Days >= 20 {
			has[run.Months[i].Month]++
		}
	}
	if slices.Min(has[1:]) == 0 {
		return nil, errors.New("the weather does not hold every month of the year: a tilt for the year cannot be found")
	}
	if math.IsInf(now.DesignRatio, 1) {
		return nil, errors.New("the loads ask for nothing in any month: there is nothing to tide over")
	}
	days := 0
	for i := range run.Months {
		m := &run.Months[i]
		days += m.Days
		if m.Month == now.DesignMonth {
			out.DesignNeedWh += m.NeedWh
			out.DesignDays += float64(m.Days)
		}
	}
	out.DesignNeedWh /= out.DesignDays
	out.Years = slices.Min(has[1:])
	out.DaysInYear = float64(days) / float64(out.Years)

	var line []place
	for tilt := 0; tilt <= 90; tilt += curveStepDeg {
		line = append(line, place{float64(tilt), own.AzimuthDeg})
	}
	if err := t.find(line); err != nil {
		return nil, err
	}
	for _, at := range line {
		out.Curve = append(out.Curve, *t.known[at])
	}
	best, err := t.search(y.Site.LatDeg)
	if err != nil {
		return nil, err
	}
	out.MostEnergy, out.BestMonth, out.FewestDays = *best[0], *best[1], *best[2]
	out.ByEnergy, out.ByMonth, err = t.turned(out.Curve)
	return out, err
}

// place is where a search looks.
type place struct{ tiltDeg, azimuthDeg float64 }

type tilting struct {
	ctx     context.Context
	p       *sim.Prepared
	own     plane.Surface
	options TiltOptions
	known   map[place]*Stand
}

// run runs the system with the sub-array on a surface.
func (t *tilting) run(s plane.Surface) (Stand, *ledger.Run, error) {
	r, err := t.p.Turned(t.options.Sub, s).Run(false)
	if err != nil {
		return Stand{}, nil, fmt.Errorf("tilt %v, azimuth %v: %w", s.TiltDeg, s.AzimuthDeg, err)
	}
	out := Stand{AzimuthDeg: s.AzimuthDeg, DaysWithoutPower: r.Answer.DaysWithoutPower, HoursWithoutPower: r.Answer.HoursWithoutPower,
		DesignRatio: math.Inf(1)}
	for m := range out.TiltByMonth {
		out.TiltByMonth[m] = s.TiltDeg
		if s.TiltByMonth != nil {
			out.TiltByMonth[m] = s.TiltByMonth[m]
		}
	}
	var needWh, years [12]float64
	for i := range r.Months {
		m := &r.Months[i]
		k := int(m.Month) - 1
		out.MonthWh[k] += m.HarvestWh
		needWh[k] += m.NeedWh
		years[k]++
	}
	for k := range out.MonthWh {
		out.ratios[k] = math.Inf(1)
		if needWh[k] > 0 {
			out.ratios[k] = out.MonthWh[k] / needWh[k]
		}
		if out.ratios[k] < out.DesignRatio {
			out.DesignRatio, out.DesignMonth = out.ratios[k], time.Month(k+1)
		}
		out.MonthWh[k] /= max(1, years[k])
		out.HarvestWh += out.MonthWh[k]
	}
	return out, r, nil
}

// find runs those of the places that are not known yet.
func (t *tilting) find(places []place) error {
	var fresh []place
	for _, at := range places {
		if t.known[at] == nil && !slices.Contains(fresh, at) {
			fresh = append(fresh, at)
		}
	}
	stands, err := each(t.ctx, len(fresh), t.options.Jobs, func(_ context.Context, i int) (Stand, error) {
		s := t.own
		s.TiltDeg, s.AzimuthDeg, s.TiltByMonth = fresh[i].tiltDeg, fresh[i].azimuthDeg, nil
		out, _, err := t.run(s)
		return out, err
	})
	if err != nil {
		return err
	}
	for i, at := range fresh {
		t.known[at] = &stands[i]
	}
	return nil
}

// measures order stands, the better first.
var measures = []func(a, b *Stand) int{
	func(a, b *Stand) int { return cmp.Compare(b.HarvestWh, a.HarvestWh) },
	func(a, b *Stand) int { return cmp.Compare(b.DesignRatio, a.DesignRatio) },
	func(a, b *Stand) int {
		return cmp.Or(cmp.Compare(a.DaysWithoutPower, b.DaysWithoutPower), cmp.Compare(b.DesignRatio, a.DesignRatio),
			cmp.Compare(b.HarvestWh, a.HarvestWh))
	},
}

// search returns the best stand by each measure.
func (t *tilting) search(latDeg float64) ([]*Stand, error) {
	equatorDeg := 180.0
	if latDeg < 0 {
		equatorDeg = 0
	}
	reach := 120.0
	if math.Abs(latDeg) < 24 {
		reach = 150 // the sun stands on the other side for a part of the year; the last 30 close the round
	}
	var all []place
	for tilt := 0.0; tilt <= 90; tilt += 10 {
		for off := -reach; off <= reach; off += 30 {
			all = append(all, t.at(tilt, equatorDeg+off))
		}
		if reach == 150 {
			all = append(all, t.at(tilt, equatorDeg+180))
		}
		all = append(all, t.at(tilt, t.own.AzimuthDeg))
	}
	if err := t.find(all); err != nil {
		return nil, err
	}
	best := make([]*Stand, len(measures))
	for k := range measures {
		best[k] = t.best(k)
	}
	for _, step := range []place{{5, 15}, {2, 5}, {1, 5}} {
		for moved := true; moved; {
			all = all[:0]
			for _, b := range best {
				for _, tilt := range []float64{-step.tiltDeg, 0, step.tiltDeg} {
					for _, az := range []float64{-step.azimuthDeg, 0, step.azimuthDeg} {
						if to := b.TiltDeg() + tilt; to >= 0 && to <= 90 {
							all = append(all, t.at(to, b.AzimuthDeg+az))
						}
					}
				}
			}
			if err := t.find(all); err != nil {
				return nil, err
			}
			moved = false
			for k := range measures {
				if b := t.best(k); b != best[k] {
					best[k], moved = b, true
				}
			}
		}
	}
	return best, nil
}

// at is a place whose azimuth is in 0..360; flat, or with the azimuth kept, it is the array's own.
func (t *tilting) at(tiltDeg, azimuthDeg float64) place {
	if tiltDeg == 0 || t.options.KeepAzimuth {
		return place{tiltDeg, t.own.AzimuthDeg}
	}
	azimuthDeg = math.Mod(azimuthDeg+360, 360)
	return place{tiltDeg, azimuthDeg}
}

// best is the best known stand; among equals the flattest, then the first by azimuth.
func (t *tilting) best(measure int) *Stand {
	var out *Stand
	for _, s := range t.known {
		if out == nil {
			out = s
			continue
		}
		if c := cmp.Or(measures[measure](s, out), cmp.Compare(s.TiltDeg(), out.TiltDeg()), cmp.Compare(s.AzimuthDeg, out.AzimuthDeg)); c < 0 {
			out = s
		}
	}
	return out
}

// turned chooses a tilt for each season from the curve, and runs what comes of it.
func (t *tilting) turned(curve []Stand) (byEnergy, byMonth []Turned, err error) {
	energy := func(s *Stand, months []time.Month) (wh float64) {
		for _, m := range months {
			wh += s.MonthWh[m-1]
		}
		return wh
	}
	worst := func(s *Stand, months []time.Month) float64 {
		ratio := math.Inf(1)
		for _, m := range months {
			ratio = min(ratio, s.ratios[m-1])
		}
		return ratio
	}
	var all []Turned
	for _, month := range []bool{false, true} {
		for _, seasons := range seasonsOf {
			// Of the tilts that leave every season as good as the year's worst month can be, the one with most energy.
			floor := 0.0
			if month {
				floor = math.Inf(1)
				for _, months := range seasons {
					best := 0.0
					for k := range curve {
						best = max(best, worst(&curve[k], months))
					}
					floor = min(floor, best)
				}
			}
			var a Turned
			for _, months := range seasons {
				best := -1
				for k := range curve {
					if worst(&curve[k], months) >= floor && (best < 0 || energy(&curve[k], months) > energy(&curve[best], months)) {
						best = k
					}
				}
				a.Seasons = append(a.Seasons, TiltMonths{months, curve[best].TiltDeg()})
			}
			all = append(all, a)
		}
	}
	stands, err := each(t.ctx, len(all), t.options.Jobs, func(_ context.Context, i int) (Stand, error) {
		s := t.own
		s.TiltByMonth = make([]float64, 12)
		for _, season := range all[i].Seasons {
			for _, m := range season.Months {
				s.TiltByMonth[m-1] = season.TiltDeg
			}
		}
		out, _, err := t.run(s)
		return out, err
	})
	if err != nil {
		return nil, nil, err
	}
	for i := range all {
		all[i].Stand = stands[i]
	}
	return all[:len(seasonsOf)], all[len(seasonsOf):], nil
}
