package report

import (
	"bytes"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"tideover/sim/ledger"
	"tideover/sim/precheck"
	"tideover/sim/report/invented"
)

// besideHut is invented, but for the sums within it.
func besideHut(w precheck.Window) *precheck.Beside {
	asked := precheck.Asked{Wh: [3]float64{336, 396, 1210}, Packs: true}
	b := &precheck.Beside{SocketDays: 1.4, WornSocketWh: 400}
	b.Hand = precheck.CommonRule().Hand(420, 1280, 0.9, asked).Against(w)
	b.Usable = precheck.Cells{NominalWh: 1280, CutSOC: 0.1, ColdSOC: 0.22, ColdC: -6.4, AgeShare: 1, LoadW: 17, InverterW: 9, StandbyW: 1.5,
		Rate: func(float64) float64 { return 1 }}.Usable()
	b.Draws = []precheck.Draw{
		{Name: "fire alarm and radio", Bus: "ac", Wh: 336, StandbyWh: 20, IdleWh: 192}, {Name: precheck.NoLoadAsks, Wh: 40},
		{Name: strings.Repeat("電池充電器", 20), Bus: "dc", Wh: 30}, {Name: "a\tb\x1b[31m", Bus: "dc", Wh: 29},
		{Name: "lamp", Bus: "dc", Wh: 28}, {Name: "box awake", Wh: 20}, {Name: "clock", Bus: "dc", Wh: 1}, {Name: "bell", Bus: "ac", Wh: 1, IdleWh: 2},
	}
	return b
}

// windows are a month, a spell with every term, and a whole run.
func windows() map[string]precheck.Window {
	from := time.Date(2025, 12, 3, 0, 0, 0, 0, invented.Zone())
	month := precheck.Window{Days: 31, Month: 11, From: from, To: from.AddDate(0, 1, 0), SunHours: 1.6, MonthSunHours: 1.6, HarvestWh: 510,
		AskedWh: 400, IdleWh: 192, StandbyWh: 36, LossWh: 31}
	spell := month
	spell.Spell, spell.Days, spell.To, spell.SunHours, spell.HarvestWh = true, 9, from.AddDate(0, 0, 9), 0.7, 190
	spell.BarredWh, spell.ClippedWh, spell.CurtailedWh, spell.TakenWh = 40, 12, 8, 101
	whole := month
	whole.Month = -1
	low := spell
	low.TakenWh = -30
	return map[string]precheck.Window{"month": month, "spell": spell, "whole": whole, "low": low}
}

func TestHandGolden(t *testing.T) {
	h := header()
	h.Hand = true
	for name, w := range windows() {
		h.Beside = besideHut(w)
		got := text(t, h, invented.Hut().Run())
		atMost80(t, name, got)
		_, part, _ := strings.Cut(string(got), "Controller: its loss.\n\n")
		if name == "month" || name == "spell" {
			golden(t, "hand-"+name+".txt", []byte(part))
		}
	}
}

// A battery that is counted with what age has left of it is not called new, nor told of an end of life that is behind it.
func TestUsableTellsAge(t *testing.T) {
	for _, c := range []struct {
		share       float64
		row, ending string
	}{
		{1, "age: counted as new ", "at 80 % of its capacity, the usual end of life, the battery gives 400 Wh."},
		{0.9, "age: counted at 90 % of the nameplate's capacity", "at 80 % of its capacity, the usual end of life, the battery gives 400 Wh."},
		{0.8, "age: counted at 80 % of", "at 80 % of its capacity the battery is at the usual end of life or past it, 80 %."},
		{0.5, "age: counted at 50 % of", "at 50 % of its capacity the battery is at the usual end of life or past it, 80 %."},
	} {
		x := besideHut(windows()["month"])
		cells := x.Usable.Cells
		cells.AgeShare = c.share
		x.Usable = cells.Usable()
		var b strings.Builder
		usable(&b, x)
		if got := strings.Join(strings.Fields(b.String()), " "); !strings.Contains(got, c.row) || !strings.Contains(got, c.ending) {
			t.Errorf("at a share of %v, want %q and %q:\n%s", c.share, c.row, c.ending, got)
		}
	}
}

// Without the flag the text shows the ranking alone.
func TestHandIsAskedFor(t *testing.T) {
	h := header()
	h.Beside = besideHut(windows()["month"])
	got := string(text(t, h, invented.Hut().Run()))
	if strings.Contains(got, "hand sum") || !strings.Contains(got, "336 + 192 of inverter idle") || !strings.Contains(got, "and 3 more") {
		t.Errorf("the plain text should hold the ranking and no hand sum:\n%s", got)
	}
}

