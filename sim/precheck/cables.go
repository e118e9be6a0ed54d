package precheck

import (
	"fmt"
	"math"

	"tideover/sim/battery"
	"tideover/sim/wiring"
)

// circuit is one run of DC cable with what it carries.
type circuit struct {
	name, key string
	run       wiring.Run
	drawA     float64 // as drawn, for the drop
	atV       float64
	sizeA     float64 // for hours on end, with the code's factors: cable and fuse are sized by it
	sized     string  // how
	dropShare float64 // that practice allows
	fused     bool
	fuseA     float64 // typed; 0: the next standard size
}

// Shares of the voltage that practice allows a cable to lose: 1 to 2 % between battery and inverter, 2 to 3 % elsewhere (from
// memory); 5 % in all by the informational notes of NEC 210.19 and 215.2.
const (
	nearShare, farShare, allShare = 0.02, 0.03, 0.05
)

// arrayCircuit is the cable from what feeds the controller at a place, as from that of any other.
func (c *checker) arrayCircuit(place int) circuit {
	var scA, mpA float64
	mpV := math.Inf(1)
	subs := c.sys.Behind(place).SubArrays()
	for i := range subs {
		a := &subs[i].Array
		scA += a.Module.ScCurrentA * float64(a.InParallel)
		mpA += a.Module.MpCurrentA * float64(a.InParallel)
		mpV = min(mpV, a.MpVoltageV(25))
	}
	return circuit{"array", "array", c.sys.ArrayCable, mpA, mpV, brightFactor * longFactor * scA, fmt.Sprintf("1.5625 x %s A short-circuit", round(scA, 1)), farShare, false, 0}
}

// outputCircuit is the cable from that controller. It may give its rated current for hours, whatever the array of today could
// make of it.
func (c *checker) outputCircuit(place int) circuit {
	most := c.sys.Controllers()[place].MaxCurrentA
	return circuit{"controller", "controller", c.sys.OutputCable, c.chargeAOf(place), c.sys.Bank.NominalV, 1.25 * most,
		fmt.Sprintf("1.25 x %s A, its rating", round(most, 1)), nearShare, true, 0}
}

// circuits are those between the bus and what it feeds; none of them is there for an all-in-one box.
func (c *checker) circuits() []circuit {
	if c.sys.AllInOne {
		return nil
	}
	var list []circuit
	chargeA := c.chargeA()
	amps, atV := c.inverterA+c.dcA, c.lowV
	if chargeA > amps {
		amps, atV = chargeA, c.sys.Bank.NominalV
	}
	by := func(amps, atV float64) string {
		return fmt.Sprintf("1.25 x %s A at %s V", round(amps, 1), round(atV, 1))
	}
	list = append(list, circuit{"battery", "battery", c.sys.BatteryCable, amps, atV, 1.25 * amps, by(amps, atV), nearShare, true, c.sys.BatteryFuse.RatedA})
	if c.sys.Inverter != nil {
		list = append(list, circuit{"inverter", "inverter", c.sys.InverterCable, c.inverterA, c.lowV, 1.25 * c.inverterA, by(c.inverterA, c.lowV), nearShare, true, 0})
	}
	if c.dcA > 0 {
		list = append(list, circuit{"DC loads", "dc_loads", c.sys.DCCable, c.dcA, c.lowV, 1.25 * c.dcA, by(c.dcA, c.lowV), farShare, true, 0})
	}
	return list
}

func (c *checker) cables() {
	all := c.sys.Controllers()
	for k := range all {
		if len(all) > 1 {
			c.of = all[k].Name
		}
		c.circuit(c.arrayCircuit(k))
		if !c.sys.AllInOne {
			c.circuit(c.outputCircuit(k))
		}
	}
	c.of = ""
	for _, k := range c.circuits() {
		c.circuit(k)
	}
	if !c.sys.AllInOne {
		c.batteryFuse()
		c.stringFuse()
	}
}

