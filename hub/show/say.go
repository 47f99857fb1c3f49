package show

import (
	"fmt"
	"math"
	"strings"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto/pitch"
)

// Codes of Row.SayKind.
const (
	sayMove    = "move"
	sayWait    = "wait"
	sayRoom    = "room"
	sayDone    = "done"
	sayTrouble = "trouble"
)

// say finds the one sentence that matters most to the leader now.
func say(st tuneup.Standing, trouble error) (sentence, kind string) {
	r := st.Round
	switch {
	case trouble != nil:
		return TroubleWords(trouble), sayTrouble
	case len(st.Chairs) == 0:
		return "Nobody has joined yet: show the players the join page.", sayWait
	case st.Watching:
		return "Listening quietly while you rehearse. End it at the break: the report says how the pitch went.", sayWait
	case st.WarmUp && !st.Watching:
		return "Everybody plays warm: easy notes, warm air. Call again in a few minutes.", sayWait
	case r == nil && st.Rounds == 0:
		return beginWords(st), sayWait
	case r == nil:
		return fmt.Sprintf("%d of %d set. Call the next note.", st.Set, st.Present), sayWait
	case r.AsOne:
		return roomWords(r), sayRoom
	case r.Bend != nil:
		return sayBend(r)
	case r.AllAtOnce():
		return sayTogether(st), sayWait
	case r.Phase != tuneup.Done:
		return sayTurn(st)
	case r.Listening():
		return listenWords(r.Chords, st.Section.Notes), sayDone
	case r.Call.Kind == hub.CallChord && r.Judgement != nil:
		return chordWords(st), sayDone
	case r.Call.Kind == hub.CallChord:
		return "The chord was not heard.", sayDone
	}
	return sayWhatIsLeft(st)
}

// beginWords asks for the first call, with how many are warm where some are not:
// the warm-up is a step of its own, which the leader ends by calling.
func beginWords(st tuneup.Standing) string {
	warm, here := 0, 0
	for i := range st.Chairs {
		c := &st.Chairs[i]
		if c.State == tuneup.Absent || c.Away {
			continue
		}
		here++
		if !cold(c) {
			warm++
		}
	}
	if warm == here {
		return "Call a note to begin."
	}
	return fmt.Sprintf("%d of %d are warmed up. Call a note to begin, or let them play on.", warm, here)
}

// chordWords is the sentence on a chord that was heard, until a slide is moved
// for it: then it says nothing any more.
func chordWords(st tuneup.Standing) string {
	moved := 0
	for i := range st.Chairs {
		if st.Chairs[i].Part && st.Chairs[i].Moved {
			moved++
		}
	}
	switch moved {
	case 0:
		return st.Round.Judgement.Say(st.Section.Notes)
	case 1:
		return "One slide moved: hear the chord again."
	}
	return count(moved) + " slides moved: hear the chord again."
}

func sayTogether(st tuneup.Standing) string {
	r := st.Round
	switch {
	case r.Gathered > 0:
		return fmt.Sprintf("%d of %d heard.", r.Gathered, r.Here)
	case len(r.Groups) > 0:
		return strings.TrimSpace(partedWords(r.Round) + " " + groupWords(st))
	case r.Held > 0:
		return "Nearly all are heard: everybody holds the chord once more."
	case r.Listening():
		return "All together now: each holds a note of the chord."
	}
	return "All together now: play and hold."
}

// groupWords names the few who play at once.
func groupWords(st tuneup.Standing) string {
	var names []string
	for i := range st.Chairs {
		if c := &st.Chairs[i]; c.State == tuneup.Asked {
			names = append(names, called(st, c))
		}
	}
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0] + " plays, the others rest."
	}
	return list(names) + " play at once, the others rest."
}

