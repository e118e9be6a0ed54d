package scenarios

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"tideover/sim/limit"
)

// pageExample stands at the head of the page of keys and runs.
const pageExample = `name: garden shed
site:
  climate: Wellington        # a known place; or leave it out and give --weather FILE
array:
  tilt_deg: 45
  azimuth_deg: equator
  module:                    # from its data sheet
    power_w: 200
    mp_voltage_v: 20.4
    mp_current_a: 9.81
    oc_voltage_v: 24.5
    sc_current_a: 10.4
controller:
  max_current_a: 20
  max_input_v: 75
battery:
  capacity_ah: 100
inverter:
  mode: on_demand
  rated_w: 600
  idle_w: 7                  # with nothing plugged in: the number most worth measuring
loads:
  lights:
    kind: timetable
    bus: dc
    power_w: 15
    days: mon to fri
    hours: ["07:00 to 08:30", "17:00 to 21:00"]
  drill packs:
    kind: packs
    count: 2
    pack_energy_wh: 90
    charger_power_w: 90
    days: sat
variants:
  inverter left on:
    inverter: {mode: always_on}
`

const pageHead = "# The keys of a scenario\n\n" +
	"This page is made from what the program itself declares; `go test ./scenarios -update` renews it. A scenario is one YAML\n" +
	"file. This one is complete and runs:\n\n```yaml\n" + pageExample + "```\n\n" +
	"`tideover new tool-store` prints a longer one with every key explained (`studio` and `barn` are the others).\n\n" + `## How values are typed

- A key carries its unit at the end of its name: ` + "`_w` watts, `_wh` watt-hours, `_v` volts, `_a` amperes, `_ah` ampere-hours, `_deg`\n  degrees, `_c` degrees Celsius, `_h` hours, `_min` minutes, `_per_k` for each kelvin" + `. Type the number alone.
- Numbers are plain: a point for decimals, no separators, no exponent, no quotes. Fractions are 0 to 1, not percent.
- Hours: ` + "`\"17:00 to 21:30\"`" + `, or a list of such spans. One that ends before it begins passes midnight and belongs to the day on
  which it begins.
- Days: ` + "`fri`, `mon to fri`, `[mon, wed]`, `weekdays`, `weekend`, `every day`" + `. Seasons: ` + "`1 Oct to 31 Mar`, `apr to sep`" + `, or a list; both
  ends are included, and one may pass New Year.
- All of these go by the clock on the wall, with daylight saving where the zone has it; the hours of a shade alone keep
  standard time, as the sun does.
- Aliases, anchors, merge keys and tags are not used: what two variants share is typed in the base.

A file with mistakes is refused with all of them, each with its line, what is allowed and an example. An editor that knows
JSON Schema marks most of them as you type, and completes keys: ` + "`tideover new --schema > scenario.schema.json`" + `, and tell the
editor that your scenarios follow it.

"Default" says what holds where a key is left out and where the number comes from: a source, common practice, or a guess.
A guess is worth measuring.
`

// takes says what a key takes, in a few words.
func takes(k limit.Key) string {
	_, u := unit(k.Name)
	switch k.Kind {
	case limit.Number, limit.Whole:
		w := u
		switch {
		case k.Kind == limit.Whole:
			w = "whole number"
		case w == "":
			w = "number"
		case w[0] == '/':
			w = "number per " + w[1:]
		}
		if r := k.Range.String(); r != "a number" {
			w += " " + r
		}
		return w
	case limit.Choice:
		return "`" + strings.Join(k.Choices, "`, `") + "`"
	case limit.Flag:
		return "`true` or `false`"
	case limit.Words:
		return "words"
	}
	return "text"
}

func table(b *strings.Builder, keys []limit.Key) {
	b.WriteString("| key | what it is | takes | default | example |\n| --- | --- | --- | --- | --- |\n")
	cell := strings.NewReplacer("|", `\|`, "\n", " ")
	for _, k := range keys {
		standard := "must be typed"
		if !k.Need {
			standard = defaultOf(k)
		}
		fmt.Fprintf(b, "| `%s` | %s | %s | %s | `%s` |\n", k.Name, cell.Replace(k.Doc), cell.Replace(takes(k)), cell.Replace(standard), cell.Replace(k.Example))
	}
}

