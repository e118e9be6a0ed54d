package plots

import (
	"bytes"
	"encoding/xml"
	"flag"
	"image/png"
	"io"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"gonum.org/v1/plot/vg"

	"tideover/sim/ledger"
	"tideover/sim/report/invented"
	"tideover/sim/study"
)

// The goldens guard the format only: every number in them is invented (package invented).
var update = flag.Bool("update", false, "renew the files in testdata")

var charts = []struct {
	name string
	draw func(*ledger.Run) *Chart
}{{"charge", Charge}, {"spell", spellOfOne}, {"months", Months}}

func spellOfOne(run *ledger.Run) *Chart { return Spell(run, 1) }

// cases are runs of every length and mood that the charts must take.
func cases() map[string]*ledger.Run {
	hut := invented.Hut()
	m := map[string]*ledger.Run{}
	add := func(name string, change func(*invented.Case)) *ledger.Run {
		c := hut
		change(&c)
		m[name] = c.Run()
		return m[name]
	}
	add("year", func(*invented.Case) {})
	add("no outage", func(c *invented.Case) { c.ArrayW, c.CapacityWh = 1500, 3000 })
	add("all dark", func(c *invented.Case) { c.ArrayW = 0 })
	add("one day", func(c *invented.Case) { c.Days = 1 })
	add("six days", func(c *invented.Case) { c.Days = 6 })
	add("a month", func(c *invented.Case) { c.Days = 31 })
	add("two years", func(c *invented.Case) { c.Days = 800 })
	add("ten years", func(c *invented.Case) { c.Days = 3652 })
	add("thirty years", func(c *invented.Case) { c.Days = 30 * 365 })
	add("no loads", func(c *invented.Case) { c.MustHaveW, c.LampW, c.IdleW = 0, 0, 0 })
	add("huge", func(c *invented.Case) { c.ArrayW, c.MustHaveW, c.CapacityWh = 4e7, 3e6, 1e8 })
	ruled := add("off by rule, no cut-off, can wait", func(c *invented.Case) { c.OffFromHour, c.OffUntilHour = 8, 12 })
	ruled.DisconnectSOC = 0
	for i := range ruled.Outages {
		if i%2 == 0 {
			ruled.Outages[i].MustHaveHours = 0
		}
	}
	if loc, err := time.LoadLocation("Europe/Amsterdam"); err == nil { // a clock that changes
		add("daylight saving", func(c *invented.Case) { c.Start = time.Date(2025, 1, 1, 0, 0, 0, 0, loc) })
	}
	// All that the legends can hold at once: a charger, both kinds of outage, a cut-off that the cold raises.
	full := add("all at once", func(c *invented.Case) { c.OffFromHour, c.OffUntilHour, c.Days = 8, 12, 800 })
	for i := range full.Outages {
		full.Outages[i].MustHaveHours *= float64(i % 2)
	}
	full.ColdCutOffSOC, full.Hours.CutOffSOC = 0.3, make([]float64, len(full.Hours.End))
	for i, end := range full.Hours.End {
		full.Hours.CutOffSOC[i] = 0.1 + 0.2*float64(end.Day()%3)/2
		full.Hours.FlowW[ledger.Backup][i] = float64(end.Day() % 2)
	}
	m["nothing"] = &ledger.Run{
		Days:  make([]ledger.Day, 1),
		Hours: &ledger.Hours{StepH: 1, End: []time.Time{time.Time{}.Add(time.Hour)}, SOC: make([]float64, 1), PlaneWm2: make([]float64, 1)},
	}
	for f := range m["nothing"].Hours.FlowW {
		m["nothing"].Hours.FlowW[f] = make([]float64, 1)
	}
	return m
}

