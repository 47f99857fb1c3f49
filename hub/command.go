package hub

import (
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Command is one thing a leader does. Do names it; the other fields are used
// as each Do says. It is the body of POST /api/command.
type Command struct {
	// Do is one of the Do constants.
	Do string `json:"do"`

	Chair    ChairID            `json:"chair,omitempty"`
	Call     *Call              `json:"call,omitempty"`
	Section  *Section           `json:"section,omitempty"`
	SeatRow  int                `json:"row,omitempty"`
	Place    int                `json:"place,omitempty"`
	Slide    instrument.SlideID `json:"slide,omitempty"`
	MM       float64            `json:"mm,omitempty"`
	Note     pitch.Note         `json:"note,omitempty"`
	Name     string             `json:"name,omitempty"`
	Together bool               `json:"together,omitempty"`
	Part     int                `json:"part,omitempty"`
	Index    int                `json:"index,omitempty"`
}

// What a leader can do.
const (
	DoCall      = "call"    // start a round for Call
	DoAgain     = "again"   // the same call over again, for Chair or for all that are not set
	DoNext      = "next"    // leave the present chair and go on
	DoSkip      = "skip"    // take Chair out of this round
	DoAbsent    = "absent"  // Chair is not here today
	DoPresent   = "present" // Chair is here after all
	DoEnd       = "end"     // close the round
	DoFresh     = "fresh"   // begin a new tune-up: counters and history of the row start over
	DoUndo      = "undo"    // take back the last of these
	DoSeat      = "seat"    // move Chair to SeatRow, Place; who sits there takes the place it leaves
	DoEdit      = "edit"    // replace the section's set-up by Section (chairs matched by ID)
	DoOpen      = "open"    // open the saved section named Name
	DoSetting   = "setting" // Chair's Slide stands at MM
	DoTone      = "tone"    // in a chord call, Chair plays Note
	DoFingering = "way"     // in a chord call, Chair plays its note as Name says: "1-3", "4th position"
	DoMoves     = "moves"   // give the moves although the whole section is off together
	// About a section that is off as one, in the round that found it so, as far as
	// they are offered (slide.Deed).
	DoWarmUp    = "warm-up"    // end the round: everybody plays warm first
	DoAllMove   = "all-move"   // everybody moves the main slide by the common part
	DoFollow    = "follow"     // the reference goes to where the section stands
	DoHearAgain = "hear-again" // all play the same call once more, before anything moves
	DoRemove    = "remove"     // take Chair out of the section for good
	DoListen    = "listen"     // hear all together on whatever chord they hold, and name it
	DoChoose    = "choose"     // what was heard is the chord Name (the likeliest where empty)
	// Of the piece: Chair plays Part (an index, negative for none); the held
	// chord Index is called, by Name where it has several; the next one is
	// called; the piece is closed.
	DoPart         = "part"
	DoPartFor      = "part-for" // Part is written for the instrument Name
	DoSonority     = "sonority"
	DoNextSonority = "next-sonority"
	DoDropPiece    = "drop-piece"
	DoBend         = "bend"  // lead all through one bend of the first tuning note
	DoWatch        = "watch" // listen quietly while the section rehearses, until DoEnd or the next call
)
