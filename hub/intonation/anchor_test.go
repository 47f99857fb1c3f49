package intonation_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// heldTempered lets chairs hold the notes of a chord as a keyboard tunes them: 440·2^((n-69)/12)
// Hz, off by cents where a note is followed by them ("A3+3").
func heldTempered(t testing.TB, chord, notes string) intonation.Question {
	t.Helper()
	q := intonation.Question{Chord: mustChord(t, chord), Tuning: intonation.Just, Anchor: intonation.AnchorConsensus, Good: 5, Watch: 10}
	for i, text := range strings.Fields(notes) {
		name, cents := text, 0.0
		if k := strings.LastIndexAny(text, "+-"); k > 0 {
			name = text[:k]
			if _, err := fmt.Sscanf(text[k:], "%g", &cents); err != nil {
				t.Fatal(err)
			}
		}
		n := mustNote(t, name)
		q.Seats = append(q.Seats, intonation.Seat{
			Chair: intonation.Chair(i + 1), Name: text, Note: n,
			Reading: &slide.Reading{Hz: pitch.Hertz(440 * math.Pow(2, (float64(n)-69)/12+cents/1200)), CI95: 1, Level: -30, Settled: true},
		})
	}
	return q
}

// beating counts the beats of two sounds without any of this package's
// arithmetic: the slowest difference between a partial of one and a partial of
// the other, of the pairs of partials up to the eighth that lie within a quarter
// tone, as an ear would find them. ok is false where none do.
func beating(low, high float64) (rate float64, ok bool) {
	rate = math.Inf(1)
	for p := 1; p <= 8; p++ {
		for q := 1; q <= 8; q++ {
			a, b := float64(p)*low, float64(q)*high
			if math.Abs(1200*math.Log2(b/a)) < 50 {
				rate, ok = min(rate, math.Abs(a-b)), true
			}
		}
	}
	return rate, ok
}

// audible is the rate, in beats a second, from which a beat is counted; slower
// ones are heard as rolling (common practice, no source).
const audible = 1.3

// TestTheSentenceAgreesWithTheBeats: in chords held as a keyboard tunes them
// the tones that the sentence calls out are those that beat against the ones
// it leaves, and what it leaves does not beat among itself.
func TestTheSentenceAgreesWithTheBeats(t *testing.T) {
	for _, tt := range []struct {
		chord, notes string
		out          string // tones that have to move, "" for none
	}{
		{"F major", "F3 A3 C4", "third high"},
		{"F minor", "F3 Ab3 C4", "third low"},
		{"F7", "F3 A3 C4 Eb4", "seventh high third high"},
		{"Fmaj7", "F3 A3 C4 E4", "third high seventh high"},
		{"F6", "F3 A3 C4 D4", "sixth high third high"},
		{"Fm7", "F3 Ab3 C4 Eb4", "seventh low third low"},
		{"F7 16/9", "F3 A3 C4 Eb4", "third high"},
		{"F9", "F2 C3 A3 Eb4 G4", "seventh high third high"},
		{"Fadd9", "F2 C3 A3 G4", "third high"},
		{"F6/9", "F2 C3 A3 D4 G4", "sixth high third high"},
		{"F7sus4", "F2 C3 Bb3 Eb4", ""},
		{"Fsus4", "F3 Bb3 C4", ""},
		{"F5", "F2 C3 F3 C4", ""},
		{"F major third", "F2 F3 A3", "third high"},
		{"F unison", "F2 F3 F4", ""},
		// Roots doubled, thirds doubled, both.
		{"F7", "F2 F3 A3 C4 Eb4", "seventh high third high"},
		{"F7", "F2 F3 F4 A3 C4 Eb4", "seventh high third high"},
		{"F7", "F2 A3 A4 C4 Eb4 Eb5", "sevenths high thirds high"},
		{"Fmaj7", "F2 A3 A4 C4 E4 E5", "thirds high sevenths high"},
		{"Fm7", "F2 F3 F4 Ab3 C4 Eb4", "seventh low third low"},
		// Inversions: the root is still the root.
		{"F7/A", "A2 C3 F3 Eb4", "seventh high third high"},
		{"F7/Eb", "Eb3 F3 A3 C4", "seventh high third high"},
		{"F6/C", "C3 F3 A3 D4", "sixth high third high"},
		// The group is off as one: the same tones are out.
		{"F7", "F3-9 A3-9 C4-9 Eb4-9", "seventh high third high"},
		{"F7", "F3+12 A3+12 C4+12 Eb4+12", "seventh high third high"},
		// The root alone is off: it moves, not the three that agree.
		{"F major", "F2+12 C3 A3-14 C4 F4", "one root high"},
		{"Bb major", "Bb2 D3-14 F3 D4-14 F4+11", "one fifth high"},
	} {
		t.Run(tt.chord+" "+tt.notes, func(t *testing.T) {
			q := heldTempered(t, tt.chord, tt.notes)
			j := intonation.Judge(q)
			var out []string
			for _, c := range j.Facts {
				if c.Code == intonation.ClauseTone {
					word := c.Tone
					switch {
					case c.Out > 1:
						word += "s"
					case c.Of > 1:
						word = "one " + word
					}
					dir := " low"
					if c.High {
						dir = " high"
					}
					out = append(out, word+dir)
				}
			}
			if got := strings.Join(out, " "); got != tt.out {
				t.Errorf("out are %q, want %q: %s (shift %.1f)", got, tt.out, j.Sentence, float64(j.Aim.Shift))
			}
			agreesWithBeats(t, q, j)
		})
	}
}

