package piece

import (
	"fmt"
	"slices"
	"strings"

	"bellrow/hub/intonation"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// EveryPart seats one player at each part whose instrument is known: as typed,
// by the part's name, or told from that name. It is what a score is worked out
// for when there is no section. The chairs are those of the players.
func (p *Piece) EveryPart(typed map[string]instrument.ID) (*Piece, []Chair, error) {
	names := p.partNames()
	for name := range typed {
		if !slices.Contains(names, name) {
			return nil, nil, fmt.Errorf("piece: the score has no part %q; its parts are %s", name, strings.Join(names, ", "))
		}
	}
	var chairs []Chair
	seats, said := map[int64]int{}, map[int]instrument.ID{}
	for i, part := range p.score.Parts {
		id, known := typed[part.Name]
		if !known {
			id, known = score.Guess(part)
		}
		if !known {
			continue
		}
		if _, err := instrument.Find(id); err != nil {
			return nil, nil, err
		}
		if _, typed := typed[part.Name]; typed {
			said[i] = id
		}
		chair := int64(i + 1)
		chairs = append(chairs, Chair{ID: chair, Label: part.Name, Instrument: id})
		seats[chair] = i
	}
	return p.with(func(p *Piece) { p.seats, p.said = seats, said }), chairs, nil
}

// AsBuilt are the players of chairs whose instruments nobody has measured.
func (p *Piece) AsBuilt(chairs []Chair, note pitch.Note) []Player {
	var out []Player
	for _, c := range chairs {
		part, plays := p.seats[c.ID]
		in, err := instrument.Find(c.Instrument)
		if !plays || err != nil {
			continue
		}
		if _, main := in.Slide(instrument.Main); main {
			out = append(out, Player{Chair: c.ID, Part: part, Player: intonation.Player{Name: c.Label, Instrument: in, OneNote: in.TuningNote(note)}})
		}
	}
	return out
}

func (p *Piece) partNames() []string {
	var names []string
	for _, part := range p.score.Parts {
		names = append(names, part.Name)
	}
	return names
}