func (c *checker) circuit(k circuit) {
	fuseA, standard := k.fuseA, true
	if fuseA == 0 {
		fuseA, standard = wiring.NextFuseA(k.sizeA)
	}
	lay := c.sys.BatteryCable.Lay // that of all
	protect := fuseA
	if !k.fused {
		protect = k.sizeA
	}
	thinnest := or(lay.Thinnest(protect, c.airC), "more copper than the tables hold: cables side by side, or a higher voltage")
	if !k.run.There() {
		l := Line{Group: Cables, Key: k.key + "_cable", Subject: k.name + " cable, not typed", Number: k.sizeA, Limit: math.NaN(), Unit: "A", Rule: rule(k), Working: k.sized, Verdict: Unknown}
		l.Cure, l.Wants = "it wants "+thinnest, thinnest
		l.Type = fmt.Sprintf("wiring.%s_length_m and %[1]s_area_mm2 or %[1]s_awg", k.key)
		if k.fused && standard {
			l.Cure = fmt.Sprintf("behind a %s A fuse it wants %s", round(fuseA, 0), thinnest)
			l.Wants = fmt.Sprintf("%s A fuse, %s", round(fuseA, 0), thinnest)
		}
		c.add(l)
		return
	}
	dropV := k.drawA * k.run.ResistanceOhm()
	share := dropV / k.atV
	l := Line{Group: Cables, Key: k.key + "_drop", Subject: fmt.Sprintf("%s drop, %s m of %s", k.name, trim(k.run.LengthM), k.run.Size()), Number: 100 * share,
		Limit: 100 * k.dropShare, Unit: "%", Rule: "common practice", Verdict: Pass,
		Working: fmt.Sprintf("%s V of %s V and %s W at %s A, copper at %s C", round(dropV, 2), round(k.atV, 1), round(dropV*k.drawA, 0), round(k.drawA, 1), round(k.run.CopperC(), 0)),
		Cure:    "thicker, shorter, or a higher voltage"}
	if k.key == "array" {
		l.Cure = "thicker, or modules in series: twice the volts lose a quarter of the share"
	}
	switch {
	case share > allShare:
		l.Verdict = Fail
	case share > k.dropShare:
		l.Verdict = Tight
	}
	c.add(l)
	carries := k.run.AmpacityA(c.airC)
	c.add(Line{Group: Cables, Key: k.key + "_ampacity", Subject: k.name + " cable must carry", Number: k.sizeA, Limit: carries, Unit: "A", Rule: k.run.AmpacityRule(),
		Working: fmt.Sprintf("%s, in air of %s C", k.sized, round(c.airC, 0)), Verdict: atMost(k.sizeA, carries), Cure: "it wants " + thinnest})
	if !k.fused {
		return
	}
	mostA := k.run.FuseMostA(c.airC)
	l = Line{Group: Cables, Key: k.key + "_fuse", Subject: k.name + " fuse, next size up", Number: fuseA, Limit: mostA, Unit: "A", Rule: "NEC 240.4",
		Working: k.sized + " is " + round(k.sizeA, 1) + " A", Verdict: atMost(fuseA, mostA),
		Cure: "the cable must carry its fuse: " + thinnest}
	if k.fuseA > 0 {
		l.Subject = k.name + " fuse, as typed"
		fits := fusesBetween(k.sizeA, mostA)
		if fits != "" {
			l.Cure = "a fuse of " + fits + ", which this cable carries; else " + l.Cure
		}
		if k.fuseA < k.sizeA {
			l.Verdict, l.Limit, l.AtLeast = Fail, k.sizeA, true
			l.Cure = "it blows, or ages, under full load: a larger fuse, and a cable to match it"
			if fits != "" {
				l.Cure = "it blows, or ages, under full load: a fuse of " + fits + ", which this cable carries"
			}
		}
	}
	if !standard {
		l.Number, l.Verdict, l.Cure = k.sizeA, Fail, "above the standard sizes: a higher battery voltage"
	}
	c.add(l)
}

