package scenarios

import (
	"math"
	"slices"
	"strconv"
	"strings"

	"gopkg.in/yaml.v3"

	"tideover/loads"
	"tideover/sim"
	"tideover/sim/array"
	"tideover/sim/backup"
	"tideover/sim/battery"
	"tideover/sim/controller"
	"tideover/sim/inverter"
	"tideover/sim/limit"
	"tideover/sim/plane"
	"tideover/sim/station"
	"tideover/sim/wiring"
	"tideover/weather/climate"
	"tideover/weather/hourfile"
)

// draft is a scenario while it is read, with the boxes that are no part of a system.
type draft struct {
	*Scenario
	top     top
	station station.Station
	bank    battery.Bank // as typed, by the sheet of a block
	means   climate.Means
	layout  hourfile.Layout
	cables  wiring.Cables
	sub     sim.SubArray // stands for each of the sub-arrays, in what is declared
	feeds   string       // and its controller
	loadAt  []entry      // where each of the loads is typed

	controllerAt []entry // where each of the controllers is typed
	subAt        []entry // where each of the sub-arrays is
	subFeeds     []string

	wiringAt map[string]entry // where each of the keys of cables is typed
}

func newDraft() *draft {
	s := &Scenario{
		Site: Site{LatDeg: math.NaN(), LonDeg: math.NaN(), OffsetH: math.NaN(), CalendarYear: 2025, RecordLowC: math.NaN()},
		System: sim.System{StepMin: 60, Surface: plane.Default(), Array: array.Default(), Snow: plane.DefaultSnow(),
			Controller: controller.Default(), AC: wiring.DefaultAC()},
		inverter: inverter.Default(), backup: backup.Default(),
	}
	y := &s.System
	return &draft{Scenario: s, top: top{s: s, seed: 1}, station: station.Default(), bank: battery.Default(), layout: hourfile.DefaultLayout(),
		cables: wiring.NewCables(&y.ArrayCable, &y.OutputCable, &y.BatteryCable, &y.InverterCable, &y.DCCable, &y.BatteryFuse),
		sub:    sim.SubArray{Array: array.Default(), Surface: plane.Default()}}
}

// parts declares the sections of a scenario. The decoder, the schema, the page of keys and the starters read it; only the
// decoder has a d.
func (f *draft) parts(d *decoder) []child {
	sys := &f.System
	below := []child{
		{name: "means", doc: "twelve monthly means of the place, in place of climate", box: &f.means},
		{name: "snow", doc: "what snow falls and lies", example: "{swept: true}", box: &sys.Snow},
	}
	return []child{
		{name: "site", doc: "where it stands", example: "{climate: Wellington}", need: true, box: &f.Site, below: below,
			decode: func(e entry) { d.site(e, f, below) }},
		{name: "weather", doc: "what the columns of a weather file hold, where it does not say so itself", box: &f.layout, decode: func(e entry) {
			f.Layout = &f.layout
			d.section(e, &f.layout)
		}},
		{name: "array", doc: "the panels, or a list of sub-arrays", need: true, box: &panels{&f.sub.Array, &f.sub.Surface, &f.feeds}, listed: true,
			below: subArray(d, &f.sub), decode: func(e entry) { d.array(e, f) }},
		{name: "controller", doc: "the charge controller", need: true, unless: "station", box: &sys.Controller, forms: controllerKinds(), named: true,
			decode: func(e entry) { d.controllers(e, f) }},
		{name: "battery", doc: "the battery", need: true, unless: "station", box: &f.bank, decode: func(e entry) {
			f.bank = battery.New(battery.Type(max(0, slices.Index(battery.TypeWords, peek(e, "type"))))) // its defaults
			d.section(e, &f.bank)
		}},
		{name: "inverter", doc: "the inverter", unless: "station", box: &f.inverter, decode: func(e entry) {
			d.section(e, &f.inverter)
			sys.Inverter = &f.inverter
		}},
		{name: "wiring", doc: "cables", box: &f.cables, decode: func(e entry) {
			f.wiringAt = d.section(e, &f.cables).typed
			f.cables.Spread()
		}},
		{name: "backup", doc: "a charger from the mains or an engine, or the dates when the battery is carried to one", example: "{power_w: 300, fuel_l_per_h: 0.6}", box: &f.backup, decode: func(e entry) {
			d.section(e, &f.backup)
			sys.Backup = &f.backup
		}},
		{name: "station", doc: "an all-in-one box", instead: true, box: &f.station},
		{name: "outlets", doc: "the AC outlets: breaker, cable, earth", box: &sys.AC},
		{name: "loads", doc: "what draws power", example: "{lamp: {kind: always_on, power_w: 5}}", need: true, kinds: loadKinds(),
			decode: func(e entry) {
				d.entries(e, "lamp: {kind: always_on, power_w: 5}", func(e entry) {
					f.loadAt = append(f.loadAt, e)
					sys.Loads = append(sys.Loads, d.load(e))
				})
			}},
		{name: variantsKey, doc: "named changes to any of the keys above"}, // taken out before
	}
}

