package player

import (
	"strconv"
	"strings"

	"bellrow/proto/phrase"
)

// Staff places a written note on five lines.
type Staff struct {
	// Step counts from the bottom line, 0, upwards by lines and spaces: the
	// top line is 8.
	Step int `json:"step"`
	// Ledgers holds the steps of the ledger lines, even numbers.
	Ledgers []int `json:"ledgers"`
	// Accidental is "flat", "sharp", "natural" or empty: what the note has beyond
	// the key signature.
	Accidental string `json:"accidental,omitempty"`
	// Signature holds the steps of the key signature's signs in the order in
	// which they are written; Sign is what they are, "flat" or "sharp".
	Signature []int  `json:"signature,omitempty"`
	Sign      string `json:"sign,omitempty"`
	Clef      string `json:"clef"`
	// Words say the place: "third space".
	Words string `json:"words"`
}

// bottomLines are the steps of the lowest lines, in diatonic steps from C0:
// E4 in the treble clef, G2 in the bass, F3 in the alto, D3 in the tenor.
var bottomLines = map[string]int{"treble": 7*4 + 2, "bass": 7*2 + 4, "alto": 7*3 + 3, "tenor": 7*3 + 1}

// farthest is how far from the staff a note is still drawn: beyond it players
// read words rather than ledger lines.
const farthest = 12

// newStaff places a note like "B♭4" or "F#4" in a key signature of so many sharps
// (flats are negative), nil for none. It returns nil for what it cannot place.
func newStaff(written, clef string, key *int, t phrase.Tongue) *Staff {
	bottom, ok := bottomLines[clef]
	if !ok || written == "" {
		return nil
	}
	letter := strings.IndexByte("CDEFGAB", written[0])
	if letter < 0 {
		return nil
	}
	s := &Staff{Clef: clef, Ledgers: []int{}}
	rest := written[1:]
	for mark, name := range map[string]string{"♭": "flat", "b": "flat", "♯": "sharp", "#": "sharp"} {
		if cut, found := strings.CutPrefix(rest, mark); found {
			s.Accidental, rest = name, cut
			break
		}
	}
	octave, err := strconv.Atoi(rest)
	if err != nil {
		return nil
	}
	s.Step = 7*octave + letter - bottom
	if s.Step < -farthest || s.Step > 8+farthest {
		return nil
	}
	for l := -2; l >= s.Step; l -= 2 {
		s.Ledgers = append(s.Ledgers, l)
	}
	for l := 10; l <= s.Step; l += 2 {
		s.Ledgers = append(s.Ledgers, l)
	}
	s.Words = staffWords(s.Step, t)
	if key != nil {
		s.signature(*key, letter)
	}
	return s
}

// sharps are the letters (C is 0) in the order of their sharps; flats come the
// other way round.
var sharps = [...]int{3, 0, 4, 1, 5, 2, 6}

// signature writes the key signature, and leaves the note the accidental that it
// has beyond it.
func (s *Staff) signature(key, letter int) {
	n, sign := key, "sharp"
	if key < 0 {
		n, sign = -key, "flat"
	}
	n = min(n, len(sharps))
	signed := ""
	for i := range n {
		at := sharps[i]
		if key < 0 {
			at = sharps[len(sharps)-1-i]
		}
		if at == letter {
			signed = sign
		}
		s.Signature = append(s.Signature, s.stepOf(i, sign))
	}
	if n > 0 {
		s.Sign = sign
	}
	switch {
	case s.Accidental == signed:
		s.Accidental = ""
	case s.Accidental == "":
		s.Accidental = "natural"
	}
}

// The steps of a signature's signs from the bottom line, as the trade writes
// them: in the treble clef sharps from the top line, flats from the middle one,
// in the bass clef two steps lower, in the alto one step. The tenor clef's sharps
// begin below, so that none stands over the staff (common engraving practice,
// Gould, "Behind Bars", 2011, on key signatures; from memory).
var (
	sharpSteps = map[string][7]int{"treble": {8, 5, 9, 6, 3, 7, 4}, "tenor": {2, 6, 3, 7, 4, 8, 5}}
	flatSteps  = map[string][7]int{"treble": {4, 7, 3, 6, 2, 5, 1}, "tenor": {5, 8, 4, 7, 3, 6, 2}}
)

// stepOf is where the i-th sign of a signature stands.
func (s *Staff) stepOf(i int, sign string) int {
	steps := sharpSteps
	if sign == "flat" {
		steps = flatSteps
	}
	switch s.Clef {
	case "bass":
		return steps["treble"][i] - 2
	case "alto":
		return steps["treble"][i] - 1
	}
	return steps[s.Clef][i]
}

// staffWords says a place as players do: "second line", "on the first ledger
// line above".
func staffWords(step int, t phrase.Tongue) string {
	switch {
	case step >= 0 && step <= 8 && step%2 == 0:
		return t.Item("player.staff.line", step/2)
	case step > 0 && step < 8:
		return t.Item("player.staff.space", step/2)
	case step == -1:
		return t.Say("player.staff.just-below")
	case step == 9:
		return t.Say("player.staff.just-above")
	case step < 0 && step%2 == 0:
		return ledgerWords(-step/2, "on.below", "far-below", t)
	case step < 0:
		return ledgerWords((-step-1)/2, "under.below", "far-below", t)
	case step%2 == 0:
		return ledgerWords((step-8)/2, "on.above", "far-above", t)
	}
	return ledgerWords((step-9)/2, "over.above", "far-above", t)
}

// mostLedgers is up to how many ledger lines a place is told by the line.
const mostLedgers = 5

func ledgerWords(n int, near, far string, t phrase.Tongue) string {
	if n <= mostLedgers {
		return t.Item("player.staff."+near, n-1)
	}
	return t.Say("player.staff."+far, n)
}
