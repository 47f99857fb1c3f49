package show

import (
	"math"
	"slices"
	"strings"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/phrase"
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
	phaseWatch  = "watch"
)

// NoView is shown where no chair is.
func NoView() proto.View { return proto.View{Phase: phaseIdle} }

// NewView shows a player where the chair stands.
func NewView(st tuneup.Standing, c *tuneup.Chair) proto.View {
	t := tongueOf(st, c)
	v := proto.View{Section: st.Section.Name, Names: namesOf(t.Notes), Language: t.Language(), Chair: ownWords(c), Phase: phaseIdle, Say: t.Say("view.idle")}
	if c.Instrument != nil {
		v.Instrument, v.Clef = c.Instrument.Name, c.Instrument.Clef
	}
	if c.Notes > 0 {
		v.Say = t.Say("view.idle.played") // warm by now
	}
	switch {
	case c.State == tuneup.Absent:
		v.Phase, v.Say = phaseAbsent, t.Say("view.absent")
		return v
	case st.Watching:
		v.Phase, v.Listen, v.Say = phaseWatch, true, t.Say("view.watch")
		return v
	case st.WarmUp:
		v.Say = t.Say("view.warm-up")
	case c.Part:
		inRound(&v, st, c, t)
		if st.Round.Bend != nil {
			bendView(&v, st.Round, c, t)
		}
	}
	if v.Phase == phasePlay {
		return v // while playing, nothing else
	}
	v.Slides, v.Notes = slidesOf(c), cautions(c.Notes, t)
	if v.Answer == nil && c.State != tuneup.Gathered { // a note that is in was played with the slide as it stands
		v.Answer = worded(c, c.Open, t)
	}
	return v
}

// ownWords is how a player's own page calls the chair: as the leader does, and by
// the player's name beside it.
func ownWords(c *tuneup.Chair) string {
	if c.Name == "" || c.Name == c.Label {
		return c.Label
	}
	return c.Label + ", " + c.Name
}

// inRound fills in where the player stands in the running round.
func inRound(v *proto.View, st tuneup.Standing, c *tuneup.Chair, t phrase.Tongue) {
	r := st.Round
	var written pitch.Spelled
	if !r.Listening() {
		written = nameNote(v, r, c, t)
	}
	if c.Along {
		v.Phase, v.Say = phasePlay, t.Say("view.along", t.Notes.Both(written))
		if c.Sends {
			v.Tracks = r.Tracks
		}
		return
	}
	switch c.State {
	case tuneup.Gathered:
		v.Phase, v.Say = phaseWait, t.Say("view.gathered")
		if c.Sends { // its microphone hears the others still
			v.Tracks = r.Tracks
		}
	case tuneup.Asked:
		// The round is named only to those who are asked: a note that began
		// before, or that the microphone caught from a neighbour, answers none.
		v.Round, v.Phase, v.Listen = int64(r.ID), phasePlay, true
		if c.ToMove { // the slide first; then the note is heard again
			v.Phase, v.Answer = phaseAnswer, worded(c, c.Open, t)
			v.Say = v.Answer.Headline
			return
		}
		v.Say = strings.TrimSpace(playWords(v, c, t, t.Notes.Both(written)) + " " + besideWords(st, c, t))
		if r.Bend != nil {
			v.Path, v.Say = true, t.Say("view.bend", t.Notes.Both(written))
			return
		}
		if c.Deaf {
			v.Say = t.Say("view.deaf")
		}
		if r.AllAtOnce() && c.Sends {
			v.Tracks = r.Tracks
		}
	case tuneup.Waiting:
		v.Phase, v.Say = phaseWait, waitWords(c.Ahead, t)
		if c.Warming {
			v.Say, v.Why = t.Say("view.warming"), "warming"
		}
		v.Answer = worded(c, c.Again, t) // why it has to wait
	case tuneup.LeftOut:
		v.Phase, v.Say = phaseIdle, t.Say("view.left-out")
	default:
		if c.Outdated {
			return
		}
		v.Phase, v.Answer = phaseAnswer, worded(c, c.InRound, t)
		if v.Answer == nil {
			return
		}
		v.Say = v.Answer.Headline
		if v.Answer.Code == "once-more" { // what others have played since says enough
			v.Answer.Next = ""
		}
		if v.Answer.Kind == string(slide.Rest) {
			v.Phase = phaseRest
		}
	}
}

