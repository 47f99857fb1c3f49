package tuneup_test

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// TestHornsPlayOnTheSideThatIsSetFirst: a double horn is asked for its tuning note on the side that the leader
// sets first, and nobody else is asked for anything else for that.
func TestHornsPlayOnTheSideThatIsSetFirst(t *testing.T) {
	ways := func(order slide.HornOrder) map[string]string {
		h := room(t, 440)
		h.lines("join Eli horn_double", "join Bo horn_f", "join Ada trumpet_bb")
		s := h.state.Section()
		s.HornOrder = order
		h.event(tuneup.Command{Do: hub.DoEdit, Section: &s})
		h.lines("call F4")
		run := h.state.Standing(h.now).Round
		out := map[string]string{}
		for _, name := range []string{"Eli", "Bo", "Ada"} {
			c := h.chair(name)
			p, ok := tuneup.Fingering(run.Round, c.ID, c.Instrument)
			if !ok || c.Instrument.Sounds(p) != c.Note {
				t.Errorf("%s plays %v with %v", name, c.Note, p)
			}
			out[name] = p.String()
			if name == "Eli" && p.Side != map[slide.HornOrder]string{slide.BbSideFirst: "Bb", slide.FSideFirst: "F"}[order] {
				t.Errorf("order %q: the double horn plays %v", order, p)
			}
			if name == "Eli" && !c.Instrument.Tells(p) {
				t.Errorf("order %q: %v tells nothing of the main slide", order, p)
			}
		}
		return out
	}
	bb, f := ways(slide.BbSideFirst), ways(slide.FSideFirst)
	if bb["Bo"] != f["Bo"] || bb["Ada"] != f["Ada"] {
		t.Errorf("with the F side first %v, otherwise %v", f, bb)
	}
}

// TestAgain: one tone of a chord is heard again beside the others, the whole chord by all; of a note one player,
// or all who are not set.
func TestAgain(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb major", "play Cy 0", "play Bo 0", "play Ada 0")
	first := h.state.Standing(h.now).Round
	h.lines("again Bo")
	if run := h.state.Standing(h.now).Round; run.ID != first.ID || run.Asked != h.laptop("Bo").chair || len(run.Queue) != 1 {
		t.Errorf("again for one: round %d asks %d, queue %v", run.ID, run.Asked, run.Queue)
	}
	h.lines("again")
	if run := h.state.Standing(h.now).Round; run.ID == first.ID || len(run.Queue) != 3 || run.Call.Chord != first.Call.Chord || !maps.Equal(run.Call.Tones, first.Call.Tones) {
		t.Errorf("again for all: %+v", run)
	}
	h.lines("call Bb4", "play Cy 0", "play Cy 0", "play Bo 30", "again")
	run := h.state.Standing(h.now).Round
	for _, name := range []string{"Ada", "Bo", "Cy"} {
		c := h.chair(name)
		if asked := slices.Contains(run.Queue, c.ID); asked != (c.Holds == nil || c.Holds.Verdict != "set") {
			t.Errorf("%s is asked again: %v, stands %+v", name, asked, c.Holds)
		}
	}
	h.lines("end", "again Ada")
	if run := h.state.Standing(h.now).Round; len(run.Queue) != 1 || run.Asked != h.laptop("Ada").chair {
		t.Errorf("again for one after the end: %+v", run)
	}
}

// hears delivers a frequency as a player's note.
func (h *rehearsal) hears(name string, hz pitch.Hertz) {
	h.now = h.now.Add(3 * time.Second)
	l := h.laptop(name)
	l.seq++
	w := proto.Reading{Sequence: l.seq, Hz: hz, CI95: 0.5, Spread: 1, Level: -20, Floor: -60, Settled: true, Played: 600, Start: 100, End: 101, Onset: 99.5}
	if run := h.state.Standing(h.now).Round; run != nil {
		w.Round = int64(run.ID)
	}
	h.event(tuneup.Reading{Chair: l.chair, Node: l.node, Boot: "b", Wire: w})
}

