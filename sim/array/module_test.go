package array

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"tideover/sim/limit"
)

// plate is an invented 100 W module.
func plate(change func(*Module)) Module {
	m := DefaultModule()
	m.PowerW, m.MpVoltageV, m.MpCurrentA, m.OcVoltageV, m.ScCurrentA, m.Cells = 100, 18.6, 5.38, 22.3, 5.75, 36
	change(&m)
	return m
}

func TestModuleCheckNamesEveryFault(t *testing.T) {
	for _, c := range []struct {
		change func(*Module)
		want   []string
	}{
		{func(m *Module) {}, nil},
		{func(m *Module) { m.Cells = 0 }, nil},
		{func(m *Module) { m.PowerW = 104 }, nil},                                          // rounded on the plate
		{func(m *Module) { m.PowerCoeffPerK, m.VoltageCoeffPerK = -0.0029, -0.0025 }, nil}, // a good one
		{func(m *Module) { m.PowerCoeffPerK, m.VoltageCoeffPerK = -0.01, 0 }, nil},         // the ends
		{func(m *Module) { *m = DefaultModule() }, []string{
			"power_w: 0 is not above 0 and at most 10000; example: power_w: 100",
			"mp_voltage_v: 0 is not above 0 and at most 1000; example: mp_voltage_v: 18.6",
			"mp_current_a: 0 is not above 0; example: mp_current_a: 5.38",
			"oc_voltage_v: 0 is not above 0 and at most 1000; example: oc_voltage_v: 22.3",
			"sc_current_a: 0 is not above 0; example: sc_current_a: 5.75"}},
		{func(m *Module) { m.PowerW = 0.1 }, []string{
			"power_w: 0.1 is not within 5 % of mp_voltage_v x mp_current_a = 100.1 W; it looks like kW: 0.1 kW is 100; example: power_w: 100"}},
		{func(m *Module) { m.PowerW = 400 }, []string{
			"power_w: 400 is not within 5 % of mp_voltage_v x mp_current_a = 100.1 W; it looks like the power of 4 modules: type that of one; example: power_w: 100"}},
		{func(m *Module) { m.PowerW = 130 }, []string{
			"power_w: 130 is not within 5 % of mp_voltage_v x mp_current_a = 100.1 W; example: power_w: 100"}},
		{func(m *Module) { m.MpCurrentA, m.ScCurrentA = 5380, 5750 }, []string{
			"mp_current_a: 5380 x mp_voltage_v = 100100 W, but power_w is 100: it looks like mA; example: mp_current_a: 5.38"}},
		{func(m *Module) { m.MpVoltageV, m.OcVoltageV = 22.3, 18.6; m.PowerW = 120 }, []string{
			"mp_voltage_v: 22.3 is not below oc_voltage_v, 18.6; example: mp_voltage_v: 18.6"}},
		{func(m *Module) { m.ScCurrentA = 5.38 }, []string{
			"mp_current_a: 5.38 is not below sc_current_a, 5.38; example: mp_current_a: 5.38"}},
		{func(m *Module) { m.PowerCoeffPerK = -0.35 }, []string{
			"power_coeff_per_k: -0.35 is not between -0.01 and 0: it looks like percent; -0.35 %/K is -0.0035; example: power_coeff_per_k: -0.0037"}},
		{func(m *Module) { m.PowerCoeffPerK = 0.0037 }, []string{
			"power_coeff_per_k: 0.0037 is not between -0.01 and 0: it looks like a lost sign; -0.0037; example: power_coeff_per_k: -0.0037"}},
		{func(m *Module) { m.PowerCoeffPerK = -5 }, []string{
			"power_coeff_per_k: -5 is not between -0.01 and 0; example: power_coeff_per_k: -0.0037"}},
		{func(m *Module) { m.VoltageCoeffPerK = -0.065 }, []string{
			"voltage_coeff_per_k: -0.065 is not between -0.01 and 0: it looks like V/K; -0.065 V/K of 22.3 V is -0.002915; example: voltage_coeff_per_k: -0.0028"}},
		{func(m *Module) { m.VoltageCoeffPerK = 0.28 }, []string{
			"voltage_coeff_per_k: 0.28 is not between -0.01 and 0: it looks like percent; -0.28 %/K is -0.0028; example: voltage_coeff_per_k: -0.0028"}},
		{func(m *Module) { m.CurrentCoeffPerK = 0.05 }, []string{
			"current_coeff_per_k: 0.05 is not between -0.001 and 0.002: it looks like percent; 0.05 %/K is 0.0005; example: current_coeff_per_k: 0.0005"}},
		{func(m *Module) { m.CurrentCoeffPerK = 0.0029 }, []string{ // 0.0029/5.75, by hand
			"current_coeff_per_k: 0.0029 is not between -0.001 and 0.002: it looks like A/K; 0.0029 A/K of 5.75 A is 0.0005043; example: current_coeff_per_k: 0.0005"}},
		{func(m *Module) { m.CurrentCoeffPerK = 7 }, []string{
			"current_coeff_per_k: 7 is not between -0.001 and 0.002; example: current_coeff_per_k: 0.0005"}},
		{func(m *Module) { m.Cells = -1 }, []string{"cells: -1 is not between 0 and 300; example: cells: 36"}},
		{func(m *Module) { m.Cells = 72 }, []string{
			"cells: 72 cells share 22.3 V, 0.3097 V each, which is not between 0.5 and 1; count half the cells of a half-cut module; example: cells: 36"}},
		{func(m *Module) { m.Cells = 20 }, []string{
			"cells: 20 cells share 22.3 V, 1.115 V each, which is not between 0.5 and 1; example: cells: 36"}},
		{func(m *Module) { m.Mounting = 3 }, []string{
			"mounting: is not one of open_rack, close_roof, on_boards; example: mounting: close_roof"}},
		{func(m *Module) { m.PowerW = math.NaN() }, []string{"power_w: NaN is not a finite number; example: power_w: 100"}},
		{func(m *Module) { m.MpVoltageV, m.OcVoltageV = m.OcVoltageV, m.MpVoltageV }, []string{
			"mp_voltage_v: 22.3 is not below oc_voltage_v, 18.6: they look swapped; example: mp_voltage_v: 18.6"}},
		{func(m *Module) { m.MpCurrentA, m.ScCurrentA = m.ScCurrentA, m.MpCurrentA }, []string{
			"mp_current_a: 5.75 is not below sc_current_a, 5.38: they look swapped; example: mp_current_a: 5.38"}},
		{func(m *Module) { m.MpVoltageV = 18600 }, []string{
			"mp_voltage_v: 18600 is not above 0 and at most 1000; example: mp_voltage_v: 18.6"}},
		{func(m *Module) { m.OcVoltageV, m.Cells = 44.7, 0 }, []string{
			"oc_voltage_v: 44.7 is over twice mp_voltage_v, 18.6: are both of one module?; example: oc_voltage_v: 22.3"}},
		{func(m *Module) { m.ScCurrentA = 5750 }, []string{
			"sc_current_a: 5750 is over twice mp_current_a, 5.38: it looks like mA; 5750 mA is 5.75 A; example: sc_current_a: 5.75"}},
		{func(m *Module) { m.MpCurrentA = 1e200 }, []string{ // no panic on the absurd
			"power_w: 100 is not within 5 % of mp_voltage_v x mp_current_a = 1860" + strings.Repeat("0", 198) + " W; example: power_w: 100",
			"mp_current_a: " + limit.Plain(1e200) + " is not below sc_current_a, 5.75; example: mp_current_a: 5.38"}},
	} {
		m := plate(c.change)
		same(t, m, m.Check(), c.want)
	}
}

