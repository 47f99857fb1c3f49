package piece_test

import (
	"fmt"
	"strings"
	"testing"

	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/proto/pitch"
)

// lengths is a piece in which a part divides and chords are held for all the lengths that have
// a word, and one that has none.
func lengths(t *testing.T, shortest ...float64) *piece.Piece {
	t.Helper()
	s := &score.Score{Title: "Quay, divided", Parts: []score.Part{{Name: "Horn 1.2", Instrument: "horn_f", Transposition: -7}, {Name: "Trombone III", Instrument: "tenor_trombone_bb"}, {Name: "Tuba"}}}
	at := score.Ticks(0)
	for i, q := range []float64{4, 3, 2, 1.5, 1, 0.5, 6} {
		length := piece.Quarters(q)
		s.Bars = append(s.Bars, score.Bar{Number: fmt.Sprint(i + 1), Start: at, Length: length})
		third := []string{"A4", "Ab4"}[i%2] // or one chord would be held all along
		for part, notes := range [][]string{{"F4", third}, {"C4"}, {"F2"}} {
			for _, n := range notes {
				note, err := pitch.ParseSpelled(n)
				if err != nil {
					t.Fatal(err)
				}
				s.Parts[part].Notes = append(s.Parts[part].Notes, score.Note{Bar: i, Start: at, Length: length, Pitch: note.Note(), Written: note.Note() - pitch.Note(s.Parts[part].Transposition)})
			}
		}
		at += length
	}
	if len(shortest) == 0 {
		shortest = []float64{0.5}
	}
	p, err := piece.New(s, piece.Quarters(shortest[0]))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestHeldLongEnough: of chords from an eighth to six quarters those are listed that last as
// long as was asked for, to the tick, and none besides.
func TestHeldLongEnough(t *testing.T) {
	for shortest, want := range map[float64]int{0.5: 7, 1: 6, 1.5: 5, 2: 4, 4: 2, 6: 1} {
		if got := len(lengths(t, shortest).View(nil, pitch.Style{}).Chords); got != want {
			t.Errorf("from %g quarters on: %d chords, want %d", shortest, got, want)
		}
	}
}

// TestAQuarterIsHeld: of a piece as it is read, and as it was kept, every chord of a quarter is listed, and none of an
// eighth.
func TestAQuarterIsHeld(t *testing.T) {
	part := func(id, transpose, notes string) string {
		return `<part id="` + id + `"><measure number="1"><attributes><divisions>2</divisions><transpose><chromatic>` + transpose + `</chromatic></transpose></attributes>` + notes + `</measure></part>`
	}
	note := func(step string, octave, eighths int) string {
		return fmt.Sprintf(`<note><pitch><step>%s</step><octave>%d</octave></pitch><duration>%d</duration></note>`, step, octave, eighths)
	}
	p, err := piece.Read(strings.NewReader(`<score-partwise><part-list><score-part id="A"><part-name>Trumpet</part-name></score-part><score-part id="B"><part-name>Tuba</part-name></score-part></part-list>` +
		part("A", "-2", note("C", 5, 2)+note("D", 5, 1)+note("E", 5, 1)+note("F", 5, 4)) + part("B", "0", note("E", 2, 2)+note("F", 2, 1)+note("G", 2, 1)+note("A", 2, 4)) + `</score-partwise>`))
	if err != nil {
		t.Fatal(err)
	}
	state, err := p.State()
	if err != nil {
		t.Fatal(err)
	}
	kept, err := piece.Unpack(p.Packed(), state)
	if err != nil {
		t.Fatal(err)
	}
	for name, p := range map[string]*piece.Piece{"read": p, "kept": kept} {
		var when []string
		for _, c := range p.View(nil, pitch.Style{}).Chords {
			when = append(when, c.When)
		}
		if got, want := strings.Join(when, "; "), "at the start, for a quarter note; after a half note, for a half note"; got != want {
			t.Errorf("as %s: %q, want %q", name, got, want)
		}
	}
}
