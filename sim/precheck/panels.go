package precheck

import (
	"fmt"
	"math"

	"tideover/sim/array"
	"tideover/sim/controller"
	"tideover/sim/wiring"
)

// The factors of NEC 690.8 and 690.9: 1.25 for light above 1000 W/m2, and 1.25 more for hours on end.
const (
	brightFactor = 1.25
	longFactor   = 1.25
)

// hotC is the temperature of the cells on the hottest day in full sun and little wind, degC.
func (c *checker) hotC(a *array.Array) float64 { return a.CellTempC(1000, c.HighestC, 1) }

// startHot is the open-circuit voltage by which the controller starts on the hottest day, V, and the cells' temperature then:
// it starts in the dim light of the morning and goes on from there.
func (c *checker) startHot(a *array.Array) (volts, cellC float64) {
	cellC = a.CellTempC(200, c.HighestC, 1)
	return a.OcVoltageV(200, cellC), cellC
}

// openCold is the open-circuit voltage on the coldest morning, V. Before it makes power a module is as cold as the air, and
// its voltage is nearly all there in dim light.
func (c *checker) openCold(a *array.Array, sub int) (volts float64, rule, working string, sure bool) {
	lowC, known := c.coldest()
	if c.CoeffTyped == nil || c.CoeffTyped[sub] {
		return a.OcVoltageV(1000, lowC), "NEC 690.7(A)(1)", fmt.Sprintf("%d x %s V by the module's %s %%/K", a.InSeries,
			round(a.Module.OcVoltageV, 1), round(100*a.Module.VoltageCoeffPerK, 2)), known
	}
	f, ok := TableFactor(lowC)
	return float64(a.InSeries) * a.Module.OcVoltageV * f, "NEC 690.7(A)(2)", fmt.Sprintf(
		"%d x %s V x %s, the code's factor without voltage_coeff_per_k", a.InSeries, round(a.Module.OcVoltageV, 1), round(f, 2)), known && ok
}

// unsure is v, but never better than tight where it rests on a guess.
func unsure(v Verdict, sure bool) Verdict {
	if v == Pass && !sure {
		return Tight
	}
	return v
}

// panels checks what feeds each of the controllers against its input.
func (c *checker) panels() {
	all := c.sys.Controllers()
	for k := range all {
		if len(all) > 1 {
			c.of = all[k].Name
		}
		c.input(&all[k].Controller, k)
	}
	c.of = ""
}

