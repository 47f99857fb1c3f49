package web

import (
	"testing"

	"bellrow/hub"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// TestProblemsInTheSectionsLanguage: what stops a command is said as the section speaks.
func TestProblemsInTheSectionsLanguage(t *testing.T) {
	for tag, want := range map[string]string{"de": "Das Laufwerk ist voll.", "fr": "Le disque est plein.", "es": "El disco está lleno.", "en-GB": "The disk is full."} {
		tongue := phrase.Leader.In(tag, pitch.Style{})
		p := problemOf(hub.ErrFull).in(tongue)
		if p.Code != "disk-full" || p.Message != want || p.Hint == "" {
			t.Errorf("%s: %+v", tag, p)
		}
		p = problemOf(phrase.Refuse("tuneup", "refusal.no-undo")).in(tongue)
		if p.Code != "refused" || p.Message != tongue.Say("refusal.no-undo") {
			t.Errorf("%s: %+v", tag, p)
		}
	}
}
