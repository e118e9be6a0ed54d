// Package precheck answers questions that need no simulation.
//
// The hand sum is the one on the back of an envelope. Against sets it beside a run and finds what it left out.
package precheck

import (
	"math"
	"time"
)

// HandRule holds the numbers of the hand sum.
type HandRule struct {
	Factor            float64 // of watts x sun hours, for all losses together
	SunHours          float64 // of an average day, h
	GreyLow, GreyHigh float64 // a grey day's share of it
	InverterWhDay     float64 // an inverter left on for a day with nothing plugged in
	WornShare         float64 // of the capacity, at which a battery is called worn out
}

// CommonRule is common practice; none of it has a source but the last, the usual end of life of data sheets. The grey day
// of the sum is the middle of its range.
func CommonRule() HandRule {
	return HandRule{Factor: 0.8, SunHours: 4, GreyLow: 0.1, GreyHigh: 0.2, InverterWhDay: 260, WornShare: 0.8}
}

// HarvestWh is what an array of arrayW (on its plates) brings in a day of so many sun hours, Wh.
func (r HandRule) HarvestWh(arrayW, sunHours float64) float64 { return arrayW * sunHours * r.Factor }

// DaysCarried is how long a store of usableWh carries days that ask askWh and bring harvestWh; +Inf where they bring
// enough.
func DaysCarried(usableWh, askWh, harvestWh float64) float64 {
	if harvestWh >= askWh {
		return math.Inf(1)
	}
	return usableWh / (askWh - harvestWh)
}

// Sun is a kind of day, by its light.
type Sun int

// The suns, the columns of the table.
const (
	AverageSun Sun = iota
	GreySun
	NoSun
)

// Ask is a kind of day, by what the loads ask; the rows of the table.
type Ask int

// The days.
const (
	LowDay   Ask = iota // the date that asks least
	UsualDay            // the mean of all dates
	BusyDay             // all packs charged, the other loads at their mean; without packs the date that asks most
)

// Asked is what days ask at the load terminals, Wh.
type Asked struct {
	Wh    [3]float64 // by Ask
	Packs bool       // some loads are packs
}

// Cell is one cell of the table.
type Cell struct {
	LeftWh float64 // harvest less what is asked, a day
	Days   float64 // that a full battery carries such days; +Inf: it is not needed
}

// Hand is the hand sum.
type Hand struct {
	Rule      HandRule
	ArrayW    float64
	NominalWh float64
	Depth     float64    // share of the nameplate that may be used
	UsableWh  float64    // nameplate x depth
	HarvestWh [3]float64 // a day, by Sun
	Asked     Asked
	Table     [3][3]Cell // by Ask, then Sun
}

// Hand works out the table for an array and a battery of which the share depth may be used.
func (r HandRule) Hand(arrayW, nominalWh, depth float64, asked Asked) Hand {
	h := Hand{Rule: r, ArrayW: arrayW, NominalWh: nominalWh, Depth: depth, UsableWh: nominalWh * depth, Asked: asked}
	h.HarvestWh[AverageSun] = r.HarvestWh(arrayW, r.SunHours)
	h.HarvestWh[GreySun] = h.HarvestWh[AverageSun] * (r.GreyLow + r.GreyHigh) / 2
	for a, ask := range asked.Wh {
		for s, got := range h.HarvestWh {
			h.Table[a][s] = Cell{got - ask, DaysCarried(h.UsableWh, ask, got)}
		}
	}
	return h
}

// Term is one thing in which the hand sum and a run differ.
type Term int

// The terms, along the path of the energy.
const (
	GapSunHours Term = iota // the month's own, in place of an average day's
	GapDull                 // the spell's sun, in place of its month's
	GapLosses               // of array, controller, cables, battery and conversion, in place of the factor
	GapRating               // what the controller could not start on or clipped
	GapFrost                // charge refused for cold, or for heat
	GapFull                 // curtailed in a spell: the battery took less than there was
	GapStore                // what the battery gave in a spell, in place of its whole usable capacity
	GapBackup               // what the backup charger gave, of which the hand sum knows nothing
	GapIdle                 // of the inverter
	GapStandby              // of controller, box, board
	GapLoads                // the window's loads, in place of the usual day's
	NTerms
)

var termWords = [NTerms]string{"sun_hours", "dull_run", "losses", "over_rating", "frost_bars_charging", "no_room", "store", "backup",
	"inverter_idle", "standby", "loads"}

