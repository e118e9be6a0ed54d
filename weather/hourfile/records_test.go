package hourfile_test

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"tideover/weather/hourfile"
)

// records cuts each hour of an EPW into n records of the same light; perRecord writes it as their energy. minute gives what
// a record (1..n) is named by. Temperature runs on in a straight line, as a test of the order.
func records(epw string, n int, perRecord bool, minute func(k int) int) string {
	var b strings.Builder
	before := math.NaN()
	for line := range strings.Lines(epw) {
		f := strings.Split(strings.TrimRight(line, "\r\n"), ",")
		if f[0] == "DATA PERIODS" {
			f[2] = fmt.Sprint(n)
		}
		if len(f) < 30 || f[0][0] < '0' || f[0][0] > '9' {
			b.WriteString(strings.Join(f, ",") + "\n")
			continue
		}
		var c float64
		fmt.Sscan(f[6], &c)
		if math.IsNaN(before) {
			before = c
		}
		for k := 1; k <= n; k++ {
			g := append([]string{}, f...)
			g[4] = fmt.Sprint(minute(k))
			g[6] = fmt.Sprintf("%.6f", before+(c-before)*float64(k)/float64(n))
			for _, q := range []int{13, 14, 15} {
				var v float64
				fmt.Sscan(f[q], &v)
				if perRecord {
					v /= float64(n)
				}
				g[q] = fmt.Sprint(v)
			}
			b.WriteString(strings.Join(g, ",") + "\n")
		}
		before = c
	}
	return b.String()
}

func TestSeveralRecordsAnHour(t *testing.T) {
	for _, name := range []string{"can-ottawa.epw", "nic-managua.epw", "deu-aachen-2022.epw"} {
		epw := string(shared(t, name))
		hourly, err := hourfile.Read(name, strings.NewReader(epw))
		if err != nil {
			t.Fatal(err)
		}
		for _, n := range []int{2, 4, 12} {
			step := 60 / n
			for _, c := range []struct {
				names     string
				perRecord bool
				minute    func(k int) int
				note      string
			}{
				{"by their end", false, func(k int) int { return k * step }, "as the mean of each record"},
				{"by their start", true, func(k int) int { return (k - 1) * step }, "as the energy of each record"},
				{"by nothing", true, func(int) int { return 0 }, "as the energy of each record"},
			} {
				if name != "can-ottawa.epw" && (n > 2 || c.names == "by nothing") || n > 4 && c.names != "by their start" {
					continue // enough: half-hours are the hardest to tell
				}
				y, err := hourfile.Read(name, strings.NewReader(records(epw, n, c.perRecord, c.minute)))
				if err != nil {
					t.Fatalf("%s, %d records named %s: %v", name, n, c.names, err)
				}
				if y.StepMin != step || y.Len() != n*hourly.Len() || !y.Start.Equal(hourly.Start) || !strings.Contains(strings.Join(y.Notes, " "), c.note) {
					t.Errorf("%s, %d records named %s: %d steps of %d min from %v, notes %q", name, n, c.names, y.Len(), y.StepMin, y.Start, y.Notes)
				}
				for i := range y.GHIWm2 {
					h := i / n
					if d := math.Abs(y.GHIWm2[i]-hourly.GHIWm2[h]) + math.Abs(y.DHIWm2[i]-hourly.DHIWm2[h]); d > 1e-6 {
						t.Fatalf("%s, %d records named %s: step %d has %v W/m2, the hour %v", name, n, c.names, i, y.GHIWm2[i], hourly.GHIWm2[h])
					}
				}
				// Steps of a straight line have the mean of the line, but for the first reading of the file.
				for h := 1; h < hourly.Len(); h++ {
					var mean float64
					for _, v := range y.TempC[h*n : h*n+n] {
						mean += v / float64(n)
					}
					if math.Abs(mean-hourly.TempC[h]) > 1e-5 { // six digits are written
						t.Fatalf("%s, %d records named %s: hour %d has %v C, want %v", name, n, c.names, h, mean, hourly.TempC[h])
					}
				}
			}
		}
	}
}

// short returns a text without the first line that begins so.
func short(text, line string) string {
	from := strings.Index(text, line)
	return text[:from] + text[from+strings.IndexByte(text[from:], '\n')+1:]
}

func TestOddRecordsAnHour(t *testing.T) {
	epw := file{format: "epw", days: 40}.String()
	minute := func(k int) int { return 15 * k }
	for _, c := range []struct{ name, text, want string }{
		{"one record short", short(records(epw, 4, false, func(int) int { return 60 }), "2021,1,2,3,60"),
			"demo.txt:108:1: this hour has 3 records, where the header says 4, and their minutes are all 60: they cannot be placed"},
		{"a minute off", strings.Replace(records(epw, 4, false, minute), "2021,1,2,3,30", "2021,1,2,3,31", 1), "demo.txt:109:1: 2 Jan 2021 02:16 does not fit the steps of 15 min before it, which start at 1 Jan 2021 00:00"},
		{"a minute too many", strings.Replace(records(epw, 4, false, minute), "2021,1,2,3,30", "2021,1,2,3,61", 1), `demo.txt:109:12: minute: "61" is not a whole number from 0 to 60`},
	} {
		_, err := read(c.text)
		if err == nil || !strings.HasPrefix(err.Error(), c.want) {
			t.Errorf("%s: got %v, want %s", c.name, err, c.want)
		}
	}
	// One missing record is a gap like any other: in the light (three columns) and the temperature. The made-up file is no year.
	y, err := read(short(records(epw, 4, false, minute), "2021,1,2,12,30"))
	if err != nil || len(y.Warnings) != 5 || y.Len() != 40*96 {
		t.Errorf("a record short: %v, %+v", err, y.Warnings)
	}
	// A header that is wrong.
	y, err = read(strings.Replace(epw, "DATA PERIODS,1,1", "DATA PERIODS,1,4", 1))
	if err != nil || y.StepMin != 60 || len(y.Warnings) == 0 || y.Warnings[0] != "the header says 4 records per hour, but the file has one: it is read by the hour" {
		t.Errorf("a wrong header: %v, %+v", err, y.Warnings)
	}
	// Too short to tell.
	dull := records(file{format: "epw", days: 3}.String(), 4, true, minute)
	y, err = read(dull)
	if err != nil || len(y.Warnings) == 0 || !strings.Contains(y.Warnings[0], "too short or too dull to tell") || y.GHIWm2[4*12] != 75 {
		t.Errorf("three days: %v, %+v", err, y.Warnings)
	}
	var b bytes.Buffer
	if err := hourfile.Write(&b, y); err != nil {
		t.Fatal(err)
	}
	if z, err := hourfile.Read("back", &b); err != nil || z.StepMin != 15 || z.GHIWm2[4*12] != 75 {
		t.Errorf("reads back: %v", err)
	}
}
