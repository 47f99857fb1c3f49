package score

import (
	"fmt"

	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

// Options of Solve. The zero value solves for just chords that may float, on
// sonorities of a quarter note and more.
type Options struct {
	Tuning intonation.Tuning // Just when empty
	// Shortest is the least length that counts; Held when 0.
	Shortest Ticks
	// Good is the band beyond which a bar is said to hurt.
	Good pitch.Cents
}

// unnamedWeight is what a sonority counts for that has no chord name, against
// one that has: nobody tunes a passing clash (from experience, no source).
const unnamedWeight = 0.3

// longest is how many quarters of a held sonority count: beyond it, longer is
// not heard as worse.
const longest = 8

// Solve finds the main-slide compromise for a score: the one setting per
// player that leaves the least error over its held sonorities. players holds
// the player of each part by its index in s.Parts; parts without one are
// left out, but their notes still name the chords.
func (s *Score) Solve(players map[int]intonation.Player, o Options) (intonation.Plan, error) {
	if o.Shortest <= 0 {
		o.Shortest = Held
	}
	index := map[int]int{}
	var list []intonation.Player
	for part := range s.Parts {
		if p, ok := players[part]; ok {
			index[part] = len(list)
			list = append(list, p)
		}
	}
	if len(list) == 0 {
		return intonation.Plan{}, fmt.Errorf("score: no part has a player, need at least one")
	}
	sonorities, err := s.Sonorities(o.Shortest)
	if err != nil {
		return intonation.Plan{}, err
	}
	var chords []intonation.HeldChord
	for _, x := range sonorities {
		chords = append(chords, x.held(index, o.Tuning))
	}
	return intonation.Compromise(list, chords, o.Good, o.Tuning == intonation.Keyboard)
}

// held places a sonority's tones: just over the root of its likeliest name, or
// tempered where it has none or just tuning is not wanted.
func (x Sonority) held(index map[int]int, tuning intonation.Tuning) intonation.HeldChord {
	h := intonation.HeldChord{Bar: x.Bar, Weight: min(x.Length.Quarters(), longest)}
	var chord intonation.Chord
	if len(x.Chords) > 0 {
		chord = x.Chords[0]
	} else if x.classes() > 1 {
		h.Weight *= unnamedWeight
	}
	for _, t := range x.Tones {
		player, ok := index[t.Part]
		if !ok {
			continue
		}
		want := pitch.Cents(0)
		if tone, in := chord.Tone(t.Note); in && (tuning == "" || tuning == intonation.Just) {
			want = tone.Offset()
		}
		h.Tones = append(h.Tones, intonation.HeldTone{Player: player, Note: t.Note, Want: want})
	}
	return h
}

// classes counts the pitch classes of a sonority: 1 for unisons and octaves.
func (x Sonority) classes() int {
	set := map[int]bool{}
	for _, t := range x.Tones {
		set[t.Note.Class()] = true
	}
	return len(set)
}
