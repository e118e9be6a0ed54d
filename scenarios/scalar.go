package scenarios

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"gopkg.in/yaml.v3"

	"tideover/sim/limit"
)

// what names the kind of a value in the person's words.
func what(n *yaml.Node) string {
	switch {
	case n.Kind == yaml.SequenceNode:
		return "a list"
	case n.Kind == yaml.MappingNode:
		return "a group of keys"
	case isNull(n):
		return "empty"
	case n.Kind == yaml.AliasNode:
		return "an alias"
	case !plain(n):
		return "text"
	case n.Value == "true" || n.Value == "false":
		return "true or false"
	case decimal.MatchString(n.Value):
		return "a number"
	}
	return "text"
}

// want says what a key takes.
func want(k limit.Key) string {
	switch k.Kind {
	case limit.Number, limit.Whole:
		w := "a number"
		if k.Kind == limit.Whole {
			w = "a whole number"
		}
		if r := k.Range.String(); r != "a number" {
			w += " " + r
		}
		return w
	case limit.Flag:
		return "true or false"
	case limit.Choice:
		return "one of " + strings.Join(k.Choices, ", ")
	case limit.Words:
		return "a word or a list of words"
	}
	return "text"
}

// set stores a value in the box and returns "", or says what is wrong and where.
func set(k limit.Key, n *yaml.Node) (at *yaml.Node, fault string) {
	if isNull(n) {
		return n, "has no value: " + want(k) + " is wanted"
	}
	if k.Kind == limit.Words {
		return setWords(k, n)
	}
	if n.Kind != yaml.ScalarNode {
		return n, "is " + what(n) + " where " + want(k) + " is wanted"
	}
	if strings.ContainsFunc(n.Value, unprintable) {
		return n, "holds a character that cannot be printed"
	}
	switch k.Kind {
	case limit.Number, limit.Whole:
		v, fault := number(n, k)
		if fault == "" {
			k.SetNumber(v)
		}
		return n, fault
	case limit.Flag:
		v, fault := flag(n)
		if fault == "" {
			k.SetFlag(v)
		}
		return n, fault
	case limit.Choice:
		if k.SetChoice(n.Value) {
			return n, ""
		}
		fault := show(n.Value) + " is not " + want(k)
		if word := Nearest(n.Value, k.Choices); word != "" {
			fault += " (did you mean " + word + "?)"
		}
		return n, fault
	case limit.Text:
		if k.Need && strings.TrimSpace(n.Value) == "" {
			return n, "is empty text"
		}
		k.SetText(n.Value)
		return n, ""
	}
	panic(fmt.Sprintf("scenarios: set: key %s has kind %d, want one that is known", k.Name, k.Kind))
}

func unprintable(r rune) bool { return !unicode.IsGraphic(r) && r != '\n' && r != '\t' }

const (
	maxItems = 1000 // of a list of words: a box may be slow to read them
	maxWord  = 200  // bytes of one word
)

func setWords(k limit.Key, n *yaml.Node) (at *yaml.Node, fault string) {
	items := []*yaml.Node{n}
	if n.Kind == yaml.SequenceNode {
		items = n.Content
		if len(items) == 0 {
			return n, "is an empty list where " + want(k) + " is wanted"
		}
		if len(items) > maxItems {
			return n, fmt.Sprintf("is a list of %d items, which is more than %d", len(items), maxItems)
		}
	}
	var words []string
	for _, item := range items {
		switch {
		case item.Kind == told:
			return n, ""
		case isNull(item):
			return item, "an item of the list has no value"
		case item.Kind != yaml.ScalarNode:
			return item, "is " + what(item) + " where a word is wanted"
		case strings.ContainsFunc(item.Value, unprintable):
			return item, "holds a character that cannot be printed"
		case len(item.Value) > maxWord:
			return item, fmt.Sprintf("is longer than %d characters", maxWord)
		}
		words = append(words, item.Value)
	}
	err := k.SetWords(words)
	if err == nil {
		return n, ""
	}
	return wordFault(n, items, words, err)
}

