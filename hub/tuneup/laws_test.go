package tuneup_test

import (
	"fmt"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// room is a section that has begun, at a reference.
func room(t *testing.T, a4 pitch.Hertz) *rehearsal {
	h := &rehearsal{rig: newRig(t), nodes: map[string]*laptop{}, views: map[hub.ChairID]string{}}
	h.steps[0][0].(hub.SectionChange).Is.Reference.A4 = a4
	h.state = h.load(1)
	return h
}

// lines carries out some lines.
func (h *rehearsal) lines(all ...string) {
	h.t.Helper()
	for _, l := range all {
		h.do(strings.Fields(l))
	}
}

// chair is how a player's chair stands.
func (h *rehearsal) chair(name string) tuneup.Chair {
	h.t.Helper()
	st := h.state.Standing(h.now)
	i := slices.IndexFunc(st.Chairs, func(c tuneup.Chair) bool { return c.ID == h.laptop(name).chair })
	return st.Chairs[i]
}

// absolute are commands of a transcript that name a pitch by itself.
var absolute = regexp.MustCompile(`(?m)^(play \S+ [A-G]|edit .*a4=|  leader: .*\(room\))`)

// TestAnotherReference: every rehearsal of testdata goes in the same way, word for word, at
// another A, as long as its players stand as far from their notes; and the notes
// themselves lie higher or lower by as much as A does.
func TestAnotherReference(t *testing.T) {
	files, err := filepath.Glob("testdata/*.txt")
	if err != nil {
		t.Fatal(err)
	}
	tried := 0
	for _, file := range files {
		text, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if absolute.Match(text) {
			continue
		}
		tried++
		var seen [3]string
		var targets [3][]pitch.Hertz
		as := [3]pitch.Hertz{440, 415, 466}
		for i, a4 := range as {
			h := room(t, a4)
			for _, line := range strings.Split(string(text), "\n") {
				if line == "" || line[0] == '#' || isSeen(line) {
					continue
				}
				h.do(strings.Fields(line))
				h.see()
				for _, c := range h.state.Standing(h.now).Chairs {
					targets[i] = append(targets[i], c.Target)
					if c.Holds != nil && c.Holds.Target.Valid() && c.Holds.Hz().Valid() {
						if d := float64(pitch.Between(c.Holds.Target, c.Holds.Hz()) - c.Holds.Cents); math.Abs(d) > 1e-6 {
							t.Fatalf("%s at %v: %g cents beside the target are called %g", file, a4, d+float64(c.Holds.Cents), float64(c.Holds.Cents))
						}
					}
				}
			}
			seen[i] = h.said.String()
		}
		for i := range as {
			if seen[i] != seen[0] {
				t.Errorf("%s goes otherwise at A = %v: %s", file, float64(as[i]), differs(seen[i], seen[0]))
			}
			for k := range targets[0] {
				want, got := float64(pitch.Between(as[0], as[i])), 0.0
				if targets[0][k] == 0 && targets[i][k] == 0 {
					continue
				}
				if got = float64(pitch.Between(targets[0][k], targets[i][k])); math.Abs(got-want) > 1e-6 {
					t.Fatalf("%s: A by %.3f cents, a target by %.3f", file, want, got)
				}
			}
		}
	}
	if tried < 15 {
		t.Errorf("%d rehearsals, need most of them", tried)
	}
}

// TestTheSameNoteAtAnotherReference: at A that is 8 cents higher a note stands 8 cents lower, and
// its verdict, its move and its open move are gone when A changes.
func TestTheSameNoteAtAnotherReference(t *testing.T) {
	up := pitch.Hertz(440).Shift(8)
	h := room(t, 440)
	h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb4", "play Cy 14")
	was := h.chair("Cy")
	if was.Open == nil || was.Holds == nil || was.Holds.Verdict == intonation.Set {
		t.Fatalf("no move was handed out: %+v", was.Holds)
	}
	h.do([]string{"edit", fmt.Sprintf("a4=%.9f", float64(up))})
	if now := h.chair("Cy"); now.Open != nil || now.Holds != nil {
		t.Errorf("after A has changed the answer still stands: open %v, holds %+v", now.Open, now.Holds)
	}
	h.lines("call Bb4")
	for _, name := range []string{"Cy", "Bo", "Ada"} {
		want := pitch.Reference{A4: up}.Frequency(h.chair(name).Note)
		if got := h.chair(name).Target; math.Abs(float64(pitch.Between(want, got))) > 1e-6 {
			t.Errorf("%s is asked for %v Hz, want %v", name, got, want)
		}
	}
	h.lines("play Cy 6")
	if now := h.chair("Cy"); math.Abs(float64(pitch.Between(was.Holds.Hz(), now.Holds.Hz()))) > 1e-6 || math.Abs(float64(now.Holds.Cents-was.Holds.Cents+8)) > 1e-6 {
		t.Errorf("14 cents became %g", float64(now.Holds.Cents))
	}
}

// TestOpenMoveIsNotSet: whoever has a slide to move is not set, whatever else goes on, and is
// among those who are called again.
func TestOpenMoveIsNotSet(t *testing.T) {
	for _, order := range []string{"low-to-high", "by-worth"} {
		h := room(t, 440)
		h.lines("edit order="+order, "join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb4")
		for k := range 30 {
			st := h.state.Standing(h.now)
			if st.Round == nil || st.Round.Phase == tuneup.Done {
				break
			}
			for name := range h.nodes {
				c := h.chair(name)
				if c.Open != nil && c.Holds != nil && c.Holds.Verdict == intonation.Set {
					t.Errorf("%s is set, with a move to make", name)
				}
			}
			if st.Round.Asked == 0 {
				h.do([]string{"wait", "5s"})
				continue
			}
			for name, l := range h.nodes {
				if l.chair == st.Round.Asked {
					h.do([]string{"play", name, fmt.Sprint([]float64{14, 12, 0, 1}[k%4])})
					break
				}
			}
		}
		st := h.state.Standing(h.now)
		set := 0
		for _, c := range st.Chairs {
			if c.Holds != nil && c.Holds.Verdict == intonation.Set && c.Open == nil {
				set++
			}
		}
		if st.Set != set {
			t.Errorf("%s: %d are said to be set, %d are", order, st.Set, set)
		}
	}
}

// TestAMoveMadeInPart: a player who moves less is expected to change by as much less, in the
// record and in the verdict on what followed.
func TestAMoveMadeInPart(t *testing.T) {
	for _, share := range []float64{1, 0.5, 0.25} {
		h := room(t, 440)
		h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb4", "play Cy 0", "play Bo 20")
		m := h.chair("Bo").Moves[0]
		to := m.FromMM + share*(m.ToMM-m.FromMM)
		h.lines("wait 5s", fmt.Sprint("slide Bo ", to))
		made := h.chair("Bo").Moves[0]
		if made.Done.IsZero() || made.ToMM != to || math.Abs(float64(made.Expected)-share*float64(m.Expected)) > 1e-9 {
			t.Errorf("%g of %g mm: expected %g of %g cents, to %g mm", share, m.ToMM-m.FromMM, float64(made.Expected), float64(m.Expected), made.ToMM)
		}
		h.lines(fmt.Sprint("play Bo ", 20+share*float64(m.Expected)))
		if got := h.chair("Bo").Moves[0]; share == 1 && got.FollowThrough != string(slide.Went) || got.FollowThrough == string(slide.Held) {
			t.Errorf("%g of the move, the pitch went along: %q", share, got.FollowThrough)
		}
	}
}

// TestWhatThePlayerSaysLastCounts: a slide stands where somebody last said, whether that is the
// player after the note or the leader before the next; and a note is judged by where
// the slide stood when it sounded.
func TestWhatThePlayerSaysLastCounts(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb4", "play Cy 0", "play Bo 20", "wait 5s", "slide Bo told", "wait 5s", "slide Bo 11", "wait 1s", "setting Bo 17")
	if mm := h.chair("Bo").Chair.Settings[instrument.Main]; mm != 17 {
		t.Errorf("the slide stands at %g mm, want 17", mm)
	}
	if c := h.chair("Bo"); c.Holds != nil || !c.Moved {
		t.Errorf("a note from before still counts: %+v", c.Holds)
	}
	m := h.chair("Bo").Moves[0]
	per := float64(m.Expected) / (m.ToMM - m.FromMM) // cents a millimetre
	h.lines(fmt.Sprint("play Bo ", 20+per*(17-m.FromMM)))
	for range 2 {
		c := h.chair("Bo")
		if c.Holds == nil || c.Moved || c.Chair.Settings[instrument.Main] != 17 {
			t.Errorf("a note from after does not count: %+v, slide at %g", c.Holds, c.Chair.Settings[instrument.Main])
		}
		h.lines("restart")
	}
}

// TestTheRoomIsNobodysEmbouchure: what those who moved nothing have changed by from one round to
// the next is taken out before it is said whether a pitch went with its slide.
func TestTheRoomIsNobodysEmbouchure(t *testing.T) {
	for _, c := range []struct {
		name  string
		after float64 // of the one who moved, from 20
		room  float64 // of the others, from 0
		want  slide.Verdict
	}{{"went", 0, 0, slide.Went}, {"went, and the room rose", 9, 9, slide.Went}, {"held, and the room sank", 2, -18, slide.Held}} {
		h := room(t, 440)
		h.lines("join Di trumpet_bb", "join Ed trumpet_bb", "join Ada trumpet_bb", "join Cy tuba_bbb", "call Bb4", "play Cy 0")
		play := func(all map[string]float64) {
			for range 12 {
				asked := h.state.Standing(h.now).Round.Asked
				for name, x := range all {
					if l := h.nodes[name]; l.chair == asked {
						h.do([]string{"play", name, fmt.Sprint(x)})
						delete(all, name)
						break
					}
				}
			}
		}
		play(map[string]float64{"Di": 0, "Ed": 0})
		play(map[string]float64{"Ada": 20})
		m := h.chair("Ada").Moves
		if len(m) != 1 {
			t.Fatalf("%s: %d moves were handed out", c.name, len(m))
		}
		h.lines("wait 20s", "slide Ada told", "call Bb4", fmt.Sprint("play Cy ", c.room))
		play(map[string]float64{"Di": c.room, "Ed": c.room})
		play(map[string]float64{"Ada": 20 + c.after - 20})
		got := h.chair("Ada").Moves[0]
		if got.FollowThrough != string(c.want) {
			t.Errorf("%s: measured %.1f of %.1f cents, called %q, want %q", c.name, float64(got.Measured), float64(got.Expected), got.FollowThrough, c.want)
		}
	}
}

// TestClockOfANode: where a laptop's samples lie follows from its pings, each with its sign.
func TestClockOfANode(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb tracks", "join Bo horn_f tracks", "join Cy tuba_bbb tracks", "call Bb4 together")
	for i, name := range []string{"Ada", "Bo", "Cy"} {
		l := h.laptop(name)
		for _, sent := range []float64{10, 80} {
			h.event(tuneup.Ping{Chair: l.chair, Ping: proto.Ping{Sent: sent, Offset: float64(100 * i), Error: 0.003, Sample: int64(48000 * (sent - 5))}})
		}
	}
	for _, name := range []string{"Ada", "Bo", "Cy"} {
		h.do([]string{"play", name, "3"})
	}
	h.lines("wait 30s")
	if h.fit == nil {
		t.Fatal("nothing is to be told apart")
	}
	for i, c := range h.fit.Chairs {
		at, err := c.Clock.Zero(48000)
		name := []string{"Ada", "Bo", "Cy"}[slices.IndexFunc([]string{"Ada", "Bo", "Cy"}, func(n string) bool { return int64(h.laptop(n).chair) == c.ID })]
		k := slices.Index([]string{"Ada", "Bo", "Cy"}, name)
		if want := 5 + float64(100*k); math.Abs(at-want) > 1e-9 || err != 0.003 {
			t.Errorf("%d: %s's sample 0 lies at %g ± %g, want %g", i, name, at, err, want)
		}
	}
}
