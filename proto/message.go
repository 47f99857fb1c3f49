package proto

import (
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// Version is the protocol version spoken here; MinVersion the oldest one
// still understood.
const (
	Version    = 1
	MinVersion = 1
)

// Service and Domain name the hub in DNS-SD.
const (
	Service = "_bellrow._tcp"
	Domain  = "local."
)

// Type is the kind of a message.
type Type string

// Messages from node to hub.
const (
	TypeHello   Type = "hello"   // first message on every connection
	TypeReading Type = "reading" // one settled or unsettled reading; acknowledged after commit
	TypeState   Type = "state"   // what the listener hears: quiet, sounding, resting; never a pitch
	TypeTrack   Type = "track"   // partial tracks for attribution
	TypeSetting Type = "setting" // the player says where a slide stands or that a move was made
	TypePing    Type = "ping"    // clock exchange
)

// TypeProof goes both ways: see Proof.
const TypeProof Type = "proof"

// Messages from hub to node.
const (
	TypeWelcome Type = "welcome"
	TypeView    Type = "view" // all a player's page shows, whole, whenever it changes
	TypeAck     Type = "ack"
	TypePong    Type = "pong"
	TypeError   Type = "error"
)

// Message is the envelope. Exactly one payload is set, the one Type names.
type Message struct {
	Type    Type         `json:"type"`
	Hello   *Hello       `json:"hello,omitempty"`
	Reading *Reading     `json:"reading,omitempty"`
	State   *State       `json:"state,omitempty"`
	Track   *track.Chunk `json:"track,omitempty"`
	Setting *Setting     `json:"setting,omitempty"`
	Ping    *Ping        `json:"ping,omitempty"`
	Welcome *Welcome     `json:"welcome,omitempty"`
	View    *View        `json:"view,omitempty"`
	Ack     *Ack         `json:"ack,omitempty"`
	Pong    *Pong        `json:"pong,omitempty"`
	Error   *Error       `json:"error,omitempty"`
	Proof   *Proof       `json:"proof,omitempty"`
}

// Hello opens a connection. Join is needed the first time; the token from
// Welcome afterwards. Boot is random for each start of the node and Sequence
// numbers start at 1 in each boot.
type Hello struct {
	Version    int           `json:"version"`
	Node       string        `json:"node"` // stable identity of this laptop and chair, random, made once
	Boot       string        `json:"boot"`
	Chair      string        `json:"chair"` // name the player gave
	Part       string        `json:"part,omitempty"`
	Instrument instrument.ID `json:"instrument"`
	Join       string        `json:"join,omitempty"`
	Token      string        `json:"token,omitempty"`
	Device     string        `json:"device,omitempty"`
	Rate       float64       `json:"rate,omitempty"`
	Tracks     bool          `json:"tracks,omitempty"` // can send partial tracks
	// Prove begins a proof that both sides know the code or the token, in place
	// of Join and Token, which then stay here.
	Prove *Prove `json:"prove,omitempty"`
}

// What a Prove is about.
const (
	ByCode  = "code"  // the join code
	ByToken = "token" // the hex SHA-256 of the node's token, which the hub keeps
)

// Prove is the node's part of an exchange of package pake. Bytes are in
// URL-safe base 64 without padding.
type Prove struct {
	By      string `json:"by"`
	Session string `json:"session"`
	Share   string `json:"share"`
}

// Proof answers: the hub's first, with its share and the tag that shows that it
// knows the secret, then the node's, with its own tag. A node that is welcomed
// by the code has its token from the exchange; Welcome.Token is empty.
type Proof struct {
	Share string `json:"share,omitempty"`
	Tag   string `json:"tag"`
}

// Welcome accepts a node.
type Welcome struct {
	Version int    `json:"version"`
	Hub     string `json:"hub"` // hub id, to tell two hubs of one name apart
	Section string `json:"section"`
	Chair   string `json:"chair"` // chair id at the hub
	Token   string `json:"token,omitempty"`
	// Stored is the highest sequence of this boot that the hub has committed.
	Stored uint64 `json:"stored"`
}

// Reading is one reading on the wire. Times are seconds on the node's own
// clock since its boot; the hub stamps arrival.
type Reading struct {
	Sequence uint64 `json:"seq"`
	// Round is the round the node believed it was answering, 0 for none.
	Round  int64       `json:"round,omitempty"`
	Start  float64     `json:"start_s"`
	End    float64     `json:"end_s"`
	Onset  float64     `json:"onset_s"`
	Hz     pitch.Hertz `json:"hz"`
	CI95   pitch.Cents `json:"ci95_cents"`
	Spread pitch.Cents `json:"spread_cents"`
	Drift  float64     `json:"drift_cents_per_s"`
	Level  pitch.Level `json:"level_dbfs"`
	Floor  pitch.Level `json:"floor_dbfs"`
	Early  pitch.Cents `json:"early_cents"`
	// Played is how long this node has heard its instrument sound since its
	// boot, in seconds: cold instruments are told by played time.
	Played  float64  `json:"played_s"`
	Settled bool     `json:"settled"`
	Reason  string   `json:"reason,omitempty"`
	Vibrato *Vibrato `json:"vibrato,omitempty"`
	Second  *Second  `json:"second,omitempty"`
	Clipped bool     `json:"clipped,omitempty"`
	// OctaveInDoubt says that the note may lie an octave beside Hz; such a reading
	// never settles, and hubs that do not know the field go by its reason.
	OctaveInDoubt bool `json:"octave_in_doubt,omitempty"`
	// Mute is what was in or over the bell, as the player ticked it: "straight",
	// "cup", "other", or "stopped" by a horn player's hand; empty for nothing.
	Mute string `json:"mute,omitempty"`
	// Path comes where the hub asked for it.
	Path *Path `json:"path,omitempty"`
}

// Path is how the pitch of a note went, from its onset on: of a bent note, which
// is not to rest. The hub asks for it (View.Path).
type Path struct {
	Hz   pitch.Hertz `json:"hz"`     // where Tenths are counted from
	Step float64     `json:"step_s"` // from point to point
	// Tenths are tenths of a cent, NoPitch where none was heard.
	Tenths []int `json:"tenths"`
}

// NoPitch stands in a Path where nothing was heard.
const NoPitch = 1 << 15

// Vibrato on the wire.
type Vibrato struct {
	RateHz float64     `json:"rate_hz"`
	Extent pitch.Cents `json:"extent_cents"`
}

// Second source on the wire. Nodes named one until a reading was told from its
// neighbours by the power of its partials; now none does.
type Second struct {
	Offset  pitch.Cents `json:"offset_cents"`
	LevelDB float64     `json:"level_db"`
}

// Paused is the State of a node whose player wants to hear no call; the others
// are those of node/listen: "quiet", "sounding", "resting".
const Paused = "paused"

// State is what the listener hears, without any pitch.
type State struct {
	State string      `json:"state"`
	Level pitch.Level `json:"level_dbfs"`
	// Trouble names a device problem in a stable code: "no-samples",
	// "overrun", "clipping", "processing-on"; empty when all is well.
	Trouble string `json:"trouble,omitempty"`
	// Played is how long the instrument has sounded, in seconds; 0 = not told.
	Played float64 `json:"played_s,omitempty"`
	// Names is how this player wants notes named, as pitch.Style writes it;
	// empty = as the section has it.
	Names string `json:"names,omitempty"`
	// Language is what this player's page is in, as a tag of BCP 47; empty = as
	// the section is.
	Language string `json:"language,omitempty"`
}

// Setting reports a slide.
type Setting struct {
	Slide    instrument.SlideID `json:"slide"`
	MM       float64            `json:"mm"`
	TravelMM float64            `json:"travel_mm,omitempty"` // when the player measured it
}

// Ping and Pong exchange clocks: Sent in seconds on the node's clock, At on
// the hub's, both since their own start.
type Ping struct {
	ID   uint64  `json:"id"`
	Sent float64 `json:"sent_s"`
	// Offset and Error are the node's current estimate of hub minus node
	// clock and its half width, from the exchanges so far; Error 0 = none yet.
	Offset float64 `json:"offset_s"`
	Error  float64 `json:"error_s"`
	// Sample is the node's sample count at Sent, tying samples to clocks.
	Sample int64 `json:"sample"`
}

// Pong answers a Ping.
type Pong struct {
	ID   uint64  `json:"id"`
	Sent float64 `json:"sent_s"`
	At   float64 `json:"at_s"`
}

// Ack says that every reading of this boot up to Stored is committed.
type Ack struct {
	Stored uint64 `json:"stored"`
}

// Error tells what went wrong: a stable code, a sentence, the next action.
type Error struct {
	Code    string `json:"code"`
	Message string `json:"message"`
	Hint    string `json:"hint,omitempty"`
	Fatal   bool   `json:"fatal,omitempty"` // the connection ends; do not retry with the same words
}

// View is everything a player's page shows. The hub sends it whole whenever
// it changes, so a page that missed one is right again with the next.
type View struct {
	Section string `json:"section"`
	Chair   string `json:"chair"`
	// Round is the round that this player is asked to play for now. It is 0
	// while others play and when nothing is called, so that a sound caught
	// then answers no round.
	Round int64 `json:"round"`
	// Phase is where this player stands: "idle", "wait" (others play), "play",
	// "answer", "rest", "absent", "watch" (the section rehearses: listen, show nothing).
	Phase string `json:"phase"`
	// Say is the one line that matters now.
	Say string `json:"say"`
	// Written and Concert name the note to play in English, as pitch.ParseNote
	// reads it: "C5", "B♭4"; Target is its frequency; Fingering how the hub
	// expects it to be played. Names is how the page names notes, as
	// pitch.Style writes it; Say has them so named. Empty: in English.
	Written   string      `json:"written,omitempty"`
	Concert   string      `json:"concert,omitempty"`
	Fingering string      `json:"fingering,omitempty"`
	Target    pitch.Hertz `json:"target_hz,omitempty"`
	Names     string      `json:"names,omitempty"`
	// Language is what the sentences are in, as a tag of BCP 47; empty = English.
	Language string `json:"language,omitempty"`
	// Instrument is what the hub has the chair down for, and Clef its part's;
	// empty from hubs of earlier versions. Key is the key signature of the
	// written note in sharps, flats negative; nil where the note stands for itself.
	Instrument string `json:"instrument,omitempty"`
	Clef       string `json:"clef,omitempty"`
	Key        *int   `json:"key,omitempty"`
	// Tracks asks for partial tracks around multiples of this frequency; 0 = none.
	Tracks pitch.Hertz `json:"tracks_hz,omitempty"`
	// Path asks for the pitch path of the note, which is bent on purpose.
	Path bool `json:"path,omitempty"`
	// Why is the stable code (Answer.Code) of why the note is asked for again.
	Why string `json:"why,omitempty"`
	// Listen is false while readings would be thrown away.
	Listen bool     `json:"listen"`
	Answer *Answer  `json:"answer,omitempty"`
	Slides []Slide  `json:"slides,omitempty"`
	Notes  []string `json:"notes,omitempty"` // cautions and hints, rare
}

// Answer is the frozen result of one reading.
type Answer struct {
	ID       int64   `json:"id"`
	Kind     string  `json:"kind"`           // slide.Kind
	Code     string  `json:"code,omitempty"` // slide.Advice.Code, stable
	Headline string  `json:"headline"`
	Detail   string  `json:"detail,omitempty"`
	Next     string  `json:"next,omitempty"`
	Small    string  `json:"small,omitempty"` // small print: cents and interval
	Moves    []Slide `json:"moves,omitempty"` // To set: where to
	// Moved says that the slides were moved since, whoever told the hub. Hubs of
	// earlier versions do not say.
	Moved bool `json:"moved,omitempty"`
}

// Slide is a slide as drawn on a page, all in mm out.
type Slide struct {
	ID       instrument.SlideID `json:"id"`
	Name     string             `json:"name"`
	FromMM   float64            `json:"from_mm"`
	ToMM     float64            `json:"to_mm"`
	TravelMM float64            `json:"travel_mm"`
}
