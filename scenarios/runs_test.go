package scenarios

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tideover/sim"
	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/ledger"
	"tideover/sim/limit"
	"tideover/sim/precheck"
	"tideover/sim/study"
	"tideover/weather"
)

// week is seven days of weather, three dark and frosty, four bright, somewhere in a year: a scenario's site where it pins
// one. Its light is a half sine from 6 to 18 o'clock; no model knows the difference.
func week(s *Scenario, pick int) *weather.Year {
	site := weather.Site{Name: "week", LatDeg: 47, LonDeg: 8, OffsetH: 1}
	if c := s.Site.Climate; c != nil {
		site.LatDeg, site.LonDeg, site.OffsetH = c.LatDeg, c.LonDeg, c.OffsetH
	}
	if !math.IsNaN(s.Site.LatDeg) {
		site.LatDeg, site.LonDeg = s.Site.LatDeg, s.Site.LonDeg
	}
	if !math.IsNaN(s.Site.OffsetH) {
		site.OffsetH = s.Site.OffsetH
	}
	y := &weather.Year{Site: site, StepMin: 60, GHIWm2: make([]float64, 168), TempC: make([]float64, 168)}
	y.Start = time.Date(s.Site.CalendarYear, time.January, 1+pick%359, 0, 0, 0, 0, site.Zone())
	for i := range y.GHIWm2 {
		peak, mean := 40.0, -6.0
		if i >= 72 {
			peak, mean = 800, 8
		}
		sun := math.Sin(math.Pi * (float64(i%24) + 0.5 - 6) / 12)
		y.GHIWm2[i], y.TempC[i] = peak*max(0, sun), mean+5*sun
	}
	return y
}

// runs holds a scenario to the promise that whatever validates runs, balances and keeps within its bounds.
func runs(t interface {
	Helper()
	Fatalf(string, ...any)
}, text string, s *Scenario, pick int) {
	t.Helper()
	y := week(s, pick)
	p, err := s.Place(y, true)
	if err != nil {
		t.Fatalf("%v\n%s", err, text)
	}
	prepared := sim.Prepare(p.System, y)
	for _, l := range precheck.Check(&precheck.Input{System: p.System, RecordLowC: s.Site.RecordLowC, LowestC: slices.Min(y.TempC),
		HighestC: slices.Max(y.TempC), Peak: prepared.Peak(), CoeffTyped: s.VoltageCoeffTyped}).Lines {
		if (l.Verdict == precheck.Pass) != (l.Cure == "") || math.IsInf(l.Number, 0) || math.IsInf(l.Limit, 0) || l.Verdict == precheck.Pass && !l.AtLeast && l.Number > l.Limit {
			t.Fatalf("variant %q: checked: %+v\n%s", s.Variant, l, text)
		}
	}
	r, err := prepared.Run(true)
	if err != nil {
		t.Fatalf("day %d, variant %q: %v\n%s", pick%359, s.Variant, err, text)
	}
	switch st, err := study.NewStagger(p.System, y, prepared, r); {
	case err != nil:
		t.Fatalf("day %d, variant %q: staggered: %v\n%s", pick%359, s.Variant, err, text)
	case st != nil && st.Changes != nil && (st.After.Trips > 0 || sim.Prepare(st.System, y).Overloads() > 0 || len(st.Alone) > 0):
		t.Fatalf("day %d, variant %q: staggered: %+v\n%s", pick%359, s.Variant, st, text)
	}
	if !(r.Residual() <= 1e-9) {
		t.Fatalf("day %d, variant %q: residual %v\n%s", pick%359, s.Variant, r.Residual(), text)
	}
	for f, wh := range r.Total {
		// A flow that is a difference of others may be off by rounding, next to the largest of them.
		if flow := ledger.Flow(f); !(wh >= -1e-9*(1+r.Total[ledger.Array]+r.Total[ledger.Demand]+r.Total[ledger.BatteryIn]) || flow == ledger.StoreChange) || math.IsInf(wh, 0) || math.IsNaN(wh) {
			t.Fatalf("day %d, variant %q: %v is %v Wh\n%s", pick%359, s.Variant, flow, wh, text)
		}
	}
	for i, soc := range r.Hours.SOC {
		if !(soc >= -1e-9 && soc <= 1+1e-9) {
			t.Fatalf("day %d, variant %q: state of charge %v after step %d\n%s", pick%359, s.Variant, soc, i, text)
		}
	}
	a := r.Answer
	if !(a.UnservedShare >= 0 && a.UnservedShare <= 1+1e-9) || !(a.HoursWithoutPower >= 0 && a.HoursWithoutPower <= 170) || a.DaysWithoutPower > 8 {
		t.Fatalf("day %d, variant %q: %+v\n%s", pick%359, s.Variant, a, text)
	}
}

