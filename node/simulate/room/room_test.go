package room

import (
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"testing"
)

// click is a stream of one pulse at sample 0.
type click struct{ done bool }

func (c *click) Read(dst []float64) {
	clear(dst)
	if !c.done {
		dst[0], c.done = 1, true
	}
}

// sine is a steady tone of amplitude 0.01 at one metre.
type sine struct {
	hz, rate float64
	n        int
}

func (s *sine) Read(dst []float64) {
	for i := range dst {
		dst[i] = 0.01 * math.Sin(2*math.Pi*s.hz*float64(s.n)/s.rate)
		s.n++
	}
}

// noise is white.
type noise struct{ rng *rand.Rand }

func (n noise) Read(dst []float64) {
	for i := range dst {
		dst[i] = 0.01 * n.rng.NormFloat64()
	}
}

// The images of a source nearest to the x walls, by hand: Allen and Berkley
// 1979, eq. 10, puts them at 2nL ± x with β once for each wall met.
func TestImagesByHand(t *testing.T) {
	size := Point{5, 4, 3}
	src, mic := Point{1, 2, 1.5}, Point{3, 2, 1.5}
	w := Walls{X: [2]float64{0.9, 0.7}, Y: [2]float64{0, 0}, Z: [2]float64{0, 0}}
	want := map[string]bool{}
	for _, v := range []struct{ d, g float64 }{
		{2, 1},    // direct: 1 to 3
		{4, 0.9},  // image at −1: once off the wall at 0
		{6, 0.7},  // image at 9: once off the wall at 5
		{8, 0.63}, // image at 11: off 0, then 5
		{12, 0.63},
	} {
		want[fmt.Sprintf("%.6f %.6f", v.d, v.g)] = true
	}
	Images(size, src, mic, w, 12.5/SpeedOfSound, func(d, g float64) {
		k := fmt.Sprintf("%.6f %.6f", d, g)
		if !want[k] {
			t.Errorf("unexpected image: distance and gain %s", k)
		}
		delete(want, k)
	})
	for k := range want {
		t.Errorf("missing image: distance and gain %s", k)
	}
}

// In a rigid box the images sum to the exact solution (Allen and Berkley 1979,
// appendix A): the response peaks at the axial mode c/(2L) (Kuttruff, Room
// Acoustics, 5th ed., eq. 3.15).
func TestRigidBoxResonates(t *testing.T) {
	size := Point{5, 4.1, 3.3}
	w := Walls{[2]float64{0.98, 0.98}, [2]float64{0.98, 0.98}, [2]float64{0.98, 0.98}}
	mode := SpeedOfSound / (2 * size.X)
	at := func(hz float64) float64 {
		var re, im float64
		Images(size, Point{0.01, 0.01, 0.01}, Point{4.99, 0.02, 0.02}, w, 0.5, func(d, g float64) {
			s, c := math.Sincos(-2 * math.Pi * hz * d / SpeedOfSound)
			fade := math.Exp(-8 * d / SpeedOfSound)
			re, im = re+g*fade/d*c, im+g*fade/d*s
		})
		return math.Hypot(re, im)
	}
	best, peak := 0.0, 0.0
	for hz := 0.85 * mode; hz < 1.15*mode; hz += 0.01 * mode {
		if v := at(hz); v > peak {
			best, peak = hz, v
		}
	}
	if math.Abs(best/mode-1) > 0.02 {
		t.Errorf("response peaks at %.2f Hz, want the first axial mode %.2f Hz", best, mode)
	}
}

// The room of Allen and Berkley's example (1979, section III) measures 80 × 120
// × 100 sample distances (from memory; its printed decay could not be looked
// up, so it is not compared). With equal walls its decay must follow Eyring's
// formula, which a box exceeds somewhat because sound that runs between two
// walls lasts longest (Lehmann and Johansson 2008, J. Acoust. Soc. Am. 124:269).
func TestDecayFollowsEyring(t *testing.T) {
	const unit = SpeedOfSound / 8000
	size := Point{80 * unit, 120 * unit, 100 * unit}
	const eyring = 0.25
	w := Uniform(size, eyring)
	type arrival struct{ t, e float64 }
	var all []arrival
	Images(size, Point{30 * unit, 100 * unit, 40 * unit}, Point{50 * unit, 10 * unit, 60 * unit}, w, 0.35, func(d, g float64) {
		all = append(all, arrival{d / SpeedOfSound, g * g / (d * d)})
	})
	sort.Slice(all, func(i, j int) bool { return all[i].t < all[j].t })
	// Backward integration (Schroeder 1965), −5 to −25 dB.
	left := 0.0
	for _, a := range all {
		left += a.e
	}
	total, t5, t25 := left, 0.0, 0.0
	for _, a := range all {
		left -= a.e
		switch l := 10 * math.Log10(left/total); {
		case l < -25 && t25 == 0:
			t25 = a.t
		case l < -5 && t5 == 0:
			t5 = a.t
		}
	}
	measured := 3 * (t25 - t5)
	if r := measured / eyring; r < 0.9 || r > 1.25 {
		t.Errorf("reverberation time %.3f s, Eyring's formula %.3f s", measured, eyring)
	}
}