// sayTurn tells the last move and whose turn it is.
func sayTurn(st tuneup.Standing) (sentence, kind string) {
	r := st.Round
	if r.Phase == tuneup.Waits {
		return fmt.Sprintf("The laptop of %s is away: waiting a moment for it.", called(st, chairOf(st, r.Awaited))), sayWait
	}
	c := chairOf(st, r.Asked)
	if r.Phase == tuneup.Rests {
		return fmt.Sprintf("%s rests a moment, and plays again: no other note would tell as much.", called(st, chairOf(st, r.Awaited))), sayWait
	}
	who, again := called(st, c), c.Repeats()
	if len(r.Beside) > 0 {
		return sayBeside(st, c)
	}
	switch {
	case c.ToMove:
		return fmt.Sprintf("%s: %s Then the note again.", who, lowerFirst(worded(c, c.Open, leaders(st)).Headline)), sayMove
	case again != nil && r.Twice && len(again.Answer.Steps) == 0:
		return andNext(st, who+" plays again after a rest: no other note would tell as much."), sayWait
	case again != nil && len(again.Answer.Steps) > 0:
		return andNext(st, who+" plays again, with the slide moved."), sayWait
	case again != nil && again.Why == hub.WhyCold:
		return andNext(st, who+" plays again, warm by now."), sayWait
	case again != nil && r.ByWorth && again.Counted:
		return andNext(st, who+" plays again, to be sure."), sayWait
	case again != nil:
		return andNext(st, fmt.Sprintf("%s plays again: %s", who, lowerFirst(worded(c, again, leaders(st)).Headline))), sayWait
	}
	next := fmt.Sprintf("%s plays %s.", who, readAs(st.Round, c, st.Section.Notes))
	if r.Listening() {
		next = who + " holds a note of the chord."
	}
	next = andNext(st, next)
	if m := lastMove(st); m != "" {
		return m + " " + next, sayMove
	}
	if why := partedWords(r.Round); why != "" {
		return why + " " + next, sayWait
	}
	return next, sayWait
}

// sayBeside names those who play at once, and tells the last move.
func sayBeside(st tuneup.Standing, first *tuneup.Chair) (sentence, kind string) {
	var each []string
	for _, id := range append([]hub.ChairID{first.ID}, st.Round.Beside...) {
		c := chairOf(st, id)
		each = append(each, fmt.Sprintf("%s (%s)", called(st, c), readAs(st.Round, c, st.Section.Notes)))
	}
	sentence = andNext(st, list(each)+" play at the same time.")
	if m := lastMove(st); m != "" {
		return m + " " + sentence, sayMove
	}
	return sentence, sayWait
}

// andNext adds who is next, where that was told.
func andNext(st tuneup.Standing, sentence string) string {
	var next []string
	for _, id := range st.Round.Next {
		if n := chairOf(st, id); n != nil {
			next = append(next, called(st, n))
		}
	}
	switch len(next) {
	case 0:
		return sentence
	case 1:
		return fmt.Sprintf("%s %s is next.", sentence, next[0])
	}
	return fmt.Sprintf("%s %s are next.", sentence, list(next))
}

// readAs is the note as the player reads it.
func readAs(run *tuneup.Round, c *tuneup.Chair, y pitch.Style) string {
	sounding, written := names(run, c)
	if !written.Valid() {
		return y.Both(sounding)
	}
	return "written " + y.Both(written)
}

// lastMove tells the last answered chair's move, empty when it has none to make.
func lastMove(st tuneup.Standing) string {
	if st.Round.Last == nil {
		return ""
	}
	c := chairOf(st, st.Round.Last.Chair)
	if c.Open == nil {
		return ""
	}
	return fmt.Sprintf("%s: %s", called(st, c), lowerFirst(worded(c, st.Round.Last, leaders(st)).Headline))
}

