package hourfile_test

import (
	"bytes"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"tideover/weather/hourfile"
)

// snowEPW is a made-up EPW whose snow depth is what f gives for each row; cold is the dry bulb in the place of the file's.
func snowEPW(days int, cold string, f func(row int) string) string {
	return file{format: "epw", days: days, edit: func(row int, s string) string {
		s = strings.Replace(s, ",10,0.1,0,88,", ",10,0.1,"+f(row)+",88,", 1)
		if cold != "" {
			p := strings.SplitN(s, ",", 8)
			p[6] = cold
			s = strings.Join(p, ",")
		}
		return s
	}}.String()
}

// The field, its unit and its code: the public EPW data dictionary, field 31.
func TestSnowOfEPW(t *testing.T) {
	winter := func(row int) string { // 12 cm in the third week
		if row >= 14*24 && row < 21*24 {
			return "12"
		}
		return "0"
	}
	for _, c := range []struct {
		name, cold string
		f          func(row int) string
		at         map[int]float64 // nil: no column
		note       string
	}{
		{"depths", "", winter, map[int]float64{0: 0, 14*24 - 1: 0, 14 * 24: 12, 21*24 - 1: 12, 21 * 24: 0}, ""},
		{"codes between", "", func(row int) string {
			if row%24 != 0 {
				return "999"
			}
			return winter(row)
		}, map[int]float64{13*24 + 23: 0, 14 * 24: 12, 14*24 + 23: 12, 21 * 24: 0},
			"the snow depth is missing in 8395 of 8760 steps: the reading before was kept"},
		{"codes only", "", func(int) string { return "999" }, nil, ""},
		{"nothing a depth can be", "", func(row int) string { return []string{"", "x", "-1", "1e9"}[row%4] }, nil, ""},
		{"one number", "", func(int) string { return "99" }, nil, "the snow depth is 99 cm in every row: taken as not known"},
		{"nought where it freezes", "-3.5", func(int) string { return "0" }, nil,
			"the snow depth is 0 in every row, though the mean of the coldest month is -3.5 C: taken as not known"},
		{"nought elsewhere", "", func(int) string { return "0" }, nil, ""},
		{"marks", "", func(row int) string { return strings.Replace(winter(row), "12", "1", 1) }, map[int]float64{0: 0, 14 * 24: 5, 21 * 24: 0},
			"the snow depth is 0 or 1 in every row: taken as marks of bare and covered ground, the latter as 5 cm; snow that falls on snow is not seen"},
		{"a long gap", "", func(row int) string {
			if row >= 15*24 && row < 18*24 {
				return "999"
			}
			return winter(row)
		}, map[int]float64{15 * 24: 12, 18*24 - 1: 12}, "the snow depth is missing in 72 of 8760 steps: the reading before was kept"},
		{"most of the winter", "", func(row int) string {
			if row >= 15*24 && row < 60*24 {
				return "999"
			}
			return winter(row)
		}, nil, "the snow depth is missing in 1080 of 8760 steps in gaps longer than 48 h: not used"},
		{"no summer", "", func(row int) string {
			if row >= 90*24 && row < 300*24 {
				return "999"
			}
			return winter(row)
		}, map[int]float64{14 * 24: 12, 100 * 24: 0, 299 * 24: 0}, "the snow depth is missing in 5040 of 8760 steps: the reading before was kept"},
	} {
		t.Run(c.name, func(t *testing.T) {
			y, err := read(snowEPW(365, c.cold, c.f))
			if err != nil {
				t.Fatal(err)
			}
			if (y.SnowDepthCM == nil) != (c.at == nil) {
				t.Fatalf("%d steps of snow, want a column: %v", len(y.SnowDepthCM), c.at != nil)
			}
			for i, want := range c.at {
				if got := y.SnowDepthCM[i]; got != want {
					t.Errorf("step %d: %v cm, want %v", i, got, want)
				}
			}
			if c.note == "" && len(y.Notes) > 0 || c.note != "" && !slices.Equal(y.Notes, []string{c.note}) {
				t.Errorf("notes %q, want %q", y.Notes, c.note)
			}
			if (c.name == "a long gap") != (len(y.Warnings) == 1) {
				t.Errorf("warnings %q", y.Warnings)
			}
		})
	}
	// A row may end before the field.
	short := file{format: "epw", days: 2, edit: func(_ int, s string) string { return strings.Join(strings.Split(s, ",")[:22], ",") }}.String()
	if y, err := read(short); err != nil || y.SnowDepthCM != nil {
		t.Errorf("short rows: %v", err)
	}
}

