package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"

	"github.com/spf13/pflag"

	"tideover/plots"
	"tideover/scenarios"
	"tideover/sim"
	"tideover/sim/ledger"
	"tideover/sim/plane"
	"tideover/sim/precheck"
	"tideover/sim/report"
	"tideover/sim/study"
	"tideover/weather"
)

var runVerb = verb{
	name:    "run",
	example: "run trail-store --out design",
	says: `one scenario through one year: the answer, and where energy went

The weather is the synthetic year of the scenario's climate, or that of a file.
With --years N it is N years one after another, the charge carried on: how
often, how bad, how sure; then the year at one in ten in full.`,
	flags: func(f *pflag.FlagSet, c *call) {
		weatherFlags(f, c)
		c.yearsFlags(f, "how many years are made ready at once")
		f.StringVar(&c.variant, "variant", "", "run this variant of the scenario instead of its base")
		f.StringVar(&c.out, "out", "", "write the charts, hourly.csv and result.json into this `folder`")
		f.BoolVar(&c.json, "json", false, "print the whole result for programs")
		f.BoolVar(&c.hand, "hand", false, "print the hand sum beside the run too, and what of the battery reaches the socket")
		c.targetFlags(f)
	},
	do: runScenario,
}

func weatherFlags(f *pflag.FlagSet, c *call) {
	f.StringVar(&c.weather, "weather", "", "take the year from this `file`: EPW, TMY3, or CSV with named columns")
	shiftFlag(f, c)
	f.Uint64Var(&c.seed, "seed", 0, "pick another synthetic year by its `number`; the scenario's own where not given")
}

func runScenario(c *call) error {
	if at, err := os.Stat(c.out); c.out != "" && err == nil && !at.IsDir() {
		return wrong("--out: %s is a file; name a folder", c.out)
	}
	if err := errors.Join(c.checkYears(), c.checkTargets()); err != nil {
		return err
	}
	in, err := c.read()
	if err != nil {
		return err
	}
	s := in.file.Base
	if c.variant != "" {
		if s, err = in.variant(c.variant); err != nil {
			return err
		}
	}
	if c.years > 0 {
		return c.runYears(in, s)
	}
	y, err := s.Weather(in.weather)
	if err != nil {
		return inputError{err}
	}
	placed, err := s.Place(y, in.weather != nil)
	if err != nil {
		return err
	}
	p := sim.Prepare(placed.System, y)
	r, err := p.Run(true)
	if err != nil {
		return err
	}
	p.Explain(r)
	placed.Tell(r)
	h := in.header(s, y)
	h.Beside, h.Hand = beside(s, placed, p, r), c.hand
	if slices.ContainsFunc(r.Outages, func(o ledger.Outage) bool { return o.Cause == ledger.Overload }) {
		if h.Stagger, err = study.NewStagger(placed.System, y, p, r); err != nil {
			return err
		}
	}
	if c.out != "" {
		if err := writeFiles(c.ctx, c.out, h, placed.System, r); err != nil {
			return err
		}
		fmt.Fprintf(c.stderr, "written to %s: hourly.csv, result.json, charge, spell and months as .svg and .png\n", c.out)
	}
	if err := c.ctx.Err(); err != nil && c.out == "" {
		return err
	}
	c.judge(&r.Answer)
	if c.json {
		return report.JSON(c.stdout, h, r)
	}
	return report.Text(c.stdout, h, r)
}

// beside works out what stands beside a run. Of an all-in-one box the controller's own draw is the box's.
func beside(s *scenarios.Scenario, placed *scenarios.Placed, p *sim.Prepared, r *ledger.Run) *precheck.Beside {
	sys := placed.System
	var standing []precheck.Standing
	for _, ctl := range sys.Controllers() {
		own := precheck.Standing{Name: "charge controller", DrawW: ctl.OwnDrawW}
		switch {
		case s.System.AllInOne:
			own.Name = "box awake"
		case len(sys.Further) > 0:
			own.Name += " " + ctl.Name
		}
		standing = append(standing, own)
	}
	standing = append(standing, precheck.Standing{Name: "battery's protection board", DrawW: sys.Bank.BoardDrawW})
	return precheck.Of(sys, p, r, standing)
}

