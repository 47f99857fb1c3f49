package intonation_test

import (
	"fmt"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// A quintet holds a dominant seventh chord as a keyboard would tune it: root
// and fifth agree, so the third and the seventh move.
func ExampleJudge() {
	chord, err := intonation.ParseChord("F7")
	if err != nil {
		fmt.Println(err)
		return
	}
	q := intonation.Question{Chord: chord, Anchor: intonation.AnchorConsensus}
	for i, seat := range []struct {
		name string
		id   instrument.ID
		note pitch.Note
	}{{"tuba", "tuba_bbb", 41}, {"trombone", "tenor_trombone_bb", 48}, {"second trombone", "tenor_trombone_bb", 57}, {"horn", "horn_double", 63}} {
		in, err := instrument.Find(seat.id)
		if err != nil {
			fmt.Println(err)
			return
		}
		q.Seats = append(q.Seats, intonation.Seat{
			Chair: intonation.Chair(i), Name: seat.name, Note: seat.note, Instrument: in,
			Reading: &slide.Reading{Hz: q.Reference.Frequency(seat.note), CI95: 1, Level: -30, Settled: true},
		})
	}
	j := intonation.Judge(q)
	for _, fact := range j.Facts {
		fmt.Println(fact.Code, fact.Tone, "high:", fact.High)
	}
	fmt.Println(j.Beats[0].Code, j.Beats[0].Ratio)
	// Output:
	// tone seventh high: true
	// tone third high: true
	// fast 7/2
}

// A D major chord is spelled with F sharp, and a B flat trumpet reads G sharp
// for it.
func ExampleChord_SpellWritten() {
	d, err := intonation.ParseChord("D major")
	if err != nil {
		fmt.Println(err)
		return
	}
	const third = pitch.Note(66)
	fmt.Println(d.Spell(third).Display(), d.SpellWritten(third, -2).Display())
	// Output: F♯4 G♯4
}
