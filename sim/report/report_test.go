package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"io"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"tideover/sim/ledger"
	"tideover/sim/report/invented"
)

// The goldens guard the format only: every number in them is invented (package invented).
var update = flag.Bool("update", false, "renew the files in testdata")

func golden(t *testing.T, name string, got []byte) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.MkdirAll("testdata", 0o777); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(path, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(got, want) {
		return
	}
	g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
	for i := range min(len(g), len(w)) {
		if g[i] != w[i] {
			t.Fatalf("%s:%d differs\n got %q\nwant %q", path, i+1, g[i], w[i])
		}
	}
	t.Fatalf("%s: got %d lines, want %d", path, len(g), len(w))
}

func header() Header {
	return Header{
		Title: "Hut above the tree line", Scenario: "hut.yaml", About: "A hut with a fire alarm that must not stop.",
		Place: "39.22 N 106.32 W", Weather: "invented, calendar 2025", System: "420 W array, 1280 Wh battery, 300 W inverter",
	}
}

// awkward is a run with names that tempt a table to break.
func awkward() (Header, *ledger.Run) {
	h := header()
	h.Title = strings.Repeat("A very long title ", 9)
	h.Place = "Hütte über dem Wald\x1b[31m\n" + strings.Repeat("x", 200)
	r := invented.Hut().Run()
	r.Loads = append(r.Loads, ledger.LoadSum{Name: "電池充電器" + strings.Repeat("長い名前", 20), Bus: "ac", DemandWh: 4e4},
		ledger.LoadSum{Name: "tab\tand\nline", Bus: "dc", DemandWh: 3e4})
	for i := range 40 {
		r.Loads = append(r.Loads, ledger.LoadSum{Name: "a lamp of many, number " + strconv.Itoa(i), Bus: "dc", DemandWh: 100})
	}
	r.Warnings = append(r.Warnings, strings.Repeat("w", 300))
	return h, r
}

func text(t *testing.T, h Header, r *ledger.Run) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := Text(&b, h, r); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func atMost80(t *testing.T, name string, b []byte) {
	t.Helper()
	for i, line := range strings.Split(string(b), "\n") {
		if n := width(line); n > columns {
			t.Errorf("%s:%d is %d columns wide, want at most %d: %q", name, i+1, n, columns, line)
		}
		if strings.ContainsAny(line, "\x1b\t\r") {
			t.Errorf("%s:%d holds a control character: %q", name, i+1, line)
		}
	}
}

// cases are runs of every length the report must take.
func cases() map[string]*ledger.Run {
	hut := invented.Hut()
	short, years, noSun, noLoad, ruled, huge := hut, hut, hut, hut, hut, hut
	short.Days = 9
	years.Days, years.ArrayW = 3*365, 900
	noSun.ArrayW, noSun.Days = 0, 400
	noLoad.MustHaveW, noLoad.LampW, noLoad.IdleW = 0, 0, 0
	ruled.OffFromHour, ruled.OffUntilHour, ruled.ArrayW = 1, 6, 2000
	huge.ArrayW, huge.MustHaveW, huge.CapacityWh = 4e7, 3e6, 1e8
	m := map[string]*ledger.Run{
		"year": hut.Run(), "short": short.Run(), "years": years.Run(), "no sun": noSun.Run(), "no load": noLoad.Run(),
		"off by rule": ruled.Run(), "huge": huge.Run(), "empty": {},
	}
	_, m["awkward"] = awkward()
	return m
}

func TestTextGolden(t *testing.T) {
	runs := cases()
	for _, name := range []string{"year", "short", "years", "off by rule"} {
		got := text(t, header(), runs[name])
		golden(t, strings.ReplaceAll(name, " ", "-")+".txt", got)
	}
	h, r := awkward()
	golden(t, "awkward.txt", text(t, h, r))
}

func TestTextFitsTheScreen(t *testing.T) {
	for name, r := range cases() {
		got := text(t, header(), r)
		atMost80(t, name, got)
		if lines := bytes.Count(got, []byte("\n")); name != "awkward" && lines > 50 {
			t.Errorf("%s takes %d lines, want about 40, at most 50", name, lines)
		}
	}
	h, r := awkward()
	atMost80(t, "awkward", text(t, h, r))
	for i, c := range string(text(t, header(), invented.Hut().Run())) {
		if c > 127 {
			t.Errorf("our own words hold %q at byte %d, want ASCII", c, i)
		}
	}
}

