package score_test

import (
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bellrow/hub/score"
	"bellrow/proto/instrument"
)

// TestWindNamesOfAnotherProgram: what a notation program calls woodwinds in six
// languages, in full and short, with their transpositions and sounds
// (testdata/README.md). At concert pitch the instrument is among those offered, and
// a part without a name is told by its sound.
func TestWindNamesOfAnotherProgram(t *testing.T) {
	for _, r := range namesIn(t, "testdata/wind_names.csv") {
		transposition, err := strconv.Atoi(r[3])
		if err != nil {
			t.Fatal(err)
		}
		want := instrument.ID(r[5])
		checkName(t, score.Part{Name: r[2], Transposition: transposition}, r[5], "")
		checkName(t, score.Part{Name: r[2] + " 2", Transposition: transposition}, r[5], "")
		checkName(t, score.Part{Name: "P1", Sound: r[4], Transposition: transposition}, r[5], "")
		if p := (score.Part{Name: r[2], Concert: true}); !slices.Contains(p.Instruments().IDs, want) {
			t.Errorf("%q at concert pitch is taken for %+v, want %s among them", r[2], p.Instruments(), want)
		}
	}
}

// TestOtherWinds: the same program's names of relatives that the band has not.
func TestOtherWinds(t *testing.T) {
	data, err := os.ReadFile("testdata/other_winds.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		if in := (score.Part{Name: name, Transposition: 2}).Instruments(); len(in.IDs) > 0 && in.Doubt == score.DoubtNone {
			t.Errorf("%q is taken for %v without doubt", name, in.IDs)
		}
	}
}

// TestWoodwindParts: names of woodwinds as they stand on parts (common practice, no
// source), with what their parts add.
func TestWoodwindParts(t *testing.T) {
	for _, c := range []struct {
		name          string
		transposition int
		want, doubt   string
	}{
		{"Flute 1", 0, "flute", ""}, {"Querflöte", 0, "flute", ""}, {"Flauta II", 0, "flute", ""}, {"Piccolo", 12, "piccolo_flute", ""}, {"Flautín", 12, "piccolo_flute", ""}, {"Petite Flûte", 12, "piccolo_flute", ""},
		{"Hobo 2", 0, "oboe", ""}, {"Cor Anglais", -7, "english_horn", ""}, {"Althobo", -7, "english_horn", ""}, {"Oboe d'amore", -3, "oboe_damore", ""}, {"Bassoon II", 0, "bassoon", ""},
		{"Clarinet in Bb 1", -2, "clarinet_bb", ""}, {"1st Clarinet", -2, "clarinet_bb", ""}, {"Solo Bb Clarinet", -2, "clarinet_bb", ""}, {"Requinto", 3, "clarinet_eb", ""}, {"Klarinetten", -2, "clarinet_bb", ""},
		{"Alto Sax 1", -9, "alto_saxophone", ""}, {"Alt-Sax", -9, "alto_saxophone", ""}, {"Tenorsax", -14, "tenor_saxophone", ""}, {"Bari Sax", -21, "baritone_saxophone", ""}, {"Saxophone", -2, "soprano_saxophone", ""},
		{"Contrabass Clarinet", -26, "contrabass_clarinet", ""}, {"Bass Clarinet", -2, "bass_clarinet", ""},
		// The name says one thing, the part another: both are offered.
		{"Clarinet", 7, "clarinet_bb", "disagree"}, {"Clarinet in A", -2, "clarinet_a", "disagree"}, {"Alto Saxophone", -14, "alto_saxophone", "disagree"}, {"Flute", -7, "flute", "disagree"},
		{"Blockflöte", 0, "", "unknown"}, {"Alto Recorder", 0, "", "unknown"}, {"Violin", 0, "", "unknown"}, {"Pan Flute", 0, "", "unknown"}, {"Tenor", 0, "", "unknown"}, {"Oberon", 0, "", "unknown"},
	} {
		checkName(t, score.Part{Name: c.name, Transposition: c.transposition}, c.want, c.doubt)
	}
	in := score.Part{Name: "Alto Saxophone", Transposition: -14}.Instruments()
	if !slices.Contains(in.IDs, "tenor_saxophone") {
		t.Errorf("an alto's name on a tenor's part offers %v", in.IDs)
	}
	if in := (score.Part{Name: "Clarinet", Concert: true}).Instruments(); in.Doubt != score.DoubtSeveral || in.IDs[0] != "clarinet_bb" {
		t.Errorf("a clarinet at concert pitch is %+v", in)
	}
	if in := (score.Part{Name: "Clarinet in A", Concert: true}).Instruments(); in.Doubt != score.DoubtNone || in.IDs[0] != "clarinet_a" {
		t.Errorf("a clarinet in A at concert pitch is %+v", in)
	}
}

// TestEveryWindIsReadByItsName: the names of the catalogue are understood.
func TestEveryWindIsReadByItsName(t *testing.T) {
	for _, in := range instrument.Band() {
		if !in.Tuned() {
			checkName(t, score.Part{Name: in.Name, Transposition: in.Transposition}, string(in.ID), "")
		}
	}
}
