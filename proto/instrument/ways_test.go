package instrument

import (
	"math"
	"slices"
	"testing"

	"bellrow/proto/pitch"
)

// TestABaseIsTheSameInstrument: another part of an instrument is played on the same tubes and slides, and has its
// usual entry as its base, which is its own.
func TestABaseIsTheSameInstrument(t *testing.T) {
	others := 0
	for _, in := range Catalogue() {
		base, err := Find(in.Base())
		if err != nil || base.Base() != base.ID || base.Of != "" {
			t.Errorf("%s is based on %q: %v", in.ID, in.Base(), err)
			continue
		}
		if base.Fundamental != in.Fundamental || base.Family != in.Family || base.Valves != in.Valves || !slices.Equal(base.Slides, in.Slides) {
			t.Errorf("%s is another instrument than %s", in.ID, base.ID)
		}
		if in.Of != "" && base.ID == in.ID || in.Of == "" && base.ID != in.ID {
			t.Errorf("%s of %q is based on %s", in.ID, in.Of, base.ID)
		}
		if base.ID != in.ID {
			others++
		}
	}
	if others == 0 {
		t.Error("no instrument has another part")
	}
}

// TestPositionsAreWrittenExactly: what is between two positions is read back to the last digit that a player
// may type, and whole ones by their ordinals.
func TestPositionsAreWrittenExactly(t *testing.T) {
	for _, x := range []float64{1.1, 2.25, 3.123456789012, 7.3} {
		for _, side := range []string{"", "F", "Gb", "D"} {
			p := Path{Position: x, Side: side}
			if got, err := ParsePath(p.String()); err != nil || got.Position != x || got.Side != side {
				t.Errorf("%q is read back as %+v, %v", p, got, err)
			}
		}
	}
}

// TestLongWaysAreNear: with five valves and more, no way with one of the fourth to the sixth is farther out than 35
// cents, nor than 12 without the fourth.
func TestLongWaysAreNear(t *testing.T) {
	with, without := 0.0, 0.0
	everyWay(func(in *Instrument, _ pitch.Note, ps []Path) {
		for _, p := range ps {
			far := math.Abs(float64(in.Theory(p).Valves))
			switch {
			case in.Valves <= 4 || !(p.presses(4) || p.presses(5) || p.presses(6)):
			case p.presses(4):
				with = max(with, far)
			default:
				without = max(without, far)
			}
		}
	})
	if with > 35 || without > 12 || with <= 12 || without == 0 {
		t.Errorf("%.1f cents with the fourth, %.1f without", with, without)
	}
}

// TestAShortTravelIsOneToo: a slide that was measured at half a millimetre has as much; where none was measured it keeps
// the catalogue's.
func TestAShortTravelIsOneToo(t *testing.T) {
	for _, in := range Catalogue() {
		for i, s := range in.Slides {
			for _, mm := range []float64{0.5, 1} {
				if got := in.WithTravel(Settings{s.ID: mm}).Slides[i].TravelMM; got != mm {
					t.Errorf("%s, %s measured at %g mm: %g", in.ID, s.ID, mm, got)
				}
			}
		}
	}
}