func TestVerdict(t *testing.T) {
	year, ten, short := span{365, 1}, span{3652, 10}, span{9, 0}
	for _, c := range []struct {
		a    ledger.Answer
		s    span
		want string
	}{
		{ledger.Answer{}, year, "Yes: no day without power in the year"},
		{ledger.Answer{DaysWithoutPower: 23}, year, "No: 23 days without power in the year"},
		{ledger.Answer{DaysWithoutPower: 1}, short, "No: 1 day without power in 9 days"},
		{ledger.Answer{DaysWithoutPower: 23}, ten, "No: 23 days without power in 10 years, 2.3 a year"},
		{ledger.Answer{DaysOffByRule: 40}, year, "Yes: no day without power in the year; 40 days off by your own rule"},
	} {
		if got := verdict(&c.a, c.s); got != c.want {
			t.Errorf("verdict(%+v, %v) = %q, want %q", c.a, c.s, got, c.want)
		}
	}
}

// Where most days without power are trips, and others are not, both are named, and nothing is said to be spare.
func TestWhyNamesBoth(t *testing.T) {
	r := &ledger.Run{Months: []ledger.Month{{Year: 2025, Month: time.December, Days: 31, NeedWh: 3100, HarvestWh: 2500}}}
	r.Answer.DaysWithoutPower, r.DaysByCause = 21, [ledger.NCauses]int{ledger.BatteryEmpty: 5, ledger.Overload: 16}
	got := why(r)
	for _, want := range []string{"power: 16 of the 21 days", "coincident peak", "deficit: December", "81 Wh a day for the 100"} {
		if !strings.Contains(got, want) || strings.Contains(got, "to spare") {
			t.Errorf("%q, want %q in it and nothing to spare", got, want)
		}
	}
	r.DaysByCause = [ledger.NCauses]int{ledger.Overload: 21}
	if got := why(r); !strings.Contains(got, "to spare") {
		t.Errorf("trips alone: %q", got)
	}
}

// Where the run holds fewer than three days before an outage, that is said.
// What is over by its volt-amperes alone is not called within the rating.
func TestPeakInVoltAmperes(t *testing.T) {
	r := invented.Hut().Run()
	r.Answer.CoincidentPeakW, r.Answer.CoincidentPeakVA, r.InverterVA = 280, 400, 375
	got := string(text(t, header(), r))
	if want := "280 W but 400 VA, MORE than the inverter's rating of 375 VA"; !strings.Contains(strings.Join(strings.Fields(got), " "), want) {
		t.Errorf("want %q in\n%s", want, got)
	}
	r.Answer.CoincidentPeakVA = 370
	if got := string(text(t, header(), r)); !strings.Contains(got, "280 W, within the inverter's rating of 300 W") {
		t.Error(got)
	}
}

func TestCutByVoltage(t *testing.T) {
	r := invented.Hut().Run()
	r.CutV, r.BackV = 24, 26
	if got := strings.Join(strings.Fields(string(text(t, header(), r))), " "); !strings.Contains(got, "; cut at 24.0 V too, back at 26.0 V") {
		t.Error(got)
	}
}

func TestDaysBeforeAnOutage(t *testing.T) {
	for days, want := range map[float64]string{0: "nothing before in the run, idle", 1.5: "40 % of the usual sun for the 1.5 days since the start, idle", 3: "40 % of the usual sun for 3 days, idle"} {
		if got := chain(&ledger.Chain{Days: days, SunShare: 0.4, StartSOC: 0.5}); !strings.HasPrefix(got, want) {
			t.Errorf("%v days: %q, want %q", days, got, want)
		}
	}
}

func TestNumbers(t *testing.T) {
	for _, c := range []struct {
		v        float64
		decimals int
		want     string
	}{
		{0, 5, "0"}, {math.Copysign(0, -1), 5, "0"}, {-1e-9, 5, "0"}, {1.5, 5, "1.5"}, {-0.000014, 5, "-0.00001"},
		{100.1, 6, "100.1"}, {2.0 / 3, 6, "0.666667"}, {1e12, 5, "1000000000000"}, {1e300, 5, "1" + strings.Repeat("0", 300)},
		{0.00001, 5, "0.00001"}, {12.00002, 5, "12.00002"},
	} {
		if got := string(appendNumber(nil, c.v, c.decimals)); got[:min(6, len(got))] != c.want[:min(6, len(c.want))] || len(got) != len(c.want) {
			t.Errorf("appendNumber(%v, %d) = %s, want %s", c.v, c.decimals, got, c.want)
		}
	}
	for _, c := range []struct {
		v    float64
		want string
	}{{-0.04, "0.0"}, {-0.06, "-0.1"}, {12.34, "12.3"}} {
		if got := number(c.v, 1); got != c.want {
			t.Errorf("number(%v, 1) = %q, want %q", c.v, got, c.want)
		}
	}
}

