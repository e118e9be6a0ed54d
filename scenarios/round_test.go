package scenarios

import (
	"encoding/json"
	"io/fs"
	"reflect"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/santhosh-tekuri/jsonschema/v6"
	"gopkg.in/yaml.v3"

	"tideover/loads"
	"tideover/sim/limit"
)

// drafts decodes src and returns each variant's draft with the tree it was read from.
func drafts(src []byte) (found []*draft, trees []*yaml.Node, err error) {
	d := newDecoder("cabin.yaml", src)
	d.read = invented
	if root, ok := d.parse(); ok {
		d.each(root, func(_ string, root entry) {
			found, trees = append(found, d.scenario(root)), append(trees, root.value)
		})
	}
	return found, trees, d.err()
}

// invented is the one file that there is beside the scenarios of the tests.
func invented(name string) ([]byte, error) {
	if name != "fridge.csv" {
		return nil, fs.ErrNotExist
	}
	return []byte("time,power_w\n00:00,0\n06:00,12\n12:00,30.5\n18:00,6\n"), nil
}

func quoted(s string) string {
	text, _ := json.Marshal(s)
	return string(text)
}

// child returns the value of a key, or nil.
func childOf(n *yaml.Node, key string) *yaml.Node {
	for pair := range slices.Chunk(n.Content, 2) {
		if pair[0].Value == key {
			return pair[1]
		}
	}
	return nil
}

// print writes the keys of a box as its declarations print them, defaults and all. Words, which only the box can read, are
// written as they were typed.
func print(b *strings.Builder, indent string, box box, typed *yaml.Node, below []child) {
	for _, k := range box.Keys() {
		at, v := childOf(typed, k.Name), k.Value()
		switch {
		case k.Name == "not_with": // a variant may have dropped what it names
			var names []string
			for _, name := range box.(*loads.Load).NotWith {
				names = append(names, quoted(name))
			}
			if names == nil {
				continue
			}
			v = "[" + strings.Join(names, ", ") + "]"
		case k.Kind == limit.Words && at == nil, v == "NaN" && at == nil, k.Kind == limit.Text && v == "":
			continue
		case k.Kind == limit.Words && at.Kind == yaml.SequenceNode:
			var items []string
			for _, item := range at.Content {
				items = append(items, quoted(item.Value))
			}
			v = "[" + strings.Join(items, ", ") + "]"
		case k.Kind == limit.Words:
			v = quoted(at.Value)
		case k.Kind == limit.Text:
			v = quoted(v)
		}
		b.WriteString(indent + k.Name + ": " + v + "\n")
	}
	for _, c := range below {
		if at := childOf(typed, c.name); at != nil {
			mapping(b, indent, c.name, func() { print(b, indent+"  ", c.box, at, c.below) })
		}
	}
}

// mapping writes a key and the keys below it, which may be none.
func mapping(b *strings.Builder, indent, name string, below func()) {
	b.WriteString(indent + name + ":\n")
	before := b.Len()
	if below(); b.Len() == before {
		b.WriteString(indent + "  {}\n")
	}
}

// items are those of a list, or the one mapping that stands for a list.
func items(n *yaml.Node) []*yaml.Node {
	if n.Kind == yaml.SequenceNode {
		return n.Content
	}
	return []*yaml.Node{n}
}

// printArrays writes the sub-arrays as a list.
func printArrays(b *strings.Builder, f *draft, at *yaml.Node) {
	for i, sub := range f.System.SubArrays() {
		typed := items(at)[i]
		b.WriteString("  -\n")
		print(b, "    ", &panels{&sub.Array, &sub.Surface, &f.System.Controllers()[sub.Feeds].Name}, typed, nil)
		for _, c := range subArray(nil, &sub) {
			at := childOf(typed, c.name)
			switch {
			case at == nil:
			case c.name == "shade":
				b.WriteString("    shade:\n")
				for j := range sub.Surface.Shades {
					b.WriteString("      -\n")
					print(b, "        ", &sub.Surface.Shades[j], items(at)[j], nil)
				}
			default:
				mapping(b, "    ", c.name, func() { print(b, "      ", c.box, at, c.below) })
			}
		}
	}
}

