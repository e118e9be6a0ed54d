package invented

import (
	"math"
	"time"

	"tideover/sim"
	"tideover/sim/study"
)

// Spells is an invented year of dull spells at the given shares: three days are carried in the dark months and seven in the
// bright ones, one more at each further share, and the battery is full again a day after in the bright months and a day for
// each day of the spell in the dark ones. Nothing in it was computed by the program.
func Spells(start time.Time, dates, days int, shares ...float64) *study.Spells {
	s := &study.Spells{Shares: shares, Days: days, LowSOC: 0.25, Passes: 2, Settled: true}
	for d := range dates {
		s.Dates = append(s.Dates, start.AddDate(0, 0, d))
		s.StartSOC, s.StartOff = append(s.StartSOC, 0.95), append(s.StartOff, false)
	}
	for k := range shares {
		var of []sim.Dull
		for _, date := range s.Dates {
			dark := date.Month() < time.March || date.Month() > time.October
			holds := 7 + k
			if dark {
				holds = 3 + k
			}
			w := sim.Dull{CutH: math.Inf(1)}
			for n := 1; n <= days; n++ {
				e := sim.DullEnd{LowestSOC: max(0.1, 0.95-0.85*float64(n)/float64(holds)), FullH: 10}
				if dark {
					e.FullH = 24*float64(n) - 10
				}
				if e.FullH > 24*sim.MaxFullDays {
					e.FullH = math.Inf(1)
				}
				if n > holds {
					e.LackH, w.CutH = 24*float64(n-holds)-5, 24*float64(holds)+5
				}
				w.Ends = append(w.Ends, e)
			}
			of = append(of, w)
		}
		s.Of = append(s.Of, of)
	}
	return s
}

// Often is an invented count: twelve spells a year of a day, spread over the half months, and a quarter of it for each
// further day.
func Often(s *study.Spells, years int) *study.Often {
	o := &study.Often{Years: years}
	for k := range s.Shares {
		by := make([][study.Halves]float64, s.Days)
		for n := range by {
			for h := range by[n] {
				if v := 0.5 * float64(k+1) * math.Pow(0.25, float64(n)); v > 1e-4 {
					by[n][h] = v
				}
			}
		}
		o.ByHalf = append(o.ByHalf, by)
	}
	return o
}