func TestWidthAndCut(t *testing.T) {
	for _, c := range []struct {
		s    string
		n    int
		want string
	}{
		{"lamp", 4, "lamp"}, {"lamps", 4, "la.."}, {"電池充電器", 7, "電池.."}, {"e\u0301te\u0301", 3, "e\u0301te\u0301"},
		{"a\u202eb\x1b[1m", 9, "ab [1m"},
	} {
		if got := cut(c.s, c.n); got != c.want || width(got) > c.n {
			t.Errorf("cut(%q, %d) = %q of width %d, want %q", c.s, c.n, got, width(got), c.want)
		}
	}
}

func TestJSONGolden(t *testing.T) {
	r := cases()["short"]
	r.Total[ledger.Array] += 1e-10 // a residual to print
	var b bytes.Buffer
	if err := JSON(&b, header(), r); err != nil {
		t.Fatal(err)
	}
	if !json.Valid(b.Bytes()) {
		t.Fatalf("not JSON:\n%s", b.Bytes())
	}
	// The residual's digits are noise of the last place, which differs between processors.
	residual := r.Total.Residual()
	golden(t, "short.json", bytes.Replace(b.Bytes(), []byte(strconv.FormatFloat(residual, 'g', 3, 64)), []byte("0"), 1))
	if bytes.Contains(b.Bytes(), []byte("null")) {
		t.Errorf("JSON holds null")
	}
}

func TestJSONRefusesNaN(t *testing.T) {
	r := cases()["short"]
	r.Answer.UnservedShare = math.NaN()
	var b bytes.Buffer
	if err := JSON(&b, header(), r); err == nil || b.Len() > 0 {
		t.Errorf("JSON of NaN: error %v and %d bytes, want an error and none", err, b.Len())
	}
}

func TestCSVGolden(t *testing.T) {
	r := cases()["short"]
	var b bytes.Buffer
	if err := CSV(&b, r.Hours); err != nil {
		t.Fatal(err)
	}
	head := b.Bytes()
	for i, n := 0, 0; i < len(head); i++ { // two days are enough to see the format
		if head[i] == '\n' {
			if n++; n == 49 {
				head = head[:i+1]
			}
		}
	}
	golden(t, "hourly.csv", head)
}

// TestCSVSumsToMonthsAndYear holds the promise that the sums of the file are the months and the year: each cell is
// rounded to 5 decimals, so a sum over n steps may be off by n x 0.5e-5 W x step.
func TestCSVSumsToMonthsAndYear(t *testing.T) {
	for name, r := range cases() {
		if r.Hours == nil || name == "huge" { // beyond 1e9 W the cells carry fewer digits
			continue
		}
		var b bytes.Buffer
		if err := CSV(&b, r.Hours); err != nil {
			t.Fatal(err)
		}
		table, err := csv.NewReader(&b).ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		column := map[string]int{}
		for i, name := range table[0] {
			column[name] = i
		}
		if len(table[0]) != 37 || len(column) != 37 {
			t.Fatalf("%d columns, %d names, want 37", len(table[0]), len(column))
		}
		cell := func(line []string, name string) float64 {
			i, ok := column[name]
			if !ok {
				t.Fatalf("no column %s", name)
			}
			v, err := strconv.ParseFloat(line[i], 64)
			if err != nil {
				t.Fatal(err)
			}
			return v
		}
		tol := 0.5e-5*r.Hours.StepH*float64(len(table)-1) + 1e-6
		for f := range ledger.NFlows {
			months := make(map[string]float64)
			year := 0.0
			for _, line := range table[1:] {
				end, err := time.Parse(time.RFC3339, line[0])
				if err != nil {
					t.Fatal(err)
				}
				wh := cell(line, f.String()+"_w") * r.Hours.StepH
				months[end.Add(-time.Hour).Format("2006-01")] += wh
				year += wh
			}
			if d := year - r.Total[f]; math.Abs(d) > tol {
				t.Errorf("%s: %v sums to %v Wh in the file, %v in the year, off by %v", name, f, year, r.Total[f], d)
			}
			for _, m := range r.Months {
				key := time.Date(m.Year, m.Month, 1, 0, 0, 0, 0, time.UTC).Format("2006-01")
				if d := months[key] - m.Wh[f]; math.Abs(d) > tol {
					t.Errorf("%s: %v sums to %v Wh in %s, want %v", name, f, months[key], key, m.Wh[f])
				}
			}
		}
		demand := 0.0
		for _, line := range table[1:] {
			demand += (cell(line, "ac_demand_w") + cell(line, "dc_demand_w")) * r.Hours.StepH
		}
		if d := demand - r.Total[ledger.Demand]; math.Abs(d) > 2*tol {
			t.Errorf("%s: ac_demand_w + dc_demand_w is %v Wh, demand %v, off by %v", name, demand, r.Total[ledger.Demand], d)
		}
	}
}

