// Package piece is the score that a section works on: what is held in it, who
// plays which part, which chord comes next, and the one main-slide setting per
// player that serves all of it. The leader's page and bellrow piece both ask
// here.
//
// It is pure: no clock, no lock, no storage. A Piece is never changed, only
// replaced by a changed copy, so that what was handed out stays whole and any
// number of goroutines may read it.
package piece

import (
	"errors"
	"fmt"
	"io"
	"maps"
	"math"
	"slices"

	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Chair is a place of the section, as far as a piece asks. Chairs are handed
// in seating order.
type Chair struct {
	ID         int64
	Label      string // the place's: "Horn 2"
	Name       string // the player's; may be empty
	Part       string // as the player said
	Instrument instrument.ID
	Absent     bool
}

// Piece is a score in use.
type Piece struct {
	score    *score.Score
	shortest score.Ticks
	list     []score.Sonority // what can be called, in order
	cut      bool             // there are more than maxSonorities
	packed   string           // the score, to be kept; see Packed
	long     bool             // too long to be kept
	seats    map[int64]int    // which part a chair plays: an index in score.Parts
	next     int              // the sonority to be called next
	// said is what the leader said that a part is written for, by part.
	said map[int]instrument.ID
}

// maxSonorities is what a page can list: more than an hour of chorales.
const maxSonorities = 3000

// ErrNothingHeld is the error of New for a score in which nothing can be tuned.
var ErrNothingHeld = errors.New("no chord in this piece is held")

// Read reads a MusicXML score and packs it, to be kept. The errors of hub/score
// are passed on.
func Read(r io.Reader) (*Piece, error) {
	s, err := score.Read(r)
	if err != nil {
		return nil, err
	}
	p, err := New(s, score.Held)
	if err != nil {
		return nil, err
	}
	if p.packed, err = pack(s); err != nil {
		return nil, err
	}
	p.long = p.packed == ""
	return p, nil
}

// New lists what can be called: what two parts or more hold for at least
// shortest, score.Held as a rule. Nobody is given a part yet.
func New(s *score.Score, shortest score.Ticks) (*Piece, error) {
	all, err := s.Sonorities(shortest)
	if err != nil {
		return nil, err
	}
	p := &Piece{score: s, shortest: shortest}
	for _, x := range all {
		if len(x.ByPart()) < 2 {
			continue // nobody to tune to
		}
		if p.cut = len(p.list) == maxSonorities; p.cut {
			break
		}
		p.list = append(p.list, x)
	}
	if len(p.list) == 0 {
		return nil, fmt.Errorf("piece: %w for %s or more", ErrNothingHeld, lengthWords(shortest, phrase.Leader.In(quarters, pitch.Style{})))
	}
	return p, nil
}

// SameScore tells whether two pieces are one score, however it is seated.
func (p *Piece) SameScore(q *Piece) bool { return p != nil && q != nil && p.score == q.score }

// Next is the index of the chord to be called next; one past the last at the end.
func (p *Piece) Next() int { return p.next }

// Part is what a chair plays, an index in the score's parts.
func (p *Piece) Part(chair int64) (part int, plays bool) {
	part, plays = p.seats[chair]
	return part, plays
}

// with returns a changed copy.
func (p *Piece) with(change func(*Piece)) *Piece {
	c := *p
	c.seats = maps.Clone(p.seats)
	if c.seats == nil {
		c.seats = map[int64]int{}
	}
	if c.said = maps.Clone(p.said); c.said == nil {
		c.said = map[int]instrument.ID{}
	}
	change(&c)
	return &c
}

// Seat lets a chair play a part, or none for a negative one.
func (p *Piece) Seat(chair int64, part int) (*Piece, error) {
	if part >= len(p.score.Parts) {
		return nil, phrase.Refuse("piece", "refusal.no-part")
	}
	return p.with(func(p *Piece) {
		p.seats[chair] = part
		if part < 0 {
			delete(p.seats, chair)
		}
	}), nil
}

// For lets a part be written for an instrument, as the leader says. Whoever was
// given a part by guess is given one anew; who was given one by hand keeps it.
func (p *Piece) For(part int, id instrument.ID, chairs []Chair) (*Piece, error) {
	if part < 0 || part >= len(p.score.Parts) {
		return nil, phrase.Refuse("piece", "refusal.no-part")
	}
	if _, err := instrument.Find(id); err != nil {
		return nil, &phrase.Refusal{Key: "refusal.not-understood", Err: err}
	}
	before := p.guessSeats(chairs)
	return p.with(func(q *Piece) {
		q.said[part] = id
		after := q.guessSeats(chairs)
		for _, c := range chairs {
			had, sat := p.seats[c.ID]
			guess, guessed := before[c.ID]
			if sat != guessed || had != guess {
				continue
			}
			delete(q.seats, c.ID)
			if now, plays := after[c.ID]; plays {
				q.seats[c.ID] = now
			}
		}
	}), nil
}

// writtenFor is what a part is written for: as the leader said, or as its name tells.
func (p *Piece) writtenFor(part int) (instrument.ID, bool) {
	if id, said := p.said[part]; said {
		return id, true
	}
	return score.Guess(p.score.Parts[part])
}

// Call is one held chord of the piece, to be asked for.
type Call struct {
	Tones map[int64]pitch.Note // by chair; whoever has none rests
	Heads map[int64]score.Head // by chair: clef and key of what is written for it
	Where string               // "bar 12"
	Note  pitch.Note           // of a unison, where Chord is empty
	Name  pitch.Name           // of that note, as the score spells it
	Chord string
}

// Call makes the call of the kth chord and the piece that goes on after it.
// name chooses among the chord's names; the likeliest when empty.
func (p *Piece) Call(k int, name string, chairs []Chair) (Call, *Piece, error) {
	if k < 0 || k >= len(p.list) {
		return Call{}, nil, phrase.Refuse("piece", "refusal.piece-end")
	}
	x := p.list[k]
	c := Call{Tones: p.tones(x, chairs), Heads: map[int64]score.Head{}, Where: p.where(x)}
	for _, ch := range chairs {
		if _, plays := c.Tones[ch.ID]; plays {
			c.Heads[ch.ID] = p.head(x.Bar, ch)
		}
	}
	switch {
	case len(c.Tones) == 0:
		return Call{}, nil, phrase.Refuse("piece", "refusal.piece-nobody", p.score.Bars[x.Bar].Number)
	case oneClass(x):
		c.Note, c.Name = x.Tones[0].Note, x.Tones[0].Sounding.Name
	case len(x.Chords) == 0:
		return Call{}, nil, phrase.Refuse("piece", "refusal.piece-no-chord", p.score.Bars[x.Bar].Number)
	case name != "":
		c.Chord = name
	default:
		c.Chord = x.Chords[0].Name()
	}
	return c, p.with(func(p *Piece) { p.next = k + 1 }), nil
}

// tones gives every chair that is here its note of a sonority. Where a part is
// divided its chairs take the notes from the top.
func (p *Piece) tones(x score.Sonority, chairs []Chair) map[int64]pitch.Note {
	tones, taken, byPart := map[int64]pitch.Note{}, map[int]int{}, x.ByPart()
	for _, c := range chairs {
		part, plays := p.seats[c.ID]
		notes := byPart[part]
		if !plays || c.Absent || len(notes) == 0 {
			continue
		}
		tones[c.ID] = notes[max(0, len(notes)-1-taken[part])]
		taken[part]++
	}
	return tones
}

// head is what stands at the head of a chair's staff. Where its part is written
// for another instrument, the key moves with the notes (a whole tone up adds two
// sharps), and the clef is the instrument's own.
func (p *Piece) head(bar int, ch Chair) score.Head {
	part := p.score.Parts[p.seats[ch.ID]]
	h := part.Head(bar)
	in, err := instrument.Find(ch.Instrument)
	if err != nil {
		return h
	}
	up := part.Transposition - in.Transposition
	if up%12 != 0 {
		h.Clef = ""
	}
	if h.Key != nil {
		k := *h.Key + (7*up%12+18)%12 - 6 // the nearest of the enharmonic keys
		switch {
		case k > 6:
			k -= 12
		case k < -6:
			k += 12
		}
		h.Key = &k
	}
	return h
}

func (p *Piece) where(x score.Sonority) string { return "bar " + p.score.Bars[x.Bar].Number }

// oneClass reports a unison or octaves.
func oneClass(x score.Sonority) bool {
	return !slices.ContainsFunc(x.Tones, func(t score.PartNote) bool { return t.Note.Class() != x.Tones[0].Note.Class() })
}

// Quarters makes a length of so many quarter notes, at least the shortest there is.
func Quarters(q float64) score.Ticks {
	return max(1, score.Ticks(math.Round(q*score.TicksPerQuarter)))
}
