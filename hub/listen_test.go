package hub_test

import (
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// holds delivers what a player holds in a listening round.
func (p *player) holds(note string, cents pitch.Cents) {
	p.t.Helper()
	n, err := pitch.ParseNote(note)
	if err != nil {
		p.t.Fatal(err)
	}
	p.send(func(r *proto.Reading) { r.Hz = pitch.Reference{}.Frequency(n).Shift(cents) })
}

// quartet joins four chairs, low to high.
func (b *bench) quartet() []*player {
	var ps []*player
	for _, in := range []instrument.ID{"tuba_bbb", "tenor_trombone_bb", "horn_f", "trumpet_bb"} {
		ps = append(ps, b.join(string(in), in))
	}
	return ps
}

// listenTo runs a listening round with the real attribution and no tracks.
func listenTo(t *testing.T, test func(b *bench, ps []*player)) {
	togetherBench(t, nil, func(b *bench) { test(b, b.quartet()) })
}

// TestListenNamesTheChord: which notes make which chord is spelled out by any
// harmony book (e.g. W. Piston, Harmony, 1941, chapter 2); a sixth chord and
// the minor seventh a third below share their notes.
func TestListenNamesTheChord(t *testing.T) {
	for _, tt := range []struct {
		name  string
		notes [4]string // low to high
		cents [4]pitch.Cents
		say   string // begins the sentence
		heard []string
	}{
		{"a triad", [4]string{"Bb1", "F3", "D4", "Bb4"}, [4]pitch.Cents{3, -2, -10, 4}, "B♭ major. Choose it", []string{"B♭ major"}},
		{"a first inversion", [4]string{"D2", "Bb3", "F4", "Bb4"}, [4]pitch.Cents{}, "B♭ major, first inversion. Choose it", []string{"B♭ major, first inversion"}},
		{"flat as one", [4]string{"C2", "G3", "Eb4", "C5"}, [4]pitch.Cents{-18, -15, -19, -16}, "C minor. Choose it", []string{"C minor"}},
		{"a unison in octaves", [4]string{"Bb1", "Bb3", "Bb3", "Bb4"}, [4]pitch.Cents{2, -3, 4, 0}, "All play B♭: call it as a note.", nil},
		{"a cluster", [4]string{"C2", "C#3", "D4", "Eb5"}, [4]pitch.Cents{}, "No known chord fits", nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			listenTo(t, func(b *bench, ps []*player) {
				b.do(hub.Command{Do: hub.DoListen})
				for i, p := range ps {
					v := p.wants("play")
					if v.Say != "Hold your note of the chord." || v.Written != "" || v.Target != 0 || v.Tracks != 0 || !v.Listen || v.Round == 0 {
						t.Errorf("%s is asked %+v, want to hold a note of its own", p.name, v)
					}
					p.holds(tt.notes[i], tt.cents[i])
				}
				time.Sleep(time.Second)
				synctest.Wait()
				r := b.row()
				if !strings.HasPrefix(r.Say, tt.say) || r.Round.Sentence != r.Say || !r.Round.Done || !r.Round.Listening {
					t.Errorf("the row says %q (%q), want %q…", r.Say, r.Round.Sentence, tt.say)
				}
				var got []string
				for _, h := range r.Round.Heard {
					got = append(got, h.Name)
				}
				if !slices.Equal(got, tt.heard) {
					t.Errorf("heard %q, want %q", got, tt.heard)
				}
				for _, p := range ps {
					v, c := p.wants("answer"), p.row()
					if v.Answer.Kind != "stay" || len(v.Answer.Moves) > 0 || c.Verdict != "" || c.Cents != nil || len(c.History) > 0 || c.State != "heard" {
						t.Errorf("%s has %+v and %+v before a chord is chosen, want heard and no more", p.name, v.Answer, c)
					}
				}
				if r.Section.Set != 0 || r.Section.Heard != 4 || r.Section.Common != "" {
					t.Errorf("the section is %+v, want four heard and nothing judged", r.Section)
				}
			})
		})
	}
}

// TestListenDoubt: notes that two chords share are offered as both.
func TestListenDoubt(t *testing.T) {
	listenTo(t, func(b *bench, ps []*player) {
		b.do(hub.Command{Do: hub.DoListen})
		for i, n := range []string{"Bb1", "F3", "D4", "G4"} {
			ps[i].holds(n, 0)
		}
		time.Sleep(time.Second)
		synctest.Wait()
		r := b.row()
		for _, want := range []string{"Could be ", "B♭ sixth", " or ", "G minor seventh", "Choose the one you mean."} {
			if !strings.Contains(r.Say, want) {
				t.Errorf("the row says %q, want both B♭ sixth and G minor seventh", r.Say)
			}
		}
		if len(r.Round.Heard) < 2 {
			t.Errorf("%+v can be chosen, want two at least", r.Round.Heard)
		}
	})
}

