package station

import (
	"math"
	"strings"
	"testing"

	"tideover/sim/inverter"
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

func TestFullPlate(t *testing.T) {
	s := box()
	s.UsableWh, s.ExpansionPacks, s.ExpansionWh, s.OffW, s.MaxChargeTempC = 870.4, 2, 1000, 0.5, 40
	s.WakesOnSun, s.WokenAtMin, s.WhenBarred = false, 480, InputOff
	if f := s.Check(); f != nil {
		t.Fatal(f)
	}
	c, b, v := s.Expand()
	// By hand: 1024 + 2 x 1000 Wh. 870.4 of 1024 Wh are 0.85, so that loads are cut at 0.15 in place of 0.10, and come back
	// at 0.25 in place of 0.20. Off it draws 5.5 W less than awake.
	if got := b.NominalWh(); got != 3024 {
		t.Errorf("nominal %v Wh, want 3024", got)
	}
	for _, x := range [][2]float64{{b.DisconnectSOC, 0.15}, {b.ReconnectSOC, 0.25}, {v.OffLessW, 5.5}, {b.MaxChargeTempC, 40}, {float64(b.WokenAtMin), 480}} {
		if math.Abs(x[0]-x[1]) > 1e-12 {
			t.Errorf("got %v, want %v", x[0], x[1])
		}
	}
	if !c.InputOffWhenBarred {
		t.Error("the input stays on")
	}
	// A cut that its owner sets higher holds, and a box that wakes by itself waits for nobody.
	s.battery.DisconnectSOC, s.battery.ReconnectSOC, s.WakesOnSun, s.WhenBarred = 0.3, 0.4, true, CarryLoads
	c, b, _ = s.Expand()
	if b.DisconnectSOC != 0.3 || b.ReconnectSOC != 0.4 || b.WokenAtMin != 0 || c.InputOffWhenBarred {
		t.Errorf("%+v %+v", b, c)
	}
}

func TestWokenAt(t *testing.T) {
	for typed, want := range map[string]int{"08:00": 480, "00:00": 1440} {
		s := box()
		if err := s.setWoken([]string{typed}); err != nil || s.WokenAtMin != want {
			t.Errorf("%q: %v, %v", typed, s.WokenAtMin, err)
		}
	}
	for _, words := range [][]string{{"8"}, {"08:00", "09:00"}, nil} {
		if s := box(); s.setWoken(words) == nil {
			t.Errorf("%q is taken", words)
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
		{func(s *Station) { s.UsableWh = 1100 }, "usable_wh: 1100 is above energy_wh 1024"},
		{func(s *Station) { s.UsableWh = 40 }, "usable_wh: 40 is under a third of energy_wh 1024"},
		{func(s *Station) { s.ExpansionPacks = 2 }, "expansion_wh: is missing beside"},
		{func(s *Station) { s.ExpansionWh = 1024 }, "expansion_packs: is missing"},
		{func(s *Station) { s.OffW = 7 }, "off_w: 7 is above awake_w 6"},
		{func(s *Station) { s.WakesOnSun = false }, "woken_at: is missing"},
		{func(s *Station) { s.MaxChargeTempC, s.battery.MinChargeTempC = 30, 30 }, "max_charge_temp_c: 30 is not above min_charge_temp_c 30"},
		{func(s *Station) { s.WhenBarred = 2 }, "when_barred: is not one of carry_loads, input_off"},
		{func(s *Station) { s.inverter.SurgeW = 900 }, "surge_w: 900 is below what it carries for longer, 1000 W"},
		{func(s *Station) { s.inverter.RatedVA = 900 }, "rated_va: 900 is below output_w 1000"},
		{func(s *Station) { s.inverter.Mode = inverter.Search; s.inverter.WakesAtW, s.inverter.SearchW = 10, 17 }, "search_w: 17 is above outlets_on_w 16"},
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
