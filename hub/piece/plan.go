package piece

import (
	"cmp"
	"slices"

	"bellrow/hub/intonation"
	"bellrow/hub/score"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Plan is the one main-slide setting per player for a whole piece.
type Plan struct {
	// Words says in a sentence what it gains over tuning on one note, which
	// Note names.
	Words   string       `json:"words"`
	Note    string       `json:"note"`
	Players []PlayerPlan `json:"players"` // in the order asked for
	// Hurts lists what stays out all the same, bar by bar.
	Hurts []Hurts `json:"hurts"`
	// Remarks says what was left out.
	Remarks []string `json:"remarks,omitempty"`

	// Figures is what the sentences were made of. Its players are those of
	// Players, its hurts the gravest first.
	Figures intonation.Plan `json:"-"`
}

// PlayerPlan is one player's part of a Plan.
type PlayerPlan struct {
	Chair int64  `json:"chair"`
	Label string `json:"label"`
	// Words is the move: "pull the main slide 4 mm, from 12 to 16"; without a
	// tuning note only where the slide belongs against tuning on Note.
	Words string `json:"words"`
	// Gain is what it is good for: "3 cents remain instead of 7".
	Gain string `json:"gain"`
	// Measured is false where no tuning note of this player was heard yet, so
	// that the instrument is taken as built.
	Measured bool `json:"measured"`
}

// Hurts is what will still be out in one bar.
type Hurts struct {
	Bar   string   `json:"bar"`
	Words []string `json:"words"` // "Trumpet 2: written C♯4, 12 cents sharp"
}

// Player is one who plays in the piece, on an instrument with a main slide.
type Player struct {
	intonation.Player
	Chair    int64
	Part     int  // index in the score's parts
	Measured bool // a tuning note was heard
}

// Question is everything but the score that a plan depends on.
type Question struct {
	Players []Player
	Note    pitch.Note // the tuning note that the plan is compared with
	Tuning  intonation.Tuning
	Good    pitch.Cents // band beyond which a bar is said to hurt
	Notes   pitch.Style // how notes are named in words
	// Language is that of the words, as a tag; English where it is empty.
	Language string
}

// maxPlanNotes bounds the work of the main-slide compromise: ten times a
// 300-bar piece for twelve parts.
const maxPlanNotes = 200000

// Plan works the main-slide compromise out. It may take a second for a long
// piece.
func (p *Piece) Plan(q Question) (Plan, error) {
	notes := 0
	for _, part := range p.score.Parts {
		notes += len(part.Notes)
	}
	switch {
	case notes > maxPlanNotes:
		return Plan{}, phrase.Refuse("piece", "refusal.piece-too-long", notes)
	case len(q.Players) == 0:
		return Plan{}, phrase.Refuse("piece", "refusal.piece-none")
	}
	s, players := p.perPlayer(q.Players)
	plan, err := s.Solve(players, score.Options{Tuning: q.Tuning, Shortest: p.shortest, Good: q.Good})
	if err != nil {
		return Plan{}, err
	}
	t := phrase.Leader.In(q.Language, q.Notes)
	out := Plan{Words: planWords(plan, t), Note: q.Notes.Naming.Both(pitch.Usual(q.Note).Name), Players: []PlayerPlan{}, Hurts: p.hurts(q.Players, plan.Hurts, t), Figures: plan}
	for i, pl := range plan.Players {
		out.Players = append(out.Players, q.Players[i].plan(pl, out.Note, t))
	}
	if plan.Unplayable > 0 {
		out.Remarks = append(out.Remarks, t.Say("piece.left-out", plan.Unplayable))
	}
	return out, nil
}

func (p Player) plan(pl intonation.PlayerPlan, note string, t phrase.Tongue) PlayerPlan {
	return PlayerPlan{Chair: p.Chair, Label: pl.Name, Measured: p.Measured, Words: p.move(pl, note, t), Gain: gain(pl, t)}
}

// perPlayer writes the score with one part for each player, followed by the
// parts that nobody here plays, which name the chords all the same.
func (p *Piece) perPlayer(list []Player) (*score.Score, map[int]intonation.Player) {
	s := &score.Score{Bars: p.score.Bars}
	players, on := map[int]intonation.Player{}, map[int]int{}
	for _, pl := range list {
		on[pl.Part]++
	}
	taken := map[int]int{}
	for i, pl := range list {
		players[i] = pl.Player
		part := p.score.Parts[pl.Part]
		if on[pl.Part] > 1 {
			part.Notes = desk(part.Notes, taken[pl.Part])
		}
		taken[pl.Part]++
		s.Parts = append(s.Parts, part)
	}
	for i, part := range p.score.Parts {
		if on[i] == 0 {
			s.Parts = append(s.Parts, part)
		}
	}
	return s, players
}

// desk picks, of a divided part, the notes of one of its players: the note so
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

// hurts gathers what stays out bar by bar.
func (p *Piece) hurts(players []Player, hs []intonation.Hurt, t phrase.Tongue) []Hurts {
	hs = slices.Clone(hs)
	slices.SortStableFunc(hs, func(a, b intonation.Hurt) int {
		return cmp.Or(cmp.Compare(a.Bar, b.Bar), cmp.Compare(a.Player, b.Player))
	})
	out := []Hurts{}
	last := -1
	for _, x := range hs {
		if x.Bar != last {
			out = append(out, Hurts{Bar: p.score.Bars[x.Bar].Number})
			last = x.Bar
		}
		h := &out[len(out)-1]
		h.Words = append(h.Words, players[x.Player].hurt(x, t))
	}
	return out
}
