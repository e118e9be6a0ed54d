package precheck

import (
	"math"
	"testing"
)

func share(v float64) func(float64) float64 { return func(float64) float64 { return v } }

// The steps against what is worked out elsewhere, each with its own losses.
func TestUsableHandbooks(t *testing.T) {
	for _, c := range []struct {
		name        string
		cells       Cells
		wantWh, tol float64
	}{
		// practitioner.md D1 (c): 1,280 Wh lithium, a 90 % window and an 88 % inverter: 1,010 at the socket, printed to 10.
		{"lithium", Cells{NominalWh: 1280, CutSOC: 0.1, ColdSOC: 0.1, AgeShare: 1, Rate: share(1), LoadW: 88, InverterW: 12}, 1010, 0.005},
		// The same: 100 Ah lead, 1,200 printed, half of it 600, about 410 at freezing and moderate rate, about 330 aged. Cold
		// and rate stand here as one rate, 410/600; an age of 0.8.
		{"lead", Cells{NominalWh: 1200, CutSOC: 0.5, ColdSOC: 0.5, AgeShare: 0.8, Rate: share(410.0 / 600), LoadW: 1}, 330, 0.01},
		// worked-examples.md 1.1: 629.9 Ah at 24 V, depth 0.8, temperature 0.9 gives 4 x 113.4 Ah.
		{"worksheet of SAND87-7023", Cells{NominalWh: 629.9 * 24, CutSOC: 0.2, ColdSOC: 1 - 0.8*0.9, AgeShare: 1, Rate: share(1), LoadW: 1}, 4 * 113.4 * 24, 0.001},
		// 2.2: 846 Ah x 0.60 x 0.90 = 457 Ah; behind an 85 % inverter that is 3.1 days of 3,000 Wh.
		{"Masters, Boulder", Cells{NominalWh: 846 * 24, CutSOC: 0.4, ColdSOC: 1 - 0.6*0.9, AgeShare: 1, Rate: share(1), LoadW: 85, InverterW: 15}, 3.1 * 3000, 0.016},
	} {
		u := c.cells.Usable()
		if !close(u.SocketWh(), c.wantWh, c.tol) {
			t.Errorf("%s: %.1f Wh at the socket, want %v within %v; steps %v", c.name, u.SocketWh(), c.wantWh, c.tol, u.LossWh)
		}
	}
}

// Worked by hand. 2,000 Wh; 10 % under the cut-off, cut at 25 % in the cold: 200 and 300 go, 1,500 are left; a fifth for
// age, 300; 1 % for the rate, 12. Loads of 12 W behind an inverter that idles at 9 W, is on all day and loses 1 W, and a
// standby of 2 W: the loads get half of the 1,188, the inverter 10/24, the standby 2/24.
func TestUsableSteps(t *testing.T) {
	drawn := 0.0
	c := Cells{NominalWh: 2000, CutSOC: 0.1, ColdSOC: 0.25, ColdC: -10, AgeShare: 0.8, LoadW: 12, InverterW: 10, StandbyW: 2,
		Rate: func(w float64) float64 { drawn = w; return 0.99 }}
	u := c.Usable()
	want := [NLosses]float64{200, 300, 300, 12, 495, 99}
	left := 2000.0
	for l, w := range want {
		left -= w
		if math.Abs(u.LossWh[l]-w) > 1e-9 || math.Abs(u.LeftWh[l]-left) > 1e-9 {
			t.Errorf("%v takes %v and leaves %v, want %v and %v", Loss(l), u.LossWh[l], u.LeftWh[l], w, left)
		}
	}
	if drawn != 24 || math.Abs(u.SocketWh()-594) > 1e-9 {
		t.Errorf("rate asked at %v W, want 24; %v Wh at the socket, want 594", drawn, u.SocketWh())
	}
	// The same inverter with nothing behind it takes what there is, but for the standby.
	c.LoadW = 0
	if u := c.Usable(); math.Abs(u.SocketWh()) > 1e-9 || math.Abs(u.LossWh[ByInverter]-1188*10/12) > 1e-9 {
		t.Errorf("without loads %v Wh reach the socket, want 0; steps %v", u.SocketWh(), u.LossWh)
	}
	c.InverterW, c.StandbyW = 0, 0
	if u := c.Usable(); u.SocketWh() != 1188 {
		t.Errorf("with nothing that draws %v Wh, want 1188", u.SocketWh())
	}
}
