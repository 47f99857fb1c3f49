package tuneup_test

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/attribute"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/proto/track"
	"bellrow/testdata/golden"
)

// TestWideWalk plays rehearsals of several days, with restarts, rows that play at once, chords, mutes, bends, set-ups
// of every kind, and keeps a digest of what each event has changed, was refused for and stored.
func TestWideWalk(t *testing.T) {
	for part := range uint64(4) {
		t.Run(fmt.Sprint(part), func(t *testing.T) { wideWalk(t, part) })
	}
}

func wideWalk(t *testing.T, part uint64) {
	var out strings.Builder
	for seed := 6 * part; seed < 6*part+6; seed++ {
		w := newWide(t, seed)
		for k := range 150 {
			w.now = w.now.Add(time.Duration(1+w.IntN(256)*37) * time.Millisecond)
			if k%50 == 49 { // another day, or later on the same
				w.now = w.now.Add([]time.Duration{time.Minute, 3*time.Hour - 5*time.Second, 4 * time.Hour, 24 * time.Hour, 7 * 24 * time.Hour}[w.IntN(5)])
				w.state = w.load(len(w.steps))
				w.everybody()
			}
			w.happens(w.next())
			if w.fit != nil && w.IntN(3) > 0 {
				w.happens(w.answer())
			}
			if !w.wake.IsZero() && w.wake.After(w.now) && w.IntN(4) == 0 {
				w.now = w.wake
				w.happens(tuneup.Tick{})
			}
		}
		out.WriteString(w.out.String())
	}
	golden.Lines(t, fmt.Sprintf("wide%d.digest", part), golden.Digest(out.String()))
}

// wide is a rehearsal of all that can be.
type wide struct {
	factsOf
	*rand.Rand
	out   strings.Builder
	seq   uint64
	asOne bool // all are sharp alike
}

// newDrawn is one with nobody in it yet.
func newDrawn(t *testing.T, seed uint64) *wide {
	return &wide{factsOf: factsOf{rig: newRig(t)}, Rand: rand.New(rand.NewPCG(seed, 79))}
}

func newWide(t *testing.T, seed uint64) *wide {
	w := newDrawn(t, seed)
	w.asOne = seed%4 == 3
	w.everybody()
	s := w.state.Section()
	s.Order = []hub.Order{hub.OrderLowToHigh, hub.OrderByWorth, hub.OrderTwoAtOnce, hub.OrderSeating, hub.OrderByWorth}[seed%5]
	s.FixedPitch, s.HideNames, s.TemperatureC, s.Tuning = seed%7 == 0, seed%3 == 0, []float64{0, 17, 25}[seed%3], []string{"", "equal", "just"}[seed%3]
	s.HornOrder = []slide.HornOrder{slide.BbSideFirst, slide.FSideFirst}[seed/2%2]
	w.happens(tuneup.Command{Do: hub.DoEdit, Section: &s})
	return w
}

// cast are the players of a row.
var cast = append(players, []struct {
	name string
	in   instrument.ID
}{{"Fay", "trumpet_bb"}, {"Gus", "euphonium_bb_bc"}, {"Hal", "tenor_trombone_bbf"}}...)

// everybody joins, with tracks or without.
func (w *wide) everybody() {
	for i, p := range cast {
		if i < 4 || w.IntN(3) > 0 {
			w.happens(tuneup.Joined{Peer: hub.Peer{Node: "n" + p.name, Boot: "b", Chair: p.name, Instrument: p.in, Tracks: w.IntN(4) > 0}})
		}
	}
}

// happens lets an event happen and writes down, a line each, what it has changed.
func (w *wide) happens(e tuneup.Event) {
	o, err := w.state.Step(w.now, e)
	w.take(o)
	what := strings.TrimPrefix(reflect.TypeOf(e).String(), "tuneup.")
	if c, command := e.(tuneup.Command); command {
		what = c.Do
	}
	var told strings.Builder
	w.tell(&told, "at", what, o, err)
	for i, line := range strings.Split(strings.TrimSpace(told.String()), "\n") {
		line = strings.TrimSpace(line)
		switch {
		case i == 0:
			fmt.Fprintf(&w.out, "%s %s\n", what, strings.TrimPrefix(line, "at "+what))
		case strings.HasPrefix(line, "? "):
			fmt.Fprintf(&w.out, "fit %s\n", line)
		case strings.HasPrefix(line, "> "):
			kind, rest, _ := strings.Cut(strings.TrimPrefix(line, "> "), ":")
			kind, _, _ = strings.Cut(kind, " ")
			for _, fact := range strings.Split(rest, "; ") {
				name, value, _ := strings.Cut(strings.TrimSpace(fact), " ")
				fmt.Fprintf(&w.out, "stored-%s%s %s\n", kind, unnumbered(name), value)
			}
		default:
			for _, fact := range strings.Split(line, "; ") {
				_, name, _ := strings.Cut(fact, ".")
				name, value, _ := strings.Cut(name, " ")
				fmt.Fprintf(&w.out, "%s %s\n", unnumbered(name), address.ReplaceAllString(value, ""))
			}
		}
	}
}