func TestInventedBooksClose(t *testing.T) {
	for name, r := range cases() {
		if got := r.Total.Residual(); got > 1e-9 {
			t.Errorf("%s: residual %v, want below 1e-9", name, got)
		}
	}
}

func compared() ([]string, []*ledger.Run) {
	hut := invented.Hut()
	frugal, more, night, bigger, worse := hut, hut, hut, hut, hut
	frugal.IdleW = 2
	more.ArrayW = 800
	night.OffFromHour, night.OffUntilHour = 1, 6
	bigger.CapacityWh = 5000
	worse.IdleW, worse.LampW = 12, 20
	return []string{"as drawn", "small inverter, frugal, with a long name", "more array", "off at night", "more 電池", "worse", "same"},
		[]*ledger.Run{hut.Run(), frugal.Run(), more.Run(), night.Run(), bigger.Run(), worse.Run(), hut.Run()}
}

func TestCompareGolden(t *testing.T) {
	names, runs := compared()
	var b bytes.Buffer
	if err := Compare(&b, header(), names, runs); err != nil {
		t.Fatal(err)
	}
	golden(t, "compare.txt", b.Bytes())
	atMost80(t, "compare", b.Bytes())
	b.Reset()
	if err := Compare(&b, header(), names[:1], runs[:1]); err != nil {
		t.Fatal(err)
	}
	atMost80(t, "compare of one", b.Bytes())
	b.Reset()
	if err := CompareJSON(&b, header(), names[:2], runs[:2]); err != nil {
		t.Fatal(err)
	}
	if !json.Valid(b.Bytes()) {
		t.Fatalf("not JSON:\n%s", b.Bytes())
	}
}

// The names over the columns are wrapped, not cut, up to three lines of them.
func TestCompareNames(t *testing.T) {
	var b strings.Builder
	heads(&b, []string{"base", "twice the panels", "outlets on the timetable", "averyveryverylongword and so much more than can be said"}, nameW, (columns-nameW)/4)
	for _, word := range []string{"twice the", "panels", "outlets on the", "timetable", "ongword and so"} {
		if !strings.Contains(b.String(), word) {
			t.Errorf("the head lacks %q:\n%s", word, b.String())
		}
	}
	if lines := strings.Split(b.String(), "\n"); len(lines) != headLines+1 || !strings.HasPrefix(strings.TrimLeft(lines[2], " "), "base ") {
		t.Errorf("the names do not stand on the numbers, in %d lines:\n%s", headLines, b.String())
	}
	atMost80(t, "heads", []byte(b.String()))
}

