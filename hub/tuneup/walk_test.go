package tuneup_test

import (
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// stands is how a state stands, on one line: what the leader is told, the round, each chair.
func stands(s *tuneup.State, at time.Time) string {
	st := s.Standing(at)
	var out strings.Builder
	_, kind := show.NewRow(st, 0, nil).Say, show.NewRow(st, 0, nil).SayKind
	fmt.Fprintf(&out, "%s set %d heard %d of %d", kind, st.Set, st.Heard, st.Present)
	if r := st.Round; r != nil {
		fmt.Fprintf(&out, " round %d %v asked %d next %d queue %v", r.ID, r.Phase, r.Asked, r.Next, r.Queue)
		if len(r.Choices.Choices) > 0 {
			fmt.Fprintf(&out, " choices %d of %.1f", len(r.Choices.Choices), float64(r.Choices.Common))
		}
		if r.Judgement != nil {
			fmt.Fprintf(&out, " rings %t beats %d", r.Judgement.Rings, len(r.Judgement.Beats))
		}
	}
	for _, c := range st.Chairs {
		fmt.Fprintf(&out, " | %s %d", c.Label, c.State)
		if c.InRound != nil {
			fmt.Fprintf(&out, " %s", c.InRound.Why)
			if a := c.InRound.Answer; a != nil {
				fmt.Fprintf(&out, " %s/%s", a.Kind, a.Code)
			}
		}
		if c.Holds != nil {
			fmt.Fprintf(&out, " %+.1f %s", float64(c.Holds.Cents), c.Holds.Verdict)
		}
		for _, x := range []struct {
			is   bool
			name string
		}{{c.Open != nil, "open"}, {c.ToMove, "to-move"}, {c.Moved, "moved"}, {c.Deaf, "deaf"}, {c.Warming, "warming"}, {c.Away, "away"}, {c.Again != nil, "again"}, {c.Assumed != nil, "assumed"}} {
			if x.is {
				out.WriteString(" " + x.name)
			}
		}
		if n := len(c.Moves); n > 0 {
			m := c.Moves[n-1]
			fmt.Fprintf(&out, " %s %g to %g expects %.1f %s", m.Slide, m.FromMM, m.ToMM, float64(m.Expected), m.FollowThrough)
		}
	}
	return out.String()
}

// TestWalk writes down how rehearsals drawn by chance go: of each event what it has changed. What must hold of each is
// said in TestStepByChance; this shows what a change changes.
func TestWalk(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(20) {
		r, d, seq := newRig(t), &dice{append(chance(5000+seed), chance(6000+seed)...)}, uint64(0)
		for i := range 4 {
			r.step(tuneup.Joined{Peer: hub.Peer{Node: fmt.Sprint("n", players[i].name), Boot: "b", Chair: players[i].name, Instrument: players[i].in, Tracks: seed%3 == 0}})
		}
		if seed%2 == 0 {
			s := r.state.Section()
			s.Order = hub.OrderByWorth
			r.step(tuneup.Command{Do: hub.DoEdit, Section: &s})
		}
		var last []string
		for k := 0; k < 80 && len(d.left) > 0; k++ {
			r.now = r.now.Add(time.Duration(1+d.of(256)*37) * time.Millisecond)
			e := r.likely(d, &seq)
			_, err := r.step(e)
			r.solve(d)
			if !r.wake.IsZero() && r.wake.Before(r.now.Add(2*time.Second)) && r.wake.After(r.now) {
				r.now = r.wake
				r.step(tuneup.Tick{})
			}
			now := strings.Split(stands(r.state, r.now), " | ")
			var news []string
			for _, part := range now {
				if !slices.Contains(last, part) {
					news = append(news, part)
				}
			}
			if last = now; len(news) > 0 || err != nil {
				fmt.Fprintf(&out, "%d.%d %s %t: %s\n", seed, k, strings.TrimPrefix(reflect.TypeOf(e).String(), "tuneup."), err == nil, strings.Join(news, " | "))
			}
		}
	}
	golden.Lines(t, "walk.golden", out.String())
}

// likely is what happens next in most rehearsals: notes are called, whoever is asked plays
// and does as told, and now and then anything else goes on.
func (r *rig) likely(d *dice, seq *uint64) tuneup.Event {
	st := r.state.Standing(r.now)
	if st.Round == nil || st.Round.Phase == tuneup.Done && d.of(3) == 0 {
		call := []hub.Call{{Note: 70}, {Note: 70}, {Note: 65}, {Note: 65, Together: true}, {Kind: hub.CallChord, Chord: "Bb major"}, {Kind: hub.CallChord, Chord: "Eb7", Together: true}, {Kind: hub.CallListen, Together: true}}[d.of(7)]
		return tuneup.Command{Do: hub.DoCall, Call: &call}
	}
	for _, c := range st.Chairs {
		if c.Open != nil && d.of(2) == 0 {
			step := c.Open.Answer.Steps[0]
			return tuneup.Setting{Chair: c.ID, Set: proto.Setting{Slide: step.Slide, MM: step.FromMM + (step.ToMM-step.FromMM)*[]float64{1, 1, 1, 0.5}[d.of(4)]}}
		}
	}
	switch d.of(8) {
	case 0:
		return r.event(d, seq)
	case 1:
		return tuneup.Command(r.command(d, st.Chairs[d.of(len(st.Chairs))].ID))
	case 2:
		return tuneup.Tick{}
	}
	var playing []tuneup.Chair
	for _, c := range st.Chairs {
		if c.State == tuneup.Asked || st.Round.AllAtOnce() && c.Part {
			playing = append(playing, c)
		}
	}
	if len(playing) == 0 {
		return tuneup.Tick{}
	}
	c := playing[d.of(len(playing))]
	*seq++
	w := proto.Reading{Sequence: *seq, Round: int64(st.Round.ID), Hz: 233, CI95: []pitch.Cents{0.5, 1, 3, 12}[d.of(4)], Spread: 1, Level: pitch.Level(-18 - d.of(5)), Floor: -60,
		Settled: d.of(8) > 0, Played: float64(d.of(12) * 60), Start: 100, End: 101, Onset: 99.5, Drift: float64(d.of(3)) - 1, Early: pitch.Cents(d.of(12) - 4)}
	if c.Target.Valid() {
		place := pitch.Cents(int(c.ID)%3*9 - 7) // of the player, before slides are moved
		for _, m := range c.Moves {
			if !m.Done.IsZero() && !m.Withdrawn {
				place += m.Expected * pitch.Cents([]float64{1, 1, 1, 0}[int(m.ID)%4])
			}
		}
		w.Hz = c.Target.Shift(place + pitch.Cents(d.of(5)-2) + pitch.Cents([]float64{0, 0, 0, 0, 0, 0, 200, -90}[d.of(8)]))
	}
	if !w.Settled {
		w.Reason = []string{"vibrato", "moving", "short", "two-sounds"}[d.of(4)]
	}
	return tuneup.Reading{Chair: c.ID, Node: r.node(c.ID), Boot: "b", Wire: w}
}
