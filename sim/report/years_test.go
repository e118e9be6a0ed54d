package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"strconv"
	"strings"
	"testing"

	"tideover/sim/ledger"
	"tideover/sim/report/invented"
	"tideover/sim/study"
)

// record is n invented years, better ones for a larger share of sun.
func record(name string, n int, sun float64) *study.Record {
	rec := &study.Record{Name: name, CapacityWh: 1280, Settled: true, SettlePasses: 2, Warnings: []string{"an invented warning"},
		Notes: []string{"an invented note"}}
	for k := range n {
		days := max(0, (k*7%13)*2-int(10*sun))
		y := study.Year{CalendarYear: 2025 + k, StartSOC: 0.9, DaysWithoutPower: days, HoursWithoutPower: 11.5 * float64(days),
			LongestOutageH: 8 * float64(days), UnservedShare: float64(days) / 300, LowestSOC: 0.6 - 0.02*float64(days)}
		y.MonthDays[0], y.MonthDays[11] = days-days/3, days/3
		rec.Years = append(rec.Years, y)
		rec.Days += 365
	}
	for f := range rec.Total {
		rec.Total[f] = float64(n) * 1000 * (float64(f) + 10*sun)
	}
	return rec
}

func yearsText(t *testing.T, rec *study.Record) []byte {
	t.Helper()
	var b bytes.Buffer
	h := header()
	h.Carried = true
	if err := Years(&b, header(), rec, rec.Summary(), &OneYear{h, invented.Hut().Run()}); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestYearsGolden(t *testing.T) {
	golden(t, "many-years.txt", yearsText(t, record("base", 40, 0.3)))
	var b bytes.Buffer
	rec := record("base", 3, 0)
	if err := YearsJSON(&b, header(), rec, rec.Summary(), nil); err != nil {
		t.Fatal(err)
	}
	golden(t, "many-years.json", b.Bytes())
	b.Reset()
	if err := CompareYears(&b, header(), []*study.Record{record("base", 40, 0.3), record("more sun", 40, 0.8), record("less sun\nstill", 40, 0.29),
		record("same", 40, 0.3), record("a fourth variant with a long name", 40, 0)}); err != nil {
		t.Fatal(err)
	}
	golden(t, "compare-years.txt", b.Bytes())
	atMost80(t, "compare-years.txt", b.Bytes())
}

func TestYearsFitTheScreen(t *testing.T) {
	huge := record("huge", 50, 0)
	for k := range huge.Years {
		y := &huge.Years[k]
		y.DaysWithoutPower, y.HoursWithoutPower, y.UnservedShare, y.LowestSOC = 300+k, 8000.44+float64(k), 0.9+float64(k)/1000, 1
		for m := range y.MonthDays {
			y.MonthDays[m] = 31
		}
	}
	for name, rec := range map[string]*study.Record{
		"1 year": record("", 1, 0), "2 years": record("", 2, 0), "9 years": record("", 9, 0.2), "none": record("", 20, 3),
		"1000 years": record("", 1000, 0), "huge": huge,
	} {
		got := yearsText(t, rec)
		atMost80(t, name, got)
		ours, _, found := bytes.Cut(got, []byte("The year at one in ten"))
		if n := bytes.Count(ours, []byte("\n")); !found || n > 32 {
			t.Errorf("%s takes %d lines before the year in full, want about 30", name, n)
		}
		if !bytes.Contains(got, []byte("carried over from the year before")) {
			t.Errorf("%s: the year in full does not say that its charge is carried over", name)
		}
		if bytes.Contains(got, []byte("Inf")) || bytes.Contains(got, []byte("NaN")) {
			t.Errorf("%s holds Inf or NaN:\n%s", name, ours)
		}
		var b bytes.Buffer
		if err := CompareYears(&b, header(), []*study.Record{rec, rec}); err != nil {
			t.Fatal(err)
		}
		atMost80(t, name+" compared", b.Bytes())
		b.Reset()
		if err := YearsJSON(&b, header(), rec, rec.Summary(), &OneYear{header(), invented.Hut().Run()}); err != nil || !json.Valid(b.Bytes()) {
			t.Errorf("%s: JSON: %v", name, err)
		}
		b.Reset()
		if err := CompareYearsJSON(&b, header(), []*study.Record{rec, rec}); err != nil || !json.Valid(b.Bytes()) {
			t.Errorf("%s compared: JSON: %v", name, err)
		}
	}
}

func TestYearsVerdict(t *testing.T) {
	days := func(n int, days ...int) *study.Summary {
		rec := &study.Record{Years: make([]study.Year, n)}
		for k, d := range days {
			rec.Years[k].DaysWithoutPower = d
		}
		return rec.Summary()
	}
	for _, c := range []struct {
		s    *study.Summary
		want string
	}{
		{days(1), "Yes: no day without power in the year"},
		{days(1, 4), "No: 4 days without power in the year"},
		{days(40), "Yes: no day without power in any of 40 years"},
		{days(100, 3, 1), "Yes, in nine years of ten: no day without power in 98 of 100 years"},
		{days(10, 3), "Nearly: no day without power in 9 of 10 years, too few to be sure of nine in ten"},
		{days(10, 3, 5), "No: days without power in 2 of 10 years, at most 3 in nine years of ten"},
	} {
		if got := yearsVerdict(c.s); got != c.want {
			t.Errorf("%q, want %q", got, c.want)
		}
	}
}

func TestShown(t *testing.T) {
	open := study.Range{Low: math.Inf(-1), High: math.Inf(1)}
	for _, c := range []struct {
		d    study.Difference
		n    int
		want string
	}{
		{study.Difference{Range: open}, 20, "as many days without power in each of the 20 years"},
		{study.Difference{Mean: -3, Range: study.Range{Low: -5, High: -1}, Fewer: 15, More: 5, Shown: true}, 20,
			"3.0 fewer days a year without power (1.0 to 5.0)"},
		{study.Difference{Mean: 3, Range: study.Range{Low: 1, High: 5}, Fewer: 5, More: 15, Shown: true}, 20,
			"3.0 more days a year without power (1.0 to 5.0)"},
		{study.Difference{Mean: -1, Range: study.Range{Low: -3, High: 1}, Fewer: 11, More: 9}, 20,
			"no difference that 20 years can show: 1.0 fewer days a year without power, between 3.0 fewer and 1.0 more"},
		{study.Difference{Mean: -0.5, Range: open, Fewer: 6, BySign: true, Shown: true}, 20,
			"0.5 fewer days a year without power; fewer in 6 of 20 years, more in 0: too few for a range, but not chance (sign test)"},
		{study.Difference{Mean: -0.1, Range: open, Fewer: 2, More: 1, BySign: true}, 20,
			"no difference that 20 years can show: fewer days without power in 2, more in 1, as many in the rest"},
		{study.Difference{Mean: 2, Range: open, More: 1, BySign: true}, 1,
			"2.0 more days without power; but one year is one draw and shows nothing sure"},
	} {
		if got := shown(c.d, c.n); got != c.want {
			t.Errorf("%+v: %q, want %q", c.d, got, c.want)
		}
	}
}

func TestYearsCSV(t *testing.T) {
	rec := record("base", 5, 0)
	var b bytes.Buffer
	if err := YearsCSV(&b, rec); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 6 {
		t.Fatalf("%d rows, %v; want 6", len(rows), err)
	}
	rec.Backup, rec.Years[4].BackupHours, rec.Years[4].FuelL = true, 12.5, 8.25
	b.Reset()
	if err := YearsCSV(&b, rec); err != nil {
		t.Fatal(err)
	}
	if lines := strings.Split(b.String(), "\n"); !strings.HasSuffix(lines[0], "_dec,backup_hours,fuel_l") || !strings.HasSuffix(lines[5], ",12.5,8.25") {
		t.Errorf("with a backup charger: %s\n%s", lines[0], lines[5])
	}
	if got := strings.Join(rows[0][:8], " "); got != "calendar_year days_without_power days_off_by_rule hours_without_power_h longest_outage_h unserved_share lowest_soc start_soc" {
		t.Errorf("columns %s", got)
	}
	for k, y := range rec.Years {
		row := rows[k+1]
		if row[0] != strconv.Itoa(2025+k) || row[1] != strconv.Itoa(y.DaysWithoutPower) || row[8] != strconv.Itoa(y.MonthDays[0]) || row[19] != strconv.Itoa(y.MonthDays[11]) {
			t.Errorf("year %d: %v, want %+v", k, row, y)
		}
		if v, err := strconv.ParseFloat(row[6], 64); err != nil || math.Abs(v-y.LowestSOC) > 1e-6 {
			t.Errorf("year %d: lowest charge %s, want %v", k, row[6], y.LowestSOC)
		}
	}
}

func TestCarriedCharge(t *testing.T) {
	h := header()
	h.Carried = true
	r := &ledger.Run{}
	if got := starting(h, r); !strings.HasSuffix(got, "carried over from the year before") {
		t.Errorf("starting charge %q", got)
	}
	if got := starting(header(), r); !strings.HasSuffix(got, "as typed") {
		t.Errorf("starting charge %q", got)
	}
}

// Where there is a charger beside the sun, its hours and its fuel stand among the years' numbers.
func TestYearsTellTheBackup(t *testing.T) {
	rec := record("base", 10, 0.3)
	if s := string(yearsText(t, rec)); strings.Contains(s, "Backup, h") || strings.Contains(s, "Fuel") {
		t.Errorf("there is no charger:\n%s", s)
	}
	rec.Backup = true
	for k := range rec.Years {
		rec.Years[k].BackupHours, rec.Years[k].FuelL = 100+10*float64(k), 50+5*float64(k)
	}
	s := yearsText(t, rec)
	atMost80(t, "years", s)
	for _, want := range []string{"\nBackup, h a year ", "\nFuel, l a year ", " 190\n", " 95.0\n"} {
		if !strings.Contains(string(s), want) {
			t.Errorf("no %q in\n%s", want, s)
		}
	}
	var b bytes.Buffer
	if err := YearsJSON(&b, header(), rec, rec.Summary(), nil); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(b.String(), `"fuel_l": 95`) {
		t.Error("the fuel of the last year is not in the JSON")
	}
}