func svg(t *testing.T, ch *Chart) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := ch.SVG(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func TestSVGGolden(t *testing.T) {
	run := invented.Hut().Run()
	for _, c := range charts {
		got := svg(t, c.draw(run))
		path := filepath.Join("testdata", c.name+".svg")
		if *update {
			if err := os.MkdirAll("testdata", 0o777); err != nil {
				t.Fatal(err)
			}
			if err := os.WriteFile(path, got, 0o666); err != nil {
				t.Fatal(err)
			}
		}
		want, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(got, want) {
			g, w := strings.Split(string(got), "\n"), strings.Split(string(want), "\n")
			for i := range min(len(g), len(w)) {
				if g[i] != w[i] {
					t.Errorf("%s:%d differs\n got %.200q\nwant %.200q", path, i+1, g[i], w[i])
					break
				}
			}
			t.Errorf("%s: got %d lines, want %d", path, len(g), len(w))
		}
		if again := svg(t, c.draw(run)); !bytes.Equal(got, again) {
			t.Errorf("%s: a second drawing gives other bytes", c.name)
		}
	}
}

// label is one text of an SVG and the rectangle it takes, in points, y upward.
type label struct {
	s   string
	box vg.Rectangle
}

// labels reads the texts of an SVG; it fails on anything that is not a number where one should be.
func labels(t *testing.T, doc []byte) []label {
	t.Helper()
	if i := bytes.Index(doc, []byte("NaN")); i >= 0 {
		t.Fatalf("NaN in the drawing: %.80q", doc[max(0, i-20):])
	}
	if i := bytes.Index(doc, []byte("Inf")); i >= 0 {
		t.Fatalf("Inf in the drawing: %.80q", doc[max(0, i-20):])
	}
	var out []label
	dec := xml.NewDecoder(bytes.NewReader(doc))
	for {
		tok, err := dec.Token()
		if err == io.EOF {
			return out
		}
		if err != nil {
			t.Fatal(err)
		}
		el, ok := tok.(xml.StartElement)
		if !ok || el.Name.Local != "text" {
			continue
		}
		var x, y, size float64
		bold := false
		for _, a := range el.Attr {
			switch a.Name.Local {
			case "x":
				x, err = strconv.ParseFloat(a.Value, 64)
			case "y":
				y, err = strconv.ParseFloat(a.Value, 64)
			case "style":
				bold = strings.Contains(a.Value, "font-weight:bold")
				_, rest, _ := strings.Cut(a.Value, "font-size:")
				rest, _, _ = strings.Cut(rest, "px")
				size, err = strconv.ParseFloat(rest, 64)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
		tok, err = dec.Token()
		if err != nil {
			t.Fatal(err)
		}
		s := string(tok.(xml.CharData))
		w := style(left, vg.Length(size), bold, ink).Width(s)
		at := vg.Point{X: vg.Length(x), Y: vg.Length(-y)}
		out = append(out, label{s, vg.Rectangle{Min: at, Max: vg.Point{X: at.X + w, Y: at.Y + 0.7*vg.Length(size)}}})
	}
}

// TestLabels: on every chart of every run, all texts lie on the paper and none on another.
func TestLabels(t *testing.T) {
	for name, run := range cases() {
		for _, c := range charts {
			all := labels(t, svg(t, c.draw(run)))
			if len(all) < 3 {
				t.Errorf("%s, %s: only %d texts", name, c.name, len(all))
			}
			apart(t, name+", "+c.name, all)
		}
	}
}

// apart: all texts lie on the paper and none on another.
func apart(t *testing.T, where string, all []label) {
	t.Helper()
	for i, a := range all {
		if a.box.Min.X < 0 || a.box.Min.Y < 0 || a.box.Max.X > chartW || a.box.Max.Y > chartH {
			t.Errorf("%s: %q leaves the paper: %v", where, a.s, a.box)
		}
		for _, b := range all[:i] {
			if a.box.Min.X < b.box.Max.X && b.box.Min.X < a.box.Max.X &&
				a.box.Min.Y < b.box.Max.Y && b.box.Min.Y < a.box.Max.Y {
				t.Errorf("%s: %q lies on %q", where, a.s, b.s)
			}
		}
	}
}

func TestTitles(t *testing.T) {
	runs := cases()
	for _, c := range []struct {
		run, want string
		draw      func(*ledger.Run) *Chart
	}{
		{"no outage", "The battery falls to 36 % on 2 Jan 2025; no day is without power", Charge},
		{"no outage", "The worst spell, 10 days: the battery falls to 36 %; no day is without power", spellOfOne},
		{"no outage", "Harvest and use by month: no month falls short", Months},
		{"all dark", "Harvest and use by month: every month falls short", Months},
		{"six days", "The worst spell, 6 days: the battery falls to 10 %; every day is without power", spellOfOne},
	} {
		if got := c.draw(runs[c.run]).Title(); got != c.want {
			t.Errorf("%s: title %q, want %q", c.run, got, c.want)
		}
	}
}

// TestBackupIsMarked: the hours in which the backup charger gave are marked at the foot of the charge, and only there.
func TestBackupIsMarked(t *testing.T) {
	r := invented.Hut().Run()
	from, to := worstSpell(r)
	brown := func(ch *Chart) (bars int) {
		doc := string(svg(t, ch))
		if got := strings.Contains(doc, "charged by the backup"); got != strings.Contains(doc, "#7D5530") {
			t.Errorf("%s: named %v, drawn otherwise", ch.Title(), got)
		}
		return max(0, strings.Count(doc, "fill:#7D5530")-1) // one is the legend's
	}
	if n := brown(Charge(r)) + brown(spellOfOne(r)); n != 0 {
		t.Errorf("%d marks without a charger", n)
	}
	gave := r.Hours.FlowW[ledger.Backup]
	for _, day := range []int{from + 2, from + 4, (to + 100) % 365} { // the third lies outside of the spell
		gave[24*day+9], gave[24*day+10] = 300, 120
	}
	if year, spell := brown(Charge(r)), brown(spellOfOne(r)); year != 3 || spell != 2 {
		t.Errorf("%d marks in the year, %d in the spell, want 3 and 2", year, spell)
	}
}

// TestBarredIsMarked: the hours in which cold barred the charge, awake or asleep, are marked in the spell.
func TestBarredIsMarked(t *testing.T) {
	r := invented.Hut().Run()
	h := r.Hours
	h.AsleepBarredW = make([]float64, len(h.End))
	for i := range h.End { // none of the hut's own
		h.FlowW[ledger.Drawn][i] += h.FlowW[ledger.ChargeBarred][i]
		h.FlowW[ledger.ChargeBarred][i] = 0
	}
	from, _ := worstSpell(r)
	at := 24*from + 11
	count := func() int { return strings.Count(string(svg(t, spellOfOne(r))), "fill:#A9A3C4") }
	if n := count(); n != 0 {
		t.Errorf("%d marks, want none", n)
	}
	h.FlowW[ledger.ChargeBarred][at], h.AsleepBarredW[at+24] = h.FlowW[ledger.Array][at], h.FlowW[ledger.Array][at+24]
	h.FlowW[ledger.ChargeBarred][at+48] = 0.4 * h.FlowW[ledger.Array][at+48] // the lesser part
	if n := count(); n != 3 {
		t.Errorf("%d marks and entries, want two and one", n)
	}
	if doc := string(svg(t, spellOfOne(r))); !strings.Contains(doc, "charge barred by cold") {
		t.Error("the marks are not named")
	}
}

// TestCutOffStandsClear: the name of the cut-off lies on no outage; where outages are everywhere it stands in the legend.
func TestCutOffStandsClear(t *testing.T) {
	r := invented.Hut().Run()
	middle := r.Hours.End[len(r.Hours.End)/2]
	for name, days := range map[string][]float64{"none": nil, "in the middle": {0}, "around": {-30, -8, -1, 3, 9, 31}, "everywhere": {-200}} {
		r.Outages = nil
		for _, d := range days {
			long := 24 * 4.0
			if d == -200 {
				long = 400 * 24
			}
			r.Outages = append(r.Outages, ledger.Outage{Start: middle.Add(hours(24 * d)), Hours: long, MustHaveHours: 1})
		}
		all := labels(t, svg(t, Charge(r)))
		apart(t, name, all)
		at := slices.IndexFunc(all, func(l label) bool { return l.s == "cut-off 10 %" })
		if at < 0 {
			t.Fatalf("%s: the cut-off has no name", name)
		}
		box := all[at].box
		if above := box.Min.Y > chartH-marginTop; above != (name == "everywhere") {
			t.Errorf("%s: in the legend %v", name, above)
		}
		first := seconds(r.Hours.End[0]) - 3600
		p := newPanel(nil, 0, 1, first, first+365*86400, 1)
		for _, o := range r.Outages {
			from := p.at(seconds(o.Start), 0).X
			if to := p.at(seconds(o.End()), 0).X; name != "everywhere" && from < box.Max.X+1 && to > box.Min.X-1 {
				t.Errorf("%s: it lies from %v to %v over the outage from %v to %v", name, box.Min.X, box.Max.X, from, to)
			}
		}
	}
}

// TestSunPanel: for 1150 W/m2 the scale does not go to 2000, and the caption says of how many planes it is the mean.
func TestSunPanel(t *testing.T) {
	r := invented.Hut().Run()
	from, to := worstSpell(r)
	scale := 1150 / most(r.Hours.PlaneWm2[24*from:24*to])
	for i := range r.Hours.PlaneWm2 {
		r.Hours.PlaneWm2[i] *= scale
	}
	for n, want := range map[int]string{
		1: "sun on the plane of the array, W/m2",
		2: "sun on the planes of the 2 sub-arrays, their mean by rated watts, W/m2",
	} {
		all := labels(t, svg(t, Spell(r, n)))
		apart(t, "spell", all)
		at := slices.IndexFunc(all, func(l label) bool { return l.s == want })
		if at < 0 {
			t.Fatalf("%d sub-arrays: no %q", n, want)
		}
		if slices.ContainsFunc(all, func(l label) bool { return l.s == "2000" }) {
			t.Error("the scale goes to 2000 W/m2")
		}
	}
}

// TestWorstSpell: of two days as low, the one with the longer lack around it, of equal ones the lower; ten days, shifted
// into the run.
func TestWorstSpell(t *testing.T) {
	days := make([]ledger.Day, 60)
	for i := range days {
		days[i].LowestSOC = 0.6
	}
	days[10].LowestSOC, days[40].LowestSOC, days[41].LackMin = 0.1, 0.1, 90
	for _, c := range []struct {
		days     []ledger.Day
		from, to int
	}{{days, 35, 45}, {days[:40], 5, 15}, {days[:13], 3, 13}, {days[9:20], 0, 10}, {days[8:12], 0, 4}} {
		if from, to := worstSpell(&ledger.Run{Days: c.days}); from != c.from || to != c.to {
			t.Errorf("of %d days: %d to %d, want %d to %d", len(c.days), from, to, c.from, c.to)
		}
	}
	days[41].LackMin, days[40].LowestSOC, days[50].LowestSOC = 0, 0.0999, 0.0999
	if from, to := worstSpell(&ledger.Run{Days: days}); from != 35 || to != 45 {
		t.Errorf("none lacks: %d to %d, want 35 to 45, around the first of the lowest", from, to)
	}
}

func TestNiceScale(t *testing.T) {
	for _, c := range []struct {
		v         float64
		most      int
		step, top float64
	}{{100, 6, 20, 100}, {101, 6, 20, 120}, {7.3, 3, 5, 10}, {0, 3, 0.5, 1}, {950, 2, 500, 1000}, {0.03, 3, 0.01, 0.03}} {
		step, top := niceScale(c.v, c.most)
		if tol := 1e-9 * c.top; step < c.step-tol || step > c.step+tol || top < c.top-tol || top > c.top+tol {
			t.Errorf("niceScale(%v, %d) = %v, %v, want %v, %v", c.v, c.most, step, top, c.step, c.top)
		}
	}
}

func TestPNG(t *testing.T) {
	run := invented.Hut().Run()
	for _, c := range charts {
		var one, two bytes.Buffer
		if err := c.draw(run).PNG(&one); err != nil {
			t.Fatal(err)
		}
		if err := c.draw(run).PNG(&two); err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(one.Bytes(), two.Bytes()) {
			t.Errorf("%s: a second drawing gives other bytes", c.name)
		}
		conf, err := png.DecodeConfig(&one)
		if err != nil {
			t.Fatal(err)
		}
		if conf.Width != 1800 || conf.Height != 840 { // 900 x 420 points at 144 dots an inch
			t.Errorf("%s: %d x %d pixels, want 1800 x 840", c.name, conf.Width, conf.Height)
		}
	}
}

func TestWithoutHoursPanics(t *testing.T) {
	for _, draw := range []func(*ledger.Run) *Chart{Charge, spellOfOne} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("no panic without hourly columns")
				}
			}()
			draw(&ledger.Run{})
		}()
	}
}

