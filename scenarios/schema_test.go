package scenarios

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"os"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"gopkg.in/yaml.v3"

	"tideover/sim/limit"
	"tideover/weather/climate"
)

// object is a JSON object that keeps its order: editors offer keys in the order in which they stand.
type object []member

type member struct {
	key   string
	value any
}

func (o object) MarshalJSON() ([]byte, error) {
	var b bytes.Buffer
	b.WriteByte('{')
	for i, m := range o {
		if i > 0 {
			b.WriteByte(',')
		}
		for _, part := range []any{m.key, m.value} {
			text, err := json.Marshal(part)
			if err != nil {
				return nil, err
			}
			b.Write(text)
			if part == any(m.key) {
				b.WriteByte(':')
			}
		}
	}
	b.WriteByte('}')
	return b.Bytes(), nil
}

// offered are words that an editor may offer for keys that the boxes read themselves.
var offered = map[string][]string{"climate": placeNames(), "azimuth_deg": {"equator"}, "start_soc": {"settled"}, "unplug": {"never"}, "temp_comp_mv_per_cell_k": {"battery"}}

func placeNames() (names []string) {
	for _, p := range climate.Places() {
		names = append(names, p.Name)
	}
	return names
}

// keySchema is what one key takes.
func keySchema(k limit.Key) object {
	doc := k.Doc
	switch {
	case k.Need:
		doc += ". It must be typed."
	case k.Origin != "":
		doc += ". Default: " + defaultOf(k) + "."
	}
	o := object{{"description", doc}}
	add := func(key string, value any) { o = append(o, member{key, value}) }
	switch k.Kind {
	case limit.Number, limit.Whole:
		kind := "number"
		if k.Kind == limit.Whole {
			kind = "integer"
		}
		add("type", kind)
		if r := k.Range; r.HasLo && r.LoOpen {
			add("exclusiveMinimum", r.Lo)
		} else if r.HasLo {
			add("minimum", r.Lo)
		}
		if r := k.Range; r.HasHi && r.HiOpen {
			add("exclusiveMaximum", r.Hi)
		} else if r.HasHi {
			add("maximum", r.Hi)
		}
	case limit.Flag:
		add("type", "boolean")
	case limit.Choice:
		add("enum", k.Choices)
	case limit.Text:
		add("type", []string{"string", "number", "boolean"})
		if k.Need {
			add("pattern", `\S`)
		}
	case limit.Words:
		one := object{{"type", []string{"string", "number"}}, {"minLength", 1}}
		list := object{{"type", "array"}, {"items", one}, {"minItems", 1}, {"maxItems", maxItems}}
		if words := offered[k.Name]; words != nil { // any other may be right too: the beginning of a place's name, a number
			add("anyOf", []object{{{"enum", words}}, one, list})
		} else {
			add("anyOf", []object{one, list})
		}
	}
	if v, ok := typedValue(k, k.Value()); ok && !k.Need {
		add("default", v)
	}
	if v, ok := typedValue(k, strings.Trim(k.Example, `"`)); ok {
		add("examples", []any{v})
	}
	return o
}

// typedValue is text as the key's kind of value.
func typedValue(k limit.Key, text string) (any, bool) {
	v, err := strconv.ParseFloat(text, 64)
	switch {
	case text == "" || err == nil && math.IsNaN(v):
		return nil, false
	case k.Kind == limit.Flag:
		return text == "true", true
	case k.Kind == limit.Number || k.Kind == limit.Whole || k.Kind == limit.Words && err == nil:
		return v, err == nil
	}
	return text, true
}

// orRemoved lets a variant drop what its base has.
func orRemoved(o object) object {
	return object{{"anyOf", []object{o, {{"const", removed}, {"description", "drops what the base has"}}}}}
}

// boxSchema is a mapping with the keys of a box and its children; partial is one that a variant lays over its base.
func boxSchema(doc string, b box, children []child, partial bool) object {
	var properties object
	var required []string
	for _, k := range b.Keys() {
		o := keySchema(k)
		if partial {
			o = orRemoved(o)
		}
		properties = append(properties, member{k.Name, o})
		if k.Need {
			required = append(required, k.Name)
		}
	}
	for _, c := range children {
		o := childSchema(c, partial)
		if partial {
			o = orRemoved(o)
		}
		properties = append(properties, member{c.name, o})
		if c.need && c.unless == "" {
			required = append(required, c.name)
		}
	}
	o := object{{"type", "object"}, {"description", doc}, {"properties", properties}}
	if len(required) > 0 && !partial {
		o = append(o, member{"required", required})
	}
	o = append(o, member{"additionalProperties", false})
	for _, c := range children {
		if !c.instead || partial {
			continue
		}
		var barred object
		var needed []string
		for _, other := range children {
			if other.unless == c.name {
				barred = append(barred, member{other.name, false})
				if other.need {
					needed = append(needed, other.name)
				}
			}
		}
		o = append(o, member{"if", object{{"required", []string{c.name}}}},
			member{"then", object{{"properties", barred}}}, member{"else", object{{"required", needed}}})
	}
	return o
}

