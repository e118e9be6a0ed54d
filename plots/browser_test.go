package plots

import (
	"context"
	"encoding/xml"
	"image/png"
	"io"
	"os"
	"os/exec"
	"path/filepath"
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
		ctx, cancel := context.WithTimeout(context.Background(), time.Minute)
		cmd := exec.CommandContext(ctx, browser, "--headless", "--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
			"--disable-background-networking", "--disable-component-update", "--disable-sync", "--hide-scrollbars",
			"--user-data-dir="+profile, "--window-size=1200,560", "--screenshot="+shot, "file://"+chart)
		out, err := cmd.CombinedOutput()
		cancel()
		if err != nil {
			t.Fatalf("%s: %v\n%s", chart, err, out)
		}
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
		if words := textOf(t, chart); len(words) < 10 {
			t.Errorf("%s: the words are no text: %q", chart, words)
		}
	}
	t.Logf("%d charts seen", len(charts))
}

// textOf returns the texts of an SVG: they must stay words, to be read and searched.
func textOf(t *testing.T, chart string) (words []string) {
	f, err := os.Open(chart)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	d := xml.NewDecoder(f)
	inText := false
	for {
		tok, err := d.Token()
		if err == io.EOF {
			return words
		}
		if err != nil {
			t.Fatalf("%s: %v", chart, err)
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
