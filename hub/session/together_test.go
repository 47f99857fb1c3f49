package session_test

import (
	"bytes"
	"context"
	"log/slog"
	"math"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/ensemble"
	"bellrow/hub/mem"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// oracle is an attributor that was told the answers.
type oracle struct {
	got    attribute.Input
	answer map[int64]attribute.ChairResult
	pairs  []attribute.Pair
}

func (o *oracle) Fit(in attribute.Input) attribute.Result {
	o.got = in
	res := attribute.Result{Pairs: o.pairs}
	for _, c := range in.Chairs {
		r, ok := o.answer[c.ID]
		if !ok {
			r = attribute.ChairResult{Verdict: attribute.NoTracks, Hz: c.Own.Hz}
			res.Fallback = true
		}
		r.ID = c.ID
		res.Chairs = append(res.Chairs, r)
	}
	return res
}

// togetherBench runs a hub in a synctest bubble.
func togetherBench(t *testing.T, o ensemble.Attributor, test func(b *bench)) {
	synctest.Test(t, func(t *testing.T) {
		b := &bench{t: t, store: mem.New(), attributor: o}
		b.start()
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		h := b.hub
		go func() { _ = h.Run(ctx); close(done) }()
		defer func() { cancel(); <-done }()
		test(b)
	})
}

func (b *bench) callTogether(c hub.Call) {
	b.t.Helper()
	c.Together = true
	b.do(hub.Command{Do: hub.DoCall, Call: &c})
}

func TestTogetherEachLaptopByItself(t *testing.T) {
	o := &oracle{}
	togetherBench(t, o, func(b *bench) {
		tuba, horn, trumpet := b.trio()
		b.callTogether(hub.Call{Note: 70})
		for _, p := range []*player{tuba, horn, trumpet} {
			p.wants("play")
		}
		tuba.play(9)
		tuba.wants("wait") // no answer before the others
		horn.play(-8)
		if say := b.row().Say; say != "2 of 3 heard." {
			t.Errorf("the row says %q", say)
		}
		trumpet.play(0)
		time.Sleep(time.Second)
		for _, p := range []*player{tuba, horn, trumpet} {
			p.wants("answer")
		}
		if r := b.row().Round; !r.Done || !strings.Contains(r.Sentence, "by itself") {
			t.Errorf("round %+v, want it done and the fallback told", r)
		}
	})
}

func TestTogetherGoesOnInTurns(t *testing.T) {
	o := &oracle{answer: map[int64]attribute.ChairResult{}}
	togetherBench(t, o, func(b *bench) {
		tuba, horn, trumpet := b.trio()
		silent := b.join("Dee", "euphonium_bb_bc")
		b.callTogether(hub.Call{Note: 70})
		target := tuba.view().Target
		o.answer[int64(tuba.chair)] = attribute.ChairResult{Verdict: attribute.Sounding, Hz: target.Shift(-15), CI95: 0.3}
		o.answer[int64(horn.chair)] = attribute.ChairResult{Verdict: attribute.Together}
		o.answer[int64(trumpet.chair)] = attribute.ChairResult{Verdict: attribute.Overheard}
		o.answer[int64(silent.chair)] = attribute.ChairResult{Verdict: attribute.Silent}
		o.pairs = []attribute.Pair{{A: int64(horn.chair), B: int64(trumpet.chair)}}
		tuba.play(30) // its own microphone was misled
		horn.play(2)
		trumpet.play(2)
		time.Sleep(2 * time.Second)
		horn.wants("wait") // the fourth player may still come
		time.Sleep(5 * time.Second)
		synctest.Wait()

		tuba.wants("answer")
		if row := tuba.row(); row.Cents == nil || *row.Cents > -14.9 || *row.Cents < -15.1 || math.Abs(*row.CI-0.3*math.Sqrt2) > 1e-9 {
			t.Errorf("the tuba stands at %v, want -15 from all microphones", row.Cents)
		}
		if r := b.row(); !strings.Contains(r.Say, "cannot be told apart") && !strings.Contains(r.Round.Sentence, "cannot be told apart") {
			t.Errorf("the leader is not told why: %q, %q", r.Say, r.Round.Sentence)
		}
		for _, p := range []*player{horn, silent, trumpet} { // low to high
			p.wants("play")
			p.play(0)
			p.wants("answer")
		}
		if !b.row().Round.Done {
			t.Error("not done")
		}
		if len(o.got.Chairs) != 4 {
			t.Errorf("the fit was given %d chairs, want 4", len(o.got.Chairs))
		}
	})
}

func TestTogetherTwoSoundsInOneMicrophoneAreNotBelieved(t *testing.T) {
	o := &oracle{}
	togetherBench(t, o, func(b *bench) {
		tuba, horn, trumpet := b.trio()
		b.callTogether(hub.Call{Note: 70})
		tuba.play(9)
		horn.send(func(r *proto.Reading) { r.Second = &proto.Second{Offset: 7, LevelDB: -3} })
		trumpet.play(0)
		time.Sleep(time.Second)
		tuba.wants("answer")
		horn.wants("play")
		if row := horn.row(); row.Cents != nil {
			t.Errorf("the horn's mixed sound counts: %v", *row.Cents)
		}
	})
}

func TestTogetherSurvivesARestart(t *testing.T) {
	o := &oracle{}
	togetherBench(t, o, func(b *bench) {
		tuba, horn, trumpet := b.trio()
		b.callTogether(hub.Call{Note: 70})
		tuba.play(9)
		horn.play(9)
		b.restart(tuba, horn, trumpet)
		ctx, cancel := context.WithCancel(b.t.Context())
		done := make(chan struct{})
		h := b.hub
		go func() { _ = h.Run(ctx); close(done) }()
		defer func() { cancel(); <-done }()
		tuba.wants("wait")
		trumpet.wants("play")
		trumpet.play(0)
		time.Sleep(6 * time.Second)
		tuba.wants("answer")
		if n := len(tuba.row().History); n != 1 {
			t.Errorf("%d counted readings, want 1", n)
		}
	})
}

func TestRoomIsSaidOnceInPlaceOfMoves(t *testing.T) {
	b := newBench(t)
	players := []*player{
		b.join("A", "tuba_bbb"), b.join("B", "tenor_trombone_bb"), b.join("C", "horn_f"), b.join("D", "trumpet_bb"), b.join("E", "trumpet_bb"),
	}
	b.call("Bb4")
	offsets := map[*player]pitch.Cents{players[0]: -9, players[1]: -11, players[2]: -10, players[3]: -12, players[4]: -8}
	first := 0
	for range players {
		for p, c := range offsets {
			if p.view().Phase == "play" {
				p.play(c)
				if p.view().Answer.Kind == "move" {
					first++
				}
				break
			}
		}
	}
	row := b.row()
	if row.SayKind != "room" || !strings.Contains(row.Say, "cents flat as one") {
		t.Errorf("the row says %q (%s)", row.Say, row.SayKind)
	}
	for _, p := range players {
		if a := p.view().Answer; a.Kind != "stay" || len(a.Moves) != 0 {
			t.Errorf("%s is still sent to the slide: %+v", p.name, a)
		}
	}
	if s := b.hub.Summary(); len(s.Chairs[0].Moves) != 0 {
		t.Errorf("withdrawn moves in the summary: %v", s.Chairs[0].Moves)
	}
	if first == 0 {
		t.Error("no move was ever given: the test shows nothing")
	}
	b.restart(players...)
	if got := b.row(); got.Say != row.Say {
		t.Errorf("after a restart the row says %q", got.Say)
	}
	b.do(hub.Command{Do: hub.DoMoves})
	for _, p := range players {
		if a := p.view().Answer; a.Kind != "move" {
			t.Errorf("%s: %+v, want the move after all", p.name, a)
		}
	}
	if b.row().SayKind == "room" {
		t.Error("the room is said again")
	}
}

func TestNoRoomWhereOneStandsOut(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	for i, p := range []*player{tuba, horn, trumpet} {
		p.play([]pitch.Cents{12, -11, 14}[i])
	}
	if row := b.row(); row.SayKind == "room" {
		t.Errorf("the row says %q", row.Say)
	}
}

func TestNoRoomNextToAFixedPitch(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	s := b.hub.Section()
	s.FixedPitch = true
	b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	b.call("Bb4")
	for _, p := range []*player{tuba, horn, trumpet} {
		p.play(-10)
		if k := p.view().Answer.Kind; k != "move" {
			t.Errorf("%s: %s, want a move: the keyboard cannot come to them", p.name, k)
		}
		p.playOut()
	}
}

func TestChordIsJudgedWhole(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.do(hub.Command{Do: hub.DoCall, Call: &hub.Call{
		Kind: hub.CallChord, Chord: "Bb major", Anchor: "bass", Tuning: "just",
		Tones: map[hub.ChairID]pitch.Note{tuba.chair: 46, horn.chair: 65, trumpet.chair: 74},
	}})
	tuba.play(0)
	if a := tuba.wants("answer").Answer; a.Code != "heard" {
		t.Errorf("a chord tone alone was judged: %+v", a)
	}
	horn.play(0)
	trumpet.send(func(r *proto.Reading) { // an equal-tempered third
		r.Hz = pitch.Reference{}.Frequency(74)
	})
	row := trumpet.row()
	// A just major third of 5/4 is 13.686 cents narrower than a tempered one
	// (Helmholtz, On the Sensations of Tone, Ellis's appendix).
	if row.Cents == nil || *row.Cents < 13.6 || *row.Cents > 13.8 {
		t.Errorf("a tempered third stands %v cents from a just one, want 13.69", row.Cents)
	}
	r := b.row()
	if !r.Round.Done || r.Round.Sentence == "" || r.Say != r.Round.Sentence {
		t.Errorf("round %+v says %q", r.Round, r.Say)
	}
	if horn.row().Verdict != "set" {
		t.Errorf("the fifth is %q", horn.row().Verdict)
	}
	moves, err := b.store.Moves(t.Context(), b.hub.Section().ID, time.Time{})
	if err != nil || len(moves) != 0 {
		t.Errorf("a chord moved slides for good: %v (%v)", moves, err)
	}
	b.restart(tuba, horn, trumpet)
	if got := b.row(); got.Round.Sentence != r.Round.Sentence {
		t.Errorf("after a restart: %q", got.Round.Sentence)
	}
}

// A chord is tuned as the section is set up unless the call says otherwise.
func TestChordIsTunedAsTheSectionIsSetUp(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	s := b.hub.Section()
	s.Tuning = "equal"
	b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	b.do(hub.Command{Do: hub.DoCall, Call: &hub.Call{
		Kind: hub.CallChord, Chord: "Bb major", Anchor: "bass",
		Tones: map[hub.ChairID]pitch.Note{tuba.chair: 46, horn.chair: 65, trumpet.chair: 74},
	}})
	for _, p := range []*player{tuba, horn, trumpet} {
		n := map[*player]pitch.Note{tuba: 46, horn: 65, trumpet: 74}[p]
		p.send(func(r *proto.Reading) { r.Hz = pitch.Reference{}.Frequency(n) })
	}
	if row := trumpet.row(); row.Cents == nil || *row.Cents < -0.1 || *row.Cents > 0.1 {
		t.Errorf("a tempered third stands %v cents off in equal temperament, want 0", row.Cents)
	}
	s.Tuning = "sweet"
	if err := b.hub.Command(t.Context(), hub.Command{Do: hub.DoEdit, Section: &s}); err == nil {
		t.Error("an unknown tuning was taken")
	}
}

func TestChordIsSpreadOverTheSection(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "F major"}})
	classes := map[string]bool{}
	for _, p := range []*player{tuba, horn, trumpet} {
		c := p.row().Concert
		classes[strings.TrimRight(c, "0123456789")] = true
	}
	if !classes["F"] || !classes["A"] || !classes["C"] {
		t.Errorf("three chairs play %v, want the whole triad", classes)
	}
}

