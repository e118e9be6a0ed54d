package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"

	"tideover/sim/precheck"
)

// checked is an invented result with a line of each verdict, and what is long, wide or missing.
func checked() *precheck.Result {
	nan := math.NaN()
	return &precheck.Result{
		Cold: "-14 C, a guess: the coldest hour of the weather, -4 C, less 10 K",
		Lines: []precheck.Line{
			{Group: precheck.Panels, Key: "open_circuit_cold", Subject: "open circuit at -14 C", Number: 28.2, Limit: 75, Unit: "V", Rule: "NEC 690.7(A)(2)",
				Working: "1 x 24.3 V x 1.16", Verdict: precheck.Tight, Cure: "type site.record_low_c"},
			{Group: precheck.Panels, Key: "max_power_hot", Subject: "maximum power, cells at 77 C", Number: 16.3, Limit: 15.2, AtLeast: true, Unit: "V", Rule: "its data sheet"},
			{Group: precheck.Battery, Key: "discharge_current", Subject: "current given, battery at 11.0 V", Number: 79.6, Limit: 200, Unit: "A", Rule: "common practice",
				Verdict: precheck.Unknown, Cure: "hold it against the board's"},
			{Group: precheck.Inverter, Key: "coincident_peak", Subject: "loads on at once", Number: 123456789, Limit: 800, Unit: "W", Rule: "common practice",
				Working: "first on Fri 3 Jan 09:00: " + strings.Repeat("a load with a long name 100 W, ", 4) + "\x1b[31mred 1 W", Verdict: precheck.Fail, Cure: "stagger them"},
			{Group: precheck.Outlets, Key: "neutral_earth_bond", Subject: "neutral-earth bond at one point", Number: nan, Limit: nan, Rule: "BS 7671 551"},
		},
		Ways: []precheck.Way{
			{SubArray: 1, InSeries: 2, Parallel: 1, ColdV: 56.4, HotV: 32.7, CurrentA: 12.5, Verdict: precheck.Fail, Why: "volts in the cold"},
			{SubArray: 1, InSeries: 3, Parallel: 1, ColdV: 71.9, HotV: 49.1, CurrentA: 12.5, Verdict: precheck.Tight, Why: "volts in the cold"},
			{SubArray: 2, InSeries: 1, Parallel: 2, ColdV: 28.2, HotV: 16.3, CurrentA: 25, Typed: true},
		},
		Cautions: []precheck.Caution{{Short: "Cold, -14 C: never charge lithium cells below 0 C; see that its board bars it.",
			Full: "Cold: down to -14 C. Lithium cells must not be charged below 0 C; see that the board bars it."}},
	}
}

func TestCheckGolden(t *testing.T) {
	var b bytes.Buffer
	if err := Check(&b, header(), checked(), []string{"a warning"}, []string{"a note"}); err != nil {
		t.Fatal(err)
	}
	atMost80(t, "check", b.Bytes())
	golden(t, "check.txt", b.Bytes())
	if strings.Contains(b.String(), "\x1b") {
		t.Error("a control character of a load's name is printed")
	}
	b.Reset()
	if err := CheckJSON(&b, header(), checked(), nil, nil); err != nil {
		t.Fatal(err)
	}
	golden(t, "check.json", b.Bytes())
	var got struct {
		Fails, Tight, Unknown int
		Lines                 []struct {
			Key, Verdict  string
			Number, Limit *float64
		}
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.Fails != 1 || got.Tight != 1 || got.Unknown != 1 || len(got.Lines) != 5 || got.Lines[4].Number != nil || *got.Lines[0].Limit != 75 {
		t.Errorf("%+v", got)
	}
}

func TestCheckVerdict(t *testing.T) {
	lines := func(v ...precheck.Verdict) *precheck.Result {
		r := &precheck.Result{}
		for _, v := range v {
			r.Lines = append(r.Lines, precheck.Line{Verdict: v})
		}
		return r
	}
	for want, r := range map[string]*precheck.Result{
		"All 2 lines pass": lines(precheck.Pass, precheck.Pass),
		"Nothing fails; settle before buying: 1 tight, 2 unknown": lines(precheck.Unknown, precheck.Tight, precheck.Unknown),
		"Don't buy it like this: 1 line fails":                    lines(precheck.Fail, precheck.Pass),
		"Don't buy it like this: 2 lines fail; 1 unknown":         lines(precheck.Fail, precheck.Fail, precheck.Unknown),
	} {
		if got := checkVerdict(r); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// What is a hair over its limit does not look as if it were at it, and what is passed of cables stands by circuit.
func TestCheckLines(t *testing.T) {
	l := precheck.Line{Number: 3.05, Limit: 3, Unit: "%", Verdict: precheck.Tight}
	if is, allowed := sides(&l); is != "3.05 %" || allowed != "<= 3 %" {
		t.Errorf("%q %q", is, allowed)
	}
	l.Number = 2.98
	if is, _ := sides(&l); is != "3.0 %" {
		t.Errorf("%q", is)
	}
	line := func(key, subject string) precheck.Line {
		return precheck.Line{Group: precheck.Cables, Key: key, Subject: subject, Number: 1, Limit: 2, Unit: "A", Rule: "common practice"}
	}
	r := &precheck.Result{Lines: []precheck.Line{line("array_drop", "array drop"), line("array_ampacity", "array carries"), line("controller_drop", "controller drop")}}
	if text := checkText(header(), r, nil, nil, true, ""); !strings.Contains(text, "pass    array drop: 1 A <= 2 A; array carries: 1 A <= 2 A.\n        controller drop: 1 A <= 2 A.\n") {
		t.Errorf("the page is\n%s", text)
	}
}
