package hub

import (
	"fmt"
	"reflect"
	"slices"
	"strings"

	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Phases of proto.View.
const (
	phaseIdle   = "idle"
	phaseWait   = "wait"
	phasePlay   = "play"
	phaseAnswer = "answer"
	phaseRest   = "rest"
	phaseAbsent = "absent"
)

// Follow hands out a chair's view whenever it changes. The feed of a chair
// that does not exist is closed from the start.
func (h *Hub) Follow(chair ChairID) *ViewFeed {
	h.mu.Lock()
	defer h.mu.Unlock()
	f := newFeed(func() proto.View { return h.followed(chair) }, func(f *ViewFeed) {
		h.mu.Lock()
		defer h.mu.Unlock()
		if s := h.seats[chair]; s != nil {
			delete(s.feeds, f)
		}
	})
	if s := h.seats[chair]; s != nil {
		s.feeds[f] = struct{}{}
		s.view = h.viewOf(s, h.queueNow())
	} else {
		f.end()
	}
	return f
}

// View returns what a chair's page shows now.
func (h *Hub) View(chair ChairID) proto.View {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.seats[chair]
	if s == nil {
		return proto.View{Phase: phaseIdle}
	}
	return h.viewOf(s, h.queueNow())
}

// followed is the view that a chair's feeds were last told of.
func (h *Hub) followed(chair ChairID) proto.View {
	h.mu.Lock()
	defer h.mu.Unlock()
	if s := h.seats[chair]; s != nil {
		return s.view
	}
	return proto.View{Phase: phaseIdle}
}

// touch tells everybody who looks that something changed.
func (h *Hub) touch() {
	q := h.queueNow()
	for _, s := range h.seats {
		h.refresh(s, q)
	}
	h.touchRow()
}

// touchChair tells one player and the pages.
func (h *Hub) touchChair(s *seat) {
	h.refresh(s, h.queueNow())
	h.touchRow()
}

// refresh renews the view of a chair that somebody follows.
func (h *Hub) refresh(s *seat, q queue) {
	if len(s.feeds) == 0 {
		return
	}
	if v := h.viewOf(s, q); !reflect.DeepEqual(v, s.view) {
		s.view = v
		for f := range s.feeds {
			f.poke()
		}
	}
}

// queue is where everybody stands in the running round, worked out once for
// many views.
type queue struct {
	ahead   map[ChairID]int         // players here before a chair in the queue
	playing map[ChairID]bool        // who is asked to play now
	target  map[ChairID]pitch.Hertz // in a chord
}

func (q queue) waits(id ChairID) bool {
	_, in := q.ahead[id]
	return in
}

func (h *Hub) queueNow() queue {
	q := queue{}
	r := h.running()
	if r == nil {
		return q
	}
	q.ahead = make(map[ChairID]int, len(r.Queue))
	q.playing = map[ChairID]bool{}
	turn, n := h.turn(), 0
	for _, id := range r.Queue {
		q.ahead[id] = n
		if h.here(id) {
			n++
			q.playing[id] = r.allAtOnce() || id == turn && h.ringing().IsZero()
		}
	}
	if r.Call.Kind == CallChord {
		q.target, _ = h.tones(r)
	}
	return q
}

// touchRow tells the pages alone.
func (h *Hub) touchRow() {
	h.version++
	for f := range h.rowFeeds {
		f.poke()
	}
	select {
	case h.wake <- struct{}{}:
	default:
	}
}

// viewOf builds a player's view.
func (h *Hub) viewOf(s *seat, q queue) proto.View {
	c := h.chair(s.id)
	if c == nil {
		return proto.View{Phase: phaseIdle}
	}
	v := proto.View{Section: h.section.Name, Chair: c.display(), Phase: phaseIdle, Say: "Warm up. The leader will call a note."}
	r := h.running()
	if c.Absent {
		v.Phase, v.Say = phaseAbsent, "You are marked absent. Tell the leader that you are here."
		return v
	}
	if r != nil {
		h.roundView(&v, s, c, r, q)
	}
	if h.watching {
		v.Phase, v.Listen, v.Say = phaseWatch, true, "Rehearse. This laptop listens quietly and shows nothing."
		return v
	}
	if v.Phase == phasePlay {
		return v // while playing, nothing else
	}
	v.Slides, v.Notes = slidesOf(*c), cautions(s)
	if v.Answer == nil && v.Phase != phasePlay {
		v.Answer = h.openAnswer(s)
	}
	return v
}

// roundView fills in where the player stands in the running round.
func (h *Hub) roundView(v *proto.View, s *seat, c *Chair, r *Round, q queue) {
	tone, in := r.Call.Tones[s.id]
	if !in {
		return
	}
	if !r.listening() {
		target, ok := q.target[s.id]
		if !ok {
			target = h.section.Reference.Frequency(tone)
		}
		h.noteView(v, c, r, tone, target)
	}
	ahead, waits := q.ahead[s.id]
	switch {
	case h.gathered(s):
		v.Phase, v.Say = phaseWait, "Heard. Rest until the others are."
	case q.playing[s.id]:
		// The round is named only to those who are asked: a note that began
		// before, or that the microphone caught from a neighbour, answers none.
		v.Round = int64(r.ID)
		v.Phase, v.Listen = phasePlay, true
		if a := h.toMove(s); a != nil { // the slide first; then the note is heard again
			v.Phase, v.Answer, v.Say = phaseAnswer, a, a.Headline
			return
		}
		v.Say = h.playWords(v, s)
		if r.allAtOnce() && s.tracks {
			v.Tracks = h.tracksReference(r)
		}
	case waits:
		v.Phase, v.Say = phaseWait, waitWords(ahead)
		if s.warming() {
			v.Say = "Play easy notes until you are called."
		}
		v.Answer = s.askedAfter() // why it has to wait
	case s.inRound != nil:
		v.Phase, v.Answer = phaseAnswer, s.inRound.Answer
		if v.Answer == nil {
			return
		}
		v.Say = s.inRound.Answer.Headline
		if s.inRound.Answer.Kind == string(slide.Rest) {
			v.Phase = phaseRest
		}
	default:
		v.Phase, v.Say = phaseIdle, "You are left out of this round."
	}
}

// noteView names the note to play.
func (h *Hub) noteView(v *proto.View, c *Chair, r *Round, tone pitch.Note, target pitch.Hertz) {
	v.Concert, v.Target = tone.Display(), target
	v.Written = tone.Display()
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return
	}
	v.Written = in.Written(tone).Display()
	if p, ok := r.way(c.ID, in); ok {
		v.Fingering = p.String()
	}
}