// writeFiles writes all files into dir, or none where ctx ends before they are written.
func writeFiles(ctx context.Context, dir string, h report.Header, sys *sim.System, r *ledger.Run, more ...report.File) error {
	files := append([]report.File{
		{Name: "hourly.csv", Write: func(w io.Writer) error { return report.CSV(w, r.Hours) }},
		{Name: "result.json", Write: func(w io.Writer) error { return report.JSON(w, h, r) }},
	}, more...)
	for _, c := range []struct {
		name  string
		chart *plots.Chart
	}{{"charge", plots.Charge(r)}, {"spell", plots.Spell(r, len(sys.SubArrays()))}, {"months", plots.Months(r)}} {
		files = append(files,
			report.File{Name: c.name + ".svg", Write: c.chart.SVG},
			report.File{Name: c.name + ".png", Write: c.chart.PNG})
	}
	return report.WriteFiles(dir, until(ctx, files))
}

// until is the files, of which none is written any more once ctx has ended.
func until(ctx context.Context, files []report.File) []report.File {
	for i, f := range files {
		files[i].Write = func(w io.Writer) error {
			if err := ctx.Err(); err != nil {
				return err
			}
			return f.Write(w)
		}
	}
	return files
}

// input is a decoded scenario file with the weather file, if any.
type input struct {
	file        *scenarios.File
	path        string
	weather     *weather.Year
	weatherPath string
}

// read reads the scenario named by the only argument, and the weather file.
func (c *call) read() (*input, error) {
	switch len(c.args) {
	case 0:
		return nil, wrong("a scenario is missing, as in: tideover %s", c.verb.example)
	case 1:
	default:
		return nil, wrong("one scenario at a time: %s is one too many", c.args[1])
	}
	in, err := c.decode(c.args[0])
	if err != nil {
		return nil, err
	}
	return in, c.readFile(in)
}

// decode reads one scenario.
func (c *call) decode(path string) (*input, error) {
	in := &input{path: path}
	src, err := readScenario(in.path)
	if err != nil {
		return nil, err
	}
	if in.file, err = scenarios.DecodeBeside(filepath.ToSlash(in.path), src, scenarios.Beside(in.path)); err != nil {
		var faults scenarios.Errors
		if errors.As(err, &faults) {
			return nil, inputError{&sourceError{src, faults}}
		}
		return nil, err
	}
	if c.seeded {
		for _, s := range append(in.file.Variants, in.file.Base) {
			s.Seed = c.seed
		}
	}
	return in, nil
}

// readFile reads the weather file, if any, as the scenario says.
func (c *call) readFile(in *input) error {
	if c.weather == "" {
		return c.shiftNeedsFile()
	}
	if c.seeded && c.years == 0 {
		fmt.Fprintln(c.stderr, "note: --seed picks a synthetic year; the weather comes from a file, so it changes nothing")
	}
	in.weatherPath = filepath.ToSlash(c.weather)
	var err error
	if in.weather, err = c.weatherFile(c.weather, in.file.Base.FileOptions()); err != nil {
		return lacks(err, map[string]string{
			"longitude must be given": "type site.latitude_deg and site.longitude_deg in the scenario",
			"which clock its rows":    "type site.utc_offset_h in the scenario",
		})
	}
	return nil
}

