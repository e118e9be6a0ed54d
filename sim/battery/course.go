package battery

import "math"

// Air is the temperature of the air around a bank within a step, C: from StartC it goes to ToC, which stands outdoors or is typed.
type Air struct {
	StartC, ToC float64
	LagH        float64 // of the building; 0: it is at ToC
}

// At returns it after h hours.
func (a Air) At(h float64) float64 {
	if a.LagH == 0 {
		return a.ToC
	}
	return a.ToC + (a.StartC-a.ToC)*math.Exp(-h/a.LagH)
}

// mean returns its mean over the first h hours.
func (a Air) mean(h float64) float64 {
	if a.LagH == 0 {
		return a.ToC
	}
	return a.ToC - (a.StartC-a.ToC)*a.LagH/h*math.Expm1(-h/a.LagH)
}

// until returns the hours until it comes to levelC, +Inf where it never does.
func (a Air) until(levelC float64) float64 {
	if r := (levelC - a.ToC) / (a.StartC - a.ToC); a.LagH > 0 && r > 0 && r < 1 {
		return -a.LagH * math.Log(r)
	}
	return math.Inf(1)
}

// Course is a bank's temperature within a step: that of one lump of heat capacity, which gives heat to the air around it. It is
// toC + airK e^(-h/airH) + bankK e^(-h/bankH), in closed form.
type Course struct {
	toC, airK, airH, bankK, bankH float64
}

// Course returns the course from startC in air of a, with a heater that would lift the bank by riseK in the end.
func (b *Bank) Course(startC float64, a Air, riseK float64) Course {
	c := Course{toC: a.ToC + riseK, airH: a.LagH, bankH: b.TempLagH}
	if a.LagH > 0 {
		c.airK = a.StartC - a.ToC
	}
	if b.TempLagH == 0 {
		return c
	}
	if c.airH > 0 {
		if math.Abs(c.airH-c.bankH) < 1e-6*c.bankH { // the two terms would be infinite, and cancel
			c.airH *= 1 + 1e-6
		}
		c.airK *= c.airH / (c.airH - c.bankH)
	}
	c.bankK = startC - c.toC - c.airK
	return c
}

// At returns the temperature after h hours, C.
func (c *Course) At(h float64) float64 {
	t := c.toC
	if c.airK != 0 {
		t += c.airK * math.Exp(-h/c.airH)
	}
	if c.bankK != 0 {
		t += c.bankK * math.Exp(-h/c.bankH)
	}
	return t
}

// Mean returns its mean between two times, C.
func (c *Course) Mean(fromH, toH float64) float64 {
	t := c.toC
	if c.airK != 0 {
		t -= c.airK * c.airH / (toH - fromH) * math.Exp(-fromH/c.airH) * math.Expm1((fromH-toH)/c.airH)
	}
	if c.bankK != 0 {
		t -= c.bankK * c.bankH / (toH - fromH) * math.Exp(-fromH/c.bankH) * math.Expm1((fromH-toH)/c.bankH)
	}
	return t
}

// turnsH returns when it stops rising and falls, or the other way round; 0 where it does not.
func (c *Course) turnsH() float64 {
	if r := -(c.airK / c.airH) / (c.bankK / c.bankH); r > 0 { // no number where a term is missing
		return max(0, math.Log(r)/(1/c.airH-1/c.bankH))
	}
	return 0
}

// crosses returns the first time after fromH, and not after toH, at which it comes to levelC from below, or from above; else +Inf.
func (c *Course) crosses(levelC, fromH, toH float64, fromBelow bool) float64 {
	beyond := func(h float64) bool {
		if fromBelow {
			return c.At(h) >= levelC
		}
		return c.At(h) <= levelC
	}
	ends := [3]float64{fromH, min(toH, max(fromH, c.turnsH())), toH}
	for k := range 2 { // it only rises, or only falls, in each of the two
		lo, hi := ends[k], ends[k+1]
		if hi <= lo || beyond(lo) || !beyond(hi) {
			continue
		}
		for range 50 {
			if mid := (lo + hi) / 2; beyond(mid) {
				hi = mid
			} else {
				lo = mid
			}
		}
		return hi
	}
	return math.Inf(1)
}

// levelTolK is how far beyond a level of temperature a bank must be to count as there.
const levelTolK = 1e-9

// shortestH is the least that a stretch between two levels of temperature lasts.
const shortestH = 1e-4

// Until returns the first time after fromH, and not after toH, at which temperature may make something else of the bank's charging:
// it is barred, allowed again, reduced or no longer so.
func (b *Bank) Until(c *Course, fromH, toH float64) float64 {
	next := toH
	turnH := c.turnsH()
	low, high := minmax(c.At(fromH), c.At(toH))
	if turnH > fromH && turnH < toH {
		low, high = min(low, c.At(turnH)), max(high, c.At(turnH))
	}
	for _, level := range [4]float64{b.MinChargeTempC, b.ResumeChargeTempC, b.MaxChargeTempC, b.ReducedBelowC} {
		if level+levelTolK < low || level-levelTolK > high {
			continue
		}
		next = min(next, c.crosses(level+levelTolK, fromH, next, true), c.crosses(level-levelTolK, fromH, next, false))
	}
	return min(toH, max(next, fromH+shortestH))
}

func minmax(a, b float64) (low, high float64) { return min(a, b), max(a, b) }

// Stretch is a part of a step in which temperature makes the same of the bank's charging; of all else it makes what its mean does.
type Stretch struct {
	Step int
	EndH float64 // within the step
	Warmth
}

