package intonation_test

import (
	"math"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

func hear(t testing.TB, a4 pitch.Hertz, notes ...string) []intonation.Reading {
	out := make([]intonation.Reading, len(notes))
	for i, n := range notes {
		out[i] = intonation.Reading{Hz: pitch.Reference{A4: a4}.Frequency(mustNote(t, n)), CI95: 1}
	}
	return out
}

func TestInfer(t *testing.T) {
	tests := []struct {
		name  string
		heard []intonation.Reading
		want  string
	}{
		{"first inversion, the bass last in the list", hear(t, 440, "F3", "Bb3", "D3", "F4"), "B♭ major, first inversion"},
		{"flat as one by 8 cents", hear(t, 437.97, "Bb1", "F3", "D4", "Bb4"), "B♭ major"},
		{"same notes, two names", hear(t, 440, "C3", "E4", "G3", "A4"), "could be C sixth or A minor seventh, first inversion"},
		{"one chair tells nothing", hear(t, 440, "C3"), "no known chord fits what was heard"},
		{"a heap of semitones", hear(t, 440, "C3", "Db3", "D3", "Eb3", "E3", "F3", "Gb3", "G3"), "no known chord fits what was heard"},
		{"nothing", nil, "no known chord fits what was heard"},
		{"broken readings", []intonation.Reading{{Hz: pitch.Hertz(math.NaN())}, {Hz: -1}}, "no known chord fits what was heard"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			if got := intonation.Say(intonation.Infer(tt.heard, pitch.Reference{}), pitch.English); got != tt.want {
				t.Errorf("said %q, want %q", got, tt.want)
			}
		})
	}
}

func TestInferSymmetricChordsNameEveryRoot(t *testing.T) {
	found := intonation.Infer(hear(t, 440, "C3", "E3", "Ab3"), pitch.Reference{})
	if len(found) != 3 || found[0].Chord.Root != 0 {
		t.Errorf("a tempered augmented triad over C: %q, want three roots, C first", intonation.Say(found, pitch.English))
	}
}

func TestBalance(t *testing.T) {
	chair := func(id intonation.Chair, note string, level pitch.Level) intonation.Loudness {
		return intonation.Loudness{Chair: id, Note: mustNote(t, note), Level: level, Baseline: -30}
	}
	even := []intonation.Loudness{chair(1, "Bb1", -30), chair(2, "F3", -31), chair(3, "D4", -24), chair(4, "Bb4", -30)}
	pyramid := []intonation.Loudness{chair(1, "Bb1", -27), chair(2, "Bb2", -29), chair(3, "Bb3", -31), chair(4, "Bb4", -27)}
	tests := []struct {
		name   string
		shape  intonation.Shape
		chairs []intonation.Loudness
		want   map[intonation.Chair]intonation.Hint
	}{
		{"one above an even chord", intonation.Even, even, map[intonation.Chair]intonation.Hint{3: intonation.Softer}},
		{"a top that is too strong for bottom-heavy", intonation.BottomHeavy, pyramid, map[intonation.Chair]intonation.Hint{4: intonation.Softer}},
		{"the same is even enough", intonation.Even, pyramid, nil},
		{"two chairs", intonation.Even, even[1:3], nil},
		{"no baselines", intonation.Even, []intonation.Loudness{{Chair: 1, Level: -3, Baseline: pitch.Silence}, {Chair: 2, Level: -40}, {Chair: 3, Level: pitch.Silence}}, nil},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := intonation.Balance(tt.shape, tt.chairs)
			if len(got) != len(tt.want) {
				t.Fatalf("hints %v, want %v", got, tt.want)
			}
			for chair, hint := range tt.want {
				if got[chair] != hint {
					t.Errorf("chair %d: %q, want %q", chair, got[chair], hint)
				}
			}
		})
	}
}