// FuzzRun: whatever text decodes runs and balances.
func FuzzRun(f *testing.F) {
	for name, src := range rightFiles(f) {
		if len(src) < 4000 { // the starters are long, and the same keys
			f.Add(string(src), uint16(len(name)))
		}
	}
	f.Add(everyKey, uint16(80))
	f.Fuzz(func(t *testing.T, text string, pick uint16) {
		file, err := DecodeBeside("cabin.yaml", []byte(text), invented)
		if err != nil {
			return
		}
		runs(t, text, file.Base, int(pick))
		for _, v := range file.Variants[:min(1, len(file.Variants))] {
			runs(t, text, v, int(pick))
		}
	})
}

// some are words for the keys that only the boxes can read.
var some = map[string][]string{
	"azimuth_deg": {"equator", "0", "90", "359.9", "180"}, "start_soc": {"settled", "0", "0.5", "1"}, "temp_comp_mv_per_cell_k": {"battery", "0", "-5", "-3.3"},
	"days": {"mon", "weekend", "[tue, thu]", "every day"}, "hours": {`"22:00 to 06:00"`, `"00:00 to 24:00"`, `["06:10 to 07:45", "12:00 to 12:01"]`},
	"season": {`"1 Oct to 31 Mar"`, "jun", `["1 Jan to 5 Jan", "20 Feb to 3 Aug"]`}, "at": {`"00:00"`, `"23:59"`, `"08:30"`},
	"unplug": {"never", `"17:00"`, `"00:00"`}, "zone": {"Europe/Amsterdam", "Australia/Lord_Howe", "America/Havana", "UTC"},
	"wake": {"by_hand", "daily at 07:00", "daily at 23:59"}, "woken_at": {`"08:00"`, `"00:00"`},
	"first_day": {"3 Mar", "31 Dec", "29 Feb"}, "away": {"jul", `["24 Dec to 1 Jan", "1 Apr"]`},
	"horizon": nil, "climate": {"Cairo", "Juneau AK", "Wellington"},
}

// value draws something that may be right for a key: anywhere in its range, its ends more often.
func drawn(t *rapid.T, k limit.Key) string {
	switch k.Kind {
	case limit.Number, limit.Whole:
		lo, hi := -1e4, 1e4
		if k.Range.HasLo {
			lo = k.Range.Lo
		}
		if k.Range.HasHi {
			hi = k.Range.Hi
		}
		var v float64
		switch rapid.IntRange(0, 15).Draw(t, "where") {
		case 0:
			if v = lo; k.Range.LoOpen {
				v = lo + 1e-5*(hi-lo) // what six digits can tell
			}
		case 1:
			v = hi
		case 2:
			v = rapid.Float64Range(lo, hi).Draw(t, "between")
		case 3: // near zero or far from it
			v = math.Pow(10, rapid.Float64Range(-8, 8).Draw(t, "power"))
		default: // about what its example says
			_, _ = fmt.Sscan(k.Example, &v)
			v *= rapid.Float64Range(0.5, 1.8).Draw(t, "times")
		}
		v = min(max(v, lo), hi)
		if k.Kind == limit.Whole {
			v = math.Round(v)
		} else if v, _ = roundTo(v, 6); v == 0 {
			v = 0 // no minus zero
		}
		return limit.Plain(v)
	case limit.Flag:
		return rapid.SampledFrom([]string{"true", "false"}).Draw(t, "flag")
	case limit.Choice:
		return rapid.SampledFrom(k.Choices).Draw(t, "choice")
	case limit.Words:
		if words := some[k.Name]; words != nil {
			return rapid.SampledFrom(words).Draw(t, "words")
		}
	}
	return ""
}

func roundTo(v float64, digits int) (float64, error) {
	var out float64
	_, err := fmt.Sscan(fmt.Sprintf("%.*g", digits, v), &out)
	return out, err
}

// drawSection writes some of the keys of a box, those that must be typed among them.
func drawSection(t *rapid.T, b *strings.Builder, indent string, box box, fixed map[string]string) {
	for _, k := range box.Keys() {
		v, ok := fixed[k.Name]
		switch {
		case ok:
		case !k.Need && rapid.IntRange(0, 3).Draw(t, "typed "+k.Name) > 0:
			continue
		case k.Need && rapid.IntRange(0, 3).Draw(t, "odd "+k.Name) > 0:
			v = k.Example
		default:
			v = drawn(t, k)
		}
		if v != "" {
			fmt.Fprintf(b, "%s%s: %s\n", indent, k.Name, v)
		}
	}
}