func TestArrayCheckNamesEveryFault(t *testing.T) {
	for _, c := range []struct {
		change func(*Array)
		want   []string
	}{
		{func(a *Array) {}, nil}, // the empty module is its own Check's affair
		{func(a *Array) { a.InSeries, a.InParallel = 0, -2 }, []string{
			"modules_in_series: 0 is not between 1 and 100; example: modules_in_series: 2",
			"strings_in_parallel: -2 is not between 1 and 1000; example: strings_in_parallel: 1"}},
		{func(a *Array) { a.MismatchLoss, a.AgeYears, a.LossPerYear = 2, -1, 0.5 }, []string{
			"mismatch_loss: 2 is not between 0 and 0.5: it looks like percent; 2 % is 0.02; example: mismatch_loss: 0.02",
			"age_years: -1 is not between 0 and 100; example: age_years: 0",
			"loss_per_year: 0.5 is not between 0 and 0.1: it looks like percent; 0.5 % is 0.005; example: loss_per_year: 0.005"}},
		{func(a *Array) { a.MismatchLoss, a.LossPerYear = -0.1, 99 }, []string{
			"mismatch_loss: -0.1 is not between 0 and 0.5; example: mismatch_loss: 0.02",
			"loss_per_year: 99 is not between 0 and 0.1; example: loss_per_year: 0.005"}},
	} {
		a := Default()
		c.change(&a)
		same(t, a, a.Check(), c.want)
	}
}

func same(t *testing.T, v any, faults []limit.Fault, want []string) {
	t.Helper()
	var got []string
	for _, f := range faults {
		got = append(got, f.Error())
	}
	if fmt.Sprintf("%q", got) != fmt.Sprintf("%q", want) {
		t.Errorf("%+v:\ngot  %q\nwant %q", v, got, want)
	}
}

func TestKeysSayEverything(t *testing.T) {
	a := Default()
	for _, k := range append(a.Keys(), a.Module.Keys()...) {
		if k.Doc == "" || k.Example == "" || k.Need == (k.Origin != "") {
			t.Errorf("%s: doc %q, example %q, need %v, origin %q: want a doc, an example, and an origin or a need",
				k.Name, k.Doc, k.Example, k.Need, k.Origin)
		}
	}
	for i, k := range a.Module.Keys() {
		if k.Name == "mounting" {
			for want, word := range k.Choices {
				if !a.Module.Keys()[i].SetChoice(word) || int(a.Module.Mounting) != want {
					t.Errorf("%s sets mounting %d, want %d", word, a.Module.Mounting, want)
				}
			}
			if len(k.Choices) != len(mounts) {
				t.Errorf("%d words for %d mountings", len(k.Choices), len(mounts))
			}
		}
	}
}