// address is where something lies in memory, which tells nothing.
var address = regexp.MustCompile(`0x[0-9a-f]+`)

// unnumbered is the name of a fact whatever chair it is of.
func unnumbered(name string) string {
	return strings.Trim(strings.ReplaceAll(name, "..", "."), "0123456789")
}

// next is what happens next.
func (w *wide) next() tuneup.Event {
	st := w.state.Standing(w.now)
	chair := st.Chairs[w.IntN(len(st.Chairs))]
	n := w.IntN(40)
	switch {
	case !w.asOne:
	case st.Round != nil && st.Round.AsOne && n < 20:
		n = 10
	case n < 33: // most of them play
		n = 39
	default:
		n -= 33
	}
	switch n {
	case 0:
		return tuneup.Opened{Piece: chorale(w.t)}
	case 1:
		return tuneup.Command{Do: []string{hub.DoNextSonority, hub.DoSonority, hub.DoPart, hub.DoPartFor, hub.DoDropPiece}[w.IntN(5)], Index: w.IntN(5), Chair: chair.ID, Part: w.IntN(5), Name: string(chair.Chair.Instrument)}
	case 2, 3:
		return w.edit(st)
	case 4:
		return tuneup.Command{Do: hub.DoUndo}
	case 5, 6, 7:
		call := w.call()
		return tuneup.Command{Do: hub.DoCall, Call: &call}
	case 8, 9:
		c := hub.Command{Chair: chair.ID, Note: pitch.Note(40 + w.IntN(40)), Slide: instrument.Main, MM: float64(w.IntN(40)), SeatRow: w.IntN(3), Place: w.IntN(5), Name: []string{"", "1-3", "2", "F major", "Bb major", "1"}[w.IntN(6)]}
		c.Do = []string{hub.DoAgain, hub.DoNext, hub.DoSkip, hub.DoAbsent, hub.DoPresent, hub.DoEnd, hub.DoFresh, hub.DoSeat, hub.DoSetting, hub.DoTone, hub.DoFingering, hub.DoRemove, hub.DoListen, hub.DoChoose, hub.DoChoose, hub.DoWatch, hub.DoBend}[w.IntN(17)]
		if c.Do == hub.DoAgain && w.IntN(2) == 0 {
			c.Chair = 0
		}
		return tuneup.Command(c)
	case 10:
		return tuneup.Command{Do: []string{hub.DoMoves, hub.DoAllMove, hub.DoFollow, hub.DoHearAgain, hub.DoWarmUp}[w.IntN(5)]}
	case 11, 12:
		return tuneup.Setting{Chair: chair.ID, Set: proto.Setting{Slide: []instrument.SlideID{instrument.Main, "third", instrument.BbMain}[w.IntN(3)], MM: float64(w.IntN(30)), TravelMM: []float64{0, 0, 45}[w.IntN(3)]}}
	case 13:
		return tuneup.Left{Chair: chair.ID, Node: w.node(chair.ID)}
	case 14:
		p := cast[w.IntN(len(cast))]
		return tuneup.Joined{Peer: hub.Peer{Node: "n" + p.name, Boot: "b2", Chair: []string{p.name, "", chair.Label, "New"}[w.IntN(4)], Instrument: p.in, Tracks: true}, Known: hub.NodeRecord{Node: "n" + p.name, Chair: chair.ID, TokenHash: []byte{1}}}
	case 15, 16:
		return tuneup.Sound{Chair: chair.ID, State: proto.State{State: []string{"quiet", "sounding", "resting", proto.Paused}[w.IntN(4)], Played: float64(w.IntN(30) * 25), Trouble: []string{"", "", "soft"}[w.IntN(3)]}}
	case 17:
		return tuneup.Ping{Chair: chair.ID, Ping: proto.Ping{Sent: float64(w.IntN(100)), Offset: 3, Error: 0.002, Sample: int64(w.IntN(1e6))}}
	case 18, 19, 20:
		w.happens(tuneup.Track{Chair: chair.ID, Chunk: track.Chunk{Reference: 58, Rate: 48000}})
		return tuneup.Track{Chair: chair.ID, Chunk: track.Chunk{Reference: 58, Rate: 48000}}
	}
	if st.Round == nil || w.asOne && st.Round.Phase == tuneup.Done {
		call := w.call()
		if w.asOne {
			call = hub.Call{Note: 70}
		}
		return tuneup.Command{Do: hub.DoCall, Call: &call}
	}
	for _, c := range st.Chairs {
		if c.Open != nil && w.IntN(3) == 0 {
			step := c.Open.Answer.Steps[0]
			return tuneup.Setting{Chair: c.ID, Set: proto.Setting{Slide: step.Slide, MM: step.FromMM + (step.ToMM-step.FromMM)*[]float64{1, 1, 0.6, 1.1}[w.IntN(4)]}}
		}
	}
	return w.note(st, chair)
}