// otherWords says what is wrong with further words of a list of which one was refused: with each alone, as far as the box
// quotes it. Lists of a fixed length are refused for that, and tell nothing more.
func otherWords(k limit.Key, n, refused *yaml.Node) (at []*yaml.Node, faults []string) {
	if k.Kind != limit.Words || n.Kind != yaml.SequenceNode || len(n.Content) > maxItems || n == refused {
		return nil, nil
	}
	for _, item := range n.Content {
		if item == refused || item.Kind != yaml.ScalarNode || isNull(item) || len(item.Value) > maxWord || strings.ContainsFunc(item.Value, unprintable) {
			continue
		}
		// The box quotes the word, or a part of it.
		if err := k.SetWords([]string{item.Value}); err != nil && quotesPart(err.Error(), item.Value) {
			at, faults = append(at, item), append(faults, err.Error())
		}
	}
	return at, faults
}

// quotesPart reports whether a message quotes something that stands in a word.
func quotesPart(msg, word string) bool {
	_, rest, ok := strings.Cut(msg, "\"")
	part, _, closed := strings.Cut(rest, "\"")
	return ok && closed && part != "" && strings.Contains(word, part)
}

func wordFault(n *yaml.Node, items []*yaml.Node, words []string, err error) (at *yaml.Node, fault string) {
	for i, w := range words { // the box quotes the word it stumbles over
		if strings.Contains(err.Error(), strconv.Quote(w)) {
			return items[i], err.Error()
		}
	}
	for i, w := range words { // or a part of it
		if len(words) > 1 && quotesPart(err.Error(), w) {
			return items[i], err.Error()
		}
	}
	return n, err.Error()
}

var (
	decimal  = regexp.MustCompile(`^[+-]?(?:(?:0|[1-9][0-9]*)(?:\.[0-9]*)?|\.[0-9]+)$`)
	withUnit = regexp.MustCompile(`^([+-]?[0-9]+(?:[.,][0-9]*)?|[+-]?\.[0-9]+)\s*([\p{L}%°µΩ][\p{L}%°µΩ0-9/²^]*)$`)
	exponent = regexp.MustCompile(`^[+-]?[0-9.]+[eE][+-]?[0-9]+$`)
	comma    = regexp.MustCompile(`^[+-]?[0-9]+,[0-9]+$`)
	commas   = regexp.MustCompile(`^[+-]?[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?$`)
	gaps     = strings.NewReplacer("_", "", " ", "", "'", "", "\u00a0", "", "\u2009", "", "\u202f", "")
	zeros    = regexp.MustCompile(`^([+-]?)0+([0-9])`)
)

