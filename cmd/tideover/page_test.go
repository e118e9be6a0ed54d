package main

import (
	"bytes"
	"strings"
	"testing"

	"tideover/scenarios"
)

// What is taken along to the shop is one sheet: 66 lines of 80 columns, for each shipped scenario and its variants.
func TestCheckIsOnePage(t *testing.T) {
	shipped, err := scenarios.Shipped.ReadDir(".")
	if err != nil {
		t.Fatal(err)
	}
	for _, file := range shipped {
		name := strings.TrimSuffix(file.Name(), ".yaml")
		src, err := scenarios.Shipped.ReadFile(file.Name())
		if err != nil {
			t.Fatal(err)
		}
		f, err := scenarios.Decode(name, src)
		if err != nil {
			t.Fatal(err)
		}
		calls := [][]string{{"check", name}}
		for _, v := range f.Variants {
			calls = append(calls, []string{"check", name, "--variant", v.Variant})
		}
		for _, args := range calls {
			var out, errs bytes.Buffer
			if status := run(args, &out, &errs); status != done && status != missed {
				t.Fatalf("%v: status %d: %s", args, status, errs.String())
			}
			lines := strings.Split(strings.TrimSuffix(out.String(), "\n"), "\n")
			if len(lines) > 66 {
				t.Errorf("%v: %d lines, more than a page of 66", args, len(lines))
			}
			for _, line := range lines {
				if len([]rune(line)) > 80 {
					t.Errorf("%v: %d columns: %s", args, len([]rune(line)), line)
				}
			}
			if s := out.String(); !strings.Contains(s, "\n- Fire: ") || !strings.Contains(s, "certifies nothing: local code and licensed people decide.") {
				t.Errorf("%v: the warnings are not on the page", args)
			}
		}
	}
}
