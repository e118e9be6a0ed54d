// Package plots draws a ledger as charts, in SVG and PNG. It is the sole importer of the plot library, of which it
// uses the canvases, the text and the fonts. The same run gives the same bytes.
//
// The look: one sentence above each chart says what to see; units stand at each panel; blue is what the loads get,
// ochre the sun, brown the backup charger, dark plum what the loads lack, violet what cold or heat refuses. The colours differ in lightness too, so that they can be told apart
// without seeing hue.
package plots

import (
	"bytes"
	"image/color"
	"io"
	"math"
	"strconv"
	"time"

	xfont "golang.org/x/image/font"
	"gonum.org/v1/plot/font"
	"gonum.org/v1/plot/font/liberation"
	"gonum.org/v1/plot/text"
	"gonum.org/v1/plot/vg"
	"gonum.org/v1/plot/vg/draw"
	"gonum.org/v1/plot/vg/vgimg"
	"gonum.org/v1/plot/vg/vgsvg"
)

// chartW and chartH are the size of every chart, in points of 1/72 inch; dpi is that of the PNG.
const (
	chartW, chartH vg.Length = 900, 420
	dpi                      = 144
)

// Chart is one picture.
type Chart struct {
	title string
	draw  func(c *draw.Canvas)
}

// Title is the sentence above the chart.
func (ch *Chart) Title() string { return ch.title }

// SVG writes the chart as SVG. Fonts are named, not embedded.
func (ch *Chart) SVG(w io.Writer) error {
	canvas := vgsvg.New(chartW, chartH)
	ch.on(canvas)
	var b bytes.Buffer
	if _, err := canvas.WriteTo(&b); err != nil {
		return err
	}
	// A reader without the first font gets one of the same widths.
	out := bytes.ReplaceAll(b.Bytes(), []byte("font-family:Liberation Sans;"),
		[]byte("font-family:Liberation Sans,Arial,Helvetica,sans-serif;"))
	_, err := w.Write(out)
	return err
}

// PNG writes the chart as PNG, 1800 by 840 pixels.
func (ch *Chart) PNG(w io.Writer) error {
	canvas := vgimg.PngCanvas{Canvas: vgimg.NewWith(vgimg.UseWH(chartW, chartH), vgimg.UseDPI(dpi))}
	ch.on(canvas)
	_, err := canvas.WriteTo(w)
	return err
}

func (ch *Chart) on(canvas vg.CanvasSizer) {
	c := draw.New(canvas)
	fill(&c, c.Rectangle, white)
	write(&c, left, marginLeft-captionShift, chartH-24, 15, true, ink, ch.title)
	ch.draw(&c)
}

// The margins around the panels, and how far captions stand left of and above the panel's edge.
const (
	marginLeft, marginRight, marginTop, marginBottom vg.Length = 52, 20, 62, 44
	captionShift                                     vg.Length = 28
	captionLift                                      vg.Length = 9
)

func rgb(hex uint32) color.Color {
	return color.NRGBA{R: uint8(hex >> 16), G: uint8(hex >> 8), B: uint8(hex), A: 255}
}

var (
	white      = rgb(0xffffff)
	ink        = rgb(0x22303a)
	muted      = rgb(0x5d6b75)
	grid       = rgb(0xe1e6ea)
	chargeLine = rgb(0x174a6b)
	chargeBand = rgb(0xa3c6de)
	sunFill    = rgb(0xdfa637)
	spareFill  = rgb(0xf3e2bb)
	servedFill = rgb(0x4d8fb8)
	lackFill   = rgb(0x84184c)
	lackShade  = rgb(0xe4b7cd)
	waitShade  = rgb(0xf1e8ed)
	ruleFill   = rgb(0xc9cfd4)
	ownFill    = chargeBand
	backupFill = rgb(0x7d5530)
	barredFill = rgb(0xa9a3c4)
	asleepFill = rgb(0x7a739f)
	beyondFill = rgb(0xc9b998)
)

var fonts = font.NewCache(liberation.Collection())

// How text stands to its point.
const (
	left   = text.XLeft
	center = text.XCenter
	right  = text.XRight
)

func style(x text.XAlignment, size vg.Length, bold bool, clr color.Color) text.Style {
	f := font.Font{Typeface: "Liberation", Variant: "Sans", Size: size}
	if bold {
		f.Weight = xfont.WeightBold
	}
	return text.Style{Color: clr, Font: f, XAlign: x, YAlign: text.YBottom, Handler: text.Plain{Fonts: fonts}}
}

