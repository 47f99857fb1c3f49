package tuneup_test

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/tuneup"
)

// standingFacts is how everything stands, as names and figures.
func (r *rig) standingFacts() map[string]string {
	st := r.state.Standing(r.now)
	now := map[string]string{}
	for _, c := range st.Chairs {
		for k, v := range flat(c) {
			now[c.Label+k] = v
		}
	}
	st.Chairs = nil
	maps.Copy(now, flat(st))
	return now
}

// byChance plays a rehearsal that a seed draws; each is shown every event before it happens.
func byChance(t *testing.T, seed uint64, steps int, each func(r *rig, k int, e tuneup.Event)) {
	rng := rand.New(rand.NewPCG(seed, 78))
	data := make([]byte, 20*steps)
	for i := range data {
		data[i] = byte(rng.Uint32())
	}
	r, d, seq := newRig(t), &dice{data}, uint64(0)
	for i := range 4 {
		r.step(tuneup.Joined{Peer: hub.Peer{Node: "n" + players[i].name, Boot: "b", Chair: players[i].name, Instrument: players[(i+int(seed)%2)%5].in, Tracks: seed%3 == 0}})
	}
	s := r.state.Section()
	s.Order = []hub.Order{hub.OrderLowToHigh, hub.OrderByWorth, hub.OrderTwoAtOnce, hub.OrderSeating}[seed%4]
	r.step(tuneup.Command{Do: hub.DoEdit, Section: &s})
	for k := 0; k < steps && len(d.left) > 0; k++ {
		r.now = r.now.Add(time.Duration(1+d.of(256)*37) * time.Millisecond)
		each(r, k, r.busy(d, &seq))
		r.solve(d)
		if !r.wake.IsZero() && r.wake.Before(r.now.Add(2*time.Second)) && r.wake.After(r.now) {
			r.now = r.wake
			r.step(tuneup.Tick{})
		}
	}
}

// commandOf is what a leader has done by an event, "" for what nobody can undo.
func commandOf(e tuneup.Event) string {
	switch e := e.(type) {
	case tuneup.Opened:
		return "piece"
	case tuneup.Command:
		if e.Do != hub.DoUndo {
			return e.Do
		}
	}
	return ""
}

// TestUndoAtOnce: whatever the leader does, undone at once, leaves everything as it stood before. Slides
// stay where they were said to stand, and a laptop whose chair was taken out has to join again,
// which may cost its turn.
func TestUndoAtOnce(t *testing.T) {
	undone := map[string]int{}
	for seed := range uint64(16) {
		byChance(t, seed, 70, func(r *rig, k int, e tuneup.Event) {
			do := commandOf(e)
			if do == "" || slices.ContainsFunc(r.state.Standing(r.now).Chairs, r.mayArrive) {
				r.step(e)
				return
			}
			r.step(tuneup.Tick{}) // whatever time alone changes has changed
			before, st := r.standingFacts(), r.state.Standing(r.now)
			if _, err := r.step(e); err != nil {
				return
			}
			if _, err := r.step(tuneup.Command{Do: hub.DoUndo}); err != nil {
				t.Fatal(err)
			}
			undone[do]++
			back := false
			for _, c := range st.Chairs {
				if node, _ := r.state.Node(c.ID); node == "" && !c.Away {
					back = true
					r.step(tuneup.Joined{Peer: hub.Peer{Node: fmt.Sprint("back ", c.ID), Chair: c.Label, Instrument: c.Chair.Instrument, Tracks: c.Sends}})
					r.step(tuneup.Sound{Chair: c.ID, State: c.Sound})
				}
			}
			after := r.standingFacts()
			for _, facts := range []map[string]string{before, after} {
				maps.DeleteFunc(facts, func(name, now string) bool {
					slides := strings.Contains(name, ".Settings.") || strings.Contains(name, ".Travel.")
					// What a note would tell orders those who were not told to be next, and is
					// no promise; nor is whose chance of being outside was looked at last.
					order := st.Round != nil && st.Round.ByWorth && (name == ".Round.Queue" || strings.HasSuffix(name, ".Ahead"))
					turn := back && (strings.HasSuffix(name, ".State") || slices.Contains([]string{".Round.Asked", ".Round.Beside", ".Round.Awaited", ".Round.Phase"}, name))
					return now == "[]" || turn || slides && (do == hub.DoEdit || do == hub.DoSetting) || order || strings.HasSuffix(name, ".Outside")
				})
			}
			if n := news(before, after); n != "" {
				t.Errorf("%d.%d %s was undone, and now %s", seed, k, do, n)
			}
			r.step(e)
		})
	}
	if len(undone) < 20 {
		t.Errorf("tried %v, need most of the commands", undone)
	}
}

// mayArrive reports whether a chair is here and not in the running round, so that any undo lets it in.
func (r *rig) mayArrive(c tuneup.Chair) bool {
	run := r.state.Standing(r.now).Round
	return run != nil && !c.Away && !c.Chair.Absent && !c.Part
}

// TestTwiceIsOnce: that somebody joins, leaves, sounds or says where a slide stands twice over, and that time goes by
// once more at the same moment, changes no more than once.
func TestTwiceIsOnce(t *testing.T) {
	tried := map[string]int{}
	for seed := range uint64(16) {
		byChance(t, 100+seed, 70, func(r *rig, k int, e tuneup.Event) {
			_, err := r.step(e)
			switch e.(type) {
			case tuneup.Joined, tuneup.Left, tuneup.Sound, tuneup.Setting, tuneup.Tick:
			default:
				return
			}
			if err != nil {
				return
			}
			kind := fmt.Sprintf("%T", e)
			tried[kind]++
			before, record := r.standingFacts(), r.state.Record()
			out, err := r.step(e)
			if n := news(before, r.standingFacts()); n != "" || err != nil {
				t.Errorf("%d.%d %s twice: %v, %s", seed, k, kind, err, n)
			}
			// That it was said is on record each time.
			if again := r.state.Record(); again != record && kind != "tuneup.Setting" {
				t.Errorf("%d.%d %s twice stores %v: %s", seed, k, kind, out.Changes, differs(again, record))
			}
		})
	}
	if len(tried) < 4 {
		t.Errorf("tried %v", tried)
	}
}

// TestHeardStaysHeard: who was left out, was asked again all the same and was heard is not asked once more when both
// commands are undone; who was not heard is.
func TestHeardStaysHeard(t *testing.T) {
	for _, do := range []string{"skip Cy", "next"} {
		for _, heard := range []bool{false, true} {
			h := room(t, 440)
			h.lines("join Ada trumpet_bb", "join Bo horn_f", "join Cy tuba_bbb", "call Bb4", do, "again Cy")
			if heard {
				h.lines("play Cy 1")
			}
			h.lines("undo", "undo")
			waits := slices.Contains(h.state.Standing(h.now).Round.Queue, h.laptop("Cy").chair)
			if waits == heard {
				t.Errorf("%s, again, heard %v, both undone: waits %v", do, heard, waits)
			}
		}
	}
}