// TestWhatIsHeldIsNamedAtAnyReference: the same chord, held as far off as one from any A, is named alike, becomes the
// same call with the notes that were played, and is let go as it was.
func TestWhatIsHeldIsNamedAtAnyReference(t *testing.T) {
	for _, a4 := range []pitch.Hertz{440, 415, 466} {
		for _, off := range []pitch.Cents{-14, 0, 11} {
			h := room(t, a4)
			h.lines("join Cy tuba_bbb", "join Dee tenor_trombone_bbf", "join Bo horn_f", "join Ada trumpet_bb", "listen")
			notes := map[string]pitch.Note{"Cy": 34, "Dee": 53, "Bo": 58, "Ada": 74}
			ref := pitch.Reference{A4: a4}
			for _, name := range []string{"Cy", "Dee", "Bo", "Ada"} {
				h.hears(name, ref.Frequency(notes[name]).Shift(off))
			}
			h.lines("wait 6s")
			if h.fit != nil {
				h.do([]string{"fit"})
			}
			h.lines("wait 1s")
			st := h.state.Standing(h.now)
			if len(st.Round.Chords.Candidates) == 0 || st.Round.Chords.Candidates[0].Chord.String() != "Bb major" || st.Round.Chords.Players != 4 || math.Abs(float64(st.Round.Chords.Candidates[0].Shift-off)) > 6 || st.Round.Chords.Candidates[0].Shift*off < 0 {
				t.Fatalf("A %v, %+g as one: %+v", float64(a4), float64(off), st.Round.Chords)
			}
			for name, n := range notes {
				if c := h.chair(name); c.Note != n || c.State != tuneup.Heard && c.State != tuneup.Gathered || c.Holds != nil {
					t.Errorf("A %v: %s is heard on %v, want %v, state %d", float64(a4), name, c.Note, n, c.State)
				}
			}
			h.lines("choose")
			for name, n := range notes {
				c := h.chair(name)
				if c.Note != n || c.Holds == nil || !c.Holds.Counted || math.Abs(float64(pitch.Between(ref.Frequency(n), c.Target))) > 40 {
					t.Errorf("A %v: chosen, %s plays %v at %v, %+v", float64(a4), name, c.Note, float64(c.Target), c.Holds)
				}
			}
			if run := h.state.Standing(h.now).Round; run.Call.Kind != hub.CallChord || run.Call.Chord != "B♭ major" || len(run.Queue) != 0 {
				t.Errorf("chosen: %+v", run.Call)
			}
			h.lines("undo")
			for name := range notes {
				if c := h.chair(name); c.Holds != nil || len(c.Counted) != 0 || c.InRound == nil || c.InRound.Why != hub.WhyListen || c.InRound.Target != 0 || c.InRound.Verdict != "" || c.InRound.Note != 0 {
					t.Errorf("taken back: %s holds %+v, in the round %+v", name, c.Holds, c.InRound)
				}
			}
		}
	}
}

// TestOctavesAreNoChord: all on one name are told so, whatever octave and at any A, and a name that nobody asked about is
// refused.
func TestOctavesAreNoChord(t *testing.T) {
	for _, a4 := range []pitch.Hertz{440, 415, 466} { // about a semitone to either side
		h := room(t, a4)
		h.lines("join Cy tuba_bbb", "join Bo horn_f", "listen")
		h.hears("Cy", pitch.Reference{A4: a4}.Frequency(34))
		h.hears("Bo", pitch.Reference{A4: a4}.Frequency(58))
		h.lines("wait 6s")
		if h.fit != nil {
			h.do([]string{"fit"})
		}
		if c := h.state.Standing(h.now).Round.Chords; c.Class != pitch.Note(58).ClassName() || len(c.Candidates) > 0 {
			t.Errorf("octaves at %v: %+v", float64(a4), c)
		}
		if _, err := h.state.Step(h.now, tuneup.Command{Do: hub.DoChoose}); err == nil {
			t.Error("octaves are chosen as a chord")
		}
	}
}

