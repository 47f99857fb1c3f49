package tuneup

import (
	"fmt"
	"math"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// step takes in a note. What nobody asked for is stored, and that is all.
func (e Reading) step(s *State) error {
	st := s.seats[e.Chair]
	if st == nil {
		return fmt.Errorf("tuneup: reading for chair %d: %w", e.Chair, hub.ErrNotFound)
	}
	r := &hub.Reading{ID: s.newID(), Chair: e.Chair, Node: e.Node, Boot: e.Boot, At: s.at, Wire: e.Wire}
	run := s.running()
	if r.Why = s.unasked(st, r, run); r.Why != "" {
		s.strayed(r)
		s.put(hub.ReadingChange{Is: r})
		s.out.Seen = Nobody
		return nil
	}
	r.Round, r.Note, r.Target = run.ID, run.Call.Tones[e.Chair], s.target(run, e.Chair)
	r.Cents = pitch.Between(r.Target, r.Hz())
	switch {
	case bending(run):
		s.takeBend(st, r, run)
	case allAtOnce(run) && again(run) && begun(r).Before(s.askedAt.Add(reaction)), run.Call.Together && !allAtOnce(run) && begun(r).Before(s.apart):
		r.Why = hub.WhyNotAsked // the end of what was held before
	case allAtOnce(run):
		r.Why = hub.WhyGathering
	case s.besideAnother(r):
		s.hearAlone(r)
	case s.overheard(r):
		if r.Why = hub.WhyOverheard; !st.toMove() { // what is to be moved stays on the page
			r.Answer = &hub.Answer{ID: r.ID, Advice: heardAnother}
		}
	default:
		s.judge(st, r, run)
		s.keepAlone(r)
	}
	s.readings = append(s.readings, r)
	st.take(r, run)
	if r.Why == hub.WhyGathering {
		s.openWindow(run)
	}
	return nil
}

// unasked says why a note answers nothing, empty for one that was asked for. A
// player whose connection broke off while it was their turn may answer when
// others are playing by now: the note was asked for.
func (s *State) unasked(st *seat, r *hub.Reading, run *hub.Round) hub.Reason {
	round := hub.RoundID(r.Wire.Round)
	switch {
	case st.node != r.Node:
		return hub.WhyReplaced
	case !s.watching.IsZero() && round == 0:
		return hub.WhyWatch
	case run == nil || round == 0 || round == run.ID && !slices.Contains(run.Queue, r.Chair):
		return hub.WhyNotAsked
	case round != run.ID:
		return hub.WhyLate
	case st.toMove() && r.At.Sub(st.inRound.At) < slideTakes:
		return hub.WhyNotAsked // the rest of the note before
	}
	return ""
}

// target is where a chair's note of a round should be. A chord stands at the
// reference until it has been heard.
func (s *State) target(r *hub.Round, id hub.ChairID) pitch.Hertz {
	if hz, ok := s.chordTargets(r); ok {
		return hz[id]
	}
	if listening(r) {
		return 0
	}
	return s.section.Reference.Frequency(r.Call.Tones[id])
}

// judge answers a reading that was asked for, and decides whether its player is
// heard enough.
func (s *State) judge(st *seat, r *hub.Reading, run *hub.Round) {
	if !faint(r) && run.Call.Kind == hub.CallNote { // who plays a chord has not said anything of the main slide
		s.assumeMoves(st, r.At)
	}
	a, follow := s.advise(st, r, run)
	if s.byWorth(run) && r.Heard == nil && !r.Wire.Settled && r.Wire.Reason == "vibrato" && (a.Kind == slide.Move || a.Kind == slide.Stay) {
		a = straight(a)
	}
	r.Counted = a.Kind != slide.Again && a.Kind != slide.Note
	told, over := a, true
	if !r.Counted {
		r.Why = reason(r, a)
	}
	b := s.beliefOf(st, r, run)
	switch {
	case b != nil:
		if told, over = s.answerBy(b, st, r, a); told.Kind == slide.Move || told.Kind == slide.Stay {
			a, r.Counted, r.Why = told, true, ""
		}
		follow = fair(follow, b, st)
	case !r.Counted || inTurns(run):
		told, over = st.turn.Answer(a)
	}
	moves := false
	switch {
	case !r.Counted:
		r.Why, r.Verdict = reason(r, a), intonation.Doubt
	case listening(run):
		r.Counted, r.Why, told = false, hub.WhyListen, waitForChord
	case run.Call.Kind == hub.CallChord:
		r.Why, told = "", waitForChord
	default:
		r.Why, r.Verdict = "", s.verdict(r, a)
		if withheld(run) && a.Kind == slide.Move {
			told, over = s.leaveForNow(run, r), true
			told.Offset, told.Facts.CI95, told.Facts.Pitched = a.Offset, a.Facts.CI95, a.Facts.Pitched
		}
		if moves = s.adviseMoves(r, told); moves && b != nil {
			over = !s.believe(run, r).Wants(int64(st.id()), s.at)
		}
	}
	if m := st.lastMade(); follow != nil && m != nil {
		s.changeMove(m, func(m *hub.MoveRecord) { m.Measured, m.FollowThrough = follow.Measured, string(follow.Verdict) })
	}
	r.Answer = &hub.Answer{ID: r.ID, Advice: told}
	switch {
	case over:
		leave(run, st.id())
	case b != nil || !allAtOnce(run) && (r.Why == hub.WhyCold || moves && s.mayBeRoom(run, r)):
		s.behind(run, st.id()) // warms up, or waits with the slide set, while the others play
	case !allAtOnce(run):
		s.rings, s.askedAt = []hub.ChairID{st.id()}, s.at // what is left of this note is no fresh attack
	}
}

// What a player is told by the rules themselves; hub/show has the words.
var (
	// waitForChord until everybody of a chord has been heard: a chord tone means
	// nothing by itself.
	waitForChord = slide.Advice{Kind: slide.Stay, Code: "heard"}
	// hearInTurn after a note that was not told apart from those of the others.
	hearInTurn = slide.Advice{Kind: slide.Again, Code: string(hub.WhyUnclear)}
	// hearApart after one that another chair's covers.
	hearApart = slide.Advice{Kind: slide.Again, Code: string(hub.WhyTogether)}
	// heardAnother after a note that was a neighbour's.
	heardAnother = slide.Advice{Kind: slide.Again, Code: string(hub.WhyOverheard)}
	// needInstrument before anything can be said.
	needInstrument = slide.Advice{Kind: slide.Nothing, Code: "instrument"}
)

// advise asks hub/slide what to tell the player, on the ground of all that was
// heard of this player and moved so far. The Follow is nil unless the reading
// judged a move.
func (s *State) advise(st *seat, r *hub.Reading, run *hub.Round) (slide.Advice, *slide.Follow) {
	in, ok := s.inquiry(st, r, st.chair.Settings)
	if listening(run) {
		in, ok = s.listenInquiry(st, r)
	}
	switch {
	case !ok:
		return needInstrument, nil
	case run.Call.Kind != hub.CallNote:
		if in.Mute != slide.Open {
			in.Purpose = slide.Balance // a chord may be muted
		}
		return slide.Advise(in), nil // says whether the reading is believed; the chord says the rest
	}
	return st.memory.Answer(in)
}

// inquiry is what hub/slide is asked about a reading taken with the slides at
// some settings; false when the chair has no instrument.
func (s *State) inquiry(st *seat, r *hub.Reading, set instrument.Settings) (slide.Input, bool) {
	in := st.instrument()
	if in == nil {
		return slide.Input{}, false
	}
	p := s.earlierOf(st)
	path := s.played(r, in)
	if r.Mute() == slide.Stopped {
		path = instrument.Path{} // fingered otherwise than the open note
	}
	return slide.Input{
		HornOrder: s.section.HornOrder, Mute: r.Mute(), MuteShift: p.mutes[r.Mute()],
		Instrument: in, Note: r.Note, Path: path, Target: r.Target, Reading: asHeard(r),
		Settings: set, Travel: st.chair.Travel, Air: instrument.Air{TemperatureC: s.section.TemperatureC},
		Purpose: slide.Tuning, Good: s.section.Good, Learned: slide.Learn(p.made...),
		CommonChange: s.commonChange(st.last(), r), History: p.days, Played: r.Wire.Played, Baseline: st.baseline(),
	}, true
}

// played is how a reading's note was played, the zero Path where only the usual
// way is known.
func (s *State) played(r *hub.Reading, in *instrument.Instrument) (p instrument.Path) {
	if run := s.round(r.Round); run != nil && asks(run, r.Chair, r.Note) {
		p = s.wayOf(run, r.Chair, in, r.Note).path
	}
	return p
}

// clear is how far a reading of a tuning note stands from its target without
// what the note is flat or sharp by nature: for whatever compares chairs.
func (s *State) clear(r *hub.Reading) pitch.Cents {
	st := s.seats[r.Chair]
	if st == nil || st.instrument() == nil || s.ofChord(r) {
		return r.Cents
	}
	in := st.instrument()
	if run := s.round(r.Round); run != nil && asks(run, r.Chair, r.Note) {
		return r.Cents - s.wayOf(run, r.Chair, in, r.Note).nature
	}
	return slide.Clear(in, r.Note, instrument.Path{}, r.Cents)
}

// learned is what the chair's own moves say about its millimetres per cent.
func (s *State) learned(st *seat) slide.Learned {
	if l := slide.Learn(s.earlierOf(st).made...); l.Moves > 0 {
		return l
	}
	return st.memory.Learned()
}

// asHeard is the reading as hub/slide takes it.
func asHeard(r *hub.Reading) slide.Reading {
	if h := r.Heard; h != nil {
		// What the node made of the mixture says nothing about the player.
		return slide.Reading{Hz: h.Hz, CI95: h.CI95, Spread: h.Spread, Drift: h.Drift, Level: h.Level, Settled: true}
	}
	w := r.Wire
	var vibrato pitch.Cents
	if w.Vibrato != nil {
		vibrato = w.Vibrato.Extent
	}
	if w.Settled && w.Level < pitch.Quietest { // as nodes of earlier versions send it
		w.Settled, w.Reason = false, "soft"
	}
	return slide.Reading{
		Vibrato: vibrato,
		Hz:      w.Hz, CI95: w.CI95, Spread: w.Spread, Drift: w.Drift, Level: w.Level, Early: w.Early, Played: w.Played,
		Settled: w.Settled, Reason: w.Reason, Overheard: r.Why == hub.WhyOverheard,
	}
}

// faint reports whether a note could hardly be heard, or not for noise: that
// somebody sounded then does not even say that the player was told and has played
// again.
func faint(r *hub.Reading) bool {
	h := asHeard(r)
	return !h.Settled && slices.Contains([]string{"soft", "clipping", "gap", "noise", "no-pitch"}, h.Reason)
}

// verdict says where a chair's slide stands by a counted reading: what the note is
// flat or sharp by nature is no fault of it, nor is one note among several for which
// the slide stands right. A chair whose slide is still to move is not set, however
// near it is.
func (s *State) verdict(r *hub.Reading, a slide.Advice) string {
	off := s.clear(r)
	if a.Code == "between" || a.Facts.Own.SD > 0 && s.ofSeveral(r) {
		off = a.Facts.Own.Offset
	}
	v := intonation.Verdict(off, r.CI95(), s.section.Good, s.section.Near)
	if v == intonation.Set && a.Kind == slide.Move {
		return intonation.Near
	}
	return v
}

// ofSeveral reports whether a reading is of one of the notes of a thorough call.
func (s *State) ofSeveral(r *hub.Reading) bool {
	run := s.round(r.Round)
	return run != nil && len(run.Call.Several[r.Chair]) > 1
}

// reason names why a reading does not count.
func reason(r *hub.Reading, a slide.Advice) hub.Reason {
	switch {
	case a.Code != "":
		return hub.Reason(a.Code)
	case r.Wire.Reason != "":
		return hub.Reason(r.Wire.Reason)
	}
	return "unsettled"
}

// answerAnew gives a player another answer to the same frozen reading; where it
// stood goes on being told.
func (s *State) answerAnew(r *hub.Reading, a slide.Advice, chord *intonation.Place) {
	is := hub.Answer{ID: s.newID(), Advice: a, Chord: chord}
	if was := r.Answer; !a.Facts.Pitched {
		is.Offset, is.Facts.CI95, is.Facts.Pitched, is.Small = was.Offset, was.Facts.CI95, was.Facts.Pitched, was.Small
	}
	r.Answer = &is
}

// adviseMoves records the steps of an answer, and reports whether there are any.
func (s *State) adviseMoves(r *hub.Reading, a slide.Advice) bool {
	for _, st := range a.Steps {
		s.addMove(hub.MoveRecord{
			Chair: r.Chair, Round: r.Round, Reading: r.ID, At: r.At,
			Slide: st.Slide, FromMM: st.FromMM, ToMM: st.ToMM, Expected: st.Expected,
		})
	}
	return len(a.Steps) > 0
}

// isOpen reports whether a move waits to be carried out.
func isOpen(m *hub.MoveRecord) bool { return m.Done.IsZero() && !m.Withdrawn }

// assumeMoves takes a chair's open moves as made: the player was told before
// this tuning note, and plays again. The slide's setting follows. Of a move for another
// reference the player is not told any more; it is taken back.
func (s *State) assumeMoves(st *seat, at time.Time) {
	for _, m := range slices.Clone(st.moves) {
		if !isOpen(m) {
			continue
		}
		if last := st.last(); last != nil && m.Reading == last.ID && s.outdated(last) {
			s.changeMove(m, func(m *hub.MoveRecord) { m.Withdrawn = true })
			continue
		}
		s.changeMove(m, func(m *hub.MoveRecord) { m.Done, m.Assumed = at, true })
		s.slideStands(st, hub.SettingRecord{At: at, Slide: m.Slide, MM: m.ToMM, Source: hub.SourceMove})
	}
}

// moveMade closes an open move of the slide that somebody says was set. Where
// it stands now counts, not where it was to go; the expectation follows.
func (s *State) moveMade(st *seat, set proto.Setting) {
	for _, m := range slices.Clone(st.moves) {
		if m.Slide != set.Slide || !isOpen(m) {
			continue
		}
		s.changeMove(m, func(m *hub.MoveRecord) {
			if all := m.ToMM - m.FromMM; all != 0 {
				m.Expected *= pitch.Cents((set.MM - m.FromMM) / all)
			}
			m.ToMM, m.Done = set.MM, s.at
		})
	}
}

// withdraw takes back the open moves of a round.
func (s *State) withdraw(id hub.RoundID) {
	for _, m := range slices.Clone(s.moves) {
		if m.Round == id && isOpen(m) {
			s.changeMove(m, func(m *hub.MoveRecord) { m.Withdrawn = true })
		}
	}
}

// restoreMoves makes up for moves whose record was lost between the commit of a
// reading and theirs, as earlier versions could. Steps of one answer share the
// expected change by how far they go. A move within a chord is none, and a
// call that was taken back asks for none.
func (s *State) restoreMoves() {
	for _, r := range s.readings {
		if r.Answer == nil || !r.Counted || r.Answer.Kind != slide.Move || s.round(r.Round) == nil || s.ofChord(r) ||
			slices.ContainsFunc(s.moves, func(m *hub.MoveRecord) bool { return m.Reading == r.ID }) {
			continue
		}
		all := 0.0
		for _, st := range r.Answer.Steps {
			all += math.Abs(st.MM())
		}
		for _, st := range r.Answer.Steps {
			share := 1.0
			if all > 0 {
				share = math.Abs(st.MM()) / all
			}
			s.addMove(hub.MoveRecord{
				Chair: r.Chair, Round: r.Round, Reading: r.ID, At: r.At,
				Slide: st.Slide, FromMM: st.FromMM, ToMM: st.ToMM, Expected: -r.Cents * pitch.Cents(share),
			})
		}
	}
}

// step notes where a player says a slide stands. It is how a player says that a
// move was made.
func (e Setting) step(s *State) error {
	st := s.seats[e.Chair]
	if st == nil {
		return fmt.Errorf("tuneup: setting for chair %d: %w", e.Chair, hub.ErrNotFound)
	}
	return s.setSlide(st, e.Set, hub.SourcePlayer)
}

// setSlide puts a slide where somebody says it stands.
func (s *State) setSlide(st *seat, set proto.Setting, source string) error {
	in, err := instrument.Find(st.chair.Instrument)
	if err != nil {
		return err
	}
	sl, ok := in.WithTravel(st.chair.Travel).Slide(set.Slide)
	if !ok {
		return fmt.Errorf("tuneup: slide %q on %s, need one of its own: %w", set.Slide, in.ID, hub.ErrNotFound)
	}
	if set.TravelMM > 0 {
		sl.TravelMM = set.TravelMM
	}
	if !(set.MM >= 0 && set.MM <= sl.TravelMM) {
		return refuse("refusal.setting", slideOf(sl), st.chair.Label, set.MM, sl.TravelMM)
	}
	if set.TravelMM > 0 {
		s.changeChair(st.id(), func(c *hub.Chair) { c.Travel = with(c.Travel, set.Slide, set.TravelMM) })
	}
	s.moveMade(st, set)
	s.slideStands(st, hub.SettingRecord{At: s.at, Slide: set.Slide, MM: set.MM, Source: source})
	return nil
}

// slideStands notes where a slide stands from now on, and what that should do
// to the chair's notes.
func (s *State) slideStands(st *seat, rec hub.SettingRecord) {
	rec.Chair = st.id()
	if in := st.instrument(); in != nil {
		rec.From = in.MM(st.chair.Settings, rec.Slide)
	}
	s.addSetting(rec)
	st.remember(st.chair.Settings, rec)
	s.changeChair(st.id(), func(c *hub.Chair) { c.Settings = with(c.Settings, rec.Slide, rec.MM) })
}

// addSetting enters a setting in the order of time, in which a restart finds it:
// a move that is taken as made bears the time of a note, which may have been
// gathered a while ago.
func (s *State) addSetting(rec hub.SettingRecord) {
	i := len(s.settings)
	for i > 0 && s.settings[i-1].At.After(rec.At) {
		i--
	}
	s.settings = slices.Insert(s.settings, i, rec)
	s.put(hub.SettingAdded{Is: rec})
}

// with puts one slide into settings.
func with(set instrument.Settings, id instrument.SlideID, mm float64) instrument.Settings {
	if set == nil {
		set = instrument.Settings{}
	}
	set[id] = mm
	return set
}

// commonChange is how far the section as a whole moved between two readings of
// one chair: the middle change of the chairs that were read on both sides and
// moved no slide in between; 0 while there are fewer than minUnmoved.
func (s *State) commonChange(before, after *hub.Reading) pitch.Cents {
	if before == nil || before.Round == after.Round {
		return 0
	}
	var ds []pitch.Cents
	for id, st := range s.seats {
		if id == before.Chair {
			continue
		}
		first, last := lastOf(st.counted, before.Round), lastOf(st.counted, after.Round)
		if first != nil && last != nil && first.Note == last.Note && !s.movedBetween(id, first, last) {
			ds = append(ds, pitch.Between(first.Hz(), last.Hz()))
		}
	}
	if len(ds) < minUnmoved {
		return 0
	}
	return middle(ds)
}

// minUnmoved chairs are a section: of two, either may have changed by itself.
const minUnmoved = 3

// lastOf is the last reading of a round, nil for none.
func lastOf(rs []*hub.Reading, round hub.RoundID) *hub.Reading {
	for _, r := range slices.Backward(rs) {
		if r.Round == round {
			return r
		}
	}
	return nil
}

// movedBetween reports whether a chair's slide was moved from one of its
// readings to another.
func (s *State) movedBetween(id hub.ChairID, first, last *hub.Reading) bool {
	return slices.ContainsFunc(s.settings, func(rec hub.SettingRecord) bool {
		return rec.Chair == id && rec.From != rec.MM && !precedes(rec, first) && precedes(rec, last)
	})
}

// movedSince reports whether a slide of a reading's chair was moved after it.
func (s *State) movedSince(r *hub.Reading) bool {
	return slices.ContainsFunc(s.settings, func(rec hub.SettingRecord) bool {
		return rec.Chair == r.Chair && rec.From != rec.MM && !precedes(rec, r)
	})
}

// ofChord reports whether a reading belongs to a round of a chord, which says
// nothing of where the slides stand: a chord tone is balanced while it sounds.
func (s *State) ofChord(r *hub.Reading) bool {
	run := s.round(r.Round)
	return run != nil && run.Call.Kind != hub.CallNote
}
