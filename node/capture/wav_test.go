package capture

import (
	"bytes"
	"errors"
	"io"
	"math"
	"testing"
)

func TestWriteWAVComesBack(t *testing.T) {
	in := make([]float64, 2500)
	for i := range in {
		in[i] = 0.9 * math.Sin(2*math.Pi*440*float64(i)/48000)
	}
	var buf bytes.Buffer
	if err := WriteWAV(&buf, in, 48000); err != nil {
		t.Fatal(err)
	}
	w, err := NewWAV(&buf, "tone")
	if err != nil {
		t.Fatal(err)
	}
	if got := w.Info().Rate; got != 48000 {
		t.Errorf("rate %g, want 48000", got)
	}
	var out []float64
	for {
		b, err := w.Read(t.Context())
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		out = append(out, b.Samples...)
	}
	if len(out) != len(in) {
		t.Fatalf("%d samples, want %d", len(out), len(in))
	}
	const step = 1.0 / (1 << 24) // half a 24 bit step
	for i := range in {
		if math.Abs(in[i]-out[i]) > step {
			t.Fatalf("sample %d: %g, want %g", i, out[i], in[i])
		}
	}
}
