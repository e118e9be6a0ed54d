package scenarios

import (
	"strings"
	"testing"

	"tideover/sim"
)

// Every starter runs as it is, and so do the commented keys at their defaults.
func TestStartersRun(t *testing.T) {
	for _, kind := range StarterKinds() {
		for _, allInOne := range []bool{false, true} {
			text, err := Starter(kind, allInOne)
			if err != nil {
				t.Fatal(err)
			}
			file, err := Decode(kind, []byte(text))
			if err != nil {
				t.Errorf("%s, all in one %v:\n%v", kind, allInOne, err)
				continue
			}
			if len(file.Variants) < 2 {
				t.Errorf("%s, all in one %v: %d variants, want at least 2", kind, allInOne, len(file.Variants))
			}
			y, err := file.Base.Weather(nil)
			if err != nil {
				t.Fatal(err)
			}
			held := false
			for _, s := range append(file.Variants, file.Base) {
				p, err := s.Place(y, false)
				if err != nil {
					t.Fatal(err)
				}
				prepared := sim.Prepare(p.System, y)
				r, err := prepared.Run(false)
				if n := prepared.Overloads(); n > 0 {
					t.Errorf("%s, all in one %v, %q: trips its inverter in %d hours", kind, allInOne, s.Variant, n)
				}
				held = held || err == nil && r.Answer.DaysWithoutPower == 0
				if err != nil || len(r.Warnings)+len(p.Warnings) > 0 {
					t.Errorf("%s, all in one %v, %q: %v, warnings %q %q", kind, allInOne, s.Variant, err, r.Warnings, p.Warnings)
				}
			}
			if !held { // what it teaches is a cure
				t.Errorf("%s, all in one %v: neither it nor a variant holds all year", kind, allInOne)
			}
			for i, line := range strings.Split(text, "\n") {
				if strings.TrimRight(line, " ") != line || len([]rune(line)) > 120 {
					t.Errorf("%s:%d: %q is longer than 120 or ends in a space", kind, i+1, line)
				}
			}
		}
	}
}

// A key behind a # is there to be used: with the # taken away its line is right.
func TestStartersTeachRightValues(t *testing.T) {
	for _, kind := range StarterKinds() {
		for _, allInOne := range []bool{false, true} {
			text, err := Starter(kind, allInOne)
			if err != nil {
				t.Fatal(err)
			}
			lines := strings.Split(text, "\n")
			offered := 0
			for i, line := range lines {
				key, value, ok := strings.Cut(strings.TrimLeft(line, " "), ": ")
				if !ok || value == "" || strings.HasPrefix(strings.TrimLeft(value, " "), "#") || !strings.HasPrefix(key, "# ") || strings.Contains(key[2:], " ") {
					continue
				}
				offered++
				one := append(append([]string{}, lines[:i]...), strings.Replace(line, "# ", "", 1))
				one = append(one, lines[i+1:]...)
				_, err := Decode(kind, []byte(strings.Join(one, "\n")))
				if err == nil {
					continue
				}
				// A coordinate wants the other beside it, hours want the mode timetable, a first day every_days, and a gauge stands in
				// place of an area; the message says so.
				if !strings.HasSuffix(key, "_awg") && key != "# first_day" && key != "# latitude_deg" && key != "# longitude_deg" && !strings.Contains(err.Error(), "count with mode: timetable only") {
					t.Errorf("%s, all in one %v: %s: %s\n%v", kind, allInOne, key, value, err)
				}
			}
			if offered < 20 {
				t.Errorf("%s, all in one %v: %d keys are offered, want more", kind, allInOne, offered)
			}
		}
	}
}

func TestStarterOfNoKind(t *testing.T) {
	for kind, want := range map[string]string{
		"tool store": `"tool store" is no kind of starter; did you mean tool-store?`,
		"palace":     `"palace" is no kind of starter; the kinds are tool-store, studio, barn`,
	} {
		if _, err := Starter(kind, false); err == nil || err.Error() != want {
			t.Errorf("got %v, want %s", err, want)
		}
	}
}
