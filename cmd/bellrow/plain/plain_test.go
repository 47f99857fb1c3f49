package plain

import (
	"bytes"
	"errors"
	"fmt"
	"testing"
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
