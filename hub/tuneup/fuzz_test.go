package tuneup_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"reflect"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// dice makes choices from bytes, so that a fuzzer can steer them.
type dice struct{ left []byte }

// of returns a number from 0 to n-1.
func (d *dice) of(n int) int {
	if len(d.left) == 0 {
		return 0
	}
	b := int(d.left[0])
	d.left = d.left[1:]
	return b % n
}

var players = []struct {
	name string
	in   instrument.ID
}{{"Cy", "tuba_bbb"}, {"Bo", "horn_f"}, {"Ada", "trumpet_bb"}, {"Dee", "tenor_trombone_bbf"}, {"Eli", "horn_double"}}

// event draws what happens next.
func (r *rig) event(d *dice, seq *uint64) tuneup.Event {
	st := r.state.Standing(r.now)
	player := d.of(len(players))
	node := "n" + players[player].name
	chair := hub.ChairID(99)
	if len(st.Chairs) > 0 {
		chair = st.Chairs[d.of(len(st.Chairs))].ID
	}
	switch d.of(12) {
	case 0, 1:
		return tuneup.Joined{Peer: hub.Peer{Node: node, Boot: "b", Chair: players[player].name, Instrument: players[(player+d.of(2)*2)%len(players)].in, Tracks: d.of(2) == 0}}
	case 2:
		return tuneup.Left{Chair: chair, Node: r.node(chair)}
	case 3:
		return tuneup.Sound{Chair: chair, State: proto.State{State: []string{"quiet", "sounding", "resting"}[d.of(3)], Played: float64(d.of(3) * 100)}}
	case 4:
		return tuneup.Setting{Chair: chair, Set: proto.Setting{Slide: []instrument.SlideID{instrument.Main, instrument.BbMain, "nose"}[d.of(3)], MM: float64(d.of(40) - 2)}}
	case 5:
		return tuneup.Tick{}
	case 6:
		return tuneup.Track{Chair: chair, Chunk: track.Chunk{Reference: 58, Rate: 48000}}
	case 7:
		return tuneup.Command(r.command(d, chair))
	case 8:
		if d.of(16) == 0 {
			return tuneup.Erased{Chair: chair}
		}
		return tuneup.Command{Do: hub.DoUndo}
	}
	return r.reading(d, chair, seq)
}

func (r *rig) node(chair hub.ChairID) string { n, _ := r.state.Node(chair); return n }

// reading is a note as a chair's node would send it.
func (r *rig) reading(d *dice, chair hub.ChairID, seq *uint64) tuneup.Event {
	*seq++
	w := proto.Reading{Sequence: *seq, Hz: 233, CI95: pitch.Cents(d.of(4)) + 0.5, Spread: 1, Level: -20, Floor: -60, Settled: d.of(5) > 0, Played: float64(d.of(2)*590 + 10), Start: 100, End: 101, Onset: 99.5}
	st := r.state.Standing(r.now)
	for _, c := range st.Chairs {
		if c.ID == chair && c.Target.Valid() {
			w.Hz = c.Target.Shift([]pitch.Cents{0, 2, -14, 18, 200, -12}[d.of(6)])
		}
	}
	if st.Round != nil && d.of(6) > 0 {
		w.Round = int64(st.Round.ID)
	}
	if !w.Settled {
		w.Reason = "vibrato"
	}
	return tuneup.Reading{Chair: chair, Node: r.node(chair), Boot: "b", Wire: w}
}

