package estimate

import (
	"math"

	"gonum.org/v1/gonum/dsp/fourier"
)

// lineGrain is how many points of a spectrum there are to a period of the whole
// stretch: the nearest to any pitch then shows 95 % of its power at least.
const lineGrain = 4

// lines tells how strong a steady pitch is in one band: |Σ e x exp(-jωm)|².
type lines struct {
	perCent float64 // points to one cent of the fundamental
	power   []float64
}

// linesOf returns the lines of x, a band's frames.
func (g *grid) linesOf(x []complex128) lines {
	n := smooth(lineGrain * len(x))
	if g.lineFFT == nil {
		g.lineFFT = fourier.NewCmplxFFT(n)
		g.lineIn, g.lineOut = make([]complex128, n), make([]complex128, n)
	}
	for f, v := range x {
		g.lineIn[f] = v * complex(g.edge[f], 0)
	}
	g.lineFFT.Coefficients(g.lineOut, g.lineIn)
	l := lines{g.perCent() * g.tick * float64(n) / (2 * math.Pi), make([]float64, n)}
	for i, v := range g.lineOut {
		l.power[i] = power(v)
	}
	return l
}

// ownLines returns the lines of a steady pitch itself.
func (g *grid) ownLines() lines {
	if g.own.power == nil {
		steady := make([]complex128, len(g.edge))
		for f, e := range g.edge {
			steady[f] = complex(e, 0)
		}
		g.own = g.linesOf(steady)
	}
	return g.own
}

// at returns the power c cents of the fundamental above the band's centre.
func (l lines) at(c float64) float64 {
	i := int(math.Round(c*l.perCent)) % len(l.power)
	if i < 0 {
		i += len(l.power)
	}
	return l.power[i]
}