// together draws the keys of an inverter or an all-in-one box that go with each other, or leaves them out.
func together(t *rapid.T, fixed map[string]string, mode string, station bool) {
	set := func(key string, typed bool, lo, hi float64) {
		if fixed[key] = ""; typed {
			fixed[key] = limit.Plain(math.Round(1000*rapid.Float64Range(lo, hi).Draw(t, key)) / 1000)
		}
	}
	maybe := func(what string) bool { return rapid.IntRange(0, 2).Draw(t, what) == 0 }
	set("search_threshold_w", mode == "search", 0.1, 100)
	set("search_w", maybe("search"), 0, 3)
	off := mode != "on_demand" && maybe("auto-off")
	set("auto_off_w", off, 0.1, 60)
	set("auto_off_after_h", off, 0.01, 48)
	if fixed["wake"] = ""; off {
		fixed["wake"] = rapid.SampledFrom(some["wake"]).Draw(t, "wake")
	}
	set("off_w", maybe("off"), 0, 2)
	rated := !maybe("of any rating")
	if watts, idle := "rated_w", "idle_w"; rated {
		if station {
			watts, idle = "output_w", "outlets_on_w"
		}
		fixed[watts], fixed[idle] = "1000", "12"
	}
	set("rated_va", rated && maybe("va"), 1000, 2000)
	set("rating_30min_w", rated && maybe("30 min"), 1000, 3000)
	set("surge_w", rated && maybe("surge"), 3000, 6000)
	sheet := maybe("data sheet")
	for _, at := range []string{"efficiency_10", "efficiency_50", "efficiency_100"} {
		set(at, sheet, 0.5, 0.999)
	}
	set("cutoff_v", !station && maybe("cut-off"), 0, 9)
	if station {
		usable := maybe("usable")
		if usable {
			fixed["energy_wh"] = "1024"
		}
		set("usable_wh", usable, 700, 1024)
		more := maybe("more packs")
		set("expansion_wh", more, 1, 4000)
		if fixed["expansion_packs"] = ""; more {
			fixed["expansion_packs"] = "2"
		}
		if fixed["wakes_on_sun"], fixed["woken_at"] = "", ""; maybe("asleep") {
			fixed["wakes_on_sun"], fixed["woken_at"] = "false", rapid.SampledFrom(some["woken_at"]).Draw(t, "woken")
		}
	}
}

