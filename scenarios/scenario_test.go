package scenarios

import (
	"slices"
	"testing"

	"tideover/sim"
	"tideover/sim/ledger"
)

func TestShippedScenariosRun(t *testing.T) {
	files, err := Shipped.ReadDir(".")
	if err != nil || len(files) < 3 {
		t.Fatalf("%d shipped scenarios: %v", len(files), err)
	}
	for _, f := range files {
		src, err := Shipped.ReadFile(f.Name())
		if err != nil {
			t.Fatal(err)
		}
		file, err := Decode(f.Name(), src)
		if err != nil {
			t.Errorf("%s: %v", f.Name(), err)
			continue
		}
		y, err := file.Base.Weather(nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range append([]*Scenario{file.Base}, file.Variants...) {
			p, err := s.Place(y, false)
			if err != nil {
				t.Fatal(err)
			}
			r, err := sim.Prepare(p.System, y).Run(false)
			p.Tell(r)
			if err != nil {
				t.Errorf("%s, %s: %v", f.Name(), s.Variant, err)
				continue
			}
			if b := p.System.Backup; b != nil && slices.Equal(r.Warnings, b.Cautions()) {
				r.Warnings = nil // an engine is always warned of
			}
			if len(r.Warnings) > 0 {
				t.Errorf("%s, %s: warnings %q", f.Name(), s.Variant, r.Warnings)
			}
			t.Logf("%s %q: %+v %v idle %.0f unserved %.0f withheld %.0f curt %.0f barred %.0f", f.Name(), s.Variant, r.Answer, r.DaysByCause, r.Total[12], r.Total[22], r.Total[23], r.Total[5], r.Total[4])
		}
	}
}

// A bank typed by its blocks runs as one typed by its totals, and says what it is made of.
func TestBankOfBlocks(t *testing.T) {
	decode := func(bank string) *Scenario {
		src := "name: shed\nsite: {climate: Wellington}\narray: {modules_in_series: 2, tilt_deg: 45, azimuth_deg: equator, module: {power_w: 200, mp_voltage_v: 20.4, mp_current_a: 9.81, oc_voltage_v: 24.5, sc_current_a: 10.4}}\n" +
			"controller: {max_current_a: 20, max_input_v: 75}\nbattery: {" + bank + "}\nloads: {lamp: {kind: always_on, power_w: 25, bus: dc}}\n"
		file, err := Decode("shed.yaml", []byte(src))
		if err != nil {
			t.Fatal(err)
		}
		return file.Base
	}
	blocks := decode("type: flooded, nominal_v: 6, capacity_ah: 110, resistance_ohm: 0.006, max_charge_a: 20, blocks_in_series: 4, strings_in_parallel: 2, charge_v: 29")
	typed := decode("type: flooded, nominal_v: 24, capacity_ah: 220, resistance_ohm: 0.012, max_charge_a: 40, charge_v: 29")
	if got, want := blocks.System.Bank.Words(), "8 x 6 V 110 Ah flooded lead, 4 in series, 2 side by side"; got != want {
		t.Errorf("the bank is called %q, want %q", got, want)
	}
	var served [2]float64
	for i, s := range []*Scenario{blocks, typed} {
		y, err := s.Weather(nil)
		if err != nil {
			t.Fatal(err)
		}
		p, err := s.Place(y, false)
		if err != nil {
			t.Fatal(err)
		}
		r, err := sim.Prepare(p.System, y).Run(false)
		if err != nil {
			t.Fatal(err)
		}
		served[i] = r.Total[ledger.Served]
	}
	if served[0] != served[1] || served[0] == 0 {
		t.Errorf("by blocks it serves %v Wh, by totals %v", served[0], served[1])
	}
}
