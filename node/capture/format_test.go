package capture_test

import (
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"bellrow/node/capture"
	"bellrow/node/capture/capturetest"
)

// reference returns the samples as SoX 14.4.2 printed them (testdata/README.md).
func reference(t testing.TB, gain float64) []float64 {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("testdata", "format", "reference.txt"))
	if err != nil {
		t.Fatal(err)
	}
	var want []float64
	for _, f := range strings.Fields(string(text)) {
		x, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		want = append(want, gain*x)
	}
	return want
}

func TestFormats(t *testing.T) {
	const printed = 1e-10 // SoX prints eleven digits
	for _, tt := range []struct {
		file string
		gain float64
		step float64 // largest rounding of one sample: half a step of the format
	}{
		{"u8.wav", 1, 1.0 / (1 << 8)},
		{"s16.wav", 1, 1.0 / (1 << 16)},
		{"s16_stereo.wav", 0.75, 1.0 / (1 << 16)},
		{"s24.wav", 1, 1.0 / (1 << 24)},
		{"s32.wav", 1, 1.0 / (1 << 32)},
		{"f32.wav", 1, 1.0 / (1 << 24)},
		{"f64.wav", 1, 0},
		{"s16.flac", 1, 1.0 / (1 << 16)},
		{"s24_stereo.flac", 0.75, 1.0 / (1 << 24)},
	} {
		t.Run(tt.file, func(t *testing.T) {
			capturetest.Run(t, capturetest.Subject{
				Open: func(t testing.TB) capture.Source {
					src, err := capture.Open(filepath.Join("testdata", "format", tt.file))
					if err != nil {
						t.Fatal(err)
					}
					if got := src.Info().Rate; got != 44100 {
						t.Errorf("rate %g Hz, want 44100", got)
					}
					return src
				},
				Want:      reference(t, tt.gain),
				Tolerance: tt.step + printed,
			})
		})
	}
}
