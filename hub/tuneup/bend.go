package tuneup

import (
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/history/study"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// A bend study is one round: the leader says the cues, which follow one another by
// the clock; all play their own tuning note and bend it. Its notes count nowhere,
// and what they showed is told when all are in.

const (
	// mostBends is how many bends a section plays in one tune-up (common practice,
	// no source).
	mostBends = 3
	// bendGrace is how long after the last cue notes may still come in.
	bendGrace = 6 * time.Second
)

// getReady comes before the cues: time to raise the instrument.
var getReady = study.Cue{Key: "study.cue.ready", Seconds: 6}

// bendCues are all that is said, the rest at the end apart.
var bendCues = append([]study.Cue{getReady}, study.BendCues[:len(study.BendCues)-1]...)

// bending reports whether a round is a bend study.
func bending(r *hub.Round) bool { return r.Call.Kind == hub.CallBend }

// Bend is where a bend study stands.
type Bend struct {
	// Cue is what the leader says now, Left for how long.
	Cue  study.Cue
	Left time.Duration
	// Ready is set before the note begins.
	Ready bool
	// Result is what the bends showed, once the round is done.
	Result study.SectionBend
	// Chairs are those of Result.Players, in their order.
	Chairs []hub.ChairID
}

// callBend begins a bend study.
func (s *State) callBend() error {
	before := 0
	for _, r := range s.rounds {
		if bending(r) {
			before++
		}
	}
	note := pitch.A4 + 1
	if len(s.section.TuningNotes) > 0 {
		note = s.section.TuningNotes[0]
	}
	switch last := s.lastBend(); {
	case before >= mostBends:
		return refuse("refusal.bends", mostBends)
	case last != nil && s.at.Before(bendOver(last).Add(restAfterBend())):
		return refuse("refusal.rest-first")
	}
	return s.call(hub.Call{Kind: hub.CallBend, Note: note, Together: true}, nil)
}

func (s *State) lastBend() *hub.Round {
	for _, r := range slices.Backward(s.rounds) {
		if bending(r) {
			return r
		}
	}
	return nil
}

// bendOver is when the last cue of a study ends.
func bendOver(r *hub.Round) time.Time {
	at := r.Started
	for _, c := range bendCues {
		at = at.Add(seconds(c.Seconds))
	}
	return at
}

func restAfterBend() time.Duration { return seconds(study.BendCues[len(study.BendCues)-1].Seconds) }

// cueAt finds what is said at a moment, and until when.
func cueAt(r *hub.Round, at time.Time) (i int, until time.Time) {
	until = r.Started
	for i, c := range bendCues {
		until = until.Add(seconds(c.Seconds))
		if at.Before(until) {
			return i, until
		}
	}
	return len(bendCues), bendOver(r).Add(bendGrace)
}

// takeBend takes a bent note in. One that ended before a bend could be over is none.
func (s *State) takeBend(st *seat, r *hub.Reading, run *hub.Round) {
	r.Why = hub.WhyStudy
	r.Answer = &hub.Answer{ID: r.ID, Advice: slide.Advice{Kind: slide.Rest, Code: "bend"}}
	if !r.At.Before(run.Started.Add(seconds(getReady.Seconds) + shortBend)) {
		leave(run, st.id())
	}
}

// shortBend is the least time that a bend takes, both ways.
const shortBend = 3 * time.Second

// endBend ends a study whose time is over.
func (s *State) endBend(run *hub.Round) {
	if bending(run) && !s.at.Before(bendOver(run).Add(bendGrace)) {
		run.Queue = nil
	}
}

// bendStanding is where a study stands.
func (s *State) bendStanding(run *hub.Round, done bool, at time.Time) *Bend {
	b := &Bend{}
	if i, until := cueAt(run, at); i < len(bendCues) {
		b.Cue, b.Left, b.Ready = bendCues[i], until.Sub(at), i == 0
	} else {
		b.Cue = study.BendCues[len(study.BendCues)-1]
	}
	if !done {
		return b
	}
	var all []study.Bender
	for _, c := range s.seated() {
		if _, plays := run.Call.Tones[c.ID]; !plays {
			continue
		}
		bender := study.Bender{Label: s.called(c.ID)}
		if r := s.seats[c.ID].inRound; r != nil && r.Wire.Path != nil {
			bender.Paths = append(bender.Paths, pathOf(r.Wire.Path))
		}
		all, b.Chairs = append(all, bender), append(b.Chairs, c.ID)
	}
	b.Result = study.BendTogether(all)
	return b
}

// pathOf is a path of the wire as a study takes it.
func pathOf(p *proto.Path) []study.Point {
	var out []study.Point
	for i, x := range p.Tenths {
		point := study.Point{Seconds: float64(i) * p.Step}
		if x > -proto.NoPitch && x < proto.NoPitch {
			point.Hz = p.Hz.Shift(pitch.Cents(float64(x) / 10))
		}
		out = append(out, point)
	}
	return out
}
