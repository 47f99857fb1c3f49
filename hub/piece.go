package hub

import (
	"context"
	"errors"
	"fmt"
	"io"
	"maps"
	"slices"
	"strings"

	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// piece is the score a section works on and who plays what in it. It is never
// changed, only replaced, so that what was handed out stays whole.
type piece struct {
	score *score.Score
	list  []score.Sonority // what can be called, in order
	cut   bool             // there are more than maxSonorities
	long  bool             // too long to be kept beyond the hub's end
	seats map[ChairID]int  // which part a chair plays: an index in score.Parts
	next  int              // the sonority to be called next
}

// Bounds of a piece that a hub works with; hub/score bounds the reading.
const (
	// maxSonorities is what a page can list: more than an hour of chorales.
	maxSonorities = 3000
	// maxPlanNotes bounds the work of the main-slide compromise: ten times a
	// 300-bar piece for twelve parts.
	maxPlanNotes = 200000
)

// LoadPiece reads a MusicXML score for the open section; it replaces the one
// before. The errors of hub/score are passed on.
func (h *Hub) LoadPiece(ctx context.Context, r io.Reader) error {
	s, err := score.Read(r)
	if err != nil {
		return err
	}
	p, err := newPiece(s)
	if err != nil {
		return err
	}
	data, err := packScore(s)
	if err != nil {
		return err
	}
	p.long = data == ""
	h.takePiece(p, data)
	h.flushLogged(ctx)
	return nil
}

// newPiece lists what can be called.
func newPiece(s *score.Score) (*piece, error) {
	all, err := s.Sonorities(score.Held)
	if err != nil {
		return nil, err
	}
	p := &piece{score: s}
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
		return nil, errors.New("hub: no chord in this piece is held for a quarter note or more")
	}
	return p, nil
}

// takePiece puts a piece that was read in the place of the one before.
func (h *Hub) takePiece(p *piece, data string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	step := h.snapshot(Command{Do: doPiece})
	p.seats = guessSeats(p.score, h.section.seated())
	h.piece = p
	h.savePiece(data)
	step.name = "the new piece"
	h.keep(step)
	h.touchRow()
}

// doPiece names the import of a piece for Undo; it is no Command.
const doPiece = "piece"

// with returns a copy of the piece to be changed.
func (p *piece) with(change func(*piece)) *piece {
	c := *p
	c.seats = maps.Clone(p.seats)
	change(&c)
	return &c
}

var errNoPiece = errors.New("hub: there is no piece; open one first")

// actOnPiece carries out the commands about the piece; ok is false for others.
func (h *Hub) actOnPiece(c Command) (name string, ok bool, err error) {
	switch c.Do {
	case DoPart, DoSonority, DoNextSonority, DoDropPiece:
	default:
		return "", false, nil
	}
	if h.piece == nil {
		return "", true, errNoPiece
	}
	switch c.Do {
	case DoPart:
		name, err = h.givePart(c.Chair, c.Part)
	case DoSonority:
		name, err = "the call", h.callSonority(c.Index, c.Name)
	case DoNextSonority:
		name, err = "the call", h.callSonority(h.piece.next, "")
	case DoDropPiece:
		h.piece = nil
		h.savePiece("")
		name = "closing the piece"
	}
	return name, true, err
}

// givePart lets a chair play a part, or none for a negative one.
func (h *Hub) givePart(id ChairID, part int) (name string, err error) {
	if h.chair(id) == nil {
		return "", fmt.Errorf("hub: part for chair %d: %w", id, ErrNotFound)
	}
	if part >= len(h.piece.score.Parts) {
		return "", fmt.Errorf("hub: part %d of %d", part, len(h.piece.score.Parts))
	}
	h.piece = h.piece.with(func(p *piece) {
		p.seats[id] = part
		if part < 0 {
			delete(p.seats, id)
		}
	})
	h.savePieceState()
	return "the part of " + h.called(id), nil
}