func (c *checker) input(ctl *controller.Controller, place int) {
	subs := c.sys.SubArrays()
	section, strings, here := "controller", 0, 0
	if c.of != "" {
		section += "." + c.of
	}
	if c.sys.AllInOne {
		section = "station"
	}
	var maxA, ratedW float64
	for i := range subs {
		if subs[i].Feeds != place {
			continue
		}
		a := &subs[i].Array
		maxA += brightFactor * a.Module.ScCurrentA * float64(a.InParallel)
		strings += a.InParallel
		here++
		ratedW += a.RatedW()
	}
	runV, startV := ctl.RunV(c.chargeV), ctl.StartV(c.chargeV)
	pwm := ctl.Kind == controller.PWM
	if pwm {
		runV = startV // where the current begins to fall
	}
	lowC, known := c.coldest()
	for i := range subs {
		if subs[i].Feeds != place {
			continue
		}
		a, name := &subs[i].Array, ""
		if here > 1 {
			name = fmt.Sprintf("(%d) ", i+1)
		}
		ways := c.ways(ctl, a, i)
		better := ""
		for _, w := range ways {
			if w.Verdict == Pass || w.Verdict == Tight && w.Why == guessed {
				better = fmt.Sprintf("%d in series, %d side by side would do", w.InSeries, w.Parallel)
				break
			}
		}
		if len(ways) > 1 {
			c.out.Ways = append(c.out.Ways, ways...)
		}
		v, rule, working, sure := c.openCold(a, i)
		c.coldV = max(c.coldV, v)
		l := Line{Group: Panels, Key: "open_circuit_cold", Subject: name + "open circuit at " + round(lowC, 0) + " C", Number: v, Limit: ctl.MaxInputV, Unit: "V",
			Rule: rule, Working: working, Verdict: unsure(most(v, ctl.MaxInputV), sure)}
		switch {
		case v > ctl.MaxInputV:
			l.Cure = or(better, fmt.Sprintf("an input for %s V or more", round(math.Ceil(v/slim/5)*5, 0))) + ": one volt too many destroys the input at once"
		case v > slim*ctl.MaxInputV:
			l.Cure = or(better, fmt.Sprintf("an input for %s V or more leaves room", round(math.Ceil(v/slim/5)*5, 0)))
		case !known:
			l.Cure = "type site.record_low_c, the coldest ever measured nearby"
		default:
			l.Cure = "type the module's voltage_coeff_per_k: the code's table ends at -40 C"
		}
		c.add(l)
		hot := c.hotC(a)
		mpV := a.MpVoltageV(hot)
		dimV, dimC := c.startHot(a)
		more := or(better, "more modules in series, or a controller that runs at less") + ": below it the sun charges nothing"
		plate := func(typedV float64) string {
			if typedV > 0 {
				return "its data sheet"
			}
			return "common practice"
		}
		l = Line{Group: Panels, Key: "max_power_hot", Subject: name + "maximum power, cells at " + round(hot, 0) + " C", Number: mpV, Limit: runV, AtLeast: true, Unit: "V",
			Rule: plate(ctl.MinInputV), Working: fmt.Sprintf("full sun, little wind, %s C air", round(c.HighestC, 0)), Verdict: least(mpV, runV), Cure: more}
		if pwm { // it goes on with less
			l.Verdict, l.Cure = min(l.Verdict, Tight), "modules of more cells: on hot days these charge a full battery with less than their current"
		}
		c.add(l)
		c.add(Line{Group: Panels, Key: "start_hot", Subject: name + "to start, in dim light at " + round(dimC, 0) + " C", Number: dimV, Limit: startV, AtLeast: true, Unit: "V",
			Rule: plate(ctl.StartInputV), Working: fmt.Sprintf("open circuit, 200 W/m2, %s C air", round(c.HighestC, 0)), Verdict: least(dimV, startV), Cure: more})
	}
	l := Line{Group: Panels, Key: "array_current", Subject: "array's short circuit x 1.25", Number: maxA, Limit: ctl.MaxInputA, Unit: "A", Rule: "NEC 690.8(A)"}
	switch {
	case pwm: // what goes in comes out
		l.Limit = ctl.MaxCurrentA
		if maxA > ctl.MaxCurrentA {
			l.Verdict, l.Cure = Tight, "what is above its rated current is chopped away, where the maker allows such an array: ask; else fewer strings side by side"
		}
	case ctl.MaxInputA == 0:
		l.Limit, l.Verdict = math.NaN(), Unknown
		l.Cure = "type " + section + ".max_input_a from its data sheet"
	case maxA > ctl.MaxInputA:
		l.Verdict = Tight
		l.Cure = "what is above is clipped, where the maker allows such a short-circuit current: ask; else fewer strings side by side"
	}
	c.add(l)
	outA := ratedW * ctl.Efficiency / c.sys.Bank.NominalV
	clipped := func(v, limit float64) (Verdict, string) {
		if v <= limit {
			return Pass, ""
		}
		return Tight, "what is above is clipped, which does no harm and costs little up to 1.3 to 1.5 times; run tells how much"
	}
	if w := ctl.MaxInputW; w > 0 {
		v, cure := clipped(ratedW, w)
		c.add(Line{Group: Panels, Key: "array_power", Subject: "array's rated power", Number: ratedW, Limit: w, Unit: "W", Rule: "common practice", Verdict: v, Cure: cure})
	}
	if !c.sys.AllInOne && !pwm {
		v, cure := clipped(outA, ctl.MaxCurrentA)
		c.add(Line{Group: Panels, Key: "controller_current", Subject: "array's power as charging current", Number: outA, Limit: ctl.MaxCurrentA, Unit: "A", Rule: "common practice",
			Working: fmt.Sprintf("%s W x %s / %s V", round(ratedW, 0), round(ctl.Efficiency, 2), round(c.sys.Bank.NominalV, 1)), Verdict: v, Cure: cure})
	}
	for i := range subs {
		if subs[i].Feeds != place {
			continue
		}
		a := &subs[i].Array
		name := ""
		if here > 1 {
			name = fmt.Sprintf("(%d) ", i+1)
		}
		c.add(stringFuse(name, a.Module.ScCurrentA, maxA-brightFactor*a.Module.ScCurrentA, a.Module.MaxSeriesFuseA, strings))
		if strings < 3 {
			break
		}
	}
}

