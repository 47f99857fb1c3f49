package estimate

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/floats"
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
		slices.Sort(line)
		l.power[i] = (line[(len(line)-1)/2] + line[len(line)/2]) / 2
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

// peaksOf returns the n strongest lines in Hz, strongest first.
func (l lineSpectrum) peaksOf(n int) []float64 {
	type peak struct{ hz, power float64 }
	var all []peak
	for i := max(2, int(lowestLine/l.binHz)); i < len(l.root)-1; i++ {
		a, b, c := l.power[i-1], l.power[i], l.power[i+1]
		if b > a && b >= c && b > 0 {
			o := peakOffset(math.Log(a+1e-30), math.Log(b+1e-30), math.Log(c+1e-30))
			all = append(all, peak{(float64(i) + o) * l.binHz, b})
		}
	}
	slices.SortFunc(all, func(a, b peak) int {
		switch {
		case a.power > b.power:
			return -1
		case a.power < b.power:
			return 1
		}
		return 0
	})
	var out []float64
	for _, p := range all {
		if len(out) == n {
			break
		}
		out = append(out, p.hz)
	}
	return out
}

// candidate is a fundamental and how well it matches.
type candidate struct{ hz, match float64 }

func (l lineSpectrum) candidates() []candidate {
	var all []candidate
	for _, p := range l.peaksOf(firstPeaks) {
		for m := 1; m <= lastPartial; m++ {
			if f := p / float64(m); f >= MinHz && f <= MaxHz {
				all = append(all, candidate{f, l.match(f)})
			}
		}
	}
	return all
}

// fundamental returns the pitch that the spectrum alone shows.
func (l lineSpectrum) fundamental() (hz float64, ok bool) {
	best, pick := 0.0, candidate{}
	all := l.candidates()
	for _, c := range all {
		best = max(best, c.match)
	}
	for _, c := range all {
		if c.match >= nearBest*best && c.hz > pick.hz {
			pick = c
		}
	}
	return pick.hz, best > 0 && pick.hz > 0
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
