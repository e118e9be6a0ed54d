package scenarios

import (
	"errors"
	"strings"
	"testing"
	"unicode/utf8"
)

// bad are files with faults and all that is said of them, without the file's name.
var bad = []struct{ name, src, want string }{
	{"empty file", "",
		`1:1: the file is empty: a scenario is keys and values; example: name: garden shed`},
	{"only a comment", "# nothing yet\n",
		`1:1: the file is empty: a scenario is keys and values; example: name: garden shed`},
	{"only dashes", "---\n",
		`1:1: the file is empty: a scenario is keys and values; example: name: garden shed`},
	{"a list", `- a
- b
`,
		`1:1: is a list where keys and values are wanted; example: name: garden shed`},
	{"a word", "just text\n",
		`1:1: is text where keys and values are wanted; example: name: garden shed`},
	{"no space after a lone colon", "name:cabin\n",
		`1:1: a space is missing after the colon; example: name: garden shed`},
	{"binary", "name: a\x00b\n",
		`1:8: the file is binary, not text: a scenario is plain UTF-8 text`},
	{"UTF-16 with a mark", "\xff\xfen\x00a\x00",
		`1:1: the file is UTF-16 text: save it as UTF-8`},
	{"UTF-16 without a mark", "n\x00a\x00m\x00e\x00",
		`1:1: the file is UTF-16 text: save it as UTF-8`},
	{"UTF-32", "\xff\xfe\x00\x00n\x00\x00\x00",
		`1:1: the file is UTF-32 text: save it as UTF-8`},
	{"Latin-1", "name: caf\xe9\n",
		`1:10: the byte 0xE9 is not UTF-8 text: save the file as UTF-8`},
	{"next-line character", "name: a\u0085b\n",
		`1:8: the invisible character U+0085 is not allowed in a scenario: delete it`},
	{"terminal escape", "name: a\x1b[31m\n",
		`1:8: the invisible character U+001B is not allowed in a scenario: delete it`},
	{"byte order mark in the middle", "name: a\ufeffb\n",
		`1:8: the invisible character U+FEFF is not allowed in a scenario: delete it`},
	{"two documents", `name: x
battery:
  capacity_ah: 10
---
name: x
battery:
  capacity_ah: 10
`,
		`4:1: a second document starts here: a file holds one scenario, and variants go under variants:`},
	{"anchor and alias", `name: x
battery: &b
  capacity_ah: 5
array: *b
`,
		`2:10: battery: anchors (&b) are not used in a scenario: type the value
4:8: array: aliases (*b) are not used in a scenario: type the value again`},
	{"unknown alias", `name: x
battery:
  capacity_ah: 10
  note: *b
`,
		`4:9: aliases (*) are not used in a scenario: type the value again, or put the text in quotes`},
	{"merge key with an alias", `name: x
battery:
  <<: *b
`,
		`3:7: aliases (*) are not used in a scenario: type the value again, or put the text in quotes`},
	{"merge key", `name: x
battery:
  <<: {capacity_ah: 10}
`,
		`3:3: battery: merge keys (<<) are not used in a scenario: type the keys, or use variants:`},
	{"tag", `name: !!str x
battery:
  capacity_ah: !!float 10
`,
		`1:7: name: tags (!!str) are not used in a scenario: type the value alone
3:16: battery.capacity_ah: tags (!!float) are not used in a scenario: type the value alone`},
	{"own tag", `name: x
battery:
  capacity_ah: 10
  note: !mine x
`,
		`4:9: battery.note: tags (!mine) are not used in a scenario: type the value alone`},
	{"directive", `# hi
%YAML 9.0
---
name: x
`,
		`2:1: lines that begin with % are not used in a scenario`},
	{"key that is a list", `name: x
battery:
  capacity_ah: 10
  ? [a]
  : b
`,
		`4:5: battery: a key is a word, not a list`},
	{"key that is missing", `name: x
battery: {capacity_ah: 10, : c}
`,
		`2:28: a value is missing here, or a bracket or comma is too many; example: days: [mon, fri]`},
	{"nested deeper than twelve", `name: x
battery:
  capacity_ah: 10
array: [[[[[[[[[[[[[1]]]]]]]]]]]]]
`,
		`4:9: array[1]: is a list where keys and values are wanted; example: tilt_deg: 35
4:19: array[1][1][1][1][1][1][1][1][1][1][1]: is nested deeper than 12 levels`},
	{"key twice", `name: x
battery:
  capacity_ah: 10
  ratio: 1
  capacity_ah: 6
name: y
`,
		`5:3: battery.capacity_ah: is typed a second time; the first is in line 3
6:1: name: is typed a second time; the first is in line 1`},
	{"key twice in quotes", `name: x
battery:
  capacity_ah: 10
  'capacity_ah': 6
`,
		`4:3: battery.capacity_ah: is typed a second time; the first is in line 3`},
	{"tab", "name: x\nbattery:\n\tcapacity_ah: 5\n",
		`3:1: the line is indented with a tab: use spaces`},
	{"tabs", "name: x\nbattery:\n  capacity_ah: 10\n\tnominal_v: 12\n\tratio: 12\n",
		`4:1: the line is indented with a tab, and so are others, 2 in all: use spaces`},
	{"tab in a block", "name: x\nabout: |\n\ttabbed\n",
		`3:1: the line is indented with a tab: use spaces`},
	{"open quote", `name: "open
battery:
  capacity_ah: 10
`,
		`1:7: a quote is opened here and not closed; example: name: "garden shed"`},
	{"open quote after closed ones", `name: "a"
loads: {"a": {power_w: 3, hours: "17:00
`,
		`2:34: a quote is opened here and not closed; example: name: "garden shed"`},
	{"dedent", `name: x
battery:
    capacity_ah: 10
  nominal_v: 12
`,
		`4:3: the indentation does not fit the lines above`},
	{"indent", `name: x
battery:
  capacity_ah: 10
   nominal_v: 12
`,
		`4:13: a colon cannot stand here: check the indentation and the line above, and put text that holds a colon and a space in quotes; example: about: "a shed: the old one"`},
	{"no space after a colon", `name: x
battery:
  capacity_ah:10
  nominal_v: 12
`,
		`3:14: a space is missing after the colon; example: capacity_ah: 100`},
	{"colon in text", "name: a: b\n",
		`1:8: a colon cannot stand here: check the indentation and the line above, and put text that holds a colon and a space in quotes; example: about: "a shed: the old one"`},
	{"open brace", `name: x
battery: {capacity_ah: 10
`,
		`2:1: keys opened with { are not closed, or lack a comma; example: battery: {capacity_ah: 100}`},
	{"open bracket", `name: x
array: [{tilt_deg: 3}
`,
		`2:1: a list opened with [ is not closed, or lacks a comma; example: days: [mon, fri]`},
	{"no comma", `name: x
array: [
  {tilt_deg: 3}
  {tilt_deg: 4}
]
`,
		`3:3: a list opened with [ is not closed, or lacks a comma; example: days: [mon, fri]`},
	{"bracket too many", `name: x
}
`,
		`2:1: the indentation does not fit the lines above`},
	{"at sign", "name: @x\n",
		`1:7: text cannot begin with this character: put it in quotes; example: name: "@shed"`},
	{"star", "name: *\n",
		`1:7: text that begins with * or & needs quotes; example: name: "*"`},
	{"bang", "name: !<x\n",
		`1:9: tags (!) are not used in a scenario: put text that begins with ! in quotes`},
	{"backslash", `name: "a\qb"
`,
		`1:9: a backslash in double quotes has a meaning of its own: use single quotes; example: name: 'c:\garden'`},
	{"no colon", `name: x
battery
`,
		`2:1: a key needs a colon and a space after it; example: capacity_ah: 100`},
	{"key in a list", `name: x
array:
  - tilt_deg: 3
  tilt_deg: 4
`,
		`4:3: the indentation does not fit the list above`},
	{"list after a key", "name: - a\n",
		`1:7: a list cannot start here: put each item on a line of its own, below its key; example: days: [mon, fri]`},
	{"text after a bar", `name: | x
  y
`,
		`1:9: nothing may follow | or > on its line: begin the text on the next line`},
	{"misspelt key, which also stands for the missing one", `name: x
battery:
  capacty_ah: 5
`,
		`3:3: battery.capacty_ah: is not a key of battery (did you mean capacity_ah?); example: capacity_ah: 200`},
	{"wrong unit", `name: x
battery:
  capacity_wh: 5
`,
		`3:3: battery.capacity_wh: is not a key of battery (it is typed in Ah: capacity_ah); example: capacity_ah: 200`},
	{"no unit", `name: x
battery:
  capacity: 5
`,
		`3:3: battery.capacity: is not a key of battery (its name carries the unit: capacity_ah); example: capacity_ah: 200`},
	{"unit too many", `name: x
battery:
  capacity_ah: 10
  efficiency_pct: 95
`,
		`4:3: battery.efficiency_pct: is not a key of battery (it is typed without a unit: efficiency); example: efficiency: 0.95`},
	{"compound unit", `name: x
battery:
  capacity_ah: 10
  tempco_per_k: 4
`,
		`4:3: battery.tempco_per_k: is not a key of battery (it is typed in percent/K: tempco_pct_per_k); example: tempco_pct_per_k: -0.4`},
	{"other case", `name: x
battery:
  Capacity-Ah: 5
`,
		`3:3: battery.Capacity-Ah: is not a key of battery (did you mean capacity_ah?); example: capacity_ah: 200`},
	{"unknown key", `name: x
battery:
  capacity_ah: 10
  whatever: 3
`,
		`4:3: battery.whatever: is not a key of battery; the keys are capacity_ah, nominal_v, disconnect_v, reconnect_v, efficiency, idle_w, tempco_pct_per_k, ratio, cycles, heater, note, kind, start_soc`},
	{"unknown key at the top", `name: x
battery:
  capacity_ah: 10
variant:
  b: {}
something: 1
`,
		`4:1: variant: is not a key of the scenario (did you mean variants?)
6:1: something: is not a key of the scenario; the keys are name, battery, array, loads, variants`},
	{"missing keys", "array: {}\n",
		`1:1: name: is missing: what the report is called; example: name: garden shed
1:1: battery: is missing: the store
1:1: array.tilt_deg: is missing: 0 flat, 90 upright; example: tilt_deg: 35`},
	{"key that cannot be shown", `name: x
battery:
  capacity_ah: 10
  "a\eb.c": 3
`,
		`4:3: battery."a\x1bb.c": is not a key of battery; the keys are capacity_ah, nominal_v, disconnect_v, reconnect_v, efficiency, idle_w, tempco_pct_per_k, ratio, cycles, heater, note, kind, start_soc`},
	{"no values", `name:
battery:
  capacity_ah:
  heater: ~
  kind: null
  start_soc: [full, ]
  cycles:
loads:
array:
-
`,
		`1:1: name: has no value: text is wanted; example: name: garden shed
3:3: battery.capacity_ah: has no value: a number above 0 is wanted; example: capacity_ah: 200
4:3: battery.heater: has no value: true or false is wanted; example: heater: false
5:3: battery.kind: has no value: one of lithium, flooded, agm, gel is wanted; example: kind: lithium
7:3: battery.cycles: has no value: a whole number at least 1 is wanted; example: cycles: 3000
8:1: loads: has no value: type what belongs to it, or leave the line out; example: loads: {lamp: {power_w: 8}}
10:2: array[1]: has no value; example: array: [{tilt_deg: 35}]`},
	{"empty item", `name: x
battery:
  capacity_ah: 10
  start_soc: [full, ~]
`,
		`4:21: battery.start_soc: an item of the list has no value; example: start_soc: settled`},
	{"lists and groups", `name: [a]
battery:
  capacity_ah: [1, 2]
  nominal_v: {a: 1}
  heater: [true]
  kind: [gel]
  start_soc: {a: 1}
  note: {}
`,
		`1:7: name: is a list where text is wanted; example: name: garden shed
3:16: battery.capacity_ah: is a list where a number above 0 is wanted; example: capacity_ah: 200
4:14: battery.nominal_v: is a group of keys where a number between 6 and 96 is wanted; example: nominal_v: 24
5:11: battery.heater: is a list where true or false is wanted; example: heater: false
6:9: battery.kind: is a list where one of lithium, flooded, agm, gel is wanted; example: kind: lithium
7:14: battery.start_soc: is a group of keys where a word is wanted; example: start_soc: settled
8:9: battery.note: is a group of keys where text is wanted; example: note: second hand`},
	{"number for a group", `name: x
battery: 200
loads: true
array: 5
`,
		`2:10: battery: is a number where keys and values are wanted; example: capacity_ah: 200
3:8: loads: is true or false where keys and values are wanted; example: lamp: {power_w: 8}
4:8: array: is a number where keys and values are wanted; example: array: [{tilt_deg: 35}]`},
	{"list for a group", `name: x
battery: [200]
loads: [a]
`,
		`2:10: battery: is a list where keys and values are wanted; example: capacity_ah: 200
3:8: loads: is a list where keys and values are wanted; example: lamp: {power_w: 8}`},
	{"text for a group, for want of a space", `name: x
battery: {capacity_ah: 10}
loads:
  lamp:8
`,
		`4:3: loads: a space is missing after the colon; example: lamp: {power_w: 8}`},
	{"groups inside", `name: x
battery:
  capacity_ah: 10
loads: {a: 6, b: {power_w: 1, hours: []}, "a.b": {power: 5}, c: , "d/e": {}}
array: [{tilt_deg: 300}, {}, 5, [6]]
`,
		`4:12: loads.a: is a number where keys and values are wanted; example: power_w: 40
4:38: loads.b.hours: is an empty list where a word or a list of words is wanted; example: hours: 17:00 to 21:30
4:51: loads."a.b".power: is not a key of loads."a.b" (its name carries the unit: power_w); example: power_w: 40
4:62: loads.c: has no value: indent its keys below it; example: lamp: {power_w: 8}
4:67: loads."d/e": a name is 1 to 60 printable characters without / and \; example: lamp: {power_w: 8}
5:20: array[1].tilt_deg: 300 is not between 0 and 90; example: tilt_deg: 35
5:26: array[2].tilt_deg: is missing: 0 flat, 90 upright; example: tilt_deg: 35
5:30: array[3]: is a number where keys and values are wanted; example: tilt_deg: 35
5:33: array[4]: is a list where keys and values are wanted; example: tilt_deg: 35`},
	{"empty list", `name: x
battery:
  capacity_ah: 10
array: []
`,
		`4:8: array: is a list of 0 items where 1 to 100 are wanted; example: array: [{tilt_deg: 35}]`},
	{"empty name", `name: ""
battery: {capacity_ah: 10}
`,
		`1:7: name: is empty text; example: name: garden shed`},
	{"escape in text", `name: x
battery:
  capacity_ah: 10
  note: "a\eb"
`,
		`4:9: battery.note: holds a character that cannot be printed; example: note: second hand`},
	{"below the range", `name: x
battery:
  capacity_ah: -5
  efficiency: 1.5
  nominal_v: 300
`,
		`3:16: battery.capacity_ah: -5 is not above 0; example: capacity_ah: 200
4:15: battery.efficiency: 1.5 is not above 0 and at most 1; example: efficiency: 0.95
5:14: battery.nominal_v: 300 is not between 6 and 96; example: nominal_v: 24`},
	{"not whole", `name: x
battery:
  capacity_ah: 10
  cycles: 2.5
`,
		`4:11: battery.cycles: 2.5 is not a whole number; example: cycles: 3000`},
	{"not a whole number of sense", `name: x
battery:
  capacity_ah: 10
  cycles: 99999999999999999999
`,
		`4:11: battery.cycles: 99999999999999999999 is too large for a number here; example: cycles: 3000`},
	{"underscore", `name: x
battery:
  capacity_ah: 1_000
`,
		`3:16: battery.capacity_ah: 1_000 is not a plain number: digits stand together; type 1000; example: capacity_ah: 200`},
	{"spaces and apostrophe", `name: x
battery:
  capacity_ah: 1 000
  nominal_v: 1'000
`,
		`3:16: battery.capacity_ah: 1 000 is not a plain number: digits stand together; type 1000; example: capacity_ah: 200
4:14: battery.nominal_v: 1'000 is not a plain number: digits stand together; type 1000; example: nominal_v: 24`},
	{"hexadecimal", `name: x
battery:
  capacity_ah: 10
  nominal_v: 0x1F
`,
		`4:14: battery.nominal_v: 0x1F is not a plain number: it is not decimal; type 31; example: nominal_v: 24`},
	{"octal", `name: x
battery:
  capacity_ah: 10
  nominal_v: 012
  ratio: 0o14
`,
		`4:14: battery.nominal_v: 012 is not a plain number: it begins with 0; type 12; example: nominal_v: 24
5:10: battery.ratio: 0o14 is not a plain number: it is not decimal; type 12; example: ratio: 2`},
	{"infinite", `name: x
battery:
  capacity_ah: 10
  disconnect_v: .inf
  reconnect_v: .NaN
  ratio: -.Inf
  idle_w: NaN
`,
		`4:17: battery.disconnect_v: .inf is not a finite number; example: disconnect_v: 11.5
5:16: battery.reconnect_v: .NaN is not a finite number; example: reconnect_v: 12.5
6:10: battery.ratio: -.Inf is not a finite number; example: ratio: 2
7:11: battery.idle_w: NaN is not a finite number; example: idle_w: 6`},
	{"exponent", `name: x
battery:
  capacity_ah: 10
  ratio: 1e-3
  idle_w: 1e400
  tempco_pct_per_k: 1.5E+3
`,
		`4:10: battery.ratio: 1e-3 is not a plain number: it has an exponent; type 0.001; example: ratio: 2
5:11: battery.idle_w: 1e400 is not a plain number: type it without an exponent; example: idle_w: 6
6:21: battery.tempco_pct_per_k: 1.5E+3 is not a plain number: it has an exponent; type 1500; example: tempco_pct_per_k: -0.4`},
	{"unit", `name: x
battery:
  capacity_ah: 10
  idle_w: 12 W
  ratio: 5m
  nominal_v: 1.2 kWh
`,
		`4:11: battery.idle_w: "12 W" has a unit: type the number alone, in W; example: idle_w: 6
5:10: battery.ratio: "5m" has a unit: type the number alone; example: ratio: 2
6:14: battery.nominal_v: "1.2 kWh" has a unit: type the number alone, in V; example: nominal_v: 24`},
	{"percent", `name: x
battery:
  capacity_ah: 10
  efficiency: 95%
  ratio: 5 %
`,
		`4:15: battery.efficiency: 95% is not a plain number: percent is typed as a fraction; type 0.95; example: efficiency: 0.95
5:10: battery.ratio: "5 %" has a unit: type the number alone; example: ratio: 2`},
	{"decimal comma", `name: x
battery:
  capacity_ah: 10
  ratio: 1,5
`,
		`4:10: battery.ratio: 1,5 is not a plain number: the decimal sign is a point; type 1.5; example: ratio: 2`},
	{"thousands comma", `name: x
battery:
  capacity_ah: 10
  disconnect_v: 1,000
  reconnect_v: 1,000,000
`,
		`4:17: battery.disconnect_v: 1,000 is not a plain number: it has a comma; type 1000 or 1.000; example: disconnect_v: 11.5
5:16: battery.reconnect_v: 1,000,000 is not a plain number: it has commas; type 1000000; example: reconnect_v: 12.5`},
	{"typographic minus", `name: x
battery:
  capacity_ah: 10
  idle_w: −5
`,
		`4:11: battery.idle_w: −5 is not a plain number: the minus sign is another character; type -5; example: idle_w: 6`},
	{"quoted number", `name: x
battery:
  capacity_ah: "200"
  nominal_v: 'much'
`,
		`3:16: battery.capacity_ah: is text in quotes where a number above 0 is wanted: type 200 without quotes; example: capacity_ah: 200
4:14: battery.nominal_v: "much" is text where a number between 6 and 96 is wanted; example: nominal_v: 24`},
	{"text and flags", `name: x
battery:
  capacity_ah: 10
  ratio: lots
  idle_w: true
  nominal_v: 12:30
`,
		`4:10: battery.ratio: "lots" is text where a number is wanted; example: ratio: 2
5:11: battery.idle_w: true is true or false where a number is wanted; example: idle_w: 6
6:14: battery.nominal_v: "12:30" is text where a number between 6 and 96 is wanted; example: nominal_v: 24`},
	{"yes", `name: x
battery:
  capacity_ah: 10
  heater: yes
`,
		`4:11: battery.heater: yes is not true or false: type true; example: heater: false`},
	{"Off", `name: x
battery:
  capacity_ah: 10
  heater: Off
`,
		`4:11: battery.heater: Off is not true or false: type false; example: heater: false`},
	{"quoted flag", `name: x
battery:
  capacity_ah: 10
  heater: "true"
`,
		`4:11: battery.heater: is text in quotes where true or false is wanted: type true without quotes; example: heater: false`},
	{"no flag", `name: x
battery:
  capacity_ah: 10
  heater: maybe
`,
		`4:11: battery.heater: "maybe" is not true or false; example: heater: false`},
	{"choice, misspelt", `name: x
battery:
  capacity_ah: 10
  kind: lithum
`,
		`4:9: battery.kind: "lithum" is not one of lithium, flooded, agm, gel (did you mean lithium?); example: kind: lithium`},
	{"choice in capitals", `name: x
battery:
  capacity_ah: 10
  kind: AGM
`,
		`4:9: battery.kind: "AGM" is not one of lithium, flooded, agm, gel (did you mean agm?); example: kind: lithium`},
	{"choice, unknown", `name: x
battery:
  capacity_ah: 10
  kind: steam
`,
		`4:9: battery.kind: "steam" is not one of lithium, flooded, agm, gel; example: kind: lithium`},
	{"words: the item that is wrong", `name: x
battery:
  capacity_ah: 10
  start_soc: [full, empty]
`,
		`4:21: battery.start_soc: "empty" is not settled, full or a fraction; example: start_soc: settled`},
	{"words: all of them", `name: x
battery:
  capacity_ah: 10
  start_soc: [full, full, full]
`,
		`4:14: battery.start_soc: more than two words; example: start_soc: settled`},
	{"words: no item", `name: x
battery:
  capacity_ah: 10
  start_soc: []
`,
		`4:14: battery.start_soc: is an empty list where a word or a list of words is wanted; example: start_soc: settled`},
	{"check, key typed", `name: x
battery:
  capacity_ah: 10
  reconnect_v: 11
`,
		`4:16: battery.reconnect_v: 11 is not above disconnect_v 11.5; example: reconnect_v: 12.5`},
	{"check, key not typed", `name: x
battery:
  capacity_ah: 10
  disconnect_v: 13
`,
		`2:1: battery.reconnect_v: is not typed, and its default does not fit: 12.5 is not above disconnect_v 13; example: reconnect_v: 12.5`},
	{"check, key not typed, waits for the keys that are unknown", `name: x
battery:
  capacity_ah: 10
  disconnect_v: 13
  whatever: 1
`,
		`5:3: battery.whatever: is not a key of battery; the keys are capacity_ah, nominal_v, disconnect_v, reconnect_v, efficiency, idle_w, tempco_pct_per_k, ratio, cycles, heater, note, kind, start_soc`},
	{"check waits for the values", `name: x
battery:
  capacity_ah: x
  disconnect_v: 13
  efficiency: 2
`,
		`3:16: battery.capacity_ah: "x" is text where a number above 0 is wanted; example: capacity_ah: 200
5:15: battery.efficiency: 2 is not above 0 and at most 1; example: efficiency: 0.95`},
	{"variants are no group", `name: x
battery:
  capacity_ah: 10
variants: 7
`,
		`4:11: variants: is a number where keys and values are wanted; example: larger battery: {battery: {capacity_ah: 200}}`},
	{"variants are empty", `name: x
battery:
  capacity_ah: 10
variants:
`,
		`4:1: variants: has no value; example: larger battery: {battery: {capacity_ah: 200}}`},
	{"fault in a variant", `name: x
battery:
  capacity_ah: 10
variants:
  big:
    battery:
      capacity_ah: -1
`,
		`7:20: variants.big.battery.capacity_ah: -1 is not above 0; example: capacity_ah: 200`},
	{"unknown key in a variant", `name: x
battery:
  capacity_ah: 10
variants:
  big: {battery: {capacityah: 1}, lods: {}}
`,
		`5:19: variants.big.battery.capacityah: is not a key of battery (did you mean capacity_ah?); example: capacity_ah: 200
5:35: variants.big.lods: is not a key of the scenario (did you mean loads?); example: loads: {lamp: {power_w: 8}}`},
	{"fault of the base, told once", `name: x
battery: {capacity_ah: -1}
variants:
  a: {battery: {ratio: 2}}
  b: {name: y}
`,
		`2:24: battery.capacity_ah: -1 is not above 0; example: capacity_ah: 200`},
	{"missing in the base, told once", `name: x
battery: {ratio: 1}
variants:
  a: {battery: {ratio: 2}}
  b: {battery: {capacity_ah: 5}}
`,
		`2:1: battery.capacity_ah: is missing: rated charge; example: capacity_ah: 200`},
	{"a variant brings out a fault in the base", `name: x
battery:
  capacity_ah: 10
  reconnect_v: 12
variants:
  late: {battery: {disconnect_v: 13}}
`,
		`4:16: battery.reconnect_v: 12 is not above disconnect_v 13 (in variant late); example: reconnect_v: 12.5`},
	{"a variant against a default", `name: x
battery:
  capacity_ah: 10
variants:
  late: {battery: {disconnect_v: 13}}
`,
		`5:10: variants.late.battery.reconnect_v: is not typed, and its default does not fit: 12.5 is not above disconnect_v 13; example: reconnect_v: 12.5`},
	{"removed what is needed", `name: x
battery:
  capacity_ah: 10
variants:
  none: {battery: removed}
`,
		`5:3: variants.none.battery: is missing: the store`},
	{"removed what is not there", `name: x
battery:
  capacity_ah: 10
loads: {lamp: {power_w: 8}}
variants:
  dark: {loads: {lmp: removed}, array: {tilt_deg: removed}}
`,
		`6:18: variants.dark.loads.lmp: there is nothing to remove: the base has no lmp (did you mean lamp?)
6:33: variants.dark.array.tilt_deg: is missing: 0 flat, 90 upright; example: tilt_deg: 35
6:41: variants.dark.array.tilt_deg: there is nothing to remove: the base has no tilt_deg`},
	{"no value in a variant", `name: x
battery:
  capacity_ah: 10
variants:
  a: {battery: {capacity_ah: }}
  b:
  c: 8
`,
		`5:17: variants.a.battery.capacity_ah: has no value: type one, or removed to drop what the base has
6:3: variants.b: has no value: indent its keys below it; example: larger battery: {battery: {capacity_ah: 200}}
7:6: variants.c: is a number where keys and values are wanted; example: larger battery: {battery: {capacity_ah: 200}}`},
	{"variant called variants", `name: x
battery:
  capacity_ah: 10
variants:
  variants: {}
  a: {variants: {b: {}}}
`,
		`5:3: variants.variants: a variant cannot be called variants; example: larger battery: {battery: {capacity_ah: 200}}
6:7: variants.a.variants: a variant cannot have variants of its own`},
}

