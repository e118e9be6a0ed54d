package scenarios

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

const (
	maxBytes = 256 << 10 // a scenario is a few pages; this is read in well under a second whatever it holds
	maxDepth = 12        // the deepest scenario needs five
)

// told marks a node whose fault is noted already: what walks the tree later passes over it in silence.
const told yaml.Kind = 0

// parse reads the file as a tree of plain mappings, lists and scalars. It returns false where there is no tree to walk;
// after true there may still be faults, which do not stop others from being found.
func (d *decoder) parse() (root entry, ok bool) {
	if !d.readable() {
		return entry{}, false
	}
	for i, line := range splitLines(d.src) {
		if text := bytes.TrimSpace(line); len(text) == 0 || text[0] == '#' {
			continue
		}
		if line[0] == '%' { // the reader takes some directives and drops them
			d.faultAt(i+1, 1, "", "lines that begin with % are not used in a scenario", "")
			return entry{}, false
		}
		break
	}
	docs, msg := decodeYAML(d.src)
	if msg != "" {
		d.syntax(msg)
		return entry{}, false
	}
	if len(docs) == 0 || len(docs[0].Content) == 0 || isNull(docs[0].Content[0]) {
		d.faultAt(1, 1, "", "the file is empty: a scenario is keys and values", "name: garden shed")
		return entry{}, false
	}
	if len(docs) > 1 {
		d.fault(docs[1], "", "a second document starts here: a file holds one scenario, and variants go under variants:", "")
	}
	top := docs[0].Content[0]
	d.sound(top, "", 1)
	root = entry{key: top, value: top}
	if top.Kind == yaml.MappingNode {
		return root, true
	}
	if top.Kind != told {
		d.notKeys(root, "name: garden shed")
	}
	return root, false
}

// readable refuses what is no text, or has characters that break a line in one program and not in another.
func (d *decoder) readable() bool {
	src := d.src
	switch {
	case len(src) > maxBytes:
		d.faultAt(1, 1, "", "the file is larger than 256 KiB: a scenario is a few pages of text", "")
		return false
	case bytes.HasPrefix(src, []byte{0xff, 0xfe, 0, 0}), bytes.HasPrefix(src, []byte{0, 0, 0xfe, 0xff}):
		d.faultAt(1, 1, "", "the file is UTF-32 text: save it as UTF-8", "")
		return false
	case bytes.HasPrefix(src, []byte{0xff, 0xfe}), bytes.HasPrefix(src, []byte{0xfe, 0xff}),
		// Without a mark, every other byte of English text is zero.
		len(src) >= 4 && (src[0] == 0) != (src[1] == 0) && (src[0] == 0) == (src[2] == 0) && (src[1] == 0) == (src[3] == 0):
		d.faultAt(1, 1, "", "the file is UTF-16 text: save it as UTF-8", "")
		return false
	}
	binary := bytes.IndexByte(src, 0) >= 0
	for line, text := range splitLines(src) {
		for col := 1; len(text) > 0; col++ {
			r, n := utf8.DecodeRune(text)
			fault := ""
			switch {
			case r == 0:
				fault = "the file is binary, not text: a scenario is plain UTF-8 text"
			case binary: // a zero follows
			case r == utf8.RuneError && n == 1:
				fault = fmt.Sprintf("the byte 0x%02X is not UTF-8 text: save the file as UTF-8", text[0])
			case r < ' ' && r != '\t', r >= 0x7f && r < 0xa0, r == '\u2028', r == '\u2029', r == '\ufeff', r == '\ufffe', r == '\uffff':
				fault = fmt.Sprintf("the invisible character U+%04X is not allowed in a scenario: delete it", r)
			}
			if fault != "" {
				d.faultAt(line+1, col, "", fault, "")
				return false
			}
			text = text[n:]
		}
	}
	return true
}

// decodeYAML returns the documents of src, two at most, or the reader's message.
func decodeYAML(src []byte) (docs []*yaml.Node, msg string) {
	defer func() {
		if r := recover(); r != nil { // the reader panics on what it takes for its own bugs
			docs, msg = nil, fmt.Sprint(r)
		}
	}()
	reader := yaml.NewDecoder(bytes.NewReader(src))
	for len(docs) < 2 {
		var doc yaml.Node
		err := reader.Decode(&doc)
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return nil, err.Error()
		}
		docs = append(docs, &doc)
	}
	return docs, ""
}