func TestDirectSound(t *testing.T) {
	const rate = 48000
	for _, mode := range []Mode{Full, Live} {
		// 5 m from the bell: 1/5 of the level at one metre, 699 samples later.
		seat := Seat{Bell: Point{2, 6, 1.5}, Mic: Point{7, 6, 1.5}}
		r, err := New(Config{Rate: rate, Mode: mode, Seats: []Seat{seat}}, []Stream{&click{}})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, 2000)
		r.Read([][]float64{x})
		sum, moment := 0.0, 0.0
		for i, v := range x {
			sum += v
			moment += v * float64(i)
		}
		if math.Abs(sum-0.2) > 0.002 {
			t.Errorf("mode %d: gain %.4f, want 0.2", mode, sum)
		}
		if at := moment / sum; math.Abs(at-5/SpeedOfSound*rate) > 0.6 {
			t.Errorf("mode %d: arrives at sample %.2f, want %.2f", mode, at, 5/SpeedOfSound*rate)
		}
	}
}

// decay measures the reverberation time of a room's response by Schroeder's
// backward integration.
func decay(x []float64, rate float64) float64 {
	total := 0.0
	for _, v := range x {
		total += v * v
	}
	left, t10, t30 := total, 0.0, 0.0
	for i, v := range x {
		left -= v * v
		l := 10 * math.Log10(left/total+1e-12)
		if l < -10 && t10 == 0 {
			t10 = float64(i) / rate
		}
		if l < -30 && t30 == 0 {
			t30 = float64(i) / rate
		}
	}
	return 3 * (t30 - t10)
}

func TestReverberationTime(t *testing.T) {
	const rate = 16000
	for _, mode := range []Mode{Full, Live} {
		for _, rt := range []float64{0.3, 0.8, 1.6} {
			seat := Seat{Bell: Point{2, 3, 1.2}, Mic: Point{7, 9, 1.2}}
			r, err := New(Config{Rate: rate, Mode: mode, RT60: rt, Seats: []Seat{seat}, Seed: 3}, []Stream{&click{}})
			if err != nil {
				t.Fatal(err)
			}
			x := make([]float64, int(1.2*rt*rate))
			r.Read([][]float64{x})
			if got := decay(x, rate); math.Abs(got/rt-1) > 0.2 {
				t.Errorf("mode %d: reverberation time %.2f s, want %.2f", mode, got, rt)
			}
		}
	}
}

// Far from the source the reverberant level is that of diffuse-field theory:
// 16π/A against the direct sound at one metre (Kuttruff, section 5.1).
func TestDiffuseLevel(t *testing.T) {
	const rate = 16000
	for _, mode := range []Mode{Full, Live} {
		cfg := Config{Rate: rate, Mode: mode, RT60: 0.8, Size: Point{9, 12, 4}, Seed: 4,
			Seats: []Seat{{Bell: Point{1.5, 1.5, 1.2}, Mic: Point{7.5, 10.5, 1.4}}}}
		r, err := New(cfg, []Stream{noise{rand.New(rand.NewPCG(5, 6))}})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, 3*rate)
		r.Read([][]float64{x})
		sum := 0.0
		for _, v := range x[rate:] {
			sum += v * v
		}
		got := 10 * math.Log10(sum/(2*rate)/1e-4)
		want := 10 * math.Log10(16*math.Pi/(0.161*9*12*4/0.8)+1/(6.0*6+9*9+0.04))
		if math.Abs(got-want) > 2 {
			t.Errorf("mode %d: %.1f dB against one metre, want %.1f", mode, got, want)
		}
	}
}

func TestClockPPM(t *testing.T) {
	const rate, hz, ppm = 48000.0, 1000.0, 80.0
	r, err := New(Config{Rate: rate, Mode: Live, Seats: Rows([]int{1}, 1, 1, Point{4, 5, 0}), Mics: []Mic{{PPM: ppm, Start: 0.25}}},
		[]Stream{&sine{hz: hz, rate: rate}})
	if err != nil {
		t.Fatal(err)
	}
	x := make([]float64, 96000)
	r.Read([][]float64{x})
	phase := func(from int) float64 {
		var re, im float64
		for i := from; i < from+9600; i++ {
			s, c := math.Sincos(2 * math.Pi * hz / rate * float64(i))
			re, im = re+x[i]*c, im-x[i]*s
		}
		return math.Atan2(im, re)
	}
	turn := math.Remainder(phase(80000)-phase(8000), 2*math.Pi) / (2 * math.Pi)
	got := turn / (72000 / rate) / hz * 1e6
	// A fast clock takes more samples of each period: the tone seems lower.
	if math.Abs(got+ppm) > 0.5 {
		t.Errorf("tone is %.2f ppm off, want %g", got, -ppm)
	}
}

