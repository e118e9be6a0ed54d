// Package limit says what values a parameter may take, and the sentence that says so.
//
// Every box declares its parameters once, as Keys: the name a person types, what it means, an example, where the
// default comes from, and the range. The scenario decoder, the check of a value built in Go, and the page that
// documents the keys all read that one declaration.
package limit

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// Range is an interval of numbers. The zero value allows every finite number.
type Range struct {
	Lo, Hi         float64
	HasLo, HasHi   bool
	LoOpen, HiOpen bool // the end itself is not allowed
}

// Above allows numbers greater than lo.
func Above(lo float64) Range { return Range{Lo: lo, HasLo: true, LoOpen: true} }

// AtLeast allows lo and greater.
func AtLeast(lo float64) Range { return Range{Lo: lo, HasLo: true} }

// Between allows lo, hi and what lies between.
func Between(lo, hi float64) Range { return Range{Lo: lo, Hi: hi, HasLo: true, HasHi: true} }

// AboveTo allows numbers greater than lo, up to and including hi.
func AboveTo(lo, hi float64) Range {
	return Range{Lo: lo, Hi: hi, HasLo: true, LoOpen: true, HasHi: true}
}

// Fault says what is wrong with v, as "-5 is not above 0", or "" when v lies in the range.
func (r Range) Fault(v float64) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return fmt.Sprintf("%v is not a finite number", v)
	}
	low := r.HasLo && (v < r.Lo || r.LoOpen && v == r.Lo)
	high := r.HasHi && (v > r.Hi || r.HiOpen && v == r.Hi)
	if !low && !high {
		return ""
	}
	return Plain(v) + " is not " + r.String()
}

// String says the range in words: "above 0", "at least 0", "between 0 and 1".
func (r Range) String() string {
	switch {
	case r.HasLo && r.HasHi && (r.LoOpen || r.HiOpen):
		lo, hi := "at least ", "at most "
		if r.LoOpen {
			lo = "above "
		}
		if r.HiOpen {
			hi = "below "
		}
		return lo + Plain(r.Lo) + " and " + hi + Plain(r.Hi)
	case r.HasLo && r.HasHi:
		return "between " + Plain(r.Lo) + " and " + Plain(r.Hi)
	case r.HasLo && r.LoOpen:
		return "above " + Plain(r.Lo)
	case r.HasLo:
		return "at least " + Plain(r.Lo)
	case r.HasHi && r.HiOpen:
		return "below " + Plain(r.Hi)
	case r.HasHi:
		return "at most " + Plain(r.Hi)
	}
	return "a number"
}

// Plain writes v in the fewest digits that name it, without an exponent.
func Plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// Kind is what a person types for a key.
type Kind int

// The kinds of value. Words is one word or a list of them, which the box itself parses.
const (
	Number Kind = iota
	Whole
	Flag
	Text
	Choice
	Words
)

// Key is one parameter of a box as a person types it.
type Key struct {
	Name    string // in snake case, with its unit: capacity_ah
	Doc     string // one line: what it is
	Example string // a value that would be right
	Kind    Kind
	Need    bool     // must be typed: there is no sensible default
	Origin  string   // where the default comes from: a source, "common practice" or "a guess"; "" when Need
	Range   Range    // for Number and Whole
	Choices []string // for Choice, in order of their values

	number *float64
	whole  *int
	flag   *bool
	text   *string
	choose func(int)
	chosen func() int
	parse  func([]string) error
}

// Num declares a number.
func Num(name string, into *float64, r Range, doc, example string) Key {
	return Key{Name: name, Doc: doc, Example: example, Kind: Number, Range: r, number: into}
}

// Int declares a whole number.
func Int(name string, into *int, r Range, doc, example string) Key {
	return Key{Name: name, Doc: doc, Example: example, Kind: Whole, Range: r, whole: into}
}

// Bool declares a yes or no.
func Bool(name string, into *bool, doc, example string) Key {
	return Key{Name: name, Doc: doc, Example: example, Kind: Flag, flag: into}
}

// Str declares free text.
func Str(name string, into *string, doc, example string) Key {
	return Key{Name: name, Doc: doc, Example: example, Kind: Text, text: into}
}

// OneOf declares a choice among words; the value is the word's place in the list.
func OneOf[T ~int](name string, into *T, words []string, doc, example string) Key {
	return Key{Name: name, Doc: doc, Example: example, Kind: Choice, Choices: words,
		choose: func(i int) { *into = T(i) }, chosen: func() int { return int(*into) }}
}

// Parsed declares a value in words of the box's own, given as one scalar or a list of scalars.
func Parsed(name string, parse func(words []string) error, doc, example string) Key {
	return Key{Name: name, Doc: doc, Example: example, Kind: Words, parse: parse}
}

// Needed returns the key marked as one that must be typed.
func (k Key) Needed() Key { k.Need = true; return k }

// From returns the key with the origin of its default.
func (k Key) From(origin string) Key { k.Origin = origin; return k }

// SetNumber stores v, which may lie outside the range: Check says so later, with the others.
func (k Key) SetNumber(v float64) {
	if k.Kind == Whole {
		*k.whole = int(v)
		return
	}
	*k.number = v
}

// SetFlag stores a yes or no.
func (k Key) SetFlag(v bool) { *k.flag = v }

// SetText stores free text.
func (k Key) SetText(s string) { *k.text = s }

// SetChoice stores the word's value and reports whether the word is known.
func (k Key) SetChoice(word string) bool {
	i := slices.Index(k.Choices, word)
	if i < 0 {
		return false
	}
	k.choose(i)
	return true
}

// SetWords lets the box parse its own words. The error says what is wrong with them, without naming the key.
func (k Key) SetWords(words []string) error { return k.parse(words) }

// Value prints what the key holds now, as it would be typed. It is "" for Words.
func (k Key) Value() string {
	switch k.Kind {
	case Number:
		return Plain(*k.number)
	case Whole:
		return strconv.Itoa(*k.whole)
	case Flag:
		return strconv.FormatBool(*k.flag)
	case Text:
		return *k.text
	case Choice:
		if i := k.chosen(); i >= 0 && i < len(k.Choices) {
			return k.Choices[i]
		}
	}
	return ""
}

// Fault is one thing wrong with a box's parameters. Key is the name typed; Msg goes on from it.
type Fault struct{ Key, Msg, Example string }

// Error joins the parts into one line.
func (f Fault) Error() string {
	s := f.Key + ": " + f.Msg
	if f.Example != "" {
		s += "; example: " + f.Key + ": " + f.Example
	}
	return s
}

// Check returns a fault for each key whose value is outside its range.
func Check(keys []Key) []Fault {
	var faults []Fault
	for _, k := range keys {
		var v float64
		switch k.Kind {
		case Number:
			v = *k.number
		case Whole:
			v = float64(*k.whole)
		case Choice:
			if i := k.chosen(); i < 0 || i >= len(k.Choices) {
				faults = append(faults, Fault{k.Name, "is not one of " + strings.Join(k.Choices, ", "), k.Example})
			}
			continue
		default:
			continue
		}
		if msg := k.Range.Fault(v); msg != "" {
			faults = append(faults, Fault{k.Name, msg, k.Example})
		}
	}
	return faults
}