// agreesWithBeats counts the beats of every pair from its frequencies.
func agreesWithBeats(t *testing.T, q intonation.Question, j intonation.Judgement) {
	t.Helper()
	for a := range q.Seats {
		beats := false
		for b := range q.Seats {
			if a == b || j.Seats[b].Verdict != intonation.Set {
				continue
			}
			rate, ok := beating(float64(q.Seats[a].Reading.Hz), float64(q.Seats[b].Reading.Hz))
			beats = beats || ok && rate > audible
			if ok && rate > audible && j.Seats[a].Verdict == intonation.Set && ringsJust(q, a, b) {
				t.Errorf("%s and %s are set and beat %.1f times a second: %s", q.Seats[a].Name, q.Seats[b].Name, rate, j.Sentence)
			}
		}
		if j.Seats[a].Verdict == intonation.Out && !beats {
			t.Errorf("%s is out and beats with none that are set: %s", q.Seats[a].Name, j.Sentence)
		}
	}
}

// ringsJust reports a pair that would ring if both stood as the chord asks:
// only such a pair can be held against a verdict. A ninth over a third beats in just tuning too.
func ringsJust(q intonation.Question, a, b int) bool {
	x, _ := q.Chord.Tone(q.Seats[a].Note)
	y, _ := q.Chord.Tone(q.Seats[b].Note)
	low := float64(x.Ratio.Num) / float64(x.Ratio.Den)
	high := float64(y.Ratio.Num) / float64(y.Ratio.Den)
	for high < low {
		high *= 2
	}
	rate, ok := beating(220*low, 220*high)
	return ok && rate < 1e-6
}

// TestAnchorLaws: the anchor goes with the group, and the order of the chairs,
// their numbers and a doubling in tune change nothing.
func TestAnchorLaws(t *testing.T) {
	shift := func(notes string) float64 { return float64(intonation.Judge(heldTempered(t, "F7", notes)).Aim.Shift) }
	still := shift("F3 A3 C4 Eb4")
	if math.Abs(still+1) > 1 { // between root and tempered fifth, 2 cents low
		t.Errorf("the tempered seventh chord hangs at %.2f cents", still)
	}
	for _, by := range []float64{-30, -7, 4, 25} {
		moved := shift(fmt.Sprintf("F3%+g A3%+g C4%+g Eb4%+g", by, by, by, by))
		if math.Abs(moved-still-by) > 0.1 {
			t.Errorf("moved by %g the chord hangs at %.2f, and %.2f before", by, moved, still)
		}
	}
	for _, same := range []string{"Eb4 C4 A3 F3", "A3 F3 Eb4 C4"} {
		if got := shift(same); math.Abs(got-still) > 1e-6 {
			t.Errorf("as %s it hangs at %.3f, want %.3f", same, got, still)
		}
	}
	if got := shift("F2 F3 F4 A3 C4 Eb4"); math.Abs(got-still) > 0.01 {
		t.Errorf("with roots doubled it hangs at %.3f, want %.3f", got, still)
	}
}

func BenchmarkAnchor120Chairs(b *testing.B) {
	q := heldTempered(b, "F7", strings.Repeat("F2-3 F3+2 A3+1 C4-4 Eb4+3 F4+6 ", 20))
	tones, readings := map[intonation.Chair]pitch.Note{}, map[intonation.Chair]intonation.Reading{}
	for _, s := range q.Seats {
		tones[s.Chair], readings[s.Chair] = s.Note, intonation.Reading{Hz: s.Reading.Hz, CI95: 1}
	}
	for b.Loop() {
		intonation.Targets(q.Chord, tones, q.Tuning, q.Anchor, readings, q.Reference)
	}
}

// TestAnchorInScatter: twelve chairs that miss their tones at random. The
// anchor errs little more than a mean would (sd/√12), and in chords that are
// held tempered it stays with root and fifth, where a mean is off by 10 cents.
func TestAnchorInScatter(t *testing.T) {
	const trials = 400
	for _, tt := range []struct {
		chord string
		equal bool
		sd    float64
		most  float64 // root mean square error in cents
	}{
		{"Bb major", false, 2, 0.8}, {"Bb major", false, 4, 1.6}, {"Bb major", false, 12, 5},
		{"Bb7", false, 4, 1.6}, {"Bb7", true, 2, 1.7}, {"Bb7", true, 4, 3.3},
	} {
		rng := rand.New(rand.NewPCG(5, 8))
		c := mustChord(t, tt.chord)
		tones := map[intonation.Chair]pitch.Note{}
		for i := range 12 {
			tone := c.Tones()[i%len(c.Tones())]
			tones[intonation.Chair(i)] = pitch.Note(36 + 12*(i%3) + c.Root + tone.Semitones)
		}
		still := intonation.Targets(c, tones, intonation.Just, intonation.AnchorReference, nil, pitch.Reference{})
		sum := 0.0
		for range trials {
			readings := map[intonation.Chair]intonation.Reading{}
			for chair := range intonation.Chair(12) {
				target := still.Targets[chair]
				hz := target.Hz
				if tt.equal {
					hz = pitch.Reference{}.Frequency(target.Note)
				}
				readings[chair] = intonation.Reading{Hz: hz.Shift(pitch.Cents(tt.sd * rng.NormFloat64())), CI95: 2}
			}
			s := float64(intonation.Targets(c, tones, intonation.Just, intonation.AnchorConsensus, readings, pitch.Reference{}).Shift)
			sum += s * s
		}
		if rms := math.Sqrt(sum / trials); rms > tt.most {
			t.Errorf("%s, tempered %v, chairs off by %g: the anchor errs by %.2f cents, at most %g", tt.chord, tt.equal, tt.sd, rms, tt.most)
		}
	}
}
