package sim_test

// A year of minutes beside its own hourly means: what a run on hourly weather and hourly loads hides. sim/doc.go tells the
// numbers, under "What hourly data hide"; the tests here print them and hold the bounds that follow from a law.

import (
	"fmt"
	"maps"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"gonum.org/v1/gonum/stat"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/clock"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/ledger"
	"tideover/weather"
	"tideover/weather/climate"
	"tideover/weather/sun"
)

// The minutes of an hour. The published part is how much the light differs within an hour of a given light; the rest is
// plain: such an hour is even, or it is patchy, with the sun out or covered.
const (
	// Covered: a full cloud keeps a quarter of a clear sky's light, whatever the height of the sun. F. Kasten, G. Czeplak,
	// Solar Energy 24, 177-189 (1980).
	coveredShare = 0.25
	// A minute of sun beside a cloud is brighter than a clear sky, by what the cloud's flank throws in: a guess.
	besideCloud = 1.15
	// Covered stretches follow a power law of cloud lengths: R. Wood, P. R. Field, J. Climate 24, 4800-4816 (2011), exponent
	// 1.66, from memory; with clouds that move at about 10 m/s, a guess, a minute is 0.6 km.
	cloudExponent = 1.66
)

// clearWm2 is the light of a clear sky on the level: B. Haurwitz, J. Meteorology 2, 154-166 (1945).
func clearWm2(cosZenith float64) float64 {
	if cosZenith <= 0 {
		return 0
	}
	return 1098 * cosZenith * math.Exp(-0.059/cosZenith)
}

// withinHourSD is the standard deviation of the light within an hour over that of a clear sky, where the hour's mean is g of a
// clear sky and differs from the hours beside it by sd3, root mean square: A. Skartveit, J. A. Olseth, Solar Energy 49(6),
// 477-487 (1992), for means of 5 minutes, from memory.
func withinHourSD(g, sd3 float64) float64 {
	return 0.87*g*g*(1-g) + 0.39*math.Sqrt(g)*sd3
}

// ofClear returns the light of an hour over that of a clear sky, or NaN where the sun is too low to tell.
func ofClear(ghiWm2 float64, clear []float64) float64 {
	mean := 0.0
	for _, c := range clear {
		mean += c / float64(len(clear))
	}
	if mean < 20 {
		return math.NaN()
	}
	return ghiWm2 / mean
}

// clouds is a year of minutes and what it was made from.
type clouds struct {
	*weather.Year
	clear  []float64 // of a clear sky, each minute, W/m2
	g, sd3 []float64 // of each hour, see withinHourSD; NaN: sun too low
	patchy []bool    // of each hour
}

// inMinutes makes the minutes of an hourly year. Each hour keeps its mean. With every, each hour that can be is patchy.
func inMinutes(y *weather.Year, every bool) clouds {
	c := clouds{Year: y.Refine(1)}
	c.clear = make([]float64, c.Len())
	for i, s := range c.Track {
		c.clear[i] = clearWm2(s.CosZenith) * s.LitShare
	}
	n := y.Len()
	c.g, c.sd3, c.patchy = make([]float64, n), make([]float64, n), make([]bool, n)
	for h, ghi := range y.GHIWm2 {
		c.g[h] = ofClear(ghi, c.clear[60*h:60*h+60])
	}
	lot := rand.New(rand.NewPCG(1, 0x6d696e757465))
	for h, g := range c.g {
		var sum, many float64
		for _, k := range []int{h - 1, h + 1} {
			if k >= 0 && k < n && !math.IsNaN(c.g[k]) {
				sum += (g - c.g[k]) * (g - c.g[k])
				many++
			}
		}
		if many > 0 {
			c.sd3[h] = math.Sqrt(sum / many)
		}
		if !(g > coveredShare && g < 1) {
			continue
		}
		// A quantity that is 1 or coveredShare and has the mean g has this standard deviation; patchy hours are as many as
		// make the published one on average.
		patchySD := math.Sqrt((1 - g) * (g - coveredShare))
		if lot.Float64()*patchySD < withinHourSD(g, c.sd3[h]) || every {
			c.patchy[h] = patch(c.GHIWm2[60*h:60*h+60], c.clear[60*h:60*h+60], g, lot)
		}
	}
	return c
}

