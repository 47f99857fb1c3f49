package listen

import (
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// hear plays x in odd blocks and returns all events.
func hear(t *testing.T, x []float64, c Config) []Event {
	t.Helper()
	l, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	var all []Event
	for at := 0; at < len(x); at += 701 {
		all = append(all, l.Write(x[at:min(len(x), at+701)])...)
	}
	return append(all, l.Flush()...)
}

func readings(events []Event) []Reading {
	var rs []Reading
	for _, e := range events {
		if e.Reading != nil {
			rs = append(rs, *e.Reading)
		}
	}
	return rs
}

func TestOneReadingPerNote(t *testing.T) {
	for _, duration := range []float64{1.5, 4} {
		tn, err := tone.New(tone.Natural(tone.Config{Rate: testRate, F0: 233.3, Level: -24, Voice: tone.Trombone, Seed: 1, Duration: duration}))
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, testRate/2)
		note := make([]float64, int(duration*testRate))
		tn.Read(note)
		x = append(append(x, note...), make([]float64, testRate/2)...)
		rs := readings(hear(t, x, Config{Rate: testRate, ClockPPM: -1}))
		if len(rs) != 1 {
			t.Fatalf("%g s: %d readings, want 1", duration, len(rs))
		}
		r := rs[0]
		truth, _ := tn.Truth(r.Start-testRate/2, r.End-testRate/2)
		off := pitch.Between(truth, r.Hz)
		t.Logf("%g s: %+v off %.4f", duration, r, float64(off))
		if !r.Settled || math.Abs(float64(off)) > 1 {
			t.Errorf("%g s: settled %v (%s), off %.3f cents", duration, r.Settled, r.Reason, float64(off))
		}
	}
}
