package score_test

import (
	"os"
	"strings"
	"testing"

	"bellrow/hub/score"
	"bellrow/proto/instrument"
)

// TestWoodwindParts: names of woodwinds in six languages (common practice, no
// source), with what their parts add; relatives that the band's list has not are
// nobody's.
func TestWoodwindParts(t *testing.T) {
	for _, c := range []struct {
		name          string
		transposition int
		want          instrument.ID
	}{
		{"Flute 1", 0, "flute"}, {"Querflöte", 0, "flute"}, {"Flûte", 0, "flute"}, {"Flauta II", 0, "flute"}, {"Flauto", 0, "flute"}, {"Dwarsfluit", 0, "flute"}, {"Piccolo", 12, "piccolo_flute"}, {"Ottavino", 12, "piccolo_flute"},
		{"Oboe", 0, "oboe"}, {"Hautbois", 0, "oboe"}, {"Hobo 2", 0, "oboe"}, {"Englischhorn", -7, "english_horn"}, {"Cor Anglais", -7, "english_horn"}, {"Fagott", 0, "bassoon"}, {"Basson", 0, "bassoon"}, {"Fagotto", 0, "bassoon"}, {"Kontrafagott", -12, "contrabassoon"},
		{"Clarinet in Bb 1", -2, "clarinet_bb"}, {"Klarinette in Es", 3, "clarinet_eb"}, {"Clarinete en La", -3, "clarinet_a"}, {"Clarinette basse", -14, "bass_clarinet"}, {"Bassklarinette", -14, "bass_clarinet"}, {"Bass Clarinet", -14, "bass_clarinet"},
		{"Alto Sax 1", -9, "alto_saxophone"}, {"Altsaxophon", -9, "alto_saxophone"}, {"Saxophone alto", -9, "alto_saxophone"}, {"Tenor Saxophone", -14, "tenor_saxophone"}, {"Bari Sax", -21, "baritone_saxophone"}, {"Saxofón barítono", -21, "baritone_saxophone"},
		{"Blockflöte", 0, ""}, {"Alto Recorder", 0, ""}, {"Oboe d'amore", -3, ""}, {"Violin", 0, ""}, {"Pan Flute", 0, ""}, {"Contrabass Clarinet", -26, ""}, {"Clarinet", 7, ""},
	} {
		if id, ok := score.Guess(score.Part{Name: c.name, Transposition: c.transposition}); id != c.want || ok != (c.want != "") {
			t.Errorf("%q (%d) is taken for %q, want %q", c.name, c.transposition, id, c.want)
		}
	}
	// Whatever a notation program calls what is no brass (testdata/README.md) is at
	// most a woodwind.
	data, err := os.ReadFile("testdata/other_names.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		id, ok := score.Guess(score.Part{Name: name})
		if in, err := instrument.Find(id); ok && (err != nil || in.Tuned()) {
			t.Errorf("%q is taken for %q", name, id)
		}
	}
}
