package tuneup

import (
	"maps"
	"math"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/belief"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// believed is what hub/belief makes of the records, for the running round of a
// tuning note. It is a fold over them: what was added since is fed, and after
// anything else (an undo, another reference, a withdrawn move) it begins anew.
type believed struct {
	*belief.Section
	seats   []sitting
	fed     []happening
	from    map[hub.ChairID]begins
	grounds grounds // of fed
	room

	stale    bool                    // something has happened since the queue was put in order
	named    []hub.ChairID           // who were told to be next
	outside  float64                 // how many of those heard may be outside the band
	chance   map[hub.ChairID]float64 // of each to be
	cold     []hub.ChairID           // too cold to tell where they will stand
	doubtful []hub.ChairID           // who may still be outside the band
}

// sitting is a chair as a tune-up finds it.
type sitting struct {
	id      hub.ChairID
	slide   belief.Slide
	profile belief.Profile
	notes   [mostSeveral]tuning // the first slide.Notes of them
}

// tuning is a note, and where it lies by nature.
type tuning struct {
	note pitch.Note
	lies pitch.Cents
}

// tells is which of a chair's notes a reading is of, with where that lies.
func (c *sitting) tells(note pitch.Note) (i int, lies pitch.Cents, ok bool) {
	i = slices.IndexFunc(c.notes[:c.slide.Notes], func(t tuning) bool { return t.note == note })
	if i < 0 {
		return 0, 0, false
	}
	return i, c.notes[i].lies, true
}

// way is how an instrument plays a note, where it then lies by theory, and how
// much of that is too much to be left in.
type way struct {
	path         instrument.Path
	lies, nature pitch.Cents
	tells        bool // where the main slide belongs
}

// begins is what a sitting was worked out from.
type begins struct {
	note     played
	several  []pitch.Note
	settings instrument.Settings
	chair    *hub.Chair // its slides' travel
	sitting  sitting
	sits     bool
}

// played is one note of one instrument, played as the leader says; "" = as usual.
type played struct {
	in   instrument.ID
	note pitch.Note
	way  string
}

// wayOf finds how a chair of a round plays a note of its, once for each.
func (s *State) wayOf(run *hub.Round, id hub.ChairID, in *instrument.Instrument, note pitch.Note) way {
	return s.wayTo(in, s.playedBy(run, id, in, note))
}

// wayTo finds how an instrument plays a note, once for each.
func (s *State) wayTo(in *instrument.Instrument, key played) way {
	w, known := s.ways[key]
	if !known {
		if p, ok := key.path(in); ok {
			w = way{p, in.Tendency(p), in.Nature(p), in.Tells(p) && !(in.Attachment && p.Side != "" && p.Side != "Bb")}
		}
		if len(s.ways) > mostWays {
			clear(s.ways)
		}
		s.ways[key] = w
	}
	return w
}

// mostWays are remembered: more than a section plays in an evening.
const mostWays = 4096

// happening is one thing that a belief takes in.
type happening struct {
	at      time.Time
	chair   hub.ChairID
	what    int
	reading belief.Reading
	mm      float64
	sure    bool
}

// grounds are what the list of what happened was made from.
type grounds struct {
	run       hub.RoundID
	after     map[hub.ChairID]int64
	reference pitch.Reference
	readings  []*hub.Reading
	moves     []*hub.MoveRecord
	settings  []hub.SettingRecord
}

func (g *grounds) equal(o *grounds) bool {
	return g.run == o.run && g.reference == o.reference && maps.Equal(g.after, o.after) &&
		slices.Equal(g.readings, o.readings) && slices.Equal(g.moves, o.moves) && slices.Equal(g.settings, o.settings)
}

// kept is a copy that later steps do not change.
func (g grounds) kept() grounds {
	g.readings, g.moves, g.settings = slices.Clone(g.readings), slices.Clone(g.moves), slices.Clone(g.settings)
	return g
}

// room is who sits, and with what in their hands, as it was last looked at.
type room struct {
	section    *hub.Section
	chairs     []*hub.Chair
	settings   []hub.SettingRecord
	tones      map[hub.ChairID]pitch.Note
	fingerings map[hub.ChairID]string
	sit        []sitting
}

// What happens, in the order of one moment.
const (
	noteHeard = iota
	slideSent // or moved by the player's own choice, when sure
	slideSet  // as sent, but for mm
)

// believe returns what is believed of the chairs of a round, extra being a note
// that is not on record yet; nil where it is not for the main slide of anybody.
func (s *State) believe(run *hub.Round, extra *hub.Reading) *belief.Section {
	seats := s.sittings(run)
	if len(seats) == 0 {
		return nil
	}
	all := s.happenings(run, seats, extra)
	b := &s.believed
	if b.Section == nil || !slices.Equal(seats, b.seats) || len(all) < len(b.fed) || !slices.Equal(all[:len(b.fed)], b.fed) {
		notes := slices.MaxFunc(seats, func(x, y sitting) int { return x.slide.Notes - y.slide.Notes }).slide.Notes
		b.Section, b.seats, b.fed = belief.New(belief.Config{Band: float64(s.section.Good), Notes: notes}), seats, nil
		for _, c := range seats {
			b.Sit(int64(c.id), c.slide, c.profile)
		}
	}
	for _, h := range all[len(b.fed):] {
		h.feed(b.Section)
	}
	b.fed = all
	for _, c := range seats {
		st := s.seats[c.id]
		if s.here(c.id) {
			b.Back(int64(c.id))
		} else {
			b.Away(int64(c.id))
		}
		if p := st.sound.Played; p > 0 {
			b.Sounded(int64(c.id), s.at, p)
		}
	}
	return b.Section
}

func (h happening) feed(b *belief.Section) {
	switch id := int64(h.chair); h.what {
	case noteHeard:
		b.Heard(id, h.reading)
	case slideSent:
		b.Moved(id, h.at, h.mm, h.sure)
	case slideSet:
		b.Set(id, h.at, h.mm)
	}
}

// known is what earlier days tell of a chair's player.
func (e earlier) known() belief.Profile {
	p := e.profile
	if l := slide.Learn(e.made...); l.Moves > 0 && l.Ratio > 0 {
		p.Act, p.ActSD = 1/l.Ratio, l.SD/(l.Ratio*l.Ratio)
	}
	return p
}

// sittings are the chairs of a round whose note tells where the main slide
// belongs, in the order in which they are called.
func (s *State) sittings(run *hub.Round) (seats []sitting) {
	b := &s.believed
	if b.section == s.section && slices.Equal(b.chairs, s.chairs) && slices.Equal(b.settings, s.settings) &&
		maps.Equal(b.tones, run.Call.Tones) && maps.Equal(b.fingerings, run.Call.Fingerings) {
		return b.sit
	}
	b.section, b.chairs, b.settings, b.tones, b.fingerings = s.section, slices.Clone(s.chairs), slices.Clone(s.settings), maps.Clone(run.Call.Tones), maps.Clone(run.Call.Fingerings)
	defer func() { b.sit = seats }()
	ordered := hub.Round{Call: run.Call}
	ordered.Call.Tones = firstTones(run)
	for id := range run.Call.Tones {
		if st := s.seats[id]; st != nil && st.instrument() != nil {
			ordered.Queue = append(ordered.Queue, id)
		}
	}
	slices.Sort(ordered.Queue)
	s.order(&ordered)
	begun := s.settingsAtFirst()
	for _, id := range ordered.Queue {
		if c := s.sitsDown(run, s.seats[id], begun[id]); c.sits {
			seats = append(seats, c.sitting)
		}
	}
	return seats
}

// sitsDown is how a tune-up finds a chair whose slides stood so at its beginning,
// worked out anew only where that or the note has changed.
func (s *State) sitsDown(run *hub.Round, st *seat, set instrument.Settings) begins {
	id := st.id()
	in := st.instrument().WithTravel(st.chair.Travel)
	several := run.Call.Several[id]
	if len(several) == 0 {
		several = []pitch.Note{run.Call.Tones[id]}
	}
	note := s.playedBy(run, id, in, several[0])
	was, known := s.believed.from[id]
	if known && was.note == note && slices.Equal(was.several, several) && maps.Equal(was.settings, set) && (was.chair == st.chair || maps.Equal(was.chair.Travel, st.chair.Travel)) {
		return was
	}
	is := begins{note: note, several: several, settings: set, chair: st.chair}
	if w := s.wayTo(in, note); w.tells {
		v := slide.LeverOf(in, w.path, instrument.Main, set, slide.Learned{})
		lo, hi := slide.Limits(v.Slide)
		is.sits = true
		is.sitting = sitting{
			id: id, profile: s.earlierOf(st).known(),
			slide: belief.Slide{MM: v.At, Min: lo, Max: hi, PerMM: -float64(in.CentsPerMM(w.path, instrument.Main, set)), Notes: len(several)},
		}
		for i, n := range several {
			is.sitting.notes[i] = tuning{n, s.wayOf(run, id, in, n).lies}
		}
	}
	if s.believed.from == nil {
		s.believed.from = map[hub.ChairID]begins{}
	}
	s.believed.from[id] = is
	return is
}

// settingsAtFirst is where all slides stood at the beginning of the tune-up.
func (s *State) settingsAtFirst() map[hub.ChairID]instrument.Settings {
	at := make(map[hub.ChairID]instrument.Settings, len(s.chairs))
	for _, c := range s.chairs {
		at[c.ID] = maps.Clone(c.Settings)
	}
	for _, rec := range slices.Backward(s.settings) {
		if set, sits := at[rec.Chair]; sits {
			at[rec.Chair] = with(set, rec.Slide, rec.From)
		}
	}
	return at
}

// happenings lists what happened in this tune-up to the notes of a round.
func (s *State) happenings(run *hub.Round, seats []sitting, extra *hub.Reading) (all []happening) {
	sits := map[hub.ChairID]*sitting{}
	for i := range seats {
		sits[seats[i].id] = &seats[i]
	}
	readings := s.readings
	if extra != nil {
		readings = append(slices.Clip(readings), extra)
	}
	from := grounds{run.ID, maps.Clone(run.After), s.section.Reference, readings, s.moves, s.settings}
	if b := &s.believed; b.Section != nil && slices.Equal(seats, b.seats) && from.equal(&b.grounds) {
		return b.fed
	}
	defer func() { s.believed.grounds = from.kept() }()
	for _, r := range readings {
		c := sits[r.Chair]
		if c == nil || !s.ofNow(r.Chair, r.ID) {
			continue
		}
		if i, lies, tells := c.tells(r.Note); tells && (r.Answer != nil || r == extra) && !r.Why.Blameless() && !s.ofChord(r) {
			now := s.section.Reference.Frequency(r.Note)
			b := asBelieved(r, float64(pitch.Between(now, r.Hz())-lies))
			b.Note, b.Refused, b.Earlier = i, tellsNothing(r), r.Round != run.ID
			all = append(all, happening{at: r.At, chair: r.Chair, reading: b})
		}
	}
	mine := map[hub.SettingRecord]bool{}
	for _, m := range s.moves {
		if sits[m.Chair] == nil || !s.ofNow(m.Chair, m.ID) || m.Slide != instrument.Main || m.Withdrawn {
			continue
		}
		all = append(all, happening{at: m.At, chair: m.Chair, what: slideSent, mm: m.ToMM - m.FromMM})
		if m.Done.IsZero() {
			continue
		}
		mine[hub.SettingRecord{Chair: m.Chair, At: m.Done, Slide: m.Slide}] = true
		if !m.Assumed {
			all = append(all, happening{at: m.Done, chair: m.Chair, what: slideSet})
		}
	}
	for _, rec := range s.settings {
		own := hub.SettingRecord{Chair: rec.Chair, At: rec.At, Slide: rec.Slide}
		if sits[rec.Chair] != nil && rec.Slide == instrument.Main && !mine[own] && rec.MM != rec.From {
			all = append(all, happening{at: rec.At, chair: rec.Chair, what: slideSent, mm: rec.MM - rec.From, sure: true})
		}
	}
	slices.SortStableFunc(all, func(a, b happening) int {
		if d := a.at.Compare(b.at); d != 0 {
			return d
		}
		return a.what - b.what
	})
	return all
}

// How well nodes know the start and the slope of a steady note, as 95 % half widths,
// and how far a note that wanders more than the steady ones blurs them beside its
// centre: they come from an eighth of its length, and from its whole (√12 over it).
// Steady notes, of which the first two are, know their centre to steadyHalf.
const (
	startHalf  = 1.6 // cents
	slopeHalf  = 2.2 // cents a second
	startBlur  = 2.9
	slopeBlur  = 2.3
	steadyHalf = 1.0  // cents
	onset      = 0.12 // seconds before what is read
)

// blur is how much less well than a steady one's the centre of a note is known.
func blur(half float64) float64 {
	return math.Sqrt(math.Max(0, half*half-steadyHalf*steadyHalf))
}

// asBelieved is a reading as hub/belief takes it, so many cents from where its
// note puts the main slide right.
func asBelieved(r *hub.Reading, cents float64) belief.Reading {
	w, half := r.Wire, float64(r.CI95().CentreCI95())
	b := belief.Reading{At: r.At, Cents: cents, Half: half, Played: w.Played}
	if r.Heard == nil {
		b.Start, b.StartHalf = float64(w.Early), math.Hypot(startHalf, startBlur*blur(half))
		b.Drift, b.DriftHalf, b.Middle = w.Drift, math.Hypot(slopeHalf, slopeBlur*blur(half)), onset+math.Max(0, w.End-w.Start)/2
		b.Vibrato = w.Vibrato != nil
	}
	return b
}

// tellsNothing reports whether a note says nothing of where its player's
// instrument stands. What is withheld for a cold instrument, a pinched attack or
// an unclear move says something with the next one.
func tellsNothing(r *hub.Reading) bool {
	if !r.Hz().Valid() || r.Heard == nil && !r.Wire.Settled && !(r.Wire.Reason == "wide" && r.Wire.CI95 > 0) {
		return true
	}
	switch r.Why {
	case "", hub.WhyCold, "pinched", "eased", "unsure", "too-far", "wide":
		return false
	}
	return true
}

// byWorth reports whether a round's notes are asked for where they tell most.
func (s *State) byWorth(run *hub.Round) bool {
	return s.section.Order.ByWorth() && inTurns(run)
}

// beliefOf is what answers a note of a chair, with the note taken in; nil where
// that is not for a belief.
func (s *State) beliefOf(st *seat, r *hub.Reading, run *hub.Round) *belief.Section {
	if !s.byWorth(run) || r.Why.Blameless() {
		return nil
	}
	b := s.believe(run, r)
	if b == nil {
		return nil
	}
	if _, sits := b.Standing(int64(st.id())); !sits {
		return nil
	}
	return b
}

// fair accuses nobody of holding a pitch unless the belief is sure of it.
func fair(f *slide.Follow, b *belief.Section, st *seat) *slide.Follow {
	if f == nil || f.Verdict != slide.Held {
		return f
	}
	if now, _ := b.Standing(int64(st.id())); now.Held {
		return f
	}
	doubted := *f
	doubted.Verdict = slide.Unsure
	return &doubted
}

// straight has a player leave a vibrato out whose note hub/slide made do with: where
// another note can be asked for, a straight one tells more, and is the first that counts.
func straight(a slide.Advice) slide.Advice {
	a.Kind, a.Code, a.Steps = slide.Again, "vibrato", nil
	return a
}

// answerBy makes of what hub/slide says of a note what the belief says: the move
// that is likeliest to bring it into the band, and whether it is heard again.
func (s *State) answerBy(b *belief.Section, st *seat, r *hub.Reading, a slide.Advice) (told slide.Advice, over bool) {
	id := int64(st.id())
	over = !b.Wants(id, s.at)
	main := len(a.Steps) == 0 || len(a.Steps) == 1 && a.Steps[0].Slide == instrument.Main && (a.Code == "move" || a.Code == "limit")
	now, _ := b.Standing(id)
	mm := b.Best(id)
	decides := a.Kind == slide.Move || a.Kind == slide.Stay || (a.Kind == slide.Rest || a.Kind == slide.Again) && followed[a.Code] && !now.Held ||
		a.Kind == slide.Again && pinched[a.Code] && mm != 0
	if in, ok := s.inquiry(st, r, st.chair.Settings); ok && main && decides {
		in.Pinches = st.memory.Pinched()
		told := slide.MoveBy(in, mm, slide.Belief{Offset: pitch.Cents(now.Offset), SD: now.SD})
		return told.Again(!over && !s.otherNext(s.running(), b, r)), over
	}
	return a.Again(!over), over
}

// pinched are the answers to notes that hub/slide does not believe by themselves,
// but that show with what else was heard that a slide stands off.
var pinched = map[string]bool{"pinched": true, "eased": true}

// followed are the answers that tell what became of a move.
var followed = map[string]bool{"held": true, "partly": true, "unsure": true}

// schedule puts the queue of a round by worth in the order in which notes tell
// most, and takes out whose notes tell nothing more.
func (s *State) schedule(run *hub.Round) {
	now := &s.believed
	if run == nil || !s.byWorth(run) || withheld(run) {
		now.named, now.cold, now.doubtful, now.outside, now.chance = nil, nil, nil, 0, nil
		return
	}
	if !now.stale {
		return
	}
	b := s.believe(run, nil)
	now.stale = false
	if b == nil {
		return
	}
	over := b.Over(s.at)
	for _, c := range now.seats {
		// Who is away wants nothing, and may be back in a moment.
		if !s.here(c.id) || !s.heardIn(run, c.id) || s.askedAnew(run, c.id) || s.isAsked(c.id) {
			continue
		}
		switch wants, waits := !over && b.Wants(int64(c.id), s.at), slices.Contains(run.Queue, c.id); {
		case waits && !wants:
			leave(run, c.id)
		case wants && !waits && !slices.Contains(run.Passed, c.id): // what others did, or the time, has put it in doubt
			run.Queue = append(run.Queue, c.id)
		}
	}
	s.nextNotes(run, b)
	waited := !s.resumed.IsZero()
	if !s.resuming(run) {
		if waited && len(run.Queue) > 0 {
			now.named = run.Queue[:1] // whose turn it was before the restart
		}
		s.putInOrder(run, b)
	}
	now.cold, now.doubtful, now.outside = nil, nil, b.Outside()
	now.chance = make(map[hub.ChairID]float64, len(now.seats))
	for _, c := range now.seats {
		st, _ := b.Standing(int64(c.id))
		if st.Warming {
			now.cold = append(now.cold, c.id)
		}
		if st.Heard {
			now.chance[c.id] = st.Outside
		}
	}
	for _, id := range b.Doubtful() {
		if s.heardIn(run, hub.ChairID(id)) {
			now.doubtful = append(now.doubtful, hub.ChairID(id))
		}
	}
}

// putInOrder sorts the queue: whom the leader asked again, who plays, who was
// told to be next, and then whose note tells most.
func (s *State) putInOrder(run *hub.Round, b *belief.Section) {
	var first []hub.ChairID
	take := func(id hub.ChairID) {
		if slices.Contains(run.Queue, id) && !slices.Contains(first, id) {
			first = append(first, id)
		}
	}
	for _, id := range run.Queue {
		if s.askedAnew(run, id) {
			take(id)
		}
	}
	for _, id := range s.asked {
		take(id)
	}
	for _, id := range s.believed.named {
		if s.here(id) {
			take(id)
		}
	}
	var playing []int64
	for _, id := range first {
		playing = append(playing, int64(id))
	}
	free := s.at
	if len(first) > 0 {
		free = free.Add(belief.Note)
	}
	for _, c := range b.Queue(free, len(run.Queue), playing...) {
		take(hub.ChairID(c.Chair))
	}
	for _, id := range slices.Clone(run.Queue) { // those of whom nothing is believed
		take(id)
	}
	run.Queue = first
}

// nameNext tells who are next while others play, so that they can get ready.
func (s *State) nameNext(run *hub.Round) {
	s.believed.named = nil
	if run == nil || !s.byWorth(run) || run.Queue == nil {
		return
	}
	waiting := slices.DeleteFunc(slices.Clone(run.Queue), func(id hub.ChairID) bool { return s.isAsked(id) || !s.expected(id, s.at) })
	if s.believed.named = s.groupOf(run, waiting, s.at.Add(belief.Note)); s.believed.named == nil && len(waiting) > 0 {
		s.believed.named = waiting[:1]
	}
}

// heardIn reports whether a chair was heard in a round.
func (s *State) heardIn(run *hub.Round, id hub.ChairID) bool {
	st := s.seats[id]
	return st != nil && st.inRound != nil && st.inRound.Round == run.ID
}

// askedAnew reports whether the leader asked for a chair's note again, and it
// has not come yet.
func (s *State) askedAnew(run *hub.Round, id hub.ChairID) bool {
	st := s.seats[id]
	return run.After[id] != 0 && st != nil && (st.inRound == nil || st.inRound.ID <= run.After[id])
}

// hearAgain puts those who are to be heard again back into a round's queue, once
// their moves are not held back any more.
func (s *State) hearAgain(run *hub.Round) {
	if !s.byWorth(run) {
		return
	}
	if b := s.believe(run, nil); b != nil {
		for _, c := range s.believed.seats {
			if !slices.Contains(run.Queue, c.id) && s.heardIn(run, c.id) && b.Wants(int64(c.id), s.at) {
				run.Queue = append(run.Queue, c.id)
			}
		}
	}
}
