package hub

import (
	"slices"
	"strings"

	"bellrow/hub/intonation"
	"bellrow/proto/instrument"
)

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
)

// Watch hands out the row whenever it changes.
func (h *Hub) Watch() *RowFeed {
	h.mu.Lock()
	defer h.mu.Unlock()
	f := newFeed(h.Row, func(f *RowFeed) {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.rowFeeds, f)
	})
	h.rowFeeds[f] = struct{}{}
	return f
}

// Row returns the leader's row as it is now. The list of chairs is the
// caller's own; what the chairs point to is shared and must not be changed.
func (h *Hub) Row() Row {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.row == nil || h.row.Version != h.version {
		r := h.buildRow()
		h.row = &r
	}
	row := *h.row
	row.Chairs = slices.Clone(row.Chairs)
	if row.Round != nil {
		r := *row.Round
		r.UsedSeconds = h.used()
		row.Round = &r
	}
	return row
}

func (h *Hub) buildRow() Row {
	row := Row{Version: h.version, Section: h.sectionRow(), Chairs: []ChairRow{}}
	q := h.queueNow()
	for _, c := range h.section.seated() {
		row.Chairs = append(row.Chairs, h.chairRow(c, q))
	}
	if r := h.running(); r != nil {
		row.Round = h.roundRow(r)
	}
	row.Piece = h.rowPiece()
	if n := len(h.undo); n > 0 {
		row.CanUndo = h.undo[n-1].name
	}
	if h.trouble != "" {
		row.Trouble = []string{h.trouble}
	}
	row.Say, row.SayKind = h.say()
	return row
}

func (h *Hub) sectionRow() SectionRow {
	s := SectionRow{
		ID: h.section.ID, Name: h.section.Name, A4: float64(h.section.Reference.A4),
		GoodCents: float64(h.section.Good), WatchCents: float64(h.section.Watch),
		HideNames: h.section.HideNames, Watching: h.watching, TuningNotes: []string{},
	}
	for _, n := range h.section.TuningNotes {
		s.TuningNotes = append(s.TuningNotes, n.Display())
	}
	run := h.running()
	for _, c := range h.section.Chairs {
		if c.Absent {
			continue
		}
		s.Present++
		last := h.seats[c.ID].last()
		if last != nil && last.Verdict == intonation.Set {
			s.Set++
		}
		if last != nil && run != nil && last.Round == run.ID || run != nil && run.listening() && h.seats[c.ID].held() {
			s.Heard++
		}
	}
	if t := h.common(); t.Chairs >= intonation.MinCommon {
		c, sp := float64(t.Offset), float64(t.Spread)
		s.Common, s.CommonCents, s.SpreadCents = t.Words, &c, &sp
	}
	return s
}

// common is what the last readings have in common: those of the running
// round, or of the whole tune-up when none runs.
func (h *Hub) common() intonation.Together {
	run := h.running()
	var os []intonation.Offset
	for _, c := range h.section.Chairs {
		last := h.seats[c.ID].last()
		if last == nil || c.Absent || run != nil && last.Round != run.ID {
			continue
		}
		os = append(os, intonation.Offset{Cents: last.Cents, CI95: last.ci()})
	}
	return intonation.Common(os, h.section.Good)
}

func (h *Hub) roundRow(r *Round) *RoundRow {
	row := &RoundRow{
		ID: r.ID, Title: h.roundTitle(r), Together: r.Call.Together,
		Chord: r.Call.Chord, Done: h.done(r), UsedSeconds: h.used(),
		Listening: r.listening(), Heard: h.heardChords(r),
	}
	switch {
	case r.listening() && row.Done:
		row.Sentence = strings.TrimSpace(h.sayListen(r) + " " + h.aloneWords(r))
	case h.judgement != nil:
		row.Sentence = strings.TrimSpace(h.judgement.Sentence + " " + h.aloneWords(r))
	case h.withheld(r):
		row.Sentence = strings.TrimSpace(r.Room + " " + h.offer())
	default:
		row.Sentence = strings.TrimSpace(r.Note + " " + h.aloneWords(r))
	}
	return row
}

func (h *Hub) roundTitle(r *Round) string {
	what := r.Call.Note.ClassName()
	if r.Call.Kind == CallChord {
		what = r.Call.Chord
	}
	if r.listening() {
		what = "listening"
	}
	if r.Call.Where != "" {
		what += ", " + r.Call.Where
	}
	switch {
	case r.allAtOnce():
		return what + ", together"
	case r.Call.Together:
		return what + ", together and then in turn"
	case h.section.Order == OrderSeating:
		return what + ", in turn along the row"
	}
	return what + ", in turn, low to high"
}

