package listen

import (
	"math"
	"slices"
	"testing"

	"bellrow/node/capture"
	"bellrow/proto/pitch"
	"bellrow/testdata/notes"
)

// The woodwind programs of General MIDI level 1, and notes over each one's range:
// lowest octave, middle, where a clarinet changes register, high.
var winds = []struct {
	name    string
	program notes.Program
	midi    []int
}{
	{"piccolo", 72, []int{74, 81, 89, 96}}, {"flute", 73, []int{60, 70, 82, 89, 94}}, {"oboe", 68, []int{60, 70, 77}}, {"english horn", 69, []int{53, 65}},
	{"bassoon", 70, []int{36, 46, 58}}, {"clarinet", 71, []int{50, 58, 70, 82}}, {"soprano saxophone", 64, []int{58, 70}},
	{"alto saxophone", 65, []int{51, 65}}, {"tenor saxophone", 66, []int{46, 58}}, {"baritone saxophone", 67, []int{39, 53}},
}

// uncalled is the lowest note that is found without a call.
const uncalled = 86

// fontsOff is how far the sampled instruments of the fonts may be off their
// note, in cents: less than a quarter tone, far less than an octave.
const fontsOff = 40

// TestWoodwindsOfFonts: rendered notes of each, as they are called, and the highest
// without a call. None is
// taken for another note or octave, and the most of them are read: what is not has
// a vibrato or a pitch that moves. A reading lies where the winding of its
// strongest partial puts it, counted without this project's estimator.
func TestWoodwindsOfFonts(t *testing.T) {
	if testing.Short() {
		t.Skip("renders 58 notes")
	}
	read, all := 0, 0
	for _, font := range []notes.Font{notes.Fluid, notes.TimGM} {
		for _, w := range winds {
			for _, midi := range w.midi {
				all++
				x := recorded(t, notes.Render(t, font, w.program, midi, 1.6))
				hz := pitch.Reference{}.Frequency(pitch.Note(midi))
				l := newListener(t)
				if midi < uncalled {
					l.Call(hz)
				}
				r := last(l, x)
				if r == nil || r.Hz == 0 {
					t.Logf("%s %d of %s: nothing read", w.name, midi, font)
					continue
				}
				if off := float64(pitch.Between(hz, r.Hz)); math.Abs(off) > fontsOff {
					t.Errorf("%s %d of %s is read at %.2f Hz, %+.0f cents off", w.name, midi, font, float64(r.Hz), off)
					continue
				}
				if !r.Settled {
					t.Logf("%s %d of %s: %s", w.name, midi, font, r.Reason)
					continue
				}
				read++
				wound := winding(x[r.Start:r.End], float64(hz))
				if off := math.Abs(float64(pitch.Between(pitch.Hertz(wound), r.Hz))); off > float64(r.CI95)+1 {
					t.Errorf("%s %d of %s: %.3f Hz ±%.1f cents, the winding says %.3f, %.1f cents away", w.name, midi, font, float64(r.Hz), float64(r.CI95), wound, off)
				}
			}
		}
	}
	t.Logf("%d of %d read", read, all)
	if read*10 < all*7 {
		t.Errorf("%d of %d rendered notes are read, want 7 in 10", read, all)
	}
}

