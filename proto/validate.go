package proto

import (
	"fmt"
	"math"
	"unicode"
	"unicode/utf8"

	"bellrow/proto/track"
)

// Bounds on values. They keep nonsense out of the database and the pages;
// what is musically possible is judged elsewhere.
const (
	MaxName    = 64      // characters in a name of a chair, part or device
	MaxID      = 64      // characters in a node, boot or instrument id
	MaxSecret  = 128     // characters in a join code or token
	MaxText    = 1000    // characters in a sentence for people
	MaxHz      = 20000   // above hearing
	MaxCents   = 12000   // ten octaves
	MaxSeconds = 1e9     // a clock that has run for 30 years
	MaxSeq     = 1 << 53 // integers beyond are not the same in every JSON reader (RFC 8259, section 6)
	MaxSlideMM = 2000    // longer than any slide; a trombone's hand slide is under 700
	MinDB      = -400    // quieter than any converter
	MaxDB      = 100     // louder than full scale by any margin of error
	MaxRate    = 768000  // samples per second of the fastest converters
	MaxPartial = 64      // partials in a track chunk
	MaxItems   = 64      // slides, notes or moves in a view
	MaxPath    = 500     // points of a pitch path
)

// Validate checks that exactly the payload that Type names is set and that
// each value lies in its range. The error wraps ErrInvalid, or ErrUnknownType.
func (m Message) Validate() error {
	if !m.Type.known() {
		return fmt.Errorf("%w %.20q", ErrUnknownType, m.Type)
	}
	if n := m.payloads(); n != 1 {
		return fmt.Errorf("%w: %s with %d payloads, need 1", ErrInvalid, m.Type, n)
	}
	var c check
	switch {
	case m.Type == TypeHello && m.Hello != nil:
		m.Hello.check(&c)
	case m.Type == TypeReading && m.Reading != nil:
		m.Reading.check(&c)
	case m.Type == TypeState && m.State != nil:
		c.id("state", string(m.State.State), false)
		c.number("level_dbfs", float64(m.State.Level), MinDB, MaxDB)
		c.id("trouble", m.State.Trouble, true)
		c.id("names", m.State.Names, true)
		c.id("language", m.State.Language, true)
	case m.Type == TypeTrack && m.Track != nil:
		checkTrack(&c, m.Track)
	case m.Type == TypeSetting && m.Setting != nil:
		c.id("slide", string(m.Setting.Slide), false)
		c.number("mm", m.Setting.MM, 0, MaxSlideMM)
		c.number("travel_mm", m.Setting.TravelMM, 0, MaxSlideMM)
	case m.Type == TypePing && m.Ping != nil:
		c.number("sent_s", m.Ping.Sent, 0, MaxSeconds)
		c.number("offset_s", m.Ping.Offset, -MaxSeconds, MaxSeconds)
		c.number("error_s", m.Ping.Error, 0, MaxSeconds)
		c.count("sample", m.Ping.Sample)
	case m.Type == TypeWelcome && m.Welcome != nil:
		m.Welcome.check(&c)
	case m.Type == TypeView && m.View != nil:
		m.View.check(&c)
	case m.Type == TypeProof && m.Proof != nil:
		c.id("share", m.Proof.Share, true)
		c.text("tag", m.Proof.Tag, MaxSecret)
	case m.Type == TypeAck && m.Ack != nil:
	case m.Type == TypePong && m.Pong != nil:
		c.number("sent_s", m.Pong.Sent, 0, MaxSeconds)
		c.number("at_s", m.Pong.At, 0, MaxSeconds)
	case m.Type == TypeError && m.Error != nil:
		c.id("code", m.Error.Code, false)
		c.text("message", m.Error.Message, MaxText)
		c.text("hint", m.Error.Hint, MaxText)
	default:
		return fmt.Errorf("%w: %s without its payload", ErrInvalid, m.Type)
	}
	if c.err != nil {
		return fmt.Errorf("%w: %s: %w", ErrInvalid, m.Type, c.err)
	}
	return nil
}

func (m Message) payloads() int {
	n := 0
	for _, set := range []bool{
		m.Hello != nil, m.Reading != nil, m.State != nil, m.Track != nil, m.Setting != nil, m.Ping != nil,
		m.Welcome != nil, m.View != nil, m.Ack != nil, m.Pong != nil, m.Error != nil, m.Proof != nil,
	} {
		if set {
			n++
		}
	}
	return n
}

func (h *Hello) check(c *check) {
	c.number("version", float64(h.Version), 1, 1e6)
	c.id("node", h.Node, false)
	c.id("boot", h.Boot, false)
	c.text("chair", h.Chair, MaxName)
	c.text("part", h.Part, MaxName)
	c.id("instrument", string(h.Instrument), false)
	c.text("join", h.Join, MaxSecret)
	c.text("token", h.Token, MaxSecret)
	c.text("device", h.Device, 4*MaxName) // device names are long; only shown
	c.number("rate", h.Rate, 0, MaxRate)
	if p := h.Prove; p != nil {
		c.id("prove by", p.By, false)
		c.id("prove session", p.Session, false)
		c.id("prove share", p.Share, false)
	}
}

func (w *Welcome) check(c *check) {
	c.number("version", float64(w.Version), 1, 1e6)
	c.id("hub", w.Hub, true)
	c.text("section", w.Section, MaxText)
	c.id("chair", w.Chair, false)
	c.text("token", w.Token, MaxSecret)
}

