package precheck

import (
	"fmt"
	"math"
	"strings"

	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/wiring"
)

// dischargeLimitA is the highest current that the battery gives without end, A; known is false where it is not typed.
func dischargeLimitA(b *battery.Bank) (amps float64, known bool) {
	if b.MaxDischargeA == 0 {
		return math.NaN(), false
	}
	return b.MaxDischargeA, true
}

// chargeAOf is what the controller at a place can give, A: at the nominal voltage, or of PWM the array's short circuit.
func (c *checker) chargeAOf(place int) float64 {
	one := c.sys.Behind(place)
	ctl := &one.Controller
	outA := one.RatedW() * ctl.Efficiency / c.sys.Bank.NominalV
	if ctl.Kind == controller.PWM {
		outA = 0
		for _, sub := range one.SubArrays() {
			outA += sub.Array.Module.ScCurrentA * float64(sub.Array.InParallel)
		}
	}
	return min(ctl.MaxCurrentA, outA)
}

// chargeA is what all controllers together can give, A.
func (c *checker) chargeA() float64 {
	amps := 0.0
	for k := range c.sys.Controllers() {
		amps += c.chargeAOf(k)
	}
	return amps
}

func (c *checker) battery() {
	b := &c.sys.Bank
	amps := c.chargeA()
	l := Line{Group: Battery, Key: "charge_current", Subject: "charging current", Number: amps, Limit: b.MaxChargeA, Unit: "A", Rule: "its data sheet",
		Working: fmt.Sprintf("%s of the capacity an hour", round(amps/b.CapacityAh, 2)), Verdict: most(amps, b.MaxChargeA),
		Cure: "set the controller to less, where it can be set, and type that as controller.max_current_a"}
	if b.MaxChargeA == 0 { // any block takes a fifth of its capacity an hour, most take half
		l.Limit, l.Rule = b.CapacityAh/2, "common practice"
		l.Verdict = Pass
		switch {
		case amps > b.CapacityAh/2:
			l.Verdict = Fail
		case amps > b.CapacityAh/5:
			l.Verdict, l.Cure = Tight, "most blocks take half of their capacity an hour, some a fifth: type battery.max_charge_a"
		}
	}
	c.add(l)
	if c.sys.Inverter == nil && c.dcA == 0 {
		return
	}
	amps = c.inverterA + c.dcA
	limitA, known := dischargeLimitA(b)
	l = Line{Group: Battery, Key: "discharge_current", Subject: "current given, battery at " + round(c.lowV, 1) + " V", Number: amps, Limit: limitA, Unit: "A",
		Rule: "its data sheet", Working: c.drawWords(), Verdict: most(amps, limitA), Cure: "a larger battery, a higher voltage, or a smaller inverter"}
	if !known {
		l.Limit, l.Rule, l.Verdict = b.CapacityAh, "common practice", Unknown
		l.Cure = "hold it against its board's lasting current; type battery.max_discharge_a"
		over := "most boards give no more than the capacity in one hour"
		if b.Type != battery.Lithium {
			l.Cure = "hold it against the current that its data sheet allows; type battery.max_discharge_a"
			over = "lead gives so much for minutes only, and sags"
		}
		switch {
		case amps <= b.CapacityAh/5:
			l.Verdict = Pass // any block gives a fifth
		case amps > b.CapacityAh:
			l.Verdict = Fail
			l.Cure = over + ": a larger battery, a higher voltage, or a smaller inverter"
		}
	}
	c.add(l)
}

// stringFuse says that each string of blocks wants a fuse of its own: into a cell that shorts, all others feed. With each, a
// string carries its share of what the whole gives; practice sizes as for the whole, 1.25 x.
func (c *checker) stringFuse() {
	strings := c.sys.Bank.Of.InParallel
	if strings < 2 {
		return
	}
	amps := max(c.inverterA+c.dcA, c.chargeA())
	l := Line{Group: Cables, Key: "battery_string_fuse", Subject: fmt.Sprintf("a fuse in each of %d strings", strings), Number: 1.25 * amps / float64(strings), Limit: math.NaN(), Unit: "A",
		Rule: "common practice", Verdict: Unknown, Working: fmt.Sprintf("1.25 x %s A, an even share of %s A", round(amps/float64(strings), 1), round(amps, 1)),
		Cure: "one at each string's own terminal, beside the main fuse: into a string that shorts all others feed"}
	if fuseA, ok := wiring.NextFuseA(l.Number); ok {
		l.Cure = fmt.Sprintf("%s A at the least, as strings never share evenly, and no more than cable and block bear: ", round(fuseA, 0)) + l.Cure
	}
	c.add(l)
}

