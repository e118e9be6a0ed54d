package scenarios

import (
	"fmt"
	"slices"
	"strings"

	"tideover/sim/limit"
	"tideover/weather/climate"
)

// StarterKinds are the kinds of building for which there is a starter scenario.
func StarterKinds() []string {
	var names []string
	for _, s := range starters {
		names = append(names, s.kind)
	}
	return names
}

// StarterIsAllInOne reports whether the starter of a kind is an all-in-one box when nothing else is asked for.
func StarterIsAllInOne(kind string) bool {
	i := slices.IndexFunc(starters, func(s starter) bool { return s.kind == kind })
	return i >= 0 && starters[i].allInOne
}

// Starter returns the starter scenario of a kind: YAML that runs as it is, each key with what it is and where its default
// comes from, as the boxes declare it. The keys left at their defaults stand there as comments.
func Starter(kind string, allInOne bool) (string, error) {
	i := slices.IndexFunc(starters, func(s starter) bool { return s.kind == kind })
	if i < 0 {
		hint := "the kinds are " + strings.Join(StarterKinds(), ", ")
		if near := Nearest(kind, StarterKinds()); near != "" {
			hint = "did you mean " + near + "?"
		}
		return "", fmt.Errorf("%q is no kind of starter; %s", kind, hint)
	}
	s := starters[i]
	w := &starterWriter{said: map[string]bool{}, here: map[string]string{}}
	site, _ := s.typed["site"].of("climate")
	p, err := climate.Find(site)
	if err != nil {
		panic(fmt.Sprintf("scenarios: Starter: %s: %v", kind, err))
	}
	for key, v := range map[string]float64{"latitude_deg": p.LatDeg, "longitude_deg": p.LonDeg, "utc_offset_h": p.OffsetH} {
		w.here[key] = limit.Plain(v)
	}
	w.here["zone"] = p.Zone
	fmt.Fprintf(&w.b, starterHead, strings.ToUpper(s.about[:1])+s.about[1:])
	f := newDraft()
	w.keys("", &f.top, pairs{{"name", s.kind}, {"about", s.about + " (invented)"}})
	for _, c := range f.parts(nil) {
		if c.instead && !allInOne || c.unless == "station" && allInOne || c.name == variantsKey || c.name == "wiring" && allInOne {
			continue
		}
		w.b.WriteByte('\n')
		if c.kinds == nil && s.typed[c.name] == nil {
			w.leftOut("", c)
			continue
		}
		w.say("", c.name+":", c.doc)
		if c.kinds != nil {
			w.here["not_with"] = s.loads[len(s.loads)-1].name
			for _, l := range s.loads {
				w.load(c.kinds, l, allInOne)
			}
			continue
		}
		w.keys("  ", c.box, s.typed[c.name])
		for _, b := range c.below {
			if s.typed[b.name] == nil {
				w.leftOut("  ", b)
				continue
			}
			w.say("  ", b.name+":", b.doc)
			w.keys("    ", b.box, s.typed[b.name])
		}
	}
	variants := s.variants
	if allInOne {
		variants = s.boxVariants
	}
	w.b.WriteString("\n" + starterVariants + variants)
	return w.b.String(), nil
}

const starterHead = `# %s. All of it is invented: put your own numbers in.
#
#   tideover run FILE        how the year went, and why
#   tideover compare FILE    the variants at the end of this file, side by side
#
# A key carries its unit at the end of its name; fractions are 0 to 1, not percent. A key behind a # is left out: its
# default holds. Take the # away to change it. Numbers marked "a guess" are worth measuring.

`

const starterVariants = `variants:                        # named changes to any of the keys above, to compare with; "removed" drops a key
`

// pairs are keys and values as typed, in any order.
type pairs [][2]string

func (p pairs) of(key string) (string, bool) {
	for _, kv := range p {
		if kv[0] == key {
			return kv[1], true
		}
	}
	return "", false
}

type starterWriter struct {
	b    strings.Builder
	said map[string]bool   // remarks of loads: each once
	here map[string]string // values in place of examples: those of the starter's climate
}

const (
	remarkCol  = 33
	remarkLast = 118
)

