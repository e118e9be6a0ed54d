package main

import (
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"github.com/spf13/pflag"

	"tideover/plots"
	"tideover/scenarios"
	"tideover/sim/report"
	"tideover/weather"
	"tideover/weather/climate"
	"tideover/weather/hourfile"
	"tideover/weather/quality"
	"tideover/weather/summary"
)

var weatherVerb = verb{
	name:    "weather",
	example: "weather Wellington --out weather",
	says: `what a weather file or a known climate holds

FILE or PLACE: months of sun and temperature, clearness, the worst runs of
days, flaws. A file is EPW, TMY3, or CSV with named columns. A place is one
whose climate is known (--list): its twelve means, and a synthetic year.`,
	flags: func(f *pflag.FlagSet, c *call) {
		nan := math.NaN()
		f.BoolVar(&c.file.list, "list", false, "list the places whose climate is known")
		f.Uint64Var(&c.file.seed, "seed", 1, "the synthetic year of this `number` (1)")
		f.StringVar(&c.out, "out", "", "draw carpet, months and runs into this `folder`")
		f.StringVar(&c.file.csv, "csv", "", "write plain CSV into this `file`; - is the screen")
		shiftFlag(f, c)
		f.BoolVar(&c.json, "json", false, "print the whole result for programs")
		f.Float64Var(&c.file.pins.LatDeg, "latitude-deg", nan, "the file's latitude, north positive, `deg`")
		f.Float64Var(&c.file.pins.LonDeg, "longitude-deg", nan, "the file's longitude, east positive, `deg`")
		f.Float64Var(&c.file.pins.ElevationM, "elevation-m", nan, "the file's elevation above the sea, `m`")
		f.Float64Var(&c.file.pins.OffsetH, "utc-offset-h", nan, "the file's local standard time less UTC, `h`")
		for _, name := range append([]string{"seed"}, pinFlags...) {
			f.Lookup(name).DefValue = "0" // not shown
		}
	},
	do: showWeather,
}

var pinFlags = []string{"latitude-deg", "longitude-deg", "elevation-m", "utc-offset-h"}

// calendarYear dates the synthetic year, as it does in a scenario that says nothing of it.
const calendarYear = 2025

func showWeather(c *call) error {
	if c.file.list {
		if len(c.args) > 0 {
			return wrong("--list stands alone: it lists all places, and reads no %s", c.args[0])
		}
		return listPlaces(c.stdout)
	}
	switch len(c.args) {
	case 0:
		return wrong("a weather file or a place is missing, as in: tideover weather Wellington")
	case 1:
	default:
		return wrong("one file or place at a time: %s is one too many; a name of several words stands in quotes", c.args[1])
	}
	if at, err := os.Stat(c.out); c.out != "" && err == nil && !at.IsDir() {
		return wrong("--out: %s is a file; name a folder", c.out)
	}
	if c.json && c.file.csv == "-" {
		return wrong("--json and --csv - both want the screen: give --csv a file")
	}
	if at, err := os.Stat(c.file.csv); err == nil && at.IsDir() {
		return wrong("--csv: %s is a folder; name a file", c.file.csv)
	}
	y, h, err := c.fileOrPlace(c.args[0])
	if err != nil {
		return err
	}
	if err := c.writeWeather(y, h); err != nil {
		return err
	}
	switch {
	case c.file.csv == "-":
		return hourfile.Write(c.stdout, y)
	case c.json:
		return report.WeatherJSON(c.stdout, h)
	}
	return report.WeatherText(c.stdout, h)
}

