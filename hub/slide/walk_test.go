package slide

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// told is an answer on one line: what is asked and on what figures.
func told(a Advice) string {
	var out strings.Builder
	fmt.Fprintf(&out, "%s %s", a.Kind, a.Code)
	for _, st := range a.Steps {
		fmt.Fprintf(&out, " | %s %g to %g of %g expects %.4f", st.Slide, st.FromMM, st.ToMM, st.TravelMM, float64(st.Expected))
		if st.ShortMM != 0 {
			fmt.Fprintf(&out, " short %.4f %g mm", float64(st.ShortBy), st.ShortMM)
		}
	}
	f := a.Facts
	for _, x := range []struct {
		name  string
		value float64
	}{{"own", float64(f.Own.Offset)}, {"sd", f.Own.SD}, {"wait", f.WaitSeconds}, {"rise", float64(f.Rise)}, {"gain", float64(f.Gain)}, {"away", float64(f.Away)}, {"need", f.NeedMM}} {
		if x.value != 0 {
			fmt.Fprintf(&out, " %s %.4f", x.name, x.value)
		}
	}
	if a.Doubt || f.Anew {
		fmt.Fprintf(&out, " doubt %t anew %t", a.Doubt, f.Anew)
	}
	if a.Try != nil {
		fmt.Fprintf(&out, " try %v", *a.Try)
	}
	for _, x := range []struct{ name, value string }{{"slip", f.Slip}, {"because", f.Because}, {"verdict", string(f.Verdict)}, {"of", string(f.Slide.ID)}} {
		if x.value != "" {
			fmt.Fprintf(&out, " %s %s", x.name, x.value)
		}
	}
	for _, x := range []struct {
		name string
		is   bool
	}{{"out", f.Out}, {"measured", f.Measured}, {"placed", f.Placed}, {"pitched", f.Pitched}, {"pinched", f.Pinched}, {"wrong-way", f.WrongWay}} {
		if x.is {
			out.WriteString(" " + x.name)
		}
	}
	if a.Heard != 0 {
		fmt.Fprintf(&out, " heard %v", a.Heard)
	}
	fmt.Fprintf(&out, " notes %d telling %d", f.Notes, len(f.Telling))
	return out.String()
}

// played are the instruments of a walk: each family, and whatever is built otherwise.
func played(t *testing.T) (all []*instrument.Instrument) {
	for _, id := range []instrument.ID{"trumpet_bb", "flugelhorn_bb", "horn_f", "horn_double", "tenor_trombone_bb", "tenor_trombone_bbf", "bass_trombone_bb_2v", "baritone_bb_bc", "euphonium_bb_bc", "tuba_cc", "flute"} {
		all = append(all, catalogue(t, id))
	}
	return all
}

// walker makes players up.
type walker struct{ *rand.Rand }

func (w walker) one(xs ...float64) float64 { return xs[w.IntN(len(xs))] }

func (w walker) cents(sd float64) pitch.Cents { return pitch.Cents(sd * w.NormFloat64()) }

// note is one that the instrument has a way to play.
func (w walker) note(in *instrument.Instrument) pitch.Note {
	for {
		if n := in.Low + pitch.Note(w.IntN(int(in.High-in.Low)+1)); len(in.Paths(n)) > 0 {
			return n
		}
	}
}

