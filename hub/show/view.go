package show

import (
	"fmt"
	"strings"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
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
	style := styleOf(st, c)
	v := proto.View{Section: st.Section.Name, Names: namesOf(style), Chair: c.Display(), Phase: phaseIdle, Say: "Warm up. The leader will call a note."}
	switch {
	case c.State == tuneup.Absent:
		v.Phase, v.Say = phaseAbsent, "You are marked absent. Tell the leader that you are here."
		return v
	case st.Watching:
		v.Phase, v.Listen, v.Say = phaseWatch, true, "Rehearse. This laptop listens quietly and shows nothing."
		return v
	case st.WarmUp:
		v.Say = "Play easy notes and blow warm air through the instrument. The leader will call again."
	case c.Part:
		inRound(&v, st.Round, c, style)
	}
	if v.Phase == phasePlay {
		return v // while playing, nothing else
	}
	v.Slides, v.Notes = slidesOf(c), cautions(c.Notes)
	if v.Answer == nil {
		v.Answer = worded(c, c.Open, style)
	}
	return v
}

// inRound fills in where the player stands in the running round.
func inRound(v *proto.View, r *tuneup.Round, c *tuneup.Chair, style pitch.Style) {
	var written pitch.Spelled
	if !r.Listening() {
		written = nameNote(v, r, c)
	}
	switch c.State {
	case tuneup.Gathered:
		v.Phase, v.Say = phaseWait, "Heard. Rest until the others are."
		if c.Sends { // its microphone hears the others still
			v.Tracks = r.Tracks
		}
	case tuneup.Asked:
		// The round is named only to those who are asked: a note that began
		// before, or that the microphone caught from a neighbour, answers none.
		v.Round, v.Phase, v.Listen = int64(r.ID), phasePlay, true
		if c.ToMove { // the slide first; then the note is heard again
			v.Phase, v.Answer = phaseAnswer, worded(c, c.Open, style)
			v.Say = v.Answer.Headline
			return
		}
		v.Say = playWords(v, c, style, style.Both(written))
		if c.Deaf {
			v.Say = "This laptop hears nothing, though others do. See that the right microphone is chosen, then play again."
		}
		if r.AllAtOnce() && c.Sends {
			v.Tracks = r.Tracks
		}
	case tuneup.Waiting:
		v.Phase, v.Say = phaseWait, waitWords(c.Ahead)
		if c.Warming {
			v.Say = "Play easy notes until you are called."
		}
		v.Answer = worded(c, c.Again, style) // why it has to wait
	case tuneup.LeftOut:
		v.Phase, v.Say = phaseIdle, "You are left out of this round."
	default:
		v.Phase, v.Answer = phaseAnswer, worded(c, c.InRound, style)
		if v.Answer == nil {
			return
		}
		v.Say = v.Answer.Headline
		if v.Answer.Kind == string(slide.Rest) {
			v.Phase = phaseRest
		}
	}
}

// nameNote names the note to play, and returns how it is written.
func nameNote(v *proto.View, r *tuneup.Round, c *tuneup.Chair) pitch.Spelled {
	sounding, written := names(r, c)
	v.Target = c.Target
	if c.Instrument == nil {
		written = sounding
	}
	v.Concert, v.Written = sounding.Display(), written.Display()
	if c.Instrument == nil {
		return written
	}
	if p, ok := tuneup.Fingering(r.Round, c.ID, c.Instrument); ok {
		v.Fingering = p.String()
	}
	return written
}

// playWords says what to do now, and in the middle of a turn why again.
func playWords(v *proto.View, c *tuneup.Chair, style pitch.Style, written string) string {
	switch a := worded(c, c.Again, style); {
	case a != nil && a.Code == string(hub.WhyCold): // it is warm by now
	case a != nil && len(a.Moves) > 0:
		v.Why = a.Code
		return "The slide was moved: play the note again, relaxed, and hold it."
	case a != nil:
		v.Why = a.Code
		return strings.TrimSpace(a.Headline + " " + a.Next)
	}
	if written == "" {
		return "Hold your note of the chord."
	}
	return fmt.Sprintf("Play your %s, relaxed, and hold it.", written)
}

// waitWords explains the wait.
func waitWords(ahead int) string {
	if ahead <= 1 {
		return "You are next. Rest until then."
	}
	return count(ahead) + " players are before you. Rest until then."
}

// manyNotes is after how many asked notes of one tune-up a player is told to
// rest (common practice, no source: about three short notes for each tuning
// note, and two tuning notes).
const manyNotes = 6

// cautions puts people first.
func cautions(notes int) []string {
	if notes < manyNotes {
		return nil
	}
	return []string{
		fmt.Sprintf("You have played %d tuning notes: rest as long as you have played.", notes),
		"If your lips hurt, stop, and tell your teacher or the leader.",
	}
}

// worded is a reading's answer as its player reads it, nil for none.
func worded(c *tuneup.Chair, r *hub.Reading, y pitch.Style) *proto.Answer {
	if r == nil || r.Answer == nil {
		return nil
	}
	a, w := r.Answer, words(r, y)
	if m := c.Assumed; m != nil && a.Code == string(slide.Held) && !m.Done.After(r.At) {
		w.Next = fmt.Sprintf("If the slide was not moved yet, set it to %.0f mm. %s", m.ToMM, w.Next)
	}
	out := &proto.Answer{ID: a.ID, Kind: string(a.Kind), Code: a.Code, Headline: w.Headline, Detail: w.Detail, Next: w.Next, Small: w.Small}
	for _, st := range a.Steps {
		out.Moves = append(out.Moves, proto.Slide{ID: st.Slide, Name: st.Name, FromMM: st.FromMM, ToMM: st.ToMM, TravelMM: st.TravelMM})
	}
	return out
}

// words are the sentences of a reading's answer. What earlier versions stored
// has them.
func words(r *hub.Reading, y pitch.Style) slide.Words {
	a := r.Answer
	if a.Headline != "" {
		return a.Words
	}
	w := slide.SayIn(y, a.Advice)
	if a.Chord != nil {
		w = a.Chord.Say(a.Advice, y)
	}
	if rule, ok := ruleWords[a.Code]; ok && a.Facts.Common == 0 {
		w.Headline, w.Detail, w.Next = rule.Headline, rule.Detail, rule.Next
		if a.Code == "room" && r.Cents > 0 { // warm air would raise it further
			w.Detail, w.Next = "The whole section is sharp together: the reference, the slides or the room.", "Rest. The leader decides what to do."
		}
	}
	if w.Small == "" {
		w.Small = a.Small // from the earlier version that read the note
	}
	return w
}

// ruleWords are the answers that the rules give by themselves, by their code.
var ruleWords = map[string]slide.Words{
	"heard": {Headline: "Heard.", Next: "Rest until the chord is complete."},
	"room": {Headline: "Leave the slides for now.", Detail: "The whole section is off the same way: it is the room, or everybody is cold.",
		Next: "Blow warm air through the instrument. The leader will call again."},
	string(hub.WhyUnclear):  {Headline: "You could not be heard clearly among the others.", Next: "You will be heard in turn."},
	string(hub.WhyTogether): {Headline: "You could not be told from a neighbour.", Next: "You will be heard in turn."},
	"instrument":            {Headline: "Choose your instrument on your page.", Detail: "Without it no slide can be named."},
}