// fusesBetween names the standard fuses of at least leastA and at most mostA, A: "125 to 150 A"; "" where there is none.
func fusesBetween(leastA, mostA float64) string {
	first, ok := wiring.NextFuseA(leastA)
	if !ok || first > mostA {
		return ""
	}
	last := first
	for next, ok := first, true; ok && next <= mostA; next, ok = wiring.NextFuseA(last + 0.5) {
		last = next
	}
	if last == first {
		return round(first, 0) + " A"
	}
	return round(first, 0) + " to " + round(last, 0) + " A"
}

func rule(k circuit) string {
	if k.fused {
		return "NEC 240.4"
	}
	return "NEC 690.8(B)"
}

// atMost judges what is sized by a standard, whose factors hold the margin.
func atMost(number, limit float64) Verdict {
	if number > limit {
		return Fail
	}
	return Pass
}

func trim(v float64) string { return fmt.Sprintf("%.3g", v) }

// A lithium battery's short circuit is thousands of amperes, and its fuse is chosen of the 10 to 20 kA class; common bolt-down
// types break as little as 2 kA (trade practice).
const lithiumShortA, wellAboveA = 10e3, 20e3

func (c *checker) batteryFuse() {
	b, f := &c.sys.Bank, c.sys.BatteryFuse
	needA, working := lithiumShortA, "a battery gives thousands of amperes"
	if b.ResistanceOhm > 0 {
		if a := c.chargeV / b.ResistanceOhm; a > needA {
			needA, working = a, fmt.Sprintf("%s V behind %s ohm", round(c.chargeV, 1), trim(b.ResistanceOhm))
		}
	}
	l := Line{Group: Cables, Key: "battery_fuse_breaking", Subject: "battery fuse can break", Number: f.BreaksA, Limit: needA, AtLeast: true, Unit: "A", Rule: "common practice", Working: working}
	switch {
	case f.BreaksA == 0:
		l.Number, l.Verdict = math.NaN(), Unknown
		l.Cure = "a DC fuse of the 10 to 20 kA class; type wiring.battery_fuse_breaks_a"
	case f.BreaksA < needA:
		l.Verdict, l.Cure = Fail, "a fuse of the 10 to 20 kA class"
	case f.BreaksA < max(needA, wellAboveA):
		l.Verdict, l.Cure = Tight, "hold it against the short-circuit current in the battery's data sheet"
	}
	c.add(l)
	if c.sys.Inverter == nil {
		return
	}
	amps := c.inverterA + c.dcA
	fuseA := f.RatedA
	if fuseA == 0 {
		var ok bool
		if fuseA, ok = wiring.NextFuseA(1.25 * amps); !ok {
			return
		}
	}
	surgeA := 2*c.inverterA + c.dcA
	v := FuseUnderSurge(fuseA, surgeA, 5)
	c.add(Line{Group: Cables, Key: "fuse_under_surge", Subject: "battery fuse, double load for 5 s", Number: surgeA, Limit: 2 * fuseA, Unit: "A", Rule: "common practice",
		Working: "an inverter's usual surge, from memory", Verdict: v, Cure: "look at the fuse's curve of time and current"})
}

// FuseUnderSurge says whether a fuse of fuseA, A, holds surgeA for seconds. Twice its rating it holds for some 5 s, as slow ones
// and those of the high-capacity class do, from memory; what is beyond, its maker's curve must tell. It is no substitute
// for that curve.
func FuseUnderSurge(fuseA, surgeA, seconds float64) Verdict {
	switch {
	case surgeA <= fuseA:
		return Pass
	case surgeA <= 2*fuseA && seconds <= 5:
		return Pass
	case surgeA <= 3*fuseA && seconds <= 1:
		return Tight
	}
	return Unknown
}