// printed is a draft as YAML.
func printed(f *draft, typed *yaml.Node) string {
	var b strings.Builder
	print(&b, "", &f.top, typed, nil)
	for _, c := range f.parts(nil) {
		at := childOf(typed, c.name)
		switch {
		case at == nil:
		case c.kinds != nil:
			mapping(&b, "", c.name, func() {
				for i := range f.System.Loads {
					l := &f.System.Loads[i]
					mapping(&b, "  ", quoted(l.Name), func() { print(&b, "    ", l, childOf(at, l.Name), nil) })
				}
			})
		case c.named && areNamed(at):
			mapping(&b, "", c.name, func() {
				for _, k := range f.System.Controllers() {
					mapping(&b, "  ", quoted(k.Name), func() { print(&b, "    ", &k.Controller, childOf(at, k.Name), nil) })
				}
			})
		case c.name == "array":
			b.WriteString("array:\n")
			printArrays(&b, f, at)
		default:
			mapping(&b, "", c.name, func() { print(&b, "  ", c.box, at, c.below) })
		}
	}
	return b.String()
}

var sameValues = []cmp.Option{
	cmpopts.EquateNaNs(), cmpopts.IgnoreFields(Scenario{}, "VoltageCoeffTyped", "idle"), // printed, all is typed, and what a variant dropped is gone
	cmp.Exporter(func(reflect.Type) bool { return true }),
	cmp.Comparer(func(a, b *time.Location) bool { return a.String() == b.String() }),
}

// roundTrip prints what was decoded and decodes it again: the values are equal.
func roundTrip(t *testing.T, src []byte, found []*draft, trees []*yaml.Node) {
	t.Helper()
	for i, f := range found {
		text := printed(f, trees[i])
		again, _, err := drafts([]byte(text))
		if err != nil {
			t.Fatalf("%q, %q: its values, printed, are refused: %v\n%s", src, f.Variant, err, text)
		}
		g := again[0]
		f.Variant, f.Note = "", ""
		for _, pair := range [][2]any{{f.Scenario, g.Scenario}, {f.station, g.station}, {f.means, g.means}, {f.layout, g.layout}} {
			if diff := cmp.Diff(pair[0], pair[1], sameValues...); diff != "" {
				t.Fatalf("%q: decoded, printed and decoded again it differs (-first +second):\n%s\n%s", src, diff, text)
			}
		}
	}
}

var compiledOnce = sync.OnceValue(func() *jsonschema.Schema {
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(Schema))
	if err != nil {
		panic(err)
	}
	c := jsonschema.NewCompiler()
	if err := c.AddResource("scenario.json", doc); err != nil {
		panic(err)
	}
	return c.MustCompile("scenario.json")
})

// seeds are the files that a fuzzer starts from.
func seeds(f *testing.F) {
	for _, b := range bad {
		f.Add([]byte(b.src))
	}
	const most = 4000 // the starters are long, and the same keys; the fuzz makes of each seed thousands
	for _, src := range rightFiles(f) {
		if len(src) < most {
			f.Add(src)
		}
	}
	for _, src := range wrongFiles(f) {
		if len(src) < most {
			f.Add(src)
		}
	}
	f.Add([]byte(everyKey))
	f.Add([]byte("<<:")) // no array, hidden or not
}

