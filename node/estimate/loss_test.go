package estimate

import (
	"math"
	"testing"

	"bellrow/proto/pitch"
)

// Samples lost without notice are told: a part of a turn of the pitch every third of a
// second, at which the pitch that is read would be off. An untouched note loses none.
func TestLosses(t *testing.T) {
	for seed, hz := range []pitch.Hertz{58.3, 116.5, 174.6, 233.1} {
		x, truth := player(t, hz, seed)
		var holed []float64
		const every = testRate / 5
		lost := int(math.Round(0.4 * testRate / float64(truth)))
		for at := 0; at+every <= len(x); at += every {
			holed = append(holed, x[at:at+every-lost]...)
		}
		if e, ok := Note(x, testRate, Options{}); !ok || e.Losses {
			t.Errorf("%.1f Hz, nothing lost: losses %v (%v)", float64(hz), e.Losses, ok)
		}
		if e, ok := Note(holed, testRate, Options{}); !ok || !e.Losses {
			t.Errorf("%.1f Hz, 0.4 turns lost five times a second: losses %v (%v), off by %.1f cents", float64(hz), e.Losses, ok, float64(pitch.Between(truth, e.Hz)))
		}
	}
}
