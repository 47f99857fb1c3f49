package slide

import (
	"math"
	"math/rand/v2"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// desk is a player at the tuning of one note.
type desk struct {
	t      *testing.T
	memory Memory
	in     *instrument.Instrument
	set    instrument.Settings
	note   pitch.Note
}

func newDesk(t *testing.T) *desk {
	return &desk{t: t, in: catalogue(t, "trumpet_bb"), set: instrument.Settings{"main": 12}, note: noteOf(t, "Bb4")}
}

// read answers a note x cents out.
func (d *desk) read(x pitch.Cents, change ...func(*Reading)) (Advice, *Follow) {
	r := heard(d.note, x, 1)
	for _, f := range change {
		f(&r)
	}
	return d.memory.Answer(Input{Instrument: d.in, Note: d.note, Reading: r, Settings: d.set})
}

// obey moves the slide as told.
func (d *desk) obey(a Advice) {
	d.t.Helper()
	if a.Kind != Move {
		d.t.Fatalf("%+v, want a move", a)
	}
	st := a.Steps[0]
	d.memory.Moved(d.in, d.set, st.Slide, st.FromMM, st.ToMM)
	d.set = instrument.Settings{st.Slide: st.ToMM}
}

func TestMemoryOfAGoodTurn(t *testing.T) {
	d := newDesk(t)
	a, f := d.read(14)
	if f != nil {
		t.Errorf("a move is judged before there was one: %v", f)
	}
	d.obey(a)
	if b := d.memory.Belief(d.note); b.Offset > 1 || b.Offset < -1 {
		t.Errorf("after a move of 14 cents it is believed %+v", b)
	}
	a, f = d.read(1)
	if a.Kind != Stay || f == nil || f.Verdict != Went {
		t.Errorf("%+v %v, want stay and went", a, f)
	}
	if l := d.memory.Learned(); l.Moves != 1 {
		t.Errorf("learned %v", l)
	}
}

// However often a held pitch is read, the slide is not moved again before the
// pitch has come along or the tries are over.
func TestMemoryNeverChasesAHeldPitch(t *testing.T) {
	d := newDesk(t)
	a, _ := d.read(20)
	d.obey(a)
	for i := range mostFresh {
		a, f := d.read(19)
		if a.Kind == Move || len(a.Steps) > 0 || f == nil || f.Verdict != Held {
			t.Fatalf("try %d: %+v %v, want rest", i+1, a, f)
		}
		if a.Kind != Rest || Say(a).Small == "" {
			t.Errorf("try %d: %+v", i+1, a)
		}
	}
	if l := d.memory.Learned(); l.Moves != 0 {
		t.Errorf("a held move taught %v", l)
	}
}

func TestMemoryBelievesAFreshAttack(t *testing.T) {
	d := newDesk(t)
	a, _ := d.read(20)
	d.obey(a)
	if a, _ = d.read(19); a.Kind != Rest {
		t.Fatalf("%+v, want rest", a)
	}
	a, f := d.read(0.5)
	if a.Kind != Stay || f == nil || f.Verdict != Went {
		t.Errorf("once let go: %+v %v", a, f)
	}
}

// Every note counts for the main slide, and a move of it moves what is believed
// of all.
func TestMemoryOfTwoNotes(t *testing.T) {
	d := newDesk(t)
	d.read(10)
	other := noteOf(t, "F4")
	d.note = other
	a, _ := d.read(20)
	if len(a.Steps) != 1 || math.Abs(float64(a.Steps[0].Expected)+15) > 1.2 || a.Facts.Notes != 2 { // half a mm
		t.Fatalf("B flat 10 sharp and F 20: %+v, want a move of 15 cents from two notes", a)
	}
	d.obey(a)
	d.note = noteOf(t, "Bb4")
	if b := d.memory.Belief(d.note); math.Abs(float64(b.Offset)+5) > 1.5 {
		t.Errorf("B flat was 10 cents sharp, the slide took 15 away, and it is believed %+v", b)
	}
	if a, f := d.read(-5); f != nil || a.Kind != Stay {
		t.Errorf("B flat and F 5 out each way: %+v, judged %v; want the slide left between them", a, f)
	}
	d.note = other
	if a, f := d.read(5); f == nil || f.Verdict != Went || a.Kind != Stay {
		t.Errorf("the move of F is not judged by F: %v, %+v", f, a)
	}
}

// A slide that was moved and not written down: the note is heard twice, and what
// was heard before counts no more.
func TestMemoryBeginsAnew(t *testing.T) {
	d := newDesk(t)
	d.read(0)
	first := d.note
	d.note = noteOf(t, "F4")
	if a, _ := d.read(-28); a.Kind != Again || a.Code != "apart" {
		t.Fatalf("28 cents under the other note: %+v", a)
	}
	a, _ := d.read(-27)
	if a.Kind != Move || a.Facts.Notes != 1 || !a.Facts.Anew || math.Abs(float64(a.Steps[0].Expected)-27.5) > 2 {
		t.Errorf("said twice: %+v, want a move of 27 cents from this note alone", a)
	}
	if b := d.memory.Belief(first); b != (Belief{}) {
		t.Errorf("the first note is still believed %+v", b)
	}
}

// Moves that were held back are given from all that was heard, and looking again
// remembers nothing.
func TestMemoryReview(t *testing.T) {
	d := newDesk(t)
	d.read(10)
	d.note = noteOf(t, "F4")
	told, _ := d.read(14)
	before := d.memory.Belief(d.note)
	again := d.memory.Review(Input{Instrument: d.in, Note: d.note, Reading: heard(d.note, 14, 1), Settings: d.set})
	if Say(again).Headline != Say(told).Headline || again.Facts.Notes != 2 || d.memory.Belief(d.note) != before {
		t.Errorf("%q from %d notes, told before %q", Say(again).Headline, again.Facts.Notes, Say(told).Headline)
	}
}

// Two wide readings say together what neither does alone.
func TestMemoryPoolsWideReadings(t *testing.T) {
	d := newDesk(t)
	wide := func(r *Reading) { r.CI95 = 20 }
	if a, _ := d.read(16, wide); a.Code != "wide" {
		t.Fatalf("one wide reading: %+v", a)
	}
	a, _ := d.read(18, wide)
	if a.Kind != Move || math.Abs(float64(a.Steps[0].Expected)+17) > 1.5 {
		t.Errorf("two wide readings: %+v, want a move of 17 cents", a)
	}
}

// What is known in the middle of a round goes into Solve as it stands: the main
// slide is to move as the round says.
func TestMemoryFeedsSolve(t *testing.T) {
	d := newDesk(t)
	var a Advice
	for i, name := range []string{"Bb4", "F4", "A4"} {
		d.note = noteOf(t, name)
		a, _ = d.read(pitch.Cents(11 + i))
	}
	p := Problem{Instrument: catalogue(t, "trumpet_bb")}
	for _, k := range d.memory.Known() {
		p.Heard = append(p.Heard, k.Heard(pitch.Reference{}))
	}
	s, err := Solve(p)
	if err != nil || len(p.Heard) != 3 || len(s.Steps) != 1 || len(a.Steps) != 1 || math.Abs(s.Steps[0].MM()-a.Steps[0].MM()) > 1 {
		t.Errorf("%v, %+v from %d notes; the round says %+v", err, s.Advice, len(p.Heard), a)
	}
}

func TestMemoryOfAPinch(t *testing.T) {
	d := newDesk(t)
	if a, _ := d.read(14, pinched); a.Code != "pinched" {
		t.Fatalf("%+v", a)
	}
	if a, _ := d.read(5); a.Code != "eased" {
		t.Fatalf("%+v, want one more easy note before a move", a)
	}
	a, _ := d.read(4)
	d.obey(a)
	if a, _ := d.read(0); a.Kind != Stay || Say(a).Next == "" {
		t.Errorf("%+v, want a rest before the next call", a)
	}
}

// What was not this player's, or not this note, is not remembered.
func TestMemoryLeavesOut(t *testing.T) {
	d := newDesk(t)
	d.read(14, func(r *Reading) { r.Overheard = true })
	d.read(-200)
	d.read(14, func(r *Reading) { r.Settled, r.Reason = false, "vibrato" })
	if b := d.memory.Belief(d.note); b != (Belief{}) {
		t.Errorf("believed %+v", b)
	}
	if n := d.memory.notes[d.note]; len(n.earlier) != 0 {
		t.Errorf("kept %d readings", len(n.earlier))
	}
}

// Two small moves the same way that did nothing are judged together, and the
// pitch is not chased with a third.
func TestMemoryOfSmallMoves(t *testing.T) {
	d := newDesk(t)
	a, _ := d.read(6.5)
	for i := range 4 {
		if a.Kind == Move {
			d.obey(a)
		}
		var f *Follow
		if a, f = d.read(6.5); f != nil && f.Verdict == Held && i > 0 {
			return
		}
	}
	t.Errorf("after five notes that did not follow: %+v", a)
}

// What was heard before a pinch was found may have been pinched as well.
func TestMemoryForgetsBeforeAPinch(t *testing.T) {
	d := newDesk(t)
	d.read(1)
	if b := d.memory.Belief(d.note); b == (Belief{}) {
		t.Fatal("nothing is believed")
	}
	d.read(5, pinched)
	if b := d.memory.Belief(d.note); b != (Belief{}) {
		t.Errorf("still believed %+v", b)
	}
}

func TestMemoryDoubts(t *testing.T) {
	d := newDesk(t)
	if a, _ := d.read(2.5); a.Kind != Stay || !a.Doubt {
		t.Errorf("2.5 cents from one note: %+v, want doubt", a)
	}
	d = newDesk(t)
	for range 3 {
		d.read(0.2)
	}
	if a, _ := d.read(0.2); a.Kind != Stay || a.Doubt {
		t.Errorf("four notes in tune: %+v, want no doubt", a)
	}
}

// An instrument that comes up while its slide is pulled has not held its pitch.
func TestMemoryOfAColdInstrument(t *testing.T) {
	d := newDesk(t)
	at := func(played float64, x pitch.Cents) (Advice, *Follow) {
		r := heard(d.note, x, 1)
		r.Played = played
		return d.memory.Answer(Input{Instrument: d.in, Note: d.note, Reading: r, Settings: d.set, Played: played})
	}
	place := pitch.Cents(12)
	now := func(played float64) pitch.Cents { return place - 15*pitch.Cents(left(played)) }
	if a, _ := at(30, now(30)); a.Code != "cold" {
		t.Fatalf("%+v, want cold", a)
	}
	a, _ := at(130, now(130))
	d.obey(a)
	place += Expect(d.in, d.in.Paths(d.note)[0], nil, instrument.Main, a.Steps[0].FromMM, a.Steps[0].ToMM, Learned{})
	a, f := at(290, now(290))
	if f == nil || f.Verdict != Went || a.Kind != Stay {
		t.Errorf("%v, %+v: want that the pitch went along", f, a)
	}
}

// Over many instruments whose partials depart from theory each in their own way:
// after B flat, F and A, obeyed one after the other, the three notes lie nearer to
// their targets than when the last note alone sets the slide, and as near as the
// best place for all three (by least squares) but for the band.
func TestThreeNotesSetTheMainSlide(t *testing.T) {
	in := catalogue(t, "euphonium_bb_bc")
	r := rand.New(rand.NewPCG(31, 32))
	notes := []pitch.Note{noteOf(t, "Bb3"), noteOf(t, "F3"), noteOf(t, "A3")}
	var all, last, best float64
	const players = 300
	for range players {
		var own [3]float64 // cents of each note with the slide at its usual place
		main := 10 * r.NormFloat64()
		for i := range own {
			own[i] = main + 5*r.NormFloat64()
		}
		var m Memory
		set := instrument.Settings{instrument.Main: 15}
		offset := func(i int) float64 {
			p := in.Paths(notes[i])[0]
			return own[i] + float64(LeverOf(in, p, instrument.Main, instrument.Settings{instrument.Main: 15}, Learned{}).Cents(set[instrument.Main]-15))
		}
		for i, n := range notes {
			a, _ := m.Answer(Input{Instrument: in, Note: n, Reading: heard(n, pitch.Cents(offset(i)+repeatCents*r.NormFloat64()), 1.5), Settings: set, Travel: longTravel(in)})
			for _, st := range a.Steps {
				m.Moved(in, set, st.Slide, st.FromMM, st.ToMM)
				set = instrument.Settings{instrument.Main: st.ToMM}
			}
		}
		mean := (own[0] + own[1] + own[2]) / 3
		for i := range own {
			all += offset(i) * offset(i)
			last += math.Pow(own[i]-own[2], 2)
			best += math.Pow(own[i]-mean, 2)
		}
	}
	rms := func(x float64) float64 { return math.Sqrt(x / 3 / players) }
	t.Logf("left: all notes %.2f cents, the last note alone %.2f, the best place %.2f", rms(all), rms(last), rms(best))
	if rms(all) > 0.9*rms(last) || math.Sqrt(rms(all)*rms(all)-rms(best)*rms(best)) > float64(DeadBand) {
		t.Errorf("left: all notes %.2f cents, the last note alone %.2f, the best place %.2f", rms(all), rms(last), rms(best))
	}
}
