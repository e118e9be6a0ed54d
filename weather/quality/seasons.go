package quality

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"gonum.org/v1/gonum/stat"
)

// monthSums adds hourly values up by calendar month, and counts the hours.
func (h *hours) monthSums(values []float64) (sum [13]float64, n [13]int) {
	for i, v := range values {
		m := h.at(i).Month()
		sum[m] += v
		n[m]++
	}
	return sum, n
}

// allMonths reports whether every calendar month has 20 days or more.
func allMonths(n [13]int) bool { return slices.Min(n[1:]) >= 480 }

// The halves of the year.
func isSummer(m time.Month, latDeg float64) bool {
	return (m >= time.April && m <= time.September) == (latDeg >= 0)
}

// season looks for a winter with more light than the summer, from 30 degrees of latitude on, where the sun outside the
// air gives at least 1.6 times as much in the summer half.
func (h *hours) season() (Flaw, bool) {
	sum, n := h.monthSums(h.ghi)
	if math.Abs(h.site.LatDeg) < 30 || !allMonths(n) {
		return Flaw{}, false
	}
	var summer, winter float64
	for m := time.January; m <= time.December; m++ {
		daily := sum[m] / float64(n[m]) * 24 / 1000 / 6
		if isSummer(m, h.site.LatDeg) {
			summer += daily
		} else {
			winter += daily
		}
	}
	if winter < summer {
		return Flaw{}, false
	}
	return Flaw{Kind: Season, Unfit: true, Msg: fmt.Sprintf(
		"a year that cannot be: the winter half has more light than the summer half (%.2f and %.2f kWh/m2 a day) at latitude %.4g: a wrong sign of the latitude, or months in the wrong order",
		winter, summer, h.site.LatDeg)}, true
}

// level compares the light of the file with the sun outside the air. Yearly means of 0.28 to 0.75 are known; a month of
// the clearest deserts and ice caps reaches 0.85.
func (h *hours) level() (Flaw, bool) {
	var got, most float64
	var month, monthMost [13]float64
	for i, g := range h.ghi {
		got += g
		most += h.outside[i]
		m := h.at(i).Month()
		month[m] += g
		monthMost[m] += h.outside[i]
	}
	if most < 1000 {
		return Flaw{}, false
	}
	share := got / most
	if share > 0.82 || h.n >= 8000 && share < 0.2 {
		hint := ""
		switch {
		case share > 1.6 && share < 3:
			hint = ": kJ/m2 read as Wh/m2 would be 3.6 times too much"
		case share < 0.2:
			hint = ": a wrong unit makes that, as Wh/m2 for kJ/m2"
		}
		return Flaw{Kind: Level, Unfit: true, Msg: fmt.Sprintf("the light of the whole file is %.2g of that outside the air; real years lie between 0.25 and 0.8%s", share, hint)}, true
	}
	var high []string
	for m := 1; m <= 12; m++ {
		if monthMost[m] > 1000*25 && month[m] > 0.87*monthMost[m] {
			high = append(high, fmt.Sprintf("%s %.2f", time.Month(m), month[m]/monthMost[m]))
		}
	}
	if high == nil {
		return Flaw{}, false
	}
	return Flaw{Kind: Level, Msg: "too much light for a whole month, as a share of that outside the air (0.85 is the clearest known): " + strings.Join(high, ", ")}, true
}

// drifting follows the clearest days, as shares of the clear sky: they should be as clear at the end as at the beginning.
//
// Over whole years, it compares the days that only one in twenty of the year's summer half passes: a trend of more than
// 12 % over the file, or a step of more than 15 % from year to year, is told (ten years of a Dutch station: under 5 %).
// Within one year, it compares months in which the sun stands as high (January with November, February with October, and
// so on): a trend of more than 25 % a year is told (clean files: up to 12 %, where a rainy season dims one half).
func (h *hours) drifting(clockOff bool) (Flaw, bool) {
	if clockOff {
		return Flaw{}, false
	}
	type month struct {
		year int
		time.Month
	}
	clearness := map[month][]float64{}
	first := 24 - h.start.Hour()
	if first == 24 {
		first = 0
	}
	for i := first; i+24 <= h.n; i += 24 {
		var got, clear float64
		for j := i; j < i+24; j++ {
			got += h.ghi[j]
			clear += h.clear[j]
		}
		if clear > 300 {
			t := h.at(i)
			k := month{t.Year(), t.Month()}
			clearness[k] = append(clearness[k], got/clear)
		}
	}
	var x, y []float64
	for year := h.start.Year(); year <= h.at(h.n-1).Year(); year++ {
		var days []float64
		for m := time.January; m <= time.December; m++ {
			if isSummer(m, h.site.LatDeg) {
				days = append(days, clearness[month{year, m}]...)
			}
		}
		if len(days) > 150 {
			slices.Sort(days)
			x, y = append(x, float64(year)), append(y, stat.Quantile(0.95, stat.Empirical, days, nil))
		}
	}
	if len(x) >= 2 {
		for i := 1; i < len(y); i++ {
			if step := y[i]/y[i-1] - 1; math.Abs(step) > 0.15 {
				return Flaw{Kind: DriftingSensor, Msg: fmt.Sprintf("a drifting sensor: the clearest summer days of %.0f have %+.0f %% of the light of those of %.0f", x[i], 100*step, x[i-1])}, true
			}
		}
		if len(x) >= 3 {
			a, b := stat.LinearRegression(x, y, nil, false)
			from, to := a+b*x[0], a+b*x[len(x)-1]
			if change := to/from - 1; math.Abs(change) > 0.12 {
				return Flaw{Kind: DriftingSensor, Msg: fmt.Sprintf("a drifting sensor: the clearest summer days change by %+.0f %% from %.0f to %.0f", 100*change, x[0], x[len(x)-1])}, true
			}
		}
		return Flaw{}, false
	}
	// One year: pairs of months around midsummer.
	year := h.start.Year()
	clearest := func(m time.Month) float64 {
		days := clearness[month{year, m}]
		if len(days) < 20 {
			return math.NaN()
		}
		slices.Sort(days)
		return days[len(days)-3]
	}
	var up, down float64
	for _, p := range [][2]time.Month{{1, 11}, {2, 10}, {3, 9}, {4, 8}, {5, 7}} {
		lag := float64(p[1] - p[0])
		up += lag * math.Log(clearest(p[1])/clearest(p[0]))
		down += lag * lag
	}
	rate := math.Exp(12*up/down) - 1
	if math.IsNaN(rate) || math.Abs(rate) <= 0.25 {
		return Flaw{}, false
	}
	return Flaw{Kind: DriftingSensor, Msg: fmt.Sprintf(
		"a drifting sensor: the clearest days change by %+.0f %% over the year, where months with the same height of the sun are compared", 100*rate)}, true
}