// number reads a plain decimal number. Every other way to write one is refused, with the plain way where it is sure.
func number(n *yaml.Node, k limit.Key) (float64, string) {
	s := n.Value
	if !plain(n) {
		if decimal.MatchString(s) {
			return 0, "is text in quotes where " + want(k) + " is wanted: type " + brief(s) + " without quotes"
		}
		return 0, show(s) + " is text where " + want(k) + " is wanted"
	}
	if decimal.MatchString(s) {
		v, err := strconv.ParseFloat(s, 64)
		switch {
		case err != nil || math.Abs(v) > 1e12:
			return 0, brief(s) + " is too large for a number here"
		case v != 0 && math.Abs(v) < 1e-9:
			return 0, brief(s) + " is too near 0 for a number here"
		case k.Kind == limit.Whole && v != math.Trunc(v):
			return 0, brief(s) + " is not a whole number"
		}
		if v == 0 {
			return 0, "" // no minus zero
		}
		return v, ""
	}
	instead := func(v, because string) (float64, string) {
		return 0, brief(s) + " is not a plain number: " + because + "; type " + v
	}
	if minus := strings.ReplaceAll(s, "−", "-"); minus != s && decimal.MatchString(minus) {
		return instead(minus, "the minus sign is another character")
	}
	if digits := gaps.Replace(s); digits != s && decimal.MatchString(digits) {
		return instead(digits, "digits stand together")
	}
	if digits := zeros.ReplaceAllString(s, "$1$2"); digits != s && decimal.MatchString(digits) {
		return instead(digits, "it begins with 0")
	}
	switch {
	case commas.MatchString(s):
		whole := strings.ReplaceAll(s, ",", "")
		if comma.MatchString(s) {
			return instead(whole+" or "+strings.Replace(s, ",", ".", 1), "it has a comma")
		}
		return instead(whole, "it has commas")
	case comma.MatchString(s):
		return instead(strings.Replace(s, ",", ".", 1), "the decimal sign is a point")
	case slices.Contains([]string{"inf", "nan", "infinity"}, strings.ToLower(strings.TrimLeft(s, "+-."))):
		return 0, s + " is not a finite number"
	}
	if m := withUnit.FindStringSubmatch(s); m != nil {
		_, its := unit(k.Name)
		switch {
		case strings.HasPrefix(m[2], "x") || strings.HasPrefix(m[2], "o") || strings.HasPrefix(m[2], "b"):
			if v, err := strconv.ParseInt(s, 0, 64); err == nil {
				return instead(strconv.FormatInt(v, 10), "it is not decimal")
			}
		case m[2] == "%" && k.Range.HasHi && k.Range.Hi <= 1:
			if v, err := strconv.ParseFloat(strings.Replace(m[1], ",", ".", 1), 64); err == nil {
				return instead(limit.Plain(math.Round(v*1e10)/1e12), "percent is typed as a fraction")
			}
		case exponent.MatchString(s):
		case its != "" && strings.Contains(m[1], ","):
			return 0, show(s) + " has a unit and a decimal comma: type the number alone, in " + its + ", with a point"
		case its != "":
			return 0, show(s) + " has a unit: type the number alone, in " + its
		default:
			return 0, show(s) + " has a unit: type the number alone"
		}
	}
	if exponent.MatchString(s) {
		v, err := strconv.ParseFloat(s, 64)
		if w := limit.Plain(v); err == nil && len(w) < 20 {
			return instead(w, "it has an exponent")
		}
		return 0, brief(s) + " is not a plain number: type it without an exponent"
	}
	if what(n) == "true or false" {
		return 0, s + " is true or false where " + want(k) + " is wanted"
	}
	return 0, show(s) + " is text where " + want(k) + " is wanted"
}

// slip names the likely slip of units behind a number that is out of its range, in words that go on from msg, or "".
func slip(k limit.Key, msg string) string {
	if k.Kind != limit.Number || strings.Contains(msg, "look") { // the box has said it
		return ""
	}
	v, err := strconv.ParseFloat(k.Value(), 64)
	if err != nil || k.Range.Fault(v) == "" {
		return ""
	}
	would := func(v float64, slip string) string {
		v = math.Round(v*1e10) / 1e10
		if k.Range.Fault(v) != "" {
			return ""
		}
		return fmt.Sprintf(slip, k.Value(), limit.Plain(v))
	}
	_, u := unit(k.Name)
	switch {
	case u == "" && k.Range.HasHi && k.Range.Hi <= 1 && v >= 5*k.Range.Hi && v <= 100:
		return would(v/100, ": it looks like percent; %s %% is %s")
	case u == "degC":
		return would(math.Round((v-32)/1.8), ": it looks like degF; %s degF is about %s degC")
	case slices.Contains([]string{"W", "A", "V", "Wh", "m"}, u) && v > k.Range.Hi:
		return would(v/1000, ": it looks like m"+u+"; %s m"+u+" is %s "+u)
	case slices.Contains([]string{"W", "V", "Wh"}, u) && v > 0:
		return would(v*1000, ": it looks like k"+u+"; %s k"+u+" is %s "+u)
	}
	return ""
}

var flagWords = map[string]string{
	"true": "true", "yes": "true", "on": "true", "y": "true", "t": "true", "1": "true",
	"false": "false", "no": "false", "off": "false", "n": "false", "f": "false", "0": "false",
}

// flag reads true or false, and refuses the other words that YAML's versions disagree about.
func flag(n *yaml.Node) (bool, string) {
	s := n.Value
	if plain(n) && (s == "true" || s == "false") {
		return s == "true", ""
	}
	word := flagWords[strings.ToLower(s)]
	switch {
	case word == "":
		return false, show(s) + " is not true or false"
	case !plain(n):
		return false, "is text in quotes where true or false is wanted: type " + word + " without quotes"
	}
	return false, s + " is not true or false: type " + word
}