// joined goes on about how blocks of a type are put together.
func joined(b *battery.Bank) string {
	var s string
	if b.Of.InSeries > 1 && b.Type == battery.Lithium {
		s += "; lithium ones each charged full before they are joined in series"
	}
	if b.Of.InParallel > 1 {
		s += "; strings on equal cables, plus taken at one end of the bank and minus at the other, joined only at equal voltage, or tens of amperes and more flow between them"
	}
	return s
}

// engine says what an engine or the mains beside the sun brings. The distance is advice of health and fire services, from memory.
func (c *checker) engine(say func(short, full string)) {
	b := c.sys.Backup
	if b == nil {
		return
	}
	if b.Burns() {
		say("Engine: its carbon monoxide kills: outdoors, 6 m from openings; fill it cold.",
			"Engine: its exhaust holds carbon monoxide, which has no smell and kills in minutes. Run it outdoors only, some 6 m from doors, windows and vents, exhaust pointed away and downwind; never in a building, porch or shed, not with its door open either, and not beside where animals stand. A carbon monoxide alarm wherever people work or sleep nearby. Headache or giddiness: out into the air, call for help. Fuel: stop the engine and let it cool before it is filled; no flame, spark or cigarette near it; fuel in approved cans, away from building, battery and engine.")
	}
	say("Two sources: never joined without a transfer switch; earth as code says.",
		"Two sources: engine or mains feed the charger alone. Never join their outlets with the inverter's or feed them back through a plug into a building's wiring: it kills those who work on it, and the inverter. What is fed by one or the other wants a transfer switch that can never be on both. Earthing and neutral of an engine as its maker and local code say, by licensed people; a residual-current device; dry, and no cable through water.")
}