// TestSilenceBeforeTurns: after a row that could not be told apart the first
// turn begins when nobody sounds any more: a leap of pitch passes for an attack.
func TestSilenceBeforeTurns(t *testing.T) {
	o := &oracle{}
	togetherBench(t, o, func(b *bench) {
		tuba, horn, trumpet := b.trio()
		b.callTogether(hub.Call{Note: 70})
		for _, p := range []*player{tuba, horn, trumpet} {
			b.hub.State(p.chair, proto.State{State: "sounding", Level: -20})
			p.send(func(r *proto.Reading) { r.Second = &proto.Second{Offset: 7, LevelDB: -3} })
		}
		time.Sleep(time.Second)
		tuba.wants("wait")
		for _, p := range []*player{tuba, horn, trumpet} {
			tuba.wants("wait")
			b.hub.State(p.chair, proto.State{State: "quiet", Level: -60})
		}
		tuba.wants("wait") // one may only have lost the pitch for a moment
		time.Sleep(time.Second)
		tuba.wants("play")
	})
}

// TestUnsettledIsNotHeard: a short unsettled reading, mostly a neighbour's,
// does not end a player's part in a together round.
func TestUnsettledIsNotHeard(t *testing.T) {
	o := &oracle{}
	togetherBench(t, o, func(b *bench) {
		tuba, _, _ := b.trio()
		b.callTogether(hub.Call{Note: 70})
		tuba.send(func(r *proto.Reading) { r.Settled, r.Reason = false, "moving" })
		tuba.wants("play")
	})
}

