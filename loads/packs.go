package loads

import (
	"math"

	"tideover/sim/clock"
)

// Job is one session of charging that waits. It begins at the start of a step, when its condition holds or, whatever
// holds, in DeadlineStep; from then on it asks for MeanW step by step. What it asks comes on top of the columns, which
// hold the standby of its chargers from plugging in to unplugging. A rule by which the AC bus is off is not in it, and what of
// it falls behind UnplugStep, where a step is long against the time that is left, is asked all the same.
//
// A session belongs to the run in which its deadline falls: of one that was plugged in before the run, PluggedStep is 0.
type Job struct {
	Load                                  int // in the list
	Bus                                   Bus
	MustHave                              bool
	BelowSOC                              float64 // of a load that is FirstToGo: it is withheld below; 0: never
	PluggedStep, DeadlineStep, UnplugStep int     // the first step in which it may begin; in which it must; behind the last before it is unplugged
	WaitForSOC                            float64 // it begins when the state of charge is above; 0: when the sun gives more than all else asks
	*Charging
}

// Charging is what a job asks in the steps from its beginning on, beyond the standby of its chargers. Columns are of one length.
type Charging struct {
	MeanW     []float64
	OnW, OnVA []float64 // the most at one moment
	Share     []float64 // of the step in which it asks, 0..1
	EnergyWh  float64   // of all steps
	InUseH    float64
	StartW    float64 // what one charger takes at its start beyond its running power, W
}

// packs adds chargers that take one pack after another from the moment they are plugged in, the next at once when one is
// full, then stand by. What is not full when they are unplugged is not asked for.
func (f *feeder) packs(p Place, l *Load, jobs []Job) []Job {
	c := l.charge()
	t := l.When
	t.Hours = []clock.Span{l.plugged()}
	sessions := t.Sessions(p.Clock)
	if l.Waits() && p.Defer {
		return f.wait(l, sessions, jobs)
	}
	runS := float64(f.n) * f.stepS

	if l.Waits() && p.AnyMoment {
		f.anyTime(l, sessions)
		return jobs
	}

	// Some chargers take one pack more than the others; all of them draw together, so time is counted once.
	share := 1.0
	for _, group := range [2]struct{ chargers, packs int }{
		{l.Count % l.Chargers, l.Count/l.Chargers + 1},
		{l.Chargers - l.Count%l.Chargers, l.Count / l.Chargers},
	} {
		if group.chargers == 0 || group.packs == 0 {
			continue
		}
		many := float64(group.chargers)
		standby := func(fromS, toS float64) {
			f.standby = true
			f.pieces(fromS, toS, func(i int, aS, bS float64) { f.add(i, aS, bS, many*l.StandbyW, many*l.StandbyW, share) })
			f.standby = false
		}
		var idleS float64 // where the last session left off
		for _, s := range sessions {
			startS, endS := float64(s.FromS), float64(s.ToS)
			if l.UnplugMin == Never {
				standby(idleS, startS)
			}
			for range group.packs {
				f.pieces(startS, min(startS+c.lengthS(), endS), func(i int, aS, bS float64) {
					meanW := 3600 * (c.drawnWh(bS-startS) - c.drawnWh(aS-startS)) / (bS - aS)
					// Rounding may lift the mean of a flat stretch above the power itself.
					f.add(i, aS, bS, many*max(c.powerAtW(aS-startS), meanW), many*meanW, share)
				})
				startS = min(startS+c.lengthS(), endS)
			}
			if idleS = startS; l.UnplugMin != Never {
				standby(startS, endS)
			}
		}
		if l.UnplugMin == Never {
			standby(idleS, runS)
		}
		share = 0
	}
	return jobs
}

// chargingS is how long the chargers are at work for all packs, s.
func (l *Load) chargingS() float64 {
	return float64((l.Count+l.Chargers-1)/l.Chargers) * l.charge().lengthS()
}

// ChargingMin is how long packs charge once they begin, whole minutes, rounded up.
func (l *Load) ChargingMin() int { return int(math.Ceil(l.chargingS()/60 - slackS)) }

// deadlineS is when a session must begin, s after plugging in.
func (l *Load) deadlineS(s clock.Stretch) float64 {
	latestS := max(0, float64(s.ToS-s.FromS)-l.chargingS())
	if l.DeadlineH == 0 {
		return latestS
	}
	return min(l.DeadlineH*3600, latestS) // a clock change may leave less time
}

