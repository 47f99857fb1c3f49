package slide

import (
	"math"
	"reflect"
	"slices"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// severalOf are readings of open notes of an instrument that all stand x cents out.
func severalOf(in *instrument.Instrument, x pitch.Cents) (all []Heard) {
	for _, n := range in.Telling() {
		all = append(all, Heard{Note: n, Reading: heard(n, x+in.Tendency(in.Paths(n)[0]), 1)})
	}
	return all
}

// The travel of a slide only cuts: where a free slide would go further than it can, it goes as far
// as it can and the rest is told, by one note and by several; and where it would not, nothing is.
func TestTravelOnlyCuts(t *testing.T) {
	for _, id := range []instrument.ID{"trumpet_bb", "flugelhorn_bb", "tuba_bbb", "euphonium_bb_bc"} {
		in := catalogue(t, id)
		n := in.Telling()[0]
		at, travel := 20.0, 30.0
		set := instrument.Settings{instrument.Main: at}
		for x := pitch.Cents(-50); x <= 50; x += 0.5 {
			if math.Abs(float64(x)) < 8 {
				continue // left alone
			}
			for how, answer := range map[string]func(travel float64) (Advice, error){
				"several": func(travel float64) (Advice, error) {
					s, err := Solve(Problem{Instrument: in, Settings: set, Travel: instrument.Settings{instrument.Main: travel}, Heard: severalOf(in, x)})
					return s.Advice, err
				},
				"one": func(travel float64) (Advice, error) {
					return Advise(Input{Instrument: in, Note: n, Reading: heard(n, x+in.Nature(in.Paths(n)[0]), 1), Settings: set, Travel: instrument.Settings{instrument.Main: travel}}), nil
				},
			} {
				free, err := answer(400)
				if err != nil {
					t.Fatal(err)
				}
				cut, _ := answer(travel)
				if free.Code != "move" || len(free.Steps) != 1 || free.Steps[0].Slide != instrument.Main {
					continue // it is the free one that does not reach inward
				}
				s, _ := in.WithTravel(instrument.Settings{instrument.Main: travel}).Slide(instrument.Main)
				lo, hi := s.Reach()
				want := free.Steps[0].MM()
				can := min(max(want, math.Ceil(lo-at)), math.Floor(hi-at))
				if want == can {
					if cut.Code != "move" || cut.Steps[0].MM() != want || cut.Steps[0].ShortMM != 0 {
						t.Errorf("%s %s %+g cents: %g mm when free, %+v with room for it", id, how, float64(x), want, cut)
					}
					continue
				}
				if cut.Code != "limit" || math.Abs(step(cut, instrument.Main)-can) > 1e-9 {
					t.Errorf("%s %s %+g cents: %g mm when free, %g to the end, answered %s %g", id, how, float64(x), want, can, cut.Code, step(cut, instrument.Main))
					continue
				}
				if short := math.Abs(want - can); cut.Kind == Move && (math.Abs(cut.Steps[0].ShortMM-short) > 0.51 || cut.Facts.Out != (want > 0) || (cut.Steps[0].ShortBy < 0) != (want > 0) ||
					math.Abs(cut.Facts.NeedMM-math.Abs(want)) > 0.51 || math.Abs(float64(cut.Steps[0].ShortBy)) < 0.3*short) {
					t.Errorf("%s %s %+g cents: %g mm when free, %g to the end: short %g mm, %g cents, needs %g, out %v", id, how, float64(x), want, can, cut.Steps[0].ShortMM, float64(cut.Steps[0].ShortBy), cut.Facts.NeedMM, cut.Facts.Out)
				}
			}
		}
	}
}

// The notes that are offered to be played are those that tell and were not heard yet, all of them;
// another way of playing is offered where it plays the same note and tells.
func TestWhatWouldTell(t *testing.T) {
	tried := 0
	for k, in := range instrument.Catalogue() {
		telling := in.Telling()
		for n := in.Low + pitch.Note(k%3); n <= in.High; n += 3 {
			for _, p := range in.Paths(n) {
				for _, x := range []pitch.Cents{-25, 25, 58} {
					for _, mute := range []Mute{Open, Cup} {
						a := Advise(Input{Instrument: in, Note: n, Path: p, Mute: mute, Reading: heard(n, x, 1.5), Settings: instrument.Settings{instrument.Main: 12}, Travel: instrument.Settings{instrument.Main: 14}})
						switch a.Code {
						case "not-telling", "valve-slide", "limit", "muted", "by-ear":
						default:
							continue
						}
						want := slices.DeleteFunc(slices.Clone(telling), func(o pitch.Note) bool { return o == n && mute == Open })
						if !slices.Equal(a.Facts.Telling, want) {
							t.Fatalf("%s %v %v %s: %v would tell, want %v", in.ID, n, p, a.Code, a.Facts.Telling, want)
						}
						way := slices.IndexFunc(in.Paths(n), func(p instrument.Path) bool { return in.Tells(p) && p.Partial > 1 && p.Plain() })
						offered := a.Code != "limit" && a.Code != "muted" && !in.HandSlide && way >= 0
						if (a.Try != nil) != offered || offered && *a.Try != in.Paths(n)[way] {
							t.Fatalf("%s %v %v %s: offered %v, of %v", in.ID, n, p, a.Code, a.Try, in.Paths(n))
						}
						if a.Try != nil {
							tried++
						}
					}
				}
			}
		}
		for k := range telling {
			s, err := Solve(Problem{Instrument: in, Settings: instrument.Settings{instrument.Main: 12}, Travel: instrument.Settings{instrument.Main: 14}, Heard: severalOf(in, 40)[k : k+1]})
			if err != nil || s.Code != "limit" {
				continue
			}
			if want := slices.DeleteFunc(slices.Clone(telling), func(o pitch.Note) bool { return o == telling[k] }); !slices.Equal(s.Facts.Telling, want) {
				t.Errorf("%s after %v: %v would tell, want %v", in.ID, telling[k], s.Facts.Telling, want)
			}
		}
	}
	if tried < 20 {
		t.Errorf("another way was offered %d times", tried)
	}
}

// What is not set is as usual: the band of 5 cents, A at 440 Hz, equal temperament, the zero path.
func TestNothingSetIsAsUsual(t *testing.T) {
	in := catalogue(t, "trumpet_bb")
	for x := pitch.Cents(-12); x <= 12; x += 0.25 {
		n := in.Telling()[0]
		q := Input{Instrument: in, Note: n, Reading: heard(n, x, 1)}
		full := q
		full.Good, full.Target, full.Path, full.Purpose = 5, pitch.Reference{A4: 440}.Frequency(n), in.Paths(n)[0], Tuning
		if a, b := Advise(q), Advise(full); !reflect.DeepEqual(a, b) {
			t.Errorf("%+g: %s, with all that is usual %s", float64(x), told(a), told(b))
		}
		p := Problem{Instrument: in, Heard: severalOf(in, x)}
		usual := p
		usual.Good = 5
		a, _ := Solve(p)
		if b, _ := Solve(usual); !reflect.DeepEqual(a, b) {
			t.Errorf("%+g from several: %s, with the usual band %s", float64(x), told(a.Advice), told(b.Advice))
		}
		seats := section(t, bFlats, [4]pitch.Cents{x, x, x + 8, x + 8})
		if a, b := Together(pitch.Reference{}, seats, 0, false), Together(pitch.Reference{A4: 440}, seats, 5, false); !reflect.DeepEqual(a, b) {
			t.Errorf("%+g together: %+v, as usual %+v", float64(x), a, b)
		}
		for _, fixed := range []*pitch.Reference{nil, {}} {
			usually := fixed
			if fixed != nil {
				usually = &pitch.Reference{A4: 440}
			}
			if a, b := CommonPitch(pitch.Reference{}, seats, fixed), CommonPitch(pitch.Reference{A4: 440}, seats, usually); !reflect.DeepEqual(a, b) {
				t.Errorf("%+g: offered %+v, as usual %+v", float64(x), a, b)
			}
		}
	}
}

// A seat that is not there is told what the section has in common and nothing of its own.
func TestNoSuchSeat(t *testing.T) {
	a := Together(pitch.Reference{}, section(t, bFlats, [4]pitch.Cents{15, 19, 14, 16}), 5, false)
	for _, seat := range []int{-1, 4, 99} {
		for _, got := range []Advice{a.Answer(seat), a.Move(seat)} {
			if got.Kind != Stay || got.Code != "room" || got.Facts.Common != a.Common || got.Facts.Own != (Belief{}) || len(got.Steps) > 0 {
				t.Errorf("seat %d: %+v", seat, got)
			}
		}
	}
	for seat := range 4 {
		if got := a.Answer(seat); got.Facts.Own.Offset != a.Own[seat] {
			t.Errorf("seat %d: %+v", seat, got)
		}
	}
}

// A chair's note lies apart from the others from three standard deviations on, of the readings and
// of how far instruments depart from theory; below it nothing is asked.
func TestApartByThreeSD(t *testing.T) {
	for _, id := range []instrument.ID{"trumpet_bb", "tuba_bbb", "tenor_trombone_bb"} {
		in := catalogue(t, id)
		n, o := in.Telling()[0], in.Telling()[1]
		way := in.Paths(o)[0]
		for _, sd := range []float64{0.8, 3, 6} {
			for _, ci := range []pitch.Cents{0.5, 6} {
				doubt := 0.0
				for _, p := range []instrument.Path{in.Paths(n)[0], way} {
					th := in.Theory(p)
					doubt += th.PartialDoubt()*th.PartialDoubt() + in.ValveDoubt(p)*in.ValveDoubt(p)
				}
				r := heard(n, 0, ci)
				limit := 3 * math.Sqrt(doubt+sd*sd+r.sd()*r.sd())
				for _, k := range []float64{-1.02, -0.98, 0.98, 1.02} {
					x := pitch.Cents(k*limit) + in.Nature(in.Paths(n)[0])
					q := Input{Instrument: in, Note: n, Reading: heard(n, x, ci), Others: []Known{{o, way, Belief{in.Nature(way), sd}}}}
					a := Advise(q)
					if a.Code == "limit" || math.Abs(float64(x)) > float64(MaxMove) {
						continue
					}
					// The other note is felt a little more or less on this one's tube: nothing here, as it is at 0.
					if apart := a.Code == "apart"; apart != (math.Abs(k) > 1) {
						t.Errorf("%s, other known to %g, interval %g: %.2f times the limit of %.1f cents is %s", id, sd, float64(ci), k, limit, a.Code)
					}
				}
			}
		}
	}
}

// A pitch that did not follow at least half way teaches nothing of an instrument, however doubtful
// the readings; and one that followed in doubt teaches little.
func TestHalfWayTeaches(t *testing.T) {
	for _, expected := range []pitch.Cents{-20, 10, 30} {
		for _, ci := range []pitch.Cents{0.5, 9, 30} {
			for _, share := range []float64{-0.4, 0, 0.3, 0.49, 0.51, 0.8, 1} {
				l := Learn(Made{Expected: expected, Before: heard(70, 5, ci), After: heard(70, 5+expected*pitch.Cents(share), ci)})
				if share < 0.5 && (l.Moves != 0 || l.Ratio != 1) {
					t.Errorf("%g of %g cents, ± %g: %+v", share, float64(expected), float64(ci), l)
				}
				if share == 1 && (l.Moves != 1 || math.Abs(l.Ratio-1) > 1e-9 || l.SD > priorSD) {
					t.Errorf("as the model says: %+v", l)
				}
				if share > 0.5 && share < 1 && l.Moves == 1 && (l.Ratio <= 1 || l.Ratio > 1/share) {
					t.Errorf("%g of %g cents, ± %g: %+v", share, float64(expected), float64(ci), l)
				}
			}
		}
	}
}

// Looking at an answer once more gives it again, with the same millimetres per cent: of earlier
// days when there are some, and else of this tune-up.
func TestReviewIsTheSameAnswer(t *testing.T) {
	for _, moves := range []int{0, 1, 2} {
		d := newDesk(t)
		q := Input{Instrument: d.in, Note: d.note, Reading: heard(d.note, 20, 1), Settings: d.set}
		if moves > 0 {
			q.Learned = Learned{Ratio: 1.4, SD: 0.02, Moves: moves}
		}
		a, _ := d.memory.Answer(q)
		if got := d.memory.Review(q); got.Steps[0] != a.Steps[0] {
			t.Errorf("%d moves of earlier days: %+v, looked at again %+v", moves, a.Steps[0], got.Steps[0])
		}
		plain := q
		plain.Learned = Learned{}
		if ratio := a.Steps[0].MM() / Advise(plain).Steps[0].MM(); moves > 0 && math.Abs(ratio-1.4) > 0.1 {
			t.Errorf("%d moves of earlier days: %g times the model's millimetres", moves, ratio)
		}
	}
}

// Whoever is to move by so many whole millimetres is sent by as many, as far as the slide goes, and by none
// is left alone.
func TestMoveByMovesByThat(t *testing.T) {
	in := catalogue(t, "trumpet_bb")
	n := in.Telling()[0]
	for mm := -15.0; mm <= 15; mm++ {
		q := Input{Instrument: in, Note: n, Reading: heard(n, 7, 1.5), Settings: instrument.Settings{instrument.Main: 12}, Travel: instrument.Settings{instrument.Main: 60}}
		a := MoveBy(q, mm, Belief{7, 1})
		want := max(mm, -12)
		if got := step(a, instrument.Main); got != want || (a.Kind == Move) != (mm != 0) {
			t.Errorf("by %g mm: %s %g mm, want %g", mm, a.Kind, got, want)
		}
	}
}

// A pitch that is held is asked for so many fresh attacks and no more: then the move is taken as it is.
func TestFreshAttacksEnd(t *testing.T) {
	d := newDesk(t)
	a, _ := d.read(20)
	d.obey(a)
	for i := range mostFresh {
		if _, f := d.read(19); f == nil || f.Verdict != Held {
			t.Fatalf("attack %d: %v", i+1, f)
		}
	}
	if _, f := d.read(19); f != nil {
		t.Errorf("after %d attacks the move is judged once more: %v", mostFresh, f)
	}
}

// The longer a cold instrument was played, the less is it still to be played, down to nothing.
func TestWaitEnds(t *testing.T) {
	var w Warmup
	last := math.Inf(1)
	for played := 0.0; played < 400; played += 10 {
		wait := w.wait(played)
		if wait > last || wait < 0 || (wait == 0) == w.unsure(played) {
			t.Errorf("after %g s still %g, before %g; unsure %v", played, wait, last, w.unsure(played))
		}
		last = wait
	}
	if last != 0 {
		t.Errorf("after long %g s are left", last)
	}
}

// TestStayDoesNotCallItInTune: where more was heard than one note, and the slide stands right by it, that note is not
// said to be in tune, nor close, when it was not.
func TestStayDoesNotCallItInTune(t *testing.T) {
	for _, c := range []struct {
		cents pitch.Cents
		off   string
	}{{-8, "8 cents flat"}, {15, "15 cents sharp"}, {4, ""}} {
		a := MoveBy(ask(t, "trumpet_bb", "Bb4", c.cents), 0, Belief{2, 1})
		for _, told := range []Advice{a, a.Again(true)} {
			w := Say(told)
			if all := w.Headline + " " + w.Detail + " " + w.Next; c.off != "" && (!strings.Contains(w.Detail, c.off) || strings.Contains(all, "in tune") || strings.Contains(all, "close")) ||
				c.off == "" && strings.Contains(all, "cents") {
				t.Errorf("at %g cents: %s", float64(c.cents), all)
			}
		}
	}
}

// TestNothingLeftIsSaid: where the slide has no more to give, that is said, and not that the note is in doubt.
func TestNothingLeftIsSaid(t *testing.T) {
	for _, c := range []struct {
		stands float64
		says   string
	}{{0, "all the way in already"}, {1, "Push in the main slide 1 mm"}, {25, "too little was heard"}} {
		a := MoveBy(ask(t, "tuba_bbb", "Bb2", -10, main(c.stands)), 0, Belief{-8, 2})
		w := Say(a)
		if all := w.Headline + " " + w.Detail; !strings.Contains(all, c.says) || strings.Contains(all, "smaller than the doubt") {
			t.Errorf("at %g mm: %s", c.stands, all)
		}
	}
}
