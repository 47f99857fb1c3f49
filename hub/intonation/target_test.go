package intonation_test

import (
	"math"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

func mustChord(t testing.TB, s string) intonation.Chord {
	t.Helper()
	c, err := intonation.ParseChord(s)
	if err != nil {
		t.Fatal(err)
	}
	return c
}

func mustNote(t testing.TB, s string) pitch.Note {
	t.Helper()
	n, err := pitch.ParseNote(s)
	if err != nil {
		t.Fatal(err)
	}
	return n
}

// bFlat is B flat major in first inversion over four chairs.
func bFlat(t testing.TB) map[intonation.Chair]pitch.Note {
	return map[intonation.Chair]pitch.Note{
		1: mustNote(t, "D3"), 2: mustNote(t, "F3"), 3: mustNote(t, "Bb3"), 4: mustNote(t, "D4"),
	}
}

const centTol = 0.01 // cents; far below what is ever shown

func TestTargetsStandOverTheRootWhateverTheInversion(t *testing.T) {
	ref := pitch.Reference{A4: 442}
	aim := intonation.Targets(mustChord(t, "Bb major first inversion"), bFlat(t), intonation.Just, intonation.AnchorReference, nil, ref)
	if hz := aim.Hertz(); len(hz) != 4 || hz[1] != aim.Targets[1].Hz {
		t.Errorf("target frequencies %v", hz)
	}
	want := map[intonation.Chair]float64{1: -13.686, 2: 1.955, 3: 0, 4: -13.686} // 5/4, 3/2 and 1 by arithmetic
	for chair, cents := range want {
		target := aim.Targets[chair]
		if got := float64(ref.Offset(target.Note, target.Hz)); math.Abs(got-cents) > centTol {
			t.Errorf("chair %d on %s: %.3f cents from tempered, want %.3f", chair, target.Note, got, cents)
		}
	}
}

func TestAnchors(t *testing.T) {
	ref := pitch.Reference{}
	chord, tones := mustChord(t, "Bb major first inversion"), bFlat(t)
	still := intonation.Targets(chord, tones, intonation.Just, intonation.AnchorReference, nil, ref)
	readings := func(offsets ...pitch.Cents) map[intonation.Chair]intonation.Reading {
		m := map[intonation.Chair]intonation.Reading{}
		for i, o := range offsets {
			chair := intonation.Chair(i + 1)
			m[chair] = intonation.Reading{Hz: still.Targets[chair].Hz.Shift(o), CI95: 1}
		}
		return m
	}
	tests := []struct {
		name     string
		tuning   intonation.Tuning
		anchor   intonation.Anchor
		readings map[intonation.Chair]intonation.Reading
		shift    float64
		within   float64
		used     intonation.Anchor
	}{
		{"the reference stays", intonation.Just, intonation.AnchorReference, readings(-8, -8, -8, -8), 0, centTol, intonation.AnchorReference},
		{"the bass as it sounds", intonation.Just, intonation.AnchorBass, readings(-8, 3, 4, 5), -8, centTol, intonation.AnchorBass},
		{"the bass is silent", intonation.Just, intonation.AnchorBass, nil, 0, centTol, intonation.AnchorReference},
		{"flat as one", intonation.Just, intonation.AnchorConsensus, readings(-8, -8, -8, -8), -8, centTol, intonation.AnchorConsensus},
		{"one wild chair", intonation.Just, intonation.AnchorConsensus, readings(-8, -8, 45, -8), -8, 2.5, intonation.AnchorConsensus},
		{"one chair is no consensus", intonation.Just, intonation.AnchorConsensus, readings(-8), 0, centTol, intonation.AnchorReference},
		{"a keyboard cannot move", intonation.Keyboard, intonation.AnchorBass, readings(-8, -8, -8, -8), 0, centTol, intonation.AnchorReference},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			aim := intonation.Targets(chord, tones, tt.tuning, tt.anchor, tt.readings, ref)
			if got := float64(aim.Shift); math.Abs(got-tt.shift) > tt.within {
				t.Errorf("shift %.2f cents, want %.2f", got, tt.shift)
			}
			if aim.Anchor != tt.used {
				t.Errorf("anchor %q, want %q", aim.Anchor, tt.used)
			}
			if (aim.Why == "") != (tt.used == tt.anchor) {
				t.Errorf("why %q with anchor %q for %q", aim.Why, aim.Anchor, tt.anchor)
			}
		})
	}
}

func TestTargetsLeaveStrangersTempered(t *testing.T) {
	tones := map[intonation.Chair]pitch.Note{1: mustNote(t, "Bb2"), 2: mustNote(t, "E4")}
	aim := intonation.Targets(mustChord(t, "Bb major"), tones, intonation.Just, intonation.AnchorReference, nil, pitch.Reference{})
	if target := aim.Targets[2]; target.InChord || target.Hz != (pitch.Reference{}).Frequency(target.Note) {
		t.Errorf("E over B flat major: %+v, want a tempered stranger", target)
	}
}