// drawText writes a scenario whose values may be anything that its keys allow by themselves.
func drawText(t *rapid.T) string {
	var b strings.Builder
	f := newDraft()
	drawSection(t, &b, "", &f.top, map[string]string{"name": "x", "step_min": rapid.SampledFrom([]string{"60", "60", "60", "30", "15", "5", "1"}).Draw(t, "step")})
	box := rapid.Bool().Draw(t, "all in one")
	controllers := []string{""}
	if !box && rapid.IntRange(0, 5).Draw(t, "several controllers") == 0 {
		controllers = []string{"east", "west", "yard 3"}[:rapid.IntRange(1, 3).Draw(t, "controllers")]
	}
	for _, c := range f.parts(nil) {
		switch {
		case c.name == "weather" || c.name == variantsKey || c.instead && !box || c.unless != "" && box || !c.need && !c.instead && rapid.IntRange(0, 2).Draw(t, "without") == 0:
			continue
		case c.kinds != nil:
			b.WriteString("loads:\n")
			for i := range rapid.IntRange(1, 4).Draw(t, "loads") {
				k := rapid.SampledFrom(c.kinds).Draw(t, "kind")
				fmt.Fprintf(&b, "  load %d:\n", i)
				fixed := map[string]string{"kind": k.name, "note": "", "profile": "fridge.csv", "first_day": "", "not_with": ""}
				if i > 0 && rapid.Bool().Draw(t, "rule") {
					fixed["not_with"] = rapid.SampledFrom([]string{"load 0", "[load 0]"}).Draw(t, "not with")
				}
				if rapid.IntRange(0, 3).Draw(t, "goes first") == 0 {
					fixed["priority"], fixed["below_soc"] = "first_to_go", "0.9"
				} else {
					fixed["below_soc"] = ""
					fixed["priority"] = rapid.SampledFrom([]string{"must_have", "can_wait"}).Draw(t, "priority")
				}
				fixed["start_factor"] = rapid.SampledFrom([]string{"", "", "3"}).Draw(t, "start")
				switch rapid.IntRange(0, 3).Draw(t, "waits") {
				case 0:
					fixed["wait_for"] = ""
				case 1:
					fixed["wait_for_soc"] = ""
				default:
					fixed["wait_for"], fixed["wait_for_soc"], fixed["deadline_h"] = "", "", ""
				}
				if rapid.Bool().Draw(t, "dims") {
					fixed["dim_to"], fixed["dim_after_min"] = "", ""
				} else {
					fixed["dim_to"], fixed["dim_after_min"] = "0.3", "60"
				}
				if k.name == "timetable" {
					fixed["hours"] = rapid.SampledFrom(some["hours"]).Draw(t, "hours")
				}
				drawSection(t, &b, "    ", k.box, fixed)
			}
			continue
		}
		fmt.Fprintf(&b, "%s:\n", c.name)
		before := b.Len()
		fixed := map[string]string{}
		if c.unless != "" || c.instead { // the mode and its hours go together
			mode := rapid.IntRange(0, 3).Draw(t, "mode")
			fixed["mode"] = []string{"always_on", "on_demand", "timetable", "search"}[mode]
			together(t, fixed, fixed["mode"], c.instead)
			for _, key := range []string{"days", "hours", "season"} {
				if fixed[key] = ""; mode == 2 && (key == "hours" || rapid.Bool().Draw(t, "limited")) {
					fixed[key] = rapid.SampledFrom(some[key]).Draw(t, key)
				}
			}
		}
		if c.name == "wiring" {
			for _, name := range []string{"array", "battery", "inverter", "dc_loads"} {
				inside := box && (name == "battery" || name == "inverter")
				there := !inside && rapid.Bool().Draw(t, name)
				for _, key := range []string{name + "_length_m", name + "_area_mm2"} {
					if fixed[key] = ""; there {
						fixed[key] = limit.Plain(rapid.Float64Range(0.5, 200).Draw(t, key))
					}
				}
			}
			fixed["battery_fuse_a"], fixed["battery_fuse_breaks_a"] = "", ""
		}
		if c.name == "battery" { // what hangs together: cells and voltages, temperatures, rates
			kind := rapid.IntRange(0, 3).Draw(t, "type")
			cells := float64(rapid.SampledFrom([]int{4, 4, 8, 16}).Draw(t, "cells"))
			cellV, lowV, topV := 3.2, 2.9, 3.5
			if kind > 0 {
				cells, cellV, lowV, topV = cells*1.5, 2, 1.85, 2.4
			}
			minC := float64(rapid.IntRange(-40, 20).Draw(t, "min C"))
			for k, v := range map[string]float64{
				"nominal_v": cells * cellV, "min_charge_temp_c": minC, "resume_charge_temp_c": minC + rapid.Float64Range(0, 10).Draw(t, "resume"),
				"max_charge_temp_c": 45, "charge_v": cells * topV * rapid.Float64Range(0.99, 1.04).Draw(t, "charge"),
				"disconnect_v": cells * lowV * rapid.Float64Range(0.95, 1.05).Draw(t, "down"), "reconnect_v": cells * (lowV + topV) / 2,
			} {
				if fixed[k] = limit.Plain(v); strings.HasSuffix(k, "connect_v") && rapid.IntRange(0, 2).Draw(t, k) > 0 {
					fixed[k] = ""
				}
			}
			fixed["type"] = battery.TypeWords[kind]
			fixed["room"] = rapid.SampledFrom([]string{"outdoors", "building"}).Draw(t, "room")
			fixed["ratio_5h"], fixed["ratio_100h"] = "", ""
			if kind == 0 {
				fixed["acceptance_per_h"] = ""
			}
		}
		if c.name == "backup" {
			start := float64(rapid.IntRange(0, 90).Draw(t, "start")) / 100
			fixed["start_soc"], fixed["stop_soc"] = limit.Plain(start), limit.Plain(math.Round(100*(start+rapid.Float64Range(0.02, 1-start).Draw(t, "stop")))/100)
			fixed["carried"], fixed["only_carried"] = rapid.SampledFrom([]string{"", "[15 Jan]", "1 Mar to 20 Mar"}).Draw(t, "carried"), ""
			if fixed["source"] = "engine"; rapid.Bool().Draw(t, "mains") {
				fixed["source"], fixed["fuel_l_per_h"] = "mains", ""
			}
			for _, key := range []string{"quiet_days", "quiet_hours", "quiet_season"} {
				fixed[key] = ""
			}
			fixed["quiet_hours"] = rapid.SampledFrom([]string{"", `"21:00 to 07:00"`}).Draw(t, "quiet")
		}
		if c.name == "site" {
			fixed = map[string]string{"latitude_deg": "", "longitude_deg": "", "utc_offset_h": ""}
			if rapid.Bool().Draw(t, "pinned") {
				lon := rapid.Float64Range(-180, 180).Draw(t, "lon")
				fixed = map[string]string{"climate": "", "latitude_deg": limit.Plain(math.Round(100*rapid.Float64Range(-90, 90).Draw(t, "lat")) / 100), "longitude_deg": limit.Plain(math.Round(100*lon) / 100),
					"utc_offset_h": limit.Plain(math.Round(min(14, max(-12, lon/15))))}
			}
		}
		for n, name := range controllers { // a sub-array for each controller; the first is drawn, the others go with any bank
			indent := "  "
			switch {
			case n > 0 && c.name == "array":
				fmt.Fprintf(&b, "  - {controller: %s, tilt_deg: %d, azimuth_deg: 90, module: {power_w: 300, mp_voltage_v: 60, mp_current_a: 5, oc_voltage_v: 72, sc_current_a: 5.3}}\n",
					name, rapid.IntRange(0, 90).Draw(t, "tilt"))
				continue
			case n > 0 && c.forms != nil:
				fmt.Fprintf(&b, "  %s: {kind: %s, max_current_a: %d, max_input_v: 100}\n", name, rapid.SampledFrom(controller.KindWords).Draw(t, "kind of "+name), rapid.IntRange(1, 60).Draw(t, "amps"))
				continue
			}
			if name != "" && c.name == "array" {
				b.WriteString("  -\n")
				indent, fixed["controller"] = "    ", name
			}
			if name != "" && c.forms != nil {
				fmt.Fprintf(&b, "  %s:\n", name)
				indent = "    "
				for _, key := range []string{"absorption_v", "absorption_h", "float_v", "temp_comp_mv_per_cell_k"} {
					fixed[key] = "" // all alike
				}
			}
			if c.forms != nil {
				k := rapid.SampledFrom(c.forms).Draw(t, "kind of "+c.name)
				fixed["kind"] = k.name
				drawSection(t, &b, indent, k.box, fixed)
			} else {
				drawSection(t, &b, indent, c.box, fixed)
			}
			for _, below := range c.below {
				if !below.need {
					continue
				}
				// A plate that agrees with itself, of any size.
				v, a := rapid.Float64Range(1, 300).Draw(t, "volts"), rapid.Float64Range(0.01, 30).Draw(t, "amps")
				fmt.Fprintf(&b, "%s%s:\n", indent, below.name)
				drawSection(t, &b, indent+"  ", below.box, map[string]string{"power_w": limit.Plain(v * a), "mp_voltage_v": limit.Plain(v), "mp_current_a": limit.Plain(a),
					"oc_voltage_v": limit.Plain(1.2 * v), "sc_current_a": limit.Plain(1.06 * a), "cells": ""})
			}
			if c.name != "array" && c.forms == nil {
				break
			}
		}
		if b.Len() == before {
			b.WriteString("  {}\n")
		}
	}
	return b.String()
}

