package history

import (
	"math"
	"reflect"
	"testing"
	"time"

	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// Six rehearsals of two notes, open and with a straight mute that sharpens by 7
// cents, the main slide at another place each day.
func muted(days int) Player {
	p := Player{Label: "second trumpet"}
	at := time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)
	for d := range days {
		for i, n := range []pitch.Note{70, 65} {
			r := Reading{At: at.AddDate(0, 0, 7*d).Add(time.Duration(i) * time.Minute), Note: n, Played: 400, CentsPerMM: -2.3, UsualMM: 12, MainMM: 10 + float64(d)}
			r.Offset = pitch.Cents(3*float64(d%2) + 2*float64(i) + r.CentsPerMM*(r.MainMM-r.UsualMM))
			p.Readings = append(p.Readings, r)
			r.Mute, r.Offset, r.At = slide.Straight, r.Offset+7+pitch.Cents(d%3-1), r.At.Add(20*time.Minute)
			p.Readings = append(p.Readings, r)
		}
	}
	return p
}

func TestMuteShift(t *testing.T) {
	p := muted(6)
	// Days give 6, 7, 8, 6, 7, 8: mean without the ends 7; Student's interval holds it.
	e := MuteShift(p, slide.Straight)
	if math.Abs(float64(e.Cents)-7) > 1e-9 || e.CI95 < 0.5 || e.CI95 > 3 || !e.Sure() {
		t.Errorf("%+v, want 7 cents with a doubt of about one", e)
	}
	for _, m := range []slide.Mute{slide.Open, slide.Cup, slide.Stopped} {
		if e := MuteShift(p, m); e != (slide.Estimate{}) {
			t.Errorf("%q shifts by %+v", m, e)
		}
	}
	if e := MuteShift(muted(1), slide.Straight); e != (slide.Estimate{}) {
		t.Errorf("one rehearsal makes %+v", e)
	}
}

// Muted notes count nowhere else: everything that is said of a player is the same
// with and without them.
func TestMutedNotesAreKeptApart(t *testing.T) {
	with := muted(6)
	without := Player{Label: with.Label}
	for i := range with.Readings {
		if with.Readings[i].Mute == slide.Open {
			without.Readings = append(without.Readings, with.Readings[i])
		} else {
			with.Readings[i].Offset += 40
		}
	}
	a, b := SectionOf([]Player{with}), SectionOf([]Player{without})
	if x, y := Findings(with, a), Findings(without, b); !reflect.DeepEqual(x, y) {
		t.Errorf("habits with muted notes %+v, without %+v", x, y)
	}
	if x, y := with.days(a.Common), without.days(b.Common); !reflect.DeepEqual(x, y) {
		t.Errorf("days with muted notes %v, without %v", x, y)
	}
	if x, y := with.tendencies(), without.tendencies(); !reflect.DeepEqual(x, y) {
		t.Errorf("tendencies with muted notes %v, without %v", x, y)
	}
}

// A fifth partial is 14 cents flat by nature: called today instead of B flat, it
// is no other player.
func TestOwnLeavesTheoryOut(t *testing.T) {
	bb, d := Reading{Offset: 4}, Reading{Offset: -9.7, Theory: -13.7}
	if math.Abs(bb.Own()-d.Own()) > 1e-9 {
		t.Errorf("own offsets %g and %g", bb.Own(), d.Own())
	}
}