// temperatures looks for what does not occur. The highest and lowest readings on record are 56.7 and -89.2 degC, the
// highest yearly mean 34.6 (Dallol). Within 20 degrees of the equator it does not freeze below 500 m.
func (h *hours) temperatures() []Flaw {
	var flaws []Flaw
	var frost, hot, cold, jump tally
	for i, c := range h.temp {
		if c < 0 {
			frost.hit(i, -c)
		}
		if c > 57 {
			hot.hit(i, c)
		}
		if c < -75 && !(h.site.LatDeg < -60) { // -67.7 outside the Antarctic
			cold.hit(i, -c)
		}
		if i > 0 && math.Abs(c-h.temp[i-1]) > 25 {
			jump.hit(i, math.Abs(c-h.temp[i-1]))
		}
	}
	sum, n := h.monthSums(h.temp)
	if mean := stat.Mean(h.temp, nil); mean > 35 && allMonths(n) {
		flaws = append(flaws, Flaw{Kind: Temperature, Unfit: true, Msg: fmt.Sprintf(
			"absurd temperatures: a mean of %.1f C over the year, more than anywhere (34.6): they may be degrees Fahrenheit", mean)})
	}
	if frost.n > 0 && math.Abs(h.site.LatDeg) < 20 && h.site.ElevationM < 500 {
		flaws = append(flaws, Flaw{Kind: Temperature, Hours: frost.n, Unfit: frost.n > 48, Msg: fmt.Sprintf(
			"absurd temperatures: %d hours of frost at latitude %.4g and %.0f m, down to %.1f C (%s)", frost.n, h.site.LatDeg, h.site.ElevationM, -frost.most, h.when(frost.at))})
	}
	if hot.n > 0 {
		flaws = append(flaws, Flaw{Kind: Temperature, Hours: hot.n, Msg: fmt.Sprintf(
			"absurd temperatures: %d hours above 57 C, up to %.1f C (%s)", hot.n, hot.most, h.when(hot.at))})
	}
	if cold.n > 0 {
		flaws = append(flaws, Flaw{Kind: Temperature, Hours: cold.n, Msg: fmt.Sprintf(
			"absurd temperatures: %d hours below -75 C, down to %.1f C (%s)", cold.n, -cold.most, h.when(cold.at))})
	}
	if jump.n > 0 {
		flaws = append(flaws, Flaw{Kind: Temperature, Hours: jump.n, Msg: fmt.Sprintf(
			"absurd temperatures: %d jumps of more than 25 K from hour to hour, up to %.1f K (%s)", jump.n, jump.most, h.when(jump.at))})
	}
	if !allMonths(n) {
		return flaws
	}
	june := (sum[6] + sum[7] + sum[8]) / float64(n[6]+n[7]+n[8])
	december := (sum[12] + sum[1] + sum[2]) / float64(n[12]+n[1]+n[2])
	if summer, winter := max(june, december), min(june, december); math.Abs(h.site.LatDeg) > 35 && summer-winter > 3 && (june > december) != (h.site.LatDeg > 0) {
		flaws = append(flaws, Flaw{Kind: Temperature, Unfit: true, Msg: fmt.Sprintf(
			"absurd temperatures: June to August have a mean of %.1f C and December to February %.1f C at latitude %.4g: the seasons are those of the other half of the earth",
			june, december, h.site.LatDeg)})
	}
	return flaws
}
