package plain

import (
	"bytes"
	"errors"
	"fmt"
	"slices"
	"testing"

	"bellrow/proto/pitch"
)

func TestSentence(t *testing.T) {
	for _, tt := range []struct{ text, want string }{
		{"capture: note.wav: not a WAV or FLAC file", "note.wav: not a WAV or FLAC file"},
		{"--note H4: pitch: note \"H4\": no letter A to G", "--note H4: note \"H4\": no letter A to G"},
		{"hub: loading the piece: sqlite: no such table (sqlite: gone)", "loading the piece: no such table (gone)"},
		{"uplink: link: cut", "cut"},
		{"3 readings wait for the hub: the hub has not acknowledged", "3 readings wait for the hub: the hub has not acknowledged"},
		{"open check: no", "open check: no"},
		{"", ""},
	} {
		if got := Sentence(errors.New(tt.text)); got != tt.want {
			t.Errorf("Sentence(%q) = %q, want %q", tt.text, got, tt.want)
		}
	}
}

// TestDoubtsThatSomebodyHas: another reader may mean another name or another octave,
// not both at once and none that nothing sounds in. Helmholtz's figures (On the
// Sensations of Tone, 1863): small b with 2 is B flat 5, capital C with 2 is C0.
func TestDoubtsThatSomebodyHas(t *testing.T) {
	for _, tt := range []struct {
		style string
		typed []string
		want  []string
	}{
		{"german", []string{"B2", "D4", "F4"}, []string{"B2 is read as B♭2; for B♮2 write H2"}},
		{"german", []string{"C2"}, nil},
		{"german", []string{"B0", "H1"}, []string{"B0 is read as B♭0; for B♮0 write H0"}},
		{"german", []string{"b2"}, []string{"b2 is read as B♭2; for B♮2 write H2", "b2 is read as B♭2; for B♭5 write B5"}},
		{"french", []string{"ré4"}, []string{"ré4 is read as D4; for D5 write Ré5"}},
	} {
		style, err := pitch.ParseStyle(tt.style)
		if err != nil {
			t.Fatal(err)
		}
		n := Notes{Style: style, Chosen: true}
		for _, s := range tt.typed {
			if _, err := n.Parse(s); err != nil {
				t.Errorf("%s: %v", s, err)
			}
		}
		if !slices.Equal(n.Doubts(), tt.want) {
			t.Errorf("%s, %v: doubts %q, need %q", tt.style, tt.typed, n.Doubts(), tt.want)
		}
	}
}

// TestPrint: the hint of the innermost wrapping stands below, a plain error has none.
func TestPrint(t *testing.T) {
	for _, tt := range []struct {
		err  error
		want string
	}{
		{Misuse("add one", "no %s", "note"), "bellrow advise: no note\n  add one\n"},
		{fmt.Errorf("hub: %w", Fail("wait", "busy")), "bellrow advise: busy\n  wait\n"},
		{errors.New("hub: gone"), "bellrow advise: gone\n"},
	} {
		var b bytes.Buffer
		Print(&b, "bellrow advise", tt.err)
		if b.String() != tt.want {
			t.Errorf("%q, want %q", b.String(), tt.want)
		}
	}
}
