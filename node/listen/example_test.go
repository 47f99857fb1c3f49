package listen_test

import (
	"fmt"

	"bellrow/node/listen"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// A listener is fed samples as they come and gives one reading for each note
// that rested: where its centre lies, and how well that is known.
func Example() {
	const rate = 48000
	horn, err := tone.New(tone.Config{Rate: rate, F0: 175.0, Level: -20, Voice: tone.Horn, Duration: 3, Seed: 1})
	if err != nil {
		fmt.Println(err)
		return
	}
	note := make([]float64, 3*rate)
	horn.Read(note)
	samples := append(append(make([]float64, rate/2), note...), make([]float64, rate/2)...)

	l, err := listen.New(listen.Config{Rate: rate})
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, e := range append(l.Write(samples), l.Flush()...) {
		if r := e.Reading; r != nil {
			f3 := pitch.Reference{A4: 440}.Frequency(pitch.A4 - 16)
			fmt.Printf("settled: %v, %.0f cents from F3, known to half a cent: %v\n", r.Settled, float64(pitch.Between(f3, r.Hz)), r.CI95 < 0.5)
		}
	}
	// 175 Hz over 174.61 Hz is 3.8 cents.

	// Output:
	// settled: true, 4 cents from F3, known to half a cent: true
}
