package wiring

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
)

// metricSize is a standard size of IEC 60228 with plain copper.
type metricSize struct {
	areaMM2  float64
	ohmPerKm [2]float64 // highest at 20 C, by Strands: class 5, class 2
	pvcA     float64    // IEC 60364-5-52, method B1, two loaded, 30 C: insulation for 70 C
	xlpeA    float64    // and for 90 C
}

// metric are the sizes in order. Resistances up to 35 mm2: IEC 60228, of which four independent tables agree; above, from
// memory of it. Currents: from memory of IEC 60364-5-52 tables B.52.2 and B.52.3, reference method B1 (single cores in a
// conduit on a wall), two loaded conductors, 30 C; below 1.5 mm2 from memory of British flexible-cord tables.
var metric = []metricSize{
	{0.5, [2]float64{39.0, 36.0}, 3, 3},
	{0.75, [2]float64{26.0, 24.5}, 6, 6},
	{1, [2]float64{19.5, 18.1}, 10, 10},
	{1.5, [2]float64{13.3, 12.1}, 17.5, 23},
	{2.5, [2]float64{7.98, 7.41}, 24, 31},
	{4, [2]float64{4.95, 4.61}, 32, 42},
	{6, [2]float64{3.30, 3.08}, 41, 54},
	{10, [2]float64{1.91, 1.83}, 57, 75},
	{16, [2]float64{1.21, 1.15}, 76, 100},
	{25, [2]float64{0.780, 0.727}, 101, 133},
	{35, [2]float64{0.554, 0.524}, 125, 164},
	{50, [2]float64{0.386, 0.387}, 151, 198},
	{70, [2]float64{0.272, 0.268}, 192, 253},
	{95, [2]float64{0.206, 0.193}, 232, 306},
	{120, [2]float64{0.161, 0.153}, 269, 354},
}

// gauge is an American size: NEC chapter 9 table 8, stranded uncoated copper, 75 C; table 310.16, copper, 30 C, up to three
// conductors.
type gauge struct {
	name      string
	areaMM2   float64
	ohmPerKft float64
	a60       float64
	a75       float64
	a90       float64
	fuseMostA float64 // 240.4(D), for the thin ones; 0: as much as it carries
}

// gauges in order. Seen second-hand, in repositories and reference pages; the resistances of 18 to 14, 10 and 8 AWG and all of
// 3/0 and 4/0 are from memory. 310.16 gives 18 and 16 AWG only at 90 C: at less they are held to their highest fuse.
var gauges = []gauge{
	{"18", 0.823, 7.95, 7, 7, 14, 7},
	{"16", 1.309, 4.99, 10, 10, 18, 10},
	{"14", 2.081, 3.14, 15, 20, 25, 15},
	{"12", 3.309, 1.98, 20, 25, 30, 20},
	{"10", 5.261, 1.24, 30, 35, 40, 30},
	{"8", 8.366, 0.778, 40, 50, 55, 0},
	{"6", 13.302, 0.491, 55, 65, 75, 0},
	{"4", 21.151, 0.308, 70, 85, 95, 0},
	{"3", 26.670, 0.245, 85, 100, 115, 0},
	{"2", 33.631, 0.194, 95, 115, 130, 0},
	{"1", 42.408, 0.154, 110, 130, 145, 0},
	{"1/0", 53.475, 0.122, 125, 150, 170, 0},
	{"2/0", 67.431, 0.0967, 145, 175, 195, 0},
	{"3/0", 85.01, 0.0766, 165, 200, 225, 0},
	{"4/0", 107.2, 0.0608, 195, 230, 260, 0},
}

func gaugeNames() []string {
	var names []string
	for _, g := range gauges {
		names = append(names, g.name)
	}
	return names
}

// gaugeOf panics on a size that gaugeNamed did not return: our bug.
func gaugeOf(name string) gauge {
	i := slices.IndexFunc(gauges, func(g gauge) bool { return g.name == name })
	if i < 0 {
		panic(fmt.Sprintf("wiring: AWG is %q, want one of %v", name, gaugeNames()))
	}
	return gauges[i]
}

// gaugeNamed finds the size typed.
func gaugeNamed(words []string) (string, error) {
	if len(words) != 1 {
		return "", errors.New("wants one size")
	}
	typed := words[0]
	if zeros := strings.Count(typed, "0"); zeros == len(typed) && zeros > 0 { // 00 is 2/0
		typed = fmt.Sprintf("%d/0", zeros)
	}
	if slices.Contains(gaugeNames(), typed) {
		return typed, nil
	}
	return "", fmt.Errorf("%q is not a size of the table: %s", words[0], strings.Join(gaugeNames(), ", "))
}

