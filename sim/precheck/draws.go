package precheck

import (
	"cmp"
	"slices"

	"tideover/loads"
	"tideover/sim/ledger"
)

// Standing is a draw that goes on day and night, whatever the loads do.
type Standing struct {
	Name  string
	DrawW float64
}

// NoLoadAsks names the idle draw that no load forces.
const NoLoadAsks = "inverter on, no load asking"

// Draw is one line of the ranking, Wh a day if nothing were ever cut.
type Draw struct {
	Name      string
	Bus       string  // of a load: "ac", "dc"; else ""
	Wh        float64 // itself; of a load at its terminals
	StandbyWh float64 // of it, in standby
	IdleWh    float64 // of the inverter, in the time in which this load asks
}

// TotalWh is the draw with what it forces.
func (d *Draw) TotalWh() float64 { return d.Wh + d.IdleWh }

// acLoad is when one AC load asks: the share of each step.
type acLoad struct {
	draw  int
	share []float64
}

// force shares the inverter's idle of each step out among the loads that ask AC in it, in proportion to the time that each
// does, and returns what is left for none, Wh. A load that asks alone forces it all. Short uses are taken to come one after
// another, as the inverter's own hours are: the loads need it for the sum of their shares, at most the whole step.
func force(draws []Draw, ac []acLoad, idleW []float64, idleFullW, stepH float64) (noneWh float64) {
	for i, w := range idleW {
		if w <= 0 {
			continue
		}
		sum := 0.0
		for _, l := range ac {
			sum += l.share[i]
		}
		needW := min(w, idleFullW*min(1, sum))
		noneWh += (w - needW) * stepH
		for _, l := range ac {
			if l.share[i] > 0 {
				draws[l.draw].IdleWh += needW * l.share[i] / sum * stepH
			}
		}
	}
	return noneWh
}

// rank sorts by what each draw takes with what it forces, and leaves out what takes nothing but loads.
func rank(draws []Draw) []Draw {
	draws = slices.DeleteFunc(draws, func(d Draw) bool { return d.Bus == "" && d.TotalWh() <= 0 })
	slices.SortStableFunc(draws, func(x, y Draw) int { return cmp.Compare(y.TotalWh(), x.TotalWh()) })
	return draws
}

// DrawsOf ranks what a run alone knows: what the loads asked, and idle and standby as they were booked. What the idle is
// forced by is not known.
func DrawsOf(r *ledger.Run) []Draw {
	days := 0
	for i := range r.Months {
		days += r.Months[i].Days
	}
	per := 1 / float64(max(1, days))
	var draws []Draw
	for _, l := range r.Loads {
		draws = append(draws, Draw{Name: l.Name, Bus: l.Bus, Wh: l.DemandWh * per})
	}
	return rank(append(draws, Draw{Name: "inverter idle", Wh: r.Total[ledger.InverterIdle] * per},
		Draw{Name: "standby", Wh: r.Total[ledger.Standby] * per}, Draw{Name: "heater", Wh: r.Total[ledger.Heater] * per}))
}

// standbyWh is the part of a load's demand that it draws in standby: what it asks less what it would without.
func standbyWh(at loads.Place, l loads.Load, withWh float64) float64 {
	if l.StandbyW <= 0 || l.Kind != loads.MotionLight && l.Kind != loads.Packs {
		return 0
	}
	l.StandbyW = 0
	return max(0, withWh-loads.Sum(at, []loads.Load{l}).PerLoad[0].DemandWh)
}
