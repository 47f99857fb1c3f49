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
//	Together       a section that is off as one: own and common part, and the choices a leader has
//	CommonPitch    the reference that needs the least movement, for the leader
//	Lever          one slide on one path: where cents become millimetres
//	Say            every sentence, from the facts of an answer
//
// Positive millimetres pull a slide out and flatten; positive cents are sharp.
// What theory says of a note (a fifth partial is flat by nature, three valves are
// sharp) is taken out once before a main slide is blamed, and shown beside; under
// 5 cents it is left, since the tuning note is what the section tunes to. A chord
// tone is judged as it sounds. Functions are safe for concurrent use.
package slide

import (
	"math"

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
	Tell    Kind = "tell"    // nothing to move that we know of: sharp or flat, and by how much
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
	// ShortMM is the same as travel, without sign.
	ShortMM float64 `json:"short_mm"`
}

// MM is the signed distance, positive out.
func (s Step) MM() float64 { return s.ToMM - s.FromMM }

// Advice is the answer to one reading, or to several. It is what is meant;
// the sentences are Say of it.
type Advice struct {
	Kind  Kind   `json:"kind"`
	Steps []Step `json:"steps,omitempty"` // for Move: usually one
	// Code is stable, for machines and tests: "in-band", "limit", "held" …
	Code string `json:"code"`
	// Offset is where the reading stood from its target.
	Offset pitch.Cents `json:"offset_cents"`
	// Doubt, for Stay, says that the note may lie outside the tolerance band all
	// the same: one more reading would tell. Only Memory says so.
	Doubt bool `json:"doubt,omitempty"`
	// Heard is the sounding note that was heard, for Note.
	Heard pitch.Note `json:"heard,omitempty"`
	// Try is another way of playing the note.
	Try *instrument.Path `json:"try,omitempty"`
	// Facts are the figures behind the sentences.
	Facts Facts `json:"facts"`
}

// Facts are what an answer rests on, whole and typed: with Kind, Code, Steps,
// Offset, Heard and Try they are all that its sentences say.
type Facts struct {
	// Instrument is what the note was played on, Called the sounding note that
	// was asked for, Path how it was played. Written notes are lower than sounding
	// ones by Transposition semitones.
	Instrument    instrument.ID   `json:"instrument,omitempty"`
	Called        pitch.Note      `json:"called,omitempty"`
	Transposition int             `json:"transposition,omitempty"`
	Path          instrument.Path `json:"path"`
	// Main is what this player calls the main slide.
	Main string `json:"main,omitempty"`
	// Vibrato is the extent of a vibrato that is allowed for, peak to peak.
	Vibrato pitch.Cents `json:"vibrato_cents,omitempty"`
	// Pitched tells that Offset and CI95 are to be told.
	Pitched bool        `json:"pitched,omitempty"`
	CI95    pitch.Cents `json:"ci95_cents"`
	// Theory is where the note lies by nature.
	Theory instrument.Theory `json:"theory"`
	// Own is what is believed of the slide that the answer is about, in cents of
	// this note: theory taken out once, from Notes notes. For a chord tone it is
	// the note itself.
	Own   Belief `json:"own"`
	Notes int    `json:"notes"`
	// Anew tells that earlier notes no longer agree with this one and count no more.
	Anew bool `json:"anew,omitempty"`
	// Common is what the section has in common, for "room".
	Common pitch.Cents `json:"common_cents,omitempty"`
	// Slide is a slide that does not serve, Out that it stands, or is wanted, at
	// its outer end; Measured that the player has told how far it goes, Placed
	// where it stands.
	Slide    instrument.Slide `json:"slide,omitzero"`
	Out      bool             `json:"out,omitempty"`
	Measured bool             `json:"measured,omitempty"`
	Placed   bool             `json:"placed,omitempty"`
	NeedMM   float64          `json:"need_mm,omitempty"` // further than it goes, without sign
	// WaitSeconds is how long a cold instrument is still to be played.
	WaitSeconds float64 `json:"wait_s,omitempty"`
	// Rise is what the instrument still comes up by as it warms.
	Rise pitch.Cents `json:"rise_cents,omitempty"`
	// Gain is what Try changes in theory.
	Gain pitch.Cents `json:"gain_cents,omitempty"`
	// Telling are sounding notes that tell where the main slide belongs.
	Telling []pitch.Note `json:"telling,omitempty"`
	// Away is how far the reading lies from where the instrument stood lately, or
	// from the other notes; for Stay, from its place, where the slide stays all
	// the same.
	Away pitch.Cents `json:"away_cents,omitempty"`
	// Slip is how a transposition went wrong: "concert-name" or "twice".
	Slip string `json:"slip,omitempty"`
	// Pinched tells that the player has pinched a note in this tune-up.
	Pinched bool `json:"pinched,omitempty"`
	// Mute is what was in the bell, MuteShift what it has done to this player's
	// pitch lately.
	Mute      Mute     `json:"mute,omitempty"`
	MuteShift Estimate `json:"mute_shift,omitzero"`
	// Verdict is what became of a move, for "too-far"; Because the code of the
	// answer that came before, for "tries".
	Verdict  Verdict `json:"verdict,omitempty"`
	WrongWay bool    `json:"wrong_way,omitempty"` // the pitch went against the slide
	Because  string  `json:"because,omitempty"`
	// Order is the side of a double horn that the main slide is set on.
	Order HornOrder `json:"horn_order,omitempty"`
}

// Estimate is a value with the half width of its 95 % interval.
type Estimate struct {
	Cents pitch.Cents `json:"cents"`
	CI95  pitch.Cents `json:"ci95_cents"`
}

// Sure reports whether the interval leaves out zero.
func (e Estimate) Sure() bool { return math.Abs(float64(e.Cents)) > float64(e.CI95) }

// Reading is what advice needs of a settled reading.
type Reading struct {
	Hz     pitch.Hertz
	CI95   pitch.Cents
	Spread pitch.Cents
	Drift  float64 // cents per second
	Level  pitch.Level
	Early  pitch.Cents
	// Vibrato is the extent of a vibrato, peak to peak; 0 = none. Trumpet vibrato
	// mostly dips below the straight tone (bgoff.org, Trumpet Tips 105), so that
	// the note itself may lie up to half of it higher than Hz.
	Vibrato pitch.Cents
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
