package study

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
	"gonum.org/v1/gonum/stat/distuv"
)

// Sure is the probability with which the ranges of this package hold the true value, were the same question put to ever
// new sets of as many years. It covers the draw of the years alone: not the climate behind them, not the system.
const Sure = 0.90

// tail is the probability of missing on either side.
const tail = (1 - Sure) / 2

// Range is where a true value lies. An end that so few years cannot know is infinite.
type Range struct{ Low, High float64 }

// Estimate is a value found in many years, and where the true one lies.
type Estimate struct {
	Value float64
	Range
}

// NoWorse returns what a share p of years is no worse than, worst being largest: the smallest of the values that at least
// p of them do not exceed. So it is always the value of a year that was run. values must be sorted and not empty.
//
// Its range is that of order statistics, for any distribution: the number of years below the true value is binomial, so
// the r-th value lies above it with probability P(B < r), the s-th below it with P(B >= s). Ties make the range surer.
// Source: H. A. David, Order Statistics, on distribution-free confidence intervals for quantiles, from memory.
func NoWorse(p float64, values []float64) Estimate {
	n := len(values)
	b := distuv.Binomial{N: float64(n), P: p}
	e := Estimate{values[rank(p, n)], Range{math.Inf(-1), math.Inf(1)}}
	for r := 1; r <= n && b.CDF(float64(r-1)) <= tail; r++ {
		e.Low = values[r-1]
	}
	for s := n; s >= 1 && 1-b.CDF(float64(s-1)) <= tail; s-- {
		e.High = values[s-1]
	}
	return e
}

// rank is the place, from 0, of the value among n that a share p of them does not exceed.
func rank(p float64, n int) int { return int(math.Ceil(p*float64(n)-1e-9)) - 1 }

// Share returns the share of years that have a thing when k of n had it, 0..1.
//
// Its range is that of C. J. Clopper and E. S. Pearson, Biometrika 26, 404-413 (1934), through the Beta distribution.
func Share(k, n int) Estimate {
	if k < 0 || k > n || n == 0 {
		panic(fmt.Sprintf("study: Share: %d of %d years", k, n))
	}
	return Estimate{float64(k) / float64(n), share(k, n, tail)}
}

// share returns the limits that miss with probability tail on either side.
func share(k, n int, tail float64) Range {
	e := Range{0, 1}
	if k > 0 {
		e.Low = distuv.Beta{Alpha: float64(k), Beta: float64(n - k + 1)}.Quantile(tail)
	}
	if k < n {
		e.High = distuv.Beta{Alpha: float64(k + 1), Beta: float64(n - k)}.Quantile(1 - tail)
	}
	return e
}

// RarerThanOnceIn returns X where a year worse than the worst of n comes less often than once in X years, as surely as
// Sure. The chance of such a year is spread as Beta(1, n), since each of n+1 years is as likely to be the worst of them:
// P(chance > x) = (1 - x)^n.
func RarerThanOnceIn(n int) float64 {
	return 1 / distuv.Beta{Alpha: 1, Beta: float64(n)}.Quantile(Sure)
}

// fewYears is the number of differing years under which a mean difference gets no range: it would hang on three or four
// values, and the t distribution takes their spread for known.
const fewYears = 10

// Difference is what changes from one system to another in the same years, in days without power a year.
type Difference struct {
	Mean        float64 // the other less the first
	Range               // of the mean; infinite where BySign
	Fewer, More int     // years in which the other has fewer or more
	BySign      bool    // judged by Fewer and More alone
	Shown       bool    // the years show that there is a difference
}

// Paired returns the difference between two systems in the same years.
//
// Years are compared one by one, so that good and bad ones, the same for both, drop out. The range of the mean is that of
// the paired t: over tens of years the mean is near enough to normal, though days are whole numbers. Where the systems
// differ in fewer than ten years, the sign test decides whether one is better more often than the other, and the mean
// gets no range: such days are mostly zeros and a few large numbers.
func Paired(first, other []Year) Difference {
	if len(first) != len(other) || len(first) == 0 {
		panic(fmt.Sprintf("study: Paired: %d years and %d, want as many and at least one", len(first), len(other)))
	}
	days := make([]float64, len(first))
	var d Difference
	for k := range days {
		days[k] = float64(other[k].DaysWithoutPower - first[k].DaysWithoutPower)
		switch {
		case days[k] < 0:
			d.Fewer++
		case days[k] > 0:
			d.More++
		}
	}
	mean, sd := stat.MeanStdDev(days, nil)
	d.Mean = mean
	d.Range = Range{math.Inf(-1), math.Inf(1)}
	differ := d.Fewer + d.More
	if differ < fewYears {
		d.BySign = true
		d.Shown = differ > 0 && signTest(d.Fewer, d.More) <= 1-Sure
		return d
	}
	half := studentHalf(sd, len(days))
	d.Range = Range{mean - half, mean + half}
	d.Shown = d.Low > 0 || d.High < 0
	return d
}

// signTest returns the probability of a split of a + b fair coins at least as uneven.
func signTest(a, b int) float64 {
	return min(1, 2*distuv.Binomial{N: float64(a + b), P: 0.5}.CDF(float64(min(a, b))))
}

// studentHalf is half the width of the range of a mean of n values of standard deviation sd.
func studentHalf(sd float64, n int) float64 {
	t := distuv.StudentsT{Sigma: 1, Nu: float64(n - 1)}.Quantile(1 - tail)
	return t * sd / math.Sqrt(float64(n))
}

// spread is the median, the one-in-ten and the worst of values, of which the largest is worst.
func spread(values []float64) Spread {
	slices.Sort(values)
	return Spread{NoWorse(Half, values), NoWorse(NineInTen, values), values[len(values)-1]}
}

// negative turns a spread of values whose smallest is worst, given with the sign changed, the right way round.
func (s Spread) negative() Spread {
	turn := func(e Estimate) Estimate { return Estimate{-e.Value, Range{-e.High, -e.Low}} }
	return Spread{turn(s.Median), turn(s.OneInTen), -s.Worst}
}