// say writes a line with a remark behind it, or below it where the line is long.
func (w *starterWriter) say(indent, text, remark string) {
	line := indent + text
	words := strings.Fields(remark)
	for first := true; len(words) > 0; first = false {
		if len([]rune(line)) >= remarkCol {
			w.b.WriteString(line + "\n")
			line = indent
		}
		line += strings.Repeat(" ", remarkCol-len([]rune(line))) + "#"
		if !first {
			line += "  "
		}
		for len(words) > 0 && len([]rune(line))+1+len([]rune(words[0])) <= remarkLast {
			line, words = line+" "+words[0], words[1:]
		}
		if len(words) > 0 {
			w.b.WriteString(line + "\n")
			line = indent
		}
	}
	w.b.WriteString(line + "\n")
}

// keys writes the keys of a box: typed, or at its default behind a #.
func (w *starterWriter) keys(indent string, b box, typed pairs) {
	for _, k := range b.Keys() {
		if k.Name == "controller" {
			continue // a starter has one
		}
		line, remark := w.key(k, typed)
		w.say(indent, line, remark)
	}
	for _, kv := range typed {
		if !slices.ContainsFunc(b.Keys(), func(k limit.Key) bool { return k.Name == kv[0] }) {
			panic(fmt.Sprintf("scenarios: Starter: %s is no key", kv[0]))
		}
	}
}

// leftOut writes a section that the starter does without, with the keys that it would need.
func (w *starterWriter) leftOut(indent string, c child) {
	w.say(indent, "# "+c.name+":", c.doc)
	for _, k := range c.box.Keys() {
		if k.Need {
			w.say(indent, "#   "+line(k.Name, k.Example), k.Doc)
		}
	}
}

func (w *starterWriter) key(k limit.Key, typed pairs) (line, remark string) {
	remark = k.Doc
	if slices.ContainsFunc(k.Choices, func(word string) bool { return !strings.Contains(k.Doc, word) }) {
		remark += ": " + strings.Join(k.Choices, ", ")
	}
	if v, ok := typed.of(k.Name); ok {
		if !k.Need {
			remark += "; left out: " + strings.TrimPrefix(defaultOf(k), "not given: ")
		}
		return k.Name + ": " + v, remark
	}
	v := k.Value()
	if v == "" || v == "NaN" {
		v = k.Example
	}
	if here := w.here[k.Name]; here != "" {
		v = here
	}
	return "# " + k.Name + ": " + v, remark + "; default: " + strings.TrimPrefix(k.Origin, "not given: ")
}

// load writes a load: what was said of a key in a load before is not said again.
func (w *starterWriter) load(kinds []loadKind, l starterLoad, allInOne bool) {
	typed := append(pairs{{"kind", l.kind}}, l.typed...)
	if l.dc && !allInOne {
		typed = append(typed, [2]string{"bus", "dc"})
	}
	w.say("  ", l.name+":", l.remark)
	i := slices.IndexFunc(kinds, func(k loadKind) bool { return k.name == l.kind })
	for _, k := range kinds[i].box.Keys() {
		line, remark := w.key(k, typed)
		if w.said[k.Name+k.Doc] {
			if line[0] == '#' {
				continue
			}
			remark = ""
		}
		w.said[k.Name+k.Doc] = true
		w.say("    ", line, remark)
	}
}

// defaultOf says what holds where a key is left out: "12.8 (the commonest block)".
func defaultOf(k limit.Key) string {
	v := k.Value()
	if v == "" || v == "NaN" || k.Origin == v {
		return k.Origin
	}
	return v + " (" + k.Origin + ")"
}

type starter struct {
	kind, about           string
	allInOne              bool
	typed                 map[string]pairs // of each section
	loads                 []starterLoad
	variants, boxVariants string
}

type starterLoad struct {
	name, kind, remark string
	dc                 bool // with parts
	typed              pairs
}

// A 200 W module that many starters share: common plate values.
var starterModule = pairs{{"power_w", "200"}, {"mp_voltage_v", "20.4"}, {"mp_current_a", "9.81"}, {"oc_voltage_v", "24.5"}, {"sc_current_a", "10.4"}, {"mounting", "close_roof"}}

