package scenarios

import (
	"fmt"
	"slices"
	"strings"

	"gopkg.in/yaml.v3"

	"tideover/sim/limit"
)

// entry is one key of a mapping with its value, and the path of keys that leads to it.
type entry struct {
	path       string
	key, value *yaml.Node // for the whole file both are its top mapping
}

func (e entry) name() string { return e.key.Value }

// box is what every model with parameters offers.
type box interface {
	Keys() []limit.Key
	Check() []limit.Fault
}

// child is a key whose value has keys of its own.
type child struct {
	name    string
	doc     string // what it is
	example string // a value in one line, as {capacity_ah: 200}, or ""
	need    bool
	unless  string     // the child that takes its place: not both
	instead bool       // takes the place of those that name it
	box     box        // its keys
	below   []child    // its children
	listed  bool       // or a list of such values
	kinds   []loadKind // it holds names of the person's own, each with the keys of one kind
	forms   []loadKind // it has a key kind, left out for the first, which says what the others are
	named   bool       // or it holds names of the person's own, each with such keys

	// decode takes a value that is neither empty nor told; nil walks box and below.
	decode func(entry)
}

// inline is an example of the child in one line, of the keys that it must have: "{capacity_ah: 100}".
func (c child) inline() string {
	if c.example != "" || c.box == nil {
		return c.example
	}
	var parts []string
	for _, k := range c.box.Keys() {
		if k.Need {
			parts = append(parts, line(k.Name, k.Example))
		}
	}
	for _, b := range c.below {
		if b.need {
			parts = append(parts, line(b.name, b.inline()))
		}
	}
	return "{" + strings.Join(parts, ", ") + "}"
}

// section is a mapping that has been decoded.
type section struct {
	entry
	d     *decoder
	typed map[string]entry // what was typed, faulty or not
	keys  []limit.Key
	bad   map[string]bool // keys that have a fault
}

// section sets the keys of b from the mapping e, hands the children on, then places what b's own Check finds. Where a
// value could not be set, b is not what the person meant, so only the ranges of the values that were set are checked.
func (d *decoder) section(e entry, b box, children ...child) *section {
	keys := b.Keys()
	s := &section{entry: e, d: d, typed: map[string]entry{}, keys: keys, bad: map[string]bool{}}
	var known []string
	for _, k := range keys {
		known = append(known, k.Name)
	}
	for _, c := range children {
		known = append(known, c.name)
	}
	example := ""
	if len(keys) > 0 {
		example = line(keys[0].Name, keys[0].Example)
	}
	if !d.isKeys(e, example) {
		return s
	}
	before, all := len(d.found)+d.more, true // all: no key may be hidden in what was refused
	for pair := range slices.Chunk(e.value.Content, 2) {
		if isMerge(pair[0]) {
			all = false
			continue
		}
		s.typed[pair[0].Value] = entry{path: join(e.path, pair[0].Value), key: pair[0], value: pair[1]}
	}
	excused := map[string]bool{} // missing keys that a misspelt one stands for
	for pair := range slices.Chunk(e.value.Content, 2) {
		if name := pair[0].Value; !isMerge(pair[0]) && !slices.Contains(known, name) {
			excused[d.unknown(s.typed[name], e, known, keys, children)] = true
		}
	}
	delete(excused, "")
	for _, k := range keys {
		v, typed := s.typed[k.Name]
		switch {
		case !typed && k.Need && all && !excused[k.Name]:
			d.missing(e, k.Name, k.Doc, line(k.Name, k.Example))
			s.bad[k.Name] = true
		case !typed && k.Need:
			s.bad[k.Name] = true
		case typed && v.value.Kind == told:
			s.bad[k.Name] = true
		case typed:
			if at, fault := set(k, v.value); fault != "" {
				if at == v.value && isNull(at) {
					at = v.key
				}
				d.fault(at, v.path, fault, line(k.Name, k.Example))
				s.bad[k.Name] = true
				others, faults := otherWords(k, v.value, at)
				for i, o := range others {
					d.fault(o, v.path, faults[i], line(k.Name, k.Example))
				}
			}
		}
	}
	for _, c := range children {
		v, typed := s.typed[c.name]
		example := line(c.name, c.inline())
		switch {
		case !typed && c.need && all && !excused[c.name] && !excused[c.unless] && !s.has(c.unless):
			doc := c.doc
			if c.unless != "" {
				doc += " (or " + c.unless + ", " + children[slices.IndexFunc(children, func(o child) bool { return o.name == c.unless })].doc + ")"
			}
			d.missing(e, c.name, doc, example)
		case typed && s.has(c.unless):
			d.fault(v.key, v.path, "stands beside "+c.unless+", which holds its own: leave one of them out", "")
		case !typed || v.value.Kind == told:
		case isNull(v.value):
			d.fault(v.key, v.path, "has no value: type what belongs to it, or leave the line out", example)
		case c.decode == nil:
			d.section(v, c.box, c.below...)
		default:
			c.decode(v)
		}
	}
	if len(d.found)+d.more == before && len(s.bad) == 0 && all {
		faults := b.Check()
		if doubtful, ok := b.(interface{ Slips() []limit.Fault }); ok && len(faults) == 0 {
			faults = doubtful.Slips()
		}
		for _, f := range faults {
			s.place(f)
		}
		return s
	}
	faults := limit.Check(keys)
	if len(faults) == 0 {
		faults = slices.DeleteFunc(b.Check(), func(f limit.Fault) bool { return !s.between(f) })
	}
	for _, f := range faults {
		if s.has(f.Key) {
			s.place(f)
		}
	}
	return s
}

