package hub

import (
	"fmt"
	"slices"
	"strings"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
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

// Row returns the leader's row as it is now. It is shared among callers and
// must not be changed.
func (h *Hub) Row() Row {
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.row == nil || h.row.Version != h.version {
		r := h.buildRow()
		h.row = &r
	}
	row := *h.row
	if row.Round != nil {
		r := *row.Round
		r.UsedSeconds = h.used()
		row.Round = &r
	}
	return row
}

func (h *Hub) buildRow() Row {
	row := Row{Version: h.version, Section: h.sectionRow(), Chairs: []ChairRow{}}
	for _, c := range h.section.seated() {
		row.Chairs = append(row.Chairs, h.chairRow(c))
	}
	if r := h.running(); r != nil {
		row.Round = h.roundRow(r)
	}
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
		HideNames: h.section.HideNames, TuningNotes: []string{},
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
		if last != nil && run != nil && last.Round == run.ID {
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
	how := "in turn, low to high"
	switch {
	case r.allAtOnce():
		how = "together"
	case h.section.Order == OrderSeating:
		how = "in turn, along the row"
	}
	what := r.Call.Note.ClassName()
	if r.Call.Kind == CallChord {
		what = r.Call.Chord
	}
	return &RoundRow{
		ID: r.ID, Title: what + ", " + how, Together: r.Call.Together,
		Chord: r.Call.Chord, Done: h.done(r), UsedSeconds: h.used(),
	}
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

func (h *Hub) chairRow(c Chair) ChairRow {
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
		if n, ok := run.Call.Tones[c.ID]; ok {
			row.Concert = n.Display()
			if err == nil {
				row.Written = in.Written(n).Display()
			}
		}
	}
	row.State, row.Words = h.stateOf(c, s, run)
	h.answerRow(&row, s)
	return row
}

// answerRow fills in the settled answer and what came before it.
func (h *Hub) answerRow(row *ChairRow, s *seat) {
	for _, r := range s.counted {
		row.History = append(row.History, float64(r.Cents))
	}
	last := s.last()
	if s.inRound != nil && !s.inRound.Counted {
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
	row.FollowThrough = h.followThrough(s.id)
}

// followThrough is the verdict on a chair's last judged move.
func (h *Hub) followThrough(id ChairID) string {
	for i := range slices.Backward(h.moves) {
		if m := h.moves[i]; m.Chair == id && m.FollowThrough != "" {
			return m.FollowThrough
		}
	}
	return ""
}

// stateOf says where a chair stands, as a code and in words.
func (h *Hub) stateOf(c Chair, s *seat, run *Round) (code, words string) {
	switch {
	case c.Absent:
		return stateAbsent, "not here today"
	case s.away():
		return stateAway, "no laptop connected"
	case h.playing(c.ID):
		switch s.sound.State {
		case "sounding":
			return stateSounding, "playing"
		case "resting":
			return stateResting, "the note rests"
		}
		if s.tries > 0 {
			return stateTurn, "asked again"
		}
		return stateTurn, "asked to play"
	case run == nil:
		return stateIdle, "ready"
	case slices.Contains(run.Queue, c.ID):
		return stateWait, "waits"
	case s.inRound != nil && s.inRound.Counted:
		return stateHeard, "heard"
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

// say finds the one sentence that matters most now.
func (h *Hub) say() (sentence, kind string) {
	run := h.running()
	switch {
	case h.trouble != "":
		return h.trouble, "trouble"
	case run == nil && len(h.section.Chairs) == 0:
		return "Nobody has joined yet. Show the players the join page.", "wait"
	case run == nil:
		return "Call a note to begin.", "wait"
	}
	next := ""
	if id := h.turn(); id != 0 {
		next = fmt.Sprintf("%s plays %s.", h.chair(id).display(), h.writtenFor(run, id))
	}
	if r := h.lastAnswered(run); r != nil && r.Answer.Kind == string(slide.Move) && h.openAnswer(h.seats[r.Chair]) != nil {
		return strings.TrimSpace(fmt.Sprintf("%s: %s %s", h.chair(r.Chair).display(), lowerFirst(r.Answer.Headline), next)), "move"
	}
	if next != "" {
		return next, "wait"
	}
	sec := h.sectionRow()
	return fmt.Sprintf("%d of %d are set.", sec.Set, sec.Present), "done"
}

func (h *Hub) writtenFor(r *Round, id ChairID) string {
	n := r.Call.Tones[id]
	if in, err := instrument.Find(h.chair(id).Instrument); err == nil {
		n = in.Written(n)
	}
	return "written " + n.Display()
}

func (h *Hub) lastAnswered(run *Round) *Reading {
	for _, r := range slices.Backward(h.readings) {
		if r.Round == run.ID && r.Answer != nil && h.chair(r.Chair) != nil {
			return r
		}
	}
	return nil
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}