func TestDifference(t *testing.T) {
	run := func(f func(*ledger.Run)) *ledger.Run {
		r := &ledger.Run{CapacityWh: 1000}
		for m := range 12 {
			r.Months = append(r.Months, ledger.Month{Month: time.Month(m + 1), Days: 30})
		}
		r.Months[0].Days = 35 // 365 in all
		f(r)
		return r
	}
	base := run(func(r *ledger.Run) {
		r.Total[ledger.InverterIdle] = 192 * 365
		r.Total[ledger.Curtailed] = 300 * 365
		r.Total[ledger.Demand] = 500 * 365
		r.Answer.DaysWithoutPower = 15
		r.DaysByCause = [ledger.NCauses]int{ledger.BatteryEmpty: 6, ledger.Overload: 9}
	})
	for _, c := range []struct {
		name string
		f    func(*ledger.Run)
		want string
	}{
		{"idle", func(r *ledger.Run) {
			r.Total[ledger.InverterIdle] = 31 * 365
			r.Total[ledger.Curtailed] = 480 * 365
			r.Total[ledger.Demand] = 500 * 365
			r.DaysByCause = [ledger.NCauses]int{ledger.BatteryEmpty: 2, ledger.Overload: 9, ledger.ColdBarred: 1}
			r.Answer.DaysWithoutPower, r.Answer.DaysOffByRule = 3, 40
		}, "inverter idle falls from 192 to 31 Wh a day; that is 161 Wh a day the array need not find; " +
			"12 days fewer without power; 40 days are off by rule instead"},
		{"nothing", func(r *ledger.Run) {
			r.Total[ledger.InverterIdle] = 192 * 365
			r.Total[ledger.Curtailed] = 300 * 365
			r.Total[ledger.Demand] = 500 * 365
			r.Answer.DaysWithoutPower = 15
			r.DaysByCause = base.DaysByCause
		}, "no booked flow differs by 1 Wh a day; as many days without power (15)"},
		{"trips, with a trifle of energy", func(r *ledger.Run) {
			r.Total[ledger.InverterIdle] = 189 * 365
			r.Total[ledger.Curtailed] = 300 * 365
			r.Total[ledger.Demand] = 500 * 365
			r.Answer.DaysWithoutPower = 5
			r.DaysByCause = [ledger.NCauses]int{ledger.BatteryEmpty: 5}
		}, "days by overload fall from 9 to 0; days by battery empty fall from 6 to 5; 10 days fewer without power"},
		{"trips, and energy", func(r *ledger.Run) {
			r.Total[ledger.InverterIdle] = 31 * 365
			r.Total[ledger.Curtailed] = 480 * 365
			r.Total[ledger.Demand] = 500 * 365
			r.Answer.DaysWithoutPower = 17
			r.DaysByCause = [ledger.NCauses]int{ledger.BatteryEmpty: 6, ledger.Overload: 11}
		}, "days by overload rise from 9 to 11; inverter idle falls from 192 to 31 Wh a day; " +
			"that is 161 Wh a day the array need not find; 2 days more without power"},
	} {
		if got := difference(base, run(c.f)); got != c.want {
			t.Errorf("%s:\n got %s\nwant %s", c.name, got, c.want)
		}
	}
}

func TestWriteFiles(t *testing.T) {
	put := func(s string) func(io.Writer) error {
		return func(w io.Writer) error { _, err := io.WriteString(w, s); return err }
	}
	names := func(dir string) string {
		entries, err := os.ReadDir(dir)
		if err != nil {
			return err.Error()
		}
		var s []string
		for _, e := range entries {
			s = append(s, e.Name())
		}
		return strings.Join(s, " ")
	}
	top := t.TempDir()
	out := filepath.Join(top, "a", "b")
	broken := errors.New("broken")
	fail := func(w io.Writer) error { io.WriteString(w, "half"); return broken }

	if err := WriteFiles(out, []File{{"one", put("1")}, {"two", fail}}); !errors.Is(err, broken) {
		t.Errorf("error %v, want %v", err, broken)
	}
	if got := names(top); got != "" {
		t.Errorf("after a failure the folder holds %q, want nothing", got)
	}
	if err := WriteFiles(out, []File{{"one", put("1")}, {"two", put("2")}}); err != nil {
		t.Fatal(err)
	}
	if got := names(out); got != "one two" {
		t.Errorf("the folder holds %q, want one and two", got)
	}
	// What stood there before outlives a failure, a panic too, and gives way to a success.
	if err := WriteFiles(out, []File{{"one", put("new")}, {"three", fail}}); !errors.Is(err, broken) {
		t.Errorf("error %v, want %v", err, broken)
	}
	func() {
		defer func() { recover() }()
		WriteFiles(out, []File{{"one", put("new")}, {"three", func(io.Writer) error { panic("ours") }}})
	}()
	if got, _ := os.ReadFile(filepath.Join(out, "one")); string(got) != "1" || names(out) != "one two" {
		t.Errorf("one holds %q and the folder %q, want 1 and one two", got, names(out))
	}
	if err := WriteFiles(out, []File{{"one", put("new")}}); err != nil {
		t.Fatal(err)
	}
	if got, _ := os.ReadFile(filepath.Join(out, "one")); string(got) != "new" {
		t.Errorf("one holds %q, want new", got)
	}
	// A folder where a file should go, a file where the folder should be.
	if err := os.Mkdir(filepath.Join(out, "dir"), 0o777); err != nil {
		t.Fatal(err)
	}
	if err := WriteFiles(out, []File{{"four", put("4")}, {"dir", put("x")}}); err == nil || names(out) != "dir one two" {
		t.Errorf("error %v and %q, want an error and dir one two", err, names(out))
	}
	if err := WriteFiles(filepath.Join(out, "one"), []File{{"x", put("x")}}); err == nil {
		t.Errorf("no error when the folder is a file")
	}
	if err := WriteFiles(filepath.Join(out, "one", "sub"), []File{{"x", put("x")}}); err == nil {
		t.Errorf("no error when a folder above is a file")
	}
}

