package hourfile_test

import (
	"bytes"
	"errors"
	"reflect"
	"strings"
	"testing"

	"tideover/weather/hourfile"
)

// holds is the law of every reader: no input panics; an error has a place; what is read is fit for use, and written as our
// CSV it reads back the same.
func holds(t *testing.T, data []byte, opt hourfile.Options) {
	y, err := hourfile.ReadWith("f", bytes.NewReader(data), opt)
	if err != nil {
		var e *hourfile.Error
		if !errors.As(err, &e) || e.Line < 1 || e.Col < 1 || e.File != "f" || e.Msg == "" {
			t.Fatalf("no place: %v", err)
		}
		return
	}
	if err := y.Check(); err != nil {
		t.Fatal(err)
	}
	var b bytes.Buffer
	if err := hourfile.Write(&b, y); err != nil {
		t.Fatal(err)
	}
	text := b.String()
	z, err := hourfile.Read("back", &b)
	if err != nil {
		t.Fatalf("does not read back: %v\n%.2000s", err, text)
	}
	if y.Len() == 1 { // nothing in one row tells its step
		y.StepMin = z.StepMin
	}
	if !z.Start.Equal(y.Start) || z.Start.Format("15:04 -0700") != y.Start.Format("15:04 -0700") {
		t.Fatalf("starts %v, reads back %v", y.Start, z.Start)
	}
	y.Start = z.Start
	y.Site.Name, y.Site.Source = strings.Join(strings.Fields(y.Site.Name), " "), strings.Join(strings.Fields(y.Site.Source), " ")
	for i, s := range y.Notes {
		y.Notes[i] = strings.Join(strings.Fields(s), " ")
	}
	for i, s := range y.Warnings {
		y.Warnings[i] = strings.Join(strings.Fields(s), " ")
	}
	if !reflect.DeepEqual(y, z) {
		t.Fatalf("reads back\n%+v\nwant\n%+v", z, y)
	}
}

func FuzzEPW(f *testing.F) {
	epw := file{format: "epw", days: 1}.String()
	quarters := records(epw, 4, true, func(k int) int { return 15 * k })
	snowy := strings.ReplaceAll(quarters, ",10,0.1,0,88,", ",10,0.1,7,88,")
	for _, s := range []string{epw, epw[:300], quarters, strings.Replace(snowy, ",0.1,7,", ",0.1,999,", 3), "", "\ufeffLOCATION,\"", "LOCATION,,,,,,0,0,0,0\n1", strings.ReplaceAll(epw, "\n", "\r\n"), strings.ReplaceAll(epw, ",300,", ",9999,"),
		"LOCATION,,,,,,0,0,5.5,\n2020,2,29,24,0,,1,,,,,,,5,5,5,0,0,0,0,0,1\n2020,3,1,1,0,,1,,,,,,,5,5,5,0,0,0,0,0,1\n"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { holds(t, data, hourfile.DefaultOptions()) })
}

func FuzzTMY3(f *testing.F) {
	tmy3 := file{format: "tmy3", days: 1}.String()
	for _, s := range []string{tmy3, tmy3[:200], "a\nDate", "1,\"A, B,\xa0\",X,0,0,0,0\nDate,Time,GHI,DNI,DHI,Dry-bulb,Wspd\n12/31/1999,24:00,1,1,1,1,2",
		"1,\"A, B\",X,0,0,0,0\nDate,Time,GHI,DNI,DHI,Dry-bulb,Wspd\n12/31/1999,24:00,1,1,1,-9900,2\n01/01/2000,01:00,1,1,1,1,2"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { holds(t, data, hourfile.DefaultOptions()) })
}