// fileOrPlace returns the weather that the only argument names. A file goes before a place of the same name.
func (c *call) fileOrPlace(arg string) (*weather.Year, report.Weather, error) {
	at, err := os.Stat(arg)
	folder := err == nil && at.IsDir()
	if folder && strings.ContainsAny(arg, `/\`) {
		return nil, report.Weather{}, wrong("%s is a folder; name a file or a place", arg)
	}
	if err == nil && !folder || strings.ContainsAny(arg, `/\`) {
		return c.ofFile(arg)
	}
	p, err := climate.Find(arg)
	if err == nil {
		return c.ofPlace(p)
	}
	names, begin := []string{}, false
	for _, p := range climate.Places() {
		names = append(names, p.Name)
		begin = begin || strings.HasPrefix(strings.ToLower(p.Name), strings.ToLower(arg))
	}
	says := func(err error) (*weather.Year, report.Weather, error) { return nil, report.Weather{}, err }
	switch file, place := fileLike(arg), scenarios.Nearest(arg, names); {
	case folder:
		return says(wrong("%s is a folder; name a file or a place", arg))
	case begin:
		return says(wrong("there is no file named %s, and the place %w", arg, err)) // it names those that begin so
	case file != "":
		return says(wrong("there is no file and no place named %s; did you mean the file %s?", arg, file))
	case place != "":
		return says(wrong("there is no file and no place named %s; did you mean the place %q?", arg, place))
	}
	return says(wrong("there is no file and no place named %s; tideover weather --list shows the places", arg))
}

func (c *call) ofFile(path string) (*weather.Year, report.Weather, error) {
	if c.file.seed != 1 {
		fmt.Fprintln(c.stderr, "note: --seed picks a synthetic year; the weather comes from a file, so it changes nothing")
	}
	y, err := c.readWeather(path, c.file.pins)
	if err != nil {
		return nil, report.Weather{}, lacks(err, map[string]string{
			"longitude must be given": "--latitude-deg and --longitude-deg say it",
			"which clock its rows":    "--utc-offset-h says it",
			"columns are named with":  "a scenario can say under weather: what the columns hold, and tideover run reads the file by that",
		})
	}
	h := report.Weather{Title: filepath.Base(path), Source: y.Site.Source}
	describe(&h, y)
	return y, h, nil
}

// lacks adds to what a file lacks how it can be said. The words are the reader's, and scripts hold the two together.
func lacks(err error, said map[string]string) error {
	for words, how := range said {
		if strings.Contains(err.Error(), words) {
			return inputError{fmt.Errorf("%w; %s", err, how)}
		}
	}
	return err
}

func (c *call) ofPlace(p climate.Place) (*weather.Year, report.Weather, error) {
	pins := c.file.pins
	for i, v := range []float64{pins.LatDeg, pins.LonDeg, pins.ElevationM, pins.OffsetH} {
		if !math.IsNaN(v) {
			return nil, report.Weather{}, wrong("--%s is for files that do not say it; the place %s is known", pinFlags[i], p.Name)
		}
	}
	if c.file.shiftClockH != 0 {
		return nil, report.Weather{}, wrong("--shift-clock mends a file; the year of %s is made to the sun", p.Name)
	}
	y := climate.Generate(p, calendarYear, c.file.seed, 0)
	h := report.Weather{
		Title: fmt.Sprintf("%s, %s: twelve means and a synthetic year of seed %d", p.Name, p.Country, c.file.seed), Source: p.Source,
		Means: &report.Means{GHIKWhM2Day: p.GHIKWhM2Day, TempMeanC: p.TempMeanC, TempMinC: p.TempMinC, TempMaxC: p.TempMaxC, Years: p.Years},
	}
	describe(&h, y)
	return y, h, nil
}

// describe fills in what the year itself tells.
func describe(h *report.Weather, y *weather.Year) {
	h.Summary = summary.Of(y)
	h.Flaws = append(h.Flaws, y.Warnings...)
	h.Flaws = append(h.Flaws, quality.Lines(quality.Judge(y))...)
	h.Notes = y.Notes
	known := []string{"global light"}
	if y.DNIWm2 != nil {
		known = append(known, "beam and diffuse light")
	}
	known = append(known, "temperature")
	if y.WindMs != nil {
		known = append(known, "wind")
	}
	if y.SnowDepthCM != nil {
		known = append(known, "snow depth")
	}
	h.Columns = strings.Join(known, ", ")
}

// writeWeather writes the charts and the CSV file that were asked for.
func (c *call) writeWeather(y *weather.Year, h report.Weather) error {
	write := func(dir string, files []report.File) error {
		for i, f := range files {
			files[i].Write = func(w io.Writer) error {
				if err := c.ctx.Err(); err != nil {
					return err
				}
				return f.Write(w)
			}
		}
		return report.WriteFiles(dir, files)
	}
	if c.out != "" {
		var files []report.File
		for _, chart := range []struct {
			name  string
			chart *plots.Chart
		}{{"carpet", plots.Carpet(y)}, {"months", plots.WeatherMonths(h.Summary)}, {"runs", plots.WeatherRuns(h.Summary)}} {
			files = append(files, report.File{Name: chart.name + ".svg", Write: chart.chart.SVG},
				report.File{Name: chart.name + ".png", Write: chart.chart.PNG})
		}
		if err := write(c.out, files); err != nil {
			return err
		}
		fmt.Fprintf(c.stderr, "written to %s: carpet, months and runs as .svg and .png\n", c.out)
	}
	if c.file.csv != "" && c.file.csv != "-" {
		csv := report.File{Name: filepath.Base(c.file.csv), Write: func(w io.Writer) error { return hourfile.Write(w, y) }}
		if err := write(filepath.Dir(c.file.csv), []report.File{csv}); err != nil {
			return err
		}
		fmt.Fprintf(c.stderr, "written: %s\n", c.file.csv)
	}
	return nil
}

// listPlaces writes the embedded climates, one a line.
func listPlaces(w io.Writer) error {
	for _, p := range climate.Places() {
		line := fmt.Sprintf("%-23s %-14s %7s %8s %5.0f m  UTC%+g", p.Name, p.Country, degrees(p.LatDeg, "N", "S"), degrees(p.LonDeg, "E", "W"), p.ElevationM, p.OffsetH)
		if _, err := fmt.Fprintln(w, line); err != nil {
			return err
		}
	}
	return nil
}