// drawWords says what the battery feeds at its lowest voltage.
func (c *checker) drawWords() string {
	var parts []string
	if v := c.sys.Inverter; v != nil {
		parts = append(parts, fmt.Sprintf("inverter %s W %s A", round(v.RatedW, 0), round(c.inverterA, 0)))
	}
	if c.dcA > 0 {
		parts = append(parts, fmt.Sprintf("DC loads %s W %s A", round(c.Peak.DCW, 0), round(c.dcA, 1)))
	}
	return strings.Join(parts, ", ")
}

// peakACOnW is the coincident peak that the inverter must carry, W.
func (c *checker) peakACOnW() float64 { return c.Peak.ACW }

// inverterSection is where the inverter's keys are typed: those of an all-in-one box are its own.
func (c *checker) inverterSection() string {
	if c.sys.AllInOne {
		return "station"
	}
	return "inverter"
}

func (c *checker) inverter() {
	v, peakW := c.sys.Inverter, c.peakACOnW()
	l := Line{Group: Inverter, Key: "coincident_peak", Subject: "loads on at once", Number: peakW, Limit: v.RatedW, Unit: "W", Rule: "common practice", Verdict: Pass}
	switch {
	case peakW > v.RatedW && peakW <= v.Rating30MinW:
		l.Verdict, l.Cure = Tight, fmt.Sprintf("carried for half an hour by the rating of %s W, and no longer", round(v.Rating30MinW, 0))
	case peakW > v.RatedW:
		l.Verdict, l.Cure = Fail, "stagger them, as below, or a larger inverter; energy has nothing to do with it"
	case peakW > slim*v.RatedW:
		l.Verdict, l.Cure = Tight, "little is left: stagger them, or a larger inverter"
	case c.Peak.LongW > 0.8*v.RatedW: // trade practice and NEC 210.19: what lasts three hours or more
		l.Verdict, l.Cure = Tight, fmt.Sprintf("%s W of it may last three hours and more, over 80 %% of the rating: keep it cool, or a larger inverter", round(c.Peak.LongW, 0))
	}
	if len(c.Peak.On) > 0 {
		var parts []string
		for i, a := range c.Peak.On {
			if i == 4 && len(c.Peak.On) > 5 {
				parts = append(parts, fmt.Sprintf("%d more", len(c.Peak.On)-i))
				break
			}
			parts = append(parts, fmt.Sprintf("%s %s W", a.Load, round(a.OnW, 0)))
		}
		l.Working = c.Peak.At.Format("first on Mon 2 Jan 15:04: ") + strings.Join(parts, ", ")
	}
	c.add(l)
	ratedVA := v.RatedVA
	if ratedVA == 0 {
		ratedVA = v.RatedW
	}
	l = Line{Group: Inverter, Key: "coincident_va", Subject: "the same in volt-amperes", Number: c.Peak.VA, Limit: ratedVA, Unit: "VA", Rule: "common practice",
		Verdict: most(c.Peak.VA, ratedVA), Cure: "type power_factor or class of the loads, " + c.inverterSection() + ".rated_va from its plate; else stagger them"}
	if half := v.Rating30MinW * ratedVA / v.RatedW; l.Verdict == Fail && c.Peak.VA <= half {
		l.Verdict, l.Cure = Tight, fmt.Sprintf("carried for half an hour by %s VA, and no longer", round(half, 0))
	}
	c.add(l)
	c.surge()
	if c.Peak.YearW > 0 {
		l := Line{Group: Inverter, Key: "year_peak", Subject: "the year's worst hour, as simulated", Number: c.Peak.YearW, Limit: v.RatedW, Unit: "W", Rule: "common practice",
			Verdict: most(c.Peak.YearW, v.RatedW), Cure: "within the rating, with little left"}
		if l.Verdict == Fail {
			l.Cure = "the outages by overload in run tell when"
			if c.Peak.YearW <= v.Rating30MinW {
				l.Cure += ", where it outlasts the half hour of the rating"
			}
		}
		c.add(l)
	}
}