func (c *checker) cautions() {
	say := func(short, full string) { c.out.Cautions = append(c.out.Cautions, Caution{short, full}) }
	lowC, _ := c.coldest()
	if low := round(lowC, 0); lowC < 5 {
		if c.sys.Bank.Type == battery.Lithium {
			say(fmt.Sprintf("Cold, %s C: never charge lithium cells below 0 C; see that its board bars it.", low),
				fmt.Sprintf("Cold: down to %s C. Lithium cells must not be charged below 0 C; see that board or controller really bars it, as run takes it to.", low))
		} else {
			say(fmt.Sprintf("Cold, %s C: flat lead freezes near 0 C, half full near -20 C, and bursts.", low),
				fmt.Sprintf("Cold: down to %s C. A flat lead battery freezes near 0 C, a half full one near -20 C, and bursts; keep it charged.", low))
		}
	}
	if k := c.sys.Bank.Of; k.Count() > 1 {
		say(fmt.Sprintf("Blocks: all %d alike in make, type, size and age, joined at equal voltage.", k.Count()),
			fmt.Sprintf("Blocks: all %d of one make, type, size, age and state of charge, none new beside old (common practice)%s.", k.Count(), joined(&c.sys.Bank)))
	}
	for _, line := range c.sys.Bank.Cautions() {
		say("Bank: "+line+".", "Bank: "+line+".")
	}
	if b := &c.sys.Bank; b.Type != battery.Lithium {
		gas, short, words := SealedBoost, "Gas: sealed lead vents too when overcharged", "Sealed lead vents too when it is overcharged"
		if b.Type == battery.Flooded {
			gas, short, words = VentedBoost, "Gas: hydrogen explodes", "Flooded lead gives off hydrogen, which burns and explodes"
		}
		airM3PerH, openingCM2 := Ventilation(b.Cells(), gas, b.CapacityAh)
		air, opening := round(airM3PerH, 2), round(openingCM2, 0)
		say(fmt.Sprintf("%s: %s m3/h of fresh air, %s cm2 open low and high, no spark; acid burns.", short, air, opening),
			fmt.Sprintf("Air: %s while it is charged: %s m3/h of fresh air, an opening of %s cm2 low and another high (IEC 62485-2, boost charge); no flame or spark near it; acid: eyes, skin, clothes.", words, air, opening))
	}
	if high := round(c.HighestC, 0); c.HighestC >= 40 {
		say(fmt.Sprintf("Heat, %s C: above about 40 C batteries age fast and cables carry less.", high),
			fmt.Sprintf("Heat: up to %s C. Batteries age fast and electronics give less above about 40 C; cables on a hot roof carry less (wiring.air_c).", high))
	}
	if c.sys.AllInOne {
		say("Fire: the box on stone or metal, its vents free, nothing to burn near; an alarm.",
			"Fire: the box on a base that does not burn, its vents free, dry and out of the sun; no wood or straw behind or below it, a smoke alarm, off the way out, out of children's reach. A box that is swollen, wet, dropped or hot is not charged. Its battery's fuse is inside: it is not opened.")
	} else {
		say("Fire: DC fuse within 18 cm of the battery; nothing to burn near it; an alarm.",
			"Fire: a fuse rated for direct current within about 18 cm of the battery terminal; no wood or straw behind or below the battery, a smoke alarm, off the way out, out of children's reach.")
	}
	arc, touch, volts := "", "", ""
	if c.coldV >= 80 {
		arc = " From 80 V on, some codes want arc-fault protection (NEC 690.11)."
	}
	// IEC 61140, from memory: extra-low voltage ends at 120 V of direct current; 60 V may be touched where it is dry.
	switch coldV := round(c.coldV, 0); {
	case c.coldV > 120:
		touch, volts = fmt.Sprintf(" %s V of direct current kills.", coldV), fmt.Sprintf("; %s V kills", coldV)
	case c.coldV > 60:
		touch = fmt.Sprintf(" The array reaches %s V: more than the 60 V of direct current that count as safe to touch, and only where it is dry.", round(c.coldV, 1))
		volts = fmt.Sprintf("; %s V is no safe touch", round(c.coldV, 1))
	}
	if c.sys.AllInOne {
		say("Panels are live by day"+volts+": cover them before joining; plugs rated for DC.",
			"Panels are live in daylight: cover them before they are joined or parted, and never part plugs under load; plugs and any switch between panels and box rated for direct current at the highest voltage, as AC ones may not break its arc."+touch+arc)
	} else {
		say("Switches rated for DC at array, battery, inverter; panels are live by day"+volts+".",
			"Isolators: one each for array, battery and inverter, within reach, rated for direct current at the highest voltage; AC switches may not break its arc. Panels are live in daylight."+touch+arc)
	}
	say(fmt.Sprintf("Conduit at most %.0f %% full with two cables, %.0f %% with more; bury by local code.", 100*wiring.ConduitFill(2), 100*wiring.ConduitFill(3)),
		fmt.Sprintf("Cables: conduit no more than %.0f %% full with two in it, %.0f %% with more (NEC chapter 9); buried ones as deep and as marked as local code says; several loaded together carry less (wiring.conductors_together).",
			100*wiring.ConduitFill(2), 100*wiring.ConduitFill(3)))
	c.engine(say)
	if c.sys.Inverter != nil {
		say("Outlets: mains voltage kills, a box's too; who may wire and earth, code says.",
			"Outlets: mains voltage kills whether the grid makes it or a box. Who may wire fixed outlets, and what must be earthed, local code says. Watts are not volt-amperes: cheap chargers and lamps draw more current than their watts.")
	}
	say("Not for anything tied to the grid, nor where a life hangs on the power.",
		"The wrong tool: for anything tied to the grid or fed back into it, for fixed wiring's approval, or where a life hangs on the power.")
	say("From memory: NEC 690.7(A)(2) factors, IEC 60364-5-52 currents, the articles.",
		"From memory, to be held against the code book: the factors of NEC 690.7(A)(2), the currents of IEC 60364-5-52, the articles named.")
}
