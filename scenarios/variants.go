package scenarios

import (
	"slices"

	"gopkg.in/yaml.v3"
)

const (
	variantsKey = "variants"
	removed     = "removed" // typed as a value, drops the key of the base
)

// each calls decode for the base with the name "", then for every variant in file order with the variant laid over the
// base. A fault that the base has is told once; one that a variant brings in is told at the variant's lines where they
// hold the value, else at the base's with the variant's name.
func (d *decoder) each(root entry, decode func(variant string, root entry)) {
	base, variants := d.split(root)
	first := len(d.found)
	decode("", base)
	last := len(d.found)
	if last > maxShown {
		return // enough to mend first
	}
	for _, v := range variants {
		own := map[[2]int]bool{}
		positions(own, v.key)
		positions(own, v.value)
		merged := entry{key: v.key, value: d.merge(base.value, v.value, "", v.path)}
		from := len(d.found)
		d.variant = v.name()
		decode(v.name(), merged)
		kept := d.found[:from]
		for _, f := range d.found[from:] {
			if slices.ContainsFunc(d.found[first:last], func(b finding) bool {
				return b.Field == f.Field && b.Fault == f.Fault && (b.section && f.section || b.Line == f.Line && b.Col == f.Col)
			}) {
				continue
			}
			if !own[[2]int{f.Line, f.Col}] {
				f.Fault += " (in variant " + label(v.name()) + ")"
			} else if f.Field == "" {
				f.Field = v.path
			} else {
				f.Field = v.path + "." + f.Field
			}
			kept = append(kept, f)
		}
		d.found = kept
	}
}

// split takes the variants out of the top mapping.
func (d *decoder) split(root entry) (base entry, variants []entry) {
	top := *root.value
	top.Content = nil
	for pair := range slices.Chunk(root.value.Content, 2) {
		if pair[0].Value != variantsKey {
			top.Content = append(top.Content, pair...)
			continue
		}
		v := entry{path: variantsKey, key: pair[0], value: pair[1]}
		if v.value.Kind == told {
			continue
		}
		d.entries(v, "larger battery: {battery: {capacity_ah: 200}}", func(v entry) {
			variants = append(variants, v)
		})
	}
	base = entry{path: root.path, key: &top, value: &top}
	return base, slices.DeleteFunc(variants, func(v entry) bool { return !d.isVariant(v) })
}

func (d *decoder) isVariant(v entry) bool {
	const example = "larger battery: {battery: {capacity_ah: 200}}"
	if v.name() == variantsKey {
		d.fault(v.key, v.path, "a variant cannot be called variants", example)
		return false
	}
	if !d.isKeys(v, example) {
		return false
	}
	for pair := range slices.Chunk(v.value.Content, 2) {
		if pair[0].Value == variantsKey {
			d.fault(pair[0], join(v.path, variantsKey), "a variant cannot have variants of its own", "")
			return false
		}
	}
	return true
}

// merge lays patch over base, both mappings, and returns a new mapping; neither changes. Mappings merge key by key; a
// scalar or a list takes the place of what the base has; the plain word removed drops the key. Each key and value keeps
// the place in the file it came from. Path leads to base, prefix to the variant.
func (d *decoder) merge(base, patch *yaml.Node, path, prefix string) *yaml.Node {
	out := &yaml.Node{Kind: yaml.MappingNode, Tag: patch.Tag, Line: patch.Line, Column: patch.Column}
	at := map[string]int{}
	var names []string
	for pair := range slices.Chunk(base.Content, 2) {
		at[pair[0].Value] = len(out.Content)
		names = append(names, pair[0].Value)
		out.Content = append(out.Content, pair...)
	}
	drop := map[*yaml.Node]bool{}
	for pair := range slices.Chunk(patch.Content, 2) {
		key, value := pair[0], pair[1]
		i, known := at[key.Value]
		here := join(path, key.Value)
		full := prefix + "." + here
		switch {
		case isNull(value) && known:
			d.fault(key, full, "has no value: type one, or removed to drop what the base has", "")
			value = &yaml.Node{Kind: told, Line: key.Line, Column: key.Column}
		case plain(value) && value.Value == removed && known:
			drop[out.Content[i]] = true
			continue
		case plain(value) && value.Value == removed:
			fault := "there is nothing to remove: the base has no " + label(key.Value)
			if word := Nearest(key.Value, names[:min(len(names), maxEntries)]); word != "" {
				fault += " (did you mean " + label(word) + "?)"
			}
			d.fault(key, full, fault, "")
			continue
		case d.root.box != nil && path == "loads" && !known && value.Kind == yaml.MappingNode && peek(entry{value: value}, "kind") == "":
			fault := "the base has no load " + label(key.Value) + " to change"
			if word := Nearest(key.Value, names[:min(len(names), maxEntries)]); word != "" {
				fault += " (did you mean " + label(word) + "?)"
			}
			d.fault(key, full, fault+"; one of the variant's own wants a kind", "kind: timetable")
			value = &yaml.Node{Kind: told, Line: key.Line, Column: key.Column}
		case value.Kind == yaml.MappingNode:
			under := &yaml.Node{}
			if known && out.Content[i+1].Kind == yaml.MappingNode && !d.replaces(here, value, out.Content[i+1]) {
				under = out.Content[i+1]
			}
			value = d.merge(under, value, here, prefix)
		}
		if !known {
			out.Content = append(out.Content, key, value)
			continue
		}
		out.Content[i], out.Content[i+1] = key, value
	}
	if len(drop) > 0 {
		all := out.Content
		out.Content = nil
		for pair := range slices.Chunk(all, 2) {
			if !drop[pair[0]] {
				out.Content = append(out.Content, pair...)
			}
		}
	}
	return out
}

// positions notes where the nodes of a tree stand in the file.
func positions(in map[[2]int]bool, n *yaml.Node) {
	in[[2]int{n.Line, n.Column}] = true
	for _, c := range n.Content {
		positions(in, c)
	}
}
