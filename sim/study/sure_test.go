package study

import (
	"fmt"
	"math"
	"slices"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func ranks(n int) []float64 {
	v := make([]float64, n)
	for i := range v {
		v[i] = float64(i + 1)
	}
	return v
}

// TestMedianRangeAgainstSignTest: the range of a median runs from the (c+1)-th to the (n-c)-th value, c being the critical
// value of the sign test, two-sided at 0.10. c is [M] from memory of the table in every book on nonparametric tests
// (as in W. J. Dixon, A. M. Mood, J. Am. Stat. Assoc. 41, 557-566 (1946)).
func TestMedianRangeAgainstSignTest(t *testing.T) {
	for n, c := range map[int]int{5: 0, 6: 0, 7: 0, 8: 1, 9: 1, 10: 1, 11: 2, 12: 2, 13: 3, 14: 3, 15: 3, 16: 4, 17: 4, 18: 5, 19: 5, 20: 5, 25: 7} {
		got := NoWorse(Half, ranks(n))
		if want := (Range{float64(c + 1), float64(n - c)}); got.Range != want {
			t.Errorf("%d values: the median's range runs over values %v, want %v", n, got.Range, want)
		}
	}
	if got := NoWorse(Half, ranks(4)); !math.IsInf(got.Low, -1) || !math.IsInf(got.High, 1) {
		t.Errorf("4 values: range %v, want none: 2 x (1/2)^4 is more than 0.10", got.Range)
	}
}

// TestOneInTenAgainstWilks: the numbers of runs for 95 % confidence in a one-sided bound of the 0.9 quantile by the
// largest, second and third largest of them, 29, 46 and 61. [M] from memory of the tables that follow S. S. Wilks,
// Ann. Math. Stat. 12, 91-96 (1941), used for tolerance limits.
func TestOneInTenAgainstWilks(t *testing.T) {
	for _, c := range []struct {
		n, fromTop int // 0: no bound
	}{{28, 0}, {29, 1}, {45, 1}, {46, 2}, {60, 2}, {61, 3}} {
		got := NoWorse(NineInTen, ranks(c.n)).High
		want := float64(c.n + 1 - c.fromTop)
		if c.fromTop == 0 {
			want = math.Inf(1)
		}
		if got != want {
			t.Errorf("%d values: upper end is value %v, want %v", c.n, got, want)
		}
	}
}

func TestNoWorseByHand(t *testing.T) {
	for _, c := range []struct {
		values           []float64
		median, oneInTen float64
	}{
		{[]float64{7}, 7, 7},
		{[]float64{1, 9}, 1, 9},
		{[]float64{1, 2, 9}, 2, 9},
		{[]float64{0, 0, 3, 8}, 0, 8},
		{[]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10}, 5, 9},      // 9 of 10 are no more than 9
		{[]float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11}, 6, 10}, // 10 of 11 is the first share of at least 0.9
		{ranks(30), 15, 27},
		{ranks(70), 35, 63},
	} {
		if got := NoWorse(Half, c.values).Value; got != c.median {
			t.Errorf("median of %v: %v, want %v", c.values, got, c.median)
		}
		if got := NoWorse(NineInTen, c.values).Value; got != c.oneInTen {
			t.Errorf("one in ten of %v: %v, want %v", c.values, got, c.oneInTen)
		}
	}
}

// TestShareAgainstTable: 95 % limits of Clopper and Pearson, [M] from memory of their published tables, rounded to four
// decimals.
func TestShareAgainstTable(t *testing.T) {
	for _, c := range []struct {
		k, n      int
		low, high float64
	}{{0, 10, 0, 0.3085}, {1, 10, 0.0025, 0.4450}, {2, 10, 0.0252, 0.5561}, {5, 10, 0.1871, 0.8129}, {10, 10, 0.6915, 1}} {
		got := share(c.k, c.n, 0.025)
		if math.Abs(got.Low-c.low) > 5e-5 || math.Abs(got.High-c.high) > 5e-5 { // half of their last digit
			t.Errorf("%d of %d: %.5f to %.5f, want %.4f to %.4f", c.k, c.n, got.Low, got.High, c.low, c.high)
		}
	}
}

