package study

import (
	"math"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Cue is one thing that a leader says while a whole section bends a note
// together, and how long it lasts.
type Cue struct {
	Key     string // of its text in proto/phrase
	Seconds float64
}

// BendCues lead a section through one bend: ten cents down, back to the centre,
// ten up, back to the centre, then a rest of at least the playing time. They fit
// what BendTogether measures.
var BendCues = []Cue{
	{"study.cue.straight", 1.5},
	{"study.cue.down", 1.5},
	{"study.cue.back", 1},
	{"study.cue.up", 1.5},
	{"study.cue.stay", 1.5},
	{"study.cue.rest", restLong},
}

// Bender is one player's bends of one session, with their pitch paths.
type Bender struct {
	Label string
	Paths [][]Point
}

// PlayerBend is what one player's bends showed; Bend is nil when none could be
// followed. Words and Try are to that player alone.
type PlayerBend struct {
	Label string      `json:"label"`
	Bend  *BendReport `json:"bend,omitempty"`
	Words []string    `json:"words"`
	Try   string      `json:"try,omitempty"`
}

// SectionBend is what the bends of a section showed together. The words are to
// the leader and name nobody.
type SectionBend struct {
	Players []PlayerBend `json:"players"`
	// Down, Up and Back are medians over the players who could be followed, Came
	// counts those who came back to their centre.
	Down  pitch.Cents `json:"down_cents"`
	Up    pitch.Cents `json:"up_cents"`
	Back  pitch.Cents `json:"back_cents"`
	Came  int         `json:"came_back"`
	Words []string    `json:"words"`
}

// BendTogether reads a bend that a section played to BendCues. Every player is
// held against their own straight start, so that nobody's pitch judges another's.
func BendTogether(benders []Bender) SectionBend {
	var s SectionBend
	var down, up, back []float64
	for _, b := range benders {
		p := PlayerBend{Label: b.Label}
		r := &BendReport{}
		for _, path := range b.Paths {
			r.take(path)
		}
		if len(r.Bends) == 0 {
			p.Words = []string{phrase.Tongue{}.Say("view.bend.lost")}
			s.Players = append(s.Players, p)
			continue
		}
		r.middle()
		p.Bend = r
		p.Words, p.Try = r.Say(phrase.Tongue{})
		s.Players = append(s.Players, p)
		down, up, back = append(down, float64(r.Down)), append(up, float64(r.Up)), append(back, float64(r.Back))
		if math.Abs(float64(r.Back)) <= float64(bendBack) {
			s.Came++
		}
	}
	if len(down) > 0 {
		s.Down, s.Up, s.Back = pitch.Cents(pitch.Median(down)), pitch.Cents(pitch.Median(up)), pitch.Cents(pitch.Median(back))
	}
	s.Words = s.In(phrase.Tongue{})
	return s
}

// In words what the bends of a section showed.
func (s SectionBend) In(t phrase.Tongue) []string {
	heard, far := 0, false
	for _, p := range s.Players {
		if p.Bend != nil {
			heard, far = heard+1, far || p.Bend.TooFar
		}
	}
	if heard == 0 {
		return []string{t.Say("study.bend.lost")}
	}
	w := []string{t.Say("study.together.heard", heard, len(s.Players), t.Roughly(s.Down), t.Roughly(s.Up)), t.Say("study.together.came", s.Came, heard)}
	if far {
		w = append(w, t.Say("study.together.far", int(bendMost)))
	}
	return w
}
