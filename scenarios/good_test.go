package scenarios

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"
	"testing"

	"gopkg.in/yaml.v3"

	"tideover/sim/limit"
)

func numbered(format string, n int) string {
	var b strings.Builder
	for i := range n {
		fmt.Fprintf(&b, format, i)
	}
	return b.String()
}

func TestGoodFile(t *testing.T) {
	got, err := decodeFake([]byte(`# every way to write a value that is right
name: "garden: shed"
battery:
  capacity_ah: +200.50
  nominal_v: 24.
  disconnect_v: .5
  "cycles": 2000.0
  heater: true # a remark
  note: |
    two
    lines
  kind: 'agm'
  start_soc: [full, settled]
array:
  - tilt_deg: 0
  - {tilt_deg: -0}
loads:
  night light: {power_w: 3, hours: 17:00 to 21:30}
  5: {power_w: 1, hours: [06:00 to 07:00, "18:00 to 19:00"]}
`))
	if err != nil {
		t.Fatal(err)
	}
	want := map[string]*fakeScenario{"": {
		Name: "garden: shed",
		Battery: fakeBattery{CapacityAh: 200.5, NominalV: 24, DisconnectV: 0.5, ReconnectV: 12.5, Efficiency: 0.95, Cycles: 2000,
			Heater: true, Note: "two\nlines\n", Kind: 2, start: "full+settled"},
		Panels: []*fakePanel{{0}, {0}},
		Loads: map[string]*fakeLoad{"night light": {3, "17:00 to 21:30"},
			"5": {1, "06:00 to 07:00;18:00 to 19:00"}},
		Order: []string{"night light", "5"},
	}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %+v, want %+v", got[""], want[""])
	}
}

func TestVariants(t *testing.T) {
	got, err := decodeFake([]byte(`
name: hut
variants: # may stand anywhere
  second: {name: other, battery: {capacity_ah: 50}}
  first:
    loads:
      lamp: removed
      radio: {power_w: 6}
      fan: {hours: noon}
    array: [{tilt_deg: 60}]
  same: {}
battery: {capacity_ah: 100, kind: gel, start_soc: [full, settled]}
array: [{tilt_deg: 10}, {tilt_deg: 20}]
loads:
  lamp: {power_w: 8}
  fan: {power_w: 20, hours: day}
`))
	if err != nil {
		t.Fatal(err)
	}
	if len(got) != 4 {
		t.Fatalf("got %d scenarios, want the base and 3 variants", len(got))
	}
	base, first, second := got[""], got["first"], got["second"]
	if !reflect.DeepEqual(base, got["same"]) {
		t.Errorf("an empty variant differs from the base: %+v, %+v", got["same"], base)
	}
	if second.Name != "other" || second.Battery.CapacityAh != 50 || second.Battery.Kind != 3 || second.Battery.start != "full+settled" {
		t.Errorf("second: got %+v, want another name and capacity, and the rest of the battery as in the base", second)
	}
	if want := []string{"fan", "radio"}; !reflect.DeepEqual(first.Order, want) {
		t.Errorf("first: loads %q, want %q", first.Order, want)
	}
	if want := (fakeLoad{20, "noon"}); *first.Loads["fan"] != want {
		t.Errorf("first: fan %+v, want %+v", *first.Loads["fan"], want)
	}
	if len(first.Panels) != 1 || first.Panels[0].TiltDeg != 60 {
		t.Errorf("first: %d panels, want the variant's list in place of the base's", len(first.Panels))
	}
	if want := []string{"lamp", "fan"}; !reflect.DeepEqual(base.Order, want) || base.Loads["fan"].Hours != "day" {
		t.Errorf("the base changed: %+v", base)
	}
}

func TestVariantsComeInFileOrder(t *testing.T) {
	d := newDecoder("cabin.yaml", []byte("variants: {c: {}, a: {}, b: {}}\nname: x\n"))
	root, ok := d.parse()
	if !ok {
		t.Fatal(d.err())
	}
	var names []string
	d.each(root, func(variant string, root entry) { names = append(names, variant) })
	if want := []string{"", "c", "a", "b"}; !reflect.DeepEqual(names, want) {
		t.Errorf("got %q, want %q", names, want)
	}
}