func (r *Reading) check(c *check) {
	if r.Sequence == 0 || r.Sequence > MaxSeq {
		c.fail("seq %d, need 1 to %d", r.Sequence, uint64(MaxSeq))
	}
	c.count("round", r.Round)
	c.number("start_s", r.Start, 0, MaxSeconds)
	c.number("end_s", r.End, r.Start, MaxSeconds)
	c.number("onset_s", r.Onset, 0, MaxSeconds)
	c.number("hz", float64(r.Hz), 0, MaxHz)
	if r.Settled && r.Hz == 0 {
		c.fail("settled without hz")
	}
	c.number("ci95_cents", float64(r.CI95), 0, MaxCents)
	c.number("spread_cents", float64(r.Spread), 0, MaxCents)
	c.number("drift_cents_per_s", r.Drift, -MaxCents, MaxCents)
	c.number("level_dbfs", float64(r.Level), MinDB, MaxDB)
	c.number("floor_dbfs", float64(r.Floor), MinDB, MaxDB)
	c.number("early_cents", float64(r.Early), -MaxCents, MaxCents)
	c.number("played_s", r.Played, 0, MaxSeconds)
	c.id("reason", r.Reason, true)
	c.id("mute", r.Mute, true)
	if v := r.Vibrato; v != nil {
		c.number("vibrato.rate_hz", v.RateHz, 0, 100)
		c.number("vibrato.extent_cents", float64(v.Extent), 0, MaxCents)
	}
	if p := r.Path; p != nil {
		c.number("path.hz", float64(p.Hz), 0, MaxHz)
		c.number("path.step_s", p.Step, 0, 1)
		c.items("path.tenths", len(p.Tenths), MaxPath)
		for _, x := range p.Tenths {
			c.number("path.tenths", float64(x), -NoPitch, NoPitch)
		}
	}
	if s := r.Second; s != nil {
		c.number("second.offset_cents", float64(s.Offset), -MaxCents, MaxCents)
		c.number("second.level_db", s.LevelDB, MinDB, MaxDB)
	}
}

func checkTrack(c *check, t *track.Chunk) {
	c.number("ref", float64(t.Reference), 0, MaxHz)
	c.count("first", t.First)
	c.number("rate", t.Rate, 1, MaxRate)
	c.number("floor", float64(t.Floor), MinDB, MaxDB)
	c.number("level", float64(t.Level), MinDB, MaxDB)
	c.items("partials", len(t.Partials), MaxPartial)
	for _, p := range t.Partials {
		c.number("k", float64(p.K), 1, 1000)
		c.number("step", float64(p.Step), 1, MaxRate)
		c.number("scale", p.Scale, 0, math.MaxFloat32)
	}
}

func (v *View) check(c *check) {
	c.count("round", v.Round)
	c.id("phase", v.Phase, true)
	c.id("names", v.Names, true)
	c.id("language", v.Language, true)
	for name, s := range map[string]string{
		"section": v.Section, "chair": v.Chair, "say": v.Say,
		"written": v.Written, "concert": v.Concert, "fingering": v.Fingering, "instrument": v.Instrument, "clef": v.Clef,
	} {
		c.text(name, s, MaxText)
	}
	c.number("target_hz", float64(v.Target), 0, MaxHz)
	c.number("tracks_hz", float64(v.Tracks), 0, MaxHz)
	if v.Key != nil {
		c.number("key", float64(*v.Key), -7, 7)
	}
	c.slides(v.Slides)
	c.items("notes", len(v.Notes), MaxItems)
	for _, n := range v.Notes {
		c.text("notes", n, MaxText)
	}
	if a := v.Answer; a != nil {
		c.count("answer.id", a.ID)
		for _, s := range []string{a.Kind, a.Headline, a.Detail, a.Next, a.Small} {
			c.text("answer", s, MaxText)
		}
		c.slides(a.Moves)
	}
}

// check collects the first fault found.
type check struct{ err error }

func (c *check) fail(format string, args ...any) {
	if c.err == nil {
		c.err = fmt.Errorf(format, args...)
	}
}

func (c *check) number(name string, x, low, high float64) {
	if !(x >= low && x <= high) { // false for NaN, too
		c.fail("%s %g, need %g to %g", name, x, low, high)
	}
}

func (c *check) count(name string, n int64) {
	if n < 0 {
		c.fail("%s %d, need 0 or more", name, n)
	}
}

func (c *check) items(name string, n, most int) {
	if n > most {
		c.fail("%d %s, need at most %d", n, name, most)
	}
}

func (c *check) slides(s []Slide) {
	c.items("slides", len(s), MaxItems)
	for _, x := range s {
		c.id("slide", string(x.ID), false)
		c.text("slide name", x.Name, MaxName)
		for _, mm := range []float64{x.FromMM, x.ToMM, x.TravelMM} {
			c.number("slide mm", mm, -MaxSlideMM, MaxSlideMM)
		}
	}
}

// id checks a machine-made word: letters, digits, and - _ . only.
func (c *check) id(name, s string, mayBeEmpty bool) {
	if s == "" && !mayBeEmpty {
		c.fail("%s is empty", name)
	}
	if len(s) > MaxID {
		c.fail("%s of %d characters, need at most %d", name, len(s), MaxID)
		return
	}
	for _, r := range s {
		if !(r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' || r == '_' || r == '.') {
			c.fail("%s has %q, need letters, digits, - _ .", name, r)
			return
		}
	}
}

// text checks words for people.
func (c *check) text(name, s string, most int) {
	if n := utf8.RuneCountInString(s); n > most {
		c.fail("%s of %d characters, need at most %d", name, n, most)
	}
	if !Printable(s) {
		c.fail("%s has control characters", name)
	}
}

// Printable reports whether s is valid UTF-8 without control characters and
// without the directional controls of Unicode (UAX 9) that could make one
// name look like another.
func Printable(s string) bool {
	if !utf8.ValidString(s) {
		return false
	}
	for _, r := range s {
		if unicode.IsControl(r) || r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 {
			return false
		}
	}
	return true
}
