package quality_test

import (
	"strings"
	"testing"

	"tideover/weather/hourfile"
	"tideover/weather/quality"
)

// Whatever is read can be judged and shifted, and is still fit for use; each line is one line.
func FuzzJudge(f *testing.F) {
	const head = "# lat: 52.1\n# lon: 5.18\n# offset_h: 1\n"
	f.Add([]byte(head+"time,ghi_w_m2,dni_w_m2,dhi_w_m2,temp_c,wind_m_s\n2021-06-01 11:00,3,4,2000,60,1\n2021-06-01 12:00,800,500,100,-80,1\n"), 1.94)
	f.Add([]byte(head+"date,ghi_kwh_m2\n2021-06-01,5\n2021-06-02,5\n2021-06-03,5\n"), -0.5)
	f.Add([]byte(head+"time_utc,ghi_w_m2\n2021-06-01 00:01,900\n2021-06-01 00:02,900\n"), 0.01)
	f.Fuzz(func(t *testing.T, data []byte, hours float64) {
		y, err := hourfile.Read("f", strings.NewReader(string(data)))
		if err != nil || y.Len() > 20000 {
			return
		}
		for _, l := range quality.Lines(quality.Judge(y)) {
			if l == "" || strings.Contains(l, "NaN") || strings.Contains(l, "\n") {
				t.Fatalf("line %q", l)
			}
		}
		z, err := quality.ShiftClock(y, hours)
		if err != nil {
			return
		}
		if z.Len() != y.Len() {
			t.Fatalf("%d steps become %d", y.Len(), z.Len())
		}
		if err := z.Check(); err != nil {
			t.Fatal(err)
		}
	})
}
