package estimate

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/dsp/fourier"
	"gonum.org/v1/gonum/dsp/window"
	"gonum.org/v1/gonum/floats"

	"bellrow/proto/pitch"
)

const (
	// spectrumSeconds is the length of the windows whose power is taken the median of.
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

// lineSpectrum is the usual power spectrum of a stretch.
type lineSpectrum struct {
	binHz float64
	power []float64
	root  []float64 // power^rootOf less its mean
}

// spectrumOf looks at frames [from, to) of s through Hann windows that overlap
// by half and takes the median of each line's power: what comes and goes, as
// speech and drums do, is not in it.
func (s *sound) spectrumOf(from, to int) lineSpectrum {
	n := smooth(int(spectrumSeconds * s.rate))
	fft := fourier.NewFFT(2 * n)
	l := lineSpectrum{binHz: s.rate / float64(fft.Len())}
	lines := make([][]float64, min(n+1, int(highestLine/l.binHz))) // by window
	a, b := int(float64(from)*s.tick*s.rate), int(float64(to)*s.tick*s.rate)
	for at := a; at == a || at+n <= b; at += n / 2 {
		x := make([]float64, fft.Len())
		copy(x[:n], s.x[at:])
		window.Hann(x[:n])
		for i, v := range fft.Coefficients(nil, x)[:len(lines)] {
			lines[i] = append(lines[i], power(v))
		}
	}
	for _, line := range lines {
		l.power = append(l.power, pitch.Median(line))
	}
	l.root = make([]float64, len(l.power))
	least, heard := faintestLine*floats.Max(l.power)+1e-300, int(lowestLine/l.binHz)
	for i := range l.root[heard:] {
		l.root[heard+i] = math.Pow(l.power[heard+i]+least, rootOf)
	}
	floats.AddConst(-floats.Sum(l.root)/float64(len(l.root)-heard), l.root[heard:])
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
	var candidates, matches []float64
	for _, p := range l.peaks() {
		for m := 1.0; m <= lastPartial; m++ {
			if f := p / m; f >= MinHz && f <= MaxHz {
				candidates, matches = append(candidates, f), append(matches, l.match(f))
			}
		}
	}
	if len(matches) == 0 {
		return 0, false
	}
	best := floats.Max(matches)
	for i, f := range candidates {
		if matches[i] >= nearBest*best {
			hz = max(hz, f)
		}
	}
	return hz, best > 0
}

// near returns the pitch within cents of hz whose partials hold most, each
// counted by a root of its power.
func (l lineSpectrum) near(hz, cents float64) float64 {
	best, pick, top := -1.0, hz, min(topPartial, float64(len(l.power)-2)*l.binHz)
	for c := -cents; c <= cents; c += 2 {
		f := hz * math.Exp2(c/1200)
		sum := 0.0
		for k := 1.0; k <= mostPartials && k*f < top; k++ {
			i, part := math.Modf(k * f / l.binHz)
			sum += math.Pow((1-part)*l.power[int(i)]+part*l.power[int(i)+1], nearRoot)
		}
		if sum > best {
			best, pick = sum, f
		}
	}
	return pick
}

// held is the power above lowest, in Hz, at the partials of hz, at the odd ones, and anywhere.
func (l lineSpectrum) held(hz, lowest float64) (own, odd, all float64) {
	for i := int(max(lowestLine, lowest) / l.binHz); i < len(l.power); i++ {
		all += l.power[i]
		f := float64(i) * l.binHz
		if k := math.Round(f / hz); math.Abs(f-k*hz) < max(2/spectrumSeconds, oddReach*f) {
			own += l.power[i]
			odd += math.Mod(k, 2) * l.power[i]
		}
	}
	return own, odd, all + 1e-300
}

// share is the part of the power above lowest, in Hz, that lies at the partials of hz.
func (l lineSpectrum) share(hz, lowest float64) float64 {
	own, _, all := l.held(hz, lowest)
	return own / all
}