// TestTheSectionFollowedIsInTune: where the reference goes to where the section stands, who stood with the rest is set
// by the note that was heard, by as much as the reference has gone, at any A.
func TestTheSectionFollowedIsInTune(t *testing.T) {
	for _, a4 := range []pitch.Hertz{440, 442} {
		h := seatFive(t)
		s := h.state.Section()
		s.Reference.A4 = a4
		h.event(tuneup.Command{Do: hub.DoEdit, Section: &s})
		h.lines("call Bb4")
		up := float64(pitch.Between(a4, a4+2))
		place := map[string]float64{}
		for i, p := range five {
			place[p.name] = up + float64(i-2)
		}
		h.playAll(place)
		if !h.state.Standing(h.now).Round.AsOne {
			t.Fatalf("A %v: %v is not off as one", float64(a4), place)
		}
		before := map[string]pitch.Cents{}
		for name := range place {
			before[name] = h.chair(name).Holds.Cents
		}
		h.lines("follow")
		if got := h.state.Section().Reference.A4; got != a4+2 {
			t.Errorf("A %v goes to %v", float64(a4), float64(got))
		}
		for name, was := range before {
			c := h.chair(name)
			if c.Holds == nil || math.Abs(float64(c.Holds.Cents-was)+up) > 0.01 || c.Holds.Verdict != "set" || c.Open != nil {
				t.Errorf("A %v: %s stood at %+.2f, now %+v", float64(a4), name, float64(was), c.Holds)
			}
			if d := pitch.Between(pitch.Reference{A4: a4 + 2}.Frequency(c.Note), c.Target); math.Abs(float64(d)) > 1e-6 {
				t.Errorf("%s is asked for %g cents beside", name, float64(d))
			}
		}
		h.lines("undo")
		if got := h.state.Section().Reference.A4; got != a4 {
			t.Errorf("taken back, A is %v, was %v", float64(got), float64(a4))
		}
		for name, was := range before {
			if c := h.chair(name); c.Holds == nil || math.Abs(float64(c.Holds.Cents-was)) > 1e-6 {
				t.Errorf("taken back: %s stood at %+.2f, now %+v", name, float64(was), c.Holds)
			}
		}
	}
}

// TestEverybodyMovesByTheCommonPart: all get a move of the same way that brings what all have in common, what is each
// one's own left aside; those who have moved since are left out.
func TestEverybodyMovesByTheCommonPart(t *testing.T) {
	for _, x := range []float64{14, -14} {
		h := seatFive(t)
		h.lines("call Bb4")
		place := map[string]float64{}
		for i, p := range five {
			place[p.name] = x + float64(i-2)
		}
		h.playAll(place)
		h.lines("setting Ada 71", "all-move")
		for _, p := range five {
			c := h.chair(p.name)
			if p.name == "Ada" {
				if c.Open != nil {
					t.Errorf("%+g: %s, who has moved, is sent %+v", x, p.name, c.Open.Answer.Steps)
				}
				continue
			}
			if c.Open == nil || len(c.Moves) == 0 {
				t.Fatalf("%+g: %s is sent nowhere", x, p.name)
			}
			m := c.Moves[len(c.Moves)-1] // one before may have been taken back
			if e := float64(m.Expected); math.Abs(e+x) > 2.2 || (m.ToMM > m.FromMM) != (x > 0) {
				t.Errorf("%+g: %s moves %g mm for %+.1f cents", x, p.name, m.ToMM-m.FromMM, e)
			}
		}
	}
}

