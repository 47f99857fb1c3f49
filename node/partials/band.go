package partials

import (
	"math"

	"bellrow/proto/track"
)

// band is the neighbourhood of one multiple of the reference.
type band struct {
	k      int
	step   int       // samples between frames
	cycles float64   // k times the reference, in cycles per sample
	window []float64 // Hann, scaled so that a sine of amplitude 1 gives 1
	rotor  []complex128
	power  float64 // latest power, for choosing
}

// makeBands lists the multiples that can be sent at this rate. Around a grid,
// a reference so low that its multiples are no partials of anything, multiples
// that would only send the same sound again are left out.
func makeBands(rate, reference float64, chunk int) []band {
	top := min(topHertz, 0.45*rate)
	grid := reference < gridBelow
	var bands []band
	last := 0.0 // the highest frequency that the bands so far hold well
	for k := 1; float64(k)*reference <= top && k <= track.MaxK; k++ {
		f := float64(k) * reference
		half := max(keepHertz, f*(math.Exp2(keepCents/1200.0)-1))
		if grid && f+reference-gridHold*half <= last {
			continue // the next one will do
		}
		bands = append(bands, newBand(k, f/rate, half/rate, chunk))
		last = f + gridHold*half
	}
	return bands
}

// newBand makes a band that keeps half cycles per sample on either side. A
// Hann window of L samples has its first null 2/L from its centre; L = 2/(1.6
// half) puts the null at 1.6 half. The response is down by 4 dB at two thirds of
// half and by 10 dB at half; the frame rate of 2.4 half folds back inside half
// only what lies beyond 1.4 half, 24 dB down and falling.
func newBand(k int, cycles, half float64, chunk int) band {
	length := int(math.Ceil(2/(1.6*half))) | 1
	b := band{k: k, cycles: cycles, window: make([]float64, length), rotor: make([]complex128, length)}
	sum := 0.0
	for i := range b.window {
		b.window[i] = 1 + math.Cos(2*math.Pi*float64(i-length/2)/float64(length))
		sum += b.window[i]
	}
	for i := range b.window {
		b.window[i] *= 2 / sum
		s, c := math.Sincos(-2 * math.Pi * cycles * float64(i-length/2))
		b.rotor[i] = complex(b.window[i]*c, b.window[i]*s)
	}
	b.step = largestStep(1/(2.4*half), chunk)
	return b
}

// largestStep returns the largest divisor of chunk that is at most limit, and 1
// if there is none.
func largestStep(limit float64, chunk int) int {
	for n := 1; n <= chunk; n++ {
		if chunk%n == 0 && float64(chunk/n) <= limit {
			return chunk / n
		}
	}
	return 1
}

// at returns the frame centred on sample n, with its phase counted from sample 0.
func (b *band) at(ring []float64, n int64) complex128 {
	size := len(ring)
	i := int((n - int64(len(b.rotor)/2)) % int64(size))
	if i < 0 {
		i += size
	}
	first := min(len(b.rotor), size-i)
	sum := dot(b.rotor[:first], ring[i:i+first]) + dot(b.rotor[first:], ring[:len(b.rotor)-first])
	_, turn := math.Modf(b.cycles * float64(n))
	s, c := math.Sincos(-2 * math.Pi * turn)
	return sum * complex(c, s)
}

func dot(r []complex128, x []float64) complex128 {
	var re, im float64
	for i, v := range x {
		re += real(r[i]) * v
		im += imag(r[i]) * v
	}
	return complex(re, im)
}