func write(c *draw.Canvas, align text.XAlignment, x, y, size vg.Length, bold bool, clr color.Color, s string) {
	c.FillText(style(align, size, bold, clr), vg.Point{X: x, Y: y}, s)
}

func textWidth(size vg.Length, s string) vg.Length { return style(left, size, false, ink).Width(s) }

func fill(c *draw.Canvas, r vg.Rectangle, clr color.Color) {
	c.FillPolygon(clr, []vg.Point{r.Min, {X: r.Max.X, Y: r.Min.Y}, r.Max, {X: r.Min.X, Y: r.Max.Y}})
}

// panel is a rectangle with a scale on each side. x is in seconds of Unix time, or in months.
type panel struct {
	*draw.Canvas
	box            vg.Rectangle
	x0, x1, y0, y1 float64
}

// newPanel is a panel between two heights, over the whole width.
func newPanel(c *draw.Canvas, bottom, top vg.Length, x0, x1, y1 float64) *panel {
	return &panel{
		Canvas: c, x0: x0, x1: x1, y1: y1,
		box: vg.Rectangle{Min: vg.Point{X: marginLeft, Y: bottom}, Max: vg.Point{X: chartW - marginRight, Y: top}},
	}
}

func (p *panel) at(x, y float64) vg.Point {
	return vg.Point{
		X: p.box.Min.X + vg.Length((x-p.x0)/(p.x1-p.x0))*(p.box.Max.X-p.box.Min.X),
		Y: p.box.Min.Y + vg.Length((y-p.y0)/(p.y1-p.y0))*(p.box.Max.Y-p.box.Min.Y),
	}
}

func (p *panel) rect(x0, x1, y0, y1 float64, clr color.Color) {
	fill(p.Canvas, vg.Rectangle{Min: p.at(x0, y0), Max: p.at(x1, y1)}, clr)
}

// shade fills from x0 to x1 over the whole height, at least one and a half points wide.
func (p *panel) shade(x0, x1 float64, clr color.Color) {
	x0, x1 = max(x0, p.x0), min(x1, p.x1)
	if x0 >= x1 {
		return
	}
	r := vg.Rectangle{Min: p.at(x0, p.y0), Max: p.at(x1, p.y1)}
	if lack := 1.5 - (r.Max.X - r.Min.X); lack > 0 {
		r.Min.X -= lack / 2
		r.Max.X += lack / 2
	}
	r.Min.X, r.Max.X = max(r.Min.X, p.box.Min.X), min(r.Max.X, p.box.Max.X)
	fill(p.Canvas, r, clr)
}

func (p *panel) line(pts []vg.Point, width vg.Length, clr color.Color, dashes ...vg.Length) {
	if len(pts) > 1 {
		p.StrokeLines(draw.LineStyle{Color: clr, Width: width, Dashes: dashes}, pts)
	}
}

// caption says above the panel what it shows, with the unit.
func (p *panel) caption(s string) {
	write(p.Canvas, left, p.box.Min.X-captionShift, p.box.Max.Y+captionLift, 11, false, ink, s)
}

// yAxis draws faint lines across and their numbers; all are whole multiples of step.
func (p *panel) yAxis(step float64) {
	decimals := max(0, int(-math.Floor(math.Log10(step)+1e-9)))
	for i := 0; float64(i)*step <= p.y1*(1+1e-9); i++ {
		v := float64(i) * step
		pt := p.at(p.x0, v)
		p.line([]vg.Point{pt, {X: p.box.Max.X, Y: pt.Y}}, 0.6, grid)
		write(p.Canvas, right, p.box.Min.X-6, pt.Y-4, 10, false, muted, strconv.FormatFloat(v, 'f', decimals, 64))
	}
}

// frame draws the base line, last, over the data's feet.
func (p *panel) frame() { p.line([]vg.Point{p.at(p.x0, 0), p.at(p.x1, 0)}, 0.9, muted) }

// niceScale is a step of 1, 2 or 5 times a power of ten, and the multiple of it at or above v, in at most most steps.
func niceScale(v float64, most int) (step, top float64) {
	if !(v > 0) {
		v = 1
	}
	for e := math.Floor(math.Log10(v)) - 1; ; e++ {
		for _, m := range []float64{1, 2, 5} {
			step = m * math.Pow(10, e)
			if n := math.Ceil(v/step - 1e-9); n <= float64(most) {
				return step, max(n, 1) * step
			}
		}
	}
}

// key is one entry of a legend.
type key struct {
	name   string
	clr    color.Color
	line   bool
	dashes []vg.Length
}

// legendRow is how far one row of a legend stands above another.
const legendRow vg.Length = 15