// sayWhatIsLeft tells what remains after a round: the worst chair first.
func sayWhatIsLeft(st tuneup.Standing) (sentence, kind string) {
	if st.Set == st.Present && st.Present > 0 {
		return "Everybody is set.", sayDone
	}
	set := fmt.Sprintf("%d of %d set.", st.Set, st.Present)
	if st.Round.ByWorth {
		if done := sayByWorth(st, set); done != "" {
			return done, sayDone
		}
	}
	var worst, rest, cold *tuneup.Chair
	moved := 0
	for i := range st.Chairs {
		c := &st.Chairs[i]
		if c.Open != nil && (worst == nil || math.Abs(float64(c.Open.Cents)) > math.Abs(float64(worst.Open.Cents))) {
			worst = c
		}
		if r := c.InRound; r != nil && r.Answer != nil && r.Answer.Kind == slide.Rest && rest == nil {
			rest = c
		}
		if c.Moved {
			moved++
		}
		if c.Warming && cold == nil {
			cold = c
		}
	}
	switch {
	case worst != nil:
		return fmt.Sprintf("%s first: %s %s", called(st, worst), lowerFirst(worded(worst, worst.Open, leaders(st)).Headline), set), sayMove
	case rest != nil && moved > 0:
		return fmt.Sprintf("Give %s a moment of rest, then hear all again who are not set. %s", called(st, rest), set), sayDone
	case moved == 1:
		return "One has moved a slide: hear them again. " + set, sayDone
	case moved > 1:
		return fmt.Sprintf("%s have moved their slides: hear them again. %s", count(moved), set), sayDone
	case rest != nil:
		return fmt.Sprintf("Give %s a moment of rest, then hear them again. %s", called(st, rest), set), sayDone
	case cold != nil:
		return fmt.Sprintf("%s is still playing warm: call again in a while. %s", called(st, cold), set), sayDone
	case len(st.Round.Queue) > 0:
		return fmt.Sprintf("%s %s still to be heard, without a laptop here.", set, count(len(st.Round.Queue))), sayDone
	}
	return set, sayDone
}

// sayByWorth tells, once no further note would tell much, who has moved a slide
// and was not heard since, and who may still be off; empty where nobody was heard.
func sayByWorth(st tuneup.Standing, set string) string {
	moved, heard := 0, 0
	for _, c := range st.Chairs {
		switch {
		case c.Moved || c.Open != nil:
			moved++
			heard++
		case len(c.Counted) > 0:
			heard++
		}
	}
	if heard == 0 {
		return ""
	}
	if moved > 0 {
		set = fmt.Sprintf("%s %s moved a little, not heard since.", set, count(moved))
	}
	known := ""
	for i := range st.Chairs { // who has no slide, and so no doubt about one
		c := &st.Chairs[i]
		if c.Instrument != nil && !c.Instrument.Tuned() && c.Holds != nil && c.Holds.Verdict != intonation.Set {
			known += fmt.Sprintf("%s is %s. ", called(st, c), c.Holds.Cents.Off())
		}
	}
	set = known + set
	var off []string
	for _, id := range st.Round.Doubtful {
		if c := chairOf(st, id); c != nil && !c.Absent {
			off = append(off, called(st, c))
		}
	}
	switch len(off) {
	case 0:
		if known != "" {
			return set
		}
		return "In tune, as far as notes tell. " + set
	case 1:
		return fmt.Sprintf("%s may still be off. %s", off[0], set)
	}
	return fmt.Sprintf("%s may still be off. %s", list(off), set)
}

// listenWords names the chord that was heard, or says that it cannot.
func listenWords(c tuneup.Chords, style pitch.Style) string {
	class := ""
	if x, err := pitch.ParseName(c.Class); err == nil {
		class = style.Naming.Both(x)
	}
	switch {
	case c.Players == 0:
		return "No note was heard clearly. Listen again."
	case c.Players == 1:
		return fmt.Sprintf("Only one player was heard, on %s: a chord takes more. Listen again.", class)
	case c.Class != "":
		return fmt.Sprintf("All play %s: call it as a note.", class)
	}
	said := capital(intonation.Say(c.Candidates, style.Naming))
	switch len(c.Candidates) {
	case 0:
		return said + ". Call the chord you want, or listen again."
	case 1:
		return said + ". Choose it to see the moves."
	}
	return said + ". Choose the one you mean."
}

// roomWords is said once when the whole section is off together. Warmth raises
// the pitch: a sharp section is not sent to warm up.
func roomWords(r *tuneup.Round) string {
	if r.Round.AsOne == nil {
		return r.Room // as an earlier version wrote it
	}
	common := *r.Round.AsOne
	if r.Choices.Off { // more have been heard since
		common = r.Choices.Common
	}
	if common < 0 {
		return fmt.Sprintf("The section is %s as one: leave the slides, play warm and call again.", common.Off())
	}
	return fmt.Sprintf("The section is %s as one: leave the slides for now. The choice is yours.", common.Off())
}

