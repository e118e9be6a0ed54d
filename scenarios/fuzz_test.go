package scenarios

import (
	"errors"
	"strings"
	"testing"
	"time"
	"unicode/utf8"
)

// inside checks that every error points into the file, comes in file order and names nothing of ours.
func inside(t *testing.T, src []byte, err error) {
	t.Helper()
	if err == nil {
		return
	}
	var es Errors
	if !errors.As(err, &es) || len(es) == 0 {
		t.Fatalf("%q: got %v (%T), want Errors", src, err, err)
	}
	// Counted apart from the code under test: a line ends at \n, \r\n or \r.
	text := strings.NewReplacer("\r\n", "\n", "\r", "\n").Replace(strings.TrimPrefix(string(src), "\ufeff"))
	lines := strings.Split(text, "\n")
	last := [2]int{}
	for _, e := range es {
		if e.Line < 1 || e.Line > len(lines) || e.Col < 1 || e.Col > utf8.RuneCountInString(lines[e.Line-1])+1 {
			t.Fatalf("%q: %v lies outside the file", src, e)
		}
		if e.Line < last[0] || e.Line == last[0] && e.Col < last[1] {
			t.Fatalf("%q: not in file order:\n%v", src, es)
		}
		last = [2]int{e.Line, e.Col}
		message := e.Error()
		if strings.ContainsFunc(message, func(r rune) bool { return r < ' ' || r == 0x7f }) || !utf8.ValidString(message) {
			t.Fatalf("%q: the message %q holds what cannot be printed", src, message)
		}
		if strings.Contains(e.Fault, "yaml:") || strings.Contains(e.Fault, "float64") || strings.Contains(e.Fault, "Node") && !strings.Contains(string(src), "Node") {
			t.Fatalf("%q: the message %q speaks of the code", src, message)
		}
		if r := e.Render(src); !strings.HasSuffix(r, "\n") {
			t.Fatalf("%q: %q does not end in a newline", src, r)
		}
	}
}

func FuzzParse(f *testing.F) {
	for _, b := range bad {
		f.Add([]byte(b.src))
	}
	f.Add([]byte("name: x\nbattery: {capacity_ah: 5, note: \"\\u00e9 \\\\ \\\"\", kind: gel}\nvariants: {a: {battery: {ratio: 3}}, b: {name: removed}}\n"))
	f.Fuzz(func(t *testing.T, src []byte) {
		got, err := decodeFake(src)
		inside(t, src, err)
		if err != nil {
			return
		}
		// What decodes survives a round trip.
		for name, s := range got {
			text := strings.TrimSuffix(retype(s)[1:], "}") + "\nbattery: " + retype(&s.Battery)
			again, err := decodeFake([]byte(text))
			if err != nil {
				t.Fatalf("%q, variant %q: its values, printed, are refused: %v\n%s", src, name, err, text)
			}
			a, b := s.Battery, again[""].Battery
			a.start, b.start = "", ""
			if a != b || s.Name != again[""].Name {
				t.Fatalf("%q, variant %q: got %+v, want %+v", src, name, b, a)
			}
		}
	})
}

// No file takes long, whatever it holds.
func TestHostileFilesTakeLittleTime(t *testing.T) {
	if testing.Short() {
		t.Skip("reads 256 KiB many times")
	}
	const size = maxBytes
	fill := func(s string) string { return strings.Repeat(s, size/len(s)) }
	bomb := "a: &a [x, x, x, x, x, x, x, x, x]\n"
	for c := 'b'; c <= 'z'; c++ {
		bomb += string(c) + ": &" + string(c) + " [" + strings.Repeat("*"+string(c-1)+", ", 8) + "*" + string(c-1) + "]\n"
	}
	var deep strings.Builder
	for i := 0; deep.Len() < size-2000; i++ {
		deep.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	base := "name: x\nbattery: {capacity_ah: 1}\n"
	for name, src := range map[string]string{
		"alias bomb":          bomb,
		"aliases":             "a: &a [1]\nb: [" + fill("*a,") + "]",
		"unknown aliases":     "a: [" + fill("*a,") + "]",
		"merge keys":          "a: {" + fill("<<: {},") + "}",
		"open brackets":       fill("["),
		"open braces":         fill("{"),
		"deep groups":         fill("a: {"),
		"deep indents":        deep.String(),
		"dashes":              fill("- "),
		"question marks":      fill("? "),
		"colons":              fill(": "),
		"comments":            fill("#\n"),
		"comments between":    "a:\n" + fill("- 1\n# x\n"),
		"blank lines":         fill("\n"),
		"old line ends":       fill("\r"),
		"documents":           fill("---\n"),
		"anchors":             fill("&a "),
		"tags":                fill("!!str "),
		"one long word":       "name: " + fill("x"),
		"one long key":        fill("x") + ": 1",
		"one long number":     base + "nominal_v: " + fill("1"),
		"one long quote":      `"` + fill(`\n`),
		"the same key":        fill("a: 1\n"),
		"unknown keys":        base + numbered("k%d: 1\n", size/12),
		"keys without values": fill("a:\n"),
		"keys in one line":    "a: {" + fill("b,") + "}",
		"loads":               base + "loads:\n" + numbered(" k%d: {power_w: 1}\n", size/24),
		"bad loads":           base + "loads:\n" + numbered(" k%d: {}\n", 99),
		"words":               base + "battery: {start_soc: [" + fill("full,") + "]}",
		"long list of words":  "name: x\nbattery: {capacity_ah: 1, start_soc: [" + fill("full,") + "]}",
		"variants":            base + "variants:\n" + numbered(" v%d: {name: y}\n", size/20),
		"removed":             base + "variants: {a: {loads: {" + numbered("k%d: removed,", size/18) + "}}}",
		"all removed":         base + "loads: {" + numbered("k%d: {},", size/24) + "}\nvariants: {a: {loads: {" + numbered("k%d: removed,", size/36) + "}}}",
		"big base, variants":  base + "loads: {a: {power_w: 1, hours: [" + strings.Repeat("x,", size/4) + "]}}\nvariants: {" + numbered("v%d: {name: y},", 100) + "}",
		"error at the end":    fill("a: 1\n") + "  b: 2\n",
		"bracket at the end":  "a: [" + fill("{b: 1},") + "}",
		"quote at the end":    fill("\"a\": 1\n") + "x: 'a",
		"error in 64 KiB":     strings.Repeat("a: 1\n", 13000) + "  b: 2\n",
		"quote in 64 KiB":     strings.Repeat("\"a\": 1\n", 9000) + "x: 'a",
		"binary":              fill("\x00"),
		"too large":           strings.Repeat("a: 1\n", maxBytes/5+1),
	} {
		start := time.Now()
		_, err := decodeFake([]byte(src))
		// The slowest needs some 0.3 s on a quiet core; the bound only has to tell linear from worse on a busy one.
		if took := time.Since(start); took > 15*time.Second {
			t.Errorf("%s: %d bytes took %v", name, len(src), took)
		} else if testing.Verbose() && took > 300*time.Millisecond {
			t.Logf("%s: %v", name, took)
		}
		if err == nil {
			t.Errorf("%s: got no error", name)
		}
		if len(src) < 200_000 {
			inside(t, []byte(src), err)
		}
	}
}