// TestWhereTheLeaderSaysASlideStands: a set-up in which a slide stands elsewhere is a word about that slide, on record
// once, and of no other.
func TestWhereTheLeaderSaysASlideStands(t *testing.T) {
	h := room(t, 440)
	h.lines("join Eli horn_double", "join Ada trumpet_bb")
	edit := func(set instrument.Settings) (news []hub.SettingRecord) {
		s := h.state.Section()
		for i := range s.Chairs {
			if s.Chairs[i].Name == "Eli" {
				s.Chairs[i].Settings = set
			}
		}
		out, err := h.step(tuneup.Command{Do: hub.DoEdit, Section: &s})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range out.Changes {
			if s, said := c.(hub.SettingAdded); said {
				news = append(news, s.Is)
			}
		}
		return news
	}
	for i, c := range []struct {
		set  instrument.Settings
		want string
	}{
		{instrument.Settings{instrument.Main: 14, instrument.BbMain: 0}, "[bb 0 main 14]"}, {instrument.Settings{instrument.Main: 14, instrument.BbMain: 0}, "[]"},
		{instrument.Settings{instrument.Main: 14, instrument.BbMain: 3}, "[bb 3]"}, {instrument.Settings{instrument.Main: 12}, "[main 12]"},
	} {
		var got []string
		for _, s := range edit(c.set) {
			got = append(got, fmt.Sprintf("%s %g", s.Slide, s.MM))
			if s.Source != hub.SourceLeader || s.Chair != h.laptop("Eli").chair {
				t.Errorf("%d: %+v", i, s)
			}
		}
		if fmt.Sprint(got) != c.want {
			t.Errorf("%d: on record %v, want %s", i, got, c.want)
		}
	}
}

// TestUsedTimeStops: the time of a tune-up goes on while a round runs and stands still after it.
func TestUsedTimeStops(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb")
	if h.state.Used(h.now) != 0 {
		t.Errorf("before the first call %v", h.state.Used(h.now))
	}
	h.lines("call Bb4", "wait 20s")
	if got := h.state.Used(h.now); got != 20*time.Second {
		t.Errorf("after 20 s %v", got)
	}
	h.lines("end", "wait 90s")
	if got := h.state.Used(h.now); got != 20*time.Second {
		t.Errorf("90 s after its end %v", got)
	}
	h.lines("call Bb4", "wait 10s")
	if got := h.state.Used(h.now); got != 120*time.Second {
		t.Errorf("in the next round %v", got)
	}
}

// TestBeforeIsOfTheSameNote: beside a note that is still to be heard stand the readings of that note, not those of the
// call before.
func TestBeforeIsOfTheSameNote(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb")
	for _, c := range []struct {
		line string
		want int
	}{{"call Bb4", 0}, {"play Ada 2", 1}, {"call F4", 0}, {"play Ada 3", 1}, {"call Bb4", 1}, {"play Ada 1", 2}, {"end", 2}, {"edit a4=443", 2}, {"call Bb4", 0}} {
		h.lines(c.line)
		got := h.chair("Ada").Before
		for _, r := range got {
			if n := h.chair("Ada").Note; n != 0 && r.Note != n {
				t.Errorf("after %s a reading of %v stands beside %v", c.line, r.Note, n)
			}
		}
		if len(got) != c.want {
			t.Errorf("after %s %d readings, need %d", c.line, len(got), c.want)
		}
	}
}

// TestTwoAtOnceIsTwo: as many as can be told apart play at once, and never more than two.
func TestTwoAtOnceIsTwo(t *testing.T) {
	h := room(t, 440)
	for i, in := range []instrument.ID{"tuba_bbb", "trumpet_bb", "tuba_eb", "piccolo_trumpet_bb", "euphonium_bb_bc", "tuba_cc"} {
		h.lines(fmt.Sprintf("join P%d %s", i, in))
	}
	for i := range 6 {
		h.lines(fmt.Sprintf("seat P%d %d %d", i, i, 3*i))
	}
	h.lines("edit order=two-at-once", "call Bb4")
	two := 0
	for range 40 {
		st := h.state.Standing(h.now)
		if st.Round.Phase == tuneup.Done {
			break
		}
		asked := 0
		for _, c := range st.Chairs {
			if c.State == tuneup.Asked {
				asked++
			}
		}
		if asked > 2 || len(st.Round.Beside) > 1 {
			t.Fatalf("%d play at once, beside %v", asked, st.Round.Beside)
		}
		if asked == 2 {
			two++
		}
		if asked == 0 {
			h.lines("wait 5s")
			continue
		}
		for name, l := range h.nodes {
			if l.chair == st.Round.Asked {
				h.lines("play " + name + " 1")
				break
			}
		}
	}
	if two == 0 {
		t.Error("nobody played beside another")
	}
}