// command is what a restless leader does.
func (r *rig) command(d *dice, chair hub.ChairID) hub.Command {
	calls := []hub.Call{{Note: 70}, {Note: 65, Together: true}, {Kind: hub.CallChord, Chord: "Bb major"}, {Kind: hub.CallChord, Chord: "Eb major", Together: true}, {Kind: hub.CallChord, Chord: "X"}}
	c := hub.Command{Chair: chair, Note: pitch.Note(d.of(128)), Slide: instrument.Main, MM: float64(d.of(40)), SeatRow: d.of(2), Place: d.of(4)}
	c.Do = []string{hub.DoCall, hub.DoCall, hub.DoCall, hub.DoAgain, hub.DoNext, hub.DoSkip, hub.DoAbsent, hub.DoPresent, hub.DoEnd, hub.DoFresh,
		hub.DoSeat, hub.DoSetting, hub.DoTone, hub.DoFingering, hub.DoMoves, hub.DoRemove, hub.DoListen, hub.DoChoose, hub.DoWatch, hub.DoEdit,
		hub.DoWarmUp, hub.DoAllMove, hub.DoFollow, hub.DoHearAgain, hub.DoBend, hub.DoEdit}[d.of(26)]
	switch c.Do {
	case hub.DoCall:
		call := calls[d.of(len(calls))]
		call.Thorough = c.SeatRow == 1 && !call.Together && r.state.Section().Order.ByWorth()
		c.Call = &call
	case hub.DoAgain:
		c.Chair *= hub.ChairID(d.of(2))
	case hub.DoFingering:
		c.Name = "1-3"
	case hub.DoEdit:
		s := r.state.Section()
		s.Good = pitch.Cents(d.of(12))
		s.FixedPitch, s.HideNames = d.of(2) == 0, d.of(2) == 0
		s.Reference.A4, s.Arc = []pitch.Hertz{438, 440, 442}[d.of(3)], d.of(2) == 0
		s.Order = []hub.Order{hub.OrderLowToHigh, hub.OrderSeating, hub.OrderByWorth, hub.OrderTwoAtOnce}[d.of(4)]
		if n := len(s.Chairs); n > 0 {
			s.Chairs[d.of(n)].Part = "2nd"
			s.Chairs = append(s.Chairs[:n-d.of(2)], hub.Chair{Instrument: "cornet_bb"})
		}
		c.Section = &s
	}
	return c
}

// solve answers a fit with whatever may have become of it.
func (r *rig) solve(d *dice) {
	if r.fit == nil || d.of(3) == 0 {
		return
	}
	res := attribute.Result{}
	for _, c := range r.fit.Chairs {
		cr := attribute.ChairResult{ID: c.ID, Verdict: []attribute.Verdict{attribute.Sounding, attribute.Sounding, attribute.NoTracks, attribute.Silent, attribute.Together, attribute.Overheard, attribute.Unclear}[d.of(7)]}
		if cr.Verdict == attribute.Sounding {
			cr.Hz, cr.CI95 = max(c.Expected, 58).Shift(pitch.Cents(d.of(40)-20)), 0.5
		}
		res.Chairs = append(res.Chairs, cr)
	}
	fit := r.fit
	r.fit = nil
	r.step(tuneup.Fitted{Round: fit.Round, Result: res})
}

// FuzzStep lets anything happen in any order. After each step the invariants of
// rig.step hold; at the end, and after a crash between any two commits, a
// restart finds the state as it was.
func FuzzStep(f *testing.F) {
	for seed := range uint64(40) {
		f.Add(chance(seed))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		if len(data) > 2000 {
			t.Skip("longer than a rehearsal")
		}
		play(t, data)
	})
}

// chance is a rehearsal drawn by a seed.
func chance(seed uint64) []byte {
	rng := rand.New(rand.NewPCG(seed, 1))
	data := make([]byte, 300+rng.IntN(600))
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	return data
}

var rehearsals = flag.Uint64("rehearsals", 60, "how many rehearsals of TestStepByChance to play")

// TestStepByChance plays many rehearsals that a fuzzer would take hours for,
// without its coverage.
func TestStepByChance(t *testing.T) {
	for seed := range *rehearsals {
		if !t.Run(fmt.Sprint(seed), func(t *testing.T) { play(t, chance(1000+seed)) }) {
			return
		}
	}
}

func play(t *testing.T, data []byte) {
	r, d, seq := newRig(t), &dice{data}, uint64(0)
	for i := range 4 {
		if _, err := r.step(tuneup.Joined{Peer: hub.Peer{Node: fmt.Sprint("n", players[i].name), Boot: "b", Chair: players[i].name, Instrument: players[i].in}}); err != nil {
			t.Fatal(err)
		}
	}
	if d.of(2) == 0 {
		s := r.state.Section()
		s.Order = []hub.Order{hub.OrderByWorth, hub.OrderTwoAtOnce}[d.of(2)]
		r.step(tuneup.Command{Do: hub.DoEdit, Section: &s})
	}
	records := map[int]string{} // by number of commits
	for len(d.left) > 0 {
		r.now = r.now.Add(time.Duration(1+d.of(256)*37) * time.Millisecond) // no two at once
		r.step(r.event(d, &seq))                                            // what cannot be is refused
		r.solve(d)
		records[len(r.steps)] = r.record
	}
	for _, share := range []int{4, 3, 2, 1} { // a crash on the way, and a stop at the end
		commits := len(r.steps) / share
		if record, reached := records[commits]; reached {
			r.replays(commits, record)
		}
	}
	if again := r.load(len(r.steps)); !reflect.DeepEqual(again.Memories(), r.state.Memories()) {
		t.Fatal("a restart remembers something else of the players")
	}
}