// subArray are the sections of one sub-array.
func subArray(d *decoder, sub *sim.SubArray) []child {
	const example = "{hours: after 15:00, season: 1 Oct to 31 Mar}"
	shape := plane.DefaultShade()
	return []child{
		{name: "module", doc: "one module's data sheet", need: true, box: &sub.Array.Module},
		{name: "shade", doc: "a shadow that falls on it, or a list of them", example: example, box: &shape, listed: true,
			decode: func(e entry) {
				d.items(e, example, func(e entry) {
					shade := plane.DefaultShade()
					d.section(e, &shade)
					sub.Surface.Shades = append(sub.Surface.Shades, shade)
				})
			}},
	}
}

// loadKind is one kind of load, or of another box, and its keys.
type loadKind struct {
	name string
	box  box
}

func loadKinds() []loadKind {
	var kinds []loadKind
	for i, name := range loads.KindWords {
		l := loads.New(loads.Kind(i))
		kinds = append(kinds, loadKind{name, &l})
	}
	return kinds
}

func controllerKinds() []loadKind {
	var kinds []loadKind
	for i, name := range controller.KindWords {
		c := controller.New(controller.Kind(i))
		kinds = append(kinds, loadKind{name, &c})
	}
	return kinds
}

// elsewhere says where a key belongs that does not belong where it is typed, in words that go on from "is not a key of
// battery", with an example; "" where nothing can be said.
func (d *decoder) elsewhere(v, in entry) (why, example string) {
	if d.root.box == nil {
		return "", ""
	}
	if kind := peek(v, "kind"); slices.Contains(loads.KindWords, kind) {
		switch {
		case in.path == "":
			return "it looks like a load: indent it below loads:", ""
		case strings.HasPrefix(in.path, "loads."):
			return "it looks like a load: move it left, below loads:", ""
		}
	}
	key := fold(v.name())
	if in.path != "" {
		const why = "it stands at the top of the file, without indentation"
		if example := d.example(d.root.box, key); example != "" {
			return why, example
		}
		if i := slices.IndexFunc(d.root.below, func(c child) bool { return c.name == key }); i >= 0 {
			return why, line(key, d.root.below[i].inline())
		}
	}
	type place struct{ section, words, example string }
	var places []place
	for _, c := range d.root.below {
		if c.unless != "" && d.typed[c.unless] || slices.ContainsFunc(d.root.below, func(o child) bool { return o.unless == c.name && d.typed[o.name] }) {
			continue // what takes its place is there
		}
		keys := c.box
		if c.forms != nil {
			keys = eitherKind(c.forms)
		}
		if i := slices.IndexFunc(c.forms, func(f loadKind) bool { return typed(f.box, key) != "" }); i >= 0 && (in.path == c.name || strings.HasPrefix(in.path, c.name+".")) {
			its := peek(in, "kind")
			if its == "" {
				its = c.forms[0].name
			}
			return "its kind is " + its + "; it is a key of kind " + c.forms[i].name, line("kind", c.forms[i].name)
		}
		if keys != nil {
			example := ""
			if c.forms == nil {
				example = d.example(keys, key)
			} else {
				example = typed(keys, key)
			}
			if example != "" {
				places = append(places, place{c.name, "a key of " + c.name, line(c.name, "{"+example+"}")})
			}
		}
		for _, b := range c.below {
			example := d.example(b.box, key)
			switch {
			case b.name == key:
				places = append(places, place{c.name, "a part of " + c.name, ""})
			case example != "" && in.path == c.name:
				return "it is a key of " + in.path + "." + b.name + ": indent it below " + b.name + ":", line(b.name, "{"+example+"}")
			case example != "":
				places = append(places, place{c.name, "a key of " + c.name + "." + b.name, line(c.name, "{"+b.name+": {"+example+"}}")})
			}
		}
		var kinds []string
		for _, k := range c.kinds {
			if d.example(k.box, key) != "" {
				kinds = append(kinds, k.name)
			}
		}
		switch {
		case len(kinds) == 0:
		case strings.HasPrefix(in.path, c.name+"."):
			return "its kind is " + peek(in, "kind") + "; it is a key of kind " + list(kinds, "or"), line("kind", kinds[0])
		case len(kinds) == len(c.kinds):
			places = append(places, place{c.name, "a key of a load", ""})
		default:
			places = append(places, place{c.name, "a key of a load of kind " + list(kinds, "or"), ""})
		}
	}
	var words []string
	for _, p := range places {
		words = append(words, p.words)
	}
	switch {
	case len(words) == 0 && v.value.Kind == yaml.MappingNode && slices.ContainsFunc(d.root.below, func(c child) bool { return c.named && c.name == in.path }):
		return "of several each has a name with its keys below it, and nothing stands beside the names", ""
	case len(words) == 0:
		return "", ""
	case len(words) > 1:
		return "it is " + list(words, "or"), ""
	case in.path == "":
		return "it is " + words[0] + ": indent it below " + places[0].section + ":", places[0].example
	}
	return "it is " + words[0], places[0].example
}

