package session_test

import (
	"slices"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// fMajor calls F major for a tuba, a horn, a trombone and a trumpet, which
// all play it but the trumpet, whose F lies so many cents away.
func (b *bench) fMajor(trumpet pitch.Cents) (ps []*player) {
	ps = append(ps, b.join("tuba", "tuba_bbb"), b.join("horn", "horn_f"), b.join("trombone", "tenor_trombone_bb"), b.join("trumpet", "trumpet_bb"))
	tones := map[hub.ChairID]pitch.Note{}
	for i, note := range []string{"F2", "C4", "A3", "F4"} {
		n, err := pitch.ParseNote(note)
		if err != nil {
			b.t.Fatal(err)
		}
		tones[ps[i].chair] = n
	}
	b.do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "F major", Tones: tones, Only: true}})
	b.playChord(ps, map[*player]pitch.Cents{ps[3]: trumpet})
	return ps
}

// playChord lets everybody who is asked answer once.
func (b *bench) playChord(ps []*player, off map[*player]pitch.Cents) {
	b.t.Helper()
	for range ps {
		if i := slices.IndexFunc(ps, func(p *player) bool { return p.view().Phase == "play" }); i >= 0 {
			ps[i].play(off[ps[i]])
		}
	}
}

// TestAnotherFingering: F4 on the trumpet is open, and no slide serves it; with
// 1-3 the third valve's slide does (the usual fingering charts, e.g. J. B.
// Arban, Grande méthode, 1864).
func TestAnotherFingering(t *testing.T) {
	b := newBench(t)
	ps := b.fMajor(14)
	trumpet := ps[3]
	c := trumpet.row()
	if c.Fingering != "open" || !slices.Contains(c.Fingerings, "1-3") || len(c.Moves) > 0 {
		t.Fatalf("the trumpet has %q of %q and the moves %+v, want open, 1-3 among others and no move", c.Fingering, c.Fingerings, c.Moves)
	}
	for _, wrong := range []string{"2", "4th position", "loud"} {
		if err := b.hub.Command(t.Context(), hub.Command{Do: hub.DoFingering, Chair: trumpet.chair, Name: wrong}); err == nil {
			t.Errorf("F4 with %q was accepted", wrong)
		}
	}
	b.do(hub.Command{Do: hub.DoFingering, Chair: trumpet.chair, Name: "1-3"})
	if v := trumpet.wants("play"); v.Fingering != "1-3" {
		t.Errorf("the player is told %q, want 1-3", v.Fingering)
	}
	trumpet.play(14)
	c = trumpet.row()
	if len(c.Moves) == 0 || !strings.Contains(b.row().Say, "Trumpet") && !strings.Contains(b.row().Say, "trumpet") {
		t.Errorf("after 14 cents high with 1-3: %+v, and %q", c, b.row().Say)
	}
	for _, m := range c.Moves {
		if m.ID == instrument.Main {
			t.Errorf("%+v: the main slide is not for chords", m)
		}
	}
	b.restart(ps...)
	if got := trumpet.row().Fingering; got != "1-3" {
		t.Errorf("after a restart it is %q, want 1-3", got)
	}
	b.do(hub.Command{Do: hub.DoTone, Chair: trumpet.chair, Note: 69})
	if got := trumpet.row().Fingering; got == "1-3" {
		t.Error("A4 is still said to be played 1-3")
	}
}

// TestAnotherTone: who gets another tone is heard on it, and the others keep
// what was heard of them; the old note is not judged as the new one.
func TestAnotherTone(t *testing.T) {
	b := newBench(t)
	ps := b.fMajor(0)
	trumpet := ps[3]
	b.do(hub.Command{Do: hub.DoTone, Chair: trumpet.chair, Note: 69}) // A4
	if v := trumpet.wants("play"); v.Written != "B4" {
		t.Errorf("the trumpet is asked for %q, want B4", v.Written)
	}
	for _, p := range ps[:3] {
		p.wants("answer")
	}
	trumpet.play(0)
	if r := b.row(); !r.Round.Done || !strings.Contains(r.Say, "rings") {
		t.Errorf("%q, want a chord that rings", r.Say)
	}
	b.do(hub.Command{Do: hub.DoUndo})
	if got := trumpet.row().Concert; got != "F4" {
		t.Errorf("after undo the trumpet plays %s, want F4", got)
	}
}

