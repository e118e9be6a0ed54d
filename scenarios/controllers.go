package scenarios

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"

	"tideover/sim"
	"tideover/sim/controller"
	"tideover/sim/limit"
)

// controllers reads one controller, or several by name.
func (d *decoder) controllers(e entry, f *draft) {
	sys := &f.System
	if !areNamed(e.value) {
		d.controller(e, &sys.Controller)
		f.controllerAt = []entry{e}
		return
	}
	d.entries(e, "east: {max_current_a: 20, max_input_v: 75}", func(e entry) {
		c := sim.NamedController{Name: e.name(), Controller: controller.Default()}
		d.controller(e, &c.Controller)
		if f.controllerAt == nil {
			sys.Controller, sys.ControllerName = c.Controller, c.Name
		} else {
			sys.Further = append(sys.Further, c)
		}
		f.controllerAt = append(f.controllerAt, e)
	})
}

// areNamed reports whether a mapping holds names with keys below them, and not keys.
func areNamed(n *yaml.Node) bool {
	if n.Kind != yaml.MappingNode {
		return false // of a list the items are no pairs
	}
	names := false
	for pair := range slices.Chunk(n.Content, 2) {
		switch v := pair[1]; {
		case v.Kind == yaml.MappingNode:
			names = true
		case v.Kind != told && !isNull(v):
			return false
		}
	}
	return names
}

// feeding finds the controller of each sub-array, and holds what stands side by side against each other.
func (d *decoder) feeding(f *draft, station bool) {
	sys := &f.System
	all := sys.Controllers()
	var names []string
	for _, c := range all {
		if c.Name != "" {
			names = append(names, c.Name)
		}
	}
	fed := make([]bool, len(all))
	before := len(d.found) + d.more
	for i, name := range f.subFeeds {
		e := f.subAt[i]
		k, path := slices.Index(names, name), join(e.path, "controller")
		switch at := valueAt(e, "controller"); {
		case k >= 0:
		case name == "" && len(all) == 1:
			k = 0
		case name == "":
			d.missing(e, "controller", "there are several, "+list(labels(names), "and"), line("controller", names[0]))
		case station:
			d.fault(at, path, "the all-in-one box has the only controller: leave the key out", "")
		case len(names) == 0:
			d.fault(at, path, "there is no controller "+label(name)+": the only one has no name, so leave the key out", "")
		default:
			fault := "there is no controller " + label(name)
			if near := Nearest(name, names); near != "" {
				fault += " (did you mean " + label(near) + "?)"
			} else {
				fault += ": type " + list(labels(names), "or")
			}
			d.fault(at, path, fault, line("controller", names[0]))
		}
		if k < 0 {
			continue
		}
		fed[k] = true
		if i == 0 {
			sys.Feeds = k
		} else {
			sys.Beside[i-1].Feeds = k
		}
	}
	if len(d.found)+d.more > before {
		return
	}
	for k, at := range f.controllerAt {
		if !fed[k] {
			d.fault(at.key, at.path, "no sub-array feeds it: give one the key controller, or leave it out", line("controller", all[k].Name))
		}
	}
	if k, key, holds, want, unlike := sys.Unlike(); unlike && len(d.found)+d.more == before {
		at := f.controllerAt[k]
		d.fault(valueAt(at, key), join(at.path, key), fmt.Sprintf("would be %s, and that of %s %s: a bank has one voltage at a time, so all its controllers are set alike; type the same in each",
			stage(key, holds), label(all[0].Name), stage(key, want)), "")
	}
}

// stage is a charging voltage or time in words.
func stage(key string, v float64) string {
	if key == "float_v" && v == 0 {
		return "none"
	}
	_, u := unit(key)
	return strings.TrimSpace(limit.Plain(math.Round(v*100)/100) + " " + u)
}

func labels(names []string) []string {
	var quoted []string
	for _, n := range names {
		quoted = append(quoted, label(n))
	}
	return quoted
}

// valueAt is where the value of a key of a mapping is typed, or the mapping where it is not.
func valueAt(e entry, key string) *yaml.Node {
	for pair := range slices.Chunk(e.value.Content, 2) {
		if pair[0].Value == key {
			return pair[1]
		}
	}
	return e.key
}

// controller sets the kind before its keys, as it says which they are.
func (d *decoder) controller(e entry, c *controller.Controller) {
	kind := peek(e, "kind")
	if kind != "" && !slices.Contains(controller.KindWords, kind) {
		d.section(e, eitherKind(controllerKinds()))
		return
	}
	c.Kind = controller.Kind(max(0, slices.Index(controller.KindWords, kind)))
	d.section(e, c)
}

// replaces reports whether patch takes the place of base, of which one is a single box and the other are several by name.
func (d *decoder) replaces(path string, patch, base *yaml.Node) bool {
	if d.root.box == nil || !slices.ContainsFunc(d.root.below, func(c child) bool { return c.named && c.name == path }) {
		return false
	}
	if !areNamed(base) {
		return areNamed(patch)
	}
	for pair := range slices.Chunk(patch.Content, 2) {
		if v := pair[1]; v.Kind != yaml.MappingNode && v.Kind != told && !isNull(v) && v.Value != removed {
			return true
		}
	}
	return false
}
