package climate

import (
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat"
)

// Cross-checks, not published: our own comparison of generators, worked out by another implementation. It gave the law a
// hard floor at 0.18 of the mean where this package has a ramp; the whole is held to its values with either.

// hardFloor is the shape that the comparison recommended.
func hardFloor(latDeg float64) shape {
	s := shapeAt(latDeg, Options{})
	s.floor, s.ramp = 0.18, 0
	return s
}

// The law of days by exact quadrature: 0.002 in clearness, 0.5 % or 0.01 in l, as stated there.
func TestDayLawCrossCheck(t *testing.T) {
	for _, c := range []struct {
		mean, m, floor, top, l, sd float64
		quantiles                  [7]float64 // 1, 5, 25, 50, 75, 95, 99 %
	}{
		{0.28, 1.00, .0504, .6777, 0.9049, .1529, [7]float64{.0542, .0697, .1498, .2603, .3939, .5568, .6247}},
		{0.28, 0.66, .0504, .6777, -0.2493, .1574, [7]float64{.0540, .0684, .1454, .2564, .3965, .5693, .6364}},
		{0.40, 0.05, .0720, .7354, 0.1214, .1899, [7]float64{.0786, .1048, .2358, .3991, .5633, .6985, .7275}},
		{0.50, 1.50, .0900, .7646, 8.7702, .1476, [7]float64{.1237, .2136, .4053, .5242, .6156, .7005, .7335}},
		{0.50, 4.70, .0900, .7646, 21.4276, .1085, [7]float64{.1917, .2971, .4351, .5144, .5799, .6519, .6886}},
		{0.70, 0.05, .1260, .8182, 8.7478, .1116, [7]float64{.3057, .4705, .6528, .7337, .7821, .8113, .8167}},
	} {
		w := newDayLaw(c.mean, shape{power: c.m, floor: 0.18}, newCells(c.m), 0)
		near(t, "floor", w.floor, c.floor, 0.00006)
		near(t, "top", w.top, c.top, 0.00006)
		near(t, "l", w.stretch, c.l, max(0.01, 0.005*math.Abs(c.l)))
		near(t, "sd", w.sd, c.sd, 0.0005)
		for i, q := range []float64{0.01, 0.05, 0.25, 0.50, 0.75, 0.95, 0.99} {
			near(t, "quantile", w.quantile(q), c.quantiles[i], 0.002)
		}
	}
}

// The product that goes on from cell to cell is the exponential itself.
func TestMomentsAreExact(t *testing.T) {
	for _, m := range []float64{0, 0.05, 0.7, 1, 4.7} {
		c := newCells(m)
		for _, s := range []float64{-1500, -199, -30, 0, 1e-9, 7, 60, 199, 201, 2000} {
			var sum, first, second float64
			for i, v := range c.centre {
				w := c.weight[i] * math.Exp(-s*v-max(0, -s))
				sum += w
				first += w * v
				second += w * v * v
			}
			mean, sd := c.moments(s, nil)
			near(t, "mean", mean, first/sum, 1e-12)
			near(t, "sd", sd, math.Sqrt(max(0, second/sum-first/sum*first/sum)), 1e-10) // a difference of squares
		}
	}
}

func TestRulesCrossCheck(t *testing.T) {
	for _, c := range []struct{ lat, lag1, m, fast float64 }{ // exact to the digits printed
		{0, .2500, 4.700, .1768}, {12, .3333, 3.329, .2766}, {26, .4354, 0.988, .3988}, {40, .3075, 0.180, .2456}, {52, .2700, 0.700, .2007},
	} {
		for _, lat := range []float64{c.lat, -c.lat} {
			s := shapeAt(lat, Options{})
			near(t, "lag 1", s.lag1, c.lag1, 0.00006)
			near(t, "m", s.power, c.m, 0.0006)
			near(t, "fast", fastKeep(s.lag1), c.fast, 0.00006)
		}
	}
	// The chain, drawn: lags 1, 2, 3, 5, 10. The standard error of a correlation is below 0.0022 x 1.5 at 200,000 days;
	// three of them.
	for _, c := range []struct {
		lat  float64
		want [5]float64
	}{
		{20, [5]float64{.5208, .2846, .1656, .0695, .0184}},
		{52, [5]float64{.2813, .1225, .0787, .0485, .0179}},
	} {
		var z []float64
		for k := range 548 {
			for _, s := range yearOfDays(7, k, 365, 365, fastKeep(shapeAt(c.lat, Options{}).lag1)) {
				z = append(z, s.light())
			}
		}
		mean, sd := stat.MeanStdDev(z, nil)
		near(t, "mean of the chain", mean, 0, 0.015) // three times sqrt(2.8/200,000)
		near(t, "sd of the chain", sd, 1, 0.008)     // a variance taken for an sd shows here
		for i, lag := range []int{1, 2, 3, 5, 10} {
			near(t, "chain", stat.Correlation(z[lag:], z[:len(z)-lag], nil), c.want[i], 0.01)
		}
	}
}

