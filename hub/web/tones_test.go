package web

import (
	"testing"

	"bellrow/hub/intonation"
	"bellrow/proto/phrase"
)

// TestKindChoices: the page offers every kind there is, and every name it puts
// together from them is a chord of that kind.
func TestKindChoices(t *testing.T) {
	choices := kindChoices(phrase.Tongue{})
	if len(choices) != len(intonation.Qualities) {
		t.Fatalf("%d of %d kinds are offered", len(choices), len(intonation.Qualities))
	}
	for i, k := range choices {
		for class, root := range k.Roots {
			c, err := intonation.ParseChord(root + " " + string(k.Quality))
			if err != nil || c.Root != class || c.Quality != intonation.Qualities[i] {
				t.Errorf("%s %s is %v, %v", root, k.Quality, c, err)
			}
			_, err = intonation.ParseChord(root + " " + string(k.Quality) + " (16/9)")
			if (err == nil) != k.Seventh {
				t.Errorf("%s %s: a choice of seventh is %v, and %v", root, k.Quality, k.Seventh, err)
			}
		}
	}
}