// surge holds the largest start on top of the rest, and all starting together as after a cut, against the surge rating.
func (c *checker) surge() {
	v, k := c.sys.Inverter, &c.Peak
	l := Line{Group: Inverter, Key: "surge", Subject: "the largest start on top of the rest", Number: k.StartW, Limit: v.SurgeW, Unit: "W", Rule: "common practice",
		Cure: "a larger surge rating, a soft start, or the rest off while it starts"}
	if k.Starter != "" && k.StartW > k.ACW {
		l.Working = fmt.Sprintf("%s starts, for %s s", k.Starter, round(k.StartS, 1))
	}
	restart := Line{Group: Inverter, Key: "restart", Subject: "all start at once after a cut", Number: k.RestartW, Limit: v.SurgeW, Unit: "W", Rule: "common practice",
		Cure: "switch the largest off before the power comes back"}
	switch {
	case v.SurgeW > 0:
		l.Verdict = most(k.StartW, v.SurgeW)
		if l.Verdict == Pass && k.StartS > v.SurgeS && k.StartW > v.RatedW {
			l.Verdict, l.Cure = Tight, fmt.Sprintf("the surge rating holds for %s s: a start that lasts longer trips it", round(v.SurgeS, 1))
		}
		if restart.Verdict = most(k.RestartW, v.SurgeW); restart.Verdict == Fail {
			restart.Verdict = Tight
			restart.Working = "over it, and tight only as not all are on whenever the power comes back"
		}
	case k.RestartW <= v.RatedW: // within the continuous rating
		l.Limit, restart.Limit = v.RatedW, v.RatedW
		l.Verdict, restart.Verdict = most(k.StartW, v.RatedW), most(k.RestartW, v.RatedW)
	default:
		l.Limit, restart.Limit = math.NaN(), math.NaN()
		l.Verdict, restart.Verdict = Unknown, Unknown
		if k.StartW <= v.RatedW {
			l.Limit, l.Verdict = v.RatedW, most(k.StartW, v.RatedW)
		}
		l.Cure = "type " + c.inverterSection() + ".surge_w and surge_s from its plate; start_factor or class of the loads, where the default is not theirs"
		restart.Cure = l.Cure
	}
	c.add(l)
	c.add(restart)
}

func (c *checker) outlets() {
	s := &c.sys.AC
	volts := s.VoltageV
	if volts == 0 {
		volts = 230
	}
	cable, known := s.Cable(c.sys.BatteryCable.Lay)
	l := Line{Group: Outlets, Key: "breaker", Subject: "breaker, at most what cable carries", Number: s.BreakerA, Limit: math.NaN(), Unit: "A", Rule: "NEC 240.4",
		Working: fmt.Sprintf("the inverter's %s W are %s A at %s V", round(c.sys.Inverter.RatedW, 0), round(c.sys.Inverter.RatedW/volts, 1), round(volts, 0))}
	if known {
		l.Limit, l.Subject = cable.FuseMostA(c.airC), "breaker on "+cable.Size()
	}
	switch {
	case s.BreakerA == 0 || !known:
		l.Verdict, l.Cure = Unknown, "type outlets.breaker_a and outlets.cable_area_mm2 or cable_awg"
		if s.BreakerA == 0 {
			l.Number = math.NaN()
		}
	case s.BreakerA > l.Limit:
		l.Verdict, l.Cure = Fail, "a smaller breaker, or a cable of "+or(cable.Thinnest(s.BreakerA, c.airC), "more than the tables hold")
	}
	if !c.sys.AllInOne || s.BreakerA > 0 || known { // a box has its own
		c.add(l)
	}
	l = Line{Group: Outlets, Key: "neutral_earth_bond", Subject: "neutral-earth bond at one point", Number: math.NaN(), Limit: math.NaN(), Rule: "BS 7671 551"}
	const rcd = "a residual-current device may not trip"
	switch s.Bond {
	case wiring.OnePoint:
		l.Working = "as typed: a licensed person tests that the residual-current device trips"
	case wiring.Floating:
		l.Verdict, l.Working = Tight, "floating: "+rcd
		l.Cure = "one appliance at a time on a short lead, or a bond by a licensed person"
	default:
		l.Verdict, l.Working = Unknown, "not known: "+rcd
		l.Cure = "ask, have it measured, type outlets.neutral_earth_bond"
	}
	c.add(l)
}