// The whole: 1,000 years of days, tolerances as stated there, about four standard deviations.
func TestGeneratorCrossCheck(t *testing.T) {
	type value struct{ want, tol float64 }
	for _, c := range []struct {
		name              string
		lat               float64
		means             [12]float64
		lag               [3]float64 // 1, 2, 5; tolerance 0.008 or 0.010
		lagTol            float64
		cvMonth, cvYear   value
		median, tenth     [3]value // worst 5, 10, 20 days
		loss              [4]value // arrays 1.0, 1.2, 1.2, 1.2 with 3, 2, 3, 5 days of store
		percent, permille [4]float64
	}{
		{"De Bilt", 52.1, [12]float64{0.636, 1.301, 2.158, 3.536, 4.539, 4.948, 4.531, 4.009, 2.843, 1.661, 0.773, 0.491},
			[3]float64{.272, .118, .047}, .008, value{.156, .015}, value{.041, .003},
			[3]value{{.458, .022}, {.634, .018}, {.799, .020}}, [3]value{{.323, .014}, {.469, .021}, {.625, .026}},
			[4]value{{.0084, .0009}, {.0050, .0006}, {.0027, .0004}, {.0009, .0003}},
			[4]float64{1.041, .970, .895, .822}, [4]float64{1.584, 1.380, 1.183, 1.035}},
		{"Hyderabad", 17.53, [12]float64{4.759, 5.394, 5.943, 6.307, 6.366, 5.185, 4.464, 4.301, 4.818, 4.936, 4.628, 4.480},
			[3]float64{.454, .228, .057}, .010, value{.118, .010}, value{.023, .003},
			[3]value{{.505, .019}, {.675, .017}, {.816, .016}}, [3]value{{.360, .026}, {.524, .028}, {.682, .026}},
			[4]value{{.0077, .0009}, {.0031, .0005}, {.0013, .0004}, {.0003, .0002}},
			[4]float64{1.024, .977, .935, .906}, [4]float64{1.406, 1.238, 1.096, 1.004}},
	} {
		hard := hardFloor(c.lat)
		for _, law := range []*shape{&hard, nil} {
			name := c.name + ", hard floor,"
			if law == nil {
				name = c.name + ","
			}
			series := syntheticDays(c.lat, c.means, 1000, Options{}, law)
			darkest, atMonth := slices.Min(c.means[:]), slices.Index(c.means[:], slices.Min(c.means[:]))
			k := standardised(series, c.lat)
			for i, lag := range []int{1, 2, 5} {
				near(t, name+" lag", stat.Correlation(k[lag:], k[:len(k)-lag], nil), c.lag[i], c.lagTol)
			}
			var months, years []float64
			for y := 0; y < len(series); y += 365 {
				year := series[y : y+365]
				years = append(years, stat.Mean(year, nil))
				means := monthMeans(year)
				months = append(months, means[atMonth])
			}
			near(t, name+" cv of the darkest month", cv(months), c.cvMonth.want, c.cvMonth.tol)
			near(t, name+" cv of the year", cv(years), c.cvYear.want, c.cvYear.tol)
			for i, n := range []int{5, 10, 20} {
				var w []float64
				for _, y := range fromBright(series, false) {
					w = append(w, worst(y, n)/float64(n)/darkest)
				}
				slices.Sort(w)
				near(t, name+" worst days, median", stat.Quantile(0.5, stat.Empirical, w, nil), c.median[i].want, c.median[i].tol)
				near(t, name+" worst days, one year in ten", stat.Quantile(0.1, stat.Empirical, w, nil), c.tenth[i].want, c.tenth[i].tol)
			}
			for i, a := range []struct{ array, store float64 }{{1, 3}, {1.2, 2}, {1.2, 3}, {1.2, 5}} {
				got, _ := shortfall(series, darkest, a.array, a.store)
				near(t, name+" loss of load", got, c.loss[i].want, c.loss[i].tol)
			}
			for i, store := range []float64{2, 3, 5, 8} {
				near(t, name+" array for 0.01", arrayFor(series, darkest, store, 0.01), c.percent[i], 0.02)
				near(t, name+" array for 0.001", arrayFor(series, darkest, store, 0.001), c.permille[i], 0.05)
			}
		}
	}
}

func cv(x []float64) float64 {
	mean, sd := stat.MeanStdDev(x, nil)
	return sd / mean
}

// standardised returns the clearness of each day, less the mean of its calendar month and over its sd.
func standardised(series []float64, latDeg float64) []float64 {
	out := plainOutsideKWh(latDeg)
	k := make([]float64, len(series))
	var byMonth [12][]float64
	for i, g := range series {
		k[i] = g / out[i%365]
		byMonth[plainMonth[i%365]] = append(byMonth[plainMonth[i%365]], k[i])
	}
	for i := range k {
		mean, sd := monthStat(&byMonth, plainMonth[i%365])
		k[i] = (k[i] - mean) / sd
	}
	return k
}

func monthStat(by *[12][]float64, m int) (mean, sd float64) {
	if len(by[m]) > 2 { // worked out once, then kept as the two numbers
		mean, sd = stat.MeanStdDev(by[m], nil)
		by[m] = []float64{mean, sd}
	}
	return by[m][0], by[m][1]
}

// At every clearness and shape in use the law's mean is the month's, and its days lie where days can.
func TestLawInUseKeepsTheMean(t *testing.T) {
	for mean := lowestClearness; mean <= highestClearness; mean += 0.01 {
		for _, lat := range []float64{0, 20, 37, 52} {
			for _, kind := range []Kind{ByLatitude, OceanCoast, DullCoast} {
				s := shapeAt(lat, Options{Kind: kind})
				w := newDayLaw(mean, s, newCells(s.power), 0)
				var days []float64
				for i := range 20000 {
					days = append(days, w.quantile((float64(i)+0.5)/20000))
				}
				got, sd := stat.MeanStdDev(days, nil)
				near(t, "mean of the table", got, mean, 1e-4) // cells of a 500th
				near(t, "sd", w.sd, sd, 0.001)
				if lo, hi := w.quantile(1e-12), w.quantile(1-1e-12); !(lo >= 0 && lo < mean && hi > mean && hi <= w.top+1e-9 && w.top < 0.86) {
					t.Errorf("mean %.2f: days from %v to %v, top %v", mean, lo, hi, w.top)
				}
			}
		}
	}
}
