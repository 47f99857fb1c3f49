package piece_test

import (
	"fmt"
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
