package listen

import (
	"testing"
	"time"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// BenchmarkWrite listens to a long unsteady note, block by block. The share of
// one core that real time would take is reported; so are allocations, of which
// a hop has none.
func BenchmarkWrite(b *testing.B) {
	for _, bb := range []struct {
		name  string
		hz    float64
		voice tone.Voice
	}{{"low", 29.2, tone.Tuba}, {"middle", 233, tone.Trombone}, {"high", 932, tone.Trumpet}} {
		b.Run(bb.name, func(b *testing.B) {
			const hop = 480
			// Vibrato never rests: no reading falls into the loop.
			x := played(b, tone.Config{
				F0: pitch.Hertz(bb.hz), Voice: bb.voice, Duration: 8, Seed: 4, VibratoHz: 5, VibratoCents: 30,
			})
			l, err := New(Config{Rate: testRate})
			if err != nil {
				b.Fatal(err)
			}
			at, blocks := 0, 0
			b.ReportAllocs()
			began := time.Now()
			for b.Loop() {
				if at+hop > len(x) {
					at = testRate // go on inside the note
				}
				l.Write(x[at : at+hop])
				at += hop
				blocks++
			}
			b.ReportMetric(100*time.Since(began).Seconds()/(float64(blocks)*hop/testRate), "%core")
		})
	}
}

// BenchmarkReading is the final reading of a note of two seconds.
func BenchmarkReading(b *testing.B) {
	alone := played(b, tone.Config{F0: 233, Voice: tone.Trombone, Duration: 2.4, Seed: 2})
	beside := under(alone, played(b, tone.Config{F0: 233 * 1.0046, Voice: tone.Horn, Duration: 2.4, Seed: 3, Level: -30}))
	for _, bb := range []struct {
		name string
		x    sound
	}{{"alone", alone}, {"beside", beside}} {
		b.Run(bb.name, func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				Whole(bb.x[testRate/5:testRate*11/5], Config{Rate: testRate})
			}
		})
	}
}