var starters = []starter{
	{
		kind: "tool-store", about: "a tool store where packs are charged twice a week",
		typed: map[string]pairs{
			"site":       {{"climate", "De Bilt"}},
			"array":      {{"modules_in_series", "1"}, {"strings_in_parallel", "2"}, {"tilt_deg", "60"}, {"azimuth_deg", "equator"}},
			"module":     starterModule,
			"controller": {{"max_current_a", "30"}, {"max_input_v", "75"}},
			"battery":    {{"capacity_ah", "200"}, {"nominal_v", "12.8"}, {"min_charge_temp_c", "0"}},
			"inverter":   {{"mode", "on_demand"}, {"rated_w", "800"}, {"idle_w", "9"}},
			"wiring":     {{"battery_length_m", "1.2"}, {"battery_area_mm2", "35"}},
			"station": {{"energy_wh", "2048"}, {"max_input_w", "500"}, {"min_input_v", "12"}, {"max_input_v", "60"}, {"output_w", "1500"},
				{"awake_w", "5"}, {"outlets_on_w", "15"}, {"mode", "on_demand"}},
		},
		loads: []starterLoad{
			{name: "bench lights", kind: "timetable", dc: true, typed: pairs{{"power_w", "24"}, {"days", "mon to fri"}, {"hours", `["06:45 to 08:15", "15:30 to 18:00"]`}}},
			{name: "drill packs", kind: "packs", typed: pairs{{"count", "4"}, {"pack_energy_wh", "90"}, {"charger_power_w", "90"}, {"chargers", "2"},
				{"days", "[tue, fri]"}, {"at", `"09:00"`}, {"unplug", `"16:00"`}}},
			{name: "mower packs", kind: "packs", remark: "a machine of the warm half of the year", typed: pairs{{"priority", "can_wait"}, {"count", "2"},
				{"pack_energy_wh", "200"}, {"charger_power_w", "150"}, {"days", "fri"}, {"season", `"1 Apr to 30 Sep"`}}},
			{name: "door lamp", kind: "motion_light", dc: true, typed: pairs{{"power_w", "10"}, {"visits_per_night", "5"}, {"minutes_per_visit", "3"}, {"standby_w", "0.3"}}},
			{name: "alarm", kind: "always_on", dc: true, typed: pairs{{"power_w", "2"}}},
		},
		variants: `  inverter left on:
    inverter: {mode: always_on}
  inverter by timetable:
    inverter:
      mode: timetable
      days: mon to fri
      hours: "06:30 to 18:15"
  winter packs at home:
    loads: {drill packs: {season: 1 Mar to 31 Oct}}
`,
		boxVariants: `  outlets by timetable:
    station:
      mode: timetable
      days: mon to fri
      hours: "06:30 to 18:15"
  lamps and alarm on DC:
    loads: {alarm: {bus: dc}, door lamp: {bus: dc}, bench lights: {bus: dc}}
  twice the box, and winter packs at home:
    array: {modules_in_series: 2}
    station: {energy_wh: 4096, max_input_w: 800}
    loads: {alarm: {bus: dc}, door lamp: {bus: dc}, bench lights: {bus: dc}, drill packs: {season: 1 Mar to 31 Oct}}
`,
	},
	{
		kind: "studio", about: "a garden studio used three afternoons a week", allInOne: true,
		typed: map[string]pairs{
			"site":       {{"climate", "Christchurch"}},
			"array":      {{"modules_in_series", "2"}, {"strings_in_parallel", "1"}, {"tilt_deg", "45"}, {"azimuth_deg", "equator"}},
			"module":     starterModule,
			"controller": {{"max_current_a", "20"}, {"max_input_v", "75"}},
			"battery":    {{"capacity_ah", "100"}, {"nominal_v", "25.6"}},
			"inverter":   {{"mode", "on_demand"}, {"rated_w", "1800"}, {"idle_w", "14"}},
			"wiring":     {{"battery_length_m", "1.2"}, {"battery_area_mm2", "35"}},
			"station": {{"energy_wh", "2048"}, {"max_input_w", "500"}, {"min_input_v", "12"}, {"max_input_v", "60"}, {"output_w", "1800"},
				{"awake_w", "5"}, {"outlets_on_w", "15"}, {"mode", "on_demand"}},
		},
		loads: []starterLoad{
			{name: "strip lights", kind: "timetable", dc: true, typed: pairs{{"power_w", "36"}, {"days", "[tue, thu, sat]"}, {"hours", `"14:00 to 20:00"`}}},
			{name: "laptop", kind: "timetable", typed: pairs{{"power_w", "45"}, {"on_minutes_per_hour", "40"}, {"days", "[tue, thu, sat]"}, {"hours", `"14:00 to 20:00"`}}},
			{name: "kettle", kind: "timetable", remark: "short and strong: the inverter must carry it", typed: pairs{{"priority", "can_wait"}, {"class", "resistive"}, {"power_w", "1500"},
				{"on_minutes_per_hour", "4"}, {"days", "[tue, thu, sat]"}, {"hours", `"15:00 to 17:00"`}}},
			{name: "router", kind: "always_on", dc: true, typed: pairs{{"power_w", "6"}, {"priority", "can_wait"}}},
		},
		variants: `  inverter left on:
    inverter: {mode: always_on}
  one more module:
    array: {modules_in_series: 1, strings_in_parallel: 3}
    controller: {max_current_a: 30}
    battery: {nominal_v: 12.8, capacity_ah: 200}
  no router:
    loads: {router: removed}
`,
		boxVariants: `  outlets by timetable:
    station:
      mode: timetable
      days: [tue, thu, sat]
      hours: "13:30 to 20:15"
  no router:
    loads: {router: removed}
  no router, lights on DC, three modules:
    array: {modules_in_series: 1, strings_in_parallel: 3}
    loads: {router: removed, strip lights: {bus: dc}}
`,
	},
	{
		kind: "barn", about: "a small barn with lamps, a fence and a pump",
		typed: map[string]pairs{
			"site":       {{"climate", "Madison WI"}},
			"array":      {{"modules_in_series", "2"}, {"strings_in_parallel", "2"}, {"tilt_deg", "60"}, {"azimuth_deg", "equator"}},
			"module":     starterModule,
			"controller": {{"max_current_a", "35"}, {"max_input_v", "100"}},
			"battery":    {{"capacity_ah", "200"}, {"nominal_v", "25.6"}, {"min_charge_temp_c", "0"}},
			"inverter":   {{"mode", "on_demand"}, {"rated_w", "1500"}, {"idle_w", "14"}},
			"wiring":     {{"battery_length_m", "1.2"}, {"battery_area_mm2", "35"}},
			"station": {{"energy_wh", "3600"}, {"max_input_w", "800"}, {"min_input_v", "12"}, {"max_input_v", "100"}, {"output_w", "2000"},
				{"awake_w", "8"}, {"outlets_on_w", "20"}, {"mode", "on_demand"}},
		},
		loads: []starterLoad{
			{name: "yard lamp", kind: "dusk_to_dawn", dc: true, typed: pairs{{"power_w", "15"}, {"hours", `["16:00 to 22:00", "05:00 to 09:00"]`}}},
			{name: "fence", kind: "always_on", dc: true, typed: pairs{{"power_w", "3"}}},
			{name: "trough pump", kind: "timetable", typed: pairs{{"power_w", "370"}, {"on_minutes_per_hour", "6"}, {"hours", `["07:00 to 09:00", "17:00 to 19:00"]`}}},
			{name: "shears", kind: "packs", typed: pairs{{"priority", "can_wait"}, {"count", "3"}, {"pack_energy_wh", "100"}, {"charger_power_w", "110"},
				{"days", "sun"}, {"season", `"15 May to 30 Jun"`}}},
		},
		variants: `  inverter left on:
    inverter: {mode: always_on}
  half the battery:
    battery: {capacity_ah: 100}
  heater pads for the battery:
    battery: {heater_w: 50}
`,
		boxVariants: `  heater pads for the box:
    station: {heater_w: 50}
  fence and lamp on DC, heater pads:
    station: {heater_w: 50}
    loads: {fence: {bus: dc}, yard lamp: {bus: dc}}
`,
	},
}
