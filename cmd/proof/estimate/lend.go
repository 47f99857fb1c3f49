package estimate

import (
	"context"
	"strings"

	"bellrow/proto/pitch"
)

// Note is one player's note with its true pitch, for other proofs.
type Note struct {
	Name       string
	Instrument string
	Samples    []float64 // at 48 kHz
	Hz         float64   // about where it sounds
	// Mean is the pitch over a stretch in seconds of the recording, in Hz.
	Mean func(from, to float64) float64
}

// RecordedNotes are the notes of real players that folder's manifest lists; an
// empty folder is where they lie beside the module.
func RecordedNotes(ctx context.Context, folder string) ([]Note, error) {
	all, err := practiceNotes(ctx, folder)
	var out []Note
	for _, n := range all {
		out = append(out, Note{n.name, n.instrument, n.samples, n.reference, n.winding.mean})
	}
	return out, err
}

// onePlayer is how far partials may lie from multiples of one frequency, in cents: what one
// player sustains is periodic, so its partials are harmonic to a fraction of a cent (Fletcher and
// Rossing, The Physics of Musical Instruments, 2nd ed., section 5.5). Of the fonts' trumpets,
// trombones and tubas none is 0.04 cents apart; the horns, General MIDI's program 60, are 0.8 to 8,
// like the brass sections (0.7 to 2.4): several players, with no one pitch.
const onePlayer = 0.5

// RenderedNotes are those of the sound fonts that hold a single player.
func RenderedNotes(ctx context.Context) ([]Note, error) {
	all, err := render(ctx, 1)
	var out []Note
	for _, n := range all {
		if n.choir {
			continue
		}
		hz := float64(pitch.Reference{}.Frequency(pitch.Note(n.midi)))
		if w := newWinding(n.samples, hz); w.apart(noteOn+0.5, noteHeld) < onePlayer {
			out = append(out, Note{n.name, strings.Split(n.name, "_")[1], n.samples, hz, w.mean})
		}
	}
	return out, err
}