// TestShareIsWhereBinomialTailsAre: by definition, at the low end k or more come with probability 5 %, at the high end k
// or fewer.
func TestShareIsWhereBinomialTailsAre(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 1000).Draw(t, "n")
		k := rapid.IntRange(0, n).Draw(t, "k")
		got := Share(k, n)
		if got.Low > got.Value || got.Value > got.High {
			t.Fatalf("%d of %d: %v", k, n, got)
		}
		const tol = 1e-7 // of the inverse of the Beta distribution
		if k > 0 {
			if p := 1 - (distuv.Binomial{N: float64(n), P: got.Low}).CDF(float64(k-1)); math.Abs(p-0.05) > tol {
				t.Errorf("%d of %d: at the low end %v, %d or more have %v", k, n, got.Low, k, p)
			}
		} else if got.Low != 0 {
			t.Errorf("0 of %d: low end %v", n, got.Low)
		}
		if k < n {
			if p := (distuv.Binomial{N: float64(n), P: got.High}).CDF(float64(k)); math.Abs(p-0.05) > tol {
				t.Errorf("%d of %d: at the high end %v, %d or fewer have %v", k, n, got.High, k, p)
			}
		} else if got.High != 1 {
			t.Errorf("all of %d: high end %v", n, got.High)
		}
	})
}

// TestRangesHold draws many sets of years from a known law of days and counts how often the ranges hold the true value:
// at least as often as they say.
func TestRangesHold(t *testing.T) {
	const sets = 4000
	// 0 to 9 days, ten equally likely: half of the years have at most 4, nine in ten at most 8, one in ten none.
	for _, n := range []int{7, 30, 100} {
		var median, oneInTen, none, worse int
		seed := uint64(n)
		for range sets {
			v := make([]float64, n)
			zero := 0
			for i := range v {
				seed ^= seed << 13
				seed ^= seed >> 7
				seed ^= seed << 17
				v[i] = float64(seed % 10)
				if v[i] == 0 {
					zero++
				}
			}
			slices.Sort(v)
			in := func(r Range, x float64) int {
				if r.Low <= x && x <= r.High {
					return 1
				}
				return 0
			}
			median += in(NoWorse(Half, v).Range, 4)
			oneInTen += in(NoWorse(NineInTen, v).Range, 8)
			none += in(Share(zero, n).Range, 0.1)
			if (9-v[n-1])/10 <= 1/RarerThanOnceIn(n) { // the true chance of a year worse than the worst
				worse++
			}
		}
		for what, hits := range map[string]int{"median": median, "one in ten": oneInTen, "none": none, "worse": worse} {
			// 0.9 less four standard deviations of a share of 4000.
			if got := float64(hits) / sets; got < Sure-4*math.Sqrt(Sure*(1-Sure)/sets) {
				t.Errorf("%d years: the range of %s holds in %.3f of the sets, want %v", n, what, got, Sure)
			}
		}
	}
}

// TestRarerThanOnceIn: 22 years for 90 % that the largest bounds all but one in ten (0.9^22 = 0.0985, 0.9^21 = 0.109).
// [M] the table of Wilks again, 90 % at 90 %: 22.
func TestRarerThanOnceIn(t *testing.T) {
	if a, b := RarerThanOnceIn(21), RarerThanOnceIn(22); a >= 10 || b < 10 {
		t.Errorf("21 years: once in %v; 22 years: once in %v; want 10 between them", a, b)
	}
	if got := RarerThanOnceIn(1); math.Abs(got-1/0.9) > 1e-9 { // the chance is uniform
		t.Errorf("1 year: once in %v, want 1.111", got)
	}
}

func years(days ...int) []Year {
	out := make([]Year, len(days))
	for i, d := range days {
		out[i].DaysWithoutPower = d
	}
	return out
}

