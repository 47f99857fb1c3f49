package tuneup

import (
	"cmp"
	"math"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/belief"
	"bellrow/hub/ensemble"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// Times of a together round.
const (
	// gatherFor is how long after the first reading the others may come:
	// players start within a second of one another and a reading takes two. Of
	// laptops that send tracks no more is waited for than is looked at: who is still
	// to play when the others have ended would play into silence.
	gatherFor = 5 * time.Second
	// linger lets the last tracks arrive after the last reading: nodes send
	// them a few times a second.
	linger = 400 * time.Millisecond
)

// window is the time in which a together round's readings gather.
type window struct {
	round    hub.RoundID // 0 while nobody has played
	deadline time.Time
	fitting  bool // handed out as Outcome.Fit
}

func (w window) open() bool { return w.round != 0 }

// openWindow starts the window.
func (s *State) openWindow(run *hub.Round) {
	if !s.window.open() {
		s.window = window{round: run.ID, deadline: s.at.Add(gatherFor)}
	}
}

// hurryWindow closes the window soon once everybody has been heard: a laptop that
// sends tracks for as long as they are looked at. A note that did not settle among
// the others is no reason to hurry before, while anybody sounds. Where all have been
// silent again after a note nothing more comes.
func (s *State) hurryWindow(run *hub.Round) {
	ids := playing(run)
	sounds := s.at.Sub(s.trackedAt) < trackPause || slices.ContainsFunc(ids, func(id hub.ChairID) bool { return s.here(id) && !silent(s.seats[id].sound) })
	waiting := func(id hub.ChairID) bool {
		st := s.seats[id]
		switch {
		case !s.here(id), len(st.chunks) >= enoughChunks, st.gathered() && (st.inRound.Wire.Settled || len(st.chunks) == 0):
			return false
		}
		return sounds || len(st.chunks) < fewChunks
	}
	if slices.ContainsFunc(ids, waiting) {
		return
	}
	if soon := s.at.Add(linger); soon.Before(s.window.deadline) {
		s.window.deadline = soon
	}
}

// trackPause is how long tracks stay away, which come four times a second, before
// the row is silent: a laptop that follows no pitch in a chord says "quiet".
const trackPause = 700 * time.Millisecond

// Chunks of tracks come every chunkSeconds.
const (
	chunkSeconds = 0.25
	// fewChunks of tracks are no note but a cough: a second. More open the window,
	// should no laptop make a note of what it hears.
	fewChunks = 4
)

// enoughChunks are all that is looked at.
var enoughChunks = int(math.Ceil(ensemble.Enough / chunkSeconds))

// playing are those who are to play at once now.
func playing(run *hub.Round) []hub.ChairID {
	if len(run.Groups) == 0 {
		return run.Queue
	}
	return slices.DeleteFunc(slices.Clone(run.Groups[0]), func(id hub.ChairID) bool { return !slices.Contains(run.Queue, id) })
}

// again reports whether what a together round hears now is not its first note, so
// that what begins before the row was silent belongs to the one before.
func again(run *hub.Round) bool { return run.Held > 0 || len(run.Groups) > 0 }

// resumeWindow opens the window anew after a restart.
func (s *State) resumeWindow() {
	run := s.running()
	if run != nil && allAtOnce(run) &&
		slices.ContainsFunc(s.readings, func(r *hub.Reading) bool { return r.Round == run.ID && r.Why == hub.WhyGathering }) {
		s.openWindow(run)
	}
}

// closeWindow hands a window out to be solved once its time has come.
func (s *State) closeWindow() {
	w, run := &s.window, s.running()
	switch {
	case !w.open():
	case run == nil || run.ID != w.round || !allAtOnce(run):
		*w = window{}
	case !w.fitting:
		s.hurryWindow(run)
		if s.at.Before(w.deadline) {
			return
		}
		w.fitting = true
		s.out.Fit, s.out.Seen = &Fit{run.ID, s.ensemble(run)}, Everyone // nobody is to play on
	}
}

// ensemble describes the row that played at once.
func (s *State) ensemble(run *hub.Round) ensemble.Input {
	in := ensemble.Input{Unknown: listening(run)}
	ids := slices.Clone(playing(run))
	for _, c := range s.seated() {
		if s.along(run, c.ID) {
			ids = append(ids, c.ID)
		}
	}
	for _, id := range ids {
		if !s.here(id) {
			continue
		}
		st := s.seats[id]
		c := ensemble.Chair{
			ID: int64(id), Expected: s.target(run, id), Tracks: st.tracks, Clock: st.clock,
			Chunks: slices.Clone(st.chunks), Baseline: st.baseline(),
		}
		if st.gathered() {
			c.Reading = &st.inRound.Wire
		}
		c.Believed, c.Doubt = s.expects(run, st)
		if inst := st.instrument(); inst != nil {
			c.Range = attribute.Range{Low: s.section.Reference.Frequency(inst.Low), High: s.section.Reference.Frequency(inst.High)}
		}
		in.Chairs = append(in.Chairs, c)
	}
	for id, st := range s.seats {
		if s.here(id) && st.tracks && !slices.Contains(ids, id) {
			in.Resting++
		}
	}
	return in
}

// expects is how far from its target the chair's last counted tuning note and
// the moves since put its note of a round, and the doubt of that; doubt 0 where
// there is none.
func (s *State) expects(run *hub.Round, st *seat) (at, doubt pitch.Cents) {
	if r := st.inRound; r != nil && r.Counted && r.Round == run.ID && s.along(run, st.id()) {
		return r.Cents, belief.AttackSD
	}
	in := st.instrument()
	target := s.target(run, st.id())
	i := lastIndex(st.counted, func(r *hub.Reading) bool { return !s.ofChord(r) })
	if in == nil || i < 0 || !target.Valid() {
		return 0, 0
	}
	last := st.counted[i]
	note := run.Call.Tones[st.id()]
	now := s.section.Reference.Frequency(note)
	at = pitch.Between(target, now) + s.wayOf(run, st.id(), in, note).lies + pitch.Between(s.section.Reference.Frequency(last.Note), last.Hz()) - (last.Cents - s.clear(last))
	sd := math.Hypot(belief.AttackSD, last.CI95().CentreSD())
	if last.Note != note {
		sd = math.Hypot(sd, belief.OwnSD)
	}
	for _, m := range st.moves {
		if !m.Done.IsZero() && !m.Withdrawn && !m.Done.Before(last.At) {
			at += m.Expected
			sd = math.Hypot(sd, belief.MoveSD)
		}
	}
	return at, pitch.Cents(sd)
}

func lastIndex[T any](xs []T, ok func(T) bool) int {
	for i := len(xs) - 1; i >= 0; i-- {
		if ok(xs[i]) {
			return i
		}
	}
	return -1
}

// step takes a fit in. It is dropped if the round has changed meanwhile: no window is
// open but that of the running round.
func (e Fitted) step(s *State) error {
	run := s.running()
	if !s.window.open() || s.window.round != e.Round || !s.window.fitting {
		s.out.Seen = Nobody
		return nil
	}
	s.window = window{}
	s.tellApart(run, e.Result)
	return nil
}

// gatheredIn reports whether nothing more is awaited of a chair of a together round:
// its note is in, or its laptop has sent tracks of one while all are told apart.
func (s *State) gatheredIn(st *seat) bool {
	return st.heardAlone() || s.window.fitting && (st.gathered() || len(st.chunks) > 0)
}

// tellApart answers everybody whose sound was told apart, in the order in which
// the notes came; the others are heard in small groups or in turn.
func (s *State) tellApart(run *hub.Round, res attribute.Result) {
	var list []attribute.ChairResult
	for _, cr := range res.Chairs {
		st := s.seats[hub.ChairID(cr.ID)]
		if st == nil || !slices.Contains(playing(run), st.id()) {
			continue
		}
		if !st.gathered() && cr.Verdict == attribute.Sounding && st.node != "" && st.ofNow(int64(run.ID)) {
			s.noteOf(run, st, cr) // its own laptop made no note of the sound of all
		}
		if st.gathered() {
			list = append(list, cr)
		}
	}
	came := func(cr attribute.ChairResult) int64 { return s.seats[hub.ChairID(cr.ID)].inRound.ID }
	slices.SortStableFunc(list, func(a, b attribute.ChairResult) int { return cmp.Compare(came(a), came(b)) })
	for _, cr := range list {
		st := s.seats[hub.ChairID(cr.ID)]
		s.takeResult(run, st, s.revise(st.inRound), cr)
	}
	s.noteUnheard(run, res)
	switch {
	case s.holdsAgain(run):
		run.Held++
	case len(run.Groups) > 0:
		s.groupHeard(run)
	default:
		run.Parted, run.Groups = s.parted(run, res), s.smallGroups(run)
		run.InTurn = len(run.Groups) == 0
	}
	for _, id := range run.Queue { // what the others drowned is no try of the player's
		if st := s.seats[id]; st != nil && st.inRound != nil {
			askAnew(run, id, st.inRound.ID)
		}
	}
	// A leap from the row's sound to one player's passes for a fresh attack:
	// silence first.
	s.allRing, s.askedAt, s.apart = true, s.at, s.at
	for _, st := range s.seats {
		st.chunks = nil
	}
	s.derive()
}

// rowBoot stands for the start of a node in readings that no node has made.
const rowBoot = "row"

// noteOf is a reading of a chair whose own laptop has sent none: among the others
// its note never settled, or has not ended yet.
func (s *State) noteOf(run *hub.Round, st *seat, cr attribute.ChairResult) {
	id := s.newID()
	st.inRound = &hub.Reading{
		ID: id, Chair: st.id(), Round: run.ID, Node: st.node, Boot: rowBoot, At: s.at, Note: run.Call.Tones[st.id()], Target: s.target(run, st.id()), Why: hub.WhyGathering,
		Wire: proto.Reading{
			Sequence: uint64(id), Round: int64(run.ID), End: cr.To - cr.From, Hz: cr.Hz, CI95: pitch.IntervalOfMean(cr.CI95), Spread: cr.Spread, Drift: cr.Drift,
			Level: cr.Level, Settled: true, Played: st.sound.Played,
		},
	}
	s.readings = append(s.readings, st.inRound)
}

// mostHeldFor is for how many unclear chairs a chord is held once more: with more
// it was no chord that can be told apart.
const mostHeldFor = 3

// holdsAgain reports whether a chord is held once more by everybody, for the few
// who were not heard clearly: what the others sound is known by then, and a
// chord that is taken apart is none.
func (s *State) holdsAgain(run *hub.Round) bool {
	left, heard := 0, 0
	for id := range run.Call.Tones {
		st := s.seats[id]
		switch {
		case !s.here(id) || !st.tracks:
		case slices.Contains(run.Queue, id):
			left++
		case st.inRound != nil && st.inRound.Counted:
			heard++
		}
	}
	return run.Call.Kind == hub.CallChord && run.Held == 0 && len(run.Groups) == 0 && left > 0 && left <= mostHeldFor && heard > left
}

// along reports whether a chair that was heard holds its note again beside those
// who were not.
func (s *State) along(run *hub.Round, id hub.ChairID) bool {
	_, part := run.Call.Tones[id]
	return part && run.Held > 0 && len(run.Groups) == 0 && allAtOnce(run) && s.here(id) && !slices.Contains(run.Queue, id)
}

// takeResult takes what became of one chair's note.
func (s *State) takeResult(run *hub.Round, st *seat, r *hub.Reading, cr attribute.ChairResult) {
	switch cr.Verdict {
	case attribute.Sounding:
		r.Heard = &hub.Heard{Hz: cr.Hz, CI95: pitch.IntervalOfMean(cr.CI95), Spread: cr.Spread, Drift: cr.Drift, Level: cr.Level}
	case attribute.NoTracks:
		if st.tracks { // none of this sound: heard alone, when there is nobody else to be heard
			r.Why, r.Answer = hub.WhyUnclear, &hub.Answer{ID: r.ID, Advice: hearInTurn}
			return
		}
		if r.Wire.Second != nil { // one microphone and two sounds: whose is which?
			r.Why, r.Answer = hub.WhyUnclear, &hub.Answer{ID: r.ID, Advice: hearInTurn}
			return
		}
		run.Alone = append(run.Alone, st.id()) // the node's own reading stands for itself
	case attribute.Overheard:
		r.Why = hub.WhyOverheard
	case attribute.Together:
		r.Why, r.Answer = hub.WhyTogether, &hub.Answer{ID: r.ID, Advice: hearApart}
		return
	default: // silent or unclear: heard in turn
		r.Why, r.Answer = hub.Reason(cr.Verdict), &hub.Answer{ID: r.ID, Advice: hearInTurn}
		return
	}
	st.inRound = nil
	r.Cents = pitch.Between(r.Target, r.Hz())
	s.judge(st, r, run)
	st.take(r, run)
}

// timeless reports whether a laptop has sent tracks that were left out, as its clock
// is not known well enough to lay them beside those of the others.
func (s *seat) timeless() bool { return s.tracks && len(s.chunks) > 0 }

// noteUnheard notes why the chairs that have just played were not read.
func (s *State) noteUnheard(run *hub.Round, res attribute.Result) {
	for _, cr := range res.Chairs {
		st := s.seats[hub.ChairID(cr.ID)]
		if st == nil || !slices.Contains(run.Queue, st.id()) || cr.Verdict == attribute.Sounding {
			continue
		}
		why := hub.Reason(cr.Verdict)
		switch {
		case cr.Verdict == attribute.NoTracks && st.timeless():
			why = hub.WhyClock
		case cr.Verdict == attribute.NoTracks:
			why = hub.WhyUnclear
		case cr.Verdict == attribute.Unclear && cr.Over != 0 && cr.Over < nearDB:
			why = hub.WhyDrowned
		}
		if run.Unheard == nil {
			run.Unheard = map[hub.ChairID]hub.Reason{}
		}
		run.Unheard[st.id()] = why
	}
}

// parted says why the round goes on in turns, nil when all were heard.
func (s *State) parted(run *hub.Round, res attribute.Result) *hub.Parted {
	left := 0
	for _, id := range run.Queue {
		if s.here(id) {
			left++
		}
	}
	if left == 0 {
		return nil
	}
	return &hub.Parted{Pairs: len(res.Pairs), Left: left, Help: s.help(run, res, left)}
}

// nearDB is what a laptop should hear of its own player over any other laptop; our
// choice, not measured: a player half as far away as the neighbours is 6 dB above them.
const nearDB = 3.0

// help is what would tell most apart of a row of which half or more was not.
func (s *State) help(run *hub.Round, res attribute.Result, left int) string {
	here, without := 0, false // a player has no laptop, and not for a moment only
	for id := range run.Call.Tones {
		st := s.seats[id]
		if s.here(id) {
			here++
		} else if st != nil && !st.chair.Absent && st.away() && !s.expected(id, s.at) {
			without = true
		}
	}
	switch {
	case 2*left < here || left < 2:
		return ""
	case without && here <= attribute.FewLaptops:
		return hub.HelpLaptops
	}
	var over []float64
	for _, cr := range res.Chairs {
		if cr.Over != 0 && slices.Contains(run.Queue, hub.ChairID(cr.ID)) {
			over = append(over, cr.Over)
		}
	}
	switch {
	case len(over) == 0:
		return ""
	case middle(over) < nearDB:
		return hub.HelpNearer
	}
	return hub.HelpGroups
}

// tracksReference is the frequency whose multiples all microphones of a
// together round follow.
func (s *State) tracksReference(r *hub.Round) pitch.Hertz {
	if listening(r) {
		return ensemble.Grid
	}
	var tones []pitch.Hertz
	for _, n := range r.Call.Tones {
		tones = append(tones, s.section.Reference.Frequency(n))
	}
	root := pitch.Hertz(0)
	if chord, ok := chordOf(r); ok {
		root = s.section.Reference.Frequency(pitch.Note(chord.Root) + topOctave)
	}
	return ensemble.Reference(tones, root)
}

// topOctave puts a root above all that brass plays.
const topOctave pitch.Note = 96
