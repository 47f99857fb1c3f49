package show

import (
	"math"
	"slices"
	"strings"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto/phrase"
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
	r, t := st.Round, leaders(st)
	switch {
	case trouble != nil:
		return TroubleWords(trouble, t), sayTrouble
	case len(st.Chairs) == 0:
		return t.Say("said.nobody"), sayWait
	case st.Watching:
		return t.Say("said.watching"), sayWait
	case st.WarmUp && !st.Watching:
		return t.Say("said.warm-up"), sayWait
	case r == nil && st.Rounds == 0:
		return beginWords(st), sayWait
	case r == nil:
		return t.Say("said.call-next", st.Set, st.Present), sayWait
	case r.AsOne:
		return roomWords(r, t), sayRoom
	case r.Bend != nil:
		return sayBend(r, t)
	case r.AllAtOnce():
		return sayTogether(st), sayWait
	case r.Phase != tuneup.Done:
		return sayTurn(st)
	case r.Listening():
		return listenWords(r.Chords, t), sayDone
	case r.Call.Kind == hub.CallChord && r.Judgement != nil:
		return chordWords(st), sayDone
	case r.Call.Kind == hub.CallChord:
		return t.Say("said.chord.silent"), sayDone
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
		return leaders(st).Say("said.begin")
	}
	return leaders(st).Say("said.begin.warming", warm, here)
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
	t := leaders(st)
	if moved == 0 {
		return awaitedHere(st).SayIn(t)
	}
	return t.Say("said.chord.moved", moved, counted(moved, t))
}

// awaitedHere is the judgement on the chord, without those to be heard who have
// gone or were taken out since.
func awaitedHere(st tuneup.Standing) intonation.Judgement {
	here := map[string]bool{}
	for i := range st.Chairs {
		if c := &st.Chairs[i]; c.State != tuneup.Absent {
			here[called(st, c)] = true
		}
	}
	j := *st.Round.Judgement
	j.Facts = slices.Clone(j.Facts)
	for i, c := range j.Facts {
		if c.Code == intonation.ClauseWaiting {
			j.Facts[i].Names = slices.DeleteFunc(slices.Clone(c.Names), func(name string) bool { return !here[name] })
		}
	}
	j.Facts = slices.DeleteFunc(j.Facts, func(c intonation.Clause) bool { return c.Code == intonation.ClauseWaiting && len(c.Names) == 0 })
	return j
}

func sayTogether(st tuneup.Standing) string {
	r, t := st.Round, leaders(st)
	switch {
	case r.Gathered > 0:
		return t.Say("said.together.heard", r.Gathered, r.Here)
	case len(r.Groups) > 0:
		return strings.TrimSpace(apartWords(r.Round, t) + " " + groupWords(st))
	case r.Held > 0:
		return t.Say("said.together.nearly")
	case r.Listening():
		return strings.TrimSpace(t.Say("said.together.chord") + " " + someWords(st))
	}
	return strings.TrimSpace(t.Say("said.together.note") + " " + someWords(st))
}

// someWords says how many of the chairs that play can be heard, empty where all can.
func someWords(st tuneup.Standing) string {
	away, all := 0, 0
	for i := range st.Chairs {
		if c := &st.Chairs[i]; c.Part && c.State != tuneup.Absent {
			all++
			if c.Away {
				away++
			}
		}
	}
	if away == 0 {
		return ""
	}
	return leaders(st).Say("said.together.some", all-away, all)
}

// groupWords names the few who play at once.
func groupWords(st tuneup.Standing) string {
	var names []string
	for i := range st.Chairs {
		if c := &st.Chairs[i]; c.State == tuneup.Asked {
			names = append(names, called(st, c))
		}
	}
	switch t := leaders(st); len(names) {
	case 0:
		return ""
	case 1:
		return t.Say("said.few.one", names[0])
	default:
		return t.Say("said.few", t.List(names))
	}
}