// TestAnUnknownClockIsLogged: tracks of a laptop whose clock was never compared with
// the hub's are left out of the fit, the log says so, and it is heard alone.
func TestAnUnknownClockIsLogged(t *testing.T) {
	o := &oracle{answer: map[int64]attribute.ChairResult{}}
	synctest.Test(t, func(t *testing.T) {
		var log bytes.Buffer
		b := &bench{t: t, store: mem.New(), attributor: o, log: slog.New(slog.NewTextHandler(&log, nil))}
		b.start()
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan struct{})
		h := b.hub
		go func() { _ = h.Run(ctx); close(done) }()
		defer func() { cancel(); <-done }()
		tuba, horn, trumpet := b.trio()
		tuba.tracks()
		trumpet.tracks()
		if _, err := h.Join(t.Context(), hub.Peer{Node: horn.node, Boot: horn.boot, Chair: horn.name, Instrument: horn.instrument, Tracks: true}); err != nil {
			t.Fatal(err)
		}
		b.callTogether(hub.Call{Note: 70})
		for _, p := range []*player{tuba, horn, trumpet} {
			o.answer[int64(p.chair)] = attribute.ChairResult{Verdict: attribute.Sounding, Hz: p.view().Target, CI95: 0.3}
			for at := 12.0; at < 14; at += 0.25 {
				p.chunk(p.view().Tracks, at)
			}
		}
		delete(o.answer, int64(horn.chair)) // as hub/attribute answers without tracks
		for _, p := range []*player{tuba, horn, trumpet} {
			p.play(0)
		}
		time.Sleep(time.Second)
		synctest.Wait()
		for _, c := range o.got.Chairs {
			if out := c.ID == int64(horn.chair); (len(c.Chunks) == 0) != out {
				t.Errorf("the fit has %d stretches of chair %d", len(c.Chunks), c.ID)
			}
		}
		if n := strings.Count(log.String(), "its tracks are left out"); n != 1 {
			t.Errorf("said %d times in the log, want once for the horn: %s", n, &log)
		}
		horn.wants("play")
		if row := horn.row(); row.Cents != nil || !strings.Contains(row.Words, "clock is not known") {
			t.Errorf("the row says %q of the horn, and %v cents", row.Words, row.Cents)
		}
	})
}