// patch spreads the light of an hour over sunlit and covered minutes, and reports whether it could.
func patch(ghi, clear []float64, g float64, lot *rand.Rand) bool {
	var sum float64
	for _, w := range ghi {
		sum += w
	}
	sunlit := int(math.Round(60 * (g - coveredShare) / (1 - coveredShare)))
	for sunlit = min(sunlit, 59); sunlit > 0; sunlit-- {
		out := sunOut(sunlit, lot)
		var inSun, inShade float64
		light := make([]float64, len(ghi))
		for i, c := range clear {
			if !out[i] {
				inShade += c
				continue
			}
			light[i] = c
			if i > 0 && !out[i-1] || i+1 < len(out) && !out[i+1] {
				light[i] = besideCloud * c
			}
			inSun += light[i]
		}
		keeps := (sum - inSun) / inShade // what makes the mean that of the hour
		if !(keeps >= 0.1) {
			continue // the clouds come out too dark: a minute less of sun
		}
		for i, c := range clear {
			if !out[i] {
				light[i] = keeps * c
			}
		}
		copy(ghi, light)
		return true
	}
	return false
}

// sunOut returns which minutes of an hour are sunlit: the covered ones in runs by the power law, the others strewn between.
func sunOut(sunlit int, lot *rand.Rand) []bool {
	var runs []int
	for left := 60 - sunlit; left > 0; {
		// The inverse of the power law between 1 and 60 minutes.
		const e = 1 - cloudExponent
		least := math.Pow(60, e)
		run := int(math.Pow(least+lot.Float64()*(1-least), 1/e))
		run = max(1, min(run, left))
		runs = append(runs, run)
		left -= run
	}
	gaps := make([]int, len(runs)+1)
	for range sunlit {
		gaps[lot.IntN(len(gaps))]++
	}
	out := make([]bool, 0, 60)
	for k, gap := range gaps {
		out = append(out, slices.Repeat([]bool{true}, gap)...)
		if k < len(runs) {
			out = append(out, make([]bool, runs[k])...)
		}
	}
	return out
}

// minuteLoad is a load of minutes that repeat every year.
func minuteLoad(name string, bus loads.Bus, seed uint64, fill func(day []float64, lot *rand.Rand)) loads.Load {
	l := loads.New(loads.Profile)
	l.Name, l.Bus = name, bus
	l.Measured = &loads.Series{StepMin: 1, PowerW: make([]float64, 365*1440)}
	lot := rand.New(rand.NewPCG(seed, 0x6c6f6164))
	for d := range 365 {
		fill(l.Measured.PowerW[1440*d:1440*d+1440], lot)
	}
	return l
}

func on(day []float64, at, minutes int, powerW float64) {
	for i := at; i < min(at+minutes, len(day)); i++ {
		day[i] = powerW
	}
}

// compressor runs for 12 minutes and rests for 20 to 40.
func compressor(name string, bus loads.Bus, powerW float64) loads.Load {
	return minuteLoad(name, bus, 2, func(day []float64, lot *rand.Rand) {
		for at := lot.IntN(40); at < len(day); at += 32 + lot.IntN(21) {
			on(day, at, 12, powerW)
		}
	})
}

// doorLamp is lit five times a night for three minutes; some of the times come in bursts.
func doorLamp(name string, bus loads.Bus, powerW float64) loads.Load {
	return minuteLoad(name, bus, 3, func(day []float64, lot *rand.Rand) {
		at := 0
		for k := range 5 {
			if k == 0 || lot.IntN(2) == 0 {
				at = (18*60 + lot.IntN(12*60)) % 1440
			}
			on(day, at, 3, powerW)
			at = min(at+4, 1437)
		}
	})
}

// kettle boils at moments drawn by lot from nine to four.
func kettle(usesPerDay, powerW float64) loads.Load {
	l := loads.New(loads.RandomUses)
	l.Name, l.Bus, l.PowerW, l.UsesPerDay, l.MinutesPerUse = "kettle", loads.AC, powerW, usesPerDay, 4
	l.Class = loads.Resistive
	l.When.Hours = []clock.Span{{From: 9 * 60, To: 16 * 60}}
	return l
}

