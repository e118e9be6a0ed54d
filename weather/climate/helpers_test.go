package climate

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if !(math.Abs(got-want) <= tol) {
		t.Errorf("%s: got %.5f, want %.5f +- %g, off by %.5f", what, got, want, tol, got-want)
	}
}

func parse(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

func sharedCSV(t *testing.T, name ...string) [][]string {
	t.Helper()
	path := filepath.Join(append([]string{"..", "..", "..", "shared"}, name...)...)
	f, err := os.Open(path)
	if err != nil {
		t.Skipf("needs ../shared/%s: %v", filepath.Join(name...), err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

// sharedLines splits each line at its commas, for files whose rows differ in length.
func sharedLines(t *testing.T, name ...string) (rows [][]string) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(append([]string{"..", "..", "..", "shared"}, name...)...))
	if err != nil {
		t.Skipf("needs ../shared/%s: %v", filepath.Join(name...), err)
	}
	for line := range strings.Lines(string(data)) {
		rows = append(rows, strings.Split(strings.TrimSpace(line), ","))
	}
	return rows
}
