package sim_test

import (
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
)

// imports returns what each of our packages imports in its own files, tests left out.
func imports(t *testing.T) map[string][]string {
	cmd := exec.Command("go", "list", "-f", `{{.ImportPath}} {{join .Imports " "}}`, "./...")
	cmd.Dir = filepath.Join("..")
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("go list: %v", err)
	}
	all := map[string][]string{}
	for line := range strings.Lines(string(out)) {
		words := strings.Fields(line)
		all[strings.TrimPrefix(words[0], "tideover/")] = words[1:]
	}
	return all
}

func TestImportsRunOneWay(t *testing.T) {
	all := imports(t)
	low := []string{"sim/limit", "sim/clock"}
	may := map[string][]string{
		"sim/limit": nil, "sim/clock": {"sim/limit"}, "sim/ledger": nil,
		"loads": low, "sim/plane": low, "sim/array": low, "sim/controller": low, "sim/battery": low, "sim/inverter": low,
		"sim/wiring": low, "sim/station": {"sim/limit", "sim/clock", "sim/controller", "sim/battery", "sim/inverter"},
		"weather/sun": low, "weather": {"sim/limit", "weather/sun"},
	}
	only := map[string][]string{ // who may import a library
		"gopkg.in/yaml.v3": {"scenarios"}, "github.com/spf13/pflag": {"cmd/tideover"}, "gonum.org/v1/plot": {"plots"},
	}
	for pkg, list := range all {
		for _, path := range list {
			own, ours := strings.CutPrefix(path, "tideover/")
			if allowed, bound := may[pkg]; bound && ours && !slices.Contains(allowed, own) {
				t.Errorf("%s imports %s, and may import of ours only %v", pkg, own, allowed)
			}
			if strings.HasPrefix(pkg, "weather/") && ours && !strings.HasPrefix(own, "weather") && own != "sim/limit" && own != "sim/clock" {
				t.Errorf("%s imports %s: weather knows no box", pkg, own)
			}
			if pkg == "sim" && ours && slices.Contains([]string{"sim/study", "sim/precheck", "sim/report", "plots", "scenarios"}, own) {
				t.Errorf("sim imports %s, which stands above it", own)
			}
			for library, users := range only {
				if (path == library || strings.HasPrefix(path, library+"/")) && !slices.Contains(users, pkg) {
					t.Errorf("%s imports %s, which belongs to %v alone", pkg, path, users)
				}
			}
		}
	}
	for pkg := range may {
		if _, there := all[pkg]; !there {
			t.Errorf("%s is not there: take it off the list", pkg)
		}
	}
}
