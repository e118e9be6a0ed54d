package scenarios

import (
	"strings"
	"testing"
	"time"

	"tideover/sim/plane"
)

const shedOf = `name: shed
site:
  climate: Wellington
  snow: {fall_days: [0, 0, 0, 0, 0, 1, 2, 1, 0, 0, 0, 0], swept: true}
array:
%s
controller: {max_current_a: 20, max_input_v: 75}
battery: {capacity_ah: 100}
loads: {lamp: {kind: always_on, bus: dc, power_w: 5}}
`

const twoArrays = `
  - tilt_deg: 45
    azimuth_deg: 90
    sky_model: hdkr
    soiling_by_month: [0.01, 0.01, 0.01, 0.02, 0.02, 0.02, 0.05, 0.05, 0.05, 0.02, 0.01, 0.01]
    horizon: [0 5, 90 12, 135 20, 180 5]
    shade:
      - {hours: after 15:00, season: oct to mar, sky_share: 0.1}
      - {hours: "12:00 to 13:30", kind: leaves, share: 0.5, lies: along}
    module: {power_w: 200, mp_voltage_v: 20.4, mp_current_a: 9.81, oc_voltage_v: 24.5, sc_current_a: 10.4}
  - tilt_deg: 60
    azimuth_deg: equator
    strings_in_parallel: 2
    module: {power_w: 100, mp_voltage_v: 20.4, mp_current_a: 4.9, oc_voltage_v: 24.5, sc_current_a: 5.2, bypass_groups: 2}
`

func TestSubArraysShadeAndSnow(t *testing.T) {
	src := strings.Replace(shedOf, "%s", twoArrays, 1)
	f, err := Decode("shed.yaml", []byte(src))
	if err != nil {
		t.Fatal(err)
	}
	s := &f.Base.System
	if len(s.Beside) != 1 || s.RatedW() != 400 || s.Beside[0].Array.Module.BypassGroups != 2 || !s.Beside[0].Surface.FacesEquator {
		t.Fatalf("%+v, want two sub-arrays of 200 W each", s)
	}
	a := s.Surface
	if a.SkyModel != plane.HDKR || a.SoilingByMonth[6] != 0.05 || len(a.Horizon) != 4 || len(a.Shades) != 2 || s.Beside[0].Surface.Shades != nil {
		t.Errorf("%+v", a)
	}
	first := a.Shades[0]
	if first.Hours[0].From != 15*60 || first.Season[0].From.Month != time.October || first.SkyShare != 0.1 || a.Shades[1].Kind != plane.Leaves {
		t.Errorf("shades %+v", a.Shades)
	}
	if s.Snow.FallDays[6] != 2 || !s.Snow.Swept || s.Snow.Reflectance != 0.65 {
		t.Errorf("snow %+v", s.Snow)
	}
}

func TestFaultsInsideSubArrays(t *testing.T) {
	for _, c := range []struct{ from, to, want string }{
		{"tilt_deg: 60", "tilt_deg: 160", "array[2].tilt_deg: 160 is not between 0 and 90"},
		{"hours: after 15:00", "hours: after lunch", `array[1].shade[1].hours: "lunch" is not a time of day`},
		{"share: 0.5", "share: 50", "array[1].shade[2].share: 50 is not above 0 and at most 1: it looks like percent"},
		{"kind: leaves", "kind: tree", `array[1].shade[2].kind: "tree" is not one of evergreen, leaves`},
		{"90 12", "90", `array[1].horizon: "90" is not an azimuth and a height`},
		{"0.05, 0.05, 0.05", "0.05, 0.05", "array[1].soiling_by_month: has 11 values, want twelve"},
		{"fall_days: [0", "fall_days: [40", `site.snow.fall_days: 40 is not between 0 and 31`},
		{"strings_in_parallel: 2", "modules_in_series: 4", "array[2].modules_in_series: 4 in series give 98 V open-circuit"},
		{"sky_model: hdkr", "sky_model: hdrk", "array[1].sky_model: \"hdrk\" is not one of perez, hay_davies, hdkr, isotropic (did you mean hdkr?)"},
	} {
		src := strings.Replace(shedOf, "%s", strings.Replace(twoArrays, c.from, c.to, 1), 1)
		src = strings.Replace(src, c.from, c.to, 1)
		_, err := Decode("shed.yaml", []byte(src))
		if err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%s: error %v, want %q", c.to, err, c.want)
		}
	}
}
