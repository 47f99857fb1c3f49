package show

import (
	"cmp"
	"slices"
	"strings"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// NewRow shows how things stand to the leader. trouble is why nothing can be
// stored, nil when all is well.
func NewRow(st tuneup.Standing, version uint64, trouble error) Row {
	t := leaders(st)
	row := Row{Version: version, Setup: *st.Section, Section: sectionRow(st), Chairs: make([]ChairRow, 0, len(st.Chairs))}
	for i := range st.Chairs {
		row.Chairs = append(row.Chairs, chairRow(&st.Chairs[i], st.Round, t))
	}
	row.Groups = groups(st)
	if st.Round != nil {
		row.Round = roundRow(st)
	}
	if st.Piece != nil {
		p := st.Piece.Row(t)
		row.Piece = &p
	}
	if st.Round == nil && st.Rounds == 0 {
		row.Evening = Evening(st.Section.TemperatureC, t)
	}
	row.CanUndo = undoWords(st)
	if trouble != nil {
		row.Trouble = []string{TroubleWords(trouble, t)}
	}
	row.Say, row.SayKind = say(st, trouble)
	return row
}

func sectionRow(st tuneup.Standing) SectionRow {
	sec := st.Section
	s := SectionRow{
		ID: sec.ID, Name: sec.Name, A4: float64(sec.Reference.Frequency(pitch.A4)), GoodCents: float64(sec.Good), WatchCents: float64(sec.Near),
		HideNames: sec.HideNames, Watching: st.Watching, TuningNotes: []string{},
		WatchSeconds: st.Watched.Seconds(), Present: st.Present, Set: st.Set, Heard: st.Heard,
	}
	for i := range st.Chairs {
		if c := &st.Chairs[i]; st.Watching && (c.Sound.State == "sounding" || c.Sound.State == "resting") {
			s.Hearing++
		}
	}
	for _, n := range sec.TuningNotes {
		s.TuningNotes = append(s.TuningNotes, sec.Notes.Of(n))
	}
	if t := st.Common; t.Chairs >= intonation.MinCommon {
		c, sp := float64(t.Offset), float64(t.Spread)
		s.Common, s.CommonCents, s.SpreadCents = t.Say(leaders(st)), &c, &sp
	}
	return s
}

func roundRow(st tuneup.Standing) *RoundRow {
	r, t := st.Round, leaders(st)
	row := &RoundRow{
		ID: r.ID, Title: title(r, st.Section, t), Together: r.Call.Together,
		Chord: r.Call.Chord, Done: r.Phase == tuneup.Done, UsedSeconds: st.Used.Seconds(), Listening: r.Listening(),
	}
	for _, c := range r.Chords.Candidates {
		row.Heard = append(row.Heard, HeardChord{Name: c.Chord.Name(), Label: c.Chord.SayIn(t)})
	}
	alone := alone(st)
	switch {
	case r.Listening() && row.Done:
		row.Sentence = strings.TrimSpace(listenWords(r.Chords, t) + " " + alone)
	case r.Judgement != nil:
		row.Sentence = strings.TrimSpace(chordWords(st) + " " + alone)
	case r.Bend != nil:
		row.Sentence = besideBend(r, t)
	case r.AsOne:
		row.Sentence, row.Choices = roomWords(r, t), choices(r, t)
	default:
		row.Sentence = strings.TrimSpace(partedWords(r.Round, t) + " " + alone)
	}
	return row
}

// title says what was called and how it is heard.
func title(r *tuneup.Round, sec *hub.Section, t phrase.Tongue) string {
	name := pitch.Usual(r.Call.Note).Name
	if x, err := pitch.ParseName(r.Call.Spelled); err == nil {
		name = x
	}
	what := t.Notes.Naming.Both(name)
	if r.Call.Kind == hub.CallChord {
		what = chordName(r.Call.Chord, t)
	}
	if r.Listening() {
		what = t.Say("said.title.listening")
	}
	if r.Bend != nil {
		return t.Say("said.title.bend", what)
	}
	if r.Call.Where != "" {
		what += ", " + place(r.Call.Where, t)
	}
	if len(r.Call.Several) > 0 {
		what = t.Say("said.title.several", what)
	}
	switch {
	case r.AllAtOnce():
		return t.Say("said.title.together", what)
	case r.Call.Together:
		return t.Say("said.title.together-first", what)
	case sec.Order == hub.OrderSeating:
		return t.Say("said.title.seating", what)
	case sec.Order == hub.OrderTwoAtOnce:
		return t.Say("said.title.two-at-once", what)
	case sec.Order == hub.OrderByWorth:
		return t.Say("said.title.by-worth", what)
	}
	return t.Say("said.title.low-to-high", what)
}

// place is where in a piece a call stands, in a tongue.
func place(where string, t phrase.Tongue) string {
	if bar, ok := strings.CutPrefix(where, "bar "); ok {
		return t.Say("piece.bar", bar)
	}
	return where
}

// Codes of ChairRow.State.
const (
	stateAbsent    = "absent"
	stateAway      = "away"
	stateIdle      = "idle"
	stateWait      = "wait"
	stateTurn      = "turn"
	stateSounding  = "sounding"
	stateResting   = "resting"
	stateHeard     = "heard"
	stateOverheard = "overheard"
	stateUnsettled = "unsettled"
	statePaused    = "paused"
	stateWarming   = "warming"
)

// chordName is a chord in a tongue.
func chordName(name string, t phrase.Tongue) string {
	if c, err := intonation.ParseChord(name); err == nil {
		return c.SayIn(t)
	}
	return name
}

// names are the names of a chair's note, as it sounds and as it is written,
// spelled by the called chord; nothing written for a chair without an instrument.
func names(run *tuneup.Round, c *tuneup.Chair) (sounding, written pitch.Spelled) {
	chord := ""
	if run != nil {
		chord = run.Call.Chord
	}
	if run != nil && run.Call.Spelled != "" {
		chord = run.Call.Spelled + " unison"
	}
	speller := intonation.SpellerFor(chord)
	if c.Instrument == nil {
		s, _ := speller.Names(c.Note, 0)
		return s, pitch.Spelled{}
	}
	return speller.Names(c.Note, c.Instrument.Transposition)
}

func chairRow(c *tuneup.Chair, run *tuneup.Round, t phrase.Tongue) ChairRow {
	row := ChairRow{
		ID: c.ID, Label: c.Label, Name: c.Name, Part: c.Chair.Part, Row: c.Row, Place: c.Place,
		Instrument: string(c.Chair.Instrument), Trouble: trouble(c, t), Slides: slidesOf(c),
		ToMove: c.ToMove && c.State == tuneup.Asked, Balance: c.Balance.Say(t), FollowThrough: followThrough(c, t),
	}
	if c.Instrument != nil {
		row.Instrument, row.Family = t.Instrument(c.Instrument.Name), c.Instrument.Family
	}
	if c.Note != 0 {
		sounding, written := names(run, c)
		row.Note, row.Concert, row.Written = c.Note, t.Notes.Both(sounding), t.Notes.Both(written)
		if c.Instrument != nil && c.Instrument.Tuned() {
			row.Fingering, row.Fingerings = fingerings(c, run)
		}
	}
	row.State, row.Words = stateWords(c, t)
	for _, r := range c.Before {
		row.History = append(row.History, float64(r.Cents))
	}
	answerRow(&row, c, t)
	return row
}

// fingerings lists how a chair plays its chord tone and how else it could.
func fingerings(c *tuneup.Chair, run *tuneup.Round) (now string, all []string) {
	if run == nil || run.Call.Kind != hub.CallChord {
		return "", nil
	}
	p, ok := tuneup.Fingering(run.Round, c.ID, c.Instrument)
	if !ok {
		return "", nil
	}
	for _, w := range c.Instrument.Paths(c.Note) {
		all = append(all, w.String())
	}
	return p.String(), all
}

// answerRow fills in the settled answer.
func answerRow(row *ChairRow, c *tuneup.Chair, t phrase.Tongue) {
	refused := c.InRound
	if refused != nil && (refused.Counted || refused.Answer == nil) {
		refused = nil
	}
	if refused != nil && c.Holds == nil {
		a := worded(c, refused, t)
		row.Verdict, row.Headline, row.Detail = refused.Verdict, a.Headline, a.Detail
		if stillToMove(c) { // a note that does not count makes no move, and takes none back
			row.Moves = slices.Clone(worded(c, c.Open, t).Moves)
		}
		return
	}
	last := c.Holds
	switch {
	case last != nil:
		row.Verdict = last.Verdict
	case c.Moved && len(c.Counted) > 0:
		last, row.Moved = c.Counted[len(c.Counted)-1], true // what it was moved from
	case stillToMove(c): // told in an earlier call; what was heard then says nothing in this one
		a := worded(c, c.Open, t)
		row.Headline, row.Detail, row.Moves = a.Headline, a.Detail, slices.Clone(a.Moves)
		return
	default:
		return
	}
	cents, ci := float64(last.Cents), float64(last.CI95())
	if a := last.Answer; a != nil && c.Instrument != nil && a.Chord == nil && a.Facts.Path.Partial > 0 {
		row.Nature = float64(c.Instrument.Nature(a.Facts.Path))
	}
	row.Cents, row.CI = &cents, &ci
	if last.Answer != nil {
		a := worded(c, last, t)
		row.Headline, row.Detail, row.Moves = a.Headline, a.Detail, slices.Clone(a.Moves)
	}
	if refused != nil { // the note before it still says where the chair stands
		a := worded(c, refused, t)
		row.Headline, row.Detail = a.Headline, a.Detail
	}
}

// stillToMove reports whether a move that nobody has told of stands on the player's
// page, as it does unless a note is being played.
func stillToMove(c *tuneup.Chair) bool {
	switch c.State {
	case tuneup.Absent, tuneup.Gathered:
		return false
	case tuneup.Asked:
		return c.ToMove
	}
	return c.Open != nil
}

// followThrough is the verdict on a chair's last judged move, in words.
func followThrough(c *tuneup.Chair, t phrase.Tongue) string {
	for _, m := range slices.Backward(c.Moves) {
		if m.FollowThrough != "" {
			return followWords(slide.Verdict(m.FollowThrough), t)
		}
	}
	return ""
}

// stateWords says where a chair stands, as a code and in words.
func stateWords(c *tuneup.Chair, t phrase.Tongue) (code, words string) {
	switch {
	case c.State == tuneup.Absent:
		return stateAbsent, t.Say("row.state.absent")
	case c.Away:
		return stateAway, t.Say("row.state.away")
	case c.Paused:
		return statePaused, t.Say("row.state.paused")
	}
	switch c.State {
	case tuneup.Gathered:
		return stateHeard, t.Say("row.state.gathered")
	case tuneup.Asked:
		return askedWords(c, t)
	case tuneup.Waiting:
		return stateWait, cmp.Or(unheardWords(c, t), t.Say("row.state.wait"))
	case tuneup.Heard:
		return stateHeard, t.Say("row.state.heard")
	case tuneup.Overheard:
		return stateOverheard, t.Say("row.state.overheard")
	case tuneup.Unsettled:
		return stateUnsettled, t.Say("row.state.unsettled")
	case tuneup.LeftOut:
		return stateIdle, t.Say("row.state.left-out")
	}
	if cold(c) {
		return stateWarming, t.Say("row.state.warming")
	}
	return stateIdle, t.Say("row.state.idle")
}

// unheardWords says why a chair that played with others was not read, empty for one
// that was, or did not.
func unheardWords(c *tuneup.Chair, t phrase.Tongue) string {
	if c.Unheard == "" {
		return ""
	}
	return t.Say("row.unheard." + string(c.Unheard))
}

// cold reports whether a chair's instrument has sounded too little to be set
// well, as far as its laptop tells.
func cold(c *tuneup.Chair) bool {
	return c.Sound.Played > 0 && c.Sound.Played < slide.ColdSeconds
}

// askedWords is stateWords for who is asked to play now.
func askedWords(c *tuneup.Chair, t phrase.Tongue) (code, words string) {
	switch {
	case c.Sound.State == "sounding":
		return stateSounding, t.Say("row.state.sounding")
	case c.Sound.State == "resting":
		return stateResting, t.Say("row.state.resting")
	case c.ToMove:
		return stateTurn, t.Say("row.state.to-move")
	case c.Again != nil && c.Unheard == "":
		return stateTurn, t.Say("row.state.asked-again")
	}
	return stateTurn, cmp.Or(unheardWords(c, t), t.Say("row.state.asked"))
}

// slidesOf lists where a chair's slides stand.
func slidesOf(c *tuneup.Chair) []proto.Slide {
	if c.Instrument == nil {
		return nil
	}
	in := c.Instrument.WithTravel(c.Travel)
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

// trouble is what is wrong with a chair's laptop, empty when all is well.
func trouble(c *tuneup.Chair, t phrase.Tongue) string {
	if c.Deaf {
		return t.Say("said.device.deaf")
	}
	return deviceTrouble(c.Sound.Trouble, t)
}