func BenchmarkCSVYear(b *testing.B) {
	h := invented.Hut().Run().Hours
	b.ReportAllocs()
	for b.Loop() {
		if err := CSV(io.Discard, h); err != nil {
			b.Fatal(err)
		}
	}
}

func TestWaitedInWords(t *testing.T) {
	days := make([]time.Time, 3)
	for want, w := range map[string]ledger.Waited{
		"packs asked for a charge 3 times, 2.5 h after plugging in on average, none of them only as the deadline had come": {Load: "packs", Begun: days, MeanH: 2.5},
		"packs asked for a charge 3 times, 2.5 h after plugging in on average, 2 of them only as the deadline had come":    {Load: "packs", Begun: days, MeanH: 2.5, AtDeadline: 2},
		"packs asked for a charge once, 2.5 h after plugging in":                                                           {Load: "packs", Begun: days[:1], MeanH: 2.5},
		"packs asked for a charge once, 2.5 h after plugging in, only as the deadline had come":                            {Load: "packs", Begun: days[:1], MeanH: 2.5, AtDeadline: 1},
		"packs never asked for a charge": {Load: "packs"},
	} {
		if got := waited(&ledger.Run{Waited: []ledger.Waited{w}}); got != want {
			t.Errorf("got  %q\nwant %q", got, want)
		}
	}
}

// What heat refused is told apart from what cold did, in the causes, the table, the outages and before them.
func TestHeatIsNotCold(t *testing.T) {
	r := cases()["short"]
	m := &r.Months[0]
	m.Wh[ledger.ChargeBarred] = 500 * float64(m.Days)
	m.HeatBarredWh = 300 * float64(m.Days)
	r.DaysByCause[ledger.ColdBarred], r.DaysHeatBarred = 3, 2
	r.Outages = []ledger.Outage{{Start: time.Date(2025, time.January, 2, 3, 4, 0, 0, time.UTC), Hours: 2, MustHaveHours: 2, Cause: ledger.ColdBarred, Hot: true, UnservedWh: 9,
		Chain: &ledger.Chain{Days: 3, SunShare: 1, BarredWh: 80, HeatWh: 80}}}
	var b strings.Builder
	if err := Text(&b, header(), r); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"cold-barred 1, heat-barred 2", "barred by cold 200", "barred by heat 300", "heat-barred, 9 Wh", "80 Wh barred by heat"} {
		if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), want) {
			t.Errorf("no %q in\n%s", want, b.String())
		}
	}
	for _, c := range []struct {
		heat, all float64
		want      string
	}{{0, 5, "cold"}, {5, 5, "heat"}, {2, 5, "cold or heat"}} {
		if got := barredBy(c.heat, c.all); got != c.want {
			t.Errorf("%v of %v Wh: %q, want %q", c.heat, c.all, got, c.want)
		}
	}
}

