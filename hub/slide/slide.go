// Package slide answers a reading in the only unit that helps: which slide,
// which way, how many millimetres. Pure functions over the instrument model;
// no clock, no storage, no wire format.
//
//	Advise         one reading: trust it or say why not, then a move or an honest no
//	Solve          several notes: what belongs to which slide, and the fewest moves
//	FollowThrough  did the pitch go with the slide, or did the embouchure hold it
//	Learn          a player's own millimetres per cent, from moves that went along
//	Memory         one player through a tune-up: Advise with all that came before
//	Turn           one player's turn in a round: whether to hear the note once more
//	Belief         where a note stands, from all readings and moves so far
//	Room           what the section has in common, apart from each chair's own
//	CommonPitch    the reference that needs the least movement, for the leader
//
// Positive millimetres pull a slide out and flatten; positive cents are sharp.
// Theory of harmonics and valves is shown beside a reading, never applied to
// it. Functions are safe for concurrent use; a Room belongs to one goroutine.
package slide

import (
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Kind is what an answer asks for.
type Kind string

// The kinds of answer.
const (
	Stay    Kind = "stay"    // in tune within the band or within doubt: leave the slide
	Move    Kind = "move"    // move one slide
	Again   Kind = "again"   // the reading is not believed: play again, with the reason
	Rest    Kind = "rest"    // held with the embouchure, tired: rest, breathe, fresh attack
	Note    Kind = "note"    // another note than the called one was heard
	Finger  Kind = "finger"  // no slide serves: another position, fingering, or the hand in the bell
	Nothing Kind = "nothing" // no slide left or none that serves: say so, with the honest alternatives
)

// Step is a move of one slide, in mm of slide.
type Step struct {
	Slide    instrument.SlideID `json:"slide"`
	Name     string             `json:"name"` // as players say it
	FromMM   float64            `json:"from_mm"`
	ToMM     float64            `json:"to_mm"`
	TravelMM float64            `json:"travel_mm"`
	// Expected is the change of pitch the step should bring on the note that
	// was read, in cents.
	Expected pitch.Cents `json:"expected_cents"`
	// ShortBy is what the slide cannot give, in cents of the same sign as the
	// wanted change; 0 when it reaches.
	ShortBy pitch.Cents `json:"short_by_cents"`
}

// MM is the signed distance, positive out.
func (s Step) MM() float64 { return s.ToMM - s.FromMM }

// Advice is the answer to one reading, or to several.
type Advice struct {
	Kind  Kind   `json:"kind"`
	Steps []Step `json:"steps,omitempty"` // for Move: usually one
	// Headline is what a player does, in one short line; Detail why; Next
	// what happens then. All are whole plain sentences.
	Headline string `json:"headline"`
	Detail   string `json:"detail,omitempty"`
	Next     string `json:"next,omitempty"`
	// Code is stable, for machines and tests: "in-band", "limit", "held" …
	Code string `json:"code"`
	// Small is the small print: the offset and its interval in cents, whole
	// numbers, empty when no pitch is to be told.
	Small string `json:"small,omitempty"`
	// Offset is where the reading stood from its target.
	Offset pitch.Cents `json:"offset_cents"`
	// Doubt, for Stay, says that the note may lie outside the tolerance band all
	// the same: one more reading would tell. Only Memory says so.
	Doubt bool `json:"doubt,omitempty"`
	// Heard is the sounding note that was heard, for Note.
	Heard pitch.Note `json:"heard,omitempty"`
	// Try is another way of playing the note, for Finger.
	Try *instrument.Path `json:"try,omitempty"`
}

// Reading is what advice needs of a settled reading.
type Reading struct {
	Hz     pitch.Hertz
	CI95   pitch.Cents
	Spread pitch.Cents
	Drift  float64 // cents per second
	Level  pitch.Level
	Early  pitch.Cents
	// Played is how long the instrument had sounded by then, in seconds; 0 =
	// unknown.
	Played float64
	// Settled and Reason as the node said; Overheard as the hub found.
	Settled   bool
	Reason    string
	Overheard bool
}

// Purpose tells which slides an answer may use.
type Purpose string

// Purposes.
const (
	Tuning  Purpose = "tuning"  // the main slide, set once
	Balance Purpose = "balance" // chord tones: everything but the main slide
)
