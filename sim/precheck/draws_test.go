package precheck

import (
	"math"
	"testing"
)

// Worked by hand: an inverter that idles at 10 W over six hours. In the first only a asks, half of the time; in the second
// only b, all of it; in the third both all of it, evenly; in the fourth a for a quarter, b for a half; in the fifth nobody;
// in the sixth it is off but for 0.4 of the hour, by the user's rule, in which a asks.
func TestForcedIdle(t *testing.T) {
	a, b := []float64{0.5, 0, 1, 0.25, 0, 0.4}, []float64{0, 1, 1, 0.5, 0, 0}
	for _, c := range []struct {
		name                 string
		idleW                []float64
		wantA, wantB, nobody float64
	}{
		{"always on, but by rule in the last hour", []float64{10, 10, 10, 10, 10, 4}, 5 + 5 + 2.5 + 4, 10 + 5 + 5, 5 + 2.5 + 10},
		{"on demand", []float64{5, 10, 10, 7.5, 0, 4}, 5 + 5 + 2.5 + 4, 10 + 5 + 5, 0},
		{"no idle draw", make([]float64, 6), 0, 0, 0},
	} {
		draws := make([]Draw, 3)
		nobody := force(draws, []acLoad{{0, a}, {2, b}}, c.idleW, 10, 1)
		for _, v := range []struct {
			who       string
			got, want float64
		}{{"a", draws[0].IdleWh, c.wantA}, {"b", draws[2].IdleWh, c.wantB}, {"a load on DC", draws[1].IdleWh, 0}, {"nobody", nobody, c.nobody}} {
			if math.Abs(v.got-v.want) > 1e-9 {
				t.Errorf("%s: %s forces %v Wh, want %v", c.name, v.who, v.got, v.want)
			}
		}
	}
}

func TestRank(t *testing.T) {
	got := rank([]Draw{{Name: "lamp", Bus: "dc"}, {Name: "box"}, {Name: "saw", Bus: "ac", Wh: 5, IdleWh: 1}, {Name: "board", Wh: 5.5}})
	want := []string{"saw", "board", "lamp"} // what stands and draws nothing is left out
	if len(got) != len(want) {
		t.Fatalf("ranked %+v, want %v", got, want)
	}
	for k, w := range want {
		if got[k].Name != w {
			t.Errorf("place %d holds %s, want %s", k, got[k].Name, w)
		}
	}
}