// sound walks the tree and refuses aliases, anchors, merge keys, tags, keys that are no words, keys typed twice and deep
// nesting. What it refuses it takes out or marks as told.
func (d *decoder) sound(n *yaml.Node, path string, depth int) {
	if n.Anchor != "" {
		d.fault(n, path, "anchors (&"+label(n.Anchor)+") are not used in a scenario: type the value", "")
	}
	if n.Style&yaml.TaggedStyle != 0 {
		d.fault(n, path, "tags ("+strings.Trim(show(n.Tag), `"`)+") are not used in a scenario: type the value alone", "")
	}
	switch n.Kind {
	case yaml.AliasNode:
		d.fault(n, path, "aliases (*"+label(n.Value)+") are not used in a scenario: type the value again", "")
		n.Kind, n.Alias = told, nil
		return
	case yaml.ScalarNode:
		return
	}
	if depth > maxDepth {
		d.fault(n, path, fmt.Sprintf("is nested deeper than %d levels", maxDepth), "")
		n.Kind, n.Content = told, nil
		return
	}
	if n.Kind == yaml.SequenceNode {
		for i, item := range n.Content {
			d.sound(item, fmt.Sprintf("%s[%d]", path, i+1), depth+1)
		}
		return
	}
	first := map[string]*yaml.Node{}
	pairs := n.Content[:0:0]
	for pair := range slices.Chunk(n.Content, 2) {
		key, value := pair[0], pair[1]
		if key.Anchor != "" || key.Style&yaml.TaggedStyle != 0 {
			d.sound(key, path, depth+1)
		}
		switch {
		case key.Kind != yaml.ScalarNode:
			d.fault(key, path, "a key is a word, not "+what(key), "")
			continue
		case isMerge(key):
			d.fault(key, path, "merge keys (<<) are not used in a scenario: type the keys, or use variants:", "")
			value.Kind, value.Content = told, nil
			pairs = append(pairs, key, value)
			continue
		case key.Value == "":
			d.fault(key, path, "a key is missing before the colon", "")
			continue
		}
		here := join(path, key.Value)
		if old := first[key.Value]; old != nil {
			d.fault(key, here, fmt.Sprintf("is typed a second time; the first is in line %d", old.Line), "")
			d.sound(value, here, depth+1)
			continue
		}
		first[key.Value] = key
		d.sound(value, here, depth+1)
		pairs = append(pairs, key, value)
	}
	n.Content = pairs
}

func isMerge(key *yaml.Node) bool { return key.Value == "<<" && plain(key) }

// plain reports whether a scalar is typed without quotes and not as a block.
func plain(n *yaml.Node) bool {
	return n.Kind == yaml.ScalarNode && n.Style&(yaml.DoubleQuotedStyle|yaml.SingleQuotedStyle|yaml.LiteralStyle|yaml.FoldedStyle) == 0
}

func isNull(n *yaml.Node) bool {
	return plain(n) && slices.Contains([]string{"", "~", "null", "Null", "NULL"}, n.Value)
}

// The reader's messages and ours. Where is true, the character at which the reader stops is worth pointing at.
var syntaxFaults = []struct {
	theirs, ours string
	where        bool
	example      string
}{
	{"mapping values are not allowed", "a colon cannot stand here: check the indentation and the line above, and put text that holds a colon and a space in quotes", true, `about: "a shed: the old one"`},
	{"did not find expected key", "the indentation does not fit the lines above", false, ""},
	{"could not find expected ':'", "a key needs a colon and a space after it", false, `capacity_ah: 100`},
	{"did not find expected '-' indicator", "the indentation does not fit the list above", false, ""},
	{"block sequence entries are not allowed", "a list cannot start here: put each item on a line of its own, below its key", true, `days: [mon, fri]`},
	{"found unexpected end of stream", "a quote is opened here and not closed", true, `name: "garden shed"`},
	{"found unexpected document indicator", "a quote above this line is not closed", false, `name: "garden shed"`},
	{"did not find expected ',' or ']'", "a list opened with [ is not closed, or lacks a comma", false, `days: [mon, fri]`},
	{"did not find expected ',' or '}'", "keys opened with { are not closed, or lack a comma", false, `battery: {capacity_ah: 100}`},
	{"did not find expected node content", "a value is missing here, or a bracket or comma is too many", true, `days: [mon, fri]`},
	{"did not find expected <document start>", "the text goes on after the scenario has ended: check the indentation and the brackets", false, ""},
	{"cannot start any token", "text cannot begin with this character: put it in quotes", true, `name: "@shed"`},
	{"unknown escape character", "a backslash in double quotes has a meaning of its own: use single quotes", true, `name: 'c:\garden'`},
	{"hexdecimal", "a backslash in double quotes has a meaning of its own: use single quotes", true, `name: 'c:\garden'`},
	{"Unicode character escape", "a backslash in double quotes has a meaning of its own: use single quotes", true, `name: 'c:\garden'`},
	{"escape code", "a backslash in double quotes has a meaning of its own: use single quotes", true, `name: 'c:\garden'`},
	{"alphabetic or numeric character", "text that begins with * or & needs quotes", true, `name: "*"`},
	{"whitespace or line break", "tags and anchors (! & *) are not used in a scenario: put text that begins with one in quotes", true, ""},
	{"unknown anchor", "aliases (*) are not used in a scenario: type the value again, or put the text in quotes", true, ""},
	{"expected '>'", "tags (!) are not used in a scenario: put text that begins with ! in quotes", true, ""},
	{"tag", "tags (!) are not used in a scenario: put text that begins with ! in quotes", true, ""},
	{"URI", "tags (!) are not used in a scenario: put text that begins with ! in quotes", true, ""},
	{"expected comment or line break", "nothing may follow | or > on its line: begin the text on the next line", true, ""},
	{"indentation indicator", "nothing may follow | or > on its line: begin the text on the next line", true, ""},
	{"directive", "lines that begin with % are not used in a scenario", false, ""},
	{"YAML document", "lines that begin with % are not used in a scenario", false, ""},
	{"version number", "lines that begin with % are not used in a scenario", false, ""},
	{"exceeded max depth", fmt.Sprintf("is nested deeper than %d levels", maxDepth), false, ""},
	{"mapping keys are not allowed", "a question mark cannot stand here: put the text in quotes", true, ""},
}