// note is one of somebody who is asked, or now and then of anybody.
func (w *wide) note(st tuneup.Standing, c tuneup.Chair) tuneup.Event {
	if w.IntN(9) > 0 {
		playing := w.asked(st)
		if len(playing) == 0 {
			w.now = w.now.Add(time.Second)
			return tuneup.Tick{}
		}
		c = playing[w.IntN(len(playing))]
	}
	w.seq++
	r := proto.Reading{Sequence: w.seq, Round: int64(st.Round.ID), Hz: pitch.Reference{}.Frequency(pitch.Note(46 + w.IntN(24))), CI95: []pitch.Cents{0.5, 1, 3, 12}[w.IntN(4)], Spread: 1, Level: pitch.Level(-18 - w.IntN(8)), Floor: -60,
		Settled: w.IntN(7) > 0, Played: float64(w.IntN(14) * 60), Start: 100, End: 101 + 3*w.Float64(), Onset: 99.5, Drift: float64(w.IntN(5)) - 2, Early: pitch.Cents(w.IntN(16) - 6)}
	if c.Target.Valid() {
		place := pitch.Cents(int(c.ID)%4*8-8) + []pitch.Cents{0, 0, 12}[st.Rounds%3] // of the player, and of the day
		for _, m := range c.Moves {
			if !m.Done.IsZero() && !m.Withdrawn {
				place += m.Expected * pitch.Cents([]float64{1, 1, 0.7, 0}[int(m.ID)%4])
			}
		}
		if w.asOne {
			place = place/8 + 16
		}
		r.Hz = c.Target.Shift(place + pitch.Cents(2*w.NormFloat64()) + []pitch.Cents{0, 0, 0, 0, 0, 0, 0, 100, -1200, 55}[w.IntN(10)])
	}
	switch w.IntN(10) {
	case 0:
		r.Vibrato = &proto.Vibrato{RateHz: 5.5, Extent: pitch.Cents(5 + w.IntN(40))}
	case 1:
		r.Second = &proto.Second{Offset: 7, LevelDB: -3}
	case 2:
		r.Mute = string(slide.Mutes[w.IntN(len(slide.Mutes))])
	case 3:
		r.Round = int64(w.IntN(3)) * int64(st.Round.ID-hub.RoundID(w.IntN(2)))
	}
	if !r.Settled {
		r.Reason = []string{"vibrato", "moving", "short", "two-sounds", "soft", "wide", "noise"}[w.IntN(7)]
	}
	if st.Round.Call.Kind == hub.CallBend {
		r.Path = &proto.Path{Hz: r.Hz, Step: 0.05}
		for i := range 140 {
			r.Path.Tenths = append(r.Path.Tenths, []int{0, -400, 0, 300, 20}[i/28])
		}
	}
	return tuneup.Reading{Chair: c.ID, Node: w.node(c.ID), Boot: "b", Wire: r}
}

// call is any that a leader may make.
func (w *wide) call() hub.Call {
	c := hub.Call{Note: []pitch.Note{70, 65, 58, 69}[w.IntN(4)], Together: w.IntN(3) == 0, Spelled: []string{"", "A#", "Gb"}[w.IntN(3)]}
	switch w.IntN(5) {
	case 0:
		c.Kind, c.Chord = hub.CallChord, []string{"Bb major", "Eb7", "F minor first inversion", "G diminished", "C sus"}[w.IntN(5)]
		c.Tuning, c.Anchor, c.Shape = []string{"", "equal", "keyboard"}[w.IntN(3)], []string{"", "bass", "reference"}[w.IntN(3)], []string{"", "bottom-heavy"}[w.IntN(2)]
	case 1:
		c.Kind = hub.CallListen
	case 2:
		c.Thorough = w.state.Section().Order.ByWorth()
		c.Together = false
	}
	if w.IntN(8) == 0 {
		c.Only, c.Tones = true, map[hub.ChairID]pitch.Note{1: 58, 3: 65}
	}
	return c
}