func childSchema(c child, partial bool) object {
	switch {
	case c.kinds != nil && partial:
		return named(c.doc, orRemoved(object{{"$ref", "#/$defs/part_of_load"}}))
	case c.kinds != nil:
		return named(c.doc, object{{"$ref", "#/$defs/load"}})
	case c.name == variantsKey && partial:
		return object{{"not", object{}}}
	case c.name == variantsKey:
		return named(c.doc, object{{"$ref", "#/$defs/variant"}})
	}
	if c.named {
		one := object{{"$ref", "#/$defs/" + c.name}}
		each := one
		if partial {
			one = object{{"$ref", "#/$defs/part_of_" + c.name}}
			each = orRemoved(one)
		}
		return object{{"description", c.doc + ", or several by name"}, {"anyOf", []object{one, append(named(c.doc, each), member{"minProperties", 1})}}}
	}
	o := boxSchema(c.doc, c.box, c.below, partial)
	if c.listed { // a list in a variant takes the place of the base's, so its items are whole
		o = object{{"description", c.doc}, {"anyOf", []object{o, {{"type", "array"}, {"minItems", 1}, {"maxItems", maxEntries},
			{"items", boxSchema(c.doc, c.box, c.below, false)}}}}}
	}
	return o
}

// formSchema is a mapping whose kind, left out for the first, bars the keys of the others. A variant's may change the kind.
func formSchema(c child, partial bool) object {
	o := boxSchema(c.doc, eitherKind(c.forms), c.below, partial)
	if partial {
		return o
	}
	var rules []object
	for i, f := range c.forms {
		var barred object
		for _, k := range eitherKind(c.forms).Keys() {
			if typed(f.box, k.Name) == "" {
				barred = append(barred, member{k.Name, false})
			}
		}
		is := object{{"properties", object{{"kind", object{{"const", f.name}}}}}}
		if i > 0 {
			is = append(is, member{"required", []string{"kind"}})
		}
		rules = append(rules, object{{"if", is}, {"then", object{{"properties", barred}}}})
	}
	return append(o, member{"allOf", rules})
}

// named is a mapping of names of the person's own.
func named(doc string, each object) object {
	return object{{"type", "object"}, {"description", doc}, {"maxProperties", maxEntries},
		{"propertyNames", object{{"maxLength", 60}, {"pattern", `^[^\s/\\]([^/\\]*[^\s/\\])?$`}}}, {"additionalProperties", each}}
}

// schema is the whole.
func schema(t testing.TB) []byte {
	f := newDraft()
	parts := f.parts(nil)
	var rules []object
	defs := object{}
	for _, c := range parts {
		for _, k := range c.kinds {
			rules = append(rules, object{{"if", object{{"properties", object{{"kind", object{{"const", k.name}}}}}, {"required", []string{"kind"}}}},
				{"then", object{{"$ref", "#/$defs/load_" + k.name}}}})
			defs = append(defs, member{"load_" + k.name, boxSchema("a load of kind "+k.name, k.box, nil, false)})
		}
	}
	kind := anyKind{}.Keys()[0]
	load := object{{"type", "object"}, {"required", []string{"kind"}}, {"properties", object{{"kind", keySchema(kind)}}}, {"allOf", rules}}
	defs = append(object{{"load", load}}, defs...)
	defs = append(defs, member{"part_of_load", boxSchema("a load of a variant's own, or changes to one of the base", anyKind{}, nil, true)})
	for _, c := range parts {
		if c.named {
			defs = append(defs, member{c.name, formSchema(c, false)}, member{"part_of_" + c.name, formSchema(c, true)})
		}
	}
	base := parts[:len(parts)-1]
	defs = append(defs, member{"variant", boxSchema("changes to any of the keys; the rest is as in the base", &f.top, base, true)})
	whole := append(object{{"$schema", "https://json-schema.org/draft/2020-12/schema"}, {"title", "tideover scenario"}},
		boxSchema("a small building's power supply, its place and its loads", &f.top, parts, false)...)
	whole = append(whole, member{"$defs", defs})
	text, err := json.MarshalIndent(whole, "", "  ")
	if err != nil {
		t.Fatal(err)
	}
	return append(text, '\n')
}

