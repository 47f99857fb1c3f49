package tuneup

import (
	"math"
	"testing"

	"bellrow/hub"
	"bellrow/hub/belief"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Who sits beside whom does not depend on who is asked, and nobody sits beside another row.
func TestSideBySideIsMutual(t *testing.T) {
	s := &State{seats: map[hub.ChairID]*seat{}}
	for row := range 3 {
		for place := range 5 {
			id := hub.ChairID(10*row + place + 1)
			s.seats[id] = &seat{chair: &hub.Chair{ID: id, Row: row, Place: place}}
		}
	}
	for a, x := range s.seats {
		for b, y := range s.seats {
			want := x.chair.Row == y.chair.Row && math.Abs(float64(x.chair.Place-y.chair.Place)) <= 1
			if got := s.sideBySide(a, b); got != want {
				t.Errorf("row %d place %d and row %d place %d: side by side %v", x.chair.Row, x.chair.Place, y.chair.Row, y.chair.Place, got)
			}
		}
	}
}

// What is played is taken for the tone of the chord that lies nearest, within reach of it, at any A; far from all it is
// the nearest note.
func TestNearestTone(t *testing.T) {
	for _, name := range []string{"C major", "Eb7", "F# minor", "G diminished"} {
		chord, err := intonation.ParseChord(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, a4 := range []pitch.Hertz{440, 432} {
			ref := pitch.Reference{A4: a4}
			for n := pitch.Note(40); n < 76; n++ {
				for x := pitch.Cents(-49); x < 50; x += 3.5 {
					hz := ref.Frequency(n).Shift(x)
					want, distance := n, math.Inf(1)
					for o := n - 12; o <= n+12; o++ { // slowly: all of the chord's tones around
						tone, in := chord.Tone(o)
						if d := math.Abs(float64(pitch.Between(ref.Frequency(o).Shift(tone.Offset()), hz))); in && d < distance && d <= float64(reach) {
							want, distance = o, d
						}
					}
					if got := nearestTone(chord, ref, hz); got != want {
						t.Fatalf("%s, %v %+g: taken for %v, want %v", name, n, float64(x), got, want)
					}
				}
			}
		}
	}
}

// What earlier moves taught of an instrument goes into what is believed of the player: a cent for a cent of the model where
// nothing was learned, and the fewer the more millimetres a cent takes.
func TestWhatEarlierMovesTaught(t *testing.T) {
	given := belief.Profile{Pinches: 0.3, Act: 1.02, ActSD: 0.06}
	if got := (earlier{profile: given}).known(); got != given {
		t.Errorf("nothing learned: %+v", got)
	}
	r := func(x pitch.Cents) slide.Reading {
		return slide.Reading{Hz: pitch.Reference{}.Frequency(70).Shift(x), CI95: 0.5, Settled: true}
	}
	for _, went := range []pitch.Cents{0.85, 1.1} {
		m := slide.Made{Expected: -20, Before: r(20), After: r(20 - 20*went)}
		l := slide.Learn(m, m, m)
		got := (earlier{profile: given, made: []slide.Made{m, m, m}}).known()
		if math.Abs(got.Act*l.Ratio-1) > 1e-9 || (got.Act > 1) != (went > 1) || math.Abs(got.ActSD-l.SD*got.Act*got.Act) > 1e-9 || got.Pinches != given.Pinches {
			t.Errorf("%g of three moves: %+v, by the slide %+v", float64(went), got, l)
		}
	}
	held := slide.Made{Expected: -20, Before: r(20), After: r(20)}
	if got := (earlier{profile: given, made: []slide.Made{held}}).known(); got != given {
		t.Errorf("a pitch that was held: %+v", got)
	}
}

// At the beginning of a tune-up each slide stood where the first word about it found it.
func TestWhereSlidesStoodAtFirst(t *testing.T) {
	s := &State{}
	c := &hub.Chair{ID: 1, Settings: instrument.Settings{"main": 20, "third": 4}}
	s.chairs = []*hub.Chair{c, {ID: 2}}
	s.settings = []hub.SettingRecord{{Chair: 1, Slide: "main", From: 10, MM: 14}, {Chair: 2, Slide: "main", From: 7, MM: 8}, {Chair: 1, Slide: "main", From: 14, MM: 20}, {Chair: 9, Slide: "main", From: 1, MM: 2}, {Chair: 1, Slide: "third", From: 0, MM: 4}}
	first := s.settingsAtFirst()
	if first[1]["main"] != 10 || first[1]["third"] != 0 || first[2]["main"] != 7 || len(first) != 2 {
		t.Errorf("%v", first)
	}
	if c.Settings["main"] != 20 || c.Settings["third"] != 4 {
		t.Errorf("looking back moved the slides: %v", c.Settings)
	}
}
