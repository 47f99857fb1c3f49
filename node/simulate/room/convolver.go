package room

import (
	"math/rand/v2"

	"gonum.org/v1/gonum/dsp/fourier"
)

// convolver is the accurate room: every pair of player and microphone has its
// own response, applied by overlap-save convolution in uniform partitions
// (Gardner 1995, J. Audio Eng. Soc. 43:127).
type convolver struct {
	fft    *fourier.FFT
	parts  int
	resp   [][][]complex64 // [mic][player], parts spectra one after another
	spec   [][]complex128  // [player], a ring of the spectra of the last parts blocks
	at     int
	before [][]float64 // [player], two blocks
	sum    []complex128
	seq    []float64
}

// fullBlock is the block of the accurate room, where delay does not matter.
const fullBlock = 4096

func newConvolver(cfg Config) *convolver {
	const half = fullBlock + 1
	length := responseSamples(cfg)
	c := &convolver{
		fft:   fourier.NewFFT(2 * fullBlock),
		parts: (length + fullBlock - 1) / fullBlock,
		sum:   make([]complex128, half),
		seq:   make([]float64, 2*fullBlock),
	}
	for m, s := range cfg.Seats {
		var row [][]complex64
		for p, q := range cfg.Seats {
			rng := rand.New(rand.NewPCG(cfg.Seed, uint64(m)<<32|uint64(p)))
			row = append(row, c.spectra(impulse(cfg, q, s.Mic, length, rng)))
		}
		c.resp = append(c.resp, row)
	}
	for range cfg.Seats {
		c.spec = append(c.spec, make([]complex128, c.parts*half))
		c.before = append(c.before, make([]float64, 2*fullBlock))
	}
	return c
}

// spectra cuts a response into partitions.
func (c *convolver) spectra(h []float64) []complex64 {
	var out []complex64
	for i := range c.parts {
		clear(c.seq)
		copy(c.seq[:fullBlock], h[i*fullBlock:min(len(h), (i+1)*fullBlock)])
		for _, z := range c.fft.Coefficients(c.sum, c.seq) {
			out = append(out, complex64(z))
		}
	}
	return out
}

func (c *convolver) carry(in, out [][]float64) {
	half := fullBlock + 1
	for p, x := range in {
		b := c.before[p]
		copy(b, b[fullBlock:])
		copy(b[fullBlock:], x)
		c.fft.Coefficients(c.spec[p][c.at*half:(c.at+1)*half], b)
	}
	for m, y := range out {
		clear(c.sum)
		for p := range in {
			for i := range c.parts {
				old := (c.at - i + c.parts) % c.parts
				h := c.resp[m][p][i*half : (i+1)*half]
				x := c.spec[p][old*half : (old+1)*half]
				for j, v := range h {
					c.sum[j] += x[j] * complex128(v)
				}
			}
		}
		c.fft.Sequence(c.seq, c.sum)
		for n := range y {
			y[n] = c.seq[fullBlock+n] / (2 * fullBlock)
		}
	}
	c.at = (c.at + 1) % c.parts
}
