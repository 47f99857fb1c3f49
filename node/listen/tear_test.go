package listen

import (
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// tears counts what a listener finds torn in x.
func tears(x sound) (count int) {
	t := newTearing(testRate)
	for _, v := range x {
		if _, ago := t.hear(v); ago > 0 {
			count++
		}
	}
	return count
}

// without loses the samples from each of the given ones on, as many as are said.
func without(x sound, lost int, at ...int) (y sound) {
	from := 0
	for _, a := range at {
		y = append(y, x[from:a]...)
		from = a + lost
	}
	return append(y, x[from:]...)
}

// Samples lost anywhere in a note are told, whatever plays; nothing is where
// nothing was lost, though the note is clipped, a key clicks, or a drum is struck.
func TestTears(t *testing.T) {
	at := []int{24000, 31011, 40001, 52007}
	for seed, c := range []struct {
		hz    pitch.Hertz
		voice tone.Voice
	}{{29.2, tone.Tuba}, {58.3, tone.Tuba}, {116.5, tone.Trombone}, {174.6, tone.Horn}, {233.1, tone.Trombone}, {466.2, tone.Trumpet}, {932.3, tone.Trumpet}} {
		x := under(played(t, tone.Config{F0: c.hz, Voice: c.voice, Duration: 1.5, Seed: uint64(seed)}), hiss(1.5, -60, uint64(seed)))
		lost := int(math.Round(0.4*testRate/float64(c.hz))) + 2*int(testRate/c.hz)
		// At one of them the ends may meet.
		if got := tears(without(x, lost, at...)); got < len(at)-1 || got > len(at) {
			t.Errorf("%.1f Hz, %d samples lost: %d times, want %d", float64(c.hz), lost, got, len(at))
		}
		// zeros in their place
		y := append(sound(nil), x...)
		for _, a := range at {
			clear(y[a : a+480])
		}
		if got := tears(y); got < len(at) {
			t.Errorf("%.1f Hz, zeros for 10 ms: %d times, want %d", float64(c.hz), got, len(at))
		}
		clipped, soft := append(sound(nil), x...), append(sound(nil), x...)
		for i := range x {
			clipped[i] = max(-0.02, min(0.02, x[i]))
			soft[i] = math.Round(x[i]*0.01*32768) / 32768 // of -64 dBFS, in steps of 16 bits
		}
		// A key's knock rings at some 2.5 kHz for a millisecond; a drum's wires go on for a tenth of
		// a second (common practice, no source).
		knocked, drum := append(sound(nil), x...), append(sound(nil), x...)
		noise := hiss(0.3, -6, 99)
		for _, a := range at {
			for i := range 4800 {
				s := float64(i) / testRate
				knocked[a+i] += 0.2 * math.Sin(2*math.Pi*2500*s) * (1 - math.Exp(-s/2e-4)) * math.Exp(-s/1e-3)
				drum[a+i] += noise[i] * math.Exp(-s/0.03)
			}
		}
		for name, y := range map[string]sound{"nothing": x, "clipped": clipped, "soft": soft, "knocked": knocked, "a drum": drum} {
			if got := tears(y); got != 0 {
				t.Errorf("%.1f Hz, %s: torn %d times", float64(c.hz), name, got)
			}
		}
	}
}

// A note that lost samples gives no reading, at whatever rate the sound comes; one whose
// ends meet, where whole turns were lost, is read as it was.
func TestLostWithoutNotice(t *testing.T) {
	tn, err := tone.New(tone.Config{F0: testRate / 206., Voice: tone.Trombone, Level: -24, Duration: 2.5, Seed: 4, Rate: testRate})
	if err != nil {
		t.Fatal(err)
	}
	x := silence(2.5)
	tn.Read(x)
	for lost, want := range map[int]Reason{0: ReasonNone, 80: ReasonGap, 206: ReasonNone, 300: ReasonGap, 412: ReasonNone} { // a turn is of 206
		y := join(silence(0.3), without(x, lost, 40000, 60000, 80000), silence(0.3))
		l := newListener(t)
		rs := readings(append(append([]Event(nil), l.Write(y)...), l.Flush()...))
		if len(rs) != 1 || rs[0].Reason != want {
			t.Errorf("%d samples lost: %+v, want one with reason %q", lost, rs, want)
		}
	}
}