// TestSpectraOfWoodwinds: a cylinder closed at one end has next to no even
// partials in its low register (A. H. Benade, Fundamentals of Musical Acoustics,
// 1976, ch. 21: from memory), a flute blows noise beside few partials. Both are read
// in the right octave and to the cent, called or not.
func TestSpectraOfWoodwinds(t *testing.T) {
	for _, c := range []struct {
		name       string
		hz         float64
		amplitudes []float64
		breath     pitch.Level
	}{
		{"clarinet, low", 146.83, []float64{1, 0.01, 0.6, 0.02, 0.4, 0.03, 0.2, 0.05, 0.1}, -60},
		{"clarinet, no even ones at all", 196.3, []float64{1, 0, 0.7, 0, 0.5, 0, 0.25, 0, 0.1}, -60},
		{"clarinet, third partial above the first", 233.9, []float64{0.5, 0.01, 1, 0.02, 0.6, 0.02, 0.3}, -60},
		{"bass clarinet", 77.9, []float64{1, 0.02, 0.8, 0.02, 0.6, 0.05, 0.4, 0.05, 0.3, 0.1, 0.2}, -60},
		{"flute, breathy", 467.2, []float64{1, 0.4, 0.1, 0.03}, -40},
		{"flute, nearly a pure tone", 881.1, []float64{1, 0.05, 0.01}, -44},
		{"flute, high", 1760.9, []float64{1, 0.1, 0.02}, -50},
		{"piccolo, high, second partial above the first", 2793, []float64{0.6, 1, 0.1}, -50},
		{"piccolo, at the top", 4180, []float64{1, 0.1}, -50},
		{"flute, low, second partial above the first", 294.4, []float64{0.6, 1, 0.3, 0.1}, -44},
		{"bassoon, first partial weak", 116.9, []float64{0.1, 0.5, 1, 0.9, 0.7, 0.4, 0.2, 0.1}, -60},
	} {
		x := additive(c.hz, c.amplitudes, 1.5)
		x = join(hiss(0.4, -66, 3), under(x, hiss(1.5, c.breath, 5)), hiss(0.5, -66, 7))
		for _, called := range []bool{false, true} {
			l := newListener(t)
			if called {
				l.Call(pitch.Hertz(c.hz))
			}
			r := last(l, x)
			if r == nil || !r.Settled {
				t.Errorf("%s, called %v: %+v", c.name, called, r)
				continue
			}
			if off := float64(pitch.Between(pitch.Hertz(c.hz), r.Hz)); math.Abs(off) > 1 || math.Abs(off) > float64(r.CI95)+0.1 {
				t.Errorf("%s, called %v: %.3f Hz, %+.2f cents off, said to be known within %.2f", c.name, called, float64(r.Hz), off, float64(r.CI95))
			}
		}
	}
}

// additive is a steady tone of partials with soft ends.
func additive(hz float64, amplitudes []float64, seconds float64) sound {
	s := silence(seconds)
	for k, a := range amplitudes {
		for i := range s {
			s[i] += 0.05 * a * math.Sin(2*math.Pi*hz*float64(k+1)*float64(i)/testRate+float64(k*k))
		}
	}
	for i := range s {
		s[i] *= min(1, float64(i)/(0.03*testRate), float64(len(s)-i)/(0.05*testRate))
	}
	return s
}

// winding is the mean frequency of a sound near a multiple of hz: the strongest
// of the first four partials is turned down to zero, smoothed over two periods of
// the lowest, and the turns that its phase makes are counted.
func winding(x []float64, hz float64) float64 {
	best, strongest := 0.0, -1.0
	for k := 1.0; k <= 4; k++ {
		if f, power := wound(x, k*hz, hz); power > strongest {
			best, strongest = f/k, power
		}
	}
	return best
}

// wound turns x down by f and counts what is left over.
func wound(x []float64, f, hz float64) (float64, float64) {
	n := int(2 * testRate / hz)
	var re, im, turns, power, before float64
	have := false
	ring := make([][2]float64, n)
	for i, v := range x {
		p := -2 * math.Pi * f * float64(i) / testRate
		c, s := v*math.Cos(p), v*math.Sin(p)
		re, im = re+c-ring[i%n][0], im+s-ring[i%n][1]
		ring[i%n] = [2]float64{c, s}
		if i < n {
			continue
		}
		phase := math.Atan2(im, re)
		if have {
			d := phase - before
			turns += (d - 2*math.Pi*math.Round(d/(2*math.Pi))) / (2 * math.Pi)
		}
		before, have = phase, true
		power += re*re + im*im
	}
	return f + turns*testRate/float64(len(x)-n-1), power
}

// recorded reads a rendered file.
func recorded(t *testing.T, path string) []float64 {
	t.Helper()
	src, err := capture.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	var x []float64
	for {
		b, err := src.Read(t.Context())
		x = append(x, b.Samples...)
		if err != nil {
			return x
		}
	}
}

func newListener(t *testing.T) *Listener {
	t.Helper()
	l, err := New(Config{Rate: testRate, ClockPPM: -1})
	if err != nil {
		t.Fatal(err)
	}
	return l
}

// last is the longest note's reading.
func last(l *Listener, x []float64) (best *Reading) {
	es := l.Write(x)
	for _, e := range slices.Concat(es, l.Flush()) {
		if e.Reading != nil && (best == nil || e.Reading.End-e.Reading.Start > best.End-best.Start) {
			best = e.Reading
		}
	}
	return best
}