// String returns the term as a key.
func (t Term) String() string { return termWords[t] }

// Window is the stretch of a run that the hand sum is set against. All Wh and hours are means of a day.
type Window struct {
	FirstStep, Steps int
	From, To         time.Time // wall clock
	Days             float64
	Spell            bool // from a full battery to its worst lack; else a month, or the whole of a short run
	Month            int  // of the run's months: the window itself, or the one in which the middle of it lies; -1: the whole run

	SunHours, MonthSunHours float64 // on the plane, before dirt and glass
	HarvestWh               float64 // at the bus, had all of it found room
	ClippedWh, BarredWh     float64 // at the bus; BarredWh is within HarvestWh
	HeatWh                  float64 // of BarredWh, for heat
	CurtailedWh             float64 // at the bus, within HarvestWh; counted as lost in a spell alone
	AskedWh                 float64 // by the loads, at their terminals, what the user's rule withholds left out
	IdleWh, StandbyWh       float64 // if nothing were cut
	LossWh                  float64 // conversion if nothing were cut; battery, its heater, and cables behind the bus as they were
	BackupWh                float64 // at the bus, from the backup charger
	TakenWh                 float64 // that the charge held fell by; 0 but in a spell
}

// LeftWh is what remains of a day of the window, Wh; below 0 it is lacking.
func (w *Window) LeftWh() float64 {
	left := w.HarvestWh - w.BarredWh + w.BackupWh + w.TakenWh - w.AskedWh - w.IdleWh - w.StandbyWh - w.LossWh
	if w.Spell {
		left -= w.CurtailedWh
	}
	return left
}

// Against is the hand sum beside a run.
type Against struct {
	Hand       Hand
	Window     Window
	HandLeftWh float64         // a usual day with average sun; in a spell with its share of the usable battery
	GapWh      [NTerms]float64 // a day, what the run has less (below 0) or more; HandLeftWh + all = Window.LeftWh()

	LostShare float64 // of watts x sun hours in the window, by what the factor stands for; 0 without sun

	// Named holds the one assumption that made the difference, and where it alone does not turn the sum to what the run
	// says, the next ones, at most three in all. It is empty where the two do not differ.
	Named []Term
}

// Against compares the hand sum with a window of a run, term by term.
func (h Hand) Against(w Window) Against {
	a := Against{Hand: h, Window: w}
	perSunHour := h.ArrayW * h.Rule.Factor
	a.HandLeftWh = h.Table[UsualDay][AverageSun].LeftWh
	g := &a.GapWh
	g[GapSunHours] = perSunHour * (w.MonthSunHours - h.Rule.SunHours)
	g[GapDull] = perSunHour * (w.SunHours - w.MonthSunHours)
	g[GapLosses] = w.HarvestWh + w.ClippedWh - w.LossWh - perSunHour*w.SunHours
	g[GapRating], g[GapFrost] = -w.ClippedWh, -w.BarredWh
	if w.Spell {
		a.HandLeftWh += h.UsableWh / w.Days
		g[GapStore] = w.TakenWh - h.UsableWh/w.Days
		g[GapFull] = -w.CurtailedWh
	}
	g[GapBackup] = w.BackupWh
	g[GapIdle], g[GapStandby] = -w.IdleWh, -w.StandbyWh
	g[GapLoads] = h.Asked.Wh[UsualDay] - w.AskedWh
	if light := h.ArrayW * w.SunHours; light > 0 {
		a.LostShare = 1 - (w.HarvestWh+w.ClippedWh-w.LossWh)/light
	}
	a.name()
	return a
}

// name finds the terms that made the difference.
func (a *Against) name() {
	total := a.Window.LeftWh() - a.HandLeftWh
	sign := math.Copysign(1, total)
	left := a.HandLeftWh
	for len(a.Named) < 3 {
		best := NTerms
		for t, g := range a.GapWh {
			if g*sign > 0 && !a.names(Term(t)) && (best == NTerms || g*sign > a.GapWh[best]*sign) {
				best = Term(t)
			}
		}
		if best == NTerms {
			return
		}
		a.Named = append(a.Named, best)
		left += a.GapWh[best]
		if (a.HandLeftWh < 0) == (a.Window.LeftWh() < 0) || (left < 0) == (a.Window.LeftWh() < 0) {
			return
		}
	}
}

func (a *Against) names(t Term) bool {
	for _, n := range a.Named {
		if n == t {
			return true
		}
	}
	return false
}