func TestEqualTemperedBeatsAgainstPublishedTables(t *testing.T) {
	tests := []struct {
		chord, low, high string
		want, tol        float64 // Hz; half the last published digit
		source           string
	}{
		{"C major", "C3", "E3", 5.2, 0.05, "historicaltuning.com, Beats of Harmonics"},
		{"F major", "F3", "A3", 6.9, 0.05, "J Neurosci 32:12251 (2012), table 1"},
		{"C major", "C4", "E4", 10.4, 0.05, "J Neurosci 32:12251 (2012), table 1"},
		{"F major", "F3", "C4", 0.6, 0.05, "J Neurosci 32:12251 (2012), table 1"},
		{"Bb major", "F3", "Bb3", 0.8, 0.05, "J Neurosci 32:12251 (2012), table 1"},
		{"F6", "F3", "D4", 7.9, 0.05, "J Neurosci 32:12251 (2012), table 1"},
		{"F minor", "F3", "Ab3", 9.4, 0.05, "J Neurosci 32:12251 (2012), table 1"},
	}
	for _, tt := range tests {
		low, high := mustNote(t, tt.low), mustNote(t, tt.high)
		ratio, ok := mustChord(t, tt.chord).Between(low, high)
		if !ok {
			t.Errorf("%s-%s: no ratio", tt.low, tt.high)
			continue
		}
		ref := pitch.Reference{}
		if got := ratio.Beat(ref.Frequency(low), ref.Frequency(high)); math.Abs(got-tt.want) > tt.tol {
			t.Errorf("%s-%s at %s beats %.3f times a second, %s has %g", tt.low, tt.high, ratio, got, tt.source, tt.want)
		}
	}
}

func TestBetween(t *testing.T) {
	tests := []struct {
		chord, low, high, want string // "" = nothing to hear
	}{
		{"Bb major", "Bb2", "D4", "5/2"},
		{"Bb major", "Bb1", "D4", "5/1"},
		{"Bb major", "D3", "Bb3", "8/5"},
		{"Bb major", "Bb2", "Bb2", "1/1"},
		{"Bb major", "F2", "Bb2", "4/3"},
		{"Bb7", "D3", "Ab3", "7/5"},
		{"Bb7 16/9", "Bb2", "Ab3", ""},
		{"Bb7 tempered", "Bb2", "Ab3", ""},
		{"Bb augmented", "D3", "Gb3", ""},
		{"Bb major", "D3", "A3", "3/2"}, // A is a stranger: the plain fifth
		{"Bb major", "E3", "F3", ""},
	}
	for _, tt := range tests {
		ratio, ok := mustChord(t, tt.chord).Between(mustNote(t, tt.low), mustNote(t, tt.high))
		got := ""
		if ok {
			got = ratio.String()
		}
		if got != tt.want {
			t.Errorf("%s, %s to %s: %q, want %q", tt.chord, tt.low, tt.high, got, tt.want)
		}
	}
}

func TestJustChordsDoNotBeat(t *testing.T) {
	for _, name := range []string{"C major", "Eb minor", "F7", "Gm7", "Bbmaj7", "D6", "Asus4", "Ab diminished"} {
		c := mustChord(t, name)
		tones := intonation.Spread(c, band())
		aim := intonation.Targets(c, tones, intonation.Just, intonation.AnchorReference, nil, pitch.Reference{})
		for a, low := range aim.Targets {
			for b, high := range aim.Targets {
				if a == b || low.Note > high.Note {
					continue
				}
				if ratio, ok := c.Between(low.Note, high.Note); ok && ratio.Beat(low.Hz, high.Hz) > 1e-6 {
					t.Errorf("%s: %s to %s at %s beats %.4f Hz", name, low.Note, high.Note, ratio, ratio.Beat(low.Hz, high.Hz))
				}
			}
		}
	}
}

func TestWordsOfTuningAndAnchor(t *testing.T) {
	if got := intonation.DefaultTuning(true); got != intonation.Keyboard {
		t.Errorf("beside a keyboard the tuning is %q", got)
	}
	for in, want := range map[string]intonation.Tuning{"": intonation.Just, "equal": intonation.Equal, "keyboard": intonation.Keyboard} {
		if got, err := intonation.ParseTuning(in); err != nil || got != want {
			t.Errorf("tuning %q is %q, %v", in, got, err)
		}
	}
	for in, want := range map[string]intonation.Anchor{"": intonation.AnchorConsensus, "bass": intonation.AnchorBass, "reference": intonation.AnchorReference} {
		if got, err := intonation.ParseAnchor(in); err != nil || got != want {
			t.Errorf("anchor %q is %q, %v", in, got, err)
		}
	}
	if _, err := intonation.ParseTuning("pure"); err == nil {
		t.Error("an unknown tuning is read")
	}
	if _, err := intonation.ParseAnchor("top"); err == nil {
		t.Error("an unknown anchor is read")
	}
}
