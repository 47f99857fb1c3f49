package room

import (
	"math"
	"testing"
)

// Half the angle within which a bell is at most 3 dB weaker than on axis: Meyer,
// Acoustics and the Performance of Music, 5th ed., chapter 4, from memory, which
// is why the margins are wide.
func TestBellsAreAsWideAsMeasured(t *testing.T) {
	for _, v := range []struct {
		name       string
		radius, hz float64
		from, to   float64 // degrees
	}{
		{"trumpet", 0.0615, 2000, 30, 50},
		{"trombone", 0.10, 1000, 40, 70},
		{"trombone", 0.10, 2000, 18, 32},
		{"tuba", 0.19, 1000, 18, 40},
	} {
		b := Bell{Radius: v.radius}
		at := 0.0
		for at < 180 && b.Gain(math.Cos(at*math.Pi/180), v.hz) > math.Sqrt(0.5) {
			at++
		}
		if at < v.from || at > v.to {
			t.Errorf("%s at %g Hz is 3 dB down at %g°, want %g to %g", v.name, v.hz, at, v.from, v.to)
		}
	}
	// Low notes go everywhere: within 3 dB to about 400 Hz for a trombone's front half.
	if g := (Bell{Radius: 0.10}).Gain(0, 250); g < math.Sqrt(0.5) {
		t.Errorf("a trombone at 250 Hz and 90° has %.2f of its pressure on axis", g)
	}
}

// The mean over the sphere of a baffled piston's squared directivity is known in
// closed form (Kinsler and others, Fundamentals of Acoustics, 4th ed., eq. 7.4.18:
// directivity (ka)²/(1 − J1(2ka)/ka) over the front half). The open end radiates less to
// the sides, and something behind: its mean stays below one half of that plus what is filled in.
func TestWhatTheRoomGetsOfABell(t *testing.T) {
	b := Bell{Radius: 0.1}
	before := 1.0
	for hz := 50.0; hz < 6000; hz *= 1.2 {
		ka := 2 * math.Pi * hz / SpeedOfSound * b.Radius
		m := b.Mean(hz)
		if m > before+1e-9 {
			t.Errorf("at %.0f Hz the room gets %.3f, more than at lower ones", hz, m)
		}
		before = m
		if piston := (1 - math.J1(2*ka)/ka) / (ka * ka); ka > 1.5 && m > piston+softest*softest {
			t.Errorf("at %.0f Hz the room gets %.3f, of a piston %.3f", hz, m, piston)
		}
	}
	if m := b.Mean(20); math.Abs(m-1) > 0.02 {
		t.Errorf("at 20 Hz the mean is %.3f, want 1", m)
	}
}

// Without a room, what a microphone hears of a directed bell is the pulse times
// the gain over the distance; and a mirrored bell points away from its wall.
func TestDirectedSoundArrivesAsItRadiates(t *testing.T) {
	const rate = 16000.0
	for _, deg := range []float64{0, 45, 90, 150} {
		// In the middle of a ring of directions, to compare exactly.
		cos := (float64(ring(math.Cos(deg*math.Pi/180)))+0.5)*2/rings - 1
		s, mic := Seat{Bell: Point{4, 5, 1}, Sound: Bell{Axis: Point{1, 0, 0}, Radius: 0.1}}, Point{4 + 2*cos, 5 + 2*math.Sqrt(1-cos*cos), 1}
		h := impulse(Config{Rate: rate, Size: Point{9, 12, 4}}, s, mic, 1024, nil)
		for _, hz := range []float64{300, 1000, 2000} {
			var re, im float64
			for i, v := range h {
				sn, cs := math.Sincos(2 * math.Pi * hz * float64(i) / rate)
				re, im = re+v*cs, im+v*sn
			}
			want := s.Sound.Gain(cos, hz) / 2
			if got := math.Hypot(re, im); math.Abs(got-want) > 0.03 {
				t.Errorf("%g° at %g Hz: %.3f, want %.3f", deg, hz, got, want)
			}
		}
	}
	seen := false
	ways(Point{9, 12, 4}, Point{8, 5, 1}, Point{4, 5, 1}, Uniform(Point{9, 12, 4}, 1), 0.02, func(d, _ float64, way Point) {
		if math.Abs(d-6) < 1e-9 { // over the wall at 9: the image is at 10
			seen = true
			if c := (Bell{Axis: Point{1, 0, 0}}).cosine(way); math.Abs(c-1) > 1e-9 {
				t.Errorf("the sound towards the wall leaves at a cosine of %.2f to the wall", c)
			}
		}
	})
	if !seen {
		t.Error("no image behind the near wall")
	}
}