func TestMicrophone(t *testing.T) {
	const rate = 16000.0
	level := func(hz float64, m Mic) float64 {
		r, err := New(Config{Rate: rate, Mode: Live, Seats: Rows([]int{1}, 1, 1, Point{4, 5, 0}), Mics: []Mic{m}},
			[]Stream{&sine{hz: hz, rate: rate}})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, 5*int(rate))
		r.Read([][]float64{x})
		sum := 0.0
		for _, v := range x[4*int(rate):] {
			sum += v * v
		}
		return 10 * math.Log10(sum/rate)
	}
	flat := level(150, Mic{})
	if d := level(150, Mic{HighPass: 150}) - flat; math.Abs(d+3) > 0.2 {
		t.Errorf("at its corner the high-pass gives %.2f dB, want −3", d)
	}
	if d := level(75, Mic{HighPass: 150}) - level(75, Mic{}); math.Abs(d+12.3) > 0.4 {
		t.Errorf("an octave below its corner the high-pass gives %.2f dB, want −12.3", d)
	}
	if d := level(500, Mic{GainDB: 6}) - level(500, Mic{}); math.Abs(d-6) > 0.01 {
		t.Errorf("gain of 6 dB gives %.2f", d)
	}
	if d := level(500, Mic{AGC: true}) - level(500, Mic{}); d < 3 || d > agcRange+0.1 {
		t.Errorf("automatic gain raises a soft tone by %.1f dB, want up to %g", d, agcRange)
	}
	if l := level(500, Mic{GainDB: 120}); l > 0 {
		t.Errorf("overload reaches %.1f dB, want clipping at full scale", l)
	}
}

// The live room may not cost a demo more than a small share of a core, and
// must say the same as the accurate one about who is heard how loudly.
func TestLiveBleedMatchesFull(t *testing.T) {
	const rate = 16000
	seats := Arcs([]int{4}, 3, 1.2, 1.4, Point{4.5, 3, 0})
	heard := func(mode Mode) []float64 {
		players := make([]Stream, 4)
		players[0] = noise{rand.New(rand.NewPCG(7, 8))}
		r, err := New(Config{Rate: rate, Mode: mode, RT60: 0.5, Seats: seats, Seed: 9}, players)
		if err != nil {
			t.Fatal(err)
		}
		dst := make([][]float64, 4)
		for i := range dst {
			dst[i] = make([]float64, 2*rate)
		}
		r.Read(dst)
		var out []float64
		for _, x := range dst {
			sum := 0.0
			for _, v := range x[rate:] {
				sum += v * v
			}
			out = append(out, 10*math.Log10(sum))
		}
		return out
	}
	full, live := heard(Full), heard(Live)
	for i := range full {
		if d := live[i] - full[i]; math.Abs(d) > 3 {
			t.Errorf("microphone %d: live differs from full by %.1f dB", i, d)
		}
	}
	if full[0]-full[1] < 5 {
		t.Errorf("the neighbour hears only %.1f dB less", full[0]-full[1])
	}
}

func TestRefusals(t *testing.T) {
	seats := Rows([]int{2}, 1, 1, Point{4, 5, 0})
	two := []Stream{nil, nil}
	for name, c := range map[string]Config{
		"rate":    {Rate: 100, Seats: seats},
		"outside": {Rate: 16000, Seats: []Seat{seats[0], {Bell: Point{-1, 1, 1}, Mic: Point{1, 1, 1}}}},
		"mics":    {Rate: 16000, Seats: seats, Mics: make([]Mic, 1)},
		"RT60":    {Rate: 16000, Seats: seats, RT60: -1},
	} {
		if _, err := New(c, two); err == nil {
			t.Errorf("%s: accepted", name)
		}
	}
	if _, err := New(Config{Rate: 16000, Seats: seats}, two[:1]); err == nil {
		t.Error("one player on two seats: accepted")
	}
}

// BenchmarkLive is one second of twelve chairs hearing one another at 48 kHz.
func BenchmarkLive(b *testing.B) {
	var players []Stream
	for i := range 12 {
		players = append(players, noise{rand.New(rand.NewPCG(uint64(i), 1))})
	}
	mics := make([]Mic, 12)
	for i := range mics {
		mics[i] = Mic{HighPass: 150, PPM: 30, Noise: 1e-4}
	}
	r, err := New(Config{Rate: 48000, Mode: Live, RT60: 0.6, Seats: Arcs([]int{5, 7}, 2.5, 1.1, 1.3, Point{4.5, 4, 0}), Mics: mics}, players)
	if err != nil {
		b.Fatal(err)
	}
	dst := make([][]float64, 12)
	for i := range dst {
		dst[i] = make([]float64, 480)
	}
	b.ReportAllocs()
	for b.Loop() {
		for range 100 {
			r.Read(dst)
		}
	}
}
