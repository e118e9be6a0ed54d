package hourfile

import (
	"slices"
	"strings"
)

// unit turns a number into ours: (number + shift) x scale. An energy is Wh/m2 of the step, to be divided by its hours.
type unit struct {
	name         string
	scale, shift float64
	energy       bool
}

var lightUnits = []unit{
	{name: "W/m2", scale: 1},
	{name: "kW/m2", scale: 1000},
	{name: "Wh/m2", scale: 1, energy: true},
	{name: "kWh/m2", scale: 1000, energy: true},
	{name: "kJ/m2", scale: 1 / 3.6, energy: true},
	{name: "MJ/m2", scale: 1000 / 3.6, energy: true},
	{name: "J/cm2", scale: 10 / 3.6, energy: true},
}

var tempUnits = []unit{
	{name: "C", scale: 1},
	{name: "0.1 C", scale: 0.1},
	{name: "K", scale: 1, shift: -273.15},
	{name: "F", scale: 5.0 / 9, shift: -32},
}

var windUnits = []unit{
	{name: "m/s", scale: 1},
	{name: "0.1 m/s", scale: 0.1},
	{name: "km/h", scale: 1 / 3.6},
	{name: "kn", scale: 1852.0 / 3600},
	{name: "mph", scale: 1609.344 / 3600},
}

var snowUnits = []unit{
	{name: "cm", scale: 1},
	{name: "mm", scale: 0.1},
	{name: "m", scale: 100},
	{name: "in", scale: 2.54},
}

func unitsOf(q int) []unit {
	switch {
	case q <= dhi:
		return lightUnits
	case q == wind:
		return windUnits
	case q == snow:
		return snowUnits
	}
	return tempUnits
}

// other spellings, without blanks, points and strokes
var unitAlias = map[string]string{
	"degc": "c", "celsius": "c", "degreec": "c", "degreesc": "c", "degf": "f", "fahrenheit": "f", "kelvin": "k",
	"01degc": "01c", "tenthsc": "01c", "cx10": "01c", "01celsius": "01c", "ms1": "ms", "01ms1": "01ms", "mps": "ms", "tenthsms": "01ms",
	"kmh1": "kmh", "kph": "kmh", "knots": "kn", "kt": "kn", "wm2mean": "wm2", "joulecm2": "jcm2",
}

// findUnit looks a unit up by any of its spellings: J/cm2, j_cm2, J cm-2, "0.1 C".
func findUnit(q int, s string) (unit, bool) {
	key := strings.ReplaceAll(snake(s), "_", "")
	for _, end := range []string{"perday", "day", "perhour", "hour"} {
		key = strings.TrimSuffix(key, end)
	}
	if a, ok := unitAlias[key]; ok {
		key = a
	}
	for _, u := range unitsOf(q) {
		if strings.ReplaceAll(snake(u.name), "_", "") == key {
			return u, true
		}
	}
	return unit{}, false
}

func unitNames(q int) string {
	var names []string
	for _, u := range unitsOf(q) {
		names = append(names, u.name)
	}
	return strings.Join(names, ", ")
}

// snake writes a title in lower case with one _ for whatever is neither letter nor digit: "GHI (W/m²)" is ghi_w_m2.
func snake(s string) string {
	var b strings.Builder
	for _, c := range strings.ToLower(latin(s)) {
		switch {
		case c >= 'a' && c <= 'z' || c >= '0' && c <= '9':
			b.WriteRune(c)
		case c == '²':
			b.WriteByte('2')
		case c == '°' || c == '^' || c == '\u2070' || c == '\ufeff':
		case b.Len() > 0 && !strings.HasSuffix(b.String(), "_"):
			b.WriteByte('_')
		}
	}
	return strings.TrimSuffix(b.String(), "_")
}

// The names that a column of our CSV may have before its unit.
var quantityNames = [quantities][]string{
	ghi:  {"ghi", "global", "global_light", "global_horizontal", "global_radiation"},
	dni:  {"dni", "beam", "beam_light", "direct_normal"},
	dhi:  {"dhi", "diffuse", "diffuse_light", "diffuse_horizontal"},
	temp: {"temp", "temperature", "air_temp", "air_temperature", "tmean", "temp_mean", "dry_bulb"},
	wind: {"wind", "wind_speed"},
	snow: {"snow_depth", "snowdepth", "depth_of_snow"},
	tmin: {"tmin", "temp_min", "min_temp"},
	tmax: {"tmax", "temp_max", "max_temp"},
}

// titled tells what a title of our CSV stands for. slip is what is wrong with one that names a quantity but no unit.
func titled(title string) (q int, u unit, ok bool, slip string) {
	if len(title) > 100 {
		return 0, unit{}, false, ""
	}
	name := snake(title)
	for q, names := range quantityNames {
		for _, n := range names {
			rest, cut := strings.CutPrefix(name, n+"_")
			if cut {
				if u, ok := findUnit(q, rest); ok {
					return q, u, true, ""
				}
			}
			if name == n || cut && !slices.Contains(names, name) && q <= dhi {
				slip = "column " + clip(strings.TrimSpace(latin(title))) + " has no unit that is known: one of " + unitNames(q) + ", as " + n + "_" + snake(unitsOf(q)[0].name)
			}
		}
	}
	return 0, unit{}, false, slip
}
