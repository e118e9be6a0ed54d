package inverter

import (
	"errors"
	"math"
	"slices"
	"strings"

	"tideover/sim/clock"
)

// Trip says why an inverter goes off under its loads.
type Trip uint8

// The reasons.
const (
	Carried        Trip = iota
	OverContinuous      // and it has no rating for a shorter time
	Over30Min           // more than its 30-minute rating carries, or for longer
	OverSurge           // more than it carries for a moment
)

var tripWords = [...]string{"carried", "over the continuous rating", "over the 30-minute rating, or for longer", "over the surge rating"}

// String says the reason in words.
func (t Trip) String() string { return tripWords[t] }

// Load is what loads of onW and onVA are held against the ratings in watts with, W: by whichever is more of its rating.
func (v *Inverter) Load(onW, onVA float64) float64 {
	perVA := 1.0 // W that count for one VA
	if v.RatedVA > 0 {
		perVA = v.RatedW / v.RatedVA
	}
	return max(onW, onVA*perVA)
}

// Trips says whether loads that at one moment take onW and onVA trip the inverter, and why, when in any hour they are over
// its continuous rating for overMin minutes. startW is the highest that they take for a moment while one of them starts, at
// least onW. What a data sheet rates for 30 minutes or for a moment in watts is scaled to volt-amperes.
func (v *Inverter) Trips(onW, onVA, startW, overMin float64) Trip {
	load := v.Load(onW, onVA)
	switch {
	case v.SurgeW > 0 && max(load, startW) > v.SurgeW:
		return OverSurge
	case load <= v.RatedW:
		return Carried
	case load <= v.Rating30MinW && overMin <= 30+1e-9:
		return Carried
	case load <= v.SurgeW && overMin*60 <= v.SurgeS+1e-9:
		return Carried
	case v.Rating30MinW > 0:
		return Over30Min
	}
	return OverContinuous
}

// CutoffAt is the voltage at the DC input under which the inverter goes off, V, with a bank of nominalV: the typed one, or
// 10.5 V for each 12 V block of it, whose nominal voltage may be 12 or 12.8 V (common practice, from memory).
func (v *Inverter) CutoffAt(nominalV float64) float64 {
	if v.CutoffV > 0 {
		return v.CutoffV
	}
	blocks := math.Round(nominalV / 12.8)
	if nominalV < 11 {
		blocks = nominalV / 12.8 // a few cells, no block
	}
	return 10.5 * blocks
}

// SagNeedV is the open-circuit voltage of the bank, V, under which the inverter's input, behind ohm of resistance from the
// cells on, falls below cutoffV while it feeds peakW. With P the power at the input, the current at cutoffV is P / cutoffV.
// Where more than half of the open-circuit voltage would be lost on the way, the voltage collapses before: at 2 sqrt(P ohm).
func (v *Inverter) SagNeedV(peakW, ohm, cutoffV float64) float64 {
	inputW := v.inputW(peakW)
	least := math.Sqrt(inputW * ohm)
	if cutoffV <= least {
		return 2 * least
	}
	return cutoffV + ohm*inputW/cutoffV
}

// setWake reads what wakes the inverter after auto-off.
func (v *Inverter) setWake(words []string) error {
	const want = "wants by_hand, or daily at a time, as: daily at 07:00"
	word := strings.Join(strings.Fields(strings.ToLower(strings.Join(words, " "))), " ")
	if slices.Contains([]string{"by_hand", "by hand"}, word) {
		v.WakeAtMin = 0
		return nil
	}
	at, ok := strings.CutPrefix(word, "daily at ")
	if !ok || len(words) != 1 {
		return errors.New(want)
	}
	minute, err := clock.ParseTime(at)
	if err != nil {
		return err
	}
	if minute == 0 {
		minute = 24 * 60 // 0 is by hand
	}
	v.WakeAtMin = minute
	return nil
}