func BenchmarkThreeChartsSVGAndPNG(b *testing.B) {
	run := invented.Hut().Run()
	for b.Loop() {
		for _, c := range charts {
			ch := c.draw(run)
			if err := ch.SVG(io.Discard); err != nil {
				b.Fatal(err)
			}
			if err := ch.PNG(io.Discard); err != nil {
				b.Fatal(err)
			}
		}
	}
}

func TestTiltChart(t *testing.T) {
	path := filepath.Join("testdata", "tilt.svg")
	got := svg(t, Tilt(invented.Tilts()))
	if *update {
		if err := os.WriteFile(path, got, 0o666); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(got, want) {
		t.Errorf("%s differs", path)
	}
	// Every label stays inside and apart from the others: best upright, best flat, turned by the month, nothing at all or in
	// the design month, the bests on the line of the array as it stands or beside it, on each other, several sub-arrays.
	names := map[string]func(*study.Tilts){
		"upright": func(x *study.Tilts) { peak(x, 90, 90, 40) }, "level": func(x *study.Tilts) { peak(x, 0, 0, 40) },
		"turned": func(x *study.Tilts) { x.AsItStands.TiltByMonth[6] = 5 },
		"nothing": func(x *study.Tilts) {
			peak(x, 30, 60, 0)
			x.DesignNeedWh = 0
			for i := range x.Curve {
				x.Curve[i].HarvestWh = 0
			}
		},
		"dark month":  func(x *study.Tilts) { peak(x, 30, 60, 0) },
		"dim month":   func(x *study.Tilts) { peak(x, 30, 46, 2) },
		"month there": func(x *study.Tilts) { peak(x, 45, 45, 2) },
		"together":    func(x *study.Tilts) { peak(x, 44, 46, 1000) },
		"several":     func(x *study.Tilts) { x.Of, x.Feeds = 3, "the long roof to the south" },
	}
	for name, change := range names {
		c := invented.Tilts()
		change(c)
		all := labels(t, svg(t, Tilt(c)))
		apart(t, name, all)
		stands := slices.ContainsFunc(all, func(l label) bool { return l.s == "as it stands" })
		if stands != (name != "turned") {
			t.Errorf("%s: named as it stands: %v", name, stands)
		}
	}
	// The need lies 500 of 1200 Wh high in a panel of 314 points: the best of December just under it is named below.
	near := invented.Tilts()
	peak(near, 30, 60, 480)
	for _, l := range labels(t, svg(t, Tilt(near))) {
		if need := vg.Length(marginBottom + 314*500.0/1200); l.s == "60 deg: 480 Wh" && l.box.Max.Y > need {
			t.Errorf("%q lies on the need, at %v: %v", l.s, need, l.box)
		}
	}
	dark := invented.Tilts()
	names["dark month"](dark)
	if got, want := Tilt(dark).Title(), "The year harvests most at a tilt of 30 degrees; December brings nothing at any"; got != want {
		t.Errorf("title %q, want %q", got, want)
	}
	several := invented.Tilts()
	names["several"](several)
	if !bytes.Contains(svg(t, Tilt(several)), []byte("sub-array 1 of 3 turned (the long roof to the south), azimuth 180 degrees")) {
		t.Error("the chart does not say which of the sub-arrays is turned")
	}
}

// peak puts the best of the year and of December, of so many Wh a day, at two tilts.
func peak(x *study.Tilts, yearDeg, monthDeg int, monthWh float64) {
	for i := range x.Curve {
		x.Curve[i].HarvestWh = 365 * 1000 * math.Cos(float64(i-yearDeg)*math.Pi/180)
		x.Curve[i].MonthWh[11] = 31 * monthWh * math.Cos(float64(i-monthDeg)*math.Pi/180)
	}
}
