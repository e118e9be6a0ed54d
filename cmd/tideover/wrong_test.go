package main

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// Every wrong scenario is refused by run and by compare: status 2, all its faults on stderr in file order, nothing on stdout
// and nothing on disk.
func TestWrongScenariosLeaveNothing(t *testing.T) {
	paths, err := filepath.Glob(filepath.Join("..", "..", "testdata", "scenarios", "*.yaml"))
	if err != nil || len(paths) < 120 {
		t.Fatalf("%d wrong scenarios: %v", len(paths), err)
	}
	for _, path := range paths {
		want, err := os.ReadFile(strings.TrimSuffix(path, ".yaml") + ".want")
		if err != nil {
			t.Fatal(err)
		}
		dir := t.TempDir()
		for _, args := range [][]string{{"run", path, "--out", filepath.Join(dir, "design")}, {"run", path, "--json"}, {"compare", path}} {
			var stdout, stderr bytes.Buffer
			if status := run(args, &stdout, &stderr); status != wrongInput {
				t.Errorf("%q: status %d, want %d\n%s", args, status, wrongInput, stderr.String())
			}
			if stdout.Len() > 0 {
				t.Errorf("%q prints %q", args, stdout.String())
			}
			rest := stderr.String()
			for _, line := range strings.Split(strings.TrimSpace(string(want)), "\n") {
				_, after, found := strings.Cut(rest, line+"\n")
				if !found {
					t.Errorf("%q: stderr lacks, or has out of order: %s", args, line)
					break
				}
				rest = after
			}
		}
		if left, err := os.ReadDir(dir); err != nil || len(left) > 0 {
			t.Errorf("%s leaves %v: %v", path, left, err)
		}
	}
}
