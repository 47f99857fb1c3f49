package pitch

import (
	"math"
	"testing"
)

func close(a, b, tol float64) bool { return math.Abs(a-b) <= tol }

// Frequencies of the note table of Michigan Technological University, as copied
// at auditoryneuroscience.com, and of the CRC Handbook, section 14.
func TestFrequencyOfPublishedNotes(t *testing.T) {
	const tol = 0.01 // Hz; the tables have two decimals
	for name, want := range map[string]float64{
		"A4": 440.00, "Bb2": 116.54, "Bb1": 58.27, "F1": 43.65, "Eb1": 38.89,
		"C1": 32.70, "Bb3": 233.08, "F4": 349.23, "Bb0": 29.14, "F3": 174.61, "Bb4": 466.16,
	} {
		n, err := ParseNote(name)
		if err != nil {
			t.Fatal(err)
		}
		if got := (Reference{}).Frequency(n); !close(float64(got), want, tol) {
			t.Errorf("%s is %.4f Hz, want %.2f", name, float64(got), want)
		}
	}
	// The tolerance can fail: a reference of 440.1 Hz is seen.
	if close(float64(Reference{A4: 440.1}.Frequency(A4)), 440, tol) {
		t.Error("a reference of 440.1 Hz passes as 440")
	}
}

func TestRatioOffsets(t *testing.T) {
	for _, c := range []struct {
		r         Ratio
		semitones int
		want      float64 // arithmetic, three decimals
		published float64 // chord charts of just intonation (K. Truitt, Juneau Symphony; J. Boldin 2010); NaN = none
	}{
		{Ratio{5, 4}, 4, -13.686, -14},
		{Ratio{6, 5}, 3, 15.641, 16},
		{Ratio{3, 2}, 7, 1.955, 2},
		{Ratio{7, 4}, 10, -31.174, -31},
		{Ratio{16, 9}, 10, -3.910, math.NaN()},
		{Ratio{7, 5}, 6, -17.488, -17},
		{Ratio{15, 8}, 11, -11.731, -12},
		{Ratio{5, 3}, 9, -15.641, -16},
		{Ratio{9, 5}, 10, 17.596, 18},
		{Ratio{11, 8}, 6, -48.682, math.NaN()}, // the 11th harmonic against its nearest note
		{Ratio{13, 8}, 8, 40.528, math.NaN()},  // the 13th
		{Ratio{19, 12}, 8, -4.442, -4},
		{Ratio{9, 8}, 2, 3.910, 4},
	} {
		got := float64(c.r.Offset(c.semitones))
		if !close(got, c.want, 0.001) {
			t.Errorf("%v against %d semitones is %.4f cents, want %.3f", c.r, c.semitones, got, c.want)
		}
		if !math.IsNaN(c.published) && math.Round(got) != c.published {
			t.Errorf("%v rounds to %.0f, published %.0f", c.r, math.Round(got), c.published)
		}
	}
	if got := (Ratio{5, 4}).Cents(); !close(float64(got), 386.314, 0.001) {
		t.Errorf("5/4 is %.4f cents, want 386.314", float64(got))
	}
	if (Ratio{0, 4}).Cents() != 0 || (Ratio{3, -2}).Cents() != 0 {
		t.Error("a ratio that makes no sense has a size")
	}
	if got := (Ratio{3, 2}).String(); got != "3/2" {
		t.Errorf("3/2 is written %q", got)
	}
}

func TestBeats(t *testing.T) {
	ref := Reference{}
	for _, c := range []struct {
		low, high string
		r         Ratio
		want, tol float64
	}{
		{"C3", "E3", Ratio{5, 4}, 5.19, 0.05},  // about 5.2: historicaltuning.com, Beats of Harmonics
		{"F3", "A3", Ratio{5, 4}, 6.93, 0.05},  // 6.9: J Neurosci 32(35):12251, 2012, Table 1
		{"C4", "E4", Ratio{5, 4}, 10.38, 0.05}, // 10.4: the same
		{"F3", "C4", Ratio{3, 2}, 0.59, 0.05},  // 0.6: the same
		{"F3", "Bb3", Ratio{4, 3}, 0.79, 0.05}, // 0.8: the same
		{"F3", "D4", Ratio{5, 3}, 7.92, 0.05},  // 7.9: the same
		{"F3", "Ab3", Ratio{6, 5}, 9.42, 0.05}, // 9.4: the same
	} {
		low, _ := ParseNote(c.low)
		high, _ := ParseNote(c.high)
		if got := c.r.Beat(ref.Frequency(low), ref.Frequency(high)); !close(got, c.want, c.tol) {
			t.Errorf("%s-%s beat at %.3f Hz, want %.2f", c.low, c.high, got, c.want)
		}
	}
	bb3 := ref.Frequency(58)
	if got := (Ratio{1, 1}).Beat(bb3, bb3.Shift(5)); !close(got, 0.674, 0.002) { // arithmetic
		t.Errorf("Bb3 and 5 cents more beat at %.4f Hz, want 0.674", got)
	}
}