// input is a note of one of the usual kinds on an instrument.
func (w walker) input(in *instrument.Instrument, n pitch.Note) Input {
	q := Input{Instrument: in, Note: n, Reading: heard(n, w.cents(w.one(2, 8, 20)), pitch.Cents(w.one(0.5, 1.5, 4, 12)))}
	if ways := in.Paths(n); w.IntN(3) == 0 {
		q.Path = ways[w.IntN(len(ways))]
	}
	q.Settings = instrument.Settings{instrument.Main: w.one(0, 3, 12, 20, 30)}
	r := &q.Reading
	switch w.IntN(12) {
	case 0:
		r.Early, r.Drift = 8, -3 // pinched
	case 1:
		r.Drift = w.one(-4, 4)
	case 2:
		r.Settled, r.Reason, r.Vibrato = false, "vibrato", 24
	case 3:
		r.Settled, r.Reason = false, []string{"moving", "short", "soft", "two-sounds", "wide", "clipping"}[w.IntN(6)]
	case 4:
		r.Hz = r.Hz.Shift(pitch.Cents(w.one(-1200, -200, -100, 100, 200, 500, 700, 1200)))
	case 5:
		r.Overheard = true
	case 6:
		q.Baseline = r.Level + pitch.Level(w.one(-12, -5, 5, 12))
	case 7:
		q.Mute = Mutes[1+w.IntN(len(Mutes)-1)]
		q.MuteShift = Estimate{w.cents(8), 3}
	case 8:
		for range 4 {
			q.History = append(q.History, Past{Settings: instrument.Settings{instrument.Main: 12}, Cents: w.cents(5) + pitch.Cents(w.one(0, 45))})
		}
	}
	if w.IntN(3) == 0 {
		q.Purpose = Balance
	}
	if w.IntN(4) == 0 {
		q.Learned = Learned{Ratio: w.one(0.85, 1.2), SD: 0.03, Moves: 3}
	}
	if w.IntN(4) == 0 {
		q.Travel = instrument.Settings{instrument.Main: w.one(25, 60)}
	}
	if w.IntN(3) == 0 {
		for range 1 + w.IntN(2) {
			r := heard(n, w.cents(8), 1.5)
			r.Early, r.Drift = pitch.Cents(w.one(0, 8, 5)), w.one(0, -3)
			q.Earlier = append(q.Earlier, r)
		}
	}
	if w.IntN(3) == 0 {
		q.Prior = Belief{w.cents(8), w.one(1, 3)}
	}
	if w.IntN(3) == 0 {
		for _, o := range in.Telling() {
			if len(in.Paths(o)) > 0 && o != n {
				q.Others = append(q.Others, Known{o, in.Paths(o)[0], Belief{w.cents(8), w.one(1, 2.5)}})
			}
		}
	}
	q.Pinches, q.Warm, q.CommonChange = w.IntN(6) == 0, w.IntN(6) == 0, pitch.Cents(w.one(0, 0, 4))
	q.Good = pitch.Cents(w.one(0, 0, 3, 10))
	q.Played = w.one(0, 0, 20, 90, 200, 400)
	return q
}

// problem is some notes of an instrument that stands at a place.
func (w walker) problem(in *instrument.Instrument, place pitch.Cents) Problem {
	p := Problem{Instrument: in, Settings: instrument.Settings{instrument.Main: w.one(2, 12, 25)}, Good: pitch.Cents(w.one(0, 3))}
	if w.IntN(3) == 0 {
		p.HornOrder, p.Usual = FSideFirst, &Estimate{w.cents(4), 3}
	}
	if w.IntN(3) == 0 {
		p.Learned = Learned{Ratio: 1.15, SD: 0.04, Moves: 2}
	}
	for range 3 + w.IntN(6) {
		n := w.note(in)
		x := place + in.Tendency(in.Paths(n)[0]) + w.cents(w.one(2, 6))
		p.Heard = append(p.Heard, Heard{Note: n, Reading: heard(n, x, pitch.Cents(w.one(1, 3, 11)))})
	}
	return p
}

// TestWalkOfAnswers writes down what single notes of every instrument are told.
func TestWalkOfAnswers(t *testing.T) {
	w := walker{rand.New(rand.NewPCG(41, 1))}
	var out strings.Builder
	for _, in := range played(t) {
		for range 110 {
			n := w.note(in)
			q := w.input(in, n)
			fmt.Fprintf(&out, "%s %v %v: %s\n", in.ID, n, q.Path, told(Advise(q)))
		}
	}
	golden.Lines(t, "answers.txt", out.String())
}