// toMove is the answer whose slide the player is to move before playing once
// more in the same turn, nil when there is none.
func (h *Hub) toMove(s *seat) *proto.Answer {
	if a := s.askedAfter(); a != nil && s.inRound.Counted && a == h.openAnswer(s) {
		return a
	}
	return nil
}

// playWords says what to do now, and in the middle of a turn why again.
func (h *Hub) playWords(v *proto.View, s *seat) string {
	if a := s.askedAfter(); a != nil {
		v.Why = a.Code
		return again(a)
	}
	if v.Written == "" {
		return "Hold your note of the chord."
	}
	return fmt.Sprintf("Play your %s, relaxed, and hold it.", v.Written)
}

// again is how a player is asked for the note once more after an answer.
func again(a *proto.Answer) string {
	if len(a.Moves) > 0 {
		return "The slide was moved: play the note again, relaxed, and hold it."
	}
	return strings.TrimSpace(a.Headline + " " + a.Next)
}

// waitWords explains the wait.
func waitWords(ahead int) string {
	if ahead <= 1 {
		return "You are next. Rest until then."
	}
	return countWords(ahead) + " players are before you. Rest until then."
}

// manyNotes is after how many asked notes of one tune-up a player is told to
// rest (common practice, no source: about three short notes for each tuning
// note, and two tuning notes).
const manyNotes = 6

// cautions puts people first.
func cautions(s *seat) []string {
	if s.asked < manyNotes {
		return nil
	}
	return []string{
		fmt.Sprintf("You have played %d tuning notes: rest as long as you have played.", s.asked),
		"If your lips hurt, stop, and tell your teacher or the leader.",
	}
}

// openAnswer is the last answer whose moves still wait to be made.
func (h *Hub) openAnswer(s *seat) *proto.Answer {
	last := s.last()
	if last == nil {
		return nil
	}
	for _, m := range slices.Backward(s.moves) {
		if m.Reading == last.ID && m.open() {
			return last.Answer
		}
	}
	return nil
}

// slidesOf lists where a chair's slides stand.
func slidesOf(c Chair) []proto.Slide {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return nil
	}
	in = in.WithTravel(c.Travel)
	var out []proto.Slide
	for _, s := range in.Slides {
		if s.Legs == 0 {
			continue // the hand in the bell has no millimetres
		}
		mm := in.MM(c.Settings, s.ID)
		out = append(out, proto.Slide{ID: s.ID, Name: s.Name, FromMM: mm, ToMM: mm, TravelMM: s.TravelMM})
	}
	return out
}

// display is how a chair is called on its own page and the leader's: by the
// player's name where there is one.
func (c Chair) display() string {
	if c.Name != "" {
		return c.Name
	}
	return c.Label
}