// systemRuns is the promise for scenarios drawn from the declarations of the keys themselves, so that a new key is drawn
// as soon as it is declared.
func systemRuns(t *rapid.T) {
	text := drawText(t)
	file, err := DecodeBeside("drawn.yaml", []byte(text), invented)
	if err != nil {
		return
	}
	runs(t, text, file.Base, rapid.IntRange(0, 358).Draw(t, "day"))
}

// By hand: go test ./scenarios -run DrawnScenariosRun -rapid.checks=1000000
func TestDrawnScenariosRun(t *testing.T) { rapid.Check(t, systemRuns) }

// A good part of what is drawn decodes, or the promise would be held by nothing.
func TestDrawnScenariosDecode(t *testing.T) {
	decoded, faults := 0, map[string]int{}
	const n = 2000
	for seed := range n {
		text := rapid.Custom(drawText).Example(seed)
		if _, err := DecodeBeside("drawn.yaml", []byte(text), invented); err == nil {
			decoded++
		} else {
			for _, e := range err.(Errors) {
				field := e.Field
				faults[field+": "+e.Fault[min(len(e.Fault), 0):min(len(e.Fault), 60)]]++
			}
		}
	}
	t.Logf("%d of %d drawn scenarios decode", decoded, n)
	if testing.Verbose() {
		for f, c := range faults {
			if c > n/50 {
				t.Logf("%5d %s", c, f)
			}
		}
	}
	if decoded < n/40 {
		t.Errorf("%d of %d drawn scenarios decode, want at least a fortieth", decoded, n)
	}
}