// between reports whether a fault is between keys that were typed without one: the others of the box do not change it.
func (s *section) between(f limit.Fault) bool {
	names := false
	for _, k := range s.keys {
		if k.Name == f.Key || !slices.Contains(strings.FieldsFunc(f.Msg, func(r rune) bool { return r != '_' && (r < 'a' || r > 'z') && (r < '0' || r > '9') }), k.Name) {
			continue
		}
		if !s.has(k.Name) || s.bad[k.Name] {
			return false
		}
		names = true
	}
	return names && !s.bad[f.Key]
}

// has reports whether the key was typed.
func (s *section) has(key string) bool { _, ok := s.typed[key]; return ok }

// place puts a fault of the box at the value of its key, or at the section where the key was not typed. It passes over a
// key that has a fault of the decoder's already.
func (s *section) place(f limit.Fault) {
	if s.bad[f.Key] {
		return
	}
	example := line(f.Key, f.Example)
	k := slices.IndexFunc(s.keys, func(k limit.Key) bool { return k.Name == f.Key })
	if v, ok := s.typed[f.Key]; ok {
		msg := f.Msg
		if k >= 0 {
			msg += slip(s.keys[k], f.Msg)
		}
		s.d.fault(v.value, v.path, msg, example)
		return
	}
	msg := f.Msg
	if k >= 0 && !strings.HasPrefix(msg, "is missing") {
		msg = "is not typed, and its default does not fit: " + msg
	}
	path := s.path
	if f.Key != "" {
		path = join(s.path, f.Key)
	}
	s.d.atSection(s.entry, path, msg, example)
}

func (d *decoder) atSection(e entry, path, fault, example string) {
	kept := len(d.found)
	d.fault(e.key, path, fault, example)
	if len(d.found) > kept {
		d.found[kept].section = true
	}
}

func (d *decoder) missing(e entry, key, doc, example string) {
	fault := "is missing"
	if doc != "" {
		fault += ": " + doc
	}
	d.atSection(e, join(e.path, key), fault, example)
}

// alsoCalled are other words for sections, which no distance finds.
var alsoCalled = map[string]string{"sight": "site", "place": "site", "location": "site", "panels": "array", "modules": "array", "solar": "array", "pv": "array",
	"charge_controller": "controller", "regulator": "controller", "bank": "battery", "batteries": "battery", "cables": "wiring", "engine": "backup", "generator": "backup",
	"sockets": "outlets", "consumers": "loads", "devices": "loads"}

