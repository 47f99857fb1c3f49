package session_test

import (
	"slices"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// byNature is how far a player's called note lies off on a perfect instrument:
// the theory of the path that the player is asked for.
func (p *player) byNature() pitch.Cents {
	p.t.Helper()
	in, err := instrument.Find(p.instrument)
	if err != nil {
		p.t.Fatal(err)
	}
	v := p.view()
	note, err := pitch.ParseNote(v.Concert)
	if err != nil {
		p.t.Fatalf("%s is asked for %q: %v", p.name, v.Concert, err)
	}
	for _, path := range in.Paths(note) {
		if path.String() == v.Fingering {
			return in.Theory(path).Cents()
		}
	}
	p.t.Fatalf("%s is asked for %s with %q, which is no way of playing it", p.name, v.Concert, v.Fingering)
	return 0
}

// TestPerfectInstrumentsStay: whatever note is called, instruments that stand
// where theory has them are not called flat or sharp as one, and no main slide
// of theirs moves (harmonic series: the fifth partial lies 14 cents low, the
// seventh 31; arithmetic, as in any text on acoustics).
func TestPerfectInstrumentsStay(t *testing.T) {
	for _, note := range []string{"Bb4", "F4", "A4", "D5", "C5", "E4", "Eb4", "G4"} {
		b := newBench(t)
		var ps []*player
		for _, in := range []instrument.ID{"tuba_bbb", "euphonium_bb_bc", "tenor_trombone_bb", "horn_double", "trumpet_bb", "horn_f"} {
			ps = append(ps, b.join("P"+string(in), in))
		}
		b.call(note)
		for range 40 {
			i := slices.IndexFunc(ps, func(p *player) bool { return p.view().Listen })
			if i < 0 {
				break
			}
			ps[i].play(ps[i].byNature())
		}
		row := b.row()
		if row.Section.Set != row.Section.Present {
			t.Errorf("%s called: %d of %d perfect instruments are set", note, row.Section.Set, row.Section.Present)
		}
		if row.SayKind == "room" || strings.Contains(row.Section.Common, "as one") {
			t.Errorf("%s called: %q, %q of perfect instruments", note, row.Say, row.Section.Common)
		}
		for _, c := range row.Chairs {
			for _, m := range c.Moves {
				if m.ID == instrument.Main {
					t.Errorf("%s called: %s is told %q though it stands where theory has it", note, c.Label, c.Headline)
				}
			}
		}
	}
}

// TestSharpAsOneIsNotSentToWarmUp: warmth raises the pitch. The leader hears
// what can be done instead.
func TestSharpAsOneIsNotSentToWarmUp(t *testing.T) {
	b := newBench(t)
	var ps []*player
	for _, name := range []string{"A", "B", "C", "D", "E"} {
		ps = append(ps, b.join(name, "trumpet_bb"))
	}
	b.call("Bb4")
	for _, p := range ps {
		if b.row().SayKind == "room" {
			break
		}
		p.send(func(r *proto.Reading) { r.Hz = p.view().Target.Shift(14) })
		if p.view().Listen {
			b.do(hub.Command{Do: hub.DoNext})
		}
	}
	row := b.row()
	if row.SayKind != "room" || !strings.Contains(row.Say, "sharp as one") {
		t.Fatalf("the row says %q", row.Say)
	}
	last := ps[4] // heard once the leader had been told
	last.send(func(r *proto.Reading) { r.Hz = last.view().Target.Shift(14) })
	if got := last.view().Answer.Small; !strings.HasPrefix(got, "14 cents sharp") {
		t.Errorf("whoever is heard after the leader was told reads %q, need the cents", got)
	}
	said := row.Say + " " + row.Round.Sentence
	for _, c := range row.Round.Choices {
		said += " " + c.Label + " " + c.Words
	}
	for _, p := range ps {
		if a := p.view().Answer; a != nil {
			said += " " + a.Headline + " " + a.Detail + " " + a.Next
		}
	}
	if strings.Contains(strings.ToLower(said), "warm") {
		t.Errorf("a sharp section is told of warmth: %q", said)
	}
	for _, want := range []string{hub.DoAllMove, hub.DoFollow, hub.DoHearAgain} {
		if !slices.ContainsFunc(row.Round.Choices, func(c show.ChoiceRow) bool { return c.Do == want }) {
			t.Errorf("%q is not among the choices %+v", want, row.Round.Choices)
		}
	}
}