// same compares a generated file with what is kept, or renews it.
func same(t *testing.T, path, kept string, made []byte) {
	t.Helper()
	if *update {
		if err := os.WriteFile(path, made, 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	if string(made) != kept {
		t.Errorf("%s is not what the boxes declare: run go test ./scenarios -update and read the difference", path)
	}
}

func TestSchemaIsWhatTheBoxesDeclare(t *testing.T) { same(t, "schema.json", Schema, schema(t)) }

// plainNumber is a number of YAML 1.2's core schema, which editors go by.
var plainNumber = regexp.MustCompile(`^[-+]?(\.[0-9]+|[0-9]+(\.[0-9]*)?)([eE][-+]?[0-9]+)?$`)

// value is a YAML tree as JSON values.
func value(n *yaml.Node) any {
	switch n.Kind {
	case yaml.MappingNode:
		m := map[string]any{}
		for i := 0; i < len(n.Content); i += 2 {
			m[n.Content[i].Value] = value(n.Content[i+1])
		}
		return m
	case yaml.SequenceNode:
		list := []any{}
		for _, c := range n.Content {
			list = append(list, value(c))
		}
		return list
	}
	switch {
	case !plain(n):
		return n.Value
	case isNull(n):
		return nil
	case n.Value == "true" || n.Value == "false":
		return n.Value == "true"
	case plainNumber.MatchString(n.Value):
		v, err := strconv.ParseFloat(n.Value, 64)
		if err == nil {
			return v
		}
	}
	return n.Value
}

func compiled(t testing.TB) *jsonschema.Schema {
	doc, err := jsonschema.UnmarshalJSON(strings.NewReader(Schema))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.DefaultDraft(jsonschema.Draft2020)
	if err := c.AddResource("scenario.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("scenario.json")
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// tree is src as JSON values; ok is false where an editor's reader would stop as well.
func tree(src []byte) (v any, ok bool) {
	d := newDecoder("x", src)
	if !d.readable() {
		return nil, false
	}
	docs, msg := decodeYAML(d.src)
	if msg != "" || len(docs) != 1 || len(docs[0].Content) == 0 {
		return nil, false
	}
	return value(docs[0].Content[0]), true
}

// schemaSees picks the faults that a schema can see: keys that are unknown or missing, wrong types, words that are none of
// a choice, numbers out of their range. Only the decoder sees what holds one key against another.
var (
	schemaSees = regexp.MustCompile(`is not a key of|is missing|has no value|is text|is empty text|is an empty list|is a list where|is a group|is a number where|` +
		`is true or false|has a unit|is not a plain number: (percent|the decimal|digits|it has a comma)|is not one of|is not a whole number$|is not true or false|` +
		`^[-0-9.]+ is not (between|above|at least|at most) [-0-9.]+( and (at most )?[0-9.]+)?(:|$)`)
	onlyDecoder = regexp.MustCompile(`a timetable wants|there are several|first_to_go wants|is missing beside|the mode timetable|between 0 and 360|volt.* is not`)
)

// What the schema can see it refuses as the decoder does.
func TestSchemaAndDecoderAgree(t *testing.T) {
	s := compiled(t)
	refused, read := 0, 0
	for name, src := range wrongFiles(t) {
		v, ok := tree(src)
		if !ok || len(src) > 100_000 {
			continue
		}
		read++
		_, err := Decode(name, src)
		var es Errors
		if !errors.As(err, &es) {
			t.Fatalf("%s: %v", name, err)
		}
		visible := ""
		for _, e := range es {
			if schemaSees.MatchString(e.Fault) && !onlyDecoder.MatchString(e.Fault) && !strings.Contains(name, "variant-removes-a-section") {
				visible = e.Error()
			}
		}
		switch err := s.Validate(v); {
		case visible != "" && err == nil:
			t.Errorf("%s: the schema takes what the decoder refuses: %s", name, visible)
		case err != nil:
			refused++
		}
	}
	t.Logf("of %d wrong files that are YAML the schema refuses %d", read, refused)
	if refused < 100 {
		t.Errorf("the schema refuses %d of the wrong files, want at least 100", refused)
	}
}

func TestSchemaTakesWhatIsRight(t *testing.T) {
	s := compiled(t)
	for name, src := range rightFiles(t) {
		v, ok := tree(src)
		if !ok {
			t.Fatalf("%s cannot be read", name)
		}
		if err := s.Validate(v); err != nil {
			t.Errorf("%s: %v", name, err)
		}
	}
}

// rightFiles are the shipped scenarios, the starters and the examples of the page of keys.
func rightFiles(t testing.TB) map[string][]byte {
	t.Helper()
	files := map[string][]byte{"keys-page": []byte(pageExample), "sub-arrays": []byte(`name: two roofs
site: {climate: Wellington, snow: {swept: true}}
array:
  - tilt_deg: 20
    azimuth_deg: 90
    module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}
    shade: {hours: after 15:00}
  - tilt_deg: 20
    azimuth_deg: 270
    module: {power_w: 100, mp_voltage_v: 18.6, mp_current_a: 5.38, oc_voltage_v: 22.3, sc_current_a: 5.75}
    shade: [{hours: before 09:00}, {hours: after 18:00, season: 1 Oct to 31 Mar}]
controller: {max_current_a: 20, max_input_v: 75}
battery: {capacity_ah: 100}
loads: {lamp: {kind: always_on, bus: dc, power_w: 2}}
`), "two-controllers": []byte(twoControllers)}
	list, err := Shipped.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range list {
		src, err := Shipped.ReadFile(f.Name())
		if err != nil {
			t.Fatal(err)
		}
		files[f.Name()] = src
	}
	for _, kind := range StarterKinds() {
		for _, allInOne := range []bool{false, true} {
			text, err := Starter(kind, allInOne)
			if err != nil {
				t.Fatal(err)
			}
			name := kind
			if allInOne {
				name += "-all-in-one"
			}
			files[name] = []byte(text)
		}
	}
	return files
}