// unknown refuses a key and returns the known one that was meant, or "".
func (d *decoder) unknown(v, in entry, known []string, keys []limit.Key, children []child) string {
	if len(d.found) >= maxKept {
		d.more++ // looking for the nearest key takes time
		return ""
	}
	of := "the scenario"
	if in.path != "" {
		of = in.path
	}
	example := ""
	word, why := otherUnit(v.name(), known)
	if word == "" {
		why, example = d.elsewhere(v, in)
	}
	if other := alsoCalled[fold(v.name())]; word == "" && why == "" && in.path == "" && slices.Contains(known, other) {
		word, why = other, "did you mean "+other+"?"
	}
	if word == "" && why == "" {
		if word = Nearest(v.name(), known); word != "" {
			why = "did you mean " + word + "?"
		}
	}
	if why == "" {
		d.fault(v.key, v.path, "is not a key of "+of+"; the keys are "+strings.Join(known, ", "), "")
		return ""
	}
	if i := slices.IndexFunc(keys, func(k limit.Key) bool { return k.Name == word }); i >= 0 {
		example = line(word, keys[i].Example)
	}
	if i := slices.IndexFunc(children, func(c child) bool { return c.name == word }); i >= 0 {
		example = line(word, children[i].inline())
	}
	d.fault(v.key, v.path, "is not a key of "+of+" ("+why+")", example)
	return word
}

// isKeys reports whether the value is a mapping, and refuses it if not.
func (d *decoder) isKeys(e entry, example string) bool {
	if e.value.Kind == yaml.MappingNode {
		return true
	}
	if e.value.Kind != told {
		d.notKeys(e, example)
	}
	return false
}

func (d *decoder) notKeys(e entry, example string) {
	at, fault := e.value, "is "+what(e.value)+" where keys and values are wanted"
	switch {
	case isNull(e.value):
		at, fault = e.key, "has no value"
	case e.value.Kind == yaml.ScalarNode && noSpace.MatchString(e.value.Value):
		fault = spaceFault(e.value.Value)
	}
	d.fault(at, e.path, fault, example)
}

const maxEntries = 100 // loads, variants, sub-arrays: each is decoded for every variant

// entries calls f for each key of a mapping whose keys are names of the person's own, in file order.
func (d *decoder) entries(e entry, example string, f func(entry)) {
	if !d.isKeys(e, example) {
		return
	}
	if n := len(e.value.Content) / 2; n > maxEntries {
		d.fault(e.value, e.path, fmt.Sprintf("%d names are more than the %d allowed", n, maxEntries), "")
		return
	}
	for pair := range slices.Chunk(e.value.Content, 2) {
		v := entry{path: join(e.path, pair[0].Value), key: pair[0], value: pair[1]}
		switch {
		case v.value.Kind == told || isMerge(v.key):
		case strings.ContainsAny(v.name(), "/\\") || strings.ContainsFunc(v.name(), unprintable) || len([]rune(v.name())) > 60 ||
			strings.TrimSpace(v.name()) != v.name():
			d.fault(v.key, v.path, "a name is 1 to 60 printable characters without / and \\", example)
		case isNull(v.value):
			d.fault(v.key, v.path, "has no value: indent its keys below it", example)
		default:
			f(v)
		}
	}
}

// items calls f for each item of a list, or once for a mapping that stands alone.
func (d *decoder) items(e entry, example string, f func(entry)) {
	if e.value.Kind != yaml.SequenceNode {
		if d.isKeys(e, example) {
			f(e)
		}
		return
	}
	if n := len(e.value.Content); n == 0 || n > maxEntries {
		d.fault(e.value, e.path, fmt.Sprintf("is a list of %d items where 1 to %d are wanted", n, maxEntries), example)
		return
	}
	for i, n := range e.value.Content {
		// An item has no key of its own, so faults of the whole item stand where it begins.
		if it := (entry{path: fmt.Sprintf("%s[%d]", e.path, i+1), key: n, value: n}); isNull(n) {
			d.fault(n, it.path, "has no value", example)
		} else if n.Kind != told {
			f(it)
		}
	}
}

// peek returns the text of a scalar key of a mapping, or "": for what must be known before the rest can be read. It
// reports no fault; section does.
func peek(e entry, key string) string {
	if e.value.Kind != yaml.MappingNode {
		return ""
	}
	for pair := range slices.Chunk(e.value.Content, 2) {
		if pair[0].Value == key && pair[1].Kind == yaml.ScalarNode && !isNull(pair[1]) {
			return pair[1].Value
		}
	}
	return ""
}