func TestBadFiles(t *testing.T) {
	for _, test := range bad {
		t.Run(test.name, func(t *testing.T) {
			_, err := decodeFake([]byte(test.src))
			var es Errors
			if !errors.As(err, &es) {
				t.Fatalf("got %v, want Errors", err)
			}
			got := strings.TrimPrefix(strings.ReplaceAll("\n"+es.Error(), "\ncabin.yaml:", "\n"), "\n")
			if got != test.want {
				t.Errorf("file:\n%s\ngot:\n%s\nwant:\n%s", test.src, got, test.want)
			}
		})
	}
}

// A file that is read on a system with other line ends, or saved with a byte order mark, has its faults in the same places.
func TestBadFilesWithOtherLineEnds(t *testing.T) {
	for _, test := range bad {
		if strings.ContainsRune(test.src, 0) || !utf8.ValidString(test.src) {
			continue
		}
		_, want := decodeFake([]byte(test.src))
		for name, src := range map[string]string{
			"CR LF": strings.ReplaceAll(test.src, "\n", "\r\n"),
			"CR":    strings.ReplaceAll(test.src, "\n", "\r"),
			"mark":  "\ufeff" + test.src,
		} {
			if _, err := decodeFake([]byte(src)); err == nil || err.Error() != want.Error() {
				t.Errorf("%s, %s: got\n%v\nwant\n%v", test.name, name, err, want)
			}
		}
	}
}

