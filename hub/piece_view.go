package hub

import (
	"fmt"
	"math"
	"strings"

	"bellrow/hub/score"
	"bellrow/proto/instrument"
)

// Piece is the open piece as the leader's page shows it.
type Piece struct {
	Title  string       `json:"title"`
	Bars   int          `json:"bars"`
	Parts  []PiecePart  `json:"parts"`
	Seats  []PieceSeat  `json:"seats"` // in seating order
	Chords []PieceChord `json:"chords"`
	// Next is the index in Chords of what DoNextSonority calls, len(Chords) at
	// the end.
	Next int `json:"next"`
	// Remarks says what was left out or guessed, in sentences.
	Remarks []string `json:"remarks,omitempty"`
}

// PiecePart is one part of the score.
type PiecePart struct {
	Name string `json:"name"`
	// Instrument is what it seems to be written for, empty when unknown.
	Instrument string `json:"instrument,omitempty"`
}

// PieceSeat says which part a chair plays.
type PieceSeat struct {
	Chair      ChairID `json:"chair"`
	Label      string  `json:"label"`
	Name       string  `json:"name,omitempty"`
	Instrument string  `json:"instrument"`
	Part       int     `json:"part"` // index in Parts, -1 for none
	Absent     bool    `json:"absent,omitempty"`
}

// PieceChord is one held sonority.
type PieceChord struct {
	Bar  string `json:"bar"`
	When string `json:"when"` // "at the start, for a half note"
	// Name is the likeliest chord, Others what else the notes can be called.
	Name   string      `json:"name"`
	Others []string    `json:"others,omitempty"`
	Tones  []PieceTone `json:"tones"`
	// Why says why it cannot be called, empty when it can.
	Why string `json:"why,omitempty"`
}

// PieceTone is one chair's note of a chord.
type PieceTone struct {
	Label   string `json:"label"`
	Written string `json:"written"`
	Concert string `json:"concert"`
}

// RowPiece is what the row says of the open piece.
type RowPiece struct {
	Title string `json:"title"`
	Next  string `json:"next,omitempty"` // "bar 12, F major", empty at the end
}

// Piece returns the open piece; false when there is none.
func (h *Hub) Piece() (Piece, bool) {
	h.mu.Lock()
	p, s := h.piece, h.section.Clone()
	h.mu.Unlock()
	if p == nil {
		return Piece{}, false
	}
	return p.view(s), true
}

func (p *piece) view(s Section) Piece {
	out := Piece{Title: p.title(), Bars: len(p.score.Bars), Next: p.next, Chords: make([]PieceChord, 0, len(p.list)), Remarks: p.remarks()}
	for _, part := range p.score.Parts {
		pp := PiecePart{Name: part.Name}
		if id, ok := score.Guess(part); ok {
			if in, err := instrument.Find(id); err == nil {
				pp.Instrument = in.Name
			}
		}
		out.Parts = append(out.Parts, pp)
	}
	for _, c := range s.seated() {
		seat := PieceSeat{Chair: c.ID, Label: c.Label, Name: c.Name, Part: -1, Absent: c.Absent}
		if part, plays := p.seats[c.ID]; plays {
			seat.Part = part
		}
		if in, err := instrument.Find(c.Instrument); err == nil {
			seat.Instrument = in.Name
		}
		out.Seats = append(out.Seats, seat)
	}
	for _, x := range p.list {
		out.Chords = append(out.Chords, p.chord(x, s))
	}
	return out
}

func (p *piece) title() string {
	if p.score.Title == "" {
		return "A piece without a title"
	}
	return p.score.Title
}

func (p *piece) remarks() []string {
	out := append([]string(nil), p.score.Remarks...)
	if p.cut {
		out = append(out, fmt.Sprintf("Only the first %d chords are listed.", maxSonorities))
	}
	if p.long {
		out = append(out, "This piece is too long to be kept: when the hub starts anew, open it again.")
	}
	return out
}

func (p *piece) chord(x score.Sonority, s Section) PieceChord {
	c := PieceChord{Bar: p.score.Bars[x.Bar].Number, When: when(x), Name: sonorityName(x), Tones: []PieceTone{}}
	if len(x.Chords) > 1 && !oneClassOf(x) {
		for _, other := range x.Chords[1:] {
			c.Others = append(c.Others, other.Name())
		}
	}
	tones := p.tones(x, s)
	for _, ch := range s.seated() {
		n, plays := tones[ch.ID]
		if !plays {
			continue
		}
		t := PieceTone{Label: ch.Label, Written: n.Display(), Concert: n.Display()}
		if in, err := instrument.Find(ch.Instrument); err == nil {
			t.Written = in.Written(n).Display()
		}
		c.Tones = append(c.Tones, t)
	}
	switch {
	case len(tones) == 0:
		c.Why = "nobody here plays in it"
	case len(x.Chords) == 0 && !oneClassOf(x):
		c.Why = "no chord that can be tuned"
	}
	return c
}

// sonorityName is the likeliest chord, or the note of a unison, or the notes.
func sonorityName(x score.Sonority) string {
	switch {
	case oneClassOf(x):
		return x.Tones[0].Note.ClassName() + " in unison or octaves"
	case len(x.Chords) > 0:
		return x.Chords[0].Name()
	}
	var names []string
	for _, t := range x.Tones {
		names = append(names, t.Note.Display())
	}
	return strings.Join(names, " ")
}

// when says where in its bar a sonority begins and how long it is held.
func when(x score.Sonority) string {
	at := "at the start"
	if x.Offset > 0 {
		at = "after " + lengthWords(x.Offset)
	}
	return at + ", for " + lengthWords(x.Length)
}

// lengths names the usual note values, by their length in quarters.
var lengths = map[float64]string{
	1: "a quarter note", 1.5: "a dotted quarter", 2: "a half note", 3: "a dotted half", 4: "a whole note", 0.5: "an eighth note",
}

func lengthWords(t score.Ticks) string {
	q := math.Round(t.Quarters()*100) / 100
	if w := lengths[q]; w != "" {
		return w
	}
	return fmt.Sprintf("%g quarters", q)
}

// rowPiece is what the row says of the piece, nil when there is none.
func (h *Hub) rowPiece() *RowPiece {
	p := h.piece
	if p == nil {
		return nil
	}
	r := &RowPiece{Title: p.title()}
	if p.next < len(p.list) {
		x := p.list[p.next]
		r.Next = fmt.Sprintf("bar %s, %s", p.score.Bars[x.Bar].Number, sonorityName(x))
	}
	return r
}
