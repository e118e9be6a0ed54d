package precheck

import (
	"fmt"
	"math"
	"strings"

	"tideover/sim/battery"
	"tideover/sim/wiring"
)

// dischargeLimitA is the highest current that the battery gives without end, A; known is false where it is not typed.
func dischargeLimitA(*battery.Bank) (amps float64, known bool) { return math.NaN(), false }

func (c *checker) battery() {
	b, ctl := &c.sys.Bank, &c.sys.Controller
	amps := min(ctl.MaxCurrentA, c.sys.RatedW()*ctl.Efficiency/b.NominalV)
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
		l.Cure = "hold it against the highest lasting current of the battery's board, which cuts off above; many give the capacity in one hour, and no more"
		switch {
		case amps <= b.CapacityAh/5:
			l.Verdict = Pass // any block gives a fifth
		case amps > b.CapacityAh:
			l.Verdict = Fail
			l.Cure = "most boards give no more than the capacity in one hour: a larger battery, a higher voltage, or a smaller inverter"
		}
	}
	c.add(l)
}

// drawWords says what the battery feeds at its lowest voltage.
func (c *checker) drawWords() string {
	var parts []string
	if v := c.sys.Inverter; v != nil {
		parts = append(parts, fmt.Sprintf("the inverter at %s W %s A", round(v.RatedW, 0), round(c.inverterA, 0)))
	}
	if c.dcA > 0 {
		parts = append(parts, fmt.Sprintf("DC loads at once %s W %s A", round(c.Peak.DCW, 0), round(c.dcA, 1)))
	}
	return strings.Join(parts, ", ")
}

// peakACOnW is the coincident peak that the inverter must carry, W.
func (c *checker) peakACOnW() float64 { return c.Peak.ACW }

func (c *checker) inverter() {
	v, peakW := c.sys.Inverter, c.peakACOnW()
	l := Line{Group: Inverter, Key: "coincident_peak", Subject: "loads on at once", Number: peakW, Limit: v.RatedW, Unit: "W", Rule: "common practice", Verdict: Pass}
	switch {
	case peakW > v.RatedW:
		l.Verdict, l.Cure = Fail, "stagger them by an hour, or a larger inverter; energy has nothing to do with it"
	case peakW > 0.8*v.RatedW: // 80 % of the rating for hours on end, trade practice and NEC 210.19
		l.Verdict, l.Cure = Tight, "over 80 % of the rating for hours on end"
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
	c.add(Line{Group: Inverter, Key: "surge", Subject: "motor starts on top of the rest", Number: math.NaN(), Limit: math.NaN(), Unit: "W", Rule: "common practice", Verdict: Unknown,
		Cure: "hold the biggest start and all else that is on against the surge rating and its seconds: a compressor starts at 3 to 6 times its watts, a brushed tool at 2 to 3"})
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
		l.Cure = "one appliance at a time on a short lead, as the maker of the box says, or a bond made by a licensed person"
	default:
		l.Verdict, l.Working = Unknown, "not known: "+rcd
		l.Cure = "ask the maker, have it measured, and type outlets.neutral_earth_bond"
	}
	c.add(l)
}
