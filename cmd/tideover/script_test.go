package main

import (
	"encoding/json"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/rogpeppe/go-internal/testscript"

	"tideover/sim/ledger"
	"tideover/weather/climate"
	"tideover/weather/hourfile"
)

func TestMain(m *testing.M) {
	testscript.Main(m, map[string]func(){"tideover": func() { os.Exit(run(os.Args[1:], os.Stdout, os.Stderr)) }})
}

// TestScripts runs one script per behaviour: arguments, stdout, stderr, exit status, files left behind.
func TestScripts(t *testing.T) {
	scenarios, err := filepath.Abs(filepath.Join("..", "..", "scenarios"))
	if err != nil {
		t.Fatal(err)
	}
	shared, err := filepath.Abs(filepath.Join("..", "..", "..", "shared"))
	if err != nil {
		t.Fatal(err)
	}
	testscript.Run(t, testscript.Params{
		Dir: filepath.Join("testdata", "script"),
		Setup: func(e *testscript.Env) error {
			e.Setenv("SCENARIOS", scenarios)
			e.Setenv("SHARED", shared)
			return nil
		},
		Condition: func(cond string) (bool, error) {
			switch cond {
			case "shared": // the real weather files lie beside the repository
				_, err := os.Stat(shared)
				return err == nil, nil
			case "root":
				return os.Geteuid() == 0, nil
			}
			return false, fmt.Errorf("no condition is called %q", cond)
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"status": status, "narrow": narrow, "wholejson": wholeJSON, "sums": sums, "holds": holds, "year": year, "bad": bad,
		},
	})
}

// status N: the last command of exec ended with N. Testscript knows only failure, so the program is run here.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 1 {
		ts.Fatalf("usage: status N ARGS...")
	}
	err := ts.Exec("tideover", args[1:]...)
	got := "0"
	if err != nil {
		got = strings.TrimPrefix(err.Error(), "exit status ")
	}
	if got != args[0] {
		ts.Fatalf("tideover %s: exit status %s, want %s", strings.Join(args[1:], " "), got, args[0])
	}
}

// narrow FILE: no line is wider than 80 columns, and none holds a control character.
func narrow(ts *testscript.TestScript, neg bool, args []string) {
	for i, line := range strings.Split(ts.ReadFile(args[0]), "\n") {
		if len([]rune(line)) > 80 {
			ts.Fatalf("line %d is %d columns wide: %s", i+1, len([]rune(line)), line)
		}
		if strings.ContainsFunc(line, func(r rune) bool { return r < ' ' }) {
			ts.Fatalf("line %d holds a control character: %q", i+1, line)
		}
	}
}

type result struct {
	Answer map[string]any     `json:"answer"`
	Ledger map[string]float64 `json:"ledger_wh"`
	Months []struct {
		Ledger map[string]float64 `json:"ledger_wh"`
	} `json:"months"`
	Outages []map[string]any `json:"outages"`
	Warn    []string         `json:"warnings"`
}

func read(ts *testscript.TestScript, file string) (r result) {
	if err := json.Unmarshal([]byte(ts.ReadFile(file)), &r); err != nil {
		ts.Fatalf("%s: %v", file, err)
	}
	return r
}

