package show

import (
	"bellrow/hub"
	"bellrow/hub/piece"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// Row is everything the leader's page shows, display-ready and whole: pages
// render it and do no arithmetic. It is a snapshot; nothing in it is shared.
type Row struct {
	// Version grows with every change, so that a page can drop stale rows.
	Version uint64 `json:"version"`
	// Setup is the section that the row was made of, for pages that need more of
	// it than is shown.
	Setup   hub.Section `json:"-"`
	Section SectionRow  `json:"section"`
	// Say is the one sentence that matters most now; SayKind a stable code
	// for its place on the page ("move", "wait", "room", "done", "trouble").
	Say     string     `json:"say"`
	SayKind string     `json:"say_kind"`
	Round   *RoundRow  `json:"round,omitempty"`
	Chairs  []ChairRow `json:"chairs"` // in seating order
	Groups  []GroupRow `json:"groups"` // the same by families of instruments
	// Piece is the open piece, nil when there is none.
	Piece *piece.Row `json:"piece,omitempty"`
	// Evening says, before the first call, where the section will stand in a room
	// whose temperature was typed; empty otherwise.
	Evening string `json:"evening,omitempty"`
	// CanUndo names what Undo would take back, empty when nothing.
	CanUndo string `json:"can_undo,omitempty"`
	// Trouble holds loud problems of the hub itself: disk full, read-only.
	Trouble []string `json:"trouble,omitempty"`
}

// SectionRow is the section's own line.
type SectionRow struct {
	ID          int64    `json:"id"`
	Name        string   `json:"name"`
	A4          float64  `json:"a4"`
	GoodCents   float64  `json:"good_cents"`
	WatchCents  float64  `json:"watch_cents"`
	TuningNotes []string `json:"tuning_notes"`
	// Common is the section's common offset in words ("the section is 6 cents
	// flat as one"), empty while unknown; CommonCents and SpreadCents for the line.
	Common      string   `json:"common,omitempty"`
	CommonCents *float64 `json:"common_cents,omitempty"`
	SpreadCents *float64 `json:"spread_cents,omitempty"`
	Set         int      `json:"set"`     // chairs within the band
	Heard       int      `json:"heard"`   // chairs with a reading in this round
	Present     int      `json:"present"` // chairs not absent
	HideNames   bool     `json:"hide_names"`
	Watching    bool     `json:"watching,omitempty"` // a rehearsal is being watched
	// WatchSeconds is how long it has been watched.
	WatchSeconds float64 `json:"watch_seconds,omitempty"`
	Hearing      int     `json:"hearing,omitempty"` // laptops that hear a note just now, while it is
}

// RoundRow is the running round.
type RoundRow struct {
	ID       hub.RoundID `json:"id"`
	Title    string      `json:"title"` // "B♭, in turn, low to high"
	Together bool        `json:"together"`
	Chord    string      `json:"chord,omitempty"`
	Done     bool        `json:"done"`
	// UsedSeconds is the time since the first call of this tune-up.
	UsedSeconds float64 `json:"used_s"`
	// Sentence is what is wrong with a chord, in one sentence.
	Sentence string `json:"sentence,omitempty"`
	// Choices are what the leader can do about a section that is off as one, in the
	// order in which a director would think of them.
	Choices []ChoiceRow `json:"choices,omitempty"`
	// Listening is set while the chord is still to be found, Heard the chords
	// that can be chosen then, the likeliest first.
	Listening bool         `json:"listening,omitempty"`
	Heard     []HeardChord `json:"heard_chords,omitempty"`
}

// ChoiceRow is one thing that a leader can do, as a button with what it means.
type ChoiceRow struct {
	Do    string `json:"do"` // as hub.Command.Do takes it
	Label string `json:"label"`
	Words string `json:"words"`
}

// HeardChord is one chord that the chairs could be holding.
type HeardChord struct {
	Name  string `json:"name"`  // as hub.Command.Name of hub.DoChoose takes it
	Label string `json:"label"` // as the section names notes
}

// ChairRow is one chair on the leader's row.
type ChairRow struct {
	ID         hub.ChairID `json:"id"`
	Label      string      `json:"label"`
	Name       string      `json:"name"`
	Part       string      `json:"part,omitempty"`
	Instrument string      `json:"instrument"` // display name
	Family     string      `json:"family"`
	Row        int         `json:"row"`
	Place      int         `json:"place"`
	// State is a stable code: "absent", "away" (no node), "idle", "wait",
	// "paused", "warming", "turn" (called, silent), "sounding", "resting", "heard", "overheard",
	// "unsettled". Words says it for people.
	State string `json:"state"`
	Words string `json:"words"`
	// ToMove is set in the middle of a turn, when a slide is to be moved before
	// the note is played again.
	ToMove bool `json:"to_move,omitempty"`
	// Trouble is a device problem in words, empty when all is well.
	Trouble string `json:"trouble,omitempty"`
	// Note is what it plays, sounding; Written and Concert name it as the
	// section does.
	Note    pitch.Note `json:"note,omitempty"`
	Written string     `json:"written,omitempty"`
	Concert string     `json:"concert,omitempty"`
	// The settled answer, once there is one. Verdict is a stable code: "set"
	// (within the band), "near", "out", "doubt" (not believed). Cents is where
	// the reading stands from its target and CI its half width.
	Verdict string   `json:"verdict,omitempty"`
	Cents   *float64 `json:"cents,omitempty"`
	CI      *float64 `json:"ci,omitempty"`
	// Nature is how much of Cents the note is off by nature, which is no fault of
	// the slide's.
	Nature float64 `json:"nature,omitempty"`
	// Moved is set when a slide was moved since: then there is no verdict, and
	// Cents and Moves are those of before.
	Moved bool `json:"moved,omitempty"`
	// Headline is the move or the next step: "pull the main slide 6 mm".
	Headline string `json:"headline,omitempty"`
	Detail   string `json:"detail,omitempty"`
	// Moves holds the slides to move, from where to where.
	Moves []proto.Slide `json:"moves,omitempty"`
	// FollowThrough is the verdict on the last move, in words.
	FollowThrough string `json:"follow_through,omitempty"`
	// History holds this tune-up's counted readings of the same note and target in
	// cents, oldest first.
	History []float64 `json:"history,omitempty"`
	// Fingering is how a chord tone is fingered, Fingerings all it could be; both
	// are empty outside chords.
	Fingering  string   `json:"way,omitempty"`
	Fingerings []string `json:"ways,omitempty"`
	// Balance is a hint on loudness for chords, in words.
	Balance string `json:"balance,omitempty"`
	// Slides holds present settings.
	Slides []proto.Slide `json:"slides,omitempty"`
}

// Summary is the end of a tune-up, for the printed page, the demo and JSON.
type Summary struct {
	Section string         `json:"section"`
	A4      pitch.Hertz    `json:"a4"`
	Rounds  int            `json:"rounds"`
	Seconds float64        `json:"seconds"`
	Set     int            `json:"set"`
	Present int            `json:"present"`
	Common  string         `json:"common,omitempty"`
	Chairs  []ChairSummary `json:"chairs"`
}

// ChairSummary is one chair's line in a Summary.
type ChairSummary struct {
	ID            hub.ChairID `json:"id"`
	Label         string      `json:"label"`
	Name          string      `json:"name"`
	Instrument    string      `json:"instrument"`
	Readings      []float64   `json:"readings_cents"`
	Moves         []string    `json:"moves"`
	FollowThrough string      `json:"follow_through,omitempty"`
	Verdict       string      `json:"verdict"`
	Words         string      `json:"words"`
}
