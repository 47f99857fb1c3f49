package piece

import (
	"slices"
	"strings"

	"bellrow/proto/instrument"
)

// Guess proposes who plays what: first by equal names, then by instrument and
// number, then by family; chairs left over double a part.
func (p *Piece) Guess(chairs []Chair) *Piece {
	return p.with(func(q *Piece) { q.seats = p.guessSeats(chairs) })
}

func (p *Piece) guessSeats(chairs []Chair) map[int64]int {
	seats, taken := map[int64]int{}, map[int]bool{}
	give := func(most int, double bool) {
		for _, c := range chairs {
			if _, has := seats[c.ID]; has {
				continue
			}
			best, cost := -1, most+1
			for i := range p.score.Parts {
				if k := p.unlike(c, i); k < cost && (double || !taken[i]) {
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

func (p *Piece) unlike(c Chair, i int) int {
	part := p.score.Parts[i]
	name := plainName(part.Name)
	if name != "" && (plainName(c.Label) == name || plainName(c.Part) == name) {
		return sameName
	}
	guess, known := p.writtenFor(i)
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
	case written.Base() == own.Base() && (number == 0 || mine == 0):
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
	if i := strings.IndexAny(name, "123456789"); i >= 0 {
		return int(name[i] - '0')
	}
	return 0
}

var roman = map[string]int{"i": 1, "ii": 2, "iii": 3, "iv": 4}