// sayTurn tells the last move and whose turn it is.
func sayTurn(st tuneup.Standing) (sentence, kind string) {
	r, t := st.Round, leaders(st)
	if r.Phase == tuneup.Waits {
		return t.Say("said.away", called(st, st.Chair(r.Awaited))), sayWait
	}
	c := st.Chair(r.Asked)
	if r.Phase == tuneup.Rests {
		return t.Say("said.rests", called(st, st.Chair(r.Awaited))), sayWait
	}
	who, again := called(st, c), c.Repeats()
	if len(r.Beside) > 0 {
		return sayBeside(st, c)
	}
	switch {
	case c.ToMove:
		return t.Say("said.move-first", who, t.Clause(worded(c, c.Open, t).Headline)), sayMove
	case again != nil && r.Twice && len(again.Answer.Steps) == 0:
		return andNext(st, t.Say("said.again.rested", who)), sayWait
	case again != nil && len(again.Answer.Steps) > 0:
		return andNext(st, t.Say("said.again.moved", who)), sayWait
	case again != nil && again.Why == hub.WhyCold:
		return andNext(st, t.Say("said.again.warm", who)), sayWait
	case again != nil && r.ByWorth && again.Counted:
		return andNext(st, t.Say("said.again.sure", who)), sayWait
	case again != nil:
		return andNext(st, t.Say("said.again.why", who, t.Clause(worded(c, again, t).Headline))), sayWait
	}
	next := t.Say("said.plays", who, readAs(st.Round, c, t))
	if r.Listening() {
		next = t.Say("said.holds", who)
	}
	next = andNext(st, next)
	if m := lastMove(st); m != "" {
		return m + " " + next, sayMove
	}
	if why := apartWords(r.Round, t); why != "" {
		return why + " " + next, sayWait
	}
	return next, sayWait
}

// sayBeside names those who play at once, and tells the last move.
func sayBeside(st tuneup.Standing, first *tuneup.Chair) (sentence, kind string) {
	t := leaders(st)
	var each []string
	for _, id := range append([]hub.ChairID{first.ID}, st.Round.Beside...) {
		c := st.Chair(id)
		each = append(each, t.Say("said.beside.who", called(st, c), readAs(st.Round, c, t)))
	}
	sentence = andNext(st, t.Say("said.beside", t.List(each)))
	if m := lastMove(st); m != "" {
		return m + " " + sentence, sayMove
	}
	return sentence, sayWait
}

// andNext adds who is next, where that was told.
func andNext(st tuneup.Standing, sentence string) string {
	var next []string
	for _, id := range st.Round.Next {
		if n := st.Chair(id); n != nil {
			next = append(next, called(st, n))
		}
	}
	t := leaders(st)
	switch len(next) {
	case 0:
		return sentence
	case 1:
		return sentence + " " + t.Say("said.next", next[0])
	}
	return sentence + " " + t.Say("said.next.several", t.List(next))
}

// readAs is the note as the player reads it.
func readAs(run *tuneup.Round, c *tuneup.Chair, t phrase.Tongue) string {
	sounding, written := names(run, c)
	if !written.Valid() {
		return t.Notes.Both(sounding)
	}
	return t.Say("said.written", t.Notes.Both(written))
}

// lastMove tells the last answered chair's move, empty when it has none to make.
func lastMove(st tuneup.Standing) string {
	if st.Round.Last == nil {
		return ""
	}
	c := st.Chair(st.Round.Last.Chair)
	if c.Open == nil {
		return ""
	}
	t := leaders(st)
	return t.Say("said.who", called(st, c), t.Clause(worded(c, st.Round.Last, t).Headline))
}

// sayWhatIsLeft tells what remains after a round: the worst chair first.
func sayWhatIsLeft(st tuneup.Standing) (sentence, kind string) {
	t := leaders(st)
	if st.Set == st.Present && st.Present > 0 {
		return t.Say("said.all-set"), sayDone
	}
	set := t.Say("said.set", st.Set, st.Present)
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
		return t.Say("said.left.first", called(st, worst), t.Clause(worded(worst, worst.Open, t).Headline)) + " " + set, sayMove
	case rest != nil && moved > 0:
		return t.Say("said.left.rest-and-moved", called(st, rest)) + " " + set, sayDone
	case moved > 0:
		return t.Say("said.left.moved", moved, counted(moved, t)) + " " + set, sayDone
	case rest != nil:
		return t.Say("said.left.rest", called(st, rest)) + " " + set, sayDone
	case cold != nil:
		return t.Say("said.left.cold", called(st, cold)) + " " + set, sayDone
	case len(st.Round.Queue) > 0:
		n := len(st.Round.Queue)
		return set + " " + t.Say("said.left.away", n, counted(n, t)), sayDone
	}
	return set, sayDone
}

// sayByWorth tells, once no further note would tell much, who has moved a slide
// and was not heard since, and who may still be off; empty where nobody was heard.
func sayByWorth(st tuneup.Standing, set string) string {
	t, moved, heard := leaders(st), 0, 0
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
		set += " " + t.Say("said.worth.moved", moved, counted(moved, t))
	}
	known := ""
	for i := range st.Chairs { // who has no slide, and so no doubt about one
		c := &st.Chairs[i]
		if c.Instrument != nil && !c.Instrument.Tuned() && c.Holds != nil && c.Holds.Verdict != intonation.Set {
			known += t.Say("said.worth.known", called(st, c), t.Off(c.Holds.Cents)) + " "
		}
	}
	set = known + set
	var off []string
	for _, id := range st.Round.Doubtful {
		if c := st.Chair(id); c != nil && !c.Absent {
			off = append(off, called(st, c))
		}
	}
	switch len(off) {
	case 0:
		if known != "" {
			return set
		}
		if st.Set < st.Present {
			return t.Say("said.worth.over") + " " + set
		}
		return t.Say("said.worth.in-tune") + " " + set
	case 1:
		return t.Say("said.worth.off", off[0]) + " " + set
	}
	return t.Say("said.worth.off.several", t.List(off)) + " " + set
}