// TestNamesOfRanks: the first figure of a part's name is its rank.
func TestPartsGetTheirTones(t *testing.T) {
	h := room(t, 440)
	h.lines("join A trumpet_bb", "join B trumpet_bb", "join C trumpet_bb", "join D tuba_bbb")
	s := h.state.Section()
	for i := range s.Chairs {
		s.Chairs[i].Part = map[string]string{"A": "3rd Trumpet", "B": "1st Trumpet", "C": "Trumpet 2"}[s.Chairs[i].Name]
	}
	h.event(tuneup.Command{Do: hub.DoEdit, Section: &s})
	h.lines("call Bb major")
	a, b, c := h.chair("A").Note, h.chair("B").Note, h.chair("C").Note
	if !(b >= c && c >= a && b > a) {
		t.Errorf("the first plays %v, the second %v, the third %v", b, c, a)
	}
	if strings.Contains(h.said.String(), "refused") {
		t.Error(h.said.String())
	}
}

// TestNobodyIsWaitedForTooLong: a laptop that has broken off is waited for, and not for more than a moment; the round
// ends without it.
func TestNobodyIsWaitedForTooLong(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb4", "play Cy 0", "play Cy 0", "leave Bo", "wait 3s")
	if run := h.state.Standing(h.now).Round; run.Phase == tuneup.Done {
		t.Errorf("done while Ada is to play: %+v", run)
	}
	h.lines("play Ada 0", "play Ada 0", "wait 4s")
	if run := h.state.Standing(h.now).Round; run.Phase != tuneup.Waits || run.Awaited != h.laptop("Bo").chair {
		t.Errorf("soon after the laptop has gone: %v, waits for %d", run.Phase, run.Awaited)
	}
	h.lines("wait 15s")
	if run := h.state.Standing(h.now).Round; run.Phase != tuneup.Done {
		t.Errorf("long after the laptop has gone: %v", run.Phase)
	}
	h.lines("back Bo")
	if run := h.state.Standing(h.now).Round; run.Phase != tuneup.Turns || run.Asked != h.laptop("Bo").chair {
		t.Errorf("once the laptop is back: %v asks %d", run.Phase, run.Asked)
	}
}

// TestARoomTakesMostOfTheSection: that a section is off as one is said once three in five of those who are here were
// heard, and not before.
func TestARoomTakesMostOfTheSection(t *testing.T) {
	for n := 5; n <= 12; n++ {
		h := room(t, 440)
		for i := range n {
			h.lines(fmt.Sprintf("join P%d trumpet_bb", i))
		}
		h.lines("call Bb4")
		for range 40 {
			run := h.state.Standing(h.now).Round
			heard := h.state.Standing(h.now).Heard
			if most := heard >= 4 && 5*heard >= 3*n || heard == n; run.AsOne != most {
				t.Errorf("%d of %d were heard: off as one %v", heard, n, run.AsOne)
			}
			if run.AsOne {
				break
			}
			if run.Asked == 0 {
				h.lines("wait 4s")
				continue
			}
			for name, l := range h.nodes {
				if l.chair == run.Asked {
					h.lines("play " + name + " 16")
					break
				}
			}
		}
	}
}

