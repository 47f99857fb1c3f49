package session_test

import (
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// TestRefusedNotesEnterNothing: notes that were too quiet or overloaded are
// refused with their reason, and leave everything as it was: the slide, the move
// that waits, and the usual loudness of the player.
func TestRefusedNotesEnterNothing(t *testing.T) {
	b := newBench(t)
	p := b.join("Ada", "trumpet_bb")
	usual := func(r *proto.Reading) { r.Level = -24 }
	note := func(cents pitch.Cents, change func(*proto.Reading)) {
		t.Helper()
		p.now = p.now.Add(time.Minute) // time to move a slide
		p.send(func(r *proto.Reading) {
			usual(r)
			r.Hz = r.Hz.Shift(cents)
			change(r)
		})
	}
	stands := func() float64 { return b.hub.Section().Chairs[0].Settings[instrument.Main] }
	b.call("Bb4")
	note(17, func(*proto.Reading) {})
	waits := p.row()
	if len(waits.Moves) == 0 {
		t.Fatalf("no move for a note 17 cents sharp: %+v", waits)
	}
	stood := stands()
	for _, refused := range []struct {
		what, says string
		change     func(*proto.Reading)
	}{
		{"too quiet", "too soft", func(r *proto.Reading) { r.Level, r.Settled, r.Reason = -63, false, "soft" }},
		{"too quiet, of an earlier node", "too soft", func(r *proto.Reading) { r.Level = -63 }},
		{"overloaded", "overloaded", func(r *proto.Reading) { r.Level, r.Settled, r.Reason, r.Clipped = -0.8, false, "clipping", true }},
	} {
		b.do(hub.Command{Do: hub.DoAgain, Chair: p.chair})
		note(-40, refused.change)
		row := p.row()
		if !strings.Contains(row.Headline, refused.says) {
			t.Errorf("%s: the row says %q", refused.what, row.Headline)
		}
		if got := stands(); got != stood {
			t.Errorf("%s: the slide is taken to stand at %g, not at %g", refused.what, got, stood)
		}
	}
	if err := p.hub.Setting(t.Context(), p.chair, proto.Setting{Slide: instrument.Main, MM: waits.Moves[0].ToMM}); err != nil {
		t.Fatal(err)
	}
	for range 4 {
		b.do(hub.Command{Do: hub.DoAgain, Chair: p.chair})
		note(0, func(*proto.Reading) {})
		if row := p.row(); strings.Contains(row.Headline+row.Detail, "softer") || strings.Contains(row.Headline+row.Detail, "louder") {
			t.Errorf("a note as loud as the first is answered with %q %q", row.Headline, row.Detail)
		}
	}
	if row := p.row(); row.Verdict != "set" {
		t.Errorf("at the end the chair is %q: %q", row.Verdict, row.Headline)
	}
}
