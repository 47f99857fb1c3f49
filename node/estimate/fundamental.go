package estimate

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"

	"bellrow/proto/pitch"
)

const (
	// spectrumSeconds is the length of the windows whose power is averaged.
	spectrumSeconds = 0.34
	// rootOf is the power to which the power spectrum is raised.
	rootOf = 0.05
	// firstPeaks and lastPartial: a candidate is one of so many strongest lines
	// over one of so many numbers.
	firstPeaks, lastPartial = 3, 40
	// nearRoot is the power to which the power at the partials is raised near a
	// pitch that is known: hum counts for little more than a weak partial.
	nearRoot = 0.1
	// oddReach is how far from its place, as a share, a partial is sought.
	oddReach = 0.01
	// nearBest is how high the highest candidate must stand against the best.
	nearBest = 0.85
	// faintestLine is the share of the strongest line's power that is added
	// everywhere: what is fainter than -70 dB is the window's.
	faintestLine = 1e-7
	// lowestLine and highestLine bound the spectrum that is looked at, in Hz.
	lowestLine, highestLine = 20.0, 5000.0
)

// lines is the mean power spectrum of a stretch.
type lineSpectrum struct {
	binHz float64
	power []float64
	root  []float64 // power^rootOf less its mean
}

// spectrumOf looks at seconds [from, to) of s through Hann windows that overlap
// by half and takes the median of each line's power: what comes and goes, as
// speech and drums do, is not in it.
func (s *sound) spectrumOf(from, to float64) lineSpectrum {
	n := smooth(int(spectrumSeconds * s.rate))
	a, b := int(from*s.rate), min(int(to*s.rate), len(s.x))
	l := lineSpectrum{binHz: s.rate / float64(2*n), power: make([]float64, min(n+1, int(highestLine/s.rate*float64(2*n))))}
	fft := fourier.NewFFT(2 * n)
	buffer, out := make([]float64, 2*n), make([]complex128, n+1)
	var windows [][]float64
	for at := a; at == a || at+n <= b; at += n / 2 {
		clear(buffer)
		for i := range min(n, len(s.x)-at) {
			buffer[i] = s.x[at+i] * (0.5 - 0.5*math.Cos(2*math.Pi*(float64(i)+0.5)/float64(n)))
		}
		fft.Coefficients(out, buffer)
		window := make([]float64, len(l.power))
		for i := range window {
			window[i] = power(out[i])
		}
		windows = append(windows, window)
	}
	line := make([]float64, len(windows))
	for i := range l.power {
		for w, window := range windows {
			line[w] = window[i]
		}
		l.power[i] = pitch.Median(line)
	}
	return l.rooted()
}

func (l lineSpectrum) rooted() lineSpectrum {
	lo, hi := int(lowestLine/l.binHz), len(l.power)
	l.root = make([]float64, hi)
	mean, least := 0.0, faintestLine*floats.Max(l.power)+1e-300
	for i := lo; i < hi; i++ {
		l.root[i] = math.Pow(l.power[i]+least, rootOf)
		mean += l.root[i] / float64(hi-lo)
	}
	for i := lo; i < hi; i++ {
		l.root[i] -= mean
	}
	return l
}

// match is the autocorrelation of the rooted spectrum's sound at the period of
// f: how much of a comb of spacing f there is.
func (l lineSpectrum) match(f float64) float64 {
	sum := 0.0
	// cos by recurrence
	w := 2 * math.Pi * l.binHz / f
	c, p, q := 2*math.Cos(w), 1.0, math.Cos(w)
	for _, v := range l.root {
		sum += v * p
		p, q = q, c*q-p
	}
	return sum
}

// peaks returns the strongest lines in Hz.
func (l lineSpectrum) peaks() []float64 {
	var all []int
	for i := max(2, int(lowestLine/l.binHz)); i < len(l.power)-1; i++ {
		if v := l.power[i]; v > l.power[i-1] && v >= l.power[i+1] {
			all = append(all, i)
		}
	}
	slices.SortFunc(all, func(a, b int) int { return cmp.Compare(l.power[b], l.power[a]) })
	var out []float64
	for _, i := range all[:min(firstPeaks, len(all))] {
		log := func(i int) float64 { return math.Log(l.power[i] + 1e-30) }
		out = append(out, (float64(i)+peakOffset(log(i-1), log(i), log(i+1)))*l.binHz)
	}
	return out
}

// fundamental returns the pitch that the spectrum alone shows.
func (l lineSpectrum) fundamental() (hz float64, ok bool) {
	matches, best := map[float64]float64{}, 0.0
	for _, p := range l.peaks() {
		for m := 1; m <= lastPartial; m++ {
			if f := p / float64(m); f >= MinHz && f <= MaxHz {
				matches[f] = l.match(f)
				best = max(best, matches[f])
			}
		}
	}
	for f, match := range matches {
		if match >= nearBest*best {
			hz = max(hz, f)
		}
	}
	return hz, best > 0 && hz > 0
}

// near returns the pitch within cents of hz whose partials hold most, each
// counted by the fourth root of its power.
func (l lineSpectrum) near(hz, cents float64) float64 {
	best, pick := -1.0, hz
	for c := -cents; c <= cents; c += 2 {
		f := hz * math.Exp2(c/1200)
		sum := 0.0
		for k := 1; k <= 16 && float64(k)*f < min(4200, highestLine); k++ {
			at := float64(k) * f / l.binHz
			i := int(at)
			if i+1 >= len(l.power) {
				break
			}
			v := l.power[i] + (at-float64(i))*(l.power[i+1]-l.power[i])
			sum += math.Pow(v, nearRoot)
		}
		if sum > best {
			best, pick = sum, f
		}
	}
	return pick
}

// held is the power at the even and at the odd partials of hz.
func (l lineSpectrum) held(hz float64) (even, odd float64) {
	var sums [2]float64
	for k := 1; k <= 16; k++ {
		at := float64(k) * hz / l.binHz
		if reach := int(oddReach*at) + 1; int(at)+reach < len(l.power) {
			sums[k%2] += floats.Max(l.power[max(0, int(at)-reach) : int(at)+reach+1])
		}
	}
	return sums[0], sums[1]
}
