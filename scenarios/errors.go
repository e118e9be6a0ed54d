package scenarios

import (
	"bytes"
	"cmp"
	"fmt"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"gopkg.in/yaml.v3"
)

// Error is one thing wrong with a scenario file. Line and Col count from 1; Col counts characters, not bytes.
type Error struct {
	File      string
	Line, Col int
	Field     string // the path of keys as typed: battery.capacity_ah; "" for the file as a whole
	Fault     string // what is wrong and what is allowed
	Example   string // a line that would be right, or ""
}

// Error puts all of it on one line: "cabin.yaml:14:16: battery.capacity_ah: -5 is not above 0; example: capacity_ah: 200".
func (e *Error) Error() string {
	s := fmt.Sprintf("%s:%d:%d: ", e.File, e.Line, e.Col)
	if e.Field != "" {
		s += e.Field + ": "
	}
	s += e.Fault
	if e.Example != "" {
		s += "; example: " + e.Example
	}
	return s
}

// Pos returns where the fault is.
func (e *Error) Pos() (file string, line, col int) { return e.File, e.Line, e.Col }

// Errors are the faults of one file, in file order.
type Errors []*Error

// Error puts each fault on a line of its own.
func (es Errors) Error() string {
	lines := make([]string, len(es))
	for i, e := range es {
		lines[i] = e.Error()
	}
	return strings.Join(lines, "\n")
}

// Caret returns the line of src and a caret below the column, as two indented lines that end in a newline. A long line
// is cut around the caret. It returns "" where src has no such line, or where the line is empty.
func Caret(src []byte, line, col int) string {
	lines := splitLines(src)
	if line < 1 || line > len(lines) || len(lines[line-1]) == 0 {
		return ""
	}
	// Only what is shown is looked at: a file may be one long line with many faults.
	const width, before = 100, 60
	whole, cut := lines[line-1], ""
	long := utf8.RuneCount(whole)
	col = min(max(col, 1), long+1)
	if first := col - 1 - before; long > width && first > 0 {
		for range first {
			_, n := utf8.DecodeRune(whole)
			whole = whole[n:]
		}
		col, cut = col-first+1, "…"
	}
	text := []rune{}
	for len(whole) > 0 && len(text) < width {
		r, n := utf8.DecodeRune(whole)
		whole = whole[n:]
		switch {
		case r == '\t':
			r = ' ' // one column in the tree, so one here
		case !unicode.IsPrint(r):
			r = '?' // a terminal must not obey what a file says
		}
		text = append(text, r)
	}
	if len(whole) > 0 {
		text = append(text, '…')
	}
	number := fmt.Sprintf("%6d | ", line)
	return number + strings.TrimRight(cut+string(text), " ") + "\n" +
		strings.Repeat(" ", len(number)-2) + "| " + strings.Repeat(" ", col-1) + "^\n"
}

// Render returns the error, the source line and a caret below the fault, and ends in a newline.
func (e *Error) Render(src []byte) string { return e.Error() + "\n" + Caret(src, e.Line, e.Col) }

var byteOrderMark = []byte("\ufeff")

// splitLines cuts src where the YAML reader does: at \n, \r\n and a lone \r.
func splitLines(src []byte) [][]byte {
	src = bytes.TrimPrefix(src, byteOrderMark)
	var lines [][]byte
	for len(src) > 0 {
		end := bytes.IndexAny(src, "\r\n")
		if end < 0 {
			return append(lines, src)
		}
		lines = append(lines, src[:end])
		if src[end] == '\r' && end+1 < len(src) && src[end+1] == '\n' {
			end++
		}
		src = src[end+1:]
	}
	return lines
}

const (
	maxShown = 100  // faults told; the rest are counted
	maxKept  = 1000 // faults gathered; a file that holds more is not a scenario
)

// decoder gathers the faults of one file.
type decoder struct {
	file  string
	src   []byte // without a byte order mark
	width []int  // of each line, in characters
	found []finding
	more  int // faults beyond maxKept

	examples map[box]map[string]string // of the keys of each box

	read      func(name string) ([]byte, error) // a file beside the scenario; nil: there are none
	profiles  map[string]profiled               // by the name typed
	baseLoads []string                          // names of the loads of the base

	variant string          // that is read now
	root    child           // the layout of a scenario: where else a key may belong
	typed   map[string]bool // sections at the top of the file
}

type finding struct {
	Error
	section bool // stands at the section for want of a key, so laying a variant over it moves it
}

func newDecoder(file string, src []byte) *decoder {
	src = bytes.TrimPrefix(src, byteOrderMark)
	return &decoder{file: file, src: src}
}

// fault notes what is wrong at a node.
func (d *decoder) fault(at *yaml.Node, field, fault, example string) {
	d.faultAt(at.Line, at.Column, field, fault, example)
}

func (d *decoder) faultAt(line, col int, field, fault, example string) {
	if len(d.found) >= maxKept {
		d.more++
		return
	}
	if d.width == nil {
		d.width = []int{}
		for _, l := range splitLines(d.src) {
			d.width = append(d.width, utf8.RuneCount(l))
		}
	}
	// The reader may place an empty value behind the last line.
	if len(d.width) == 0 {
		line, col = 1, 1
	} else {
		line = min(max(line, 1), len(d.width))
		col = min(max(col, 1), d.width[line-1]+1)
	}
	d.found = append(d.found, finding{Error: Error{File: d.file, Line: line, Col: col, Field: field, Fault: fault, Example: example}})
}

// err returns the faults as Errors in file order, or nil.
func (d *decoder) err() error {
	if len(d.found) == 0 {
		return nil
	}
	found := slices.Clone(d.found)
	slices.SortStableFunc(found, func(a, b finding) int {
		return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(a.Col, b.Col))
	})
	var es Errors
	for i, f := range found {
		if left := len(found) - i + d.more; i == maxShown {
			es = append(es, &Error{File: f.File, Line: f.Line, Col: f.Col, Fault: fmt.Sprintf("%d more faults from here on", left)})
			break
		}
		es = append(es, &f.Error)
	}
	return es
}

// show quotes text that a file holds, cut short, so that it can stand in a message.
func show(s string) string { return fmt.Sprintf("%q", brief(s)) }

// brief cuts text that is too long for a message.
func brief(s string) string {
	const most = 40
	if len(s) <= most {
		return s
	}
	n := 0
	for i := range s {
		if n++; n > most {
			return s[:i] + "…"
		}
	}
	return s
}

// label writes a key for a path: as typed if it is words of letters, digits, space, _ and -, else quoted.
func label(key string) string {
	plain := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) || strings.ContainsRune(" _-", r) }
	if key == "" || len(key) > 40 || strings.TrimSpace(key) != key || strings.ContainsFunc(key, func(r rune) bool { return !plain(r) }) {
		return show(key)
	}
	return key
}

func join(path, key string) string {
	if path == "" {
		return label(key)
	}
	return path + "." + label(key)
}

// line writes an example as a person would type it.
func line(key, value string) string {
	if value == "" {
		return ""
	}
	return key + ": " + value
}