// TestNextLeavesWhoIsAsked: in turns the one who is asked, together all who were not heard.
func TestNextLeavesWhoIsAsked(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb4", "next")
	if run := h.state.Standing(h.now).Round; len(run.Queue) != 2 || run.Asked != h.laptop("Bo").chair {
		t.Errorf("in turns: %+v", run)
	}
	h.lines("call Bb4 together", "next")
	if run := h.state.Standing(h.now).Round; len(run.Queue) != 0 || run.Phase != tuneup.Done {
		t.Errorf("together: %+v", run.Queue)
	}
}

// TestTuningOfAChord: as the call says, else as the section does, else by whether a fixed pitch plays along; and a
// player's own way of playing a tone is kept for that tone.
func TestTuningOfAChord(t *testing.T) {
	for _, c := range []struct {
		section, call string
		fixed         bool
		want          string
	}{{"", "", false, "just"}, {"", "", true, "keyboard"}, {"equal", "", false, "equal"}, {"equal", "", true, "equal"}, {"equal", "just", true, "just"}, {"", "equal", false, "equal"}} {
		h := room(t, 440)
		h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb")
		s := h.state.Section()
		s.Tuning, s.FixedPitch = c.section, c.fixed
		h.event(tuneup.Command{Do: hub.DoEdit, Section: &s})
		h.event(tuneup.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: "Bb major", Tuning: c.call}})
		if got := h.state.Standing(h.now).Round.Call.Tuning; got != c.want {
			t.Errorf("%+v: tuned %q", c, got)
		}
	}
	h := room(t, 440)
	h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb major", "tone Ada G4", "way Ada 3")
	c, run := h.chair("Ada"), h.state.Standing(h.now).Round
	if p, ok := tuneup.Fingering(run.Round, c.ID, c.Instrument); !ok || p.Valves != "3" || c.Instrument.Sounds(p) != c.Note {
		t.Errorf("Ada plays %v as %v", c.Note, p)
	}
	h.lines("tone Ada F4")
	c, run = h.chair("Ada"), h.state.Standing(h.now).Round
	if p, ok := tuneup.Fingering(run.Round, c.ID, c.Instrument); !ok || p != c.Instrument.Paths(c.Note)[0] {
		t.Errorf("another note keeps the way %v", p)
	}
}

// TestNotesAtTheEnds: the highest and the lowest note that have a name can be asked for, and no other.
func TestNotesAtTheEnds(t *testing.T) {
	for n, ok := range map[pitch.Note]bool{pitch.MinNote: true, pitch.MaxNote: true, pitch.MinNote - 1: false, pitch.MaxNote + 1: false} {
		h := room(t, 440)
		h.lines("join Ada trumpet_bb")
		_, err := h.state.Step(h.now, tuneup.Command{Do: hub.DoCall, Call: &hub.Call{Note: 70, Tones: map[hub.ChairID]pitch.Note{1: n}}})
		if (err == nil) != ok {
			t.Errorf("tone %d: %v", n, err)
		}
		_, err = h.state.Step(h.now, tuneup.Command{Do: hub.DoCall, Call: &hub.Call{Note: n}})
		if (err == nil) != ok {
			t.Errorf("call of %d: %v", n, err)
		}
		h.lines("call Bb4")
		if _, err = h.state.Step(h.now, tuneup.Command{Do: hub.DoTone, Chair: h.laptop("Ada").chair, Note: n}); (err == nil) != ok {
			t.Errorf("tone of %d: %v", n, err)
		}
	}
}

// TestARestartKeepsTheChord: a chord that was heard is judged alike after the hub has started anew.
func TestARestartKeepsTheChord(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb major", "play Cy 0", "play Bo 0", "play Ada 22")
	before := h.state.Standing(h.now).Round.Judgement
	if before == nil {
		t.Fatal("the chord was not judged")
	}
	h.state = h.load(len(h.steps))
	after := h.state.Standing(h.now).Round.Judgement
	if after == nil || after.Sentence != before.Sentence || after.Rings != before.Rings {
		t.Errorf("%+v, after a restart %+v", before, after)
	}
}

