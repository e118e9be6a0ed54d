package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"tideover/sim/report/invented"
	"tideover/sim/study"
)

func spells() *study.Spells {
	s := invented.Spells(time.Date(2025, 1, 1, 0, 0, 0, 0, time.UTC), 365, 30, 0.1, 0.2)
	s.Often = invented.Often(s, 50)
	return s
}

func TestSpellGolden(t *testing.T) {
	var b bytes.Buffer
	if err := Spell(&b, header(), spells()); err != nil {
		t.Fatal(err)
	}
	golden(t, "spells.txt", b.Bytes())
}

// TestSpellSentences: every mood of a stretch.
func TestSpellSentences(t *testing.T) {
	s := &study.Spells{Days: 30, Often: &study.Often{Years: 50}, FuelLPerH: 0.5}
	nan := math.NaN()
	for _, c := range []struct {
		stretch study.Stretch
		want    string
	}{
		{study.Stretch{From: 21, To: 0, Dates: 76, Days: 3, Middle: 3, FullH: 200, LongerPerYear: nan},
			"From mid-November to mid-January it carries 3 days, and needs 9 days to be full again."},
		{study.Stretch{From: 0, To: 23, Dates: 365, Days: 1, Middle: 4, FullH: 24, LongerPerYear: 1.26},
			"All year it carries 1 day (4 on half of the start dates), and needs 1 day to be full again; a longer one begins then 1.3 times a year."},
		{study.Stretch{From: 8, To: 9, Dates: 31, Days: 30, Middle: 30, BackupH: 95, FullH: 792, LongerPerYear: nan},
			"In May it carries 30 days, the longest tried, with the backup charger running for up to 95 h (48 l of fuel), and needs 33 days to be full again."},
		{study.Stretch{From: 2, To: 5, Dates: 59, Off: 7, FullH: math.Inf(1), LongerPerYear: 0.2},
			"From the start of February to the end of March it does not carry a single day; after one it is not full again within 90 days; on 7 of 59 start dates its loads are off already; a longer one begins then once in 5 years."},
		{study.Stretch{From: 2, To: 5, Dates: 59, Middle: 2, FullH: 30, LongerPerYear: nan},
			"From the start of February to the end of March it is not sure to carry a single day (2 on half of the start dates); after one it needs 2 days to be full again."},
		{study.Stretch{From: 8, To: 15, Dates: 123, Days: 30, Middle: 30, FullH: 0, LongerPerYear: nan},
			"From the start of May to the end of August it carries 30 days, the longest tried, and is full at its end."},
		{study.Stretch{From: 8, To: 15, Dates: 123, Days: 29, Middle: 30, FullH: 12, LongerPerYear: 0},
			"From the start of May to the end of August it carries 29 days (30 on half of the start dates), and needs 1 day to be full again; none longer began then in 50 years."},
	} {
		if got := sentence(s, c.stretch); got != c.want {
			t.Errorf("got  %s\nwant %s", got, c.want)
		}
	}
}

func TestSpellIsNarrow(t *testing.T) {
	s := spells()
	s.Shares = []float64{0.1234, 1}
	s.Trips, s.StartOff[3] = 17, true
	s.Warnings, s.Notes = []string{strings.Repeat("a long warning ", 20)}, []string{"a note"}
	h := header()
	h.Title = strings.Repeat("wide ", 40)
	var b bytes.Buffer
	if err := Spell(&b, h, s); err != nil {
		t.Fatal(err)
	}
	for i, line := range strings.Split(b.String(), "\n") {
		if width(line) > columns {
			t.Errorf("line %d takes %d columns: %s", i+1, width(line), line)
		}
	}
	for _, want := range []string{"12.34 % of the usual sun", "17 steps of the run", "dates off"} {
		if !strings.Contains(strings.Join(strings.Fields(b.String()), " "), want) {
			t.Errorf("%q is not in\n%s", want, b.String())
		}
	}
}

func TestSpellJSONAndCSV(t *testing.T) {
	s := spells()
	var b bytes.Buffer
	if err := SpellJSON(&b, header(), s); err != nil {
		t.Fatal(err)
	}
	var got struct {
		Longest int `json:"longest_days"`
		Shares  []struct {
			Share     float64
			Stretches []struct {
				When    string
				Carried int      `json:"carried_days"`
				Full    *float64 `json:"full_again_days"`
			}
			Months []map[string]any
			Spells []struct {
				Start   string
				Carried int      `json:"carried_days"`
				CutH    *float64 `json:"cut_after_h"`
				Lowest  []float64
				Full    []*float64 `json:"full_again_days"`
			}
			PerYear []float64 `json:"spells_per_year"`
		} `json:"by_share"`
		Notes []string
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if got.Longest != 30 || len(got.Shares) != 2 || len(got.Notes) == 0 {
		t.Fatalf("%d days, %d shares, %d notes", got.Longest, len(got.Shares), len(got.Notes))
	}
	one := got.Shares[0]
	if one.Share != 0.1 || len(one.Stretches) != 2 || one.Stretches[1].Carried != 3 || len(one.Months) != 12 || len(one.Spells) != 365 ||
		len(one.PerYear) != 30 || one.PerYear[0] != 12 {
		t.Errorf("share %v, stretches %v, %d months, %d spells, a year %v", one.Share, one.Stretches, len(one.Months), len(one.Spells), one.PerYear)
	}
	if w := one.Spells[0]; w.Start != "2025-01-01" || w.Carried != 3 || w.CutH == nil || *w.CutH != 77 || len(w.Full) != 30 ||
		math.Abs(*w.Full[2]-62.0/24) > 1e-6 {
		t.Errorf("first spell: %+v", w)
	}
	b.Reset()
	if err := SpellCSV(&b, s); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(rows) != 1+2*365*30 {
		t.Fatalf("%d rows", len(rows))
	}
	// The third and fourth spell from 1 January at a tenth: by construction one is carried, the other cut after 77 h.
	for i, want := range map[int]string{3: "0.1,2025-01-01,3,0.95,true,,0.1,2.58", 4: "0.1,2025-01-01,4,0.95,false,77,0.1,3.58"} {
		if got := strings.Join(rows[i], ","); got != want {
			t.Errorf("row %d: %s, want %s", i, got, want)
		}
	}
}

// Where a charger stands beside the sun, each spell's hours of it and its fuel are in the table.
func TestSpellCSVOfABackup(t *testing.T) {
	s := spells()
	s.Backup, s.FuelLPerH = true, 0.5
	s.Of[0][0].Ends[2].BackupH = 7
	var b bytes.Buffer
	if err := SpellCSV(&b, s); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(b.String(), "\n")
	if !strings.HasSuffix(lines[0], ",full_again_days,backup_h,fuel_l") || lines[3] != "0.1,2025-01-01,3,0.95,true,,0.1,2.58,7,3.5" {
		t.Errorf("got %s\n%s", lines[0], lines[3])
	}
}

// A charger beside the sun is told of, and so are its quiet hours.
func TestSpellNotesOfABackup(t *testing.T) {
	has := func(s *study.Spells, words string) bool {
		return strings.Contains(strings.Join(spellNotes(s), "\n"), words)
	}
	s := &study.Spells{}
	if has(s, "backup") {
		t.Error("there is no backup, and it is told of")
	}
	if s.Backup = true; !has(s, "as long as there is fuel") || has(s, "quiet") {
		t.Errorf("notes of a backup: %q", spellNotes(s))
	}
	if s.Quiet = true; !has(s, "quiet hours") {
		t.Errorf("notes of a backup with quiet hours: %q", spellNotes(s))
	}
}
