package hourfile

import (
	"bufio"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"tideover/weather"
)

// Write writes a year as our plain CSV, every number in full, so that Read gives the same year back: its place, start,
// step, columns, warnings and notes.
func Write(w io.Writer, y *weather.Year) error {
	if err := y.Check(); err != nil {
		return err
	}
	b := bufio.NewWriterSize(w, 1<<16)
	s := y.Site
	dates := "measured"
	if !y.Measured {
		dates = "typical"
	}
	fmt.Fprintf(b, "# Weather on one clock: local standard time, each row from its time on for %d min; means of the step.\n", y.StepMin)
	fmt.Fprintf(b, "# name: %s\n# source: %s\n", oneLine(s.Name), oneLine(s.Source))
	for _, v := range []struct {
		name  string
		value float64
	}{{"latitude_deg", s.LatDeg}, {"longitude_deg", s.LonDeg}, {"elevation_m", s.ElevationM}} {
		fmt.Fprintf(b, "# %s: %s\n", v.name, plain(v.value))
	}
	min := int(math.Round(math.Abs(s.OffsetH) * 60))
	sign := "+"
	if s.OffsetH < 0 {
		sign = "-"
	}
	fmt.Fprintf(b, "# offset_h: %s%02d:%02d\n# dates: %s\n", sign, min/60, min%60, dates)
	for _, t := range y.Warnings {
		fmt.Fprintf(b, "# warning: %s\n", oneLine(t))
	}
	for _, t := range y.Notes {
		fmt.Fprintf(b, "# note: %s\n", oneLine(t))
	}
	columns := [][]float64{y.GHIWm2}
	b.WriteString("time,ghi_w_m2")
	if y.DNIWm2 != nil {
		columns = append(columns, y.DNIWm2, y.DHIWm2)
		b.WriteString(",dni_w_m2,dhi_w_m2")
	}
	columns = append(columns, y.TempC)
	b.WriteString(",temp_c")
	if y.WindMs != nil {
		columns = append(columns, y.WindMs)
		b.WriteString(",wind_m_s")
	}
	if y.SnowDepthCM != nil {
		columns = append(columns, y.SnowDepthCM)
		b.WriteString(",snow_depth_cm")
	}
	b.WriteByte('\n')
	var line []byte
	start := y.Start.In(s.Zone())
	for i := range y.Len() {
		line = start.Add(time.Duration(i*y.StepMin)*time.Minute).AppendFormat(line[:0], "2006-01-02 15:04")
		for _, c := range columns {
			line = append(line, ',')
			line = strconv.AppendFloat(line, c[i], 'f', -1, 64)
		}
		b.Write(append(line, '\n'))
	}
	return b.Flush()
}

func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// oneLine keeps a text on its line.
func oneLine(s string) string { return strings.Join(strings.Fields(s), " ") }
