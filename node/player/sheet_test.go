package player

import (
	"testing"

	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
)

// The places of notes on the staff are common notation: the treble clef puts
// G4 on the second line, the bass clef F3 on the fourth, the C clefs C4 on
// the third (alto) and fourth (tenor) line (from memory; any primer has them).
func TestStaff(t *testing.T) {
	for _, tt := range []struct {
		note, clef string
		step       int
		ledgers    int
		accidental string
		words      string
	}{
		{"G4", "treble", 2, 0, "", "second line"},
		{"C5", "treble", 5, 0, "", "third space"},
		{"C4", "treble", -2, 1, "", "on the first ledger line below"},
		{"D4", "treble", -1, 0, "", "just below the staff"},
		{"F#4", "treble", 1, 0, "sharp", "first space"},
		{"A5", "treble", 10, 1, "", "on the first ledger line above"},
		{"B♭5", "treble", 11, 1, "flat", "over the first ledger line above"},
		{"F3", "bass", 6, 0, "", "fourth line"},
		{"Bb2", "bass", 2, 0, "flat", "second line"},
		{"B♭3", "bass", 9, 0, "flat", "just above the staff"},
		{"B♭1", "bass", -5, 2, "flat", "under the second ledger line below"},
		{"C4", "alto", 4, 0, "", "third line"},
		{"C4", "tenor", 6, 0, "", "fourth line"},
	} {
		s := newStaff(tt.note, tt.clef, nil, phrase.Tongue{})
		if s == nil {
			t.Errorf("%s in the %s clef has no place", tt.note, tt.clef)
			continue
		}
		if s.Step != tt.step || len(s.Ledgers) != tt.ledgers || s.Accidental != tt.accidental || s.Words != tt.words {
			t.Errorf("%s in the %s clef: %+v, need step %d, %d ledger lines, %q, %q", tt.note, tt.clef, *s, tt.step, tt.ledgers, tt.accidental, tt.words)
		}
	}
	for _, bad := range []string{"", "H4", "C", "♭4", "C99", "C-4"} {
		if s := newStaff(bad, "treble", nil, phrase.Tongue{}); s != nil {
			t.Errorf("%q has the place %+v, need none", bad, *s)
		}
	}
	if newStaff("C4", "soprano", nil, phrase.Tongue{}) != nil {
		t.Error("a clef that is not drawn has a place")
	}
}

// TestSignature: a note in the key has no accidental of its own, one outside it
// has, and the signs stand on the places of their letters, in every clef, within
// a step of the staff.
func TestSignature(t *testing.T) {
	for _, tt := range []struct {
		note       string
		key        int
		accidental string
	}{
		{"B♭4", -2, ""}, {"B4", -2, "natural"}, {"E♭4", -2, ""}, {"A♭4", -2, "flat"}, {"F#4", 1, ""}, {"F4", 1, "natural"}, {"C4", 0, ""}, {"D♭4", 2, "flat"},
	} {
		if s := newStaff(tt.note, "treble", &tt.key, phrase.Tongue{}); s.Accidental != tt.accidental {
			t.Errorf("%s in %d sharps is written with %q, need %q", tt.note, tt.key, s.Accidental, tt.accidental)
		}
	}
	for clef, bottom := range bottomLines {
		for key := -7; key <= 7; key++ {
			s := newStaff("C4", clef, &key, phrase.Tongue{})
			for i, step := range s.Signature {
				letter := "FCGDAEB"[i]
				if key < 0 {
					letter = "BEADGCF"[i]
				}
				if got := "CDEFGAB"[(bottom+step)%7]; got != letter || step < -1 || step > 9 {
					t.Errorf("%s, %d sharps: sign %d stands on %c at step %d, need %c", clef, key, i+1, got, step, letter)
				}
			}
			if len(s.Signature) != max(key, -key) {
				t.Errorf("%s, %d sharps: %d signs", clef, key, len(s.Signature))
			}
		}
	}
}

// TestDrawSlide checks that the drawing is to scale: distances on it are to
// the whole as millimetres are to the travel.
func TestDrawSlide(t *testing.T) {
	d := drawSlide(proto.Slide{ID: instrument.Main, Name: "main slide", FromMM: 10, ToMM: 16, TravelMM: 50}, false, phrase.Tongue{})
	if d.From != 20 || d.To != 32 || d.Verb != "pull" || d.Distance != "6" {
		t.Errorf("10 to 16 of 50 mm: %+v, need 20 to 32 percent, pull 6", d)
	}
	d = drawSlide(proto.Slide{FromMM: 16, ToMM: 14.6, TravelMM: 50}, false, phrase.Tongue{})
	if d.Verb != "push" || d.Distance != "1½" {
		t.Errorf("16 to 14.6 mm: %+v, need push 1½", d)
	}
	if d = drawSlide(proto.Slide{FromMM: 10, ToMM: 16, TravelMM: 50}, true, phrase.Tongue{}); d.From != d.To {
		t.Errorf("moved: %+v, need the slide at its new place", d)
	}
	if d = drawSlide(proto.Slide{FromMM: 0, ToMM: 3}, false, phrase.Tongue{}); d.To != 7.5 {
		t.Errorf("3 mm of unknown travel: %+v, need 7.5 percent of 40 mm", d)
	}
	for _, tick := range drawSlide(proto.Slide{FromMM: 100, ToMM: 90, TravelMM: 600}, false, phrase.Tongue{}).Ticks {
		if tick.At < 0 || tick.At > 100 {
			t.Errorf("a tick stands at %g percent, need 0 to 100", tick.At)
		}
	}
}

// TestDark shows the page dark only while a wanted note sounds.
func TestDark(t *testing.T) {
	for _, tt := range []struct {
		listen bool
		sound  listen.State
		want   bool
	}{{true, listen.Sounding, true}, {true, listen.Resting, true}, {true, listen.Quiet, false}, {false, listen.Sounding, false}, {true, "", false}} {
		got := newSheet(state{view: proto.View{Listen: tt.listen, Written: "C5"}, sound: Sound{State: tt.sound}, link: Link{State: LinkJoined}}, false)
		if got.Dark != tt.want {
			t.Errorf("listen %v, %q: dark %v, need %v", tt.listen, tt.sound, got.Dark, tt.want)
		}
	}
}

// TestPauseHidesTheNote: a paused page asks for nothing.
func TestPauseHidesTheNote(t *testing.T) {
	got := newSheet(state{view: proto.View{Phase: "play", Written: "C5", Listen: true}, link: Link{State: LinkJoined}, paused: true}, false)
	if got.Phase != "paused" || got.Note != "" || got.Dark {
		t.Errorf("paused: %+v, need no note", got)
	}
}

// TestMicWords checks that each trouble comes with what to do.
func TestMicWords(t *testing.T) {
	for _, code := range []string{"no-samples", "overrun", "clipping", "processing-on"} {
		m := micSheet(Sound{Device: "x", Trouble: code}, false, phrase.Tongue{})
		if m.Good || m.Trouble == "" || m.Hint == "" {
			t.Errorf("%s: %+v, need trouble and hint", code, m)
		}
	}
	if m := micSheet(Sound{}, false, phrase.Tongue{}); m.Good {
		t.Error("no device is called good")
	}
	if m := micSheet(Sound{Device: "x", State: listen.Sounding, Level: -20, Floor: -60}, false, phrase.Tongue{}); !m.Good || m.Level != "heard well" {
		t.Errorf("a good level: %+v", m)
	}
}