func FuzzPlain(f *testing.F) {
	for _, s := range []string{
		plainHead + "time,ghi_w_m2,temp_c\n2021-01-01 00:00,0,1\n2021-01-01 01:00,0,2\n",
		plainHead + "time,ghi_w_m2,temp_c,snow_depth_mm\n2021-01-01 00:00,0,1,\n2021-01-01 01:00,0,2,120\n2021-01-01 02:00,0,2,9990\n",
		plainHead + "time_end_utc;GHI (kJ/m²);\"temp (°C)\"\n2021-01-01T01:00Z;1,5;-3,2\n2021-01-01T02:00Z;;NA\n2021-01-01T03:00Z;0;0\n",
		plainHead + "# dates: typical\ndate\thour\tghi_wh_m2\tdni_w_m2\tdhi_w_m2\twind_km_h\n31.12.2021\t24\t0\t0\t0\t5\n",
		plainHead + "year,month,day,hour_start,minute,ghi_j_cm2\n2020,2,29,23,30,0\n2020,2,29,23,45,0\n",
		"#lat=0\n#lon=0\n#warning: x\ntime,ghi_w_m2\n2021-01-01T00:00+05:45,9999\n",
		"# latitude_deg: 1\n# longitude_deg: 2\n# offset_h: -11:59\ntime,ghi_w_m2,temp_f\n1800-01-01 00,1,1\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) { holds(t, data, hourfile.DefaultOptions()) })
}

func FuzzDays(f *testing.F) {
	for _, s := range []string{
		"# lat: 52\n# lon: 5\n# name: A,\xa0;\n# note: b,\u00a0\ndate,ghi_kwh_m2,temp_min_c,temp_max_c\n2021-06-01,5,10,20\n2021-06-02,,11,\n2021-06-03,4,9,19\n",
		"# lat: -70\n# lon: 179\n# offset_h: 12\ndate;ghi_mj_m2;temp_c\n01.06.2021;0;-20\n02.06.2021;0,01;-20\n",
		"# lat: 89\n# lon: 0\ntime_utc,ghi_j_cm2\n2021-06-01 00:00,1000\n2021-06-02 00:00,1000\n2021-06-03 00:00,1000\n",
	} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		opt := hourfile.DefaultOptions()
		opt.Cut = true
		holds(t, data, opt)
	})
}

func FuzzLayout(f *testing.F) {
	f.Add([]byte(knmiHead+"  323,20110101,    1,   30,   40,    0\r\n  323,20110101,    2,   40,     ,    7\r\n  323,20110102,   24,   40,   -5,    7\r\n"), uint8(0))
	f.Add([]byte("when;light;t\n31/12/2020 23:30;1,5;4\n31/12/2020 24:00;2;5\n"), uint8(1))
	f.Add([]byte("# c\n2021 1 1 0100 33 -7999\n2021 1 1 0200 33 4\n"), uint8(2))
	f.Fuzz(func(t *testing.T, data []byte, which uint8) {
		l := hourfile.DefaultLayout()
		switch which % 3 {
		case 0:
			l = knmi()
		case 1:
			l.Time = []hourfile.Part{{Column: "when", Form: "DD/MM/YYYY hh:mm"}}
			l.GHI, l.Temp = hourfile.Held{Column: "light", Unit: "kJ/m2"}, hourfile.Held{Column: "t", Unit: "F"}
			l.TimeIs = hourfile.StepEnd
		case 2:
			l.Time = []hourfile.Part{{Column: "1", Form: "YYYY"}, {Column: "2", Form: "MM"}, {Column: "3", Form: "DD"}, {Column: "4", Form: "hhmm"}}
			l.GHI, l.Temp = hourfile.Held{Column: "5", Unit: "W/m2"}, hourfile.Held{Column: "6", Unit: "0.1 C"}
			l.Separator, l.Missing = hourfile.Blanks, []float64{-7999}
		}
		opt := hourfile.DefaultOptions()
		opt.Layout, opt.LatDeg, opt.LonDeg, opt.OffsetH, opt.Cut = &l, 51.5, 3.9, 1, which > 127
		holds(t, data, opt)
	})
}
