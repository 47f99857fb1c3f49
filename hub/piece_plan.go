package hub

import (
	"cmp"
	"errors"
	"fmt"
	"maps"
	"math"
	"reflect"
	"slices"

	"bellrow/hub/intonation"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// PiecePlan is the one main-slide setting per player for a whole piece.
type PiecePlan struct {
	// Words says in a sentence what it gains over tuning on one note, which
	// Note names.
	Words   string        `json:"words"`
	Note    string        `json:"note"`
	Players []PiecePlayer `json:"players"` // in seating order
	// Hurts lists what stays out all the same, bar by bar.
	Hurts []PieceHurt `json:"hurts"`
	// Remarks says what was left out.
	Remarks []string `json:"remarks,omitempty"`
}

// PiecePlayer is one player's part of a PiecePlan.
type PiecePlayer struct {
	Chair ChairID `json:"chair"`
	Label string  `json:"label"`
	// Words is the move: "pull the main slide 4 mm, from 12 to 16"; without a
	// tuning note only where the slide belongs against tuning on Note.
	Words string `json:"words"`
	// Gain is what it is good for: "3 cents remain instead of 7".
	Gain string `json:"gain"`
	// Measured is false where no tuning note of this player was heard yet, so
	// that the instrument is taken as built.
	Measured bool `json:"measured"`
}

// PieceHurt is what will still be out in one bar.
type PieceHurt struct {
	Bar   string   `json:"bar"`
	Words []string `json:"words"` // "Trumpet 2: written C♯4, 12 cents sharp"
}

// planInput is everything a plan depends on.
type planInput struct {
	score    *score.Score
	chairs   []Chair
	parts    []int // of chairs
	players  []intonation.Player
	measured []bool // a tuning note of the player was heard
	good     pitch.Cents
	tuning   intonation.Tuning
	note     pitch.Note
}

// PiecePlan works the main-slide compromise out, with what the tuning notes
// of today say about each player. It may take a second for a long piece.
func (h *Hub) PiecePlan() (PiecePlan, error) {
	h.mu.Lock()
	in, err := h.planInput()
	h.mu.Unlock()
	if err != nil {
		return PiecePlan{}, err
	}
	h.planning.Lock()
	defer h.planning.Unlock()
	if h.planned == nil || !reflect.DeepEqual(h.plannedFor, in) {
		plan, err := in.solve()
		if err != nil {
			return PiecePlan{}, err
		}
		h.plannedFor, h.planned = in, &plan
	}
	return *h.planned, nil
}

func (h *Hub) planInput() (planInput, error) {
	p := h.piece
	if p == nil {
		return planInput{}, errNoPiece
	}
	notes := 0
	for _, part := range p.score.Parts {
		notes += len(part.Notes)
	}
	if notes > maxPlanNotes {
		return planInput{}, fmt.Errorf("hub: the piece has %d notes, too many to work the slides out; export only the brass parts", notes)
	}
	in := planInput{score: p.score, good: h.section.Good, tuning: h.section.chordTuning(), note: pitch.A4 + 1}
	if len(h.section.TuningNotes) > 0 {
		in.note = h.section.TuningNotes[0]
	}
	for _, c := range h.section.seated() {
		part, plays := p.seats[c.ID]
		inst, err := instrument.Find(c.Instrument)
		if !plays || c.Absent || err != nil {
			continue
		}
		if _, main := inst.Slide(instrument.Main); !main {
			continue
		}
		in.chairs = append(in.chairs, c.Clone())
		in.parts = append(in.parts, part)
		in.measured = append(in.measured, h.lastTuningNote(c.ID) != nil)
		in.players = append(in.players, intonation.Player{
			Name: h.called(c.ID), Instrument: inst, Settings: maps.Clone(c.Settings), Travel: maps.Clone(c.Travel),
			Offset: h.ownOffset(c, inst), OneNote: inst.TuningNote(in.note), Learned: h.learned(h.seats[c.ID]),
		})
	}
	if len(in.players) == 0 {
		return in, errors.New("hub: nobody here plays in this piece; give the parts to chairs")
	}
	return in, nil
}

// ownOffset is how far a player's last tuning note stands from the theory of
// the instrument, counted from the section's pitch.
func (h *Hub) ownOffset(c Chair, in *instrument.Instrument) pitch.Cents {
	atA4 := pitch.Between(h.section.Reference.Frequency(pitch.A4), pitch.Reference{}.Frequency(pitch.A4))
	r := h.lastTuningNote(c.ID)
	if r == nil {
		return atA4
	}
	paths := in.Paths(r.Note)
	if len(paths) == 0 {
		return atA4
	}
	theory := in.WithTravel(c.Travel).Pitch(paths[0], h.settingsAt(c, r), instrument.DefaultAir)
	return pitch.Between(theory, r.hz()) + atA4
}

// lastTuningNote is the last note that tells where a chair's slides stand: a
// chord tone is balanced while it sounds.
func (h *Hub) lastTuningNote(id ChairID) *Reading {
	for _, r := range slices.Backward(h.seats[id].counted) {
		if !h.inChord(r) {
			return r
		}
	}
	return nil
}

// settingsAt is where a chair's slides stood when a reading was taken.
func (h *Hub) settingsAt(c Chair, r *Reading) instrument.Settings {
	set := instrument.Settings{}
	maps.Copy(set, c.Settings)
	for _, rec := range slices.Backward(h.settings) {
		if rec.Chair == c.ID && !rec.precedes(r) {
			set[rec.Slide] = rec.From
		}
	}
	return set
}

// solve asks hub/score for the compromise, with one part per player.
func (in planInput) solve() (PiecePlan, error) {
	s, players := in.perPlayer()
	plan, err := s.Solve(players, score.Options{Tuning: in.tuning, Good: in.good})
	if err != nil {
		return PiecePlan{}, err
	}
	out := PiecePlan{Words: plan.Words, Note: in.note.ClassName(), Players: []PiecePlayer{}, Hurts: []PieceHurt{}}
	for i, pl := range plan.Players {
		out.Players = append(out.Players, in.player(i, pl))
	}
	out.Hurts = in.hurts(plan.Hurts)
	if n := plan.Unplayable; n > 0 {
		out.Remarks = append(out.Remarks, fmt.Sprintf("%s out of reach of the instruments and left out.", count(n, "note is", "notes are")))
	}
	return out, nil
}

// perPlayer writes the score with one part for each player, followed by the
// parts that nobody here plays, which name the chords all the same.
func (in planInput) perPlayer() (*score.Score, map[int]intonation.Player) {
	s := &score.Score{Bars: in.score.Bars}
	players, on := map[int]intonation.Player{}, map[int]int{}
	for _, part := range in.parts {
		on[part]++
	}
	taken := map[int]int{}
	for i, part := range in.parts {
		players[len(s.Parts)] = in.players[i]
		p := in.score.Parts[part]
		if on[part] > 1 {
			p.Notes = desk(p.Notes, taken[part])
		}
		taken[part]++
		s.Parts = append(s.Parts, p)
	}
	for i, p := range in.score.Parts {
		if on[i] == 0 {
			s.Parts = append(s.Parts, p)
		}
	}
	return s, players
}

// desk leaves of a divided part what the player at a desk has: the note so
// many from the top, or the lowest there is. notes are in order of start, then
// of pitch.
func desk(notes []score.Note, at int) []score.Note {
	var out []score.Note
	for i := 0; i < len(notes); {
		end := i + 1
		for end < len(notes) && notes[end].Start == notes[i].Start {
			end++
		}
		out = append(out, notes[max(i, end-1-at)])
		i = end
	}
	return out
}

func (in planInput) player(i int, pl intonation.PlayerPlan) PiecePlayer {
	c := in.chairs[i]
	out := PiecePlayer{Chair: c.ID, Label: pl.Name, Measured: in.measured[i], Words: "leave " + mainName(in.players[i].Instrument) + fmt.Sprintf(" at %.0f mm", pl.FromMM)}
	if !in.measured[i] {
		out.Words = mainName(in.players[i].Instrument) + " " + beside(pl.MainMM-pl.OneNoteMM, in.note.ClassName())
	} else if math.Round(pl.MainMM) != math.Round(pl.FromMM) {
		verb, way := between(math.Round(pl.FromMM), pl.MainMM) // as a slide is set: in whole millimetres
		out.Words = verb + " " + mainName(in.players[i].Instrument) + " " + way
	}
	switch was, is := math.Round(pl.OneNoteRMS), math.Round(pl.RMS); {
	case was > is:
		out.Gain = fmt.Sprintf("%s instead of %.0f", remain(is), was)
	case was < is:
		out.Gain = fmt.Sprintf("%s; it was %.0f, for the others' sake", remain(is), was)
	default:
		out.Gain = remain(is) + ", as after tuning on one note"
	}
	return out
}

// beside says where a slide belongs against where it tunes on one note.
func beside(mm float64, note string) string {
	switch mm = math.Round(mm); {
	case mm > 0:
		return fmt.Sprintf("%.0f mm further out than it tunes on %s", mm, note)
	case mm < 0:
		return fmt.Sprintf("%.0f mm further in than it tunes on %s", -mm, note)
	}
	return "where it tunes on " + note
}

func mainName(in *instrument.Instrument) string {
	s, _ := in.Slide(instrument.Main)
	return "the " + s.Name
}

func remain(cents float64) string {
	if cents == 1 {
		return "1 cent remains"
	}
	return fmt.Sprintf("%.0f cents remain", cents)
}

// hurts gathers what stays out bar by bar.
func (in planInput) hurts(hs []intonation.Hurt) []PieceHurt {
	hs = slices.Clone(hs)
	slices.SortStableFunc(hs, func(a, b intonation.Hurt) int {
		return cmp.Or(cmp.Compare(a.Bar, b.Bar), cmp.Compare(a.Player, b.Player))
	})
	out := []PieceHurt{}
	last := -1
	for _, x := range hs {
		if x.Bar != last {
			out = append(out, PieceHurt{Bar: in.score.Bars[x.Bar].Number})
			last = x.Bar
		}
		h := &out[len(out)-1]
		h.Words = append(h.Words, in.hurt(x))
	}
	return out
}

func (in planInput) hurt(x intonation.Hurt) string {
	return fmt.Sprintf("%s: written %s, %s", in.players[x.Player].Name,
		in.players[x.Player].Instrument.Written(x.Note).Display(), x.Left.Off())
}

// count writes a number with its noun.
func count(n int, one, many string) string {
	if n == 1 {
		return "One " + one
	}
	return countWords(n) + " " + many
}