// nameNote names the note to play, and returns how it is written.
func nameNote(v *proto.View, r *tuneup.Round, c *tuneup.Chair, t phrase.Tongue) pitch.Spelled {
	sounding, written := names(r, c)
	v.Target = c.Target
	if h, ok := r.Call.Heads[c.ID]; ok {
		v.Key = h.Key
		if h.Clef != "" {
			v.Clef = h.Clef
		}
	}
	if c.Instrument == nil {
		written = sounding
	}
	v.Concert, v.Written = sounding.Display(), written.Display()
	if c.Instrument == nil {
		return written
	}
	if p, ok := tuneup.Fingering(r.Round, c.ID, c.Instrument); ok {
		v.Fingering = t.Path(p)
	}
	return written
}

// playWords says what to do now, and in the middle of a turn why again.
func playWords(v *proto.View, c *tuneup.Chair, t phrase.Tongue, written string) string {
	switch a := worded(c, c.Repeats(), t); {
	case a != nil && a.Code == string(hub.WhyCold): // it is warm by now
	case a != nil && len(a.Moves) > 0:
		v.Why = a.Code
		return t.Say("view.moved")
	case a != nil:
		v.Why = a.Code
		itsTurn := a.Code == string(hub.WhyUnclear) || a.Code == string(hub.WhyTogether) // what was next is now
		if (a.Next == "" || itsTurn) && written != "" {                                  // whoever is asked is told to play
			return a.Headline + " " + t.Say("view.play", written)
		}
		return strings.TrimSpace(a.Headline + " " + a.Next)
	}
	if written == "" {
		return t.Say("view.play.chord")
	}
	return t.Say("view.play", written)
}

// besideWords names who plays at the same time, empty where nobody does.
func besideWords(st tuneup.Standing, c *tuneup.Chair, t phrase.Tongue) string {
	for _, id := range append([]hub.ChairID{st.Round.Asked}, st.Round.Beside...) {
		if o := st.Chair(id); o != nil && id != c.ID && o.State == tuneup.Asked {
			return t.Say("view.beside", called(st, o))
		}
	}
	return ""
}

// waitWords explains the wait.
func waitWords(ahead int, t phrase.Tongue) string {
	if ahead <= 1 {
		return t.Say("view.wait.next")
	}
	return phrase.Capital(t.Say("view.wait", ahead, t.Number(ahead)))
}

// manyNotes is after how many asked notes of one tune-up a player is told to
// rest (common practice, no source: about three short notes for each tuning
// note, and two tuning notes).
const manyNotes = 6

// cautions puts people first.
func cautions(notes int, t phrase.Tongue) []string {
	if notes < manyNotes {
		return nil
	}
	return []string{
		t.Say("view.caution.rest", notes),
		t.Say("view.caution.pain"),
	}
}

// worded is a reading's answer as its player reads it, nil for none.
func worded(c *tuneup.Chair, r *hub.Reading, t phrase.Tongue) *proto.Answer {
	if r == nil || r.Answer == nil {
		return nil
	}
	a, w := r.Answer, words(r, t)
	if m := c.Assumed; m != nil && a.Code == string(slide.Held) && !m.Done.After(r.At) {
		w.Next = t.Say("view.assumed", int(math.Round(m.ToMM))) + " " + w.Next
	}
	out := &proto.Answer{ID: a.ID, Kind: string(a.Kind), Code: a.Code, Headline: w.Headline, Detail: w.Detail, Next: w.Next, Small: w.Small}
	for _, st := range a.Steps {
		out.Moves = append(out.Moves, proto.Slide{ID: st.Slide, Name: st.Name, FromMM: st.FromMM, ToMM: st.ToMM, TravelMM: st.TravelMM})
	}
	// The row says so too. Of two slides one may be still to move.
	last := len(c.Counted) - 1
	out.Moved = len(out.Moves) > 0 && c.Moved && r != c.Open && last >= 0 && r == c.Counted[last]
	return out
}

// byRules are the answers that the rules give by themselves.
var byRules = []string{"heard", "room", string(hub.WhyUnclear), string(hub.WhyTogether), "instrument"}

// words are the sentences of a reading's answer. What earlier versions stored
// has them.
func words(r *hub.Reading, t phrase.Tongue) slide.Words {
	a := r.Answer
	if a.Headline != "" {
		return a.Words
	}
	w := slide.SayIn(t, a.Advice)
	if a.Chord != nil {
		w = a.Chord.Say(a.Advice, t)
	}
	if slices.Contains(byRules, a.Code) && a.Facts.Common == 0 {
		key := "view." + a.Code
		if a.Code == "room" && r.Cents > 0 { // warm air would raise it further
			key = "view.room-sharp"
		}
		w.Headline, w.Detail, w.Next = t.Parts(key)
	}
	if w.Small == "" {
		w.Small = a.Small // from the earlier version that read the note
	}
	return w
}