func TestTooLarge(t *testing.T) {
	_, err := decodeFake(append([]byte("name: x\n"), make([]byte, maxBytes)...))
	const want = "cabin.yaml:1:1: the file is larger than 256 KiB: a scenario is a few pages of text"
	if err == nil || err.Error() != want {
		t.Errorf("got %v, want %s", err, want)
	}
}

func TestManyFaultsAreCounted(t *testing.T) {
	// 1 for the missing name, 150 keys that are not known: 100 are told, 51 are left.
	_, err := decodeFake([]byte("battery: {capacity_ah: 1}\n" + numbered("key%d: 1\n", 150)))
	var es Errors
	if !errors.As(err, &es) || len(es) != 101 {
		t.Fatalf("got %d faults, want 100 and their count: %v", len(es), err)
	}
	if got, want := es[100].Error(), "cabin.yaml:101:1: 51 more faults from here on"; got != want {
		t.Errorf("got %s, want %s", got, want)
	}
}

func TestRender(t *testing.T) {
	for _, test := range []struct{ name, src, want string }{
		{"value", "name: x\nbattery:\n  capacity_ah: -5\n",
			"cabin.yaml:3:16: battery.capacity_ah: -5 is not above 0; example: capacity_ah: 200\n" +
				"     3 |   capacity_ah: -5\n" +
				"       |                ^\n"},
		{"characters, not bytes", "name: x\nbattery: {note: höhle, capacity_ah: -5}\n",
			"cabin.yaml:2:37: battery.capacity_ah: -5 is not above 0; example: capacity_ah: 200\n" +
				"     2 | battery: {note: höhle, capacity_ah: -5}\n" +
				"       |                                     ^\n"},
		{"tab", "name: x\nbattery:\n\tratio: 1\n",
			"cabin.yaml:3:1: the line is indented with a tab: use spaces\n" +
				"     3 |  ratio: 1\n" +
				"       | ^\n"},
		{"nothing a terminal obeys", "name: a\x1b[31m\n",
			"cabin.yaml:1:8: the invisible character U+001B is not allowed in a scenario: delete it\n" +
				"     1 | name: a?[31m\n" +
				"       |        ^\n"},
		{"empty file", "", "cabin.yaml:1:1: the file is empty: a scenario is keys and values; example: name: garden shed\n"},
		{"long line", "name: x\nbattery: {note: " + strings.Repeat("x", 200) + ", capacity_ah: -5, kind: gel} # " + strings.Repeat("y", 200) + "\n",
			"cabin.yaml:2:232: battery.capacity_ah: -5 is not above 0; example: capacity_ah: 200\n" +
				"     2 | …" + strings.Repeat("x", 45) + ", capacity_ah: -5, kind: gel} # " + strings.Repeat("y", 23) + "…\n" +
				"       | " + strings.Repeat(" ", 61) + "^\n"},
	} {
		_, err := decodeFake([]byte(test.src))
		var es Errors
		if !errors.As(err, &es) || len(es) != 1 {
			t.Fatalf("%s: got %v, want one fault", test.name, err)
		}
		if got := es[0].Render([]byte(test.src)); got != test.want {
			t.Errorf("%s: got\n%s\nwant\n%s", test.name, got, test.want)
		}
	}
}

func TestCaretOutside(t *testing.T) {
	for _, at := range [][2]int{{0, 1}, {3, 1}, {-1, 0}} {
		if got := Caret([]byte("a\nb"), at[0], at[1]); got != "" {
			t.Errorf("line %d: got %q, want nothing", at[0], got)
		}
	}
	if got, want := Caret([]byte("ab"), 1, 99), "     1 | ab\n       |   ^\n"; got != want {
		t.Errorf("got %q, want %q", got, want)
	}
}
