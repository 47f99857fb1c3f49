package intonation_test

import (
	"math"
	"strings"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/proto/pitch"
)

func TestVerdict(t *testing.T) {
	nan := pitch.Cents(math.NaN())
	tests := []struct {
		name                   string
		cents, ci, good, watch pitch.Cents
		want                   string
	}{
		{"centre", 0, 1, 5, 10, intonation.Set},
		{"edge of good", -5, 1, 5, 10, intonation.Set},
		{"just past good", 5.1, 1, 5, 10, intonation.Near},
		{"edge of watch", 10, 1, 5, 10, intonation.Near},
		{"past watch", -10.1, 1, 5, 10, intonation.Out},
		{"wide but surely out", 30, 15, 5, 10, intonation.Out},
		{"could be set or out", 7, 4, 5, 10, intonation.Doubt},
		{"wide around the centre", 0, 12, 5, 10, intonation.Doubt},
		{"school bands", 8, 3, 10, 20, intonation.Set},
		{"no bands means the defaults", 6, 1, 0, 0, intonation.Near},
		{"not a number", nan, 1, 5, 10, intonation.Doubt},
		{"no interval", 1, nan, 5, 10, intonation.Doubt},
		{"endless interval", 1, pitch.Cents(math.Inf(1)), 5, 10, intonation.Doubt},
	}
	for _, tt := range tests {
		if got := intonation.Verdict(tt.cents, tt.ci, tt.good, tt.watch); got != tt.want {
			t.Errorf("%s: %g ± %g cents in %g/%g is %q, want %q", tt.name, tt.cents, tt.ci, tt.good, tt.watch, got, tt.want)
		}
	}
}

func offsets(cents ...pitch.Cents) []intonation.Offset {
	out := make([]intonation.Offset, len(cents))
	for i, c := range cents {
		out[i] = intonation.Offset{Cents: c, CI95: 1.5}
	}
	return out
}

func TestCommon(t *testing.T) {
	tests := []struct {
		name   string
		in     []intonation.Offset
		offset float64
		within float64 // cents; the outlier's leverage that is still allowed
		asOne  bool
		words  string
	}{
		{"flat as one", offsets(-7, -5, -6, -6, -8, -5, -6), -6.1, 0.5, true, "the section is 6 cents flat as one"},
		{"one far out does not move the rest", offsets(-7, -5, -6, -6, -8, -5, 40), -6, 1.2, true, "flat as one"},
		{"two of twelve out", offsets(1, 0, -1, 2, -2, 1, 0, -1, 0, 1, 35, 40), 0.5, 1.5, false, "agrees with the reference"},
		{"scattered", offsets(-20, 15, -3, 18, 4, -17), 0, 3, false, "differ by about"},
		{"too few", offsets(8, 9), 8.5, 0.01, false, ""},
		{"nobody", nil, 0, 0, false, ""},
		{"not a number is left out", append(offsets(4, 4, 4), intonation.Offset{Cents: pitch.Cents(math.NaN())}), 4, 0.01, true, "4 cents sharp as one"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			got := intonation.Common(tt.in, 5)
			if math.Abs(float64(got.Offset)-tt.offset) > tt.within {
				t.Errorf("common offset %.2f cents, want %.2f within %.2f", got.Offset, tt.offset, tt.within)
			}
			if got.AsOne != tt.asOne {
				t.Errorf("as one is %v, want %v (%+v)", got.AsOne, tt.asOne, got)
			}
			if (tt.words == "") != (got.Words == "") || !strings.Contains(got.Words, tt.words) {
				t.Errorf("words %q, want %q", got.Words, tt.words)
			}
		})
	}
}

func TestCommonTrustsTightReadings(t *testing.T) {
	in := []intonation.Offset{{Cents: 0, CI95: 1}, {Cents: 0, CI95: 1}, {Cents: 6, CI95: 30}, {Cents: 6, CI95: 30}}
	if got := intonation.Common(in, 5).Offset; got > 1 {
		t.Errorf("two tight readings at 0 and two doubtful ones at 6 give %.2f cents, want under 1", got)
	}
}