// readScenario reads a file, or a shipped scenario by its bare name.
func readScenario(path string) ([]byte, error) {
	src, err := scenarios.Read(path)
	if err == nil {
		return src, nil
	}
	if !strings.ContainsAny(path, `/\`) && (errors.Is(err, fs.ErrNotExist) || errors.Is(err, syscall.EISDIR)) {
		if src, shipped := scenarios.Shipped.ReadFile(strings.TrimSuffix(path, ".yaml") + ".yaml"); shipped == nil {
			return src, nil
		}
	}
	return nil, noFile("scenario", path, err)
}

// noFile says why a file cannot be read, with the nearest name where there is none of that name.
func noFile(what, path string, err error) error {
	if errors.Is(err, syscall.EISDIR) {
		return wrong("%s is a folder; name the %s in it", path, map[bool]string{true: "scenario", false: "file"}[what == "scenario"])
	}
	if !errors.Is(err, fs.ErrNotExist) {
		return inputError{fmt.Errorf("the %s cannot be read: %w", what, err)}
	}
	if near := nearestFile(what, path); near != "" {
		return wrong("there is no file %s; did you mean %s?", path, near)
	}
	return wrong("there is no file %s", path)
}

// nearestFile is the file beside path, or the shipped scenario, with the nearest name, or "".
func nearestFile(what, path string) string {
	dir := filepath.Dir(path)
	list, _ := os.ReadDir(dir) // where dir cannot be read, nothing in it is near
	var names []string
	for _, f := range list {
		if !f.IsDir() {
			names = append(names, f.Name())
		}
	}
	if what == "scenario" && dir == "." {
		shipped, _ := scenarios.Shipped.ReadDir(".") // embedded
		for _, f := range shipped {
			names = append(names, strings.TrimSuffix(f.Name(), ".yaml"))
		}
	}
	near := scenarios.Nearest(filepath.Base(path), names)
	if near == "" {
		return ""
	}
	return filepath.ToSlash(filepath.Join(dir, near))
}

func (in *input) variant(name string) (*scenarios.Scenario, error) {
	var names []string
	for _, v := range in.file.Variants {
		if v.Variant == name {
			return v, nil
		}
		names = append(names, v.Variant)
	}
	switch near := scenarios.Nearest(name, names); {
	case len(names) == 0:
		return nil, wrong("%s has no variants", in.path)
	case near != "":
		return nil, wrong("%s has no variant %q; did you mean %q?", in.path, name, near)
	default:
		return nil, wrong("%s has no variant %q; it has %s", in.path, name, strings.Join(names, ", "))
	}
}

func (in *input) header(s *scenarios.Scenario, y *weather.Year) report.Header {
	h := report.Header{Title: s.Name, Scenario: filepath.ToSlash(in.path), About: s.About}
	if s.Variant != "" {
		h.Title += ", variant " + s.Variant
	}
	h.Place = fmt.Sprintf("%s %s", degrees(y.Site.LatDeg, "N", "S"), degrees(y.Site.LonDeg, "E", "W"))
	if y.Site.Name != "" {
		h.Place = y.Site.Name + ", " + h.Place
	}
	h.Weather, _, _ = strings.Cut(y.Site.Source, ";") // the table of climates holds the rest
	if in.weather != nil {
		h.Weather = strings.TrimSuffix(filepath.Base(in.weatherPath)+": "+y.Site.Source, ": ")
	}
	h.System = system(s)
	return h
}

func degrees(v float64, positive, negative string) string {
	if v < 0 {
		positive = negative
	}
	return fmt.Sprintf("%.2f %s", math.Abs(v), positive)
}

// system says the ratings in one line.
func system(s *scenarios.Scenario) string {
	y := &s.System
	var arrays []string
	for _, sub := range y.SubArrays() {
		array := fmt.Sprintf("%.0f W array at %s", sub.Array.RatedW(), stands(&sub.Surface))
		if len(y.Further) > 0 {
			array += " on " + y.Controllers()[sub.Feeds].Name
		}
		arrays = append(arrays, array)
	}
	bank := y.Bank.Type.Words()
	if y.Bank.Of.Count() > 1 {
		bank = "of " + y.Bank.Words()
	}
	line := fmt.Sprintf("%s; %.0f Wh %s", strings.Join(arrays, ", "), y.Bank.NominalWh(), bank)
	if v := y.Inverter; v != nil {
		line += fmt.Sprintf("; %.0f W inverter %s, idle %.3g W", v.RatedW, strings.ReplaceAll(v.Mode.String(), "_", " "), v.IdleW)
	}
	return line
}

// stands says how a plane stands.
func stands(s *plane.Surface) string {
	tilt := fmt.Sprintf("%.0f deg", s.TiltDeg)
	if s.TiltByMonth != nil {
		tilt = fmt.Sprintf("%.0f to %.0f deg, turned by month,", slices.Min(s.TiltByMonth), slices.Max(s.TiltByMonth))
	}
	if s.FacesEquator {
		return tilt + " to the equator"
	}
	return fmt.Sprintf("%s azimuth %.0f deg", tilt, s.AzimuthDeg)
}
