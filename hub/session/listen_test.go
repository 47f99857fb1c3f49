package session_test

import (
	"math"
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
	"bellrow/proto/track"
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

// byThemselves is what the row adds where no tracks came.
const byThemselves = " Each laptop was believed by itself: no partial tracks came with the sound."

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
				if !strings.HasPrefix(r.Say, tt.say) || r.Round.Sentence != r.Say+byThemselves || !r.Round.Done || !r.Round.Listening {
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

// tracks lets a player's laptop send tracks, with a clock that the hub knows.
func (p *player) tracks() {
	p.t.Helper()
	if _, err := p.hub.Join(p.t.Context(), hub.Peer{Node: p.node, Boot: p.boot, Chair: p.name, Instrument: p.instrument, Tracks: true}); err != nil {
		p.t.Fatal(err)
	}
	p.hub.Clock(p.chair, proto.Ping{ID: 1, Sent: 10, Offset: 0.5, Error: 0.005, Sample: 480000})
}

// chunk sends an empty stretch of tracks from a second of the player's count.
func (p *player) chunk(reference pitch.Hertz, at float64) {
	p.hub.Track(p.chair, track.Chunk{Reference: reference, First: int64(at * 48000), Rate: 48000, Floor: -60, Level: -20})
}

// TestListenTellsPlayersApart: what many microphones say of who plays what
// holds, and a chair without tracks is left to its own laptop, which the leader
// is told.
func TestListenTellsPlayersApart(t *testing.T) {
	o := &oracle{answer: map[int64]attribute.ChairResult{}}
	togetherBench(t, o, func(b *bench) {
		ps := b.quartet()
		for i, p := range ps {
			if i != 2 {
				p.tracks()
			}
		}
		b.do(hub.Command{Do: hub.DoListen})
		notes := []string{"Bb1", "F3", "Db4", "Bb4"}
		for i, p := range ps {
			v := p.wants("play")
			if i == 2 {
				if v.Tracks != 0 {
					t.Errorf("%s is asked for tracks it cannot send", p.name)
				}
			} else {
				if v.Tracks < track.MinReference || v.Tracks > 12 {
					t.Errorf("%s is asked for tracks around %v, want a grid too fine for gaps", p.name, v.Tracks)
				}
				o.answer[int64(p.chair)] = attribute.ChairResult{Verdict: attribute.Sounding, Hz: pitch.Reference{}.Frequency([]pitch.Note{34, 53, 61, 70}[i]).Shift(-3), CI95: 0.2}
				for at := 12.0; at < 14; at += 0.25 {
					p.chunk(v.Tracks, at)
				}
			}
			p.holds(notes[i], 0)
		}
		time.Sleep(time.Second)
		synctest.Wait()
		for _, c := range o.got.Chairs {
			i := slices.IndexFunc(ps, func(p *player) bool { return int64(p.chair) == c.ID })
			want := pitch.Reference{}.Frequency([]pitch.Note{34, 53, 61, 70}[i])
			if math.Abs(float64(c.Expected-want)) > 0.1 {
				t.Errorf("player %d of the fit is expected at %v, want %v as its laptop heard", i, c.Expected, want)
			}
			if (len(c.Chunks) == 0) != (i == 2) {
				t.Errorf("player %d of the fit has %d chunks", i, len(c.Chunks))
			}
		}
		r := b.row()
		if !strings.HasPrefix(r.Say, "B♭ minor. Choose it") {
			t.Errorf("the row says %q, want B♭ minor", r.Say)
		}
		if want := "The laptop of horn_f was believed by itself: its tracks did not tell."; !strings.HasSuffix(r.Round.Sentence, want) {
			t.Errorf("the row adds %q, want %q", r.Round.Sentence, want)
		}
		b.do(hub.Command{Do: hub.DoChoose})
		for i, p := range ps {
			if c := p.row(); c.Cents == nil || i != 2 && (c.CI == nil || math.Abs(*c.CI-0.2*math.Sqrt2) > 1e-9) {
				t.Errorf("%s stands as %+v, want what many microphones said", p.name, c)
			}
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
		time.Sleep(2 * time.Second) // a note takes its time
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
		for _, c := range []hub.Command{{Do: hub.DoTone, Chair: ps[0].chair, Note: 41}, {Do: hub.DoChoose, Name: "X major"}} {
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