// The verdict on array and battery names cold first where most days are put to it, and the worst spell by its dates.
func TestWhyInWords(t *testing.T) {
	day := func(m time.Month, d int) time.Time { return time.Date(2025, m, d, 0, 0, 0, 0, time.UTC) }
	run := func(f func(r *ledger.Run)) *ledger.Run {
		r := &ledger.Run{}
		for m := range 12 {
			r.Months = append(r.Months, ledger.Month{Year: 2025, Month: time.Month(m + 1), Days: 30, NeedWh: 3000, HarvestWh: 3300})
		}
		r.Answer.DaysWithoutPower = 10
		f(r)
		return r
	}
	cold := func(days string) string {
		return "cold: the charge it refused would have covered " + days + " of the 10 days without power: first a warmer place, a heater, or a battery that charges in frost; then "
	}
	gives := "January, the design month, could give 110 Wh a day for the 100 wanted"
	for _, c := range []struct {
		f    func(r *ledger.Run)
		want string
	}{
		{func(r *ledger.Run) { r.DaysByCause[ledger.ColdBarred] = 10 }, cold("10") + gives},
		{func(r *ledger.Run) { r.DaysByCause[ledger.ColdBarred], r.DaysByCause[ledger.BatteryEmpty] = 9, 1 },
			cold("9") + gives + ", and 1 day is left, of an empty battery"},
		{func(r *ledger.Run) { r.DaysByCause[ledger.ColdBarred], r.Months[0].HarvestWh = 10, 2700 },
			cold("10") + "more array or less draw, as " + strings.Replace(gives, "110", "90", 1)},
		{func(r *ledger.Run) { r.DaysByCause[ledger.ColdBarred], r.DaysHeatBarred = 10, 10 },
			"heat: the charge it refused would have covered 10 of the 10 days without power: first a cooler place, or a battery that charges in such heat; then " + gives},
		{func(r *ledger.Run) {
			r.DaysByCause[ledger.ColdBarred], r.DaysHeatBarred, r.Total[ledger.Heater] = 10, 5, 1
		},
			"cold: the charge cold or heat refused would have covered 10 of the 10 days without power: first a warmer place, more heater, or a battery that charges in frost; then " + gives},
		{func(r *ledger.Run) {
			r.DaysByCause[ledger.BatteryEmpty] = 10
			r.SpellLackWh, r.SpellLackFrom, r.SpellLackAt = 900, day(time.January, 1), day(time.March, 6)
		}, "storage: " + gives + " with idle draw and losses; the worst spell, 1 Jan to 6 Mar, lacked 9.0 days of store"},
		// Without a day without power.
		{func(r *ledger.Run) { r.Answer.DaysWithoutPower = 0 }, "neither: " + gives + " with idle draw and losses"},
		{func(r *ledger.Run) { r.Answer.DaysWithoutPower, r.Months[0].HarvestWh = 0, 2700 },
			"neither: " + strings.Replace(gives, "110", "90", 1) + " with idle draw and losses; the battery makes up the rest"},
		{func(r *ledger.Run) {
			r.Answer.DaysWithoutPower, r.Months[0].HarvestWh = 0, 2700
			r.Months[0].Wh[ledger.Backup], r.Backup = 600, &ledger.Charged{Hours: 130, FuelL: 65}
		}, "neither, as long as the backup charger runs: " + strings.Replace(gives, "110", "90", 1) +
			" with idle draw and losses; it gave 20 Wh a day in that month, 130 h (65 l of fuel) in 360 days"},
		{func(r *ledger.Run) { r.Answer.DaysWithoutPower, r.Backup = 0, &ledger.Charged{Hours: 8} },
			"neither: " + gives + " with idle draw and losses; beside it the backup charger ran 8.0 h in 360 days"},
	} {
		if got := why(run(c.f)); got != c.want {
			t.Errorf(" got %s\nwant %s", got, c.want)
		}
	}
}

// Of an outage that finds the loads off already no load is named, nor what stood by.
func TestChainOfABoxAsleep(t *testing.T) {
	c := ledger.Chain{Days: 3, SunShare: 1.47, Off: true, AsleepWh: 740, AsleepBarred: true}
	want := "147 % of the usual sun for 3 days, the loads off already, 740 Wh not taken, all asleep with a flat battery too cold to charge; charge 0 % before"
	if got := chain(&c); got != want {
		t.Errorf(" got %s\nwant %s", got, want)
	}
}

// What a charger burnt in ten years is not for one.
func TestChargedInTenYears(t *testing.T) {
	r := &ledger.Run{Backup: &ledger.Charged{Hours: 3828.5, FuelL: 1914.2}}
	r.Total[ledger.Backup] = 1.5e6
	for i := range 120 {
		r.Months = append(r.Months, ledger.Month{Year: 2011 + i/12, Month: time.Month(i%12 + 1), Days: 31})
	}
	if got, want := charged(r), "ran 3828.5 h and burnt 1914.2 l of fuel in 10 years, 1500.0 kWh into the battery"; got != want {
		t.Errorf(" got %s\nwant %s", got, want)
	}
}

