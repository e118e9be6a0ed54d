package scenarios

import (
	"slices"
	"testing"
)

const toldRules = `name: studio
site: {climate: Wellington}
array: {tilt_deg: 45, azimuth_deg: equator, module: {power_w: 200, mp_voltage_v: 20.4, mp_current_a: 9.81, oc_voltage_v: 24.5, sc_current_a: 10.4}}
controller: {max_current_a: 20, max_input_v: 75}
battery: {capacity_ah: 100}
inverter: {mode: on_demand, rated_w: 1600, idle_w: 7}
loads:
  kettle: {kind: random_uses, power_w: 1500, uses_per_day: 3, minutes_per_use: 4, not_with: [wheel, fan]}
  wheel: {kind: timetable, power_w: 240, hours: "10:00 to 11:00", not_with: kettle}
  fan: {kind: timetable, power_w: 20, hours: "10:00 to 11:00"}
variants:
  no wheel: {loads: {wheel: removed}}
  nothing to part: {loads: {wheel: removed, kettle: {not_with: fan}}}
  wheel on dc: {loads: {wheel: {bus: dc}}}
`

// A rule that no longer parts anything is said where the scenario is set up, not passed over.
func TestRulesWithoutEffectAreSaid(t *testing.T) {
	f, err := Decode("studio.yaml", []byte(toldRules))
	if err != nil {
		t.Fatal(err)
	}
	y, err := f.Base.Weather(nil)
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range [][]string{
		nil,
		{"not_with of kettle has no effect: variant no wheel drops wheel"},
		nil,
		{"not_with between kettle and wheel has no effect: one is on the ac bus, the other on the dc bus"}, // once, though both name it
	} {
		s := append([]*Scenario{f.Base}, f.Variants...)[i]
		p, err := s.Place(y, false)
		if err != nil {
			t.Fatal(err)
		}
		if !slices.Equal(p.Warnings, want) {
			t.Errorf("variant %q warns %q, want %q", s.Variant, p.Warnings, want)
		}
	}
}
