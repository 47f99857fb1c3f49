package capture

import (
	"errors"
	"io"
	"math"
	"sync"
	"testing"
)

// ramp returns n samples that tell their own index, from first on. Every
// value is exact in float32.
func ramp(first, n int) []float32 {
	s := make([]float32, n)
	for i := range s {
		s[i] = float32((first+i)%4096) / 4096
	}
	return s
}

func TestRingSaysWhereSamplesWereLost(t *testing.T) {
	r := NewRing(2 * slotSamples)
	r.Put(ramp(0, 3*slotSamples+10)) // two slots fit, the rest is dropped
	r.Fail(io.EOF)
	for i := range 2 {
		b, err := r.Read(t.Context())
		if err != nil || b.First != int64(i*slotSamples) || b.Lost != 0 {
			t.Fatalf("block %d: first %d, lost %d, error %v", i, b.First, b.Lost, err)
		}
	}
	if got, want := r.Lost(), int64(slotSamples+10); got != want {
		t.Errorf("lost %d, want %d", got, want)
	}
	r.Put(ramp(0, 5))
	r.Skip(7)
	r.Put(ramp(0, 5))
	for i, want := range []Block{
		{First: 3*slotSamples + 10, Lost: slotSamples + 10},
		{First: 3*slotSamples + 22, Lost: 7},
	} {
		b, err := r.Read(t.Context())
		if err != nil || b.First != want.First || b.Lost != want.Lost || len(b.Samples) != 5 {
			t.Errorf("block %d after the loss: first %d, lost %d, %d samples, error %v; want %d, %d, 5",
				i, b.First, b.Lost, len(b.Samples), err, want.First, want.Lost)
		}
	}
	if _, err := r.Read(t.Context()); err != io.EOF {
		t.Errorf("end: error %v, want io.EOF", err)
	}
}

func TestRingKeepsTheFirstEnd(t *testing.T) {
	r := NewRing(1)
	lost := errors.New("lost")
	r.Fail(lost)
	r.Fail(io.EOF)
	if _, err := r.Read(t.Context()); err != lost {
		t.Errorf("error %v, want %v", err, lost)
	}
}

func TestRingCleans(t *testing.T) {
	r := NewRing(1)
	r.Put([]float32{float32(math.NaN()), float32(math.Inf(1)), 1.5, -2, 0.25})
	b, err := r.Read(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []float64{0, 0, 1, -1, 0.25} {
		if b.Samples[i] != want {
			t.Errorf("sample %d: %g, want %g", i, b.Samples[i], want)
		}
	}
}

// TestRingBetweenTwo lets a producer and a reader run against each other;
// with -race it also checks their ordering. Every sample read must be the one
// its index promises, and read plus lost must be all that was put.
func TestRingBetweenTwo(t *testing.T) {
	r := NewRing(8 * slotSamples)
	const total = 1 << 20
	sizes := []int{480, 128, 1, 12, 417, 2048}
	var wg sync.WaitGroup
	wg.Go(func() {
		for at, i := 0, 0; at < total; i++ {
			n := min(sizes[i%len(sizes)], total-at)
			r.Put(ramp(at, n))
			at += n
		}
		r.Fail(io.EOF)
	})
	var read, next int64
	for {
		b, err := r.Read(t.Context())
		if err == io.EOF {
			break
		}
		if b.First != next+b.Lost {
			t.Fatalf("block at %d with %d lost, want %d plus the lost", b.First, b.Lost, next)
		}
		for i, x := range b.Samples {
			if want := float64((b.First+int64(i))%4096) / 4096; x != want {
				t.Fatalf("sample %d is %g, want %g", b.First+int64(i), x, want)
			}
		}
		read += int64(len(b.Samples))
		next = b.First + int64(len(b.Samples))
	}
	wg.Wait()
	if read+r.Lost() != total || r.Count() != total {
		t.Errorf("read %d, lost %d, counted %d, want %d in all", read, r.Lost(), r.Count(), total)
	}
}

// BenchmarkRing is the cost of one 10 ms callback and its reading: the
// callback has 10 ms, so the time over 10 ms is its share of one core.
func BenchmarkRing(b *testing.B) {
	r := NewRing(1 << 16)
	block := ramp(0, 480)
	b.ReportAllocs()
	for b.Loop() {
		r.Put(block)
		if _, err := r.Read(b.Context()); err != nil {
			b.Fatal(err)
		}
	}
}