// byKind writes the keys that all kinds share, then those of each.
func byKind(b *strings.Builder, kinds []loadKind) {
	shared := slices.DeleteFunc(kinds[0].box.Keys(), func(k limit.Key) bool {
		return slices.ContainsFunc(kinds, func(o loadKind) bool { return typed(o.box, k.Name) == "" })
	})
	table(b, shared)
	for _, kind := range kinds {
		fmt.Fprintf(b, "\n### kind: `%s`\n\n", kind.name)
		table(b, slices.DeleteFunc(kind.box.Keys(), func(k limit.Key) bool {
			return slices.ContainsFunc(shared, func(s limit.Key) bool { return s.Name == k.Name })
		}))
		b.WriteString(pageKinds[kind.name])
	}
}

func keysPage() string {
	var b strings.Builder
	b.WriteString(pageHead)
	f := newDraft()
	b.WriteString("\n## At the top of the file\n\n")
	table(&b, f.top.Keys())
	for _, c := range f.parts(nil) {
		fmt.Fprintf(&b, "\n## `%s`\n\n", c.name)
		doc := strings.ToUpper(c.doc[:1]) + c.doc[1:]
		switch {
		case c.unless != "" && c.need:
			doc += ". Needed, unless there is a `" + c.unless + "`"
		case c.unless != "":
			doc += ". Not beside a `" + c.unless + "`; without it there is no AC"
		case c.instead:
			doc += ", in place of controller, battery and inverter"
		case c.need:
			doc += ". Needed"
		}
		b.WriteString(doc + ".\n")
		switch {
		case c.name == variantsKey:
			b.WriteString(pageVariants)
		case c.kinds != nil:
			b.WriteString("\nEach load has a name of your own, and below it its keys; `kind` says which they are.\n\n")
			byKind(&b, c.kinds)
		case c.forms != nil:
			b.WriteString("\n")
			byKind(&b, c.forms)
			b.WriteString(pageControllers)
		default:
			b.WriteString("\n")
			table(&b, c.box.Keys())
			for _, below := range c.below {
				fmt.Fprintf(&b, "\n### `%s`, below `%s`\n\n%s.\n\n", below.name, c.name, strings.ToUpper(below.doc[:1])+below.doc[1:])
				table(&b, below.box.Keys())
			}
		}
	}
	return b.String()
}

// pageKinds is what stands below the keys of a kind of load.
var pageKinds = map[string]string{
	"timetable": "\nWith `every_days: 3` it is on every third date, counted from `first_day` each year anew, or from the first date of the year, or\n" +
		"of the span of `season`, that `days` allows; a date must fit `days` and `season` as well, and not be `away`.\n",
	"motion_light": "\nOn dates when it is `away` nobody comes: the lamp stays dark in the nights that begin on them, and its sensor draws as ever.\n",
	"packs": "\nWith `wait_for` or `wait_for_soc`, one of the two, the packs are plugged in at `at` and wait. Charging begins at the start of a step: when the array\n" +
		"gives more than all else asks, or the charge has come to `wait_for_soc`; or at the deadline whatever they allow, in the last step\n" +
		"that begins before it. Until then nothing is lacking, and nothing begins while the loads are cut or left off, the inverter has\n" +
		"tripped, or its hours or auto-off keep it off. Once begun, charging goes on: what an outage takes of it is unserved, what a rule\n" +
		"takes is withheld, and neither is made up for. Of several loads that wait, those above begin first, and count as what else asks\n" +
		"for those below. A search mode and auto-off see the watts of the chargers, and who plugs them in wakes an inverter that went off.\n",
	"duty_cycle": "\nThe share of the time that it runs is `duty + duty_rise_per_k x (temperature - duty_at_c)`, never below 0 nor above 1. A fridge:\n" +
		"`duty: 0.35`, `duty_rise_per_k: 0.02`. A pump: `duty` alone. A frost heater that comes on below 5 degC and runs all the time at\n" +
		"-5 degC: `duty: 0`, `duty_at_c: 5`, `duty_rise_per_k: -0.1`. The temperature is that of the air outside or, with `lag_h`, of a room\n" +
		"that follows it.\n",
	"random_uses": "\nThe moments are drawn by lot for each date, from the `seed`, the name of the load and the date: another load changes nothing.\n" +
		"Ratings take it to be on at any moment of its hours.\n",
	"profile": "\nThe file is a table; a line that begins with `#` is a remark:\n\n```\ntime,power_w\n00:00,4.5\n00:15,4.5\n```\n\n" +
		"and so on to 23:45. Each row is the mean of a step that begins at its time, by the clock on the wall; all steps are equal. Times are\n" +
		"`00:00` for a day that repeats, `mon 00:00` for a week, `01-01 00:00` or `2025-01-01 00:00` for a year. A year begins on 1 January\n" +
		"whatever weekday that is.\n",
}

