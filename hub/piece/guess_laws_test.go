package piece_test

import (
	"fmt"
	"strings"
	"testing"

	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// scored is a piece of one long chord for parts of these names.
func scored(t *testing.T, names ...string) *piece.Piece {
	t.Helper()
	s := &score.Score{Title: "One chord", Bars: []score.Bar{{Number: "1", Length: piece.Quarters(4)}}}
	for i, name := range names {
		n := pitch.Note(48 + 4*i)
		s.Parts = append(s.Parts, score.Part{Name: name, Notes: []score.Note{{Length: piece.Quarters(4), Written: n, Pitch: n}}})
	}
	p, err := piece.New(s, piece.Quarters(1))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// TestWhoPlaysWhat: the same name however it is written, then the number in any of its forms, then
// the instrument, then the family; nobody sits on a taken part while a free one would do,
// and nobody on a part of another family.
func TestWhoPlaysWhat(t *testing.T) {
	trombone, trumpet, horn := instrument.ID("tenor_trombone_bb"), instrument.ID("trumpet_bb"), instrument.ID("horn_f")
	for _, c := range []struct {
		parts  []string
		chairs []piece.Chair
		want   []int // part of each chair, -1 for none
	}{
		{[]string{"Trombone 1", "Trombone 2", "Trombone 3", "Trombone 4"}, []piece.Chair{{Label: "Trombone IV", Instrument: trombone}, {Label: "Trombone III", Instrument: trombone}, {Label: "Trombone ii", Instrument: trombone}, {Label: "Trombone I", Instrument: trombone}}, []int{3, 2, 1, 0}},
		{[]string{"2nd Trombone", "1st Trombone"}, []piece.Chair{{Label: "Posaune 1", Instrument: trombone}, {Label: "x", Part: "Trombone 2", Instrument: trombone}}, []int{1, 0}},
		{[]string{"Trumpet in B♭ 1", "Trumpet in Bb 2"}, []piece.Chair{{Label: "2 Trumpet", Instrument: trumpet}, {Label: "Trumpet 1", Instrument: trumpet}}, []int{1, 0}},
		{[]string{"Horn in F", "Trumpet in E♭"}, []piece.Chair{{Label: "trumpet, E flat", Instrument: trumpet}, {Label: "HORN", Instrument: horn}}, []int{1, 0}},
		{[]string{"Horn in A", "Horn in D 2"}, []piece.Chair{{Label: "horn 2", Instrument: horn}, {Label: "horn", Instrument: horn}}, []int{1, 0}},
		{[]string{"Trumpet 1", "Cornet"}, []piece.Chair{{Label: "Cornet", Instrument: "cornet_bb"}, {Label: "Trumpet", Instrument: trumpet}}, []int{1, 0}},
		{[]string{"Trumpet", "Cornet"}, []piece.Chair{{Label: "a", Instrument: "cornet_bb"}, {Label: "b", Instrument: "cornet_bb"}}, []int{1, 0}}, // its own first, then the family
		{[]string{"Trumpet"}, []piece.Chair{{Label: "a", Instrument: trumpet}, {Label: "b", Instrument: trumpet}}, []int{0, 0}},                   // doubled
		{[]string{"Tuba"}, []piece.Chair{{Label: "a", Instrument: trumpet}, {Label: "Tuba", Instrument: "tuba_cc"}}, []int{-1, 0}},
		{[]string{"Trombone 1", "Trombone 2"}, []piece.Chair{{Label: "Trombone 2", Instrument: trombone}, {Label: "Trombone 2b", Part: "2", Instrument: trombone}}, []int{1, 0}},
	} {
		parts := c.parts
		if len(parts) == 1 {
			parts = append([]string{}, parts[0], "Piano") // two parts make a chord
		}
		for i := range c.chairs {
			c.chairs[i].ID = int64(i + 1)
		}
		p := scored(t, parts...).Guess(c.chairs)
		for i, want := range c.want {
			got, plays := p.Part(int64(i + 1))
			if !plays {
				got = -1
			}
			if got != want {
				t.Errorf("%q: %s %s plays part %d, want %d", c.parts, c.chairs[i].Label, c.chairs[i].Part, got, want)
			}
		}
	}
}

// TestWhatCannotBeListedIsSaid: a piece with more chords than are listed says how many are, and
// one that is too long to be kept says that.
func TestWhatCannotBeListedIsSaid(t *testing.T) {
	s := &score.Score{Title: "Long", Parts: []score.Part{{Name: "Horn"}, {Name: "Tuba"}}}
	const bars = 3100
	for i := range bars {
		s.Bars = append(s.Bars, score.Bar{Number: fmt.Sprint(i + 1), Start: piece.Quarters(float64(i)), Length: piece.Quarters(1)})
		for k := range s.Parts {
			n := pitch.Note(48 + 12*(1-k) + i%5 + k*(i%3))
			s.Parts[k].Notes = append(s.Parts[k].Notes, score.Note{Bar: i, Start: piece.Quarters(float64(i)), Length: piece.Quarters(1), Written: n, Pitch: n})
		}
	}
	p, err := piece.New(s, piece.Quarters(1))
	if err != nil {
		t.Fatal(err)
	}
	v := p.View(nil, pitch.Style{})
	if len(v.Chords) != 3000 || !strings.Contains(strings.Join(v.Remarks, " "), "first 3000 chords") {
		t.Errorf("%d chords, %q", len(v.Chords), v.Remarks)
	}
}
