package scenarios

import (
	"strings"
	"testing"

	"tideover/sim/controller"
)

const twoControllers = `name: two roofs
site: {climate: Wellington}
array:
  - controller: west
    tilt_deg: 20
    azimuth_deg: 270
    module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}
  - controller: east
    tilt_deg: 20
    azimuth_deg: 90
    modules_in_series: 2
    module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}
controller:
  east: {max_current_a: 10, max_input_v: 75}
  west: {kind: pwm, max_current_a: 8, max_input_v: 55, own_draw_w: 0.3}
battery: {capacity_ah: 100}
loads: {lamp: {kind: always_on, bus: dc, power_w: 2}}
variants:
  larger east: {controller: {east: {max_current_a: 20}}}
  east alone:
    controller: {west: removed}
    array: {tilt_deg: 20, azimuth_deg: 90, modules_in_series: 2, module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}}
  one for both:
    controller: {max_current_a: 15, max_input_v: 60}
    array: {tilt_deg: 20, azimuth_deg: equator, modules_in_series: 2, module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}}
`

func TestControllersByName(t *testing.T) {
	f, err := Decode("roofs.yaml", []byte(twoControllers))
	if err != nil {
		t.Fatal(err)
	}
	s := &f.Base.System
	all := s.Controllers()
	if len(all) != 2 || all[0].Name != "east" || all[1].Name != "west" || all[0].Kind != controller.MPPT || all[1].Kind != controller.PWM ||
		all[1].OwnDrawW != 0.3 || s.Feeds != 1 || s.Beside[0].Feeds != 0 {
		t.Fatalf("%+v feeds %d, %d: want east, which the second feeds, and west, which the first does", all, s.Feeds, s.Beside[0].Feeds)
	}
	if west := s.Behind(1); west.Surface.AzimuthDeg != 270 || len(west.Beside) != 0 || west.Controller.MaxInputV != 55 {
		t.Errorf("behind west: %+v", west)
	}
	larger, alone, one := f.Variants[0].System.Controllers(), f.Variants[1].System.Controllers(), f.Variants[2].System.Controllers()
	if larger[0].MaxCurrentA != 20 || larger[0].MaxInputV != 75 || larger[1].OwnDrawW != 0.3 {
		t.Errorf("variant: %+v, want 20 A in east alone", larger)
	}
	if len(alone) != 1 || alone[0].Name != "east" || len(one) != 1 || one[0].Name != "" || one[0].MaxCurrentA != 15 {
		t.Errorf("variants: %+v and %+v, want one controller each", alone, one)
	}
}

func TestFaultsOfSeveralControllers(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"- controller: west", "- controller: wset", "4:17: array[1].controller: there is no controller wset (did you mean west?)"},
		{"- controller: west\n    tilt", "- tilt", "4:5: array[1].controller: is missing: there are several, east and west; example: controller: east"},
		{"- controller: west", "- controller: east", "15:3: controller.west: no sub-array feeds it"},
		{"own_draw_w: 0.3", "absorption_v: 14", "15:70: controller.west.absorption_v: would be 14 V, and that of east 14.2 V"},
		{"max_input_v: 75}", "max_input_v: 75, absorption_h: 3, float_v: 13.5}", "15:3: controller.west.float_v: would be none, and that of east 13.5 V"},
		{"max_current_a: 8", "max_current: 8", "15:21: controller.west.max_current: is not a key of controller.west (its name carries the unit: max_current_a)"},
		{"max_current_a: 8", "efficiency: 0.9, max_current_a: 8", "15:21: controller.west.efficiency: is not a key of controller.west (its kind is pwm; it is a key of kind mppt)"},
		{"  west: {kind", "  kind: pwm\n  west: {kind", "16:3: controller.west: is not a key of controller (of several each has a name with its keys below it, and nothing stands beside the names)"},
		{"  west: {kind", "  none:\n  west: {kind", "15:3: controller.none: has no value: indent its keys below it"},
		{"max_input_v: 75", "max_input_v: 40", "11:24: array[2].modules_in_series: 2 in series give 44.6 V open-circuit"},
		{"east: {max_current_a: 20}", "est: {max_current_a: 20}", "controller.est.max_input_v: is missing"},
		{"  east: {max_current_a: 10, max_input_v: 75}\n  west: {kind: pwm, max_current_a: 8, max_input_v: 55, own_draw_w: 0.3}", "  max_current_a: 10\n  max_input_v: 75",
			"array[1].controller: there is no controller west: the only one has no name, so leave the key out"},
	} {
		src := strings.Replace(twoControllers, c.from, c.to, 1)
		_, err := Decode("roofs.yaml", []byte(src))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v\nwant %q", c.to, err, c.want)
		}
	}
}
