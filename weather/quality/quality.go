// Package quality judges a stretch of weather: what in it cannot be, or is doubtful, in one line each. It changes nothing,
// but for ShiftClock, which moves a whole file against the sun when asked to.
//
// All checks look at hours (shorter steps are averaged, for a passing cloud's edge can lift a minute above the sun
// outside the air) and compare the light with the sun of the site: geometry, and the clear sky of B. Haurwitz,
// J. Meteorology 2, 154-166 (1945): 1098 cos z exp(-0.059 / cos z) W/m2, raised by 5 % per km of elevation (a guess that
// holds at 3 km).
//
// The thresholds stand beside each check. They were set so that eight typical and measured files of six climates, from
// 46 S to 58 N and up to 3000 m, pass without a word (our own trial), with a margin noted where it is thin.
package quality

import (
	"fmt"
	"math"
	"strings"
	"time"

	"tideover/weather"
	"tideover/weather/sun"
)

// Kind is the sort of a flaw.
type Kind int

// The kinds, in the order in which they are told.
const (
	Clock          Kind = iota // the light is early or late against the sun
	Season                     // winter above summer
	Level                      // more or less light in the year than there is
	NightLight                 // light with the sun down
	AboveSun                   // more light than outside the air
	AboveClearSky              // more light than the clearest sky gives, in many hours
	DiffuseAbove               // diffuse above global light
	Unclosed                   // beam and diffuse do not make the global light
	DeadSensor                 // no light, or the same, for hours by day
	DriftingSensor             // the clearest days fade or grow over the file
	Temperature                // temperatures that do not occur there
	Snow                       // snow where it cannot lie or fall
)

// Flaw is one thing wrong with the weather.
type Flaw struct {
	Kind  Kind
	Hours int    // how many hours show it, 0 where it is no matter of single hours
	Unfit bool   // the light or temperature of the file is not that of the site: no result from it would mean much
	Msg   string // one line: what, how much, where, what was done
}

// Lines returns the messages.
func Lines(flaws []Flaw) []string {
	var lines []string
	for _, f := range flaws {
		lines = append(lines, f.Msg)
	}
	return lines
}

// Judge returns the flaws of a year in the order of their kinds, none of which was mended. It panics on a year that its
// own Check refuses.
func Judge(y *weather.Year) []Flaw {
	if err := y.Check(); err != nil {
		panic(fmt.Sprintf("quality: Judge: %v", err))
	}
	h := hoursOf(y)
	clock := checkClock(h)
	var flaws []Flaw
	add := func(f Flaw, found bool) {
		if !found {
			return
		}
		switch f.Kind {
		case NightLight, AboveSun, AboveClearSky, Unclosed:
			if clock.Off {
				f.Msg += ", as its clock would explain"
			}
			f.Msg += "; left as it is"
		case Clock, Season, Level:
		default:
			f.Msg += "; left as it is"
		}
		if f.Unfit {
			f.Msg += "; the file is unfit"
		}
		flaws = append(flaws, f)
	}
	add(clock.flaw(y))
	add(h.season())
	add(h.level())
	add(h.nightLight())
	add(h.aboveSun())
	add(h.aboveClearSky())
	add(h.diffuseAbove())
	add(h.unclosed())
	add(h.dead())
	add(h.drifting(clock.Off))
	for _, f := range h.temperatures() {
		add(f, true)
	}
	for _, f := range h.absurdSnow() {
		add(f, true)
	}
	return flaws
}

// hours is a year as the checks look at it: hourly means, and the sun.
type hours struct {
	site                weather.Site
	start               time.Time
	n                   int
	ghi, dni, dhi, temp []float64
	rawTemp             []float64 // of each step
	snow                []float64 // at the end of each hour, cm; nil: not known
	stepMin             int
	sun                 []sun.Step
	height              []float64 // of the sun at the start of each hour and the end of the last, deg
	outside, clear      []float64 // light on the level outside the air and from a clear sky, W/m2
	measured            bool
}

