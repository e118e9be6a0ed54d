package scenarios

import (
	"testing"

	"tideover/sim"
)

func TestShippedScenariosRun(t *testing.T) {
	files, err := Shipped.ReadDir(".")
	if err != nil || len(files) < 3 {
		t.Fatalf("%d shipped scenarios: %v", len(files), err)
	}
	for _, f := range files {
		src, err := Shipped.ReadFile(f.Name())
		if err != nil {
			t.Fatal(err)
		}
		file, err := Decode(f.Name(), src)
		if err != nil {
			t.Errorf("%s: %v", f.Name(), err)
			continue
		}
		y, err := file.Base.Weather(nil)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range append([]*Scenario{file.Base}, file.Variants...) {
			p, err := s.Place(y, false)
			if err != nil {
				t.Fatal(err)
			}
			r, err := sim.Prepare(p.System, y).Run(false)
			p.Tell(r)
			if err != nil {
				t.Errorf("%s, %s: %v", f.Name(), s.Variant, err)
				continue
			}
			if len(r.Warnings) > 0 {
				t.Errorf("%s, %s: warnings %q", f.Name(), s.Variant, r.Warnings)
			}
			t.Logf("%s %q: %+v %v idle %.0f unserved %.0f withheld %.0f curt %.0f barred %.0f", f.Name(), s.Variant, r.Answer, r.DaysByCause, r.Total[12], r.Total[22], r.Total[23], r.Total[5], r.Total[4])
		}
	}
}
