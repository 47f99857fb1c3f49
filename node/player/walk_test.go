package player

import (
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"net/http/httptest"
	"strings"
	"testing"

	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

func one[T any](d *rand.Rand, of ...T) T { return of[d.IntN(len(of))] }

// drawn is what a page may be made from, by chance.
func drawn(seed uint64) state {
	d := rand.New(rand.NewPCG(seed, 11))
	note := one(d, "C5", "B♭4", "F#3", "D♯5", "E2", "", "somewhere")
	v := proto.View{
		Section: "Quay", Chair: "Horn 2", Instrument: one(d, "Horn in F", "Bb trumpet", ""), Phase: one(d, "", "play", "wait", "answer", "rest", "idle"), Say: "Said by the hub.",
		Written: note, Concert: one(d, "", note, "G4", "A♭3"), Fingering: one(d, "", "1-2", "open"), Clef: one(d, "", "bass", "treble", "tenor"), Names: one(d, "", "german", "elvish"),
		Listen: d.IntN(2) == 0, Round: int64(d.IntN(2)), Notes: one(d, nil, []string{"Rest."}), Language: one(d, "", "de", "fr"),
	}
	if d.IntN(2) == 0 {
		v.Key = new(d.IntN(15) - 7)
	}
	if d.IntN(4) == 0 {
		v.Tracks = 58
	}
	v.Path = d.IntN(6) == 0
	slide := func() proto.Slide {
		s := proto.Slide{ID: instrument.Main, Name: "main slide", FromMM: math.Round(d.Float64()*120) / 2, TravelMM: one(d, 0, 45, 90.0, 600)}
		s.ToMM = max(0, s.FromMM+math.Round(d.NormFloat64()*16)/2)
		return s
	}
	if d.IntN(2) == 0 {
		v.Slides = []proto.Slide{slide()}
	}
	if d.IntN(2) == 0 {
		v.Answer = &proto.Answer{ID: int64(1 + d.IntN(2)), Kind: one(d, "move", "stay", "again", "note", "rest"), Headline: "Head.", Detail: "Detail.", Next: "Next.", Small: "3 cents"}
		if v.Answer.Kind == "move" {
			v.Answer.Moves = []proto.Slide{slide()}
		}
	}
	l := Link{State: one(d, LinkSearching, LinkFound, LinkJoined, LinkJoined, LinkJoined, LinkLost, LinkRefused), Hub: one(d, "", "quay.local"), Found: one(d, nil, []string{"a", "b"}), Seated: one(d, nil, []string{"Horn 1", "Horn 2"})}
	if d.IntN(3) == 0 {
		l.Problem, l.Code, l.Hint = "the hub is full", one(d, "", "full", "wrong-code", "of another time"), one(d, "", "ask the leader")
	}
	return state{
		view: v, link: l, joining: d.IntN(5) == 0, paused: d.IntN(8) == 0, mute: one(d, "", "cup"), browser: one(d, "", "es"), moved: int64(d.IntN(3)), heard: d.IntN(6) == 0,
		sound: Sound{
			State: one(d, "", listen.Quiet, listen.Sounding, listen.Resting), Level: one(d, pitch.Level(-2), -20, -55), Floor: one(d, pitch.Level(0), -60, -40), Device: one(d, "", "a microphone", "a microphone"),
			Trouble: one(d, "", "", "clipping", "smoke"), Played: float64(d.IntN(140)), Enough: d.IntN(3) == 0,
		},
		wish: Wish{Name: "Abelard", Instrument: one[instrument.ID](d, "horn_f", "trumpet_bb", "tuba_bbb", "nose"), Names: one(d, "", "", "french"), Language: one(d, "", "", "de")},
	}
}

// TestWalk draws states of the page by chance and keeps a digest of its sheets: words and figures of our own, not truth.
func TestWalk(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(1500) {
		out.WriteString(golden.Fields(t, "", newSheet(drawn(seed), seed%2 == 0)))
	}
	golden.Lines(t, "walk.digest", golden.Digest(out.String()))
}

// TestASheetTellsTheFacts: whatever the page is made from, what is on it follows from that alone.
func TestASheetTellsTheFacts(t *testing.T) {
	for seed := range uint64(1500) {
		st := drawn(50000 + seed)
		sh := newSheet(st, true)
		sounds := st.sound.State == listen.Sounding || st.sound.State == listen.Resting
		joined := st.link.State == LinkJoined || st.link.State == LinkLost
		if (sh.Stage == "play") != joined {
			t.Errorf("%s: stage %s", st.link.State, sh.Stage)
		}
		if sh.Paused != st.paused || st.paused && (sh.Note != "" || sh.Answer != nil || sh.Dark || sh.Enough) {
			t.Errorf("paused, and the page shows %+v", sh)
		}
		if (sh.Warming != "") != (st.sound.Played < 120) {
			t.Errorf("%g s were played: %q", st.sound.Played, sh.Warming)
		}
		if st.paused {
			continue
		}
		if (sh.Note != "") != (st.view.Written != "") || (sh.Answer != nil) != (st.view.Answer != nil) {
			t.Errorf("of %+v the page has note %q and answer %+v", st.view, sh.Note, sh.Answer)
		}
		if sh.Dark != (st.view.Listen && sounds) {
			t.Errorf("listens %t, %s: dark %t", st.view.Listen, st.sound.State, sh.Dark)
		}
		if alone := st.view.Listen && st.view.Round != 0 && st.view.Tracks == 0 && !st.view.Path; sh.Enough != (alone && st.sound.Enough) {
			t.Errorf("enough heard %t, in a round of its own %t: the page tells it %t", st.sound.Enough, alone, sh.Enough)
		}
		if st.view.Written != "" && !strings.HasSuffix(sh.NoteSmall, st.view.Fingering) {
			t.Errorf("the fingering %s is not told: %q", st.view.Fingering, sh.NoteSmall)
		}
		if sh.Link.Words == "" || sh.Link.State != st.link.State || sh.Link.Joining != st.joining {
			t.Errorf("of %+v the page tells %+v", st.link, sh.Link)
		}
	}
}

// TestHowLongToPlayWarm: the time still to play is told in tens of seconds, rounded up, until two minutes were played.
func TestHowLongToPlayWarm(t *testing.T) {
	t0 := phrase.Tongue{}
	for played, left := range map[float64]int{0: 120, 1: 120, 9: 120, 10: 110, 11: 110, 111: 10, 119.9: 10} {
		if got, want := warmingWords(played, t0), t0.Say("player.warming", left); got != want {
			t.Errorf("after %g s: %q, want %q", played, got, want)
		}
	}
	for _, played := range []float64{120, 121, 1e6} {
		if got := warmingWords(played, t0); got != "" {
			t.Errorf("after %g s: %q", played, got)
		}
	}
}

// TestASlideIsDrawnToScale: where it stands and goes lie as far along as their millimetres, on the drawing as well; the
// marks lie even and each fifth one bears its millimetres; there are at most a dozen of these.
func TestASlideIsDrawnToScale(t *testing.T) {
	for _, travel := range []float64{0, 20, 45, 90, 121, 250, 600} {
		for _, from := range []float64{0, 3, 12.5, 40, 118} {
			for _, by := range []float64{-9, -1, 0.5, 6, 30} {
				to := max(0, from+by)
				d := drawSlide(proto.Slide{FromMM: from, ToMM: to, TravelMM: travel}, false, phrase.Tongue{})
				whole := max(travel, from+5, to+5)
				if travel == 0 {
					whole = max(whole, 40)
				}
				if math.Abs(d.From-100*from/whole) > 0.051 || math.Abs(d.To-100*to/whole) > 0.051 || d.To > 100 || d.From > 100 {
					t.Errorf("%g to %g of %g mm: drawn at %g to %g %%", from, to, travel, d.From, d.To)
				}
				labels := 0
				for i, tick := range d.Ticks {
					var mm float64
					if (tick.Label != "") != (i%5 == 0) {
						t.Fatalf("mark %d of %g mm is called %q", i, whole, tick.Label)
					}
					if tick.Label == "" {
						continue
					}
					labels++
					if _, err := fmt.Sscan(tick.Label, &mm); err != nil || math.Abs(tick.At-100*mm/whole) > 0.051 {
						t.Errorf("%q stands at %g %% of %g mm", tick.Label, tick.At, whole)
					}
				}
				last := d.Ticks[len(d.Ticks)-1].At
				if step := d.Ticks[1].At; labels > 13 || labels < 3 || d.Ticks[0].At != 0 || last > 100 || last+step+0.1 < 100 {
					t.Errorf("%d labels on %g mm, the last mark at %g %%", labels, whole, last)
				}
			}
		}
	}
}

// TestSignsOfAKey: a signature has as many signs as its key, sharps for more than none and flats for less; a note
// that the signature alters bears no sign of its own, and one that it does not keeps its own.
func TestSignsOfAKey(t *testing.T) {
	for key := -7; key <= 7; key++ {
		for letter := range 7 {
			s := newStaff(string("CDEFGAB"[letter])+"4", "treble", &key, phrase.Tongue{})
			if len(s.Signature) != max(key, -key) || (s.Sign == "") != (key == 0) || (s.Sign == "sharp") != (key > 0) {
				t.Fatalf("key %d: %+v", key, s)
			}
			altered := false
			for _, step := range s.Signature {
				altered = altered || ((step-s.Step)%7+7)%7 == 0
			}
			if (s.Accidental == "natural") != altered {
				t.Errorf("key %d, %c: %+v", key, "CDEFGAB"[letter], s)
			}
			if s.Sign == "" {
				continue
			}
			mark := map[string]string{"sharp": "♯", "flat": "♭"}[s.Sign]
			if s := newStaff(string("CDEFGAB"[letter])+mark+"4", "treble", &key, phrase.Tongue{}); (s.Accidental == "") != altered {
				t.Errorf("key %d, %c%s: %+v", key, "CDEFGAB"[letter], mark, s)
			}
		}
	}
}

// TestNoStaffForNoNote: what is no note, or lies beyond what players read, has no place on the staff.
func TestNoStaffForNoNote(t *testing.T) {
	for written, placed := range map[string]bool{"C5": true, "B♭4": true, "B♭": false, "": false, "H4": false, "C9": false, "Cx": false, "C-2": false} {
		if s := newStaff(written, "treble", nil, phrase.Tongue{}); (s != nil) != placed {
			t.Errorf("%q: %+v", written, s)
		}
	}
	if newStaff("C5", "mezzo", nil, phrase.Tongue{}) != nil {
		t.Error("a clef that nobody reads")
	}
}

// TestWhatAMicrophoneMayBe: a page with a rate that capture takes, in one of two formats and with a name of at most 200
// bytes, is a microphone.
func TestWhatAMicrophoneMayBe(t *testing.T) {
	good := micHelloMessage{Version: 1, Rate: 48000, Format: "f32", Device: "a microphone"}
	for what, h := range map[string]struct {
		change func(*micHelloMessage)
		ok     bool
	}{
		"as it should be": {func(h *micHelloMessage) {}, true}, "16 bits": {func(h *micHelloMessage) { h.Format = "s16" }, true},
		"the least rate": {func(h *micHelloMessage) { h.Rate = capture.MinRate }, true}, "the highest": {func(h *micHelloMessage) { h.Rate = capture.MaxRate }, true},
		"less": {func(h *micHelloMessage) { h.Rate = capture.MinRate - 1 }, false}, "more": {func(h *micHelloMessage) { h.Rate = capture.MaxRate + 1 }, false},
		"no rate": {func(h *micHelloMessage) { h.Rate = math.NaN() }, false}, "another version": {func(h *micHelloMessage) { h.Version = 2 }, false},
		"another format": {func(h *micHelloMessage) { h.Format = "f64" }, false}, "a long name": {func(h *micHelloMessage) { h.Device = strings.Repeat("x", 201) }, false},
		"a name as long as can be": {func(h *micHelloMessage) { h.Device = strings.Repeat("x", 200) }, true}, "a name that is no text": {func(h *micHelloMessage) { h.Device = "\xff" }, false},
	} {
		m := good
		if h.change(&m); (m.check() == nil) != h.ok {
			t.Errorf("%s: %v", what, m.check())
		}
	}
	if (&micSource{page: &micPage{}}).Trouble() != "" || (&micSource{page: &micPage{hello: micHelloMessage{Gain: true}}}).Trouble() != "processing-on" {
		t.Error("what a browser does to the sound is not told, or told of one that does nothing")
	}
	if m := NewMicrophone(nil); m.attach() != nil || m.Status().Connected {
		t.Error("a microphone without a page has a source")
	}
}

// TestOnlyThisPageAsks: a post may come from the very page, over HTTP, or from no page; not from two, from another host or
// port, or over TLS, where this page never is.
func TestOnlyThisPageAsks(t *testing.T) {
	for _, tt := range []struct {
		origins []string
		ok      bool
	}{
		{nil, true}, {[]string{"http://localhost:7441"}, true}, {[]string{"http://LOCALHOST:7441"}, true}, {[]string{"https://localhost:7441"}, false}, {[]string{"http://localhost:7442"}, false},
		{[]string{"null"}, false}, {[]string{"http://localhost:7441", "http://localhost:7441"}, false}, {[]string{"http://localhost:7441", "http://evil.example"}, false}, {[]string{"http://%"}, false},
	} {
		r := httptest.NewRequest("POST", "/", nil)
		r.Host = "localhost:7441"
		r.Header["Origin"] = tt.origins
		if sameOrigin(r) != tt.ok {
			t.Errorf("origins %q: let in %t", tt.origins, !tt.ok)
		}
	}
}

// TestFramesCountFromTheFirst: whatever number a page begins with, nothing is missing before it; what is missing later is
// counted; a frame of no samples is none.
func TestFramesCountFromTheFirst(t *testing.T) {
	frame := func(first uint64, samples int) []byte {
		return append(binary.LittleEndian.AppendUint64(nil, first), make([]byte, 4*samples)...)
	}
	p := micPage{hello: micHelloMessage{Format: "f32"}}
	for _, f := range []struct {
		first   uint64
		samples int
		lost    int64
		ok      bool
	}{{5000, 10, 0, true}, {5010, 4, 0, true}, {5020, 6, 6, true}, {5026, 0, 0, false}, {5025, 1, 0, false}, {5026, 1, 0, true}} {
		lost, err := p.decode(frame(f.first, f.samples))
		if (err == nil) != f.ok || lost != f.lost {
			t.Errorf("%+v: lost %d, %v", f, lost, err)
		}
	}
}

// TestAskingEndsWithAnAnswer: a player who has asked for a seat is told so until the hub has seated or refused them.
func TestAskingEndsWithAnAnswer(t *testing.T) {
	for _, l := range []LinkState{LinkSearching, LinkFound, LinkJoined, LinkLost, LinkRefused} {
		s := &Server{viewers: map[chan struct{}]struct{}{}}
		s.state.joining = true
		s.ShowLink(Link{State: l})
		if ended := l == LinkJoined || l == LinkRefused; s.state.joining == ended {
			t.Errorf("%s: still asks %t", l, !ended)
		}
	}
}
