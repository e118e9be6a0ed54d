package scenarios

import (
	"errors"
	goflag "flag"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"
)

var update = goflag.Bool("update", false, "rewrite what is generated: read the difference before you commit it")

var wrongDir = filepath.Join("..", "testdata", "scenarios")

// wrongFiles returns the wrong scenarios by name: those of the folder, and those too large to keep there.
func wrongFiles(t testing.TB) map[string][]byte {
	t.Helper()
	paths, err := filepath.Glob(filepath.Join(wrongDir, "*.yaml"))
	if err != nil || len(paths) < 120 {
		t.Fatalf("%d wrong scenarios, want at least 120: %v", len(paths), err)
	}
	files := map[string][]byte{}
	for _, path := range paths {
		src, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		files[strings.TrimSuffix(filepath.Base(path), ".yaml")] = src
	}
	fill := func(size int, s string) string { return strings.Repeat(s, size/len(s)) }
	for name, src := range map[string]string{
		"huge-keys":            "name: shed\n" + numbered("key%d: 1\n", 100_000),
		"huge-comment":         fill(2<<20, "# nothing\n"),
		"huge-one-line":        "name: " + fill(100<<20, "x"),
		"huge-zeros":           fill(8<<20, "\x00"),
		"large-brackets":       "a: " + fill(maxBytes-10, "["),
		"large-list":           "loads: [" + fill(maxBytes-20, "a,") + "]\n",
		"large-keys":           "loads: {" + fill(maxBytes-20, "b,") + "}\n",
		"large-unknown-keys":   numbered("k%d: 1\n", maxBytes/12),
		"large-number":         "seed: " + fill(maxBytes-20, "9") + "\n",
		"large-open-quote":     fill(maxBytes-20, "\"a\": 1\n") + "x: 'a",
		"large-deep":           deepBlocks(maxBytes - 10),
		"large-loads-variants": loadsAndVariants(),
	} {
		files[name] = []byte(src)
	}
	return files
}

func deepBlocks(size int) string {
	var b strings.Builder
	for i := 0; b.Len()+i+3 < size; i++ {
		b.WriteString(strings.Repeat(" ", i) + "a:\n")
	}
	return b.String()
}

// loadsAndVariants is as many loads under as many variants as are allowed, each with a fault that is its own.
func loadsAndVariants() string {
	var b strings.Builder
	b.WriteString("name: shed\nsite: {}\narray: {}\nloads:\n")
	b.WriteString(numbered("  load %d: {kind: timetable, power_w: 5, hours: 17:00 to 21:00}\n", maxEntries))
	b.WriteString("variants:\n" + numbered("  v%d: {loads: {load 1: {power_w: -1}}}\n", maxEntries))
	return b.String()
}

// What is expected of each file was read for sense before it was kept.
func TestWrongScenarios(t *testing.T) {
	for name, src := range wrongFiles(t) {
		t.Run(name, func(t *testing.T) {
			var err error
			var before, after runtime.MemStats
			took := time.Hour
			for try := 0; try < 3 && took > time.Second; try++ { // others may be at work on the machine
				runtime.ReadMemStats(&before)
				start := time.Now()
				_, err = Decode(name+".yaml", src)
				took = time.Since(start)
				runtime.ReadMemStats(&after)
			}
			var es Errors
			if !errors.As(err, &es) {
				t.Fatalf("got %v, want Errors", err)
			}
			// All that is ever allocated is more than what is held at once.
			if mb := (after.TotalAlloc - before.TotalAlloc) >> 20; took > time.Second || mb > 200 {
				t.Errorf("took %v and %d MB, want a second and 200 MB at the most", took, mb)
			}
			if len(src) < 200_000 {
				inside(t, src, err)
			}
			path := filepath.Join(wrongDir, name+".want")
			got := es.Error() + "\n"
			if *update {
				if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
					t.Fatal(err)
				}
				return
			}
			want, err := os.ReadFile(path)
			if err != nil {
				t.Fatal(err)
			}
			if got != string(want) {
				t.Errorf("got:\n%s\nwant:\n%s", got, want)
			}
		})
	}
}

// An expectation without its file is a leftover.
func TestWrongScenariosHaveFiles(t *testing.T) {
	files := wrongFiles(t)
	wants, err := filepath.Glob(filepath.Join(wrongDir, "*.want"))
	if err != nil || len(wants) != len(files) {
		t.Errorf("%d .want files for %d scenarios: %v", len(wants), len(files), err)
	}
	for _, path := range wants {
		if name := strings.TrimSuffix(filepath.Base(path), ".want"); files[name] == nil {
			t.Errorf("%s.want belongs to no scenario", name)
		}
	}
}
