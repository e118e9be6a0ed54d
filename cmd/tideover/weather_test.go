package main

import (
	"bytes"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"tideover/weather"
	"tideover/weather/climate"
	"tideover/weather/hourfile"
)

func realWeather(t *testing.T, name string) string {
	t.Helper()
	file := filepath.Join("..", "..", "..", "shared", "weather", name)
	if _, err := os.Stat(file); err != nil {
		t.Skipf("needs ../shared/weather/%s: %v", name, err)
	}
	return file
}

// A file's flaws join its warnings; the six clean files have none. The counts are those of weather/quality's own test.
func TestWeatherFileNamesFlaws(t *testing.T) {
	for _, w := range []struct {
		file   string
		shiftH float64
		lines  int
	}{
		{"can-ottawa.epw", 0, 0}, {"nzl-invercargill.epw", 0, 0}, {"nic-managua.epw", 0, 0}, {"usa-co-leadville.epw", 0, 0},
		{"usa-ak-juneau.tmy3.csv", 0, 0}, {"usa-ca-needles.tmy3.csv", 0, 0},
		{"usa-ak-coldbay.tmy3.csv", 0, 5}, {"usa-ak-coldbay.tmy3.csv", 1.9, 0}, {"deu-aachen-2022.epw", 0, 4}, {"deu-aachen-2022.epw", 0.8, 0},
		{"can-ottawa.epw", 1.5, 1},
	} {
		c := &call{}
		c.file.shiftClockH = w.shiftH
		y, err := c.weatherFile(realWeather(t, w.file), hourfile.DefaultOptions())
		if err != nil {
			t.Fatal(err)
		}
		if len(y.Warnings) < w.lines || w.lines == 0 && len(y.Warnings) > 0 {
			t.Errorf("%s, shifted by %v h: %d warnings, want %d: %q", w.file, w.shiftH, len(y.Warnings), w.lines, y.Warnings)
		}
		if w.lines > 0 && !strings.HasPrefix(y.Warnings[0], "clock: ") {
			t.Errorf("%s: first %q", w.file, y.Warnings[0])
		}
	}
	c := &call{}
	if err := c.shiftNeedsFile(); err != nil {
		t.Error(err)
	}
	c.file.shiftClockH = 1
	if err := c.shiftNeedsFile(); err == nil {
		t.Error("a synthetic year's clock may be shifted")
	}
}

// The year that --csv writes reads back the same: place, clock, columns, warnings and notes.
func TestWeatherCSVReadsBack(t *testing.T) {
	back := func(t *testing.T, file string, args ...string) *weather.Year {
		t.Helper()
		var stdout, stderr bytes.Buffer
		if status := run(append([]string{"weather", "--csv", file}, args...), &stdout, &stderr); status != 0 {
			t.Fatalf("%v: exit status %d\n%s", args, status, stderr.String())
		}
		f, err := os.Open(file)
		if err != nil {
			t.Fatal(err)
		}
		defer f.Close()
		y, err := hourfile.Read(file, f)
		if err != nil {
			t.Fatal(err)
		}
		return y
	}
	same := func(t *testing.T, wrote, read *weather.Year) {
		t.Helper()
		if !wrote.Start.Equal(read.Start) {
			t.Errorf("starts at %v, wrote %v", read.Start, wrote.Start)
		}
		read.Start = wrote.Start // two zones of one offset are different values
		if len(wrote.Warnings)+len(read.Warnings) == 0 {
			read.Warnings = wrote.Warnings
		}
		if len(wrote.Notes)+len(read.Notes) == 0 {
			read.Notes = wrote.Notes
		}
		wrote.Track, read.Track = nil, nil // worked out, not read
		w, r := reflect.ValueOf(*wrote), reflect.ValueOf(*read)
		for i := range w.NumField() {
			if a, b := w.Field(i).Interface(), r.Field(i).Interface(); !reflect.DeepEqual(a, b) {
				t.Errorf("%s: wrote %.300q, read back %.300q", w.Type().Field(i).Name, fmt.Sprint(a), fmt.Sprint(b))
			}
		}
	}
	t.Run("a place", func(t *testing.T) {
		p, err := climate.Find("De Bilt")
		if err != nil {
			t.Fatal(err)
		}
		want := climate.Generate(p, 2025, 7, 0)
		same(t, want, back(t, filepath.Join(t.TempDir(), "a.csv"), "De Bilt", "--seed", "7"))
	})
	for _, name := range []string{"can-ottawa.epw", "usa-ak-coldbay.tmy3.csv", "deu-aachen-2022.epw"} {
		t.Run(name, func(t *testing.T) {
			file := realWeather(t, name)
			for _, shift := range []string{"0", "1.9"} {
				c := &call{}
				if shift != "0" {
					c.file.shiftClockH = 1.9
				}
				want, err := c.readWeather(file, hourfile.DefaultOptions())
				if err != nil {
					t.Fatal(err)
				}
				same(t, want, back(t, filepath.Join(t.TempDir(), "a.csv"), file, "--shift-clock", shift))
			}
		})
	}
}