func TestMerge(t *testing.T) {
	for _, test := range []struct{ name, base, patch, want string }{
		{"keys add up", "{a: 1, b: 2}", "{c: 3}", "{a: 1, b: 2, c: 3}"},
		{"a scalar replaces", "{a: 1, b: 2}", "{a: 3}", "{a: 3, b: 2}"},
		{"a list replaces", "{a: [1, 2]}", "{a: [3]}", "{a: [3]}"},
		{"groups merge at any depth", "{a: {b: {c: 1, d: 2}}}", "{a: {b: {c: 3}}}", "{a: {b: {c: 3, d: 2}}}"},
		{"a group replaces a scalar", "{a: 1}", "{a: {b: 2}}", "{a: {b: 2}}"},
		{"a scalar replaces a group", "{a: {b: 2}}", "{a: 1}", "{a: 1}"},
		{"removed drops", "{a: 1, b: {c: 2, d: 3}, e: 4}", "{a: removed, b: {c: removed}, e: removed}", "{b: {d: 3}}"},
		{"in quotes it is text", "{a: 1}", `{a: "removed"}`, `{a: "removed"}`},
		{"nothing", "{a: 1}", "{}", "{a: 1}"},
	} {
		parse := func(src string) *yaml.Node {
			d := newDecoder("cabin.yaml", []byte(src))
			root, ok := d.parse()
			if !ok || d.err() != nil {
				t.Fatal(d.err())
			}
			return root.value
		}
		base := parse(test.base)
		d := newDecoder("cabin.yaml", []byte(test.patch))
		got := d.merge(base, parse(test.patch), "", "variants.v")
		got.Style = yaml.FlowStyle
		text, err := yaml.Marshal(got)
		if err != nil || d.err() != nil {
			t.Fatal(err, d.err())
		}
		if strings.TrimSpace(string(text)) != test.want {
			t.Errorf("%s: %s over %s gives %s, want %s", test.name, test.patch, test.base, text, test.want)
		}
		if again, _ := yaml.Marshal(base); strings.TrimSpace(string(again)) != test.base {
			t.Errorf("%s: the base changed from %s to %s", test.name, test.base, again)
		}
	}
}

func TestPeekAndHas(t *testing.T) {
	d := newDecoder("cabin.yaml", []byte("kind: gel\nnote: ~\nheater: [a]\n"))
	root, _ := d.parse()
	for key, want := range map[string]string{"kind": "gel", "note": "", "heater": "", "ratio": ""} {
		if got := peek(root, key); got != want {
			t.Errorf("peek %s: got %q, want %q", key, got, want)
		}
	}
	s := d.section(root, &fakeBattery{})
	if !s.has("kind") || s.has("ratio") {
		t.Errorf("kind is typed and ratio is not, got %v, %v", s.has("kind"), s.has("ratio"))
	}
}

// Distances counted by hand: one edit each, but for the last four.
func TestDistance(t *testing.T) {
	for _, test := range []struct {
		a, b string
		want int
	}{
		{"", "", 0}, {"tilt", "tilt", 0}, {"tlt", "tilt", 1}, {"tilt", "tlt", 1}, {"tjlt", "tilt", 1}, {"titl", "tilt", 1}, {"", "a", 1},
		{"höhe", "hohe", 1}, {"kitten", "sitting", 3}, {"ca", "abc", 3}, {"abcdef", "", 6}, {"abcdefghijk", "", 10},
	} {
		if got := distance(test.a, test.b, 9); got != test.want {
			t.Errorf("distance %q, %q: got %d, want %d", test.a, test.b, got, test.want)
		}
	}
}

func TestUnit(t *testing.T) {
	for key, want := range map[string][2]string{
		"capacity_ah": {"capacity", "Ah"}, "tempco_pct_per_k": {"tempco", "percent/K"}, "efficiency": {"efficiency", ""}, "min": {"min", ""},
		"min_off_min": {"min_off", "minutes"}, "_w": {"_w", ""}, "start_soc": {"start_soc", ""}, "": {"", ""}, "hours_per": {"hours_per", ""},
		"load_wh_per_day": {"load", "Wh/day"},
	} {
		if stem, u := unit(key); stem != want[0] || u != want[1] {
			t.Errorf("unit %q: got %q, %q, want %q, %q", key, stem, u, want[0], want[1])
		}
	}
}

// retype writes the keys of a box as a person would type them.
func retype(b box) string {
	var out []string
	for _, k := range b.Keys() {
		v := k.Value()
		switch k.Kind {
		case limit.Words:
			continue
		case limit.Text:
			quoted, _ := json.Marshal(v)
			v = string(quoted)
		}
		out = append(out, k.Name+": "+v)
	}
	return "{" + strings.Join(out, ", ") + "}"
}