// TestChordAgain: one tone is judged with the others as they were heard, so
// that a group that is flat as one stays where it is; the whole chord is
// called again as it was.
func TestChordAgain(t *testing.T) {
	b := newBench(t)
	ps := b.fMajor(0)
	off := map[*player]pitch.Cents{ps[0]: -12, ps[1]: -12, ps[2]: -12, ps[3]: 6}
	b.do(hub.Command{Do: hub.DoAgain})
	b.playChord(ps, off)
	if got := ps[3].row().Verdict; got != "out" {
		t.Errorf("the trumpet is %q, want out, 18 cents above the others", got)
	}
	b.do(hub.Command{Do: hub.DoAgain, Chair: ps[3].chair})
	for _, p := range ps[:3] {
		p.wants("answer")
	}
	ps[3].wants("play")
	ps[3].play(-12)
	if r := b.row(); !strings.Contains(r.Say, "rings") || !strings.Contains(r.Say, "12 cents flat as one") {
		t.Errorf("%q, want a chord that rings, 12 cents flat as one", r.Say)
	}
}

// TestPropose hands a chord out as the call does.
func TestPropose(t *testing.T) {
	b := newBench(t)
	ps := b.quartet()
	p, err := b.hub.Propose("E♭ minor seventh, first inversion")
	if err != nil || len(p.Tones) != len(ps) {
		t.Fatalf("%+v, %v, want a tone for each of %d", p, err, len(ps))
	}
	b.do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: p.Chord.Name()}})
	for _, pl := range ps {
		if got, want := pl.row().Concert, p.Tones[pl.chair].Display(); got != want {
			t.Errorf("%s plays %s, proposed was %s", pl.name, got, want)
		}
	}
	if _, err := b.hub.Propose("X major"); err == nil {
		t.Error("X major was accepted")
	}
}

// TestShapeOfLoudness: a shape that is none is refused with the call.
func TestShapeOfLoudness(t *testing.T) {
	b := newBench(t)
	b.quartet()
	c := hub.Call{Kind: hub.CallChord, Chord: "F major", Shape: "top-heavy"}
	if err := b.hub.Command(t.Context(), hub.Command{Do: hub.DoCall, Call: &c}); err == nil {
		t.Error("top-heavy was accepted")
	}
	c.Shape = "bottom-heavy"
	b.do(hub.Command{Do: hub.DoCall, Call: &c})
}

// TestTracksFollowTheChord: the partials of a chord's tones are multiples of
// the lowest, or of the root below an inversion, by the ratios 5/4 and 3/2; the
// minor third 6/5 is near a multiple of neither, and the grid holds it.
func TestTracksFollowTheChord(t *testing.T) {
	for _, tt := range []struct {
		chord string
		notes [4]pitch.Note
		want  pitch.Hertz // 0: a grid finer than any note
	}{
		{"Bb major", [4]pitch.Note{34, 53, 62, 70}, 58.27},
		{"Bb major, first inversion", [4]pitch.Note{50, 53, 58, 70}, 29.14},
		{"Bb minor", [4]pitch.Note{34, 53, 61, 70}, 0},
	} {
		t.Run(tt.chord, func(t *testing.T) {
			b := newBench(t)
			ps := b.quartet()
			tones := map[hub.ChairID]pitch.Note{}
			for i, p := range ps {
				p.tracks()
				tones[p.chair] = tt.notes[i]
			}
			b.callTogether(hub.Call{Kind: hub.CallChord, Chord: tt.chord, Tones: tones})
			got := ps[0].wants("play").Tracks
			if tt.want == 0 && (got < track.MinReference || got > 12) || tt.want > 0 && (got < tt.want-0.1 || got > tt.want+0.1) {
				t.Errorf("tracks are asked around %v, want %v", got, tt.want)
			}
		})
	}
}