// TestPairedAgainstStudent: the ten differences of hours of sleep under two drugs, 1.2 2.4 1.3 1.3 0.0 1.0 1.8 0.8 4.6
// 1.4, mean 1.58, t = 4.06 with 9 degrees of freedom ("Student", The Probable Error of a Mean, Biometrika 6, 1-25 (1908);
// t as given by R. A. Fisher, Statistical Methods for Research Workers, ex. 19), and t(0.95, 9) = 1.833 of the t table.
// [M] all from memory. Here in tenths of an hour, for days are whole.
func TestPairedAgainstStudent(t *testing.T) {
	tenths := []int{12, 24, 13, 13, 0, 10, 18, 8, 46, 14}
	zero := make([]int, 10)
	d := Paired(years(zero...), years(tenths...))
	if math.Abs(d.Mean-15.8) > 1e-9 || d.Fewer != 0 || d.More != 9 {
		t.Errorf("mean %v, %d fewer, %d more, want 15.8, 0, 9", d.Mean, d.Fewer, d.More)
	}
	if !d.BySign || !d.Shown { // nine of nine: 2 x (1/2)^9 = 0.004
		t.Errorf("nine years that differ, all one way: %+v, want shown by the sign test", d)
	}
	// The same ten, twice over, differ in 18 years: mean as before, the range by hand from Student's t = 4.06: the standard
	// deviation of ten is 15.8 sqrt(10) / 4.06 = 12.30; of twice ten 12.30 sqrt(2 x 9 / 19) = 11.97; t(0.95, 19) = 1.729;
	// so half a range is 1.729 x 11.97 / sqrt(20) = 4.63.
	d = Paired(years(append(zero, zero...)...), years(append(tenths, tenths...)...))
	if d.BySign || !d.Shown || math.Abs(d.High-d.Mean-4.63) > 0.01 || math.Abs(d.Mean-d.Low-4.63) > 0.01 { // t is given to 0.01 in 4
		t.Errorf("twenty years: %+v, want 15.8 +- 4.63", d)
	}
	if got := studentHalf(12.30, 10); math.Abs(got-1.833*12.30/math.Sqrt(10)) > 0.003 {
		t.Errorf("ten values: half a range of %v, want 7.13", got)
	}
}

func TestPairedWhereNothingIsShown(t *testing.T) {
	same := years(3, 0, 0, 7)
	if d := Paired(same, same); d.Shown || d.Mean != 0 || d.Fewer+d.More != 0 {
		t.Errorf("a system against itself: %+v", d)
	}
	// Four of four heads have 1/8, five of five 1/16.
	if d := Paired(years(1, 1, 1, 1, 0, 0), years(0, 0, 0, 0, 0, 0)); d.Shown || !d.BySign || d.Fewer != 4 {
		t.Errorf("four years fewer: %+v, want nothing shown", d)
	}
	if d := Paired(years(1, 1, 1, 1, 1, 0), years(0, 0, 0, 0, 0, 0)); !d.Shown || d.Fewer != 5 {
		t.Errorf("five years fewer: %+v, want it shown", d)
	}
	var a, b []int // noise: up and down by turns
	for k := range 20 {
		a, b = append(a, 10), append(b, 9+2*(k%2))
	}
	if d := Paired(years(a...), years(b...)); d.Shown || d.BySign || d.Low >= 0 || d.High <= 0 {
		t.Errorf("noise: %+v, want a range that holds 0", d)
	}
	if d := Paired(years(5), years(0)); d.Shown {
		t.Errorf("one year: %+v, want nothing shown", d)
	}
}

func TestPairedPanics(t *testing.T) {
	defer func() {
		if got, want := fmt.Sprint(recover()), "study: Paired: 2 years and 1, want as many and at least one"; got != want {
			t.Errorf("panic %q, want %q", got, want)
		}
	}()
	Paired(years(1, 2), years(1))
}
