package capture

import (
	"bytes"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"testing"
)

// stereoFile is a WAV file of 16 bit frames of two channels (RIFF WAVE,
// Microsoft and IBM 1991).
func stereoFile(left, right []float64) []byte {
	var b bytes.Buffer
	put := func(vs ...any) {
		for _, v := range vs {
			binary.Write(&b, binary.LittleEndian, v) // a bytes.Buffer does not fail
		}
	}
	size := uint32(4 * len(left))
	put([]byte("RIFF"), 36+size, []byte("WAVEfmt "), uint32(16), uint16(1), uint16(2), uint32(48000), uint32(4*48000), uint16(4), uint16(16), []byte("data"), size)
	for i := range left {
		put(int16(math.Round(32767*left[i])), int16(math.Round(32767*right[i])))
	}
	return b.Bytes()
}

// TestDownmix: the mean of both channels, also where one is dead, and the first
// where they cancel.
func TestDownmix(t *testing.T) {
	const n = 24000
	x, delayed, other := make([]float64, n), make([]float64, n), make([]float64, n)
	for i := range x {
		x[i] = 0.4*math.Sin(float64(i)*0.03) + 0.1*math.Sin(float64(i)*0.09)
		delayed[i] = 0.4*math.Sin(float64(i-11)*0.03) + 0.1*math.Sin(float64(i-11)*0.09) // 8 cm on
		other[i] = 0.3 * math.Sin(float64(i)*0.041)
	}
	times := func(k float64, y []float64) []float64 {
		out := make([]float64, len(y))
		for i := range y {
			out[i] = k * y[i]
		}
		return out
	}
	mean := func(a, b []float64) []float64 {
		out := make([]float64, len(a))
		for i := range a {
			out[i] = (a[i] + b[i]) / 2
		}
		return out
	}
	silence := make([]float64, n)
	for _, tt := range []struct {
		name        string
		right, want []float64
	}{
		{"the same", x, x},
		{"another sound", other, mean(x, other)},
		{"dead", silence, times(0.5, x)},
		{"inverted", times(-1, x), x},
		{"inverted, a little weaker", times(-0.99, x), x},
		{"inverted, of another microphone", times(-1, delayed), mean(x, times(-1, delayed))},
		{"inverted and half as strong", times(-0.5, x), times(0.25, x)},
	} {
		t.Run(tt.name, func(t *testing.T) {
			src, err := NewWAV(bytes.NewReader(stereoFile(x, tt.right)), "stereo")
			if err != nil {
				t.Fatal(err)
			}
			i := 0
			for {
				b, err := src.Read(t.Context())
				if errors.Is(err, io.EOF) {
					break
				}
				if err != nil {
					t.Fatal(err)
				}
				for _, v := range b.Samples {
					if math.Abs(v-tt.want[i]) > 1e-4 { // two roundings to 16 bit
						t.Fatalf("frame %d: %.5f, want %.5f", i, v, tt.want[i])
					}
					i++
				}
			}
		})
	}
}