// stringFuse is the line of a string's fuse: scA is its module's short-circuit current, othersA what all other strings can push
// into it, plateA the largest fuse that its plate allows (0: not known), strings how many are side by side.
func stringFuse(name string, scA, othersA, plateA float64, strings int) Line {
	l := Line{Group: Panels, Key: "string_fuse", Subject: name + "fuse in each string", Number: math.NaN(), Limit: math.NaN(), Unit: "A", Rule: "NEC 690.9(A)"}
	sizeA := brightFactor * longFactor * scA
	fuseA, ok := wiring.NextFuseA(sizeA)
	l.Working = fmt.Sprintf("1.5625 x %s A is %s A", round(scA, 2), round(sizeA, 1))
	switch {
	case strings < 3:
		l.Subject, l.Working = "string fuses: none under three", fmt.Sprintf("%d side by side", strings)
	case !ok:
		l.Verdict, l.Cure = Fail, "no standard fuse is so large"
	case plateA > 0 && othersA <= plateA:
		l.Subject, l.Number, l.Limit = name+"the others into one string", othersA, plateA
		l.Working = "no string fuses are wanted: the plate allows more than the others can push"
	case plateA == 0:
		l.Number, l.Verdict = fuseA, Unknown
		l.Cure = fmt.Sprintf("type module.max_series_fuse_a from its plate: a %s A fuse in each string, if the plate allows it", round(fuseA, 0))
	default:
		l.Number, l.Limit, l.Verdict = fuseA, plateA, Pass
		if fuseA > plateA {
			l.Verdict, l.Cure = Fail, "no standard fuse is both large enough for the string and small enough for its plate: at most two strings side by side"
		}
	}
	return l
}

// guessed is why a way is tight whose volts only rest on a guess.
const guessed = "cold is a guess"

// ways are those in which the modules of a sub-array can be wired, all in series first: the one typed, the two ends, and what
// divides evenly between them, six at most.
func (c *checker) ways(ctl *controller.Controller, a *array.Array, sub int) []Way {
	n := a.InSeries * a.InParallel
	var series []int
	for s := n; s >= 1; s-- {
		if n%s == 0 {
			series = append(series, s)
		}
	}
	for len(series) > 6 { // those farthest from what is typed
		k := 1
		for j := 1; j < len(series)-1; j++ {
			far := func(s int) float64 { return math.Abs(math.Log(float64(s) / float64(a.InSeries))) }
			if far(series[j]) > far(series[k]) {
				k = j
			}
		}
		series = append(series[:k], series[k+1:]...)
	}
	var ways []Way
	for _, s := range series {
		b := *a
		b.InSeries, b.InParallel = s, n/s
		hot := c.hotC(&b)
		coldV, _, _, sure := c.openCold(&b, sub)
		w := Way{SubArray: sub + 1, InSeries: s, Parallel: n / s, ColdV: coldV, HotV: b.MpVoltageV(hot),
			CurrentA: brightFactor * b.Module.ScCurrentA * float64(b.InParallel), Typed: s == a.InSeries}
		worse := func(v Verdict, why string) {
			if v > w.Verdict {
				w.Verdict, w.Why = v, why
			}
		}
		worse(most(coldV, ctl.MaxInputV), "volts in the cold")
		worse(least(w.HotV, ctl.RunV(c.chargeV)), "volts in the heat")
		dimV, _ := c.startHot(&b)
		worse(least(dimV, ctl.StartV(c.chargeV)), "volts to start")
		if ctl.MaxInputA > 0 && w.CurrentA > ctl.MaxInputA {
			worse(Tight, "current")
		}
		worse(unsure(Pass, sure), guessed)
		ways = append(ways, w)
	}
	return ways
}

func or(a, b string) string {
	if a != "" {
		return a
	}
	return b
}
