package attribute

import (
	"math"
	"testing"

	"bellrow/hub/attribute"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// sounds is what the instruments of the scenes sound, in Hz, with room.
var sounds = map[tone.Voice]attribute.Range{
	tone.Tuba: {Low: 29, High: 180}, tone.Trombone: {Low: 80, High: 470},
	tone.Horn: {Low: 60, High: 700}, tone.Trumpet: {Low: 160, High: 1050},
}

// TestNotesOfAChord: five players hold a chord that nobody called, in a dry and
// in a live room. What each of them plays is known from the simulation; the
// search was made on other seeds.
func TestNotesOfAChord(t *testing.T) {
	if testing.Short() {
		t.Skip("rendering rooms takes seconds")
	}
	const (
		scenes = 10
		fine   = 2.0  // cents: a reading of the wrong chair or note is far beyond
		near   = 15.0 // cents: what the fit that follows can start from
		wanted = 0.85 // of the chairs; the fit refuses most of the rest, and they are heard in turn
	)
	right, class, none, chairs, read, astray := 0, 0, 0, 0, 0, 0
	for seed := range uint64(scenes) {
		s := Scene{Chairs: 5, Chord: true, RT60: []float64{0.4, 0.9}[seed%2], Seconds: 1.5, PPM: 50, Rate: 16000, Seed: 90000 + seed}
		take, err := s.Play()
		if err != nil {
			t.Fatal(err)
		}
		var ranges []attribute.Range
		for _, p := range s.parts() {
			ranges = append(ranges, sounds[p.voice])
		}
		for i, hz := range attribute.Notes(take.Input, ranges) {
			chairs++
			take.Input.Chairs[i].Expected = hz
			off := float64(pitch.Between(take.Truth[i].Hz, hz))
			switch {
			case hz == 0:
				none++
			case math.Abs(off) < near:
				right++
				class++
			case math.Abs(math.Remainder(off, 1200)) < near:
				class++
			}
		}
		for i, r := range attribute.Fit(take.Input).Chairs {
			if r.Verdict != attribute.Sounding {
				continue
			}
			read++
			if off := float64(pitch.Between(take.Truth[i].Hz, r.Hz)); math.Abs(math.Remainder(off, 1200)) > fine {
				astray++
			}
		}
	}
	t.Logf("of %d chairs %d right, %d in another octave, %d unclear, %d taken for another note", chairs, right, class-right, none, chairs-class-none)
	t.Logf("the fit that starts from them reads %d, %d of them another note", read, astray)
	if astray > 0 {
		t.Errorf("%d chairs are read on another note: worse than none", astray)
	}
	if float64(right) < wanted*float64(chairs) {
		t.Errorf("%d of %d chairs right, want %.0f %%", right, chairs, 100*wanted)
	}
}

// TestNotesNeedTracks: without tracks, or with tracks of one microphone that
// belong elsewhere, nothing is made up.
func TestNotesNeedTracks(t *testing.T) {
	in := attribute.Input{Start: 1, End: 2.5, Chairs: make([]attribute.Chair, 3)}
	for i, hz := range attribute.Notes(in, make([]attribute.Range, 3)) {
		if hz != 0 {
			t.Errorf("chair %d without tracks holds %v Hz", i, hz)
		}
	}
}