// example is typed, from a list that is made once for each box: unknown keys may come by the thousand.
func (d *decoder) example(b box, key string) string {
	known, ok := d.examples[b]
	if !ok {
		known = map[string]string{}
		for _, k := range b.Keys() {
			known[k.Name] = line(k.Name, k.Example)
		}
		if d.examples == nil {
			d.examples = map[box]map[string]string{}
		}
		d.examples[b] = known
	}
	return known[key]
}

// typed returns a key of a box as it may be typed, or "" where the box has no such key.
func typed(b box, key string) string {
	for _, k := range b.Keys() {
		if k.Name == key {
			return line(k.Name, k.Example)
		}
	}
	return ""
}

// list joins words as in a sentence: "a, b or c".
func list(words []string, and string) string {
	if n := len(words) - 1; n > 0 {
		return strings.Join(words[:n], ", ") + " " + and + " " + words[n]
	}
	return strings.Join(words, "")
}

// top is the keys of the scenario itself.
type top struct {
	s    *Scenario
	seed int
}

func (t *top) Keys() []limit.Key {
	return []limit.Key{
		limit.Str("name", &t.s.Name, "what the report is called", "garden shed").Needed(),
		limit.Str("about", &t.s.About, "what the building is and who uses it", "a tool store, invented").From("none"),
		limit.Int("step_min", &t.s.System.StepMin, limit.Between(1, 60), "length of a step: 60, 30, 15, 10, 5 or 1 minutes", "60").
			From("one hour"),
		limit.Int("seed", &t.seed, limit.Between(0, 1e9), "number that picks the synthetic year", "1").From("1"),
	}
}

func (t *top) Check() []limit.Fault {
	faults := limit.Check(t.Keys())
	if !slices.Contains([]int{60, 30, 15, 10, 5, 1}, t.s.System.StepMin) && len(faults) == 0 {
		faults = append(faults, limit.Fault{Key: "step_min", Msg: strconv.Itoa(t.s.System.StepMin) +
			" is not 60, 30, 15, 10, 5 or 1", Example: "15"})
	}
	return faults
}

// panels are the keys of the array, of the plane it lies in and of what it feeds, typed together.
type panels struct {
	array   *array.Array
	surface *plane.Surface
	feeds   *string
}

func (p *panels) Keys() []limit.Key {
	return append(append(p.array.Keys(), p.surface.Keys()...),
		limit.Str("controller", p.feeds, "name of the controller that it feeds, where there are several", "east").From("the only one"))
}

func (p *panels) Check() []limit.Fault {
	return append(p.array.Check(), p.surface.Check()...)
}

func (d *decoder) load(e entry) loads.Load {
	kind := loads.Kind(max(0, slices.Index(loads.KindWords, peek(e, "kind"))))
	l := loads.New(kind)
	l.Name = e.name()
	if e.value.Kind != 0 && !slices.Contains(loads.KindWords, peek(e, "kind")) {
		d.section(e, anyKind{}) // which keys are right cannot be said
		return l
	}
	d.section(e, &l)
	if l.Kind == loads.Profile && strings.TrimSpace(l.ProfileFile) != "" {
		var fault string
		if l.Measured, fault = d.profile(l.ProfileFile); fault != "" {
			for pair := range slices.Chunk(e.value.Content, 2) {
				if pair[0].Value == "profile" {
					d.fault(pair[1], join(e.path, "profile"), fault, "")
				}
			}
		}
	}
	return l
}

// eitherKind knows the keys of all of some kinds. It needs those that each of them needs.
type eitherKind []loadKind

func (kinds eitherKind) Keys() []limit.Key {
	var keys []limit.Key
	for _, kind := range kinds {
		for _, key := range kind.box.Keys() {
			if !slices.ContainsFunc(keys, func(k limit.Key) bool { return k.Name == key.Name }) {
				key.Need = key.Need && !slices.ContainsFunc(kinds, func(o loadKind) bool { return typed(o.box, key.Name) == "" })
				keys = append(keys, key)
			}
		}
	}
	return keys
}

func (eitherKind) Check() []limit.Fault { return nil }

// anyKind knows the keys of every kind: for a load whose kind is not known.
type anyKind struct{}

func (anyKind) Keys() []limit.Key {
	return eitherKind(loadKinds()).Keys()
}

func (anyKind) Check() []limit.Fault { return nil }