func TestBetween(t *testing.T) {
	for _, c := range []struct {
		name      string
		a, b      Hertz
		want, tol float64
	}{
		{"an octave is exact", 233.08, 466.16, 1200, 0},
		{"nothing is exact", 440, 440, 0, 0},
		{"half a hertz at A4 (Gazzetta Ufficiale 12 May 1989, art. 3: reference devices)", 440, 440.5, 1.966, 0.001},
		{"old pitch to standard pitch", 435, 440, 19.786, 0.001},
		{"0.18 % (D. Sipe, Temperature and Intonation)", 1, 1.0018, 3.113, 0.002},
		{"1.1 % above the bore resonance (Boutin et al., JASA 137:1195, 2015)", 1, 1.011, 18.94, 0.01},
	} {
		if got := Between(c.a, c.b); !close(float64(got), c.want, c.tol) {
			t.Errorf("%s: %.4f cents, want %.3f", c.name, float64(got), c.want)
		}
		if got := Between(c.b, c.a); !close(float64(got), -c.want, c.tol) {
			t.Errorf("%s, downwards: %.4f cents, want %.3f", c.name, float64(got), -c.want)
		}
	}
}

func TestNothingBecomesNaN(t *testing.T) {
	nan, inf := Hertz(math.NaN()), Hertz(math.Inf(1))
	for _, h := range []Hertz{nan, inf, -inf, 0, -440} {
		if h.Valid() {
			t.Errorf("%v is valid", h)
		}
		if got := Between(h, 440); got != 0 {
			t.Errorf("between %v and 440 Hz lie %v cents", h, got)
		}
		if n, c := (Reference{}).Nearest(h); n != 0 || c != 0 {
			t.Errorf("nearest to %v is %v %v", h, n, c)
		}
	}
	if got := LevelOf(math.NaN()); got != Silence {
		t.Errorf("level of NaN is %v", got)
	}
	if got := LevelOf(0); got != Silence {
		t.Errorf("level of nothing is %v", got)
	}
}

// AES17 sets 0 dBFS at the RMS of a full-scale sine (from memory).
func TestLevelOfFullScaleSine(t *testing.T) {
	if got := LevelOf(1 / math.Sqrt2); !close(float64(got), 0, 1e-12) {
		t.Errorf("a full-scale sine is at %v dBFS, want 0", got)
	}
	if got := LevelOf(0.5 / math.Sqrt2); !close(float64(got), -6.0206, 1e-4) {
		t.Errorf("half of it is at %v dBFS, want -6.02", got)
	}
}

func TestShiftAndBetweenUndoEachOther(t *testing.T) {
	for _, x := range []Cents{-4800, -100, -0.1, 0, 0.1, 50, 1200} {
		if got := Between(116.54, Hertz(116.54).Shift(x)); !close(float64(got), float64(x), 1e-9) {
			t.Errorf("shifted by %v, found %v", x, got)
		}
	}
}

func TestNearestFindsEveryNote(t *testing.T) {
	for _, a4 := range []Hertz{438, 440, 443} {
		r := Reference{A4: a4}
		for n := MinNote; n <= MaxNote; n++ {
			for _, x := range []Cents{-49, 0, 49} {
				got, c := r.Nearest(r.Frequency(n).Shift(x))
				if got != n || !close(float64(c), float64(x), 1e-6) {
					t.Fatalf("A4 %v: %v %+v is found as %v %+v", a4, n, x, got, c)
				}
			}
		}
	}
}

func TestNewReference(t *testing.T) {
	if r, err := NewReference(442); err != nil || r.A4 != 442 {
		t.Errorf("442 Hz: %v %v", r, err)
	}
	for _, bad := range []Hertz{0, 389, 481, -440, Hertz(math.NaN()), Hertz(math.Inf(1))} {
		if _, err := NewReference(bad); err == nil {
			t.Errorf("%v Hz is taken as a reference", bad)
		}
	}
	// ISO 16:1975: the zero reference is the standard one.
	if got := (Reference{}).Frequency(A4); got != 440 {
		t.Errorf("standard A4 is %v", got)
	}
}

func TestCentsInWords(t *testing.T) {
	for _, c := range []struct {
		cents     Cents
		size, off string
	}{
		{0.4, "0 cents", "in tune"}, {-0.4, "0 cents", "in tune"}, {0.6, "1 cent", "1 cent sharp"},
		{-1.2, "1 cent", "1 cent flat"}, {14.5, "15 cents", "15 cents sharp"}, {-30, "30 cents", "30 cents flat"},
	} {
		if c.cents.Size() != c.size || c.cents.Off() != c.off {
			t.Errorf("%g: %q and %q, want %q and %q", float64(c.cents), c.cents.Size(), c.cents.Off(), c.size, c.off)
		}
	}
}