// heat is the share of its current that a conductor for maxC carries in air of airC: the square root of the room left for
// its own warmth over that at 30 C, at most 1. NEC equation 310.15(B), from memory; the tables of factors follow from it.
func heat(maxC, airC float64) float64 {
	return math.Sqrt(min(1, max(0, maxC-airC)/(maxC-30)))
}

// bundled is the share of its current that each of n conductors under load carries in one conduit or bundle: NEC table
// 310.15(C)(1), over 20 from memory. Metric cables are taken to follow it too.
func bundled(n int) float64 {
	switch {
	case n <= 3:
		return 1
	case n <= 6:
		return 0.8
	case n <= 9:
		return 0.7
	case n <= 20:
		return 0.5
	case n <= 30:
		return 0.45
	}
	return 0.4
}

// AmpacityA is the current that the run's conductors may carry in air of airC without end, A. Insulation for more warmth
// than the terminals stand makes good for heat and bundling, and adds nothing above what the terminals allow: by American
// columns 60 C to 1 AWG, 75 C above (NEC 110.14(C), from memory), in metric sizes 70 C. A metric size that is not standard
// counts as the next smaller, and none above 120 mm2 as more. It panics on a NaN: our bug.
func (r Run) AmpacityA(airC float64) float64 {
	if math.IsNaN(airC) {
		panic("wiring: AmpacityA: airC is NaN, want a number")
	}
	f := bundled(r.Together)
	if r.AWG != "" {
		g := gaugeOf(r.AWG)
		terminalC, terminalA := 60.0, g.a60
		if strings.HasSuffix(g.name, "/0") {
			terminalC, terminalA = 75, g.a75
		}
		if r.Insulation == XLPE {
			return min(terminalA, g.a90*heat(90, airC)*f)
		}
		return terminalA * heat(terminalC, airC) * f
	}
	var a float64
	for _, m := range metric {
		if m.areaMM2 > r.AreaMM2 {
			break
		}
		if a = m.pvcA * heat(70, airC) * f; r.Insulation == XLPE {
			a = min(m.pvcA, m.xlpeA*heat(90, airC)*f)
		}
	}
	return a
}

// FuseMostA is the largest fuse that may protect the run in air of airC, A: what it carries, and for American sizes to 10
// AWG no more than NEC 240.4(D) allows.
func (r Run) FuseMostA(airC float64) float64 {
	a := r.AmpacityA(airC)
	if r.AWG != "" {
		if most := gaugeOf(r.AWG).fuseMostA; most > 0 {
			a = min(a, most)
		}
	}
	return a
}

// AmpacityRule names the table behind AmpacityA.
func (r Run) AmpacityRule() string {
	if r.AWG != "" {
		return "NEC 310.16"
	}
	return "IEC 60364-5-52"
}

// fusesA are the standard ratings of NEC 240.6(A); those below 15 A are of fuses alone, from memory.
var fusesA = []float64{1, 3, 6, 10, 15, 20, 25, 30, 35, 40, 45, 50, 60, 70, 80, 90, 100, 110, 125, 150, 175, 200, 225, 250,
	300, 350, 400, 450, 500, 600}

// NextFuseA is the smallest standard fuse of at least leastA. ok is false where none is so large.
func NextFuseA(leastA float64) (ratedA float64, ok bool) {
	i, _ := slices.BinarySearch(fusesA, leastA-1e-9)
	if i == len(fusesA) {
		return 0, false
	}
	return fusesA[i], true
}

// Thinnest names the thinnest metric and the thinnest American size, laid as l, that a fuse of fuseA protects in air of
// airC: "35 mm2 or 1 AWG"; "" where neither table holds one. Below 1.5 mm2 and 14 AWG wires break where they are fixed: common
// practice.
func (l Lay) Thinnest(fuseA, airC float64) string {
	var words []string
	for _, m := range metric {
		if r := (Run{AreaMM2: m.areaMM2, Lay: l}); m.areaMM2 >= 1.5 && r.FuseMostA(airC) >= fuseA {
			words = append(words, r.Size())
			break
		}
	}
	for _, g := range gauges {
		if r := (Run{AWG: g.name, Lay: l}); g.areaMM2 >= 2 && r.FuseMostA(airC) >= fuseA {
			words = append(words, r.Size())
			break
		}
	}
	return strings.Join(words, " or ")
}

// ConduitFill is the share of a conduit's section that n cables may fill: NEC chapter 9 table 1, from memory.
func ConduitFill(n int) float64 {
	switch n {
	case 1:
		return 0.53
	case 2:
		return 0.31
	}
	return 0.40
}