// Warmths returns what temperature makes of the bank in each step without a heater, by the step's mean and at its beginning, and the
// stretches of steps within which charging is barred, allowed or reduced anew. outdoorsC is the means of the steps; month returns a step's, 0..11.
//
// The air around the bank is that outdoors, that of a building that follows it, or the typed one of the month. The series is taken
// as a ring, so that its start is settled.
func (b *Bank) Warmths(outdoorsC []float64, month func(i int) int, stepH float64) (warm []Warmth, parts []Stretch) {
	air := b.Airs(outdoorsC, month, stepH)
	var startC float64
	ring := func(book func(i int, c *Course)) {
		for i, a := range air {
			c := b.Course(startC, a, 0)
			if book != nil {
				book(i, &c)
			}
			startC = c.At(stepH)
		}
	}
	if b.TempLagH > 0 && len(air) > 0 {
		ring(nil)
		startC /= -math.Expm1(-stepH * float64(len(air)) / b.TempLagH) // what comes back at the end
	}
	warm = make([]Warmth, len(air))
	barred := false
	ring(func(i int, c *Course) {
		first, meanC := len(parts), c.Mean(0, stepH)
		for h := 0.0; h < stepH; {
			endH := b.Until(c, h, stepH)
			atC := c.At(h)
			barred = b.barredAt(atC, barred)
			w := b.warmth(meanC, barred, atC < b.ReducedBelowC)
			if n := len(parts); n > first && parts[n-1].Warmth == w {
				parts[n-1].EndH = endH
			} else {
				parts = append(parts, Stretch{i, endH, w})
			}
			h = endH
		}
		if warm[i] = parts[first].Warmth; len(parts) == first+1 {
			parts = parts[:first]
		}
	})
	return warm, parts
}

// Airs returns the air around the bank in each step.
func (b *Bank) Airs(outdoorsC []float64, month func(i int) int, stepH float64) []Air {
	air := make([]Air, len(outdoorsC))
	for i, c := range outdoorsC {
		air[i] = Air{StartC: c, ToC: c}
		if b.Room == Profile {
			air[i].StartC, air[i].ToC = b.RoomC[month(i)], b.RoomC[month(i)]
		}
	}
	if b.Room != Building || b.BuildingLagH == 0 || len(air) == 0 {
		return air
	}
	keep := math.Exp(-stepH / b.BuildingLagH)
	t := 0.0
	for _, c := range outdoorsC {
		t = c + (t-c)*keep
	}
	t /= -math.Expm1(-stepH * float64(len(air)) / b.BuildingLagH)
	for i, c := range outdoorsC {
		air[i] = Air{t, c, b.BuildingLagH}
		t = c + (t-c)*keep
	}
	return air
}

// Node is a bank's temperature while a heater may run.
type Node struct {
	bank  *Bank
	riseK float64 // above the air, in the end, for the heater's power
}

// Node makes a bank with a heater ready. Heat from its own losses is left out.
func (b *Bank) Node() *Node { return &Node{b, b.HeaterW * b.TempLagH / b.HeatWhPerK()} }

// Phase is a stretch in which a heater does one thing: nothing, all it can, or what keeps the bank at its thermostat's temperature.
// In it temperature makes the same of the bank's charging.
type Phase struct {
	HeaterW float64
	UntilH  float64 // from its start
	Warmth          // at its mean temperature
	course  Course
	toC     float64 // the thermostat's
	reachH  float64 // when the bank is there; +Inf: never
}

// onTolK is how near to its thermostat's temperature a bank is at it.
const onTolK = 1e-7

// Phase returns the phase that begins at startC in air of a and lasts spanH at the most. Where the heater may have no power it does
// nothing.
func (n *Node) Phase(startC float64, a Air, powered bool, spanH float64, wasBarred bool) Phase {
	b := n.bank
	p := Phase{toC: b.HeaterToC, reachH: math.Inf(1)}
	need := (p.toC - a.At(0)) / n.riseK // share of its power that keeps it there
	at := math.Abs(startC-p.toC) <= onTolK
	if powered && at && need > 0 && need <= 1 {
		spanH = min(spanH, max(shortestH, min(a.until(p.toC), a.until(p.toC-n.riseK))))
		p.HeaterW = b.HeaterW * min(1, max(0, (p.toC-a.mean(spanH))/n.riseK))
		p.course, p.reachH = Course{toC: p.toC}, 0
	} else {
		on := powered && (startC < p.toC-onTolK || at && need > 0)
		riseK := 0.0
		if on {
			p.HeaterW, riseK = b.HeaterW, n.riseK
		}
		p.course = b.Course(startC, a, riseK)
		if powered {
			p.reachH = p.course.crosses(p.toC, 0, spanH, on)
			spanH = min(spanH, max(shortestH, p.reachH))
		}
	}
	p.UntilH = b.Until(&p.course, 0, spanH)
	p.Warmth = b.warmth(p.course.Mean(0, p.UntilH), b.barredAt(startC, wasBarred), startC < b.ReducedBelowC)
	return p
}

// End returns the bank's temperature after h hours of it.
func (p *Phase) End(h float64) float64 {
	if h >= p.reachH-1e-12 {
		return p.toC
	}
	return p.course.At(h)
}

// MeanC returns its mean over the first h hours, C.
func (p *Phase) MeanC(h float64) float64 { return p.course.Mean(0, h) }