// TestWalkOfTuneUps writes down whole tune-ups: notes, moves that are made, made in part, or
// held, the reference changed in between.
func TestWalkOfTuneUps(t *testing.T) {
	w := walker{rand.New(rand.NewPCG(41, 2))}
	var out strings.Builder
	for _, id := range []instrument.ID{"trumpet_bb", "horn_double", "tenor_trombone_bbf", "tuba_cc", "euphonium_bb_bc", "horn_f"} {
		in := catalogue(t, id)
		for player := range 5 {
			var m Memory
			var turn Turn
			set, place := instrument.Settings{instrument.Main: 15}, w.cents(14)
			ref, played := pitch.Reference{}, w.one(10, 400)
			notes := in.Telling()[:2]
			fmt.Fprintf(&out, "%s %d: %.3f\n", id, player, float64(place))
			for k := range 9 {
				if k == 6 {
					ref = pitch.Reference{A4: pitch.Hertz(w.one(438, 442))}
				}
				n := notes[w.IntN(2)]
				q := w.input(in, n)
				q.Path, q.Purpose, q.Settings, q.Travel, q.History, q.Learned, q.Played = instrument.Path{}, Tuning, set, nil, nil, Learned{}, played
				q.Target = ref.Frequency(n)
				q.Reading.Hz = pitch.Reference{}.Frequency(n).Shift(place + in.Tendency(in.Paths(n)[0]) + w.cents(1.5))
				q.Reading.Played = played
				q.CommonChange = pitch.Cents(w.one(0, 0, 3, -6))
				if w.IntN(5) == 0 {
					q.Mute = Open
				}
				a, f := m.Answer(q)
				toldTo, over := turn.Answer(a)
				turn.Take(a)
				fmt.Fprintf(&out, "  %v %s\n    turn %s %s %t follow %v review %s belief %.4f learned %v pinched %t\n", n, told(a), toldTo.Kind, toldTo.Code, over, f,
					m.Review(q).Code, m.Belief(n), m.Learned(), m.Pinched())
				for _, st := range a.Steps {
					to := st.FromMM + (st.ToMM-st.FromMM)*w.one(1, 1, 1, 0.5)
					m.Moved(in, set, st.Slide, st.FromMM, to)
					if w.IntN(4) > 0 { // else the lips hold it
						place += LeverOf(in, in.Paths(n)[0], st.Slide, set, Learned{}).Cents(to - st.FromMM)
					}
					set = instrument.Settings{instrument.Main: 15, st.Slide: to}
				}
				played += 20
			}
		}
	}
	golden.Lines(t, "tuneups.txt", out.String())
}

// TestWalkOfProblems writes down what several notes, whole sections and moves by so many
// millimetres come to.
func TestWalkOfProblems(t *testing.T) {
	w := walker{rand.New(rand.NewPCG(41, 3))}
	var out strings.Builder
	var seats []Seat
	for _, in := range slices.Repeat(played(t), 4) {
		place := w.cents(12)
		p := w.problem(in, place)
		s, err := Solve(p)
		fmt.Fprintf(&out, "%s: %v %s\n", in.ID, err, told(s.Advice))
		for _, x := range s.Shares {
			fmt.Fprintf(&out, "  %s %.4f ± %.4f theory %.4f mm %.4f ± %.4f\n", x.Name, float64(x.Cents), float64(x.CI95), float64(x.Theory), x.MM, x.MMCI95)
		}
		for _, x := range s.Notes {
			fmt.Fprintf(&out, "  %v %v %.4f to %.4f weight %.4f theory %.4f\n", x.Note, x.Path, float64(x.Offset), float64(x.After), x.Weight, float64(x.Theory))
		}
		if len(in.Telling()) == 0 {
			continue // no slide, no move
		}
		n := in.Telling()[0]
		seats = append(seats, Seat{Instrument: in, Path: in.Paths(n)[0], Settings: p.Settings, Offset: place})
		for _, mm := range []float64{0, 3, -4, 60} {
			fmt.Fprintf(&out, "  by %g: %s\n", mm, told(MoveBy(w.input(in, n), mm, Belief{w.cents(8), 2})))
		}
	}
	fixed := pitch.Reference{A4: 443}
	for k := 0; k+5 <= len(seats); k += 5 {
		five := seats[k : k+5]
		for i := range five {
			five[i].Offset = five[i].Offset/4 + pitch.Cents(w.one(-11, 9, 16))
		}
		for _, f := range []*pitch.Reference{nil, &fixed} {
			o := CommonPitch(pitch.Reference{}, five, f)
			fmt.Fprintf(&out, "offer %g %.4f %.4f %d %d %t\n", float64(o.Reference.A4), o.MM, o.PresentMM, o.Beyond, o.PresentBeyond, o.Changed)
			a := Together(pitch.Reference{}, five, 5, f != nil)
			fmt.Fprintf(&out, "together %.4f %.4f with %d off %t\n", float64(a.Common), a.Own, a.With, a.Off)
			for _, c := range a.Choices {
				fmt.Fprintf(&out, "  %s %g %.4f %d\n", c.Do, float64(c.Reference.A4), c.MM, c.Beyond)
			}
			fmt.Fprintln(&out, "  ", told(a.Answer(1)))
		}
	}
	golden.Lines(t, "problems.txt", out.String())
}