// everyKey has a value for keys that no other file has.
const everyKey = `name: "every: key"
about: |
  two
  lines
step_min: 15
seed: 7
site:
  latitude_deg: -41.3
  longitude_deg: 174.8
  utc_offset_h: 12
  zone: Pacific/Auckland
  calendar_year: 2024
  record_low_c: -3
  record_low_source: "a station: nearby"
  persistence: 0.2
  means:
    ghi_kwh_m2_day: [6.6, 5.6, 4.4, 2.9, 1.9, 1.5, 1.7, 2.4, 3.5, 4.7, 5.9, 6.6]
    temp_mean_c: [17, 17, 16, 14, 12, 10, 9, 9, 11, 12, 14, 16]
    temp_min_c: [14, 14, 13, 11, 9, 7, 6, 6, 8, 9, 11, 13]
    temp_max_c: [20, 21, 19, 17, 14, 12, 11, 12, 14, 15, 17, 19]
    years: 10
weather:
  time: [date, YYYY-MM-DD, hour, hh]
  ghi: [Q, J/cm2]
  temp: [T, 0.1 C]
  missing: [-7999, 990]
  clock: +05:30
array:
  - {modules_in_series: 2, tilt_deg: 10, azimuth_deg: 12.5, age_years: 3, horizon: [90 5, 180 20], module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75, cells: 36, mounting: on_boards}}
  - tilt_deg: 30
    azimuth_deg: 350
    modules_in_series: 2
    module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}
    shade: [{hours: after 15:00, share: 0.5}, {hours: 08:00 to 09:00, season: 1 Oct to 31 Mar}]
controller: {max_current_a: 20, max_input_v: 75, max_input_w: 290, efficiency_at_tenth: 0.9, absorption_v: 14.4, absorption_h: 1.5, float_v: 13.5, temp_comp_mv_per_cell_k: -3.5}
battery: {capacity_ah: 50.5, nominal_v: 6.4, blocks_in_series: 2, strings_in_parallel: 3, start_soc: 0.5, min_off_min: 3}
inverter: {mode: timetable, days: [mon to fri, sun], hours: ["22:00 to 06:00", "08:00 to 09:30"], season: ["1 Oct to 31 Mar", jun], rated_w: 300, idle_w: 3}
wiring: {battery_length_m: 1, battery_area_mm2: 10, array_length_m: 12, array_awg: 10, inverter_length_m: 1, inverter_awg: 1/0, dc_loads_length_m: 5, dc_loads_area_mm2: 2.5, wire_temp_c: 45, strands: coarse, insulation: xlpe, air_c: 50, conductors_together: 4, battery_fuse_a: 100, battery_fuse_breaks_a: 20000}
outlets: {voltage_v: 120, breaker_a: 15, cable_awg: 14, neutral_earth_bond: one_point}
loads:
  5: {kind: always_on, power_w: 1, bus: dc, on_minutes_per_hour: 7}
  "a.b": {kind: motion_light, power_w: 6, visits_per_night: 3, standby_in_daylight: false}
  dusk: {kind: dusk_to_dawn, power_w: 4, hours: "20:00 to 23:00", bus: dc}
  packs: {kind: packs, count: 3, chargers: 2, pack_energy_wh: 90, charger_power_w: 90, at: "18:00", unplug: never, depth: 0.5}
  porch: {kind: dusk_to_dawn, power_w: 4, minutes_after_dusk: 300, dim_to: 0.25, dim_after_min: 60, away: [12 Jul to 2 Aug, 24 Dec], class: electronics}
  fridge: {kind: duty_cycle, power_w: 60, duty: 0.35, duty_at_c: 22, duty_rise_per_k: 0.02, lag_h: 12, room_min_c: 5, every_days: 2, first_day: 3 Mar, power_factor: 0.6, start_factor: 4, start_s: 2}
  kettle: {kind: random_uses, power_w: 200, uses_per_day: 2.5, minutes_per_use: 4, priority: first_to_go, below_soc: 0.4, not_with: [fridge, "5"], needs_pure_sine: true}
  router: {kind: profile, profile: fridge.csv, days: mon to fri}
  waits: {kind: packs, count: 1, pack_energy_wh: 90, charger_power_w: 90, wait_for_soc: 0.8, deadline_h: 3}
variants:
  switched: {controller: {kind: pwm, max_input_w: removed, efficiency_at_tenth: removed, switch_drop_v: 0.3, temp_comp_mv_per_cell_k: battery}}
  none: {loads: {5: removed, packs: {unplug: "07:00", wait_for: sun}}}
  two:
    controller: {"a.b": {max_current_a: 10, max_input_v: 75}, west 2: {kind: pwm, max_current_a: 15, max_input_v: 55, switch_drop_v: 0.4}}
    array:
      - {controller: west 2, azimuth_deg: 270, tilt_deg: 20, module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}}
      - {controller: a.b, azimuth_deg: 90, tilt_deg: 20, modules_in_series: 2, module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}}
  box: {controller: removed, battery: removed, inverter: removed, wiring: removed, outlets: removed, station: {energy_wh: 512, max_input_w: 200, min_input_v: 11, max_input_v: 60, output_w: 500, awake_w: 3, outlets_on_w: 8}}
`

func TestRoundTrip(t *testing.T) {
	files := rightFiles(t)
	files["every key"] = []byte(everyKey)
	for name, src := range files {
		found, trees, err := drafts(src)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		roundTrip(t, src, found, trees)
		if v, ok := tree(src); !ok || compiledOnce().Validate(v) != nil {
			t.Errorf("%s: the schema refuses what the decoder takes: %v", name, compiledOnce().Validate(v))
		}
	}
}

// FuzzDecode: no panic; every error has a place in the file; what decodes survives a round trip, and the schema takes it.
func FuzzDecode(f *testing.F) {
	seeds(f)
	f.Fuzz(func(t *testing.T, src []byte) {
		found, trees, err := drafts(src)
		inside(t, src, err)
		if err != nil {
			return
		}
		roundTrip(t, src, found, trees)
		if v, ok := tree(src); ok {
			if err := compiledOnce().Validate(v); err != nil {
				t.Fatalf("%q: the schema refuses what the decoder takes: %v", src, err)
			}
		}
	})
}