// TestTravelThatAPlayerTells: how far a slide goes is kept, bounds where it may stand, and says nothing of another.
func TestTravelThatAPlayerTells(t *testing.T) {
	h := room(t, 440)
	h.lines("join Ada trumpet_bb")
	id := h.laptop("Ada").chair
	set := func(mm, travel float64) error {
		_, err := h.state.Step(h.now, tuneup.Setting{Chair: id, Set: proto.Setting{Slide: instrument.Main, MM: mm, TravelMM: travel}})
		return err
	}
	if set(60, 0) == nil {
		t.Error("further out than it goes is taken")
	}
	if err := set(60, 70); err != nil {
		t.Error(err)
	}
	c := h.chair("Ada")
	if c.Chair.Travel[instrument.Main] != 70 || len(c.Chair.Travel) != 1 || c.Chair.Settings[instrument.Main] != 60 {
		t.Errorf("%+v", c.Chair)
	}
	if err := set(70, 0); err != nil {
		t.Errorf("as far as it goes: %v", err)
	}
	for _, mm := range []float64{70.5, -1, math.NaN()} {
		if set(mm, 0) == nil {
			t.Errorf("%g mm is taken", mm)
		}
	}
}

// TestWhoSitsWhere: a laptop finds its chair by its own record, by its player's name, by a label that is free, and takes
// a new one otherwise; what it says of name and part is kept.
func TestWhoSitsWhere(t *testing.T) {
	h := room(t, 440)
	join := func(node, name, part string, in instrument.ID, known hub.ChairID) (hub.ChairID, hub.Chair) {
		out, err := h.step(tuneup.Joined{Peer: hub.Peer{Node: node, Boot: "b", Chair: name, Part: part, Instrument: in}, Known: hub.NodeRecord{Node: node, Chair: known}})
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range h.state.Section().Chairs {
			if c.ID == out.Joined.Chair {
				return c.ID, c
			}
		}
		t.Fatal("no chair")
		return 0, hub.Chair{}
	}
	ada, c := join("n1", "Ada", "1st", "trumpet_bb", 0)
	if c.Name != "Ada" || c.Part != "1st" || c.Label != "Trumpet 1" {
		t.Errorf("%+v", c)
	}
	if id, c := join("n2", " ADA ", "2nd", "trumpet_bb", 0); id != ada || c.Part != "2nd" {
		t.Errorf("the same name sits at %d: %+v", id, c)
	}
	bo, _ := join("n3", "Bo", "", "trumpet_bb", 0)
	if bo == ada {
		t.Error("another name sits at the same chair")
	}
	if id, c := join("n4", "Trumpet 2", "", "trumpet_bb", 0); id == ada || id == bo || c.Label != "Trumpet 3" {
		t.Errorf("a label that is taken gives chair %d: %+v", id, c)
	}
	h.event(tuneup.Left{Chair: ada, Node: "n2"})
	if id, c := join("n5", "trumpet 1", "", "trumpet_bb", 0); id != ada || !strings.EqualFold(c.Name, "Ada") {
		t.Errorf("a label that is free gives chair %d: %+v", id, c)
	}
	if id, c := join("n3", "Robert", "", "trumpet_bb", 0); id != bo || c.Name != "Robert" {
		t.Errorf("who changes the name sits at %d: %+v", id, c)
	}
	if id, _ := join("n6", "", "", "horn_f", bo); id != bo {
		t.Errorf("a laptop of a chair sits at %d", id)
	}
	if id, c := join("n3", "Robert", "", "horn_f", 0); id != bo || c.Instrument != "horn_f" {
		t.Errorf("who changes the instrument sits at %d: %+v", id, c)
	}
	if _, err := h.state.Step(h.now, tuneup.Joined{Peer: hub.Peer{Node: "n9", Boot: "b", Chair: "Zoe", Instrument: "nose"}}); err == nil {
		t.Error("a nose sits down")
	}
}

