// Package track is the compact form in which a node hands the hub the
// partials of what its microphone heard, so that the hub can tell several
// players apart. It carries no audio: only slowly varying complex amplitudes
// around the partials of the called note.
package track

import "bellrow/proto/pitch"

// Chunk is a stretch of partial tracks from one microphone.
type Chunk struct {
	// Reference is the frequency whose multiples were demodulated: the same
	// for every node of a round, from the call.
	Reference pitch.Hertz `json:"ref"`
	// First is the sample index, at the node's own count, of the first frame;
	// Rate the node's nominal sample rate.
	First int64   `json:"first"`
	Rate  float64 `json:"rate"`
	// Floor is the node's quiet floor and Level its level over the chunk, dBFS.
	Floor pitch.Level `json:"floor"`
	Level pitch.Level `json:"level"`
	// Partials holds the demodulated tracks.
	Partials []Partial `json:"partials"`
}

// Partial is the demodulated neighbourhood of one multiple of the reference.
type Partial struct {
	K      int     `json:"k"`      // multiple of the reference
	Step   int     `json:"step"`   // samples between frames
	Scale  float64 `json:"scale"`  // value of one step of the 16-bit (or fewer) coding
	Frames []byte  `json:"frames"` // interleaved re, im; packed as the codec says
}