// edit is another set-up.
func (w *wide) edit(st tuneup.Standing) tuneup.Event {
	s := w.state.Section()
	c := &s.Chairs[w.IntN(len(s.Chairs))]
	switch w.IntN(10) {
	case 0:
		s.Reference.A4 = []pitch.Hertz{438, 440, 442}[w.IntN(3)]
	case 1:
		s.Good, s.Near = []pitch.Cents{3, 5, 8}[w.IntN(3)], 12
	case 2:
		s.Order = []hub.Order{hub.OrderLowToHigh, hub.OrderByWorth, hub.OrderTwoAtOnce, hub.OrderSeating}[w.IntN(4)]
	case 3:
		c.Travel = instrument.Settings{instrument.Main: float64(25 + w.IntN(30))}
	case 4:
		c.Settings = instrument.Settings{instrument.Main: float64(w.IntN(20))}
	case 5:
		c.Absent = !c.Absent
	case 6:
		c.Row, c.Place, c.Part = w.IntN(3), w.IntN(6), "2nd"
	case 7:
		s.TuningNotes = []pitch.Note{[]pitch.Note{70, 65, 63}[w.IntN(3)]}
	case 8:
		s.HornOrder, s.TemperatureC, s.FixedPitch = slide.FSideFirst, 15, w.IntN(4) == 0
	case 9:
		w.spoil(&s, c)
	}
	return tuneup.Command{Do: hub.DoEdit, Section: &s}
}

// spoil makes a set-up one that cannot be.
func (w *wide) spoil(s *hub.Section, c *hub.Chair) {
	switch w.IntN(16) {
	case 0:
		s.Name = []string{" ", strings.Repeat("x", proto.MaxName+1), "\xff"}[w.IntN(3)]
	case 1:
		s.Good, s.Near = 5, 51
	case 2:
		s.Good = 0
	case 3:
		s.Order = "by-heart"
	case 4:
		s.Language = "klingon"
	case 5:
		s.HornOrder = "sideways"
	case 6:
		s.TuningNotes = make([]pitch.Note, 25)
	case 7:
		s.TuningNotes = []pitch.Note{200}
	case 8:
		s.TemperatureC = 80
	case 9:
		s.Reference.A4 = 300
	case 10:
		s.Chairs = append(s.Chairs, s.Chairs[0])
	case 11:
		c.Row = 1001
	case 12:
		c.Instrument = "nose"
	case 13:
		c.Settings = instrument.Settings{"nose": 3}
	case 14:
		c.Travel = instrument.Settings{instrument.Main: proto.MaxSlideMM + 1}
	case 15:
		s.Tuning = "loud"
	}
}

// answer is what may have become of a row that played at once.
func (w *wide) answer() tuneup.Event {
	fit := w.fit
	w.fit = nil
	var res attribute.Result
	for i, c := range fit.Chairs {
		cr := attribute.ChairResult{ID: c.ID, Verdict: []attribute.Verdict{attribute.Sounding, attribute.Sounding, attribute.Sounding, attribute.NoTracks, attribute.Silent, attribute.Together, attribute.Overheard, attribute.Unclear}[w.IntN(8)], Over: float64(w.IntN(12)) - 2}
		if cr.Verdict == attribute.Sounding {
			cr.Hz, cr.CI95, cr.Spread, cr.Drift, cr.Level, cr.From, cr.To = max(c.Expected, 58).Shift(pitch.Cents(9*w.NormFloat64())), []pitch.Cents{0.4, 2, 7}[w.IntN(3)], 1, 0.5, pitch.Level(-20-w.IntN(9)), 2, 4.5
		}
		if i > 0 && w.IntN(5) == 0 {
			res.Pairs = append(res.Pairs, attribute.Pair{A: min(c.ID, fit.Chairs[i-1].ID), B: max(c.ID, fit.Chairs[i-1].ID)})
		}
		res.Chairs = append(res.Chairs, cr)
	}
	return tuneup.Fitted{Round: fit.Round, Result: res}
}
