package listen

import (
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// dying lets the end of s die away as in a room, by 60 dB in the given seconds.
func dying(s sound, seconds float64) sound {
	tail := silence(seconds)
	const loop = testRate / 10
	for i := range tail {
		tail[i] = s[len(s)-loop+i%loop] * math.Pow(10, -3*float64(i)/float64(len(tail)))
	}
	return join(s, tail)
}

// The estimate of a note is made before the note is known to be over, and is
// there when it is.
func TestEstimateIsForeseen(t *testing.T) {
	note := func(seconds float64) sound {
		return played(t, tone.Config{F0: 233.1, Voice: tone.Trombone, Duration: seconds, Seed: 2})
	}
	for _, tt := range []struct {
		name string
		x    sound
	}{
		{"long", join(note(7), silence(0.5))},
		{"let go", join(note(1.5), silence(0.5))},
		{"let go in a room", join(dying(note(1.5), 0.4), silence(0.5))},
		{"let go in a noisy room", under(join(note(1.5), silence(0.5)), hiss(2, -48, 5))},
		{"low", join(played(t, tone.Config{F0: 58.3, Voice: tone.Tuba, Duration: 1.8, Seed: 6}), silence(0.5))},
	} {
		t.Run(tt.name, func(t *testing.T) {
			l, err := New(Config{Rate: testRate})
			if err != nil {
				t.Fatal(err)
			}
			asks := 0
			x := join(hiss(0.5, -72, 1), tt.x)
			for at := 0; at+l.hop <= len(x); at += l.hop {
				before := l.asked
				events := l.Write(x[at : at+l.hop])
				if l.asked.onset != before.onset || l.asked.until != before.until {
					asks++
					if longest := int64((DefaultHoldFor + float64(checkHops)*hopSeconds) * testRate); l.sample-l.asked.onset >= longest {
						t.Errorf("asked when %d samples were heard, of %d that matter", l.sample-l.asked.onset, longest)
					}
				}
				for _, r := range readings(events) {
					if !r.Settled {
						t.Fatalf("not settled: %q", r.Reason)
					}
					if before.until != l.asked.until || before.onset != r.Onset {
						t.Errorf("asked for the note at %d until %d before, at the end for %d until %d", before.onset, before.until, l.asked.onset, l.asked.until)
					}
					if asks != 1 {
						t.Errorf("asked %d times", asks)
					}
					return
				}
			}
			t.Error("no reading")
		})
	}
}

// An end that was none costs nothing but the work: the note is read where it
// rested longest.
func TestForeseenEndThatWasNone(t *testing.T) {
	tn, err := tone.New(tone.Natural(tone.Config{Rate: testRate, F0: 233.1, Level: -24, Voice: tone.Trombone, Duration: 2.2, Seed: 2}))
	if err != nil {
		t.Fatal(err)
	}
	note := silence(2.2)
	tn.Read(note)
	const from, to = 33600, 36000 // 50 ms: a hiccup of the lip
	for i := from; i < to; i++ {  // it falls silent and comes back
		note[i] *= max(0, 1-min(float64(i-from), float64(to-i))/480)
	}
	rs := readings(hear(t, join(silence(0.5), note, silence(0.5)), Config{Rate: testRate, ClockPPM: -1}))
	if len(rs) != 1 || !rs[0].Settled {
		t.Fatalf("readings %+v, want one settled", rs)
	}
	start, end := rs[0].Start-testRate/2, rs[0].End-testRate/2
	if start < to {
		t.Fatalf("measured from sample %d, want after the hiccup, %d", start, to)
	}
	truth, _ := tn.Truth(start, end)
	if off := pitch.Between(truth, rs[0].Hz); math.Abs(float64(off)) > 0.1 {
		t.Errorf("off by %.3f cents", float64(off))
	}
}
