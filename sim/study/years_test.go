package study_test

import (
	"context"
	"errors"
	"fmt"
	"math"
	"reflect"
	"runtime"
	"strings"
	"sync/atomic"
	"testing"

	"tideover/scenarios"
	"tideover/sim"
	"tideover/sim/study"
	"tideover/weather"
)

// shipped returns the base of a shipped scenario, changed, with its years of weather.
func shipped(t testing.TB, name string, change func(*scenarios.Scenario)) (*sim.System, *scenarios.Years) {
	t.Helper()
	src, err := scenarios.Shipped.ReadFile(name + ".yaml")
	if err != nil {
		t.Fatal(err)
	}
	f, err := scenarios.Decode(name, src)
	if err != nil {
		t.Fatal(err)
	}
	if change != nil {
		change(f.Base)
	}
	years, err := f.Base.Years(nil)
	if err != nil {
		t.Fatal(err)
	}
	p, err := f.Base.Place(years.Year(0), false)
	if err != nil {
		t.Fatal(err)
	}
	return p.System, years
}

func run(t testing.TB, sys *sim.System, years *scenarios.Years, n, jobs int) *study.Record {
	t.Helper()
	records, err := study.RunYears(context.Background(), []study.Variant{{Name: "base", System: sys}}, years.Year, n, jobs, nil)
	if err != nil {
		t.Fatal(err)
	}
	return records[0]
}

func TestAnyNumberOfJobs(t *testing.T) {
	sys, years := shipped(t, "trail-store", nil)
	one, eight := run(t, sys, years, 9, 1), run(t, sys, years, 9, 8)
	if !reflect.DeepEqual(one, eight) {
		t.Errorf("1 job and 8 differ:\n%+v\n%+v", one, eight)
	}
}

// TestYearsAreTheSameInAnyRun: year k does not depend on how many are asked for, and another seed gives others.
func TestYearsAreTheSameInAnyRun(t *testing.T) {
	sys, years := shipped(t, "trail-store", nil)
	five, twelve := run(t, sys, years, 5, 2), run(t, sys, years, 12, 2)
	if !reflect.DeepEqual(five.Years, twelve.Years[:5]) {
		t.Errorf("the first five of twelve years differ from five:\n%+v\n%+v", five.Years, twelve.Years[:5])
	}
	_, again := shipped(t, "trail-store", nil)
	if !reflect.DeepEqual(five, run(t, sys, again, 5, 2)) {
		t.Errorf("the same seed gives other years")
	}
	_, others := shipped(t, "trail-store", func(s *scenarios.Scenario) { s.Seed++ })
	if reflect.DeepEqual(five.Years, run(t, sys, others, 5, 2).Years) {
		t.Errorf("another seed gives the same years")
	}
}

// TestTheChargeIsCarriedOn: the record is that of one run after the other by hand; a leap year has 366 days.
func TestTheChargeIsCarriedOn(t *testing.T) {
	sys, years := shipped(t, "trail-store", nil)
	rec := run(t, sys, years, 4, 2)
	var st sim.State
	days := 0
	for k := range 4 {
		p := sim.Prepare(sys, years.Year(k))
		if k == 0 {
			st, _, _, _ = p.Start()
		}
		y := rec.Years[k]
		if y.Start != st || y.CalendarYear != 2025+k {
			t.Errorf("year %d (%d) starts from %+v, want %+v", k, y.CalendarYear, y.Start, st)
		}
		r, end, err := p.RunFrom(st, false)
		if err != nil {
			t.Fatal(err)
		}
		if y.DaysWithoutPower != r.Answer.DaysWithoutPower || y.LowestSOC != r.Answer.LowestSOC || y.HoursWithoutPower != r.Answer.HoursWithoutPower {
			t.Errorf("year %d: %+v, want %+v", k, y, r.Answer)
		}
		sum := 0
		for _, d := range y.MonthDays {
			sum += d
		}
		if sum != y.DaysWithoutPower {
			t.Errorf("year %d: the months have %d days, the year %d", k, sum, y.DaysWithoutPower)
		}
		days += len(r.Days)
		st = end
		full, err := rec.Again(p, k)
		if err != nil {
			t.Fatal(err)
		}
		if full.Answer.DaysWithoutPower != y.DaysWithoutPower || full.Hours == nil || (full.SettlePasses > 0) != (k == 0) {
			t.Errorf("year %d again: %d days, want %d; %d passes", k, full.Answer.DaysWithoutPower, y.DaysWithoutPower, full.SettlePasses)
		}
	}
	if want := 3*365 + 366; rec.Days != want || days != want { // 2028 is a leap year
		t.Errorf("%d days, by hand %d, want %d", rec.Days, days, want)
	}
}