func hoursOf(y *weather.Year) *hours {
	per := 60 / y.StepMin
	n := y.Len() / per
	if n == 0 {
		n, per = 1, y.Len()
	}
	h := &hours{
		site: y.Site, start: y.Start, n: n, measured: y.Measured, rawTemp: y.TempC, stepMin: y.StepMin,
		ghi: means(y.GHIWm2, per, n), dni: means(y.DNIWm2, per, n), dhi: means(y.DHIWm2, per, n), temp: means(y.TempC, per, n),
		sun: sun.Track(y.Start, 1, n, y.Site.Sun()), height: make([]float64, n+1),
		outside: make([]float64, n), clear: make([]float64, n),
	}
	for i := range h.height {
		h.height[i] = 90 - sun.At(h.at(i), y.Site.Sun()).ZenithDeg
	}
	if y.SnowDepthCM != nil {
		h.snow = make([]float64, n)
		for i := range h.snow {
			h.snow[i] = y.SnowDepthCM[min((i+1)*per, y.Len())-1]
		}
	}
	thin := 1 + 0.05*max(0, y.Site.ElevationM)/1000
	for i, s := range h.sun {
		if cosZ := math.Cos(s.ZenithDeg * math.Pi / 180); cosZ > 0 && s.LitShare > 0 {
			h.outside[i] = sun.SolarConstantWm2 * s.DistanceFactor * cosZ * s.LitShare
			h.clear[i] = min(h.outside[i], thin*1098*cosZ*math.Exp(-0.059/cosZ)*s.LitShare)
		}
	}
	return h
}

func means(values []float64, per, n int) []float64 {
	if per == 1 || values == nil {
		return values
	}
	out := make([]float64, n)
	for i := range out {
		for _, v := range values[i*per : (i+1)*per] {
			out[i] += v / float64(per)
		}
	}
	return out
}

// at returns the start of hour i.
func (h *hours) at(i int) time.Time { return h.start.Add(time.Duration(i) * time.Hour) }

// when writes the start of hour i; a typical year's dates have no year.
func (h *hours) when(i int) string {
	if h.measured {
		return h.at(i).Format("2 Jan 2006 15:04")
	}
	return h.at(i).Format("2 Jan 15:04")
}

// high reports a sun above deg all hour.
func (h *hours) high(i int, deg float64) bool { return h.height[i] > deg && h.height[i+1] > deg }

func (h *hours) cosZ(i int) float64 { return math.Cos(h.sun[i].ZenithDeg * math.Pi / 180) }

// tally counts hours that show a flaw.
type tally struct {
	n           int
	first       int
	most        float64
	at          int
	from, until int // of the longest run
}

func (t *tally) hit(i int, v float64) {
	if t.n == 0 {
		t.first = i
	}
	if v > t.most || t.n == 0 {
		t.most, t.at = v, i
	}
	t.n++
}

// nightLight counts light with the sun more than 1 degree down all hour. Dusk itself gives 1 to 3 W/m2 just below the
// horizon, so a little of that is let pass: it is told from 5 W/m2 in an hour or from 0.1 kWh/m2 in a year on.
func (h *hours) nightLight() (Flaw, bool) {
	var t tally
	sum := 0.0
	for i, g := range h.ghi {
		if g > 0 && h.height[i] < -1 && h.height[i+1] < -1 {
			t.hit(i, g)
			sum += g
		}
	}
	if t.most < 5 && sum < 100*float64(h.n)/8760 || t.n == 0 {
		return Flaw{}, false
	}
	return Flaw{Kind: NightLight, Hours: t.n, Msg: fmt.Sprintf(
		"light at night: %d hours have light with the sun below -1 deg, %.3g kWh/m2 in all, up to %.0f W/m2 (%s)", t.n, sum/1000, t.most, h.when(t.at))}, true
}

// aboveSun counts hours with more light than the sun gives outside the air: 1 in 1000 is let pass, for sunrise hours and
// rounding (the clean files have 1 in 4000 at most).
func (h *hours) aboveSun() (Flaw, bool) {
	var t tally
	day := 0
	for i, g := range h.ghi {
		if !h.high(i, 5) {
			continue
		}
		day++
		if g > h.outside[i]*1.01+1 {
			t.hit(i, g/h.outside[i])
		}
	}
	if t.n <= max(3, day/1000) {
		return Flaw{}, false
	}
	return Flaw{Kind: AboveSun, Hours: t.n, Unfit: t.n > day/5, Msg: fmt.Sprintf(
		"global light above the sun outside the air in %d of %d hours with the sun above 5 deg, at worst %.3g times as much (%s)", t.n, day, t.most, h.when(t.at))}, true
}

// aboveClearSky counts hours more than 15 % + 30 W/m2 above the clear sky. Clouds beside the sun and hours of very clear
// air do that now and then; the clean files in up to 1.0 % of the hours, so it is told above 3 %.
func (h *hours) aboveClearSky() (Flaw, bool) {
	var t tally
	day := 0
	for i, g := range h.ghi {
		if !h.high(i, 5) {
			continue
		}
		day++
		if g > 1.15*h.clear[i]+30 {
			t.hit(i, g/h.clear[i])
		}
	}
	if float64(t.n) <= 0.03*float64(day) || t.n < 5 {
		return Flaw{}, false
	}
	return Flaw{Kind: AboveClearSky, Hours: t.n, Msg: fmt.Sprintf(
		"global light above that of a clear sky by more than 15 %% in %d of %d hours with the sun above 5 deg, from %s on: a sensor that reads high, a wrong unit or a wrong clock",
		t.n, day, h.when(t.first))}, true
}