// store is a lithium bank behind a controller that tracks and does not clip: trail-store, with a kettle.
func store(t *testing.T) *sim.System {
	sys, _ := shipped(t, "trail-store")
	for k := range sys.Loads {
		if sys.Loads[k].Kind == loads.MotionLight {
			sys.Loads[k].VisitsPerNight = 0 // its sensor is left
		}
	}
	sys.Loads = append(sys.Loads, doorLamp("door lamp lit", loads.AC, 14), kettle(1, 700))
	return sys
}

// small is a bank of one day behind a controller that clips in every bright hour.
func small(t *testing.T) *sim.System {
	sys, _ := shipped(t, "trail-store")
	sys.Array.InParallel = 4
	sys.Controller.MaxInputW = 400
	sys.Controller.MaxCurrentA = 40
	sys.Bank.CapacityAh, sys.Bank.MaxChargeA = 60, 60
	sys.Inverter.Mode, sys.Inverter.RatedW = inverter.OnDemand, 800
	sys.Loads = []loads.Load{compressor("cool box", loads.DC, 60), kettle(2, 500), doorLamp("door lamp", loads.DC, 14)}
	return sys
}

// barn is a lead-acid bank behind a controller that switches: ewe-barn without its engine.
func barn(t *testing.T) *sim.System {
	sys, _ := shipped(t, "ewe-barn")
	c := controller.New(controller.PWM)
	c.MaxCurrentA, c.MaxInputV, c.OwnDrawW = 20, 100, 0.5
	sys.Controller, sys.Backup = c, nil
	for k := range sys.Loads {
		if l := &sys.Loads[k]; l.Name == "milk warmer" {
			when := l.When
			when.Hours = nil
			*l = minuteLoad("milk warmer", loads.AC, 4, func(day []float64, lot *rand.Rand) {
				for _, hour := range []int{6, 12, 18} {
					on(day, 60*hour+lot.IntN(52), 8, 700)
				}
			})
			l.When = when
		}
	}
	return sys
}

// beamOf is an hourly year whose beam and diffuse light are the means of the minutes of p.
func beamOf(y *weather.Year, p *sim.Prepared) *weather.Year {
	out := *y
	_, dhi := p.Parted()
	out.DNIWm2, out.DHIWm2 = make([]float64, y.Len()), make([]float64, y.Len())
	for h, s := range y.Sun() {
		var sum float64
		for _, w := range dhi[60*h : 60*h+60] {
			sum += w / 60
		}
		out.DHIWm2[h] = min(sum, y.GHIWm2[h])
		if s.CosZenith > 0 && s.LitShare > 0 {
			out.DNIWm2[h] = min((y.GHIWm2[h]-out.DHIWm2[h])/s.CosZenith, sun.SolarConstantWm2*s.DistanceFactor*s.LitShare)
		}
		out.DHIWm2[h] = y.GHIWm2[h] - out.DNIWm2[h]*s.CosZenith
		if !(out.DHIWm2[h] >= 0) {
			out.DNIWm2[h], out.DHIWm2[h] = 0, y.GHIWm2[h]
		}
	}
	return &out
}

// told is what a run says of a system.
type told struct {
	*ledger.Run
	name    string
	overH   float64 // hours of steps in which what may be on at once is over the inverter's rating
	fullD   int     // lead, with hours kept: days on which the bank came to 98 %
	absorbH float64 // the same: hours of steps in which its mean voltage was that of absorption
	inputs  *sim.Prepared
}

