package plots

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"tideover/sim/study"
)

// record is n invented years, of which those in the first tenths of a cycle have no day without power.
func record(n, none int) *study.Record {
	rec := &study.Record{}
	for k := range n {
		days := max(0, (k*7%13)-none) * 3
		rec.Years = append(rec.Years, study.Year{CalendarYear: 2025 + k, DaysWithoutPower: days, HoursWithoutPower: float64(10 * days),
			LowestSOC: max(0.1, 0.8-0.03*float64(k*7%13))})
	}
	return rec
}

func TestYearsLabels(t *testing.T) {
	for _, n := range []int{1, 2, 3, 4, 5, 9, 12, 20, 21, 29, 100, 1000} {
		for _, none := range []int{0, 5, 11, 13} {
			rec := record(n, none)
			all := labels(t, svg(t, Years(rec, rec.Summary())))
			for i, a := range all {
				if a.box.Min.X < 0 || a.box.Min.Y < 0 || a.box.Max.X > chartW || a.box.Max.Y > chartH {
					t.Errorf("%d years, %d: %q leaves the paper: %v", n, none, a.s, a.box)
				}
				for _, b := range all[:i] {
					if a.box.Min.X < b.box.Max.X && b.box.Min.X < a.box.Max.X && a.box.Min.Y < b.box.Max.Y && b.box.Min.Y < a.box.Max.Y {
						t.Errorf("%d years, %d: %q lies on %q", n, none, a.s, b.s)
					}
				}
			}
		}
	}
}

func TestYearsTitle(t *testing.T) {
	for _, c := range []struct {
		n, none int
		want    string
	}{
		{1, 0, "One year, 2025: no day is without power"},
		{20, 13, "No day is without power in 20 years; the lowest charge is 44 %"},                      // 0.8 - 0.03 x 12
		{20, 0, "Of 20 years, nine in ten have at most 30 days without power; the worst, 2036, has 36"}, // of 0 0 1 1 .. 9 9 10 11 12 the 18th, times 3
		{26, 11, "Of 26 years, nine in ten have no day without power; the worst, 2049, has 3"},
	} {
		rec := record(c.n, c.none)
		if got := Years(rec, rec.Summary()).Title(); got != c.want {
			t.Errorf("%d years: %q, want %q", c.n, got, c.want)
		}
	}
}

// TestOpenRange: a range without an end reaches no higher than the worst year that was run.
func TestOpenRange(t *testing.T) {
	for _, c := range []struct{ n, none int }{{12, 13}, {12, 0}, {1, 13}, {3, 0}} {
		rec := record(c.n, c.none)
		sum := rec.Summary()
		tallest := 0.0
		for _, m := range regexp.MustCompile(`d="M([0-9.]+),([0-9.]+)L([0-9.]+),([0-9.]+)" style="fill:none;stroke:#84184C`).
			FindAllStringSubmatch(string(svg(t, Years(rec, sum))), -1) {
			if m[1] == m[3] { // upright: a range
				for _, s := range []string{m[2], m[4]} {
					y, err := strconv.ParseFloat(s, 64)
					if err != nil {
						t.Fatal(err)
					}
					tallest = max(tallest, y)
				}
			}
		}
		if strings.Contains(string(svg(t, Years(rec, sum))), "(0 or more)") {
			t.Errorf("%d years: a range of any number of days", c.n)
		}
		_, top := niceScale(max(5, sum.Days.Worst)*1.15, 6)
		foot := float64(marginBottom + 92 + 34)
		if want := foot + (float64(chartH-marginTop)-foot)*sum.Days.Worst/top; tallest > want+0.1 { // points; the file has two decimals
			t.Errorf("%d years, at worst %v days: a range ends at %v, want %v at most", c.n, sum.Days.Worst, tallest, want)
		}
	}
}

func TestYearsGolden(t *testing.T) {
	rec := record(30, 5)
	got := svg(t, Years(rec, rec.Summary()))
	path := filepath.Join("testdata", "years.svg")
	if *update {
		if err := os.WriteFile(path, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s: %d bytes, want %d; to look at it, run with -update", path, len(got), len(want))
	}
	if again := svg(t, Years(rec, rec.Summary())); !bytes.Equal(got, again) {
		t.Errorf("a second drawing gives other bytes")
	}
	for _, word := range []string{"median", "one in ten", "days without power in the year"} {
		if !bytes.Contains(got, []byte(word)) {
			t.Errorf("the chart does not say %q", word)
		}
	}
}
