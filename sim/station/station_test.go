package station

import (
	"strings"
	"testing"
)

func box() Station {
	s := Default()
	s.EnergyWh, s.MaxInputW, s.MinInputV, s.MaxInputV, s.OutputW, s.AwakeW, s.OutletsOnW = 1024, 300, 12, 55, 1000, 6, 16
	return s
}

func TestPlateIsKept(t *testing.T) {
	s := box()
	c, b, v := s.Expand()
	// By definition of each plate entry; 22 W with outlets on and 6 W off is what a reader metered on one such box.
	if got := b.NominalWh(); got != 1024 {
		t.Errorf("nominal %v Wh, want 1024", got)
	}
	if c.OwnDrawW != 6 || v.IdleW != 16 || b.BoardDrawW != 0 {
		t.Errorf("draws: %v W awake, %v W outlets, %v W board", c.OwnDrawW, v.IdleW, b.BoardDrawW)
	}
	if v.RatedW != 1000 || c.MaxInputW != 300 || c.MaxInputV != 55 {
		t.Errorf("ratings: %+v %+v", c, v)
	}
	if o := c.Offer(400, 18, 22, 28.4, false); o.ReadyW != 300 { // below the cells' voltage: the box steps up
		t.Errorf("a 400 W array gives %+v, want 300 W", o)
	}
	if o := c.Offer(400, 11, 22, 28.4, false); o.NotStartedW != 400 {
		t.Errorf("under the window: %+v", o)
	}
	for _, f := range [][]string{faults(c.Check()), faults(b.Check()), faults(v.Check())} {
		if f != nil {
			t.Errorf("expanded box refused: %v", f)
		}
	}
}

func faults[T error](list []T) (s []string) {
	for _, f := range list {
		s = append(s, f.Error())
	}
	return s
}

func TestCheckSpeaksOfThePlate(t *testing.T) {
	for _, c := range []struct {
		edit func(*Station)
		want string
	}{
		{func(s *Station) { s.EnergyWh = 0 }, "energy_wh: 0 is not between 20 and 100000"},
		{func(s *Station) { s.MinInputV = 60 }, "min_input_v: 60 is not below max_input_v 55"},
		{func(s *Station) { s.OutletsOnW = 160 }, "outlets_on_w: 160 is over a tenth of output_w 1000"},
		{func(s *Station) { s.battery.ReconnectSOC = 0.05 }, "reconnect_soc: 0.05 is not at least 0.01 above"},
	} {
		s := box()
		c.edit(&s)
		if f := s.Check(); len(f) != 1 || !strings.HasPrefix(f[0].Error(), c.want) {
			t.Errorf("got %v, want %q", f, c.want)
		}
	}
	seen := map[string]bool{}
	s := box()
	for _, k := range s.Keys() {
		if seen[k.Name] {
			t.Errorf("key %s twice", k.Name)
		}
		seen[k.Name] = true
	}
}
