package estimate

import (
	"testing"

	"bellrow/node/simulate/tone"
)

// noteOf returns seconds of a natural note.
func noteOf(tb testing.TB, c tone.Config, seconds float64) []float64 {
	tb.Helper()
	tn, err := tone.New(c)
	if err != nil {
		tb.Fatal(err)
	}
	x := make([]float64, int(c.Rate*(seconds+0.3)))
	tn.Read(x)
	return x[int(c.Rate*0.3):]
}

func BenchmarkRefine(b *testing.B) {
	x := noteOf(b, tone.Natural(tone.Config{Rate: 48000, F0: 233, Level: -20, Voice: tone.Trombone, Seed: 1}), 2)
	b.ReportAllocs()
	for b.Loop() {
		if _, ok := Whole(x, 48000, Options{Call: 233.1}); !ok {
			b.Fatal("no estimate")
		}
	}
}
