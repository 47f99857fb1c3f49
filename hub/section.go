package hub

import (
	"cmp"
	"slices"
	"time"

	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Section is a group that tunes together, with everything the leader sets up once.
type Section struct {
	ID        int64           `json:"id"`
	Name      string          `json:"name"`
	Reference pitch.Reference `json:"reference"`
	// Good and Near are the tolerance band in cents: within Good a chair is
	// set; between Good and Near it is near. 5 and 10 by default, double for
	// schools (common practice, no source).
	Good pitch.Cents `json:"good_cents"`
	Near pitch.Cents `json:"watch_cents"`
	// TuningNotes are the concert notes offered on the call bar. Octaves are
	// chosen per chair.
	TuningNotes []pitch.Note `json:"tuning_notes"`
	// Order is how turns go: OrderLowToHigh, OrderSeating or OrderByWorth.
	Order Order `json:"order"`
	// FixedPitch is set when a keyboard or tuned percussion plays along.
	FixedPitch bool `json:"fixed_pitch"`
	// Tuning is how chords are tuned unless a call says otherwise, as
	// hub/intonation names it; empty follows FixedPitch.
	Tuning string `json:"tuning,omitempty"`
	// HornOrder is the side that double horns are set on first: the B flat side
	// unless the leader goes the other way.
	HornOrder slide.HornOrder `json:"horn_order,omitempty"`
	// Arc is set when the section sits in an arc around the leader, otherwise
	// it sits in rows.
	Arc bool `json:"arc,omitempty"`
	// Notes is how notes are named on the pages; players may choose otherwise
	// for their own.
	Notes pitch.Style `json:"notes,omitzero"`
	// Language is what the section's pages are in, as a tag of BCP 47; empty for
	// English. Players may choose otherwise for their own.
	Language string `json:"language,omitempty"`
	// HideNames shows chair labels instead of names on the wall screen.
	HideNames bool `json:"hide_names"`
	// TemperatureC is the room as the leader typed it; 0 = not said.
	TemperatureC float64 `json:"temperature_c"`
	Chairs       []Chair `json:"chairs"`
}

// Order of turns.
type Order string

// Orders.
const (
	OrderLowToHigh Order = "low-to-high"
	OrderSeating   Order = "seating"
	// OrderByWorth hears everybody once, low to high, and then whose note tells
	// most, until the section is in tune as far as notes can tell: see hub/belief.
	// The others hear each chair in its turn until it is known where it stands.
	OrderByWorth Order = "by-worth"
	// OrderTwoAtOnce is OrderByWorth, and two who were not heard yet play at the same
	// time where their notes lie octaves apart: a little quicker, a little less sure.
	OrderTwoAtOnce Order = "two-at-once"
)

// ByWorth reports whether notes are asked for by what they tell.
func (o Order) ByWorth() bool { return o == OrderByWorth || o == OrderTwoAtOnce }

// ChairID identifies a chair within a hub's storage.
type ChairID int64

// Chair is one player's place.
type Chair struct {
	ID         ChairID       `json:"id"`
	Name       string        `json:"name"`  // the player's; may be empty
	Label      string        `json:"label"` // the place's: "Horn 2"
	Part       string        `json:"part"`
	Instrument instrument.ID `json:"instrument"`
	Row        int           `json:"row"`   // 0 = front
	Place      int           `json:"place"` // from the leader's left
	Absent     bool          `json:"absent"`
	// Settings is where the slides stand, Travel what the player measured.
	Settings instrument.Settings `json:"settings"`
	Travel   instrument.Settings `json:"travel"`
	// Since is the first number that the hub could give since the chair has this
	// instrument: what bears an earlier one was of another. 0 = always had it.
	Since int64 `json:"since,omitempty"`
	// Corrected is the instrument that the laptop said before the leader corrected it:
	// saying it once more changes nothing. Empty = not corrected.
	Corrected instrument.ID `json:"corrected,omitempty"`
}

// Called is how a chair is called where everybody can see it: by its label alone
// where names are hidden, for the wall shows them too.
func (s Section) Called(c Chair) string {
	if s.HideNames {
		return c.Label
	}
	return c.Display()
}

// Display is how a chair is called on its own page and the leader's: by the
// player's name where there is one.
func (c Chair) Display() string {
	if c.Name != "" {
		return c.Name
	}
	return c.Label
}

// Seating compares two chairs by where they sit: front row first, from the
// leader's left.
func (c Chair) Seating(o Chair) int {
	return cmp.Or(cmp.Compare(c.Row, o.Row), cmp.Compare(c.Place, o.Place), cmp.Compare(c.ID, o.ID))
}

// CallKind tells a tuning note from a chord.
type CallKind string

// Kinds of call.
const (
	CallNote  CallKind = "note"
	CallChord CallKind = "chord"
	// CallListen hears whatever chord the chairs hold: each chooses its note.
	CallListen CallKind = "listen"
	// CallBend leads all through one bend of their tuning note: see hub/history/study.
	CallBend CallKind = "bend"
)

// Call is what the leader asks for.
type Call struct {
	Kind CallKind `json:"kind"`
	// Note is the concert note of a tuning call; each chair plays it in its
	// own octave unless Tones says otherwise.
	Note pitch.Note `json:"note"`
	// Spelled names the note where a score spells it otherwise than usual: "F#".
	Spelled string `json:"spelled,omitempty"`
	// Chord names a chord call for people: "B♭ major".
	Chord string `json:"chord,omitempty"`
	// Tones is the sounding note of each chair, filled in by the hub where empty.
	Tones map[ChairID]pitch.Note `json:"tones"`
	// Together is true when the chairs play at once, false for turns.
	Together bool `json:"together"`
	// Thorough is set when the main slide of each is set from several notes, those
	// of Several: in turns by worth alone.
	Thorough bool `json:"thorough,omitempty"`
	// Several holds the notes of each chair in a thorough call, as they sound, its
	// own of the call first: filled in by the hub, and more than one. Tones is then
	// what it plays next.
	Several map[ChairID][]pitch.Note `json:"several,omitempty"`
	// Only is set when those with a tone play and the others rest.
	Only bool `json:"only,omitempty"`
	// Where says where in a piece it stands: "bar 12".
	Where string `json:"where,omitempty"`
	// Anchor, Tuning and Shape are for chords; see hub/intonation.
	Anchor string `json:"anchor,omitempty"`
	Tuning string `json:"tuning,omitempty"`
	Shape  string `json:"shape,omitempty"`
	// Fingerings holds the fingering or position of chairs that play their chord
	// tone in another than the usual way: "1-3", "4th position".
	Fingerings map[ChairID]string `json:"ways,omitempty"`
	// Heads holds what stands at the head of a chair's staff in a piece.
	Heads map[ChairID]Head `json:"heads,omitempty"`
}

// Head is the clef and the key signature of a chair's written part.
type Head struct {
	Clef string `json:"clef,omitempty"` // the instrument's own where empty
	Key  *int   `json:"key,omitempty"`  // sharps, flats negative; nil for none known
}

// Strike takes a chair out of a round with all that it was to play.
func (r *Round) Strike(id ChairID) {
	delete(r.Call.Tones, id)
	delete(r.Call.Several, id)
	delete(r.Call.Fingerings, id)
	delete(r.Call.Heads, id)
	delete(r.After, id)
	r.Queue = slices.DeleteFunc(r.Queue, func(c ChairID) bool { return c == id })
}

// RoundID numbers rounds within a hub's storage; 0 = none.
type RoundID int64

// Round is one pass of a call over the chairs.
type Round struct {
	ID      RoundID   `json:"id"`
	Section int64     `json:"section"`
	Call    Call      `json:"call"`
	Started time.Time `json:"started"`
	Ended   time.Time `json:"ended"` // zero while it runs
	// TemperatureC is the room as the leader had typed it when calling; 0 = not said.
	TemperatureC float64 `json:"temperature_c,omitempty"`
	// Queue holds the chairs still to be heard, in order. In a together round
	// all of them are heard at once.
	Queue []ChairID `json:"queue"`
	// After holds, for a chair that the leader asked again, the reading after
	// which its turn begins anew.
	After map[ChairID]int64 `json:"after,omitempty"`
	// Passed lists whom a round by worth asks no more by itself, whatever their notes
	// would tell: the leader passed them over, or it was over.
	Passed []ChairID `json:"passed,omitempty"`
	// Again is set when some chairs only were called again.
	Again bool `json:"again,omitempty"`
	// MovesAnyway is set when the leader wants moves although the whole
	// section is off together.
	MovesAnyway bool `json:"moves_anyway,omitempty"`
	// WarmUp is set when the leader ended the round so that all play warm first.
	WarmUp bool   `json:"warm_up,omitempty"`
	Room   string `json:"room,omitempty"`
	// AsOne is how far the whole section was off together when the leader was
	// told; nil when it was not. Moves are withheld from then on, unless
	// MovesAnyway. Room is the same in words, in records of earlier versions.
	AsOne *pitch.Cents `json:"as_one_cents,omitempty"`
	// Parted tells why a together round goes on in turns, nil for one that does
	// not. Note is the same in words, in records of earlier versions.
	Parted *Parted `json:"parted,omitempty"`
	Note   string  `json:"note,omitempty"`
	// Alone lists the chairs whose own laptop was believed by itself while all
	// played together.
	Alone []ChairID `json:"alone,omitempty"`
	// InTurn is set when a together round goes on in turns, because chairs
	// could not be told apart.
	InTurn bool `json:"in_turn,omitempty"`
	// Groups are those of a together round that are heard again a few at a time,
	// one group after the other: the first plays now. Whoever of the queue is in none
	// is heard in turn after them.
	Groups [][]ChairID `json:"groups,omitempty"`
	// Unheard says of chairs that played with others and were not read why not, the
	// last time; who was read since may still be in it.
	Unheard map[ChairID]Reason `json:"unheard,omitempty"`
	// Held counts how often the row has held a chord again for the chairs that
	// were not heard clearly in it.
	Held int `json:"held,omitempty"`
	// Closed is set when the leader ended the round; Ended alone means that
	// all who are here have been heard.
	Closed bool `json:"closed,omitempty"`
	// Void is set when the leader took the call back.
	Void bool `json:"void,omitempty"`
}

// Parted is why chairs that played together are heard in turn.
type Parted struct {
	Pairs int `json:"pairs,omitempty"` // pairs that cannot be told apart
	Left  int `json:"left,omitempty"`  // chairs that were not heard clearly
	// Help is what would tell most of them apart the next time, empty where most
	// were: one of the words below.
	Help string `json:"help,omitempty"`
}

// What helps a row that cannot be told apart.
const (
	HelpNearer  = "nearer"  // laptops nearer to the bells, or fewer at once
	HelpGroups  = "groups"  // fewer at once
	HelpLaptops = "laptops" // one before each player
)

// Reading is one stored reading. ID is the hub's; Node, Boot and Sequence
// make it unique.
type Reading struct {
	ID      int64         `json:"id"`
	Chair   ChairID       `json:"chair"`
	Round   RoundID       `json:"round"`
	Node    string        `json:"node"`
	Boot    string        `json:"boot"`
	At      time.Time     `json:"at"` // arrival by the hub's clock
	Wire    proto.Reading `json:"wire"`
	Note    pitch.Note    `json:"note"`   // the called sounding note
	Target  pitch.Hertz   `json:"target"` // where it should be
	Cents   pitch.Cents   `json:"cents"`  // from the target
	Counted bool          `json:"counted"`
	Why     Reason        `json:"why,omitempty"` // when not counted
	// Verdict is ChairRow's stable code, Answer what the player was told; both
	// are empty for readings that nobody asked for.
	Verdict string  `json:"verdict,omitempty"`
	Answer  *Answer `json:"answer,omitempty"`
	// Heard is what several microphones together made of it; nil when the
	// reading stands as the node sent it.
	Heard *Heard `json:"heard,omitempty"`
}

// Hz is the pitch that holds for the reading: as several microphones have it, or
// the node.
func (r *Reading) Hz() pitch.Hertz {
	if r.Heard != nil {
		return r.Heard.Hz
	}
	return r.Wire.Hz
}

// CI95 is the half width of its interval, of where the note goes on (pitch.Cents.CentreSD).
func (r *Reading) CI95() pitch.Cents {
	if r.Heard != nil {
		return r.Heard.CI95
	}
	return r.Wire.CI95
}

// Mute is what was in the bell; one that is not known here is another mute.
func (r *Reading) Mute() slide.Mute {
	m := slide.Mute(r.Wire.Mute)
	if !slices.Contains(slide.Mutes, m) {
		return slide.OtherOne
	}
	return m
}

// Heard is a chair's pitch as found from several microphones.
type Heard struct {
	Hz     pitch.Hertz `json:"hz"`
	CI95   pitch.Cents `json:"ci95_cents"` // as a node's; in records of earlier versions that of the mean
	Spread pitch.Cents `json:"spread_cents"`
	Drift  float64     `json:"drift_cents_per_s"`
	Level  pitch.Level `json:"level_dbfs"`      // without the others
	Words  string      `json:"words,omitempty"` // in records of earlier versions
}

// MoveRecord is one piece of advice and what became of it.
type MoveRecord struct {
	ID       int64              `json:"id"`
	Chair    ChairID            `json:"chair"`
	Round    RoundID            `json:"round"`
	Reading  int64              `json:"reading"` // the reading it came from
	At       time.Time          `json:"at"`
	Slide    instrument.SlideID `json:"slide"`
	FromMM   float64            `json:"from_mm"`
	ToMM     float64            `json:"to_mm"`
	Expected pitch.Cents        `json:"expected_cents"`
	// Done is when the player said, or the next reading implied, that it was made.
	Done time.Time `json:"done"`
	// Assumed is set when nobody said that the move was made, but the player
	// was told and has played since.
	Assumed bool `json:"assumed,omitempty"`
	// Withdrawn is set when the advice was taken back before it was followed:
	// the whole section was off, or the leader took the reading back.
	Withdrawn bool `json:"withdrawn,omitempty"`
	// Measured is the change found by the next reading, FollowThrough the
	// verdict; empty while unknown.
	Measured      pitch.Cents `json:"measured_cents"`
	FollowThrough string      `json:"follow_through,omitempty"`
}

// SettingRecord is where a slide stood from a moment on.
type SettingRecord struct {
	Chair ChairID            `json:"chair"`
	At    time.Time          `json:"at"`
	Slide instrument.SlideID `json:"slide"`
	From  float64            `json:"from_mm"` // where it stood before
	MM    float64            `json:"mm"`
	// Source is one of the source constants.
	Source string `json:"source"`
}

// Who says where a slide stands: the player, the leader, or nobody, but the
// player was told to move it there and has played since.
const (
	SourcePlayer = "player"
	SourceLeader = "leader"
	SourceMove   = "move"
)
