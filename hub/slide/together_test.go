package slide

import (
	"math"
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// section seats four instruments that read a note so far out, in cents.
func section(t *testing.T, notes [4]string, x [4]pitch.Cents) []Seat {
	var seats []Seat
	for i, id := range []instrument.ID{"trumpet_bb", "horn_f", "euphonium_bb_bc", "tuba_bbb"} {
		seats = append(seats, seat(t, id, notes[i], 14, x[i]))
	}
	return seats
}

var bFlats = [4]string{"Bb4", "F4", "Bb3", "Bb2"}

func deeds(a AsOne) string {
	var s []string
	for _, c := range a.Choices {
		s = append(s, string(c.Do))
	}
	return strings.Join(s, " ")
}

// What a director can do about a section that is off as one (common practice, no
// source): warmth raises pitch, so it is the answer to flat and never to sharp.
func TestTogether(t *testing.T) {
	for _, c := range []struct {
		name   string
		x      [4]pitch.Cents
		fixed  bool
		common pitch.Cents
		off    bool
		deeds  string
		words  string
	}{
		{"sharp as one", [4]pitch.Cents{15, 15, 14, 16}, false, 15, true, "all-move follow hear-again", "15 cents sharp as one"},
		{"flat as one", [4]pitch.Cents{-15, -15, -14, -16}, false, -15, true, "warm-up all-move hear-again", "15 cents flat as one"},
		{"a little flat as one: A at 438 is in reach", [4]pitch.Cents{-8, -7, -9, -8}, false, -8, true, "warm-up all-move follow hear-again", "8 cents flat"},
		{"beside a piano the reference stays", [4]pitch.Cents{15, 17, 14, 16}, true, 15.5, true, "all-move hear-again", "sharp as one"},
		{"too sharp for any reference", [4]pitch.Cents{32, 30, 31, 33}, false, 31.5, true, "all-move hear-again", "sharp as one"},
		{"each for himself", [4]pitch.Cents{15, -17, 2, 6}, false, 4, false, "", ""},
		{"within the band", [4]pitch.Cents{4, 5, 3, 4}, false, 4, false, "", ""},
		{"one stands apart", [4]pitch.Cents{16, 15, 17, -12}, false, 15.5, false, "", ""}, // three in four
	} {
		t.Run(c.name, func(t *testing.T) {
			a := Together(pitch.Reference{}, section(t, bFlats, c.x), 5, c.fixed)
			if math.Abs(float64(a.Common-c.common)) > 0.1 || a.Off != c.off || deeds(a) != c.deeds || !strings.Contains(a.Words, c.words) {
				t.Errorf("common %+.2f, off %v, %q, %q; want %+.2f %v %q %q", float64(a.Common), a.Off, deeds(a), a.Words, float64(c.common), c.off, c.deeds, c.words)
			}
			for i, own := range a.Own {
				if d := own + a.Common - c.x[i]; math.Abs(float64(d)) > 0.1 {
					t.Errorf("seat %d: own %+.2f and common %+.2f are not %+.2f", i, float64(own), float64(a.Common), float64(c.x[i]))
				}
			}
			for _, ch := range a.Choices {
				if c.common > 0 && strings.Contains(strings.ToLower(ch.Words), "warm") {
					t.Errorf("a sharp section is told %q", ch.Words)
				}
			}
			said := a.Answer(0)
			if a.Off && (said.Kind != Stay || said.Code != "room" || c.common > 0 && strings.Contains(strings.ToLower(Say(said).Next), "warm")) {
				t.Errorf("the first seat is told %+v", said)
			}
		})
	}
}

// Everybody out by the common part: on each instrument as far as its tube is
// long (c/(2 f1), both legs; 343.2 m/s), whatever is the seat's own.
func TestTogetherMovesByTheCommonPart(t *testing.T) {
	a := Together(pitch.Reference{}, section(t, bFlats, [4]pitch.Cents{12, 18, 15, 15}), 5, false)
	for i, f1 := range []float64{116.541, 43.654, 58.270, 29.135} {
		want := 343.2 / 2 / f1 * 1000 / 2 * (math.Exp2(15.0/1200) - 1)
		if got := a.Choices[0].Steps[i].MM(); math.Abs(got-want) > 0.5+0.03*want {
			t.Errorf("seat %d moves %+.0f mm, by its tube %.2f", i, got, want)
		}
	}
	// 440 · 2^(15/1200) = 443.83: A at 444 Hz.
	if r := a.Choices[1].Reference.A4; r != 444 {
		t.Errorf("the reference follows to %g Hz", float64(r))
	}
	if got := Say(a.Answer(1)).Detail; !strings.Contains(got, "you stand 3 cents above") && !strings.Contains(got, "you with it") {
		t.Errorf("the horn is told %q", got)
	}
}

// A fifth partial's 13.7 cents (1200 log2 5/4 - 400: arithmetic) go out of what is
// compared, two cents of a third partial stay, and nothing without an instrument.
func TestClear(t *testing.T) {
	trumpet := catalogue(t, "trumpet_bb")
	for _, c := range []struct {
		note string
		want pitch.Cents
	}{{"D5", 9.686}, {"F4", -4}, {"Bb4", -4}} {
		if got := Clear(trumpet, noteOf(t, c.note), instrument.Path{}, -4); math.Abs(float64(got-c.want)) > 0.001 {
			t.Errorf("%s at -4 is %+.3f, want %+.3f", c.note, float64(got), float64(c.want))
		}
	}
	if got := Clear(nil, 70, instrument.Path{}, -4); got != -4 {
		t.Errorf("without an instrument %+.3f", float64(got))
	}
}

// Perfect instruments on a fifth partial read 14 to 16 flat together: nothing is
// wrong with the section.
func TestTogetherTakesTheoryOut(t *testing.T) {
	seats := section(t, [4]string{"D5", "A3", "D4", "D3"}, [4]pitch.Cents{-14, -15, -14, -16})
	seats[1].Path = instrument.Path{Partial: 5}
	a := Together(pitch.Reference{}, seats, 5, false)
	if a.Off || a.Words != "" || math.Abs(float64(a.Common)) > 2.5 {
		t.Errorf("%+v", a)
	}
	if o := CommonPitch(pitch.Reference{}, seats, nil); o.Changed {
		t.Errorf("the reference is to change: %+v", o)
	}
	if a := Together(pitch.Reference{}, nil, 0, false); a.Off || len(a.Choices) != 0 {
		t.Errorf("nobody is off: %+v", a)
	}
}