// standBy adds the standby of all chargers of a load that waits.
func (f *feeder) standBy(l *Load, sessions []clock.Stretch) {
	f.standby = true
	standbyW := float64(min(l.Count, l.Chargers)) * l.StandbyW
	if l.UnplugMin == Never {
		f.steady(0, float64(f.n)*f.stepS, standbyW, 1)
	} else {
		for _, s := range sessions {
			f.steady(float64(s.FromS), float64(s.ToS), standbyW, 1)
		}
	}
	f.standby = false
}

// anyTime adds waiting packs for ratings: at full power at any moment at which they may charge.
func (f *feeder) anyTime(l *Load, sessions []clock.Stretch) {
	f.standBy(l, sessions)
	chargers := float64(min(l.Count, l.Chargers))
	onW := chargers * max(0, l.ChargerPowerW-l.StandbyW) // beside the standby
	wh := float64(l.Count) * l.charge().energyWh
	for _, s := range sessions {
		fromS := float64(s.FromS)
		toS := min(float64(s.ToS), fromS+l.deadlineS(s)+l.chargingS())
		f.steady(fromS, toS, onW, min(1, wh*3600/(chargers*l.ChargerPowerW*(toS-fromS))))
	}
}

// wait adds the standby of waiting packs, and appends their jobs.
func (f *feeder) wait(l *Load, sessions []clock.Stretch, jobs []Job) []Job {
	f.standBy(l, sessions)
	c := f.charging(l)
	for _, s := range sessions {
		fromS := float64(s.FromS)
		plugged := int(math.Ceil(fromS/f.stepS - slackS))
		deadline := max(plugged, int(math.Floor((fromS+l.deadlineS(s))/f.stepS+slackS)))
		if deadline < 0 || deadline >= f.n {
			continue
		}
		j := Job{Load: int(f.load), Bus: l.Bus, MustHave: f.mustHave, PluggedStep: max(0, plugged), DeadlineStep: deadline,
			UnplugStep: int(math.Ceil(float64(s.ToS)/f.stepS - slackS)), WaitForSOC: l.WaitForSOC, Charging: c}
		if l.Priority == FirstToGo {
			j.BelowSOC = l.BelowSOC
		}
		jobs = append(jobs, j)
		f.sum.DemandWh += c.EnergyWh
		f.sum.HoursInUse += c.InUseH
	}
	return jobs
}

// charging is what all chargers of a load ask from the start of a step on until the last pack is full.
func (f *feeder) charging(l *Load) *Charging {
	c, lengthS := l.charge(), l.chargingS()
	n := int(math.Ceil(lengthS/f.stepS - slackS))
	out := &Charging{MeanW: make([]float64, n), OnW: make([]float64, n), OnVA: make([]float64, n), Share: make([]float64, n), InUseH: lengthS / 3600,
		StartW: l.ChargerPowerW * (f.plate.start - 1)}
	for k := range min(l.Count, l.Chargers) {
		packs := l.Count / l.Chargers
		if k < l.Count%l.Chargers {
			packs++
		}
		for i := range n {
			fromS, toS := float64(i)*f.stepS, float64(i+1)*f.stepS
			var mostW float64
			for pack := range packs {
				startS := float64(pack) * c.lengthS()
				aS, bS := max(fromS, startS), min(toS, startS+c.lengthS())
				if bS-aS < slackS {
					continue
				}
				wh := c.drawnWh(bS-startS) - c.drawnWh(aS-startS) - l.StandbyW*(bS-aS)/3600
				out.MeanW[i] += max(0, wh) * 3600 / f.stepS
				mostW = max(mostW, c.powerAtW(aS-startS)-l.StandbyW)
			}
			out.OnW[i] += mostW
		}
	}
	for i := range n {
		out.OnW[i] = max(out.OnW[i], out.MeanW[i]) // rounding
		out.OnVA[i] = out.OnW[i] * f.plate.vaPerW
		out.Share[i] = min(1, (lengthS-float64(i)*f.stepS)/f.stepS)
		out.EnergyWh += out.MeanW[i] * f.stepS / 3600
	}
	return out
}