// partedWords says why a together round goes on in turns, and what would help the
// next time; empty for one that does not.
func partedWords(r *hub.Round) string {
	return strings.TrimSpace(apartWords(r) + " " + helpWords(r.Parted))
}

func helpWords(p *hub.Parted) string {
	switch {
	case p == nil || p.Help == "":
		return ""
	case p.Help == hub.HelpGroups:
		return "The next time play in two groups, neighbours in different ones."
	}
	return "The next time set the laptops nearer to the bells, and the chairs farther apart."
}

func apartWords(r *hub.Round) string {
	p := r.Parted
	switch {
	case p == nil:
		return r.Note // as an earlier version wrote it
	case p.Pairs == 1:
		return "Two chairs cannot be told apart: hear them in turn."
	case p.Pairs > 1:
		return "Some chairs cannot be told apart: hear them " + howWords(r) + "."
	case p.Left == 1:
		return "One chair was not heard clearly: hear it by itself."
	}
	return count(p.Left) + " chairs were not heard clearly: hear them " + howWords(r) + "."
}

// howWords is how they are heard.
func howWords(r *hub.Round) string {
	if len(r.Groups) > 0 {
		return "a few at a time"
	}
	return "in turn"
}

// maxNamed is as many names as a sentence bears.
const maxNamed = 3

// alone says whose laptop was believed by itself in a together round, empty
// when all were told apart by many microphones.
func alone(st tuneup.Standing) string {
	r := st.Round
	var names []string
	for _, id := range r.Alone {
		if c := chairOf(st, id); c != nil {
			names = append(names, called(st, c))
		}
	}
	switch n := len(names); {
	case n == 0:
		return ""
	case n == len(r.Call.Tones):
		return "Each laptop was believed by itself: no partial tracks came with the sound."
	case n > maxNamed:
		return count(n) + " laptops were believed by themselves: their tracks did not tell."
	case n == 1:
		return "The laptop of " + names[0] + " was believed by itself: its tracks did not tell."
	default:
		return "The laptops of " + list(names) + " were believed by themselves: their tracks did not tell."
	}
}

// undoWords names what an undo takes back, empty for nothing.
func undoWords(st tuneup.Standing) string {
	u := st.Undo
	if u == nil {
		return ""
	}
	who := st.Section.Called(u.Who)
	switch u.Do {
	case hub.DoEnd:
		if u.Watched {
			return "the end of the watch"
		}
	case hub.DoSkip:
		return "skipping " + who
	case hub.DoAbsent, hub.DoPresent:
		return who + " " + u.Do
	case hub.DoSeat:
		return "moving " + who
	case hub.DoSetting:
		return "the moved slide of " + who
	case hub.DoTone:
		return "the note of " + who
	case hub.DoFingering:
		return "the fingering of " + who
	case hub.DoRemove:
		return "removing " + who
	case hub.DoPart:
		return "the part of " + who
	}
	return undone[u.Do]
}

// undone names the commands that are about no one chair.
var undone = map[string]string{
	hub.DoCall: "the call", hub.DoSonority: "the call", hub.DoNextSonority: "the call", hub.DoAgain: "asking again",
	hub.DoListen: "the listening", hub.DoChoose: "the choice of the chord", hub.DoWatch: "the watch", hub.DoEnd: "the end of the round",
	hub.DoBend: "the bend study", hub.DoWarmUp: "warming up first", hub.DoAllMove: "moving everybody", hub.DoFollow: "the new pitch of A", hub.DoHearAgain: "hearing it again",
	hub.DoNext: "going on", hub.DoFresh: "the new tune-up", hub.DoEdit: "the change of the set-up", hub.DoMoves: "giving the moves",
	hub.DoPartFor: "the instrument of a part", hub.DoDropPiece: "closing the piece", "piece": "the new piece",
}
