package loads

import (
	"fmt"
	"math"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"tideover/sim/clock"
)

func TestPeaksByHand(t *testing.T) {
	// A fridge of 100 W (5 times at its start, power factor 0.75), a kettle of 2000 W, a saw of 1400 W (twice, 0.85) not
	// with the kettle, lamps of 40 W (0.7). From 8 to 9 all may be on.
	list := []Load{
		load(t, DutyCycle, "power_w: 100", "duty: 0.3"),
		load(t, Timetable, "power_w: 2000", "on_minutes_per_hour: 4", "hours: 08:00 to 09:00", "class: resistive", "not_with: saw"),
		load(t, Timetable, "power_w: 1400", "on_minutes_per_hour: 10", "hours: 08:00 to 10:00", "class: brushed_motor"),
		load(t, Timetable, "power_w: 40", "hours: 06:00 to 09:00", "class: electronics"),
	}
	for k, name := range []string{"fridge", "kettle", "saw", "lamps"} {
		list[k].Name = name
	}
	p := sunny(amsterdam(t, 60, 1), 7, 17)
	d := Sum(p, list)
	near(t, "on, 8 to 9", d.ACOnW[8], 2140, 1e-9)
	near(t, "VA, 8 to 9", d.ACOnVA[8], 2000+100/0.75+40/0.7, 1e-9)
	near(t, "start, 8 to 9", d.ACStartW[8], 1400*2+140, 1e-9) // more than the fridge beside the kettle, 2540 W
	near(t, "start, 9 to 10", d.ACStartW[9], 1400*2+100, 1e-9)
	near(t, "start at night", d.ACStartW[3], 500, 1e-9)
	got := Coincide(p, list, AC)
	for _, c := range []struct {
		name string
		got  Peak
		want string
	}{
		{"running", got.RunW, "{2140 8 [0 1 3] -1 0}"},
		{"start", got.StartW, "{2940 8 [0 2 3] 2 1}"},
		{"restart", got.RestartW, "{3340 8 [0 2 3] -1 0}"}, // 500 + 2800 + 40; with the kettle 2540
	} {
		c.got.Most = math.Round(c.got.Most*1e6) / 1e6
		if s := fmt.Sprint(c.got); s != c.want {
			t.Errorf("%s: %s, want %s", c.name, s, c.want)
		}
	}
	if s := got.RunVA; s.Step != 8 || !slices.Equal(s.On, []int{0, 1, 3}) {
		t.Errorf("VA: %v", s)
	}

	// A rule that cannot be kept does not press the ratings below the mean.
	list[1].OnMinutesPerHour, list[2].OnMinutesPerHour = 60, 60
	near(t, "against the rule", Sum(p, list).ACOnW[8], 3470, 1e-9)

	// Rules across the buses change no peak of either.
	list[2].Bus = DC
	d = Sum(p, list)
	near(t, "AC alone", d.ACOnW[8], 2140, 1e-9)
	near(t, "DC alone", Coincide(p, list, DC).StartW.Most, 2800, 1e-9)
}

// bruteForce is the most of each rating at one moment over all subsets of the loads that are on which hold no two rivals.
func bruteForce(list []Load, on []int) (most ratings) {
	for set := range 1 << len(on) {
		var r ratings
		var extraW float64
		ok := true
		for a, k := range on {
			if set>>a&1 == 0 {
				continue
			}
			start, _ := list[k].Start()
			w := list[k].PowerW
			r[onW] += w
			r[onVA] += w / list[k].RunningPF()
			r[restartW] += w * start
			extraW = max(extraW, w*(start-1))
			for b, j := range on {
				ok = ok && (set>>b&1 == 0 || !slices.Contains(list[k].NotWith, list[j].Name))
			}
		}
		r[startW] = r[onW] + extraW
		for k := range r {
			if ok {
				most[k] = max(most[k], r[k])
			}
		}
	}
	return most
}

func TestPeaksAgainstAllSubsets(t *testing.T) {
	c := clock.New(amsterdam(t, 60, 1).StepStart(0), 60, 6, amsterdam(t, 60, 1).StepStart(0).Location())
	p := sunny(c, 7, 17)
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(1, 7).Draw(t, "loads")
		var list []Load
		for k := range n {
			l := New(Timetable)
			l.Name, l.PowerW, l.OnMinutesPerHour = fmt.Sprint(k), float64(rapid.IntRange(1, 3000).Draw(t, "w")), 1e-3
			l.Class = Class(rapid.IntRange(1, 6).Draw(t, "class"))
			from := 10 * rapid.IntRange(0, 30).Draw(t, "from")
			l.When.Hours = []clock.Span{{From: from, To: from + 10*rapid.IntRange(1, 12).Draw(t, "minutes")}}
			for j := range n {
				if j != k && rapid.IntRange(0, 3).Draw(t, "rival") == 0 {
					l.NotWith = append(l.NotWith, fmt.Sprint(j))
				}
			}
			list = append(list, l)
		}
		d := Sum(p, list)
		var highest ratings
		for i := range c.N {
			var want ratings
			for m := 60 * i; m < 60*(i+1); m++ {
				var on []int
				for k := range list {
					if h := list[k].When.Hours[0]; h.From <= m && m < h.To {
						on = append(on, k)
					}
				}
				most := bruteForce(list, on)
				for r := range want {
					want[r] = max(want[r], most[r])
				}
			}
			for r := range want {
				highest[r] = max(highest[r], want[r])
			}
			got := [3]float64{d.ACOnW[i], d.ACOnVA[i], d.ACStartW[i]}
			for r := range got { // sums of a few numbers
				if math.Abs(got[r]-want[r]) > 1e-9*want[r] {
					t.Fatalf("step %d: got %v, want %v", i, got, want)
				}
			}
		}
		peaks := Coincide(p, list, AC)
		for r, peak := range []Peak{onW: peaks.RunW, onVA: peaks.RunVA, startW: peaks.StartW, restartW: peaks.RestartW} {
			if math.Abs(peak.Most-highest[r]) > 1e-9*highest[r] {
				t.Fatalf("peak %d: %+v, want %v", r, peak, highest[r])
			}
			// The loads that are named make the peak.
			var x ratings
			for _, k := range peak.On {
				x.add(ratingsOf(list[k].PowerW, plate{1 / list[k].RunningPF(), 1}, true))
			}
			x[restartW] = bruteForce(list, peak.On)[restartW]
			if x[startW] = x[onW]; peak.Starter >= 0 {
				start, _ := list[peak.Starter].Start()
				x[startW] += list[peak.Starter].PowerW * (start - 1)
			}
			if math.Abs(x[r]-peak.Most) > 1e-9*peak.Most || r == startW && peak.Starter >= 0 && !slices.Contains(peak.On, peak.Starter) {
				t.Fatalf("peak %d: %+v, but its loads make %v", r, peak, x)
			}
		}
	})
}