func tell(t *testing.T, name string, sys *sim.System, y *weather.Year, hours bool) told {
	t.Helper()
	p := sim.Prepare(sys, y)
	r, err := p.Run(hours)
	if err != nil {
		t.Fatal(err)
	}
	out := told{Run: r, name: name, inputs: p}
	stepH := p.Wants().StepH
	for _, over := range p.Trips() {
		if over {
			out.overH += stepH
		}
	}
	if hours {
		chargeV, last := p.ChargeV(), -1
		for i, soc := range r.Hours.SOC {
			if day := r.Hours.End[i].YearDay(); soc >= 0.98 && day != last {
				out.fullD, last = out.fullD+1, day
			}
			if r.Hours.BatteryV[i] >= 0.998*chargeV[i] {
				out.absorbH += stepH
			}
		}
		r.Hours = nil
	}
	return out
}

func (r *told) String() string {
	f, a := &r.Total, &r.Answer
	s := r.name + ":"
	for _, k := range []ledger.Flow{ledger.Array, ledger.Clipped, ledger.Curtailed, ledger.Drawn, ledger.BatteryIn, ledger.BatteryOut, ledger.BatteryLoss,
		ledger.InverterIdle, ledger.InverterLoss, ledger.Demand, ledger.Unserved} {
		s += fmt.Sprintf(" %v %.2f,", k, f[k]/1000)
	}
	s += fmt.Sprintf(" kWh; light %.1f; %d days without power, lowest %.1f %%, %d cuts, over the rating %.1f h",
		r.SunlightWh/1000, a.DaysWithoutPower, 100*a.LowestSOC, r.Cuts, r.overH)
	if r.fullD > 0 {
		s += fmt.Sprintf(", full on %d days, absorbing %.0f h", r.fullD, r.absorbH)
	}
	return s
}

// TestMinuteYear runs minutes of sun and loads beside their hourly means, on two climates: it tells what differs, and holds
// what must.
func TestMinuteYear(t *testing.T) {
	t.Parallel()
	for _, at := range []struct {
		name      string
		sunshineH float64 // published, a year
		systems   map[string]func(*testing.T) *sim.System
	}{
		// Royal Netherlands Meteorological Institute, normals 1991-2020, from memory.
		{"De Bilt", 1774, map[string]func(*testing.T) *sim.System{"store": store, "small": small, "barn": barn}},
		// US national climatic data, 1961-1990, from memory.
		{"Las Vegas NV", 3825, map[string]func(*testing.T) *sim.System{"store": store, "small": small}},
	} {
		place, err := climate.Find(at.name)
		if err != nil {
			t.Fatal(err)
		}
		zone, err := time.LoadLocation(place.Zone)
		if err != nil {
			t.Fatal(err)
		}
		y := climate.New(place, climate.Options{}).Year(2025, 1, 0)
		c := inMinutes(y, false)
		t.Run(at.name+"/sky", func(t *testing.T) { skyOfMinutes(t, y, &c, at.sunshineH) })
		for _, name := range slices.Sorted(maps.Keys(at.systems)) {
			sys := at.systems[name](t)
			sys.Zone, sys.StepMin, sys.Bank.StartSOC = zone, 0, 1
			t.Run(at.name+"/"+name, func(t *testing.T) {
				hours := name == "barn"
				minute := tell(t, "minutes", sys, c.Year, hours)
				asked(t, minute.inputs, sim.Prepare(sys, y))
				runs := []told{minute, tell(t, "hours of the same beam", sys, beamOf(y, minute.inputs), hours), tell(t, "hours", sys, y, hours)}
				worked(t, &runs[0], runs[1:])
				if sys.Controller.MaxInputW > 0 {
					clips(t, &runs[0], runs[1:], sys.Controller.MaxInputW)
				}
				for i := range runs {
					t.Log(&runs[i])
					runs[i].inputs = nil // they are large
				}
				if name == "small" && at.name == "De Bilt" {
					sys.StepMin = 1
					cure := tell(t, "hours of weather, step_min 1", sys, y, false)
					cure.inputs = nil
					curesNot(t, &runs[0], &runs[2], &cure)
					most := tell(t, "minutes, every hour patchy", sys, inMinutes(y, true).Year, false)
					t.Log(&cure)
					t.Log(&most)
				}
			})
		}
	}
}

