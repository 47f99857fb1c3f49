package player

import (
	"fmt"
	"strconv"
	"strings"
)

// Staff places a written note on five lines.
type Staff struct {
	// Step counts from the bottom line, 0, upwards by lines and spaces: the
	// top line is 8.
	Step int `json:"step"`
	// Ledgers holds the steps of the ledger lines, even numbers.
	Ledgers []int `json:"ledgers"`
	// Accidental is "flat", "sharp" or empty.
	Accidental string `json:"accidental,omitempty"`
	Clef       string `json:"clef"`
	// Words say the place: "third space".
	Words string `json:"words"`
}

// bottomLines are the steps of the lowest lines, in diatonic steps from C0:
// E4 in the treble clef, G2 in the bass, F3 in the alto, D3 in the tenor.
var bottomLines = map[string]int{"treble": 7*4 + 2, "bass": 7*2 + 4, "alto": 7*3 + 3, "tenor": 7*3 + 1}

// farthest is how far from the staff a note is still drawn: beyond it players
// read words rather than ledger lines.
const farthest = 12

// newStaff places a note like "B♭4" or "F#4", or returns nil for what it
// cannot place.
func newStaff(written, clef string) *Staff {
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
	s.Words = staffWords(s.Step)
	return s
}

var ordinals = []string{"first", "second", "third", "fourth", "fifth"}

// staffWords says a place as players do: "second line", "on top of the staff",
// "below the second ledger line".
func staffWords(step int) string {
	switch {
	case step >= 0 && step <= 8 && step%2 == 0:
		return ordinals[step/2] + " line"
	case step > 0 && step < 8:
		return ordinals[step/2] + " space"
	case step == -1:
		return "just below the staff"
	case step == 9:
		return "just above the staff"
	case step < 0 && step%2 == 0:
		return ledgerWords(-step/2, "on", "below")
	case step < 0:
		return ledgerWords((-step-1)/2, "under", "below")
	case step%2 == 0:
		return ledgerWords((step-8)/2, "on", "above")
	}
	return ledgerWords((step-9)/2, "over", "above")
}

func ledgerWords(n int, where, side string) string {
	if n <= len(ordinals) {
		return fmt.Sprintf("%s the %s ledger line %s", where, ordinals[n-1], side)
	}
	return fmt.Sprintf("%d ledger lines %s", n, side)
}