// TestHandMadeSummary: ten years in the order in which they were run.
func TestHandMadeSummary(t *testing.T) {
	rec := &study.Record{}
	for k, days := range []int{3, 0, 12, 0, 7, 3, 0, 30, 5, 7} {
		y := study.Year{CalendarYear: 2025 + k, DaysWithoutPower: days, HoursWithoutPower: float64(days), LowestSOC: 0.5 - float64(days)/100}
		y.MonthDays[0], y.MonthDays[11] = days-days/3, days/3
		rec.Years = append(rec.Years, y)
	}
	rec.Years[4].HoursWithoutPower = 9 // of two years with 7 days the worse
	s := rec.Summary()
	// In order: 0 0 0 3 3 5 7 7 12 30.
	if s.Days.Median.Value != 3 || s.Days.OneInTen.Value != 12 || s.Days.Worst != 30 || s.Worst() != 7 || s.OneInTen != 2 {
		t.Errorf("days %+v, worst year %d, one in ten %d; want 3, 12, 30 in years 7 and 2", s.Days, s.Worst(), s.OneInTen)
	}
	// The second and the ninth value for the median: the sign test's 1 of 10 at 0.10, from memory.
	if want := (study.Range{Low: 0, High: 12}); s.Days.Median.Range != want {
		t.Errorf("the median lies in %v, want %v", s.Days.Median.Range, want)
	}
	if m := s.LowestSOC; math.Abs(m.Median.Value-0.47) > 1e-12 || math.Abs(m.Median.Low-0.38) > 1e-12 || math.Abs(m.Median.High-0.5) > 1e-12 ||
		math.Abs(m.Worst-0.2) > 1e-12 || !math.IsInf(m.OneInTen.Low, -1) {
		t.Errorf("lowest charge %+v, want a median of 0.47 (0.38 to 0.50), worst 0.20", m)
	}
	if s.None != 3 || s.NoneShare.Value != 0.3 || s.Months[0].WithAny != 7 || s.Months[11].WithAny != 7 || s.Months[5].WithAny != 0 {
		t.Errorf("%d years with none, months %+v", s.None, s.Months)
	}
	if got := s.Months[11].MeanDays; math.Abs(got-2.1) > 1e-9 { // 1+4+2+1+10+1+2 = 21 in ten years
		t.Errorf("December: %v days a year, want 2.1", got)
	}
	if r := s.Ranked; r[6] != 9 || r[7] != 4 {
		t.Errorf("ranked %v, want years 9 and 4 in places 6 and 7", r)
	}
}

func TestNoOutageInAnyYear(t *testing.T) {
	sys, years := shipped(t, "trail-store", func(s *scenarios.Scenario) { s.System.Loads = nil; s.System.Inverter = nil })
	for _, n := range []int{1, 6} {
		rec := run(t, sys, years, n, 2)
		s := rec.Summary()
		if s.None != n || s.Days.Worst != 0 || s.NoneShare.High != 1 || s.UnservedShare.Worst != 0 {
			t.Errorf("%d years: %+v, want no day without power", n, s)
		}
	}
}

func TestPairsHaveTheSameWeather(t *testing.T) {
	sys, years := shipped(t, "trail-store", nil)
	records, err := study.RunYears(context.Background(), []study.Variant{{Name: "a", System: sys}, {Name: "b", System: sys}}, years.Year, 5, 2, nil)
	if err != nil {
		t.Fatal(err)
	}
	if !reflect.DeepEqual(records[0].Years, records[1].Years) {
		t.Errorf("the same system twice differs:\n%+v\n%+v", records[0].Years, records[1].Years)
	}
	if records[0].Name != "a" || records[1].Name != "b" {
		t.Errorf("records %q and %q, want a and b", records[0].Name, records[1].Name)
	}
}

// TestInterrupt: the end of the context ends the run, and few years are made after it.
func TestInterrupt(t *testing.T) {
	sys, years := shipped(t, "trail-store", nil)
	ctx, cancel := context.WithCancel(context.Background())
	var made atomic.Int64
	done := 0
	records, err := study.RunYears(ctx, []study.Variant{{Name: "base", System: sys}}, func(k int) *weather.Year {
		made.Add(1)
		return years.Year(k)
	}, 1000, 2, func() {
		if done++; done == 2 {
			cancel()
		}
	})
	if !errors.Is(err, context.Canceled) || records != nil {
		t.Errorf("error %v and records %v, want context.Canceled and none", err, records != nil)
	}
	if n := made.Load(); n > 10 { // 2 run, 2 waiting, 2 in the making, and one each between
		t.Errorf("%d years were made for 2", n)
	}
}

// TestBugInAYear: a panic while a year is made reaches the caller, who turns it into an exit status.
func TestBugInAYear(t *testing.T) {
	sys, years := shipped(t, "trail-store", nil)
	defer func() {
		if got := fmt.Sprint(recover()); !strings.HasPrefix(got, "a bug\n") {
			t.Errorf("panic %.40q, want a bug", got)
		}
	}()
	study.RunYears(context.Background(), []study.Variant{{Name: "base", System: sys}}, func(k int) *weather.Year {
		if k == 3 {
			panic("a bug")
		}
		return years.Year(k)
	}, 5, 2, nil)
}

// TestMemory: what a run holds does not grow with the years, but for the few numbers of each.
func TestMemory(t *testing.T) {
	if testing.Short() {
		t.Skip("some 60 years")
	}
	sys, years := shipped(t, "trail-store", nil)
	held := func(n int) (most uint64) {
		var m runtime.MemStats
		k := 0
		_, err := study.RunYears(context.Background(), []study.Variant{{Name: "base", System: sys}}, years.Year, n, 2, func() {
			if k++; k%5 == 0 {
				runtime.GC()
				runtime.ReadMemStats(&m)
				most = max(most, m.HeapAlloc)
			}
		})
		if err != nil {
			t.Fatal(err)
		}
		return most
	}
	few, many := held(10), held(50)
	if many > few+12<<20 { // a prepared year takes 3 MB, and one or two more or fewer may be in the making
		t.Errorf("10 years hold %d MB, 50 years %d MB", few>>20, many>>20)
	}
}

// BenchmarkYears is `run --years 100` but for the report: it must take less than 2 s on two cores.
func BenchmarkYears(b *testing.B) {
	b.ReportAllocs()
	for b.Loop() {
		sys, years := shipped(b, "trail-store", nil)
		run(b, sys, years, 100, 2)
	}
}