// used is the time since the first call of this tune-up, in seconds; it stops
// while no round runs.
func (h *Hub) used() float64 {
	if len(h.rounds) == 0 {
		return 0
	}
	end := h.now()
	if last := h.rounds[len(h.rounds)-1]; !last.Ended.IsZero() {
		end = last.Ended
	}
	return end.Sub(h.rounds[0].Started).Seconds()
}

func (h *Hub) chairRow(c Chair, q queue) ChairRow {
	s := h.seats[c.ID]
	row := ChairRow{
		ID: c.ID, Label: c.Label, Name: c.Name, Part: c.Part, Row: c.Row, Place: c.Place,
		Instrument: string(c.Instrument), Trouble: troubleWords(s.sound.Trouble), Slides: slidesOf(c),
	}
	in, err := instrument.Find(c.Instrument)
	if err == nil {
		row.Instrument, row.Family = in.Name, in.Family
	}
	run := h.running()
	if run != nil {
		n, ok := run.Call.Tones[c.ID]
		if run.listening() {
			n, ok = h.heardNote(run, s)
		}
		if ok {
			row.Concert = n.Display()
			if err == nil {
				row.Written = in.Written(n).Display()
				row.Way, row.Ways = run.waysOf(c.ID, in)
			}
		}
	}
	row.State, row.Words = h.stateOf(c, s, run, q)
	row.ToMove = q.playing[c.ID] && h.toMove(s) != nil
	h.answerRow(&row, s)
	return row
}

// answerRow fills in the settled answer and what came before it.
func (h *Hub) answerRow(row *ChairRow, s *seat) {
	for _, r := range s.counted {
		row.History = append(row.History, float64(r.Cents))
	}
	last := s.last()
	row.FollowThrough, row.Balance = s.followThrough(), h.balance(s.id)
	if s.inRound != nil && !s.inRound.Counted && s.inRound.Answer != nil {
		row.Verdict = s.inRound.Verdict
		row.Headline, row.Detail = s.inRound.Answer.Headline, s.inRound.Answer.Detail
		return
	}
	if last == nil {
		return
	}
	cents, ci := float64(last.Cents), float64(last.ci())
	row.Verdict, row.Cents, row.CI = last.Verdict, &cents, &ci
	if last.Answer != nil {
		row.Headline, row.Detail, row.Moves = last.Answer.Headline, last.Answer.Detail, slices.Clone(last.Answer.Moves)
	}
}

// followThrough is the verdict on a chair's last judged move.
func (s *seat) followThrough() string {
	for _, m := range slices.Backward(s.moves) {
		if m.FollowThrough != "" {
			return followWords(m.FollowThrough)
		}
	}
	return ""
}

// stateOf says where a chair stands, as a code and in words.
func (h *Hub) stateOf(c Chair, s *seat, run *Round, q queue) (code, words string) {
	switch {
	case c.Absent:
		return stateAbsent, "not here today"
	case s.away():
		return stateAway, "no laptop connected"
	case h.gathered(s):
		return stateHeard, "heard, until the others are"
	case q.playing[c.ID]:
		switch s.sound.State {
		case "sounding":
			return stateSounding, "playing"
		case "resting":
			return stateResting, "the note rests"
		}
		switch {
		case h.toMove(s) != nil:
			return stateTurn, "moves the slide, then plays again"
		case s.turn.Notes > 0:
			return stateTurn, "asked again"
		}
		return stateTurn, "asked to play"
	case run == nil:
		return stateIdle, "ready"
	case q.waits(c.ID):
		return stateWait, "waits"
	case s.inRound != nil && (s.inRound.Counted || s.held()):
		return stateHeard, "heard"
	case s.inRound != nil && s.inRound.Why == whyOverheard:
		return stateOverheard, "another player was heard here"
	case s.inRound != nil:
		return stateUnsettled, "did not settle; rests"
	}
	if _, in := run.Call.Tones[c.ID]; in {
		return stateIdle, "left out of this round"
	}
	return stateIdle, "ready"
}

func troubleWords(code string) string {
	switch code {
	case "":
		return ""
	case "no-samples":
		return "the microphone sends nothing"
	case "overrun":
		return "the laptop is too busy: sound was lost"
	case "clipping":
		return "the microphone is overloaded"
	case "processing-on":
		return "the microphone's sound processing is on"
	}
	return "the microphone reports " + code
}