func TestSnowOfPlainCSV(t *testing.T) {
	for _, c := range []struct{ title, cell string }{
		{"snow_depth_cm", "25.4"}, {"Snow depth (mm)", "254"}, {"snow_depth_m", "0.254"}, {"snowdepth_in", "10"},
	} {
		text := plainHead + "time,ghi_w_m2,temp_c," + c.title + "\n" + day(24, func(i int, at time.Time) string {
			depth := "0"
			if i >= 7 {
				depth = c.cell
			}
			if i == 9 {
				depth = "-999"
			}
			return fmt.Sprintf("%s,%d,-4,%s", at.Format("2006-01-02 15:04"), lit(i), depth)
		})
		y, err := read(text)
		if err != nil {
			t.Fatalf("%s: %v", c.title, err)
		}
		for i, got := range y.SnowDepthCM {
			want := 0.0
			if i >= 7 {
				want = 25.4
			}
			if got < want-1e-9 || got > want+1e-9 { // the rounding of a product
				t.Errorf("%s, step %d: %v cm, want %v", c.title, i, got, want)
			}
		}
		if !slices.Contains(y.Notes, "the snow depth is missing in 1 of 24 steps: the reading before was kept") {
			t.Errorf("%s: notes %q", c.title, y.Notes)
		}
		var b bytes.Buffer
		if err := hourfile.Write(&b, y); err != nil {
			t.Fatal(err)
		}
		z, err := hourfile.Read("back", &b)
		if err != nil || !reflect.DeepEqual(y.SnowDepthCM, z.SnowDepthCM) {
			t.Errorf("%s: reads back %v, %v", c.title, z.SnowDepthCM, err)
		}
	}
	_, err := read(plainHead + "time,ghi_w_m2,temp_c,snow_depth_cm\n2021-01-01 00:00,0,1,0\n2021-01-01 01:00,0,1,2500\n")
	if want := "demo.txt:8:22: snow depth: 2500 is not between 0 and 2000 cm (the file has 2500, read as cm)"; err == nil || err.Error() != want {
		t.Errorf("got  %v\nwant %s", err, want)
	}
	y, err := read(plainHead + "time,ghi_w_m2,temp_c,snow_depth_cm\n2021-01-01 00:00,0,1,\n2021-01-01 01:00,0,1,NA\n")
	if err != nil || y.SnowDepthCM != nil || !slices.Contains(y.Notes, "the file has no snow depth") {
		t.Errorf("an empty column: %v, %v", y, err)
	}
}

func TestSnowOfDaysAndLayouts(t *testing.T) {
	y, err := read("# lat: 52\n# lon: 5\ndate,ghi_kwh_m2,temp_c,snow_depth_cm\n2021-01-01,0.5,-3,0\n2021-01-02,0.5,-3,8\n2021-01-03,0.5,-3,7\n")
	if err != nil {
		t.Fatal(err)
	}
	for i, got := range y.SnowDepthCM {
		if want := []float64{0, 8, 7}[i/24]; got != want {
			t.Errorf("day file, hour %d: %v cm, want %v", i, got, want)
		}
	}
	l := hourfile.DefaultLayout()
	l.Time = []hourfile.Part{{Column: "when", Form: "YYYY-MM-DD hh:mm"}}
	l.GHI, l.SnowDepth = hourfile.Held{Column: "light", Unit: "W/m2"}, hourfile.Held{Column: "SD", Unit: "mm"}
	opt := at(52, 5)
	opt.OffsetH, opt.Layout = 1, &l
	y, err = hourfile.ReadWith("l.csv", strings.NewReader("when,light,SD\n2021-01-01 00:00,0,120\n2021-01-01 01:00,0,130\n"), opt)
	if err != nil || !slices.Equal(y.SnowDepthCM, []float64{12, 13}) {
		t.Errorf("layout: %v, %v", y, err)
	}
}

// What the real files hold in the field, by hand: 0 and 1 at Ottawa (1 in six stretches from December to April),
// 0 throughout at Leadville, at 3026 m, 99 at Invercargill, 899 at Managua, 999 at Aachen; TMY3 has no such column.
func TestSnowOfRealFiles(t *testing.T) {
	for _, c := range []struct {
		file, note string
		covered    int // hours
	}{
		{"can-ottawa.epw", "0 or 1 in every row", 2784},
		{"usa-co-leadville.epw", "0 in every row, though", 0},
		{"nzl-invercargill.epw", "99 cm in every row", 0},
		{"nic-managua.epw", "899 cm in every row", 0},
		{"deu-aachen-2022.epw", "", 0},
		{"usa-ak-juneau.tmy3.csv", "", 0},
	} {
		y, err := hourfile.Read(c.file, bytes.NewReader(shared(t, c.file)))
		if err != nil {
			t.Fatal(err)
		}
		covered := 0
		for _, v := range y.SnowDepthCM {
			if v > 0 {
				covered++
			}
		}
		said := slices.ContainsFunc(y.Notes, func(n string) bool { return c.note != "" && strings.Contains(n, c.note) })
		if covered != c.covered || (c.covered > 0) != (y.SnowDepthCM != nil) || said != (c.note != "") {
			t.Errorf("%s: %d hours of snow, want %d; notes %q", c.file, covered, c.covered, y.Notes)
		}
	}
}