// wholeJSON FILE: every key that programs rely on is there, and the four balances close.
func wholeJSON(ts *testscript.TestScript, neg bool, args []string) {
	r := read(ts, args[0])
	for _, key := range []string{"days_without_power", "days_off_by_rule", "days_wholly_dark", "hours_without_power", "longest_outage_h",
		"unserved_share", "lowest_soc", "lowest_soc_time", "start_soc", "coincident_peak_w"} {
		if _, ok := r.Answer[key]; !ok {
			ts.Fatalf("answer has no %s", key)
		}
	}
	if r.Warn == nil || r.Outages == nil || len(r.Months) == 0 {
		ts.Fatalf("warnings %v, outages %v, %d months", r.Warn, r.Outages, len(r.Months))
	}
	for _, o := range r.Outages {
		for _, key := range []string{"start", "hours", "cause", "unserved_wh"} {
			if _, ok := o[key]; !ok {
				ts.Fatalf("an outage has no %s: %v", key, o)
			}
		}
	}
	l := r.Ledger
	for f := range ledger.NFlows {
		if _, ok := l[f.String()]; !ok {
			ts.Fatalf("ledger_wh has no %v", f)
		}
		var months float64
		for _, m := range r.Months {
			months += m.Ledger[f.String()]
		}
		if math.Abs(months-l[f.String()]) > 1e-4 {
			ts.Fatalf("%v: the months sum to %v, the year is %v", f, months, l[f.String()])
		}
	}
	for what, gap := range map[string]float64{
		"array": l["array"] - l["not_started"] - l["off_peak"] - l["clipped"] - l["charge_barred"] - l["curtailed"] - l["drawn"],
		"bus": l["drawn"] + l["backup"] - l["controller_loss"] - l["wiring_loss"] - l["battery_loss"] - l["store_change"] -
			l["inverter_idle"] - l["inverter_loss"] - l["standby"] - l["heater"] - l["served_ac"] - l["served_dc"],
		"battery": l["battery_in"] - l["battery_out"] - l["battery_loss"] - l["store_change"],
		"loads":   l["demand"] - l["served"] - l["unserved"] - l["withheld"],
	} {
		if math.Abs(gap) > 1e-9*(l["array"]+l["battery_in"]+l["battery_out"])+1e-5 { // printed to 1e-6 Wh
			ts.Fatalf("%s: a gap of %v Wh", what, gap)
		}
	}
	if l["sunlight"] <= l["array"] || l["residual"] < 0 || l["residual"] > 1e-9 {
		ts.Fatalf("sunlight %v, array %v, residual %v", l["sunlight"], l["array"], l["residual"])
	}
}

// sums CSV JSON STEPH: the columns of the hourly file times the step sum to the ledger.
func sums(ts *testscript.TestScript, neg bool, args []string) {
	lines := strings.Split(strings.TrimSpace(ts.ReadFile(args[0])), "\n")
	r := read(ts, args[1])
	stepH, err := strconv.ParseFloat(args[2], 64)
	if err != nil {
		ts.Fatalf("%v", err)
	}
	names := strings.Split(lines[0], ",")
	total := make([]float64, len(names))
	for _, line := range lines[1:] {
		for i, cell := range strings.Split(line, ",") {
			if i == 0 {
				continue
			}
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				ts.Fatalf("%s: %v", names[i], err)
			}
			total[i] += v * stepH
		}
	}
	for f := range ledger.NFlows {
		i := slices.Index(names, f.String()+"_w")
		if i < 0 {
			ts.Fatalf("no column %s_w in %v", f, names)
		}
		// Five decimals of a watt over a year of steps: half a unit each, and not all one way.
		if d := total[i] - r.Ledger[f.String()]; math.Abs(d) > 5e-6*float64(len(lines))*stepH {
			ts.Fatalf("%v: the hours sum to %v Wh, the year is %v", f, total[i], r.Ledger[f.String()])
		}
	}
	want := "time ghi_wm2 dni_wm2 dhi_wm2 air_temp_c plane_wm2 cell_temp_c"
	if got := strings.Join(names[:7], " "); got != want {
		ts.Fatalf("first columns %s, want %s", got, want)
	}
	want = "ac_demand_w dc_demand_w battery_w battery_v battery_temp_c soc"
	if got := strings.Join(names[len(names)-6:], " "); got != want {
		ts.Fatalf("last columns %s, want %s", got, want)
	}
}

// holds DIR NAMES...: the folder holds these files and nothing else.
func holds(ts *testscript.TestScript, neg bool, args []string) {
	list, err := os.ReadDir(ts.MkAbs(args[0]))
	if err != nil {
		ts.Fatalf("%v", err)
	}
	var names []string
	for _, f := range list {
		names = append(names, f.Name())
	}
	if want := slices.Sorted(slices.Values(args[1:])); fmt.Sprint(names) != fmt.Sprint(want) {
		ts.Fatalf("%s holds %v, want %v", args[0], names, want)
	}
}

// year FILE PLACE: a synthetic year of a known place as a weather file.
func year(ts *testscript.TestScript, neg bool, args []string) {
	p, err := climate.Find(args[1])
	ts.Check(err)
	f, err := os.Create(ts.MkAbs(args[0]))
	ts.Check(err)
	defer f.Close()
	ts.Check(hourfile.Write(f, climate.Generate(p, 2025, 1, 0)))
}

// bad FROM TO: the same weather with a word where line 100 has its light.
func bad(ts *testscript.TestScript, neg bool, args []string) {
	lines := strings.Split(ts.ReadFile(args[0]), "\n")
	cells := strings.Split(lines[99], ",")
	cells[1] = "bright"
	lines[99] = strings.Join(cells, ",")
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(strings.Join(lines, "\n")), 0o644))
}