// TestAnotherOctaveBesideAnother: of two who play at once, who is read at an octave of either's note was not told from the
// other, and is heard again alone; who is read at any other note was. That holds at any A.
func TestAnotherOctaveBesideAnother(t *testing.T) {
	for _, a4 := range []pitch.Hertz{440, 415, 466} {
		for x, told := range map[pitch.Cents]bool{-1200: false, 1200: false, -1190: false, -500: true, 200: true} {
			h := room(t, a4)
			h.lines("join Cy tuba_bbb", "join Ada trumpet_bb", "seat Cy 0 0", "seat Ada 1 5", "edit order=two-at-once", "call Bb4")
			run := h.state.Standing(h.now).Round
			if run.Asked == 0 || len(run.Beside) != 1 {
				t.Fatalf("%d plays beside %v", run.Asked, run.Beside)
			}
			h.hears("Ada", h.chair("Ada").Target.Shift(x))
			r := h.chair("Ada").InRound
			if r == nil || (r.Why != hub.WhyTogether) != told {
				t.Errorf("A %v, %+g cents from the note: %+v", float64(a4), float64(x), r)
			}
		}
	}
}

// TestOneIsNoChord: of one player alone no chord is chosen.
func TestOneIsNoChord(t *testing.T) {
	h := room(t, 440)
	h.lines("join Cy tuba_bbb", "join Bo horn_f", "listen")
	h.hears("Cy", pitch.Reference{}.Frequency(34))
	h.lines("wait 6s")
	if h.fit != nil {
		h.do([]string{"fit"})
	}
	if _, err := h.state.Step(h.now, tuneup.Command{Do: hub.DoChoose, Name: "Bb major"}); err == nil || !strings.Contains(err.Error(), "two players") {
		t.Errorf("%v", err)
	}
}

// TestOffAsOneTellsEachTheirOwn: while a section is off as one everybody is told what all have in common and what is
// their own beyond it, whoever was heard before that was found and whoever comes after.
func TestOffAsOneTellsEachTheirOwn(t *testing.T) {
	place := map[string]float64{"Cy": 14, "Dee": 15, "Bo": 17, "Ada": 13, "Eli": 16}
	h := seatFive(t)
	h.lines("call Bb4")
	h.playAll(place)
	st := h.state.Standing(h.now)
	if !st.Round.AsOne {
		t.Fatal("not off as one")
	}
	common := *st.Round.Round.AsOne
	for _, c := range st.Chairs {
		p, _ := tuneup.Fingering(st.Round.Round, c.ID, c.Instrument)
		a, own := c.InRound.Answer, slide.Clear(c.Instrument, c.InRound.Note, p, c.InRound.Cents)-common
		if a == nil || a.Code != "room" || a.Facts.Common != common || math.Abs(float64(a.Facts.Own.Offset-own)) > 1e-9 || c.Open != nil {
			t.Errorf("%s at %+.1f of %+.1f in common: %+v", c.Name, float64(c.InRound.Cents), float64(common), a)
		}
	}
}

// TestHearAgainAsksTheSame: a section that is off as one is heard again whole, and of a round called again for some
// those alone.
func TestHearAgainAsksTheSame(t *testing.T) {
	place := map[string]float64{"Cy": 14, "Dee": 15, "Bo": 17, "Ada": 13, "Eli": 1}
	h := seatFive(t)
	h.lines("call Bb4")
	h.playAll(place)
	for _, want := range []int{5, 4} {
		if st := h.state.Standing(h.now); !st.Round.AsOne {
			t.Fatalf("%d chairs are not off as one", want)
		}
		h.event(tuneup.Command{Do: hub.DoHearAgain})
		if run := h.state.Standing(h.now).Round; len(run.Call.Tones) != want || len(run.Queue) != want {
			t.Errorf("asks %v of %v, want %d chairs", run.Queue, run.Call.Tones, want)
		}
		h.playAll(place)
		h.lines("end", "again")
		h.playAll(place)
	}
}