// A rule never raises what the inverter must carry, however many loads it ties together.
func TestNotWithNeverRaisesThePeak(t *testing.T) {
	p := sunny(amsterdam(t, 60, 3), 7, 17)
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Custom(anyLoad), 2, 20).Draw(t, "loads")
		for k := range list {
			list[k].Name = fmt.Sprint(k)
		}
		free := Sum(p, list)
		chance := rapid.IntRange(1, 8).Draw(t, "one in")
		for k := range list {
			for j := range k {
				if rapid.IntRange(1, chance).Draw(t, "rival") == 1 {
					list[k].NotWith = append(list[k].NotWith, list[j].Name)
				}
			}
		}
		tied := Sum(p, list)
		for i := range p.Clock.N {
			for c, pair := range [][2]float64{{tied.ACOnW[i], free.ACOnW[i]}, {tied.ACOnVA[i], free.ACOnVA[i]}, {tied.ACStartW[i], free.ACStartW[i]},
				{tied.DCOnW[i], free.DCOnW[i]}, {tied.DCStartW[i], free.DCStartW[i]}} {
				if pair[0] > pair[1]*(1+1e-9) {
					t.Fatalf("step %d, column %d: %v with rules, %v without", i, c, pair[0], pair[1])
				}
			}
			if math.Abs(tied.ACW[i]-free.ACW[i]) > 1e-9*free.ACW[i] || math.Abs(tied.ACShare[i]-free.ACShare[i]) > 1e-9 || tied.ACW[i] > tied.ACOnW[i]*(1+1e-9) {
				t.Fatalf("step %d: rules change the energy, or leave less than the mean", i)
			}
		}
	})
}

func BenchmarkYearWithRules(b *testing.B) {
	p, list := sunny(amsterdam(b, 60, 365), 7.3, 18.2), shed(b)
	for k := range list {
		list[k].Name = fmt.Sprint(k)
	}
	list[3].NotWith, list[0].NotWith = []string{"0", "7"}, []string{"7"}
	b.ReportAllocs()
	for b.Loop() {
		Sum(p, list)
	}
}

// TestTogetherIsCoincide holds the quick way to the peaks against the long one, on loads drawn by lot with rules between
// them: a cross-check. They add up in another order, so they agree but for rounding.
func TestTogetherIsCoincide(t *testing.T) {
	z, err := time.LoadLocation("Europe/Amsterdam")
	if err != nil {
		t.Fatal(err)
	}
	rapid.Check(t, func(t *rapid.T) {
		list := rapid.SliceOfN(rapid.Custom(anyLoad), 1, 6).Draw(t, "loads")
		for k := range list {
			list[k].Name = string(rune('a' + k))
			list[k].StartFactor = rapid.Float64Range(1, 5).Draw(t, "start")
			if r := rapid.IntRange(0, len(list)).Draw(t, "not with"); r < len(list) && r != k {
				list[k].NotWith = []string{string(rune('a' + r))}
			}
		}
		stepMin := rapid.SampledFrom([]int{60, 15}).Draw(t, "step")
		start := time.Date(2025, 3, 25, 0, 0, 0, 0, time.FixedZone("", 3600))
		p := sunny(clock.New(start, stepMin, 7*24*60/stepMin, z), 6.3, 18.7)
		if rapid.Bool().Draw(t, "by timetable") {
			p.ACOn = clock.Timetable{Hours: []clock.Span{{From: 425, To: 1205}}}.Stretches(p.Clock)
		}
		uses := make([][]Use, len(list))
		for k, l := range list {
			uses[k] = Uses(p, l)
		}
		got, want := Together(list, uses), Coincide(p, list, AC)
		for r, w := range []Peak{want.RunW, want.RunVA, want.StartW, want.RestartW} {
			g := []Peak{got.RunW, got.RunVA, got.StartW, got.RestartW}[r]
			if math.Abs(g.Most-w.Most) > 1e-9*(1+w.Most) {
				t.Fatalf("rating %d: %v by %v, want %v by %v", r, g.Most, g.On, w.Most, w.On)
			}
		}
	})
}