// Each term can be the one assumption, and each pair of answers has its own words.
func TestAssumption(t *testing.T) {
	r := invented.Hut().Run()
	fine := invented.Hut()
	fine.ArrayW, fine.CapacityWh = 9000, 90000
	carries := fine.Run()
	if carries.Answer.DaysWithoutPower > 0 {
		t.Fatal("the large hut should carry")
	}
	w := windows()["spell"]
	seen := map[string]bool{}
	for term := range precheck.NTerms {
		for _, run := range []*ledger.Run{r, carries} {
			for _, hand := range []float64{100, -100} {
				a := besideHut(w).Hand
				a.Named, a.HandLeftWh, a.GapWh = []precheck.Term{term, (term + 1) % precheck.NTerms}, hand, [precheck.NTerms]float64{}
				a.GapWh[term] = -60
				s := assumption(&a, run)
				if s == "" || strings.Contains(s, "%!") || seen[s] {
					t.Errorf("%v, hand sum %v: %q is empty, broken or said before", term, hand, s)
				}
				seen[s] = true
			}
		}
	}
	for _, c := range []struct {
		gap  float64
		want string
	}{{-60, "leaves +40 Wh a day and still says yes"}, {-160, "leaves -60 Wh a day and says no as well"}} {
		a := besideHut(w).Hand
		a.Named, a.HandLeftWh, a.GapWh = []precheck.Term{precheck.GapLoads}, 100, [precheck.NTerms]float64{precheck.GapLoads: c.gap}
		if s := assumption(&a, r); !strings.Contains(s, c.want) {
			t.Errorf("100 Wh a day and %v: %q, want %q", c.gap, s, c.want)
		}
	}
	trips := *r
	trips.DaysByCause = [ledger.NCauses]int{ledger.Overload: trips.Answer.DaysWithoutPower}
	a := besideHut(w).Hand
	if s := assumption(&a, &trips); !strings.Contains(s, "that Wh are enough") {
		t.Errorf("where the inverter trips: %q", s)
	}
	a.Named = nil
	if s := assumption(&a, r); s != "Hand sum and run do not differ." {
		t.Errorf("without a difference: %q", s)
	}
}

func TestBesideJSON(t *testing.T) {
	h := header()
	for name, w := range windows() {
		h.Beside = besideHut(w)
		h.Beside.SocketDays = math.Inf(1)
		var b bytes.Buffer
		if err := JSON(&b, h, invented.Hut().Run()); err != nil {
			t.Fatal(err)
		}
		var got struct {
			HandSum struct {
				UsableWh float64 `json:"usable_wh"`
				Days     []struct {
					Day        string
					AverageSun map[string]float64 `json:"average_sun"`
				}
				Against struct {
					HandLeft float64            `json:"hand_left_wh_day"`
					RunLeft  float64            `json:"run_left_wh_day"`
					Gaps     map[string]float64 `json:"gaps_wh_day"`
				}
			} `json:"hand_sum"`
			Usable struct {
				Steps []struct {
					Loss string
					Left float64 `json:"left_wh"`
				}
				Socket float64 `json:"socket_wh"`
			} `json:"usable_capacity"`
			Draws []struct{ Name string }
		}
		if err := json.Unmarshal(b.Bytes(), &got); err != nil {
			t.Fatal(err)
		}
		left := got.HandSum.Against.HandLeft
		for _, g := range got.HandSum.Against.Gaps {
			left += g
		}
		if math.Abs(left-got.HandSum.Against.RunLeft) > 1e-4 { // a dozen numbers rounded to 1e-6
			t.Errorf("%s: the printed steps lead to %v, not %v", name, left, got.HandSum.Against.RunLeft)
		}
		if len(got.HandSum.Days) != 3 || len(got.Usable.Steps) != int(precheck.NLosses) || len(got.Draws) != 8 ||
			got.Usable.Steps[5].Left != got.Usable.Socket || got.HandSum.UsableWh != 1152 {
			t.Errorf("%s: %+v lacks something", name, got)
		}
		if _, there := got.HandSum.Days[0].AverageSun["days_carried"]; there {
			t.Errorf("%s: days are told where the sun is enough", name)
		}
	}
}

// What a charger beside the sun gave is a step of its own, and named where it carries the run.
func TestHandTellsTheBackup(t *testing.T) {
	w := windows()["month"]
	w.BackupWh = 400 // of 510 - 400 - 192 - 36 - 31 = -149
	h := header()
	h.Hand, h.Beside = true, besideHut(w)
	r := invented.Hut().Run()
	r.Answer.DaysWithoutPower, r.Backup = 0, &ledger.Charged{Hours: 31, FuelL: 12}
	clear(r.DaysByCause[:])
	s := strings.Join(strings.Fields(string(text(t, h, r))), " ")
	for _, want := range []string{"backup charger: it gave +400", "leaves +251", "with its backup charger: 400 Wh a day in", "31 h (12 l of fuel)"} {
		if !strings.Contains(s, want) {
			t.Errorf("no %q in\n%s", want, s)
		}
	}
}
