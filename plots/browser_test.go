package plots

import (
	"bytes"
	"context"
	"encoding/xml"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
)

// TestChartsInABrowser opens the charts that a run left in the folders below $TIDEOVER_CHARTS in the browser
// $TIDEOVER_BROWSER, as a reader of a write-up would, and looks at what it paints. CI sets both.
func TestChartsInABrowser(t *testing.T) {
	browser, dir := os.Getenv("TIDEOVER_BROWSER"), os.Getenv("TIDEOVER_CHARTS")
	if browser == "" {
		t.Skip("TIDEOVER_BROWSER names no browser")
	}
	charts, err := filepath.Glob(filepath.Join(dir, "*", "*.svg"))
	if err != nil || len(charts) == 0 {
		t.Fatalf("no charts below %s: %v", dir, err)
	}
	profile := t.TempDir()
	for _, chart := range charts {
		shot := filepath.Join(t.TempDir(), "shot.png")
		out := see(t, browser, profile, "--hide-scrollbars", "--window-size=1200,560", "--screenshot="+shot, "file://"+chart)
		f, err := os.Open(shot)
		if err != nil {
			t.Fatalf("%s: %v\n%s", chart, err, out)
		}
		img, err := png.Decode(f)
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		// The chart is 900 x 420 pt, 1200 x 560 px: something must be painted in each quarter, and several colours of it.
		b := img.Bounds()
		colours := map[[3]uint32]bool{}
		var painted [4]int
		for y := b.Min.Y; y < b.Max.Y; y++ {
			for x := b.Min.X; x < b.Max.X; x++ {
				r, g, bl, _ := img.At(x, y).RGBA()
				if r>>8 < 250 || g>>8 < 250 || bl>>8 < 250 {
					colours[[3]uint32{r >> 12, g >> 12, bl >> 12}] = true
					painted[2*((y-b.Min.Y)*2/b.Dy())+(x-b.Min.X)*2/b.Dx()]++
				}
			}
		}
		if b.Dx() != 1200 || b.Dy() != 560 || len(colours) < 8 || min(painted[0], painted[1], painted[2], painted[3]) < 500 {
			t.Errorf("%s: %v with %d colours, painted by quarters %v: blank in part, or of another size", chart, b, len(colours), painted)
		}
		words := textOf(t, strings.NewReader(read(t, chart)))
		if len(words) < 10 {
			t.Errorf("%s: the words are no text: %q", chart, words)
		}
		if dom := textOf(t, strings.NewReader(see(t, browser, profile, "--dump-dom", "file://"+chart))); !slices.Equal(dom, words) {
			t.Errorf("%s: the browser holds the words %q, the file %q", chart, dom, words)
		}
	}
	t.Logf("%d charts seen", len(charts))
}

// see runs the browser and returns what it prints.
func see(t *testing.T, browser, profile string, args ...string) string {
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute)
	defer cancel()
	cmd := exec.CommandContext(ctx, browser, append([]string{"--headless", "--no-sandbox", "--disable-gpu", "--disable-quic",
		"--no-first-run", "--disable-background-networking", "--disable-component-update", "--disable-sync", "--user-data-dir=" + profile},
		args...)...)
	var complaints bytes.Buffer
	cmd.Stderr, cmd.WaitDelay = &complaints, time.Second // its children may hold the pipes
	out, err := cmd.Output()
	if err != nil {
		t.Fatalf("%v: %v\n%s", cmd.Args, err, complaints.String())
	}
	return string(out)
}

func read(t *testing.T, file string) string {
	b, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// textOf returns the texts of an SVG: they must stay words, to be read and searched.
func textOf(t *testing.T, svg io.Reader) (words []string) {
	d := xml.NewDecoder(svg)
	inText := false
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return words
		}
		if err != nil {
			t.Fatal(err)
		}
		switch e := tok.(type) {
		case xml.StartElement:
			inText = e.Name.Local == "text"
		case xml.EndElement:
			inText = false
		case xml.CharData:
			if s := strings.TrimSpace(string(e)); inText && s != "" {
				words = append(words, s)
			}
		}
	}
}
