package report

import (
	"slices"
	"testing"

	"bellrow/hub"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// TestCalledInTheSectionsLanguage: what was called is named as the section says it, and
// what came twice in a row once. German names of chords: Duden, "b-Moll", "Es-Dur"; its
// H is B natural (from memory).
func TestCalledInTheSectionsLanguage(t *testing.T) {
	calls := []hub.Call{{Kind: hub.CallNote, Note: 71}, {Kind: hub.CallNote, Note: 71}, {Kind: hub.CallChord, Chord: "Eb major"}}
	for tag, want := range map[string][]string{"": {"H", "Es major"}, "de": {"H", "Es-Dur"}} {
		if got := called(calls, phrase.Report.In(tag, pitch.Style{Naming: "german"})); !slices.Equal(got, want) {
			t.Errorf("%q: called %q, need %q", tag, got, want)
		}
	}
}