// TestListenThenChoose: the chosen chord is judged by the notes that were
// heard; a pure major third lies 13.7 cents below the tempered one (5/4; any
// table of intervals, e.g. Helmholtz, On the Sensations of Tone, 1885).
func TestListenThenChoose(t *testing.T) {
	listenTo(t, func(b *bench, ps []*player) {
		b.do(hub.Command{Do: hub.DoListen})
		ps[0].holds("Bb1", 0)
		ps[1].holds("F3", 2)
		ps[2].holds("D4", 12) // some 26 cents above the pure third
		ps[3].holds("Bb4", 0)
		time.Sleep(time.Second)
		synctest.Wait()
		before := b.row().Chairs
		b.do(hub.Command{Do: hub.DoChoose, Name: b.row().Round.Heard[0].Name})
		r := b.row()
		if r.Round.Chord != "B♭ major" || r.Round.Listening || !r.Round.Done || r.Round.Heard != nil {
			t.Fatalf("round %+v, want B♭ major judged without playing again", r.Round)
		}
		if !strings.Contains(r.Say, "third") {
			t.Errorf("the row says %q, want the high third named", r.Say)
		}
		c := ps[2].row()
		if c.Concert != "D4" || c.Written != "A4" || c.Cents == nil || *c.Cents < 20 || c.Verdict != "out" {
			t.Errorf("the horn stands as %+v, want D4 (written A4), out by more than 20 cents", c)
		}
		if !strings.Contains(c.Detail, "This note can also be played ") {
			t.Errorf("the horn is told %q, want its other fingerings", c.Detail)
		}
		if c := ps[0].row(); c.Verdict != "set" || c.Concert != "B♭1" {
			t.Errorf("the tuba stands as %+v, want B♭1, set", c)
		}

		b.do(hub.Command{Do: hub.DoUndo})
		if after := b.row(); !after.Round.Listening || !equal(after.Chairs, before) {
			t.Errorf("after undo:\n%+v\nwant as before:\n%+v", after.Chairs, before)
		}
		b.do(hub.Command{Do: hub.DoChoose})
		chosen := b.row()
		b.restart(ps...)
		if again := b.row(); again.Round.Chord != chosen.Round.Chord || again.Say != chosen.Say {
			t.Errorf("after a restart %q (%s), want %q", again.Say, again.Round.Chord, chosen.Say)
		}
	})
}

// TestListenInTurn: who could not be told apart holds the note alone, and who
// is asked again keeps the others' notes.
func TestListenInTurn(t *testing.T) {
	o := &oracle{answer: map[int64]attribute.ChairResult{}}
	togetherBench(t, o, func(b *bench) {
		ps := b.quartet()
		b.do(hub.Command{Do: hub.DoListen})
		o.answer[int64(ps[3].chair)] = attribute.ChairResult{Verdict: attribute.Together}
		for i, n := range []string{"F1", "C3", "A3", "F3"} {
			ps[i].holds(n, 0)
		}
		time.Sleep(time.Second)
		synctest.Wait()
		if v := ps[3].wants("play"); !strings.Contains(b.row().Say, "holds a note of the chord") && v.Round == 0 {
			t.Errorf("the row says %q, the trumpet is asked %+v", b.row().Say, v)
		}
		ps[3].holds("Eb5", -10)
		if say := b.row().Say; !strings.HasPrefix(say, "F dominant seventh") {
			t.Errorf("the row says %q, want F dominant seventh", say)
		}
		b.do(hub.Command{Do: hub.DoAgain, Chair: ps[3].chair})
		ps[3].wants("play")
		ps[0].wants("answer")
		ps[3].holds("F5", 0)
		if say := b.row().Say; !strings.HasPrefix(say, "F major") {
			t.Errorf("the row says %q, want F major once the trumpet plays F", say)
		}
		for _, c := range []hub.Command{{Do: hub.DoTone, Chair: ps[0].chair, Note: 41}, {Do: hub.DoChoose, Name: "H major"}} {
			if err := b.hub.Command(t.Context(), c); err == nil {
				t.Errorf("%s %s is taken while listening, want a refusal", c.Do, c.Name)
			}
		}
		b.do(hub.Command{Do: hub.DoAgain})
		ps[0].wants("play")
	})
	b := newBench(t)
	b.quartet()
	for _, do := range []string{hub.DoChoose} {
		if err := b.hub.Command(t.Context(), hub.Command{Do: do}); err == nil {
			t.Errorf("%s without listening: no error", do)
		}
	}
}
