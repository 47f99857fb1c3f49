package tuneup

import (
	"cmp"
	"fmt"
	"maps"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// call starts a round; only, when not nil, lists the chairs it is for.
func (s *State) call(c hub.Call, only []hub.ChairID) error {
	c, err := s.checkCall(c)
	if err != nil {
		return err
	}
	tones := c.Tones
	c.Tones, c.Fingerings = map[hub.ChairID]pitch.Note{}, maps.Clone(c.Fingerings)
	r := hub.Round{Section: s.section.ID, Started: s.at, Call: c, TemperatureC: s.section.TemperatureC}
	for _, ch := range s.chairs {
		n, given := tones[ch.ID]
		if ch.Absent || only != nil && !slices.Contains(only, ch.ID) || c.Only && !given {
			continue
		}
		if given {
			c.Tones[ch.ID] = n
		}
		r.Queue = append(r.Queue, ch.ID)
	}
	s.giveTones(&r)
	s.giveSeveral(&r)
	if len(r.Queue) == 0 {
		return refuse("refusal.nobody")
	}
	s.order(&r)
	s.closeRound(s.running())
	s.watching = time.Time{}
	r.ID = hub.RoundID(s.newID())
	r.Again = only != nil
	s.rounds = append(s.rounds, &r)
	s.window, s.judgement = window{}, nil
	s.noTurn()
	for _, st := range s.seats {
		st.chunks = nil
	}
	s.retake()
	return nil
}

// checkCall finds what cannot be played in a call, and fills in the usual.
func (s *State) checkCall(c hub.Call) (hub.Call, error) {
	for id, n := range c.Tones {
		if n < pitch.MinNote || n > pitch.MaxNote {
			return c, nonsense("tuneup: note %d for chair %d, need %d to %d", n, id, pitch.MinNote, pitch.MaxNote)
		}
	}
	if err := checkName(c.Where); err != nil {
		return c, err
	}
	switch c.Kind {
	case "", hub.CallNote:
		if x, err := pitch.ParseName(c.Spelled); err != nil || x.Class() != c.Note.Class() {
			c.Spelled = ""
		}
		c.Kind, c.Chord, c.Anchor, c.Tuning, c.Shape, c.Fingerings, c.Several = hub.CallNote, "", "", "", "", nil, nil
		if c.Thorough && (c.Together || !s.section.Order.ByWorth()) {
			return c, refuse("refusal.thorough")
		}
		if c.Note < pitch.MinNote || c.Note > pitch.MaxNote {
			return c, nonsense("tuneup: called note %d, need %d to %d", c.Note, pitch.MinNote, pitch.MaxNote)
		}
		return c, nil
	case hub.CallListen:
		return listenCall(), nil
	case hub.CallBend:
		return hub.Call{Kind: hub.CallBend, Note: c.Note, Together: true}, nil
	case hub.CallChord:
		c.Thorough, c.Several = false, nil
		return s.checkChord(c)
	}
	return c, nonsense("tuneup: call of kind %q, need note, chord or listen", c.Kind)
}

func (s *State) checkChord(c hub.Call) (hub.Call, error) {
	chord, err := intonation.ParseChord(c.Chord)
	if err != nil {
		return c, err
	}
	tuning := intonation.Tuning(c.Tuning)
	if c.Tuning == "" {
		tuning = chordTuning(s.section)
	}
	if tuning, err = intonation.ParseTuning(string(tuning)); err != nil {
		return c, nonsense("%w", err)
	}
	anchor, err := intonation.ParseAnchor(c.Anchor)
	if err != nil {
		return c, nonsense("%w", err)
	}
	if _, err := intonation.ParseShape(c.Shape); err != nil {
		return c, nonsense("%w", err)
	}
	c.Chord, c.Tuning, c.Anchor = chord.Name(), string(tuning), string(anchor)
	return c, nil
}

// giveTones chooses the sounding note of everybody in the queue who has none:
// the called note in the chair's own octave, or a tone of the chord. Chairs
// that cannot play leave the queue.
func (s *State) giveTones(r *hub.Round) {
	var spread map[hub.ChairID]pitch.Note
	if chord, ok := chordOf(r); ok {
		spread = s.spread(chord, r.Queue)
	}
	for _, id := range slices.Clone(r.Queue) {
		if _, has := r.Call.Tones[id]; has {
			continue
		}
		in := s.seats[id].instrument()
		n, ok := spread[id]
		switch {
		case r.Call.Kind == hub.CallChord && ok:
			r.Call.Tones[id] = n
		case r.Call.Kind == hub.CallChord || in == nil:
			leave(r, id)
		case listening(r):
			r.Call.Tones[id] = openTone
		default:
			s.giveTuningNote(r, id, in)
		}
	}
}

// giveTuningNote asks a chair for the called note in the octave and with the
// fingering that tell where its main slide belongs.
func (s *State) giveTuningNote(r *hub.Round, id hub.ChairID, in *instrument.Instrument) {
	note, way := s.tuningWay(in, r.Call.Note)
	give(r, id, note, way)
}

// give has a chair play a note in a way, "" for the usual one.
func give(r *hub.Round, id hub.ChairID, note pitch.Note, way string) {
	r.Call.Tones[id] = note
	delete(r.Call.Fingerings, id)
	if way == "" {
		return
	}
	if r.Call.Fingerings == nil {
		r.Call.Fingerings = map[hub.ChairID]string{}
	}
	r.Call.Fingerings[id] = way
}

// tuningWay is the note that an instrument tunes on for a called one, and how it is
// played, "" for the usual way.
func (s *State) tuningWay(in *instrument.Instrument, called pitch.Note) (note pitch.Note, way string) {
	note, path, _ := in.TuningWay(called)
	if s.section.HornOrder == slide.FSideFirst {
		path = onFSide(in, note, path)
	}
	if usual := in.Paths(note); len(usual) > 0 && usual[0].String() != path.String() {
		way = path.String()
	}
	return note, way
}

// onFSide is how a double horn plays a tuning note on its F side, and how it was
// to be played where that does not tell.
func onFSide(in *instrument.Instrument, n pitch.Note, way instrument.Path) instrument.Path {
	for _, p := range in.Paths(n) {
		if in.Double && p.Side == "F" && p.Plain() && in.Tells(p) {
			return p
		}
	}
	return way
}

// order sorts the queue: low voices first, for the others build on them, or
// along the row.
func (s *State) order(r *hub.Round) {
	place := map[hub.ChairID]int{}
	for i, c := range s.seated() {
		place[c.ID] = i
	}
	low := s.section.Order != hub.OrderSeating
	type voice struct {
		id    hub.ChairID
		tone  pitch.Note
		tube  pitch.Hertz
		place int
	}
	voices := make([]voice, len(r.Queue))
	for i, id := range r.Queue {
		voices[i] = voice{id, r.Call.Tones[id], s.fundamental(id), place[id]}
	}
	slices.SortStableFunc(voices, func(a, b voice) int {
		byPlace := cmp.Compare(a.place, b.place)
		if !low {
			return byPlace
		}
		return cmp.Or(cmp.Compare(a.tone, b.tone), cmp.Compare(a.tube, b.tube), byPlace)
	})
	for i, v := range voices {
		r.Queue[i] = v.id
	}
}

func (s *State) fundamental(id hub.ChairID) pitch.Hertz {
	if st := s.seats[id]; st != nil {
		if in := st.instrument(); in != nil {
			return in.Fundamental
		}
	}
	return 0
}

// again asks one chair, or all that are not set, for the same call.
func (s *State) again(id hub.ChairID) error {
	if len(s.rounds) == 0 {
		return errNoRound
	}
	run, last := s.running(), s.rounds[len(s.rounds)-1]
	inChord := last.Call.Kind == hub.CallChord
	// One tone of a chord is judged with the others as they were heard, even
	// after all were; so is one of a chord that is listened for.
	within := inChord || listening(last) || run != nil && !s.done(run, s.at)
	if run != nil && id != 0 && within && !allAtOnce(run) {
		if _, in := run.Call.Tones[id]; !in {
			return s.notInRound(id)
		}
		s.askAgain(run, id)
		return nil
	}
	if listening(last) {
		return s.call(listenCall(), nil)
	}
	if bending(last) {
		return s.callBend()
	}
	if inChord && id == 0 {
		return s.call(last.Call, nil) // a chord sounds only whole
	}
	only := []hub.ChairID{id}
	if id == 0 {
		only = s.notSet()
	}
	if len(only) == 0 {
		return refuse("refusal.all-set")
	}
	c := last.Call
	c.Tones = firstTones(last)
	c.Together = c.Together && len(only) > 1
	return s.call(c, only)
}

// askAgain lets a chair play once more in the running round, as the next one.
func (s *State) askAgain(run *hub.Round, id hub.ChairID) {
	leave(run, id)
	run.Queue = slices.Insert(run.Queue, 0, id)
	run.Passed = slices.DeleteFunc(run.Passed, func(p hub.ChairID) bool { return p == id })
	s.noTurn()
	if st := s.seats[id]; st.inRound != nil {
		askAnew(run, id, st.inRound.ID)
		if st.gathered() { // what the others are waited for with is the new note
			s.revise(st.inRound).Why = hub.WhyLate
		}
	}
	s.retake()
}

// notInRound refuses what is asked of a chair that does not play now.
func (s *State) notInRound(id hub.ChairID) error {
	if s.seats[id] == nil {
		return fmt.Errorf("tuneup: again for chair %d, which is not in this round: %w", id, hub.ErrNotFound)
	}
	return refuse("refusal.not-in-round", s.called(id))
}

// notSet lists the chairs that are here and not set, or not heard since
// something changed.
func (s *State) notSet() []hub.ChairID {
	var ids []hub.ChairID
	for _, c := range s.chairs {
		if !c.Absent && !s.isSet(s.seats[c.ID], s.running()) {
			ids = append(ids, c.ID)
		}
	}
	return ids
}

// chordOf parses the chord of a round, false for one without.
func chordOf(r *hub.Round) (intonation.Chord, bool) {
	if r.Call.Kind != hub.CallChord {
		return intonation.Chord{}, false
	}
	chord, err := intonation.ParseChord(r.Call.Chord)
	return chord, err == nil
}

// spread gives every chair of a chord call a tone that it can play.
func (s *State) spread(chord intonation.Chord, chairs []hub.ChairID) map[hub.ChairID]pitch.Note {
	var parts []intonation.Part
	for _, id := range chairs {
		if in := s.seats[id].instrument(); in != nil {
			parts = append(parts, intonation.Part{Chair: intonation.Chair(id), Low: in.Low, High: in.Top(), Rank: cmp.Or(rank(s.seats[id].chair.Part), rank(s.seats[id].chair.Label))})
		}
	}
	tones := map[hub.ChairID]pitch.Note{}
	for id, n := range intonation.Spread(chord, parts) {
		tones[hub.ChairID(id)] = n
	}
	return tones
}

// rank reads the first number of a part's name: 2 for "2nd trombone"; 0 when
// there is none.
func rank(part string) int {
	for _, r := range part {
		if r >= '1' && r <= '9' {
			return int(r - '0')
		}
	}
	return 0
}

// chordTuning is how the section's chords are tuned unless a call says otherwise.
func chordTuning(s *hub.Section) intonation.Tuning {
	if s.Tuning == "" {
		return intonation.DefaultTuning(s.FixedPitch)
	}
	return intonation.Tuning(s.Tuning)
}

// Fingering is how a chair plays its note of a round: as the leader said, or
// the usual way. ok is false where the instrument cannot play the note.
func Fingering(r *hub.Round, id hub.ChairID, in *instrument.Instrument) (p instrument.Path, ok bool) {
	return played{in.ID, r.Call.Tones[id], r.Call.Fingerings[id]}.path(in)
}

// path is the air path of a note that is played as the leader says or as usual;
// false where the instrument cannot play it.
func (p played) path(in *instrument.Instrument) (instrument.Path, bool) {
	if p.way != "" {
		if said, err := instrument.ParsePath(p.way); err == nil {
			if path, err := in.Resolve(said, p.note); err == nil {
				return path, true
			}
		}
	}
	if usual := in.Paths(p.note); len(usual) > 0 {
		return usual[0], true
	}
	return instrument.Path{}, false
}

// changeFingering lets a chair play its chord tone in another way, and hears it
// anew.
func (s *State) changeFingering(run *hub.Round, st *seat, way string) error {
	in, err := instrument.Find(st.chair.Instrument)
	if err != nil {
		return nonsense("%w", err)
	}
	note, plays := run.Call.Tones[st.id()]
	if run.Call.Kind != hub.CallChord || !plays {
		return refuse("refusal.no-chord-now", s.called(st.id()))
	}
	said, err := instrument.ParsePath(way)
	if err == nil {
		said, err = in.Resolve(said, note)
	}
	if err != nil {
		return &phrase.Refusal{Key: "refusal.fingering", Figures: []any{s.called(st.id())}, Err: err}
	}
	if run.Call.Fingerings == nil {
		run.Call.Fingerings = map[hub.ChairID]string{}
	}
	run.Call.Fingerings[st.id()] = said.String()
	s.askAgain(run, st.id())
	return nil
}

// seated lists the chairs in seating order.
func (s *State) seated() []*hub.Chair {
	return slices.SortedStableFunc(slices.Values(s.chairs), func(a, b *hub.Chair) int { return a.Seating(*b) })
}
