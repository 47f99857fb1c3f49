package tuneup_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// TestRowsWalk plays rehearsals of rows of five to twelve who mostly do what they are told: they play at once, are heard
// a few at a time and in turn, move their slides, and now and then something happens. Who sits where, with what, is
// drawn anew each time. Like TestWideWalk it keeps a digest of what each event has changed, and of all that a restart
// finds again.
func TestRowsWalk(t *testing.T) {
	for part := range uint64(3) {
		t.Run(fmt.Sprint(part), func(t *testing.T) {
			var out strings.Builder
			for seed := 4 * part; seed < 4*part+4; seed++ {
				w := newRow(t, 100+seed)
				for k := range 90 {
					w.goesOn(k)
				}
				out.WriteString(w.out.String())
				for _, line := range strings.Split(w.state.Record(), "\n") {
					name, value, named := strings.Cut(strings.TrimSpace(line), ": ")
					if !named {
						name, value = "value", name
					}
					fmt.Fprintf(&out, "found-%s %s\n", strings.Trim(name, `"0123456789`), value)
				}
			}
			golden.Lines(t, fmt.Sprintf("rows%d.digest", part), golden.Digest(out.String()))
		})
	}
}

// row are the instruments of which one is drawn.
var row = []instrument.ID{"trumpet_bb", "trumpet_bb", "trumpet_bb", "cornet_bb", "horn_f", "horn_f", "horn_double", "tenor_trombone_bbf", "tenor_trombone_bbf", "euphonium_bb_bc", "tuba_bbb", "trumpet_c"}

// newRow is a row in two rows of chairs, or three.
func newRow(t *testing.T, seed uint64) *wide {
	w := newDrawn(t, seed)
	n, perRow := 5+w.IntN(8), 3+w.IntN(4)
	of := w.Perm(len(row))
	for i := range n {
		name := fmt.Sprint("P", of[i%len(of)])
		w.happens(tuneup.Joined{Peer: hub.Peer{Node: "n" + name, Boot: "b", Chair: name, Instrument: row[of[i]], Tracks: w.IntN(9) > 0}})
	}
	s := w.state.Section()
	for i, k := range w.Perm(len(s.Chairs)) {
		s.Chairs[i].Row, s.Chairs[i].Place = k/perRow, k%perRow
	}
	s.Order = []hub.Order{hub.OrderLowToHigh, hub.OrderByWorth, hub.OrderTwoAtOnce, hub.OrderSeating}[seed%4]
	s.HornOrder = []slide.HornOrder{slide.BbSideFirst, slide.FSideFirst}[seed/2%2]
	w.happens(tuneup.Command{Do: hub.DoEdit, Section: &s})
	return w
}

// goesOn lets the next thing happen that is likeliest in a row that is told what to do.
func (w *wide) goesOn(k int) {
	w.now = w.now.Add(time.Duration(200+w.IntN(256)*5) * time.Millisecond)
	st := w.state.Standing(w.now)
	switch {
	case w.fit != nil && w.IntN(5) > 0:
		w.happens(w.answer())
	case w.IntN(16) == 0:
		w.happens(w.next())
	case w.IntN(40) == 0:
		w.happens(tuneup.Command{Do: hub.DoUndo})
	case w.IntN(60) == 0:
		w.state = w.load(len(w.steps))
		for _, c := range st.Chairs {
			w.happens(tuneup.Joined{Peer: hub.Peer{Node: "n" + c.Label, Boot: "b", Chair: c.Label, Instrument: c.Chair.Instrument, Tracks: true}})
		}
	case st.Round == nil || st.Round.Phase == tuneup.Done:
		call := hub.Call{Note: []pitch.Note{70, 65, 63}[w.IntN(3)], Together: w.IntN(4) > 0}
		switch w.IntN(4) {
		case 0:
			call.Kind, call.Chord = hub.CallChord, []string{"Bb major", "Eb7", "F minor"}[w.IntN(3)]
		case 1:
			if st.Round != nil && w.state.Section().Order.ByWorth() {
				call.Thorough, call.Together = true, false
			}
		}
		w.happens(tuneup.Command{Do: hub.DoCall, Call: &call})
	case len(w.asked(st)) == 0:
		if w.wake.After(w.now) {
			w.now = w.wake
		}
		w.happens(tuneup.Tick{})
	default:
		all := w.asked(st)
		if together := st.Round.AllAtOnce(); together || w.IntN(3) > 0 {
			c := all[w.IntN(len(all))]
			w.happens(tuneup.Sound{Chair: c.ID, State: proto.State{State: "sounding", Level: -20, Played: float64(k * w.IntN(12))}})
			w.now = w.now.Add(time.Duration(w.IntN(5)*100) * time.Millisecond)
		}
		w.happens(w.note(st, all[w.IntN(len(all))]))
		for _, c := range st.Chairs {
			if c.Open != nil && w.IntN(4) == 0 {
				step := c.Open.Answer.Steps[0]
				w.happens(tuneup.Setting{Chair: c.ID, Set: proto.Setting{Slide: step.Slide, MM: step.ToMM}})
			}
			if st.Round.AllAtOnce() && w.IntN(3) == 0 {
				w.happens(tuneup.Sound{Chair: c.ID, State: proto.State{State: "quiet", Played: float64(k * w.IntN(12))}})
			}
		}
	}
}

// asked are the chairs that are to play.
func (w *wide) asked(st tuneup.Standing) (all []tuneup.Chair) {
	for _, c := range st.Chairs {
		if c.State == tuneup.Asked {
			all = append(all, c)
		}
	}
	return all
}