// The swatch before an entry of a legend and the gap after it, which leaves room for a wider font in a reader of SVG.
const legendSize, swatch, legendGap vg.Length = 10.5, 16, 24

// legend writes the entries in one row above the panel, ending at its right edge. What would run into the caption at the
// left stands in a row above.
func (p *panel) legend(keys []key) {
	above := 0
	for legendWidth(keys[above:]) > p.box.Max.X-p.box.Min.X-75 {
		above++
	}
	p.legendAt(1, keys[:above])
	p.legendAt(0, keys[above:])
}

func legendWidth(keys []key) (w vg.Length) {
	for _, k := range keys {
		w += swatch + 5 + textWidth(legendSize, k.name) + legendGap
	}
	return max(0, w-legendGap)
}

// legendAt writes the entries in a row further up.
func (p *panel) legendAt(row int, keys []key) {
	x := p.box.Max.X - legendWidth(keys)
	y := p.box.Max.Y + captionLift + vg.Length(row)*legendRow
	for _, k := range keys {
		if k.line {
			p.line([]vg.Point{{X: x, Y: y + 5}, {X: x + swatch, Y: y + 5}}, 1.8, k.clr, k.dashes...)
		} else {
			fill(p.Canvas, vg.Rectangle{Min: vg.Point{X: x, Y: y + 0.5}, Max: vg.Point{X: x + swatch, Y: y + 9.5}}, k.clr)
		}
		write(p.Canvas, left, x+swatch+5, y, legendSize, false, ink, k.name)
		x += swatch + 5 + textWidth(legendSize, k.name) + legendGap
	}
}

// tick is a boundary on the time axis, and a label: of what follows, or of the moment itself.
type tick struct {
	at     time.Time
	label  string
	moment bool
}

// timeTicks cuts the time from t0 to t1 at midnights of the local clock: by days, months, quarters or years.
// Stretches of several of these are named by the moment at which they begin.
func timeTicks(t0, t1 time.Time) []tick {
	loc := t0.Location()
	days := t1.Sub(t0).Hours() / 24
	years, months, dayStep := 0, 0, 0
	var format string
	switch {
	case days <= 12:
		dayStep, format = 1, "Mon 2 Jan"
	case days <= 70:
		dayStep, format = int(math.Ceil(days/14)), "2 Jan"
	case days <= 500:
		months, format = 1, "Jan"
	case days <= 1500:
		months, format = 3, "Jan 2006"
	default:
		years, format = int(math.Ceil(days/365/16)), "2006"
	}
	at := time.Date(t0.Year(), t0.Month(), t0.Day(), 0, 0, 0, 0, loc)
	switch {
	case months > 0:
		at = time.Date(t0.Year(), (t0.Month()-1)/time.Month(months)*time.Month(months)+1, 1, 0, 0, 0, 0, loc)
	case years > 0:
		at = time.Date(t0.Year(), 1, 1, 0, 0, 0, 0, loc)
	}
	var ticks []tick
	for at.Before(t1) {
		ticks = append(ticks, tick{at, at.Format(format), max(dayStep, months, years) > 1})
		at = at.AddDate(years, months, dayStep)
	}
	return ticks
}

// timeGrid draws the lines at the ticks, and labels below when asked.
func (p *panel) timeGrid(ticks []tick, labels bool) {
	for i, t := range ticks {
		start, end := max(seconds(t.at), p.x0), p.x1
		if i+1 < len(ticks) {
			end = min(end, seconds(ticks[i+1].at))
		}
		if i > 0 && start < p.x1 {
			p.line([]vg.Point{p.at(start, p.y0), p.at(start, p.y1)}, 0.6, grid)
		}
		from, to := p.at(start, p.y0).X, p.at(end, p.y0).X
		switch {
		case labels && t.moment && from+textWidth(10, t.label)/2 < chartW-2:
			write(p.Canvas, center, from, p.box.Min.Y-15, 10, false, muted, t.label)
		case labels && !t.moment && to-from > textWidth(10, t.label)+2:
			write(p.Canvas, center, (from+to)/2, p.box.Min.Y-15, 10, false, muted, t.label)
		}
	}
}

// timeCaption names the axis of time.
func (p *panel) timeCaption(t0, t1 time.Time) {
	years := strconv.Itoa(t0.Year())
	if last := t1.Add(-time.Second).Year(); last != t0.Year() {
		years += " to " + strconv.Itoa(last)
	}
	write(p.Canvas, center, (p.box.Min.X+p.box.Max.X)/2, p.box.Min.Y-34, 11, false, ink, "time by the local clock, "+years)
}

func seconds(t time.Time) float64 { return float64(t.UnixMilli()) / 1000 }