// The year's end cuts an outage in two, or off.
func TestOutagesAtTheEnds(t *testing.T) {
	day := func(m time.Month, d int) time.Time { return time.Date(2025, m, d, 0, 0, 0, 0, time.UTC) }
	r := &ledger.Run{Start: day(1, 1), End: day(13, 1), SettlePasses: 2, OffAtStart: true, OffAtEnd: true,
		Outages: []ledger.Outage{{Start: day(1, 1), Hours: 48}, {Start: day(3, 1), Hours: 5}, {Start: day(12, 30), Hours: 48}}}
	if got, want := newYear(r), "those of 30 Dec and 1 Jan are one, cut in two by the turn of the settled year: 96.0 h"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
	r.SettlePasses = 0
	if got := newYear(r); !strings.Contains(got, "both are longer") {
		t.Errorf("typed charge: %q", got)
	}
	r.OffAtEnd = false
	if got := newYear(r); !strings.HasPrefix(got, "the first outage") {
		t.Errorf("at the start alone: %q", got)
	}
	r.OffAtStart, r.OffAtEnd = false, true
	if got := newYear(r); !strings.HasPrefix(got, "the last outage") {
		t.Errorf("at the end alone: %q", got)
	}
	if r.OffAtEnd = false; newYear(r) != "" {
		t.Errorf("neither: %q", newYear(r))
	}
}

// Hours in which loads asked and an outage from end to end are two measures: told where they differ.
func TestPatternInWords(t *testing.T) {
	for want, p := range map[string]ledger.Pattern{
		"before 1 of the 2 outages three days had less than 60 % of the usual sun":                                          {Of: 1, Outages: 2, Dull: true},
		"before both outages kettle drew more than usual":                                                                   {Of: 2, Outages: 2, Load: "kettle"},
		"before 12 of the 24 outages kettle drew more than usual, from Monday on":                                           {Of: 12, Outages: 24, Load: "kettle", On: "Monday"},
		"before all 3 outages kettle drew more than usual, in a dull spell (three days of less than 60 % of the usual sun)": {Of: 3, Outages: 3, Load: "kettle", Dull: true},
	} {
		if got := pattern(p); got != want {
			t.Errorf("got  %s\nwant %s", got, want)
		}
	}
}

// Under the table stands what its rows mean, of those that stand in it.
func TestLegend(t *testing.T) {
	r := &ledger.Run{Months: []ledger.Month{{Year: 2025, Month: time.June, Days: 30}}}
	m := &r.Months[0]
	legend := func() string {
		var b strings.Builder
		table(&b, r, spanOf(r))
		_, text, _ := strings.Cut(b.String(), "days no power")
		_, text, _ = strings.Cut(text, "\n")
		return text
	}
	if got, want := legend(), "Curtailed: array could, battery full.\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
	m.Wh[ledger.NotStarted], m.Wh[ledger.OffPeak], m.Wh[ledger.Withheld] = 3000, 6000, 9000
	if got, want := legend(), "Not started: too dim, hot or snowy, or the battery flat or away. Off peak: not\n"+
		"at the panels' best voltage. Curtailed: array could, battery full. Withheld:\nyour rule.\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}

func TestTwoMeasures(t *testing.T) {
	r := &ledger.Run{Outages: []ledger.Outage{{Hours: 97.3, MustHaveHours: 50}, {Hours: 7.9, MustHaveHours: 7.9}, {Hours: 30}}}
	r.Answer.HoursWithoutPower, r.Answer.LongestOutageH = 57.9, 97.3
	var b strings.Builder
	answer(&b, header(), r)
	if want := "57.9 h; the longest outage 97.3 h (hours: those in which must-have loads asked; an outage: from its first moment to its last)"; !strings.Contains(strings.Join(strings.Fields(b.String()), " "), want) {
		t.Errorf("no %q in\n%s", want, b.String())
	}
	if r.Outages[0].MustHaveHours, r.Answer.HoursWithoutPower = 97.3, 105.2; twoMeasures(r) {
		t.Error("equal measures are told as two")
	}
}