// diffuseAbove counts diffuse light above global by more than 5 % + 10 W/m2, told above 2 in 1000.
func (h *hours) diffuseAbove() (Flaw, bool) {
	if h.dhi == nil {
		return Flaw{}, false
	}
	var t tally
	day := 0
	for i, d := range h.dhi {
		if h.outside[i] > 0 {
			day++
		}
		if d > 1.05*h.ghi[i]+10 {
			t.hit(i, d-h.ghi[i])
		}
	}
	if t.n <= max(3, day/500) {
		return Flaw{}, false
	}
	return Flaw{Kind: DiffuseAbove, Hours: t.n, Msg: fmt.Sprintf(
		"diffuse light above global light in %d of %d hours of day, by up to %.0f W/m2 (%s)", t.n, day, t.most, h.when(t.at))}, true
}

// unclosed counts hours where beam x sin(height) + diffuse misses global by more than 15 % + 20 W/m2; the clean files in
// up to 1.5 %, so it is told above 3 %.
func (h *hours) unclosed() (Flaw, bool) {
	if h.dni == nil {
		return Flaw{}, false
	}
	var t tally
	day := 0
	for i, g := range h.ghi {
		if !h.high(i, 5) {
			continue
		}
		day++
		if miss := math.Abs(h.dni[i]*h.cosZ(i) + h.dhi[i] - g); miss > 0.15*g+20 {
			t.hit(i, miss)
		}
	}
	if float64(t.n) <= 0.03*float64(day) || t.n < 5 {
		return Flaw{}, false
	}
	return Flaw{Kind: Unclosed, Hours: t.n, Msg: fmt.Sprintf(
		"beam x sin(height) + diffuse misses the global light by more than 15 %% in %d of %d hours with the sun above 5 deg, by up to %.0f W/m2 (%s)",
		t.n, day, t.most, h.when(t.at))}, true
}

// dead looks for a sensor that gives nothing for 4 hours of day or more with the sun above 6 deg (the clean files: 1 hour;
// the two off their clock: 2), or the same light for 6 (clean: 3), or the same temperature for 36 (clean: 18).
func (h *hours) dead() (Flaw, bool) {
	var none, stuck, cold tally
	runs := func(t *tally, least int, same func(i int) bool) {
		for i := 0; i < h.n; i++ {
			from := i
			for i < h.n && same(i) {
				i++
			}
			if i-from < least {
				continue
			}
			if t.n == 0 {
				t.first = from
			}
			t.n += i - from
			if i-from > t.until-t.from {
				t.from, t.until = from, i
			}
		}
	}
	runs(&none, 4, func(i int) bool {
		return h.high(i, 6) && h.ghi[i] <= max(1, 0.005*h.clear[i])
	})
	// A run starts at its second value; the first is added by the count.
	runs(&stuck, 5, func(i int) bool {
		return i > 0 && h.high(i, 6) && h.ghi[i] > max(1, 0.005*h.clear[i]) && h.ghi[i] == h.ghi[i-1]
	})
	runs(&cold, 35, func(i int) bool { return i > 0 && h.temp[i] == h.temp[i-1] })
	if cold.until-cold.from == h.n-1 { // no readings at all: the reader has said so
		cold = tally{}
	}
	var said []string
	if none.n > 0 {
		said = append(said, fmt.Sprintf("no light for 4 h or longer by day, %d hours in all, longest %s to %s", none.n, h.when(none.from), h.when(none.until)))
	}
	if stuck.n > 0 {
		said = append(said, fmt.Sprintf("the same light (%.4g W/m2, for one) for 6 h or longer, %d hours in all, from %s on", h.ghi[stuck.from], stuck.n, h.when(stuck.first)))
	}
	if cold.n > 0 {
		said = append(said, fmt.Sprintf("the same temperature (%.3g C, for one) for 36 h or longer, %d hours in all, from %s on", h.temp[cold.from], cold.n, h.when(cold.first)))
	}
	if said == nil {
		return Flaw{}, false
	}
	return Flaw{Kind: DeadSensor, Hours: none.n + stuck.n + cold.n, Unfit: none.n+stuck.n > h.n/20, Msg: "a dead sensor: " + strings.Join(said, "; ")}, true
}
