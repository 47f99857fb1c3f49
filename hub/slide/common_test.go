package slide

import (
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func seat(t testing.TB, id instrument.ID, note string, mm float64, x pitch.Cents) Seat {
	in := catalogue(t, id)
	return Seat{Instrument: in, Path: in.Paths(noteOf(t, note))[0], Settings: instrument.Settings{"main": mm}, Offset: x}
}

func TestCommonPitch(t *testing.T) {
	sharp := []Seat{
		seat(t, "trumpet_bb", "Bb4", 14, 9), seat(t, "horn_f", "F4", 14, 8), seat(t, "tenor_trombone_bb", "Bb3", 14, 7), seat(t, "tuba_bbb", "Bb2", 20, 8),
	}
	even := []Seat{
		seat(t, "trumpet_bb", "Bb4", 14, 6), seat(t, "horn_f", "F4", 14, -6), seat(t, "tenor_trombone_bb", "Bb3", 14, 1), seat(t, "tuba_bbb", "Bb2", 20, -1),
	}
	stuck := []Seat{ // two slides are closed already and flat of 440
		seat(t, "trumpet_bb", "Bb4", 0, -8), seat(t, "cornet_bb", "Bb4", 0, -7), seat(t, "tuba_bbb", "Bb2", 20, 2), seat(t, "euphonium_bb_bc", "Bb3", 20, 3),
	}
	fixed := pitch.Reference{A4: 441}
	for _, c := range []struct {
		name    string
		seats   []Seat
		fixed   *pitch.Reference
		want    pitch.Hertz
		changed bool
		words   string
	}{
		{"sharp as one: 442 (8 cents) needs least", sharp, nil, 442, true, "442 Hz would need"},
		{"out both ways: stay", even, nil, 440, false, "as well as any"},
		{"slides that are closed: come down to them", stuck, nil, 438, true, "within reach of two more slides"},
		{"a piano decides", sharp, &fixed, 441, true, "fixed instrument"},
		{"nobody", nil, nil, 440, false, ""},
	} {
		t.Run(c.name, func(t *testing.T) {
			o := CommonPitch(pitch.Reference{}, c.seats, c.fixed)
			if o.Reference.A4 != c.want || o.Changed != c.changed || !strings.Contains(o.Words, c.words) {
				t.Errorf("%+v, want %v Hz and %q", o, float64(c.want), c.words)
			}
			if c.fixed == nil && (o.Beyond > o.PresentBeyond || o.Beyond == o.PresentBeyond && o.MM > o.PresentMM) {
				t.Errorf("%+v is worse than the present reference", o)
			}
		})
	}
}

// The offer is the best of all whole hertz, by brute force.
func TestCommonPitchIsTheLeast(t *testing.T) {
	seats := []Seat{seat(t, "trumpet_bb", "Bb4", 14, -4), seat(t, "horn_f", "F4", 3, -9), seat(t, "tuba_f", "Bb2", 14, -12), seat(t, "tenor_trombone_bb", "Bb3", 14, -7)}
	o := CommonPitch(pitch.Reference{}, seats, nil)
	for hz := pitch.Hertz(438); hz <= 446; hz++ {
		mm, beyond := movement(pitch.Reference{A4: 440}, pitch.Reference{A4: hz}, seats)
		if beyond < o.Beyond || beyond == o.Beyond && mm < o.MM-1e-6 {
			t.Errorf("%v Hz needs %.1f mm with %d beyond, the offer of %v Hz %.1f with %d", float64(hz), mm, beyond, float64(o.Reference.A4), o.MM, o.Beyond)
		}
	}
}