// listenWords names the chord that was heard, or says that it cannot.
func listenWords(c tuneup.Chords, t phrase.Tongue) string {
	class := ""
	if x, err := pitch.ParseName(c.Class); err == nil {
		class = t.Notes.Naming.Both(x)
	}
	switch {
	case c.Players == 0:
		return t.Say("said.listen.none")
	case c.Players == 1:
		return t.Say("said.listen.one", class)
	case c.Class != "":
		return t.Say("said.listen.unison", class)
	}
	said := intonation.SayIn(c.Candidates, t)
	switch len(c.Candidates) {
	case 0:
		return t.Say("said.listen.unknown")
	case 1:
		return t.Say("said.listen.chord", said)
	}
	return t.Say("said.listen.chords", said)
}

// roomWords is said once when the whole section is off together. Warmth raises
// the pitch: a sharp section is not sent to warm up.
func roomWords(r *tuneup.Round, t phrase.Tongue) string {
	if r.Round.AsOne == nil {
		return r.Room // as an earlier version wrote it
	}
	common := *r.Round.AsOne
	if r.Choices.Off { // more have been heard since
		common = r.Choices.Common
	}
	if common < 0 {
		return t.Say("said.room.flat", t.Off(common))
	}
	return t.Say("said.room.sharp", t.Off(common))
}

// partedWords, beside the one sentence, says why a together round goes on in turns, and what would help the
// next time; empty for one that does not.
func partedWords(r *hub.Round, t phrase.Tongue) string {
	return strings.TrimSpace(apartWords(r, t) + " " + helpWords(r.Parted, t))
}

func helpWords(p *hub.Parted, t phrase.Tongue) string {
	switch {
	case p == nil || p.Help == "":
		return ""
	case p.Help == hub.HelpGroups:
		return t.Say("said.help.groups")
	case p.Help == hub.HelpLaptops:
		return t.Say("said.help.laptops")
	}
	return t.Say("said.help.nearer")
}

func apartWords(r *hub.Round, t phrase.Tongue) string {
	p := r.Parted
	if p == nil {
		return r.Note // as an earlier version wrote it
	}
	few := ""
	if len(r.Groups) > 0 {
		few = ".few"
	}
	left := min(p.Left, len(r.Queue)) // who was heard since is not
	switch {
	case left == 0:
		return ""
	case left > 1 && 4*p.Pairs > left: // else they are the fewer of those who were not heard
		return t.Say("said.apart.alike"+few, p.Pairs)
	}
	return t.Say("said.apart.unclear"+few, left, counted(left, t))
}

// maxNamed is as many names as a sentence bears.
const maxNamed = 3

// alone says whose laptop was believed by itself in a together round, empty
// when all were told apart by many microphones.
func alone(st tuneup.Standing) string {
	r, t := st.Round, leaders(st)
	var names []string
	for _, id := range r.Alone {
		if c := st.Chair(id); c != nil {
			names = append(names, called(st, c))
		}
	}
	switch n := len(names); {
	case n == 0:
		return ""
	case n == len(r.Call.Tones):
		return t.Say("said.alone.all")
	case n > maxNamed:
		return t.Say("said.alone.many", counted(n, t))
	case n == 1:
		return t.Say("said.alone.one", names[0])
	default:
		return t.Say("said.alone.several", t.List(names))
	}
}

// counted writes a small number as a word at the start of a sentence.
func counted(n int, t phrase.Tongue) string { return phrase.Capital(t.Number(n)) }

// ofChair are the commands that are about one chair.
var ofChair = []string{hub.DoSkip, hub.DoAbsent, hub.DoPresent, hub.DoSeat, hub.DoSetting, hub.DoTone, hub.DoFingering, hub.DoRemove, hub.DoPart}

// undoWords names what an undo takes back, empty for nothing.
func undoWords(st tuneup.Standing) string {
	u, t := st.Undo, leaders(st)
	switch {
	case u == nil:
		return ""
	case u.Do == hub.DoEnd && u.Watched:
		return t.Say("said.undo.end.watch")
	case slices.Contains(ofChair, u.Do):
		return t.Say("said.undo."+u.Do, st.Section.Called(u.Who))
	}
	return t.Say("said.undo." + u.Do)
}