const pageControllers = `
Several controllers on one battery have a name each, and each sub-array says which one it feeds:

` + "```yaml\ncontroller:\n  east: {max_current_a: 10, max_input_v: 75}\n  west: {kind: pwm, max_current_a: 10, max_input_v: 55}\n" +
	"array:\n  - {controller: east, azimuth_deg: 90, tilt_deg: 30, module: {…}}\n  - {controller: west, azimuth_deg: 270, tilt_deg: 30, module: {…}}\n```" + `

Each has its own window, ratings, losses and draw, and a cable from its panels like the one under ` + "`wiring`" + `. A bank has one voltage
at a time, so what they charge to, ` + "`absorption_v` to `temp_comp_mv_per_cell_k`" + `, is the same for all, or the file is refused.
`

const pageVariants = `
A variant has a name of your own, and below it any of the keys of this page; the rest is as in the base. Sections are laid
over key by key; a list takes the place of a list; the word ` + "`removed`" + ` drops what the base has:

` + "```yaml\nvariants:\n  more panels, no mower:\n    array: {strings_in_parallel: 3}\n    loads:\n      mower packs: removed\n      radio: {kind: always_on, power_w: 4}\n```" + `

` + "`tideover compare FILE`" + ` runs the base and all variants on the same weather.
`

func TestKeysPageIsWhatTheBoxesDeclare(t *testing.T) {
	same(t, "KEYS.md", KeysPage, []byte(keysPage()))
}

// Each key that may be typed has its line, a doc and an example.
func TestEveryKeyIsDocumented(t *testing.T) {
	check := func(where string, b box) {
		for _, k := range b.Keys() {
			if k.Doc == "" || k.Example == "" || k.Need == (k.Origin != "") {
				t.Errorf("%s.%s: doc %q, example %q, need %v, origin %q", where, k.Name, k.Doc, k.Example, k.Need, k.Origin)
			}
			if !strings.Contains(KeysPage, "| `"+k.Name+"` | "+strings.ReplaceAll(k.Doc, "|", `\|`)+" |") {
				t.Errorf("%s.%s is not on the page", where, k.Name)
			}
		}
	}
	f := newDraft()
	check("", &f.top)
	for _, c := range f.parts(nil) {
		if c.box != nil {
			check(c.name, c.box)
		}
		for _, b := range c.below {
			check(c.name+"."+b.name, b.box)
		}
		for _, k := range slices.Concat(c.kinds, c.forms) {
			check(c.name+"."+k.name, k.box)
		}
	}
}

// The examples of the keys are right by the declarations themselves.
func TestExamplesOfKeysAreInRange(t *testing.T) {
	f := newDraft()
	var boxes []box
	for _, c := range f.parts(nil) {
		if c.box != nil {
			boxes = append(boxes, c.box)
		}
		for _, b := range c.below {
			boxes = append(boxes, b.box)
		}
		for _, k := range slices.Concat(c.kinds, c.forms) {
			boxes = append(boxes, k.box)
		}
	}
	for _, b := range append(boxes, &f.top) {
		for _, k := range b.Keys() {
			d := newDecoder("x", []byte(k.Name+": "+k.Example+"\n"))
			root, ok := d.parse()
			if !ok {
				t.Errorf("%s: %s cannot be read: %v", k.Name, k.Example, d.err())
				continue
			}
			if _, fault := set(k, root.value.Content[1]); fault != "" {
				t.Errorf("%s: the example %s: %s", k.Name, k.Example, fault)
			} else if k.Kind == limit.Number || k.Kind == limit.Whole {
				if faults := limit.Check([]limit.Key{k}); faults != nil {
					t.Errorf("%s: the example: %v", k.Name, faults)
				}
			}
		}
	}
}