var (
	unknownAnchor = regexp.MustCompile(`unknown anchor '(.*)' referenced`)
	lineNumber    = regexp.MustCompile(`line ([0-9]+): `)
	noSpace       = regexp.MustCompile(`^\s*[A-Za-z_][A-Za-z0-9_]*:[^\s:/\\]`)
)

// spaceFault says what is wrong where noSpace matches.
func spaceFault(text string) string {
	_, rest, _ := strings.Cut(text, ":")
	if r, _ := utf8.DecodeRuneInString(rest); unicode.IsSpace(r) {
		return fmt.Sprintf("the space after the colon is none of the plain kind but U+%04X: type it again", r)
	}
	return "a space is missing after the colon"
}

// stop returns how many bytes of the source the reader took before it gave up. The reader itself names only the line
// where a construct began, at times one off. But it reads forward, so the shortest beginning of the file that draws the
// same message ends where it stopped.
func (d *decoder) stop() int {
	const before = "#\n" // the reader says nothing of constructs that begin in the first line
	marked := append([]byte(before), d.src...)
	_, msg := decodeYAML(marked)
	short, long := len(before), len(marked)
	if len(d.src) > 64<<10 { // no scenario is so long: the reader's line will do, as each try takes time
		if m := lineNumber.FindStringSubmatch(msg); m != nil {
			n, _ := strconv.Atoi(m[1])
			end := 0
			for range n {
				end += 1 + max(0, bytes.IndexByte(marked[end:], '\n'))
			}
			return max(1, min(end, len(marked))-1-len(before))
		}
		return len(d.src)
	}
	for long-short > 1 {
		mid := short + (long-short)/2
		for mid < long && !utf8.RuneStart(marked[mid]) {
			mid++
		}
		if mid == long {
			break // one long character is left
		}
		if _, m := decodeYAML(marked[:mid]); m == msg {
			long = mid
		} else {
			short = mid
		}
	}
	return long - len(before)
}

// syntax translates the reader's message and finds the place.
func (d *decoder) syntax(msg string) {
	long := d.stop()
	if m := unknownAnchor.FindStringSubmatch(msg); m != nil {
		long = bytes.LastIndex(d.src[:long], []byte("*"+m[1])) + 1 // the reader is a token further
	}
	if strings.Contains(msg, "YAML document") || strings.Contains(msg, "directive") {
		long = bytes.LastIndex(d.src[:long], []byte("%")) + 1
	}
	lines := splitLines(d.src[:long])
	at := max(len(lines), 1)
	text := ""
	if len(lines) > 0 {
		text = string(lines[at-1])
	}
	col := max(utf8.RuneCountInString(text), 1)
	begin := 1 + len(text) - len(strings.TrimLeft(text, " \t"))
	lines = splitLines(d.src)

	fault := "this is not YAML that can be read: check indentation, quotes and brackets"
	where, example := false, ""
	for _, f := range syntaxFaults {
		if strings.Contains(msg, f.theirs) {
			fault, where, example = f.ours, f.where, f.example
			break
		}
	}
	if !where {
		col = begin
	}
	tabbed := func(i int) bool { // line i, from 0, has a key or value behind a tab
		rest := bytes.TrimLeft(lines[i], " \t")
		return len(rest) > 0 && rest[0] != '#' && bytes.ContainsRune(lines[i][:len(lines[i])-len(rest)], '\t')
	}
	tabs := 0
	for _, i := range []int{at - 1, at - 2} {
		if tabs > 0 || i < 0 || i >= len(lines) || !tabbed(i) {
			continue
		}
		at, col = i+1, 1+bytes.IndexByte(lines[i], '\t')
		for j := range lines {
			if tabbed(j) {
				tabs++
			}
		}
	}
	if tabs > 0 {
		example = ""
	}
	switch {
	case tabs == 1:
		fault = "the line is indented with a tab: use spaces"
	case tabs > 1:
		fault = fmt.Sprintf("the line is indented with a tab, and so are others, %d in all: use spaces", tabs)
	default:
		for _, i := range []int{at - 1, at - 2} {
			if i >= 0 && i < len(lines) && noSpace.Match(lines[i]) {
				at, col = i+1, 1+utf8.RuneCount(lines[i][:bytes.IndexByte(lines[i], ':')])
				fault, example = spaceFault(string(lines[i])), "capacity_ah: 100"
				break
			}
		}
	}
	d.faultAt(at, col, "", fault, example)
}
