package web

import (
	"bytes"
	"encoding/csv"
	"slices"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto/instrument"
)

func anyInstrument(instrument.ID) bool { return true }

// TestSectionRoundTrip writes a section and reads it back unchanged, with
// names that would trouble a careless file.
func TestSectionRoundTrip(t *testing.T) {
	in := hub.Section{Name: "x", Chairs: []hub.Chair{
		{Label: "Horn 1", Name: `Ada "the bell", jr.`, Part: "1st horn in F", Instrument: "horn_double", Row: 0, Place: 0,
			Settings: instrument.Settings{instrument.Main: 12.5, instrument.FMain: 3, instrument.BbSecond: 9}, Travel: instrument.Settings{instrument.Main: 40}},
		{Label: "Tuba", Name: "=1+1", Instrument: "tuba_bbb", Row: 2, Place: 4, Settings: instrument.Settings{}, Travel: instrument.Settings{}},
		{Label: "'Bone", Name: "-1+1", Part: "'", Instrument: "trombone_tenor", Row: 1, Place: 1, Settings: instrument.Settings{}, Travel: instrument.Settings{}},
		{Label: "Trumpet\n2", Name: "Žofie", Instrument: "trumpet_bb", Row: 1, Settings: instrument.Settings{}, Travel: instrument.Settings{}},
	}}
	var file bytes.Buffer
	if err := WriteSection(&file, in); err != nil {
		t.Fatal(err)
	}
	if strings.Contains(file.String(), ",=1+1") || strings.Contains(file.String(), ",-1+1") {
		t.Errorf("a name became a formula:\n%s", file.String())
	}
	out, err := ReadChairs(&file, anyInstrument)
	if err != nil {
		t.Fatal(err)
	}
	if len(out) != len(in.Chairs) {
		t.Fatalf("%d chairs, need %d", len(out), len(in.Chairs))
	}
	for i, want := range in.Chairs {
		got := out[i]
		if got.Label != want.Label || got.Name != want.Name || got.Part != want.Part || got.Instrument != want.Instrument ||
			got.Row != want.Row || got.Place != want.Place || len(got.Settings) != len(want.Settings) || got.Settings[instrument.Main] != want.Settings[instrument.Main] ||
			got.Travel[instrument.Main] != want.Travel[instrument.Main] {
			t.Errorf("chair %d: %+v, need %+v", i, got, want)
		}
	}
}

// TestEverySlideIsWritten holds the order of slides in a file against the
// catalogue: a slide that it lacks would be lost on the way through a file.
func TestEverySlideIsWritten(t *testing.T) {
	for _, in := range instrument.Catalogue() {
		for _, s := range in.Slides {
			if !slices.Contains(slideOrder, s.ID) {
				t.Errorf("%s: the %s is not written", in.ID, s.Name)
			}
		}
	}
}

// TestReadChairs reads what spreadsheets and people write, and names what is
// wrong by its line.
func TestReadChairs(t *testing.T) {
	for _, tt := range []struct{ name, text, fault string }{
		{"least columns", "label,instrument\nHorn 1,horn_double\n", ""},
		{"other order, byte order mark, capitals", "\ufeffInstrument,Label\ntuba_bbb,Tuba\n", ""},
		{"short line", "label,instrument,name\nTuba,tuba_bbb\n", ""},
		{"empty", "", "the file is empty"},
		{"head alone", "label,instrument\n", "no chairs"},
		{"no label column", "name,instrument\nAda,horn_double\n", "the column “label” is not in line 1"},
		{"no label", "label,instrument\n,horn_double\n", "line 2: a chair needs a label"},
		{"unknown instrument", "label,instrument\nA,horn_double\nB,kazoo\n", "line 3: there is no instrument “kazoo”"},
		{"row of 0", "label,instrument,row\nA,horn_double,0\n", "row “0” is not a number from 1"},
		{"slide", "label,instrument,slides\nA,horn_double,main=abc\n", "slide “main=abc”"},
		{"slide not a number", "label,instrument,slides\nA,horn_double,main=NaN\n", "slide “main=NaN”"},
		{"open quote", "label,instrument\n\"A,horn_double\n", "section file"},
		{"too many", "label,instrument\n" + strings.Repeat("A,horn_double\n", maxChairs+1), "there is room for 400"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			_, err := ReadChairs(strings.NewReader(tt.text), func(id instrument.ID) bool { return id != "kazoo" })
			switch {
			case tt.fault == "" && err != nil:
				t.Errorf("refused: %v", err)
			case tt.fault != "" && (err == nil || !strings.Contains(err.Error(), tt.fault)):
				t.Errorf("error %v, need one with %q", err, tt.fault)
			}
		})
	}
}

// FuzzReadChairs reads anything without panic, and what it takes can be
// written and read again.
func FuzzReadChairs(f *testing.F) {
	f.Add("label,instrument,slides\nHorn 1,horn_double,main=12/40 f=3\n")
	f.Add("row,place,label,name,part,instrument,slides\n1,1,\"a\nb\",'=x,,tuba_bbb,\n")
	f.Fuzz(func(t *testing.T, text string) {
		chairs, err := ReadChairs(strings.NewReader(text), anyInstrument)
		if err != nil {
			return
		}
		var again bytes.Buffer
		if err := WriteSection(&again, hub.Section{Chairs: chairs}); err != nil {
			t.Fatal(err)
		}
		back, err := ReadChairs(&again, anyInstrument)
		if err != nil || len(back) != len(chairs) {
			t.Fatalf("%d chairs written, %d read: %v", len(chairs), len(back), err)
		}
		for i, c := range chairs { // but for carriage returns, which the format takes for line ends
			if b := back[i]; withoutCR(b.Label) != withoutCR(c.Label) || withoutCR(b.Name) != withoutCR(c.Name) || withoutCR(b.Part) != withoutCR(c.Part) {
				t.Fatalf("%+v became %+v", c, b)
			}
		}
	})
}

func withoutCR(s string) string { return strings.ReplaceAll(s, "\r", "") }

// TestSummaryCSV has one line per chair and one column per reading.
func TestSummaryCSV(t *testing.T) {
	var file bytes.Buffer
	err := writeSummaryCSV(csv.NewWriter(&file), show.Summary{Chairs: []show.ChairSummary{
		{Label: "Tuba", Readings: []float64{-9.04, 1}, Moves: []string{"push 14", "pull 1"}, Verdict: "set"},
		{Label: "Horn", Verdict: ""},
	}})
	if err != nil {
		t.Fatal(err)
	}
	lines, err := csv.NewReader(&file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(lines) != 3 || len(lines[0]) != 9 || lines[1][7] != "-9.0" || lines[1][4] != "push 14; pull 1" || lines[2][7] != "" {
		t.Errorf("summary %q", lines)
	}
}