// skyOfMinutes holds the minutes against their hours and against what is published.
func skyOfMinutes(t *testing.T, y *weather.Year, c *clouds, publishedH float64) {
	if err := c.Check(); err != nil {
		t.Fatal(err)
	}
	for h, want := range y.GHIWm2 { // rounding of 60 sums
		var sum float64
		for _, w := range c.GHIWm2[60*h : 60*h+60] {
			sum += w
		}
		if math.Abs(sum/60-want) > 1e-9*(1+want) {
			t.Fatalf("hour %d: its minutes have a mean of %v W/m2, it has %v", h, sum/60, want)
		}
	}

	// No minute is above the limit of extremely rare minutes of global light: C. N. Long, E. G. Dutton, BSRN recommended QC
	// tests (2002), 1.2 S cos(z)^1.2 + 50 W/m2, from memory. [M]
	var highest, highestOfClear float64
	for i, s := range c.Track {
		limit := 50 + 1.2*sun.SolarConstantWm2*s.DistanceFactor*math.Pow(max(0, s.CosZenith), 1.2)
		if w := c.GHIWm2[i]; w > limit {
			t.Fatalf("minute %d: %.0f W/m2, and more than %.0f is extremely rare", i, w, limit)
		}
		highest = max(highest, c.GHIWm2[i])
		if c.patchy[i/60] && c.clear[i] > 50 {
			highestOfClear = max(highestOfClear, c.GHIWm2[i]/c.clear[i])
		}
	}

	// How much the light differs within an hour, against withinHourSD [M]. What is remembered of it is that it holds for means
	// of five minutes. The patchy hours were made as many as fit it without brighter rims and without five minutes taken
	// together; the one adds to the spread and the other takes from it, so it must lie between that of minutes and that of
	// five, and be within 30 % of both: runs of cloud of 6 minutes on average are about as long as the five.
	var hours, patchy, minutes, fives, published float64
	for h, g := range c.g {
		clear := c.clear[60*h : 60*h+60]
		if !(g >= 0.4 && g < 0.95) || slices.Min(clear) < 50 {
			continue
		}
		var one, five []float64
		for i, w := range c.GHIWm2[60*h : 60*h+60] {
			one = append(one, w/clear[i])
			if i%5 == 4 {
				five = append(five, stat.Mean(one[i-4:i+1], nil))
			}
		}
		hours++
		minutes += stat.PopStdDev(one, nil)
		fives += stat.PopStdDev(five, nil)
		published += withinHourSD(g, c.sd3[h])
		if c.patchy[h] {
			patchy++
		}
	}
	t.Logf("hours of 0.4 to 0.95 of a clear sky: %.0f, %.0f %% patchy; spread of their minutes %.3f, of five minutes %.3f, published %.3f; highest minute %.0f W/m2, of a patchy hour %.2f of clear",
		hours, 100*patchy/hours, minutes/hours, fives/hours, published/hours, highest, highestOfClear)
	if !(fives <= published && published <= minutes && minutes < 1.3*published && fives > 0.7*published) {
		t.Errorf("spread within the hour: minutes %.3f, five minutes %.3f, published %.3f", minutes/hours, fives/hours, published/hours)
	}

	// Hours of sunshine a year, counted from global light by the rule of the meteorologists' guide: the sun is out in a minute
	// above F 1080 sin(height)^1.25 W/m2, F = 0.73 + 0.06 cos(2 pi day/365), above 3 degrees; from memory. [M] By that rule
	// good stations are told to be right within about 5 %, single years differ from normals by 10 % and more. It is no sharp
	// test of the minutes, as the hours themselves count nearly the same.
	count := func(ghi []float64, track []sun.Step, perH int) (h float64) {
		for i, s := range track {
			f := 0.73 + 0.06*math.Cos(2*math.Pi*float64(i/(24*perH))/365)
			if s.CosZenith > math.Sin(3*math.Pi/180) && ghi[i] > f*1080*math.Pow(s.CosZenith, 1.25) {
				h += 1 / float64(perH)
			}
		}
		return h
	}
	byMinute, byHour := count(c.GHIWm2, c.Track, 60), count(y.GHIWm2, y.Sun(), 1)
	t.Logf("sunshine: %.0f h by minutes, %.0f h by hours, published %.0f h", byMinute, byHour, publishedH)
	if math.Abs(byMinute/publishedH-1) > 0.15 {
		t.Errorf("sunshine: %.0f h by minutes, published %.0f h", byMinute, publishedH)
	}
}

