package chords

import (
	"strings"
	"testing"

	"bellrow/hub/intonation"
)

// wanted is the share of chords that must be named right or be among an
// honest "could be".
const wanted = 0.99

func TestInferenceOnSimulatedGroups(t *testing.T) {
	const n = 1000 // fewer could not tell 99 % from 98
	for _, c := range []Case{{5, 25, 0, intonation.Just}, {8, 25, 10, intonation.Equal}, {12, 25, 0, intonation.Just}} {
		got := Infer(c, n/len(Cases())+n/4, 7)
		t.Logf("%+v: %+v", c, got)
		if got.Share() < wanted {
			t.Errorf("%+v: %.1f %% right or ambiguous, want %.0f %%", c, 100*got.Share(), 100*wanted)
		}
		if got.Ambiguous > 0 && float64(got.Named)/float64(got.Ambiguous) > 3 {
			t.Errorf("%+v: %d names for %d ambiguous chords: a list of everything is no answer", c, got.Named, got.Ambiguous)
		}
		if got.Right < got.Chords/2 {
			t.Errorf("%+v: only %d of %d told outright", c, got.Right, got.Chords)
		}
	}
}

// TestInferenceCanFail shows that the measure is not blind: errors of a
// semitone leave no chord to be found.
func TestInferenceCanFail(t *testing.T) {
	if got := Infer(Case{8, 100, 0, intonation.Just}, 100, 7); got.Share() > 0.5 {
		t.Errorf("%.0f %% of chords found under errors of 100 cents", 100*got.Share())
	}
}

func TestRunPrintsEveryCase(t *testing.T) {
	var out strings.Builder
	if err := Run(t.Context(), &out, []string{"-n", "2"}); err != nil {
		t.Fatal(err)
	}
	if got, want := strings.Count(out.String(), "\n"), len(Cases())+1; got != want {
		t.Errorf("%d lines, want %d", got, want)
	}
}