// callSonority calls one held chord of the piece: those who play in it get
// their notes, the others rest. name chooses among the chord's names.
func (h *Hub) callSonority(k int, name string) error {
	p := h.piece
	if k < 0 || k >= len(p.list) {
		return errors.New("hub: that is the end of the piece; choose a chord")
	}
	x := p.list[k]
	c := Call{Tones: p.tones(x, h.section), Only: true, Together: true, Where: "bar " + p.score.Bars[x.Bar].Number}
	if len(c.Tones) == 0 {
		return fmt.Errorf("hub: nobody here plays in %s; give the parts to chairs", c.Where)
	}
	switch {
	case oneClassOf(x):
		c.Kind, c.Note = CallNote, x.Tones[0].Note
	case len(x.Chords) == 0:
		return fmt.Errorf("hub: the notes in %s are no chord that can be tuned; choose another", c.Where)
	default:
		c.Kind, c.Chord = CallChord, x.Chords[0].Name()
		if name != "" {
			c.Chord = name
		}
	}
	if err := h.call(c, nil); err != nil {
		return err
	}
	h.piece = p.with(func(p *piece) { p.next = k + 1 })
	h.savePieceState()
	return nil
}

// tones gives every chair that is here its note of a sonority. Where a part is
// divided its chairs take the notes from the top.
func (p *piece) tones(x score.Sonority, s Section) map[ChairID]pitch.Note {
	tones, taken, byPart := map[ChairID]pitch.Note{}, map[int]int{}, x.ByPart()
	for _, c := range s.seated() {
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

func oneClassOf(x score.Sonority) bool {
	return !slices.ContainsFunc(x.Tones, func(t score.PartNote) bool { return t.Note.Class() != x.Tones[0].Note.Class() })
}

// guessSeats proposes who plays what: first by equal names, then by
// instrument and number, then by family; chairs left over double a part.
func guessSeats(s *score.Score, chairs []Chair) map[ChairID]int {
	seats, taken := map[ChairID]int{}, map[int]bool{}
	give := func(most int, double bool) {
		for _, c := range chairs {
			if _, has := seats[c.ID]; has {
				continue
			}
			best, cost := -1, most+1
			for i, part := range s.Parts {
				if k := unlike(c, part); k < cost && (double || !taken[i]) {
					best, cost = i, k
				}
			}
			if best >= 0 {
				seats[c.ID], taken[best] = best, true
			}
		}
	}
	for most := range otherFamily {
		give(most, false)
	}
	give(otherFamily-1, true)
	return seats
}

// Steps of how unlike a chair and a part are.
const (
	sameName = iota
	sameNumber
	sameInstrument
	sameFamily
	otherFamily
)

func unlike(c Chair, part score.Part) int {
	name := plainName(part.Name)
	if name != "" && (plainName(c.Label) == name || plainName(c.Part) == name) {
		return sameName
	}
	guess, known := score.Guess(part)
	written, err := instrument.Find(guess)
	own, ownErr := instrument.Find(c.Instrument)
	if !known || err != nil || ownErr != nil || written.Family != own.Family {
		return otherFamily
	}
	number, mine := numberOf(part.Name), numberOf(c.Part)
	if mine == 0 {
		mine = numberOf(c.Label)
	}
	switch {
	case number != 0 && number == mine:
		return sameNumber
	case written.ID == own.ID && (number == 0 || mine == 0):
		return sameInstrument
	}
	return sameFamily
}

// plainName leaves what tells parts apart: letters and digits, lower case,
// without the key of the instrument.
func plainName(s string) string {
	var words []string
	for _, w := range nameWords(s) {
		if !keyWords[w] {
			words = append(words, w)
		}
	}
	slices.Sort(words)
	return strings.Join(words, " ")
}

// keyWords are what names of parts say about the key. A letter by itself is
// one, too.
var keyWords = map[string]bool{"in": true, "b♭": true, "bb": true, "e♭": true, "eb": true, "f": true, "c": true, "d": true, "a": true, "flat": true, "b": true, "e": true}

func nameWords(s string) []string {
	return strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return strings.ContainsRune(" .,;:()-_\t\u00a0", r) })
}

// numberOf finds the number in the name of a part: "2nd Trombone", "Horn II";
// 0 when there is none.
func numberOf(name string) int {
	for _, w := range nameWords(name) {
		if n := roman[w]; n != 0 {
			return n
		}
	}
	return rank(name)
}

var roman = map[string]int{"i": 1, "ii": 2, "iii": 3, "iv": 4}
