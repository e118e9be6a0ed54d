package main

import (
	"bytes"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// The commands that the README shows run, and its example is what they print.
func TestReadme(t *testing.T) {
	t.Chdir(filepath.Join("..", ".."))
	src, err := os.ReadFile("README.md")
	if err != nil {
		t.Fatal(err)
	}
	text := string(src)
	first, _, _ := strings.Cut(strings.TrimPrefix(text, "# tideover\n\n"), "\n\n")
	if !strings.Contains(first, "will the\nbattery tide this building over?") {
		t.Errorf("the first paragraph does not state the job:\n%s", first)
	}
	for _, want := range []string{"```sh\ngo run ./cmd/tideover run scenarios/trail-store.yaml\n```", "```sh\ngo test ./...\n```"} {
		if !strings.Contains(text, want) {
			t.Errorf("the README lacks the command %q", want)
		}
	}
	weather := filepath.Join("..", "shared", "weather", "can-ottawa.epw")
	for _, m := range regexp.MustCompile("(?m)^go run ./cmd/tideover (.*)$").FindAllStringSubmatch(text, -1) {
		args := strings.Fields(m[1])
		for i, a := range args {
			switch a {
			case "FILE.epw":
				if _, err := os.Stat(weather); err != nil {
					t.Skipf("needs ../shared/weather beside the repository: %v", err)
				}
				args[i] = weather
			case "design":
				args[i] = filepath.Join(t.TempDir(), a)
			}
		}
		var stdout, stderr bytes.Buffer
		if status := run(args, &stdout, &stderr); status != 0 {
			t.Errorf("%s: exit status %d\n%s", m[0], status, stderr.String())
		}
		if len(args) == 2 && !strings.Contains(text, "```\n"+stdout.String()+"```") && args[0] == "run" {
			t.Errorf("the README shows another output for %s than\n%s", m[0], stdout.String())
		}
	}
	// The scenario to start from runs as it stands.
	_, own, found := strings.Cut(text, "```yaml\n")
	own, _, _ = strings.Cut(own, "```")
	if !found {
		t.Fatal("the README shows no scenario")
	}
	file := filepath.Join(t.TempDir(), "own.yaml")
	if err := os.WriteFile(file, []byte(own), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, verb := range []string{"run", "compare"} {
		var stdout, stderr bytes.Buffer
		if status := run([]string{verb, file}, &stdout, &stderr); status != 0 || strings.Contains(stdout.String(), "\n! ") {
			t.Errorf("%s of the README's scenario: exit status %d\n%s%s", verb, status, stdout.String(), stderr.String())
		}
	}
}

// trail-store runs on the six clean real files without a warning.
func TestCleanWeatherFiles(t *testing.T) {
	dir := filepath.Join("..", "..", "..", "shared", "weather")
	for _, name := range []string{"can-ottawa.epw", "nzl-invercargill.epw", "nic-managua.epw", "usa-co-leadville.epw",
		"usa-ak-juneau.tmy3.csv", "usa-ca-needles.tmy3.csv"} {
		file := filepath.Join(dir, name)
		if _, err := os.Stat(file); err != nil {
			t.Skipf("needs ../shared/weather beside the repository: %v", err)
		}
		var stdout, stderr bytes.Buffer
		if status := run([]string{"run", "trail-store", "--weather", file}, &stdout, &stderr); status != 0 {
			t.Errorf("%s: exit status %d\n%s", name, status, stderr.String())
		}
		if strings.Contains(stdout.String(), "\n! ") || stderr.Len() > 0 {
			t.Errorf("%s: a warning in\n%s%s", name, stdout.String(), stderr.String())
		}
	}
}