// asked holds the loads of minutes against those of hours.
func asked(t *testing.T, minute, hour *sim.Prepared) {
	t.Helper()
	m, h := minute.Wants(), hour.Wants()
	for k, want := range h.ACW {
		var ac, dc float64
		for i := 60 * k; i < 60*k+60; i++ {
			ac += m.ACW[i] / 60
			dc += m.DCW[i] / 60
		}
		// Dusk moves by a second between a sun of the hour and one of the minute.
		if math.Abs(ac-want) > 0.02 || math.Abs(dc-h.DCW[k]) > 0.02 {
			t.Fatalf("hour %d asks %.4f W AC and %.4f W DC, its minutes %.4f and %.4f", k, want, h.DCW[k], ac, dc)
		}
	}
	// What coincides in a minute may coincide in its hour.
	hours := hour.Trips()
	for i, over := range minute.Trips() {
		if over && !hours[i/60] {
			t.Fatalf("minute %d is over the inverter's rating, its hour is not", i)
		}
	}
}

// worked holds that minutes work a battery harder: what goes in is the mean of max(0, net power), which is convex, so by
// Jensen's inequality it is at least that of the hour's mean. The inequality holds for one and the same net power; what
// differs besides (the array's power by 3 %, what is served) is left out by comparing with what is served.
func worked(t *testing.T, minute *told, hours []told) {
	t.Helper()
	per := func(r *told) float64 { return r.Total[ledger.BatteryIn] / r.Total[ledger.Served] }
	for i := range hours {
		if !(per(minute) > per(&hours[i])) {
			t.Errorf("%s: %.3f Wh into the battery for each served, minutes have %.3f", hours[i].name, per(&hours[i]), per(minute))
		}
	}
}

// clips holds that hours hide clipping. What passes is min(power, rating), which is concave, so by Jensen's inequality
// minutes lose at least what the hourly means of the same power would lose.
func clips(t *testing.T, minute *told, hours []told, ratingW float64) {
	t.Helper()
	found, over := minute.inputs.Input()
	var minuteWh, meanWh float64
	for i := 0; i < len(found); i += 60 {
		var sum, lost float64
		for k := i; k < i+60; k++ {
			sum += found[k] / 60
			lost += over[k] / 60
		}
		least := max(0, sum-ratingW)
		if lost < least-1e-9*(1+least) {
			t.Fatalf("hour %d loses %.3f Wh over the rating, its mean power alone %.3f", i/60, lost, least)
		}
		minuteWh += lost
		meanWh += least
	}
	t.Logf("over the input's rating: %.1f kWh by minutes, %.1f by the hourly means of the same power", minuteWh/1000, meanWh/1000)
	share := func(r *told) float64 { return r.Total[ledger.Clipped] / r.Total[ledger.Array] }
	for i := range hours {
		if !(share(minute) > share(&hours[i])) {
			t.Errorf("%s: %.4f of the array's energy is clipped, by minutes %.4f", hours[i].name, share(&hours[i]), share(minute))
		}
	}
}

// curesNot holds that shorter steps alone don't bring the minutes of the sun back: within the hour the light then follows the
// height of the sun, which at most moves a tenth of what clouds do. The minutes of the loads they do bring, so the battery
// is worked harder than by hours.
func curesNot(t *testing.T, minute, hour, cure *told) {
	t.Helper()
	m, h, c := &minute.Total, &hour.Total, &cure.Total
	if back := (c[ledger.Clipped] - h[ledger.Clipped]) / (m[ledger.Clipped] - h[ledger.Clipped]); back > 0.1 {
		t.Errorf("%.2f of the clipping that hours hide comes back with short steps", back)
	}
	if c[ledger.BatteryIn] < h[ledger.BatteryIn] {
		t.Errorf("%.0f Wh into the battery with short steps, %.0f with hours", c[ledger.BatteryIn], h[ledger.BatteryIn])
	}
}
