package estimate

import (
	"math"
	"math/cmplx"
)

const (
	// stringy is the least inharmonicity B that gives a struck or plucked
	// string away: piano strings lie between 1e-4 and 1e-2 (Fletcher and
	// Rossing, The Physics of Musical Instruments, 1998, chapter 12); a
	// lip-driven tone has none.
	stringy = 6e-5
	// stringyShare is how much of the partials' scatter B must explain, so
	// that a bright neighbour, who moves the upper partials all alike, is not
	// taken for a string.
	stringyShare = 0.8
	// stringyPartials is how many partials must be heard for the judgement.
	stringyPartials = 4
)

// inharmonicity returns B of f_k = k f0 √(1 + B k²) as the partials' own
// frequencies show it, and whether it is that of a string.
func (m *model) inharmonicity() (b float64, isString bool) {
	var sw, sx, sy, sxx, sxy, syy float64
	count := 0
	for i := range m.bands {
		band := &m.bands[i]
		snr := band.power / (band.floor * band.dof)
		if snr < traceSNR {
			continue
		}
		// To first order partial k is sharp by B k²/2.
		x, y := float64(band.k*band.k)/2, m.stray(i)
		w := math.Sqrt(snr) // in between: neither the loudest alone nor all alike
		sw, sx, sy = sw+w, sx+w*x, sy+w*y
		sxx, sxy, syy = sxx+w*x*x, sxy+w*x*y, syy+w*y*y
		count++
	}
	vx, vxy, vy := sxx-sx*sx/max(sw, 1e-300), sxy-sx*sy/max(sw, 1e-300), syy-sy*sy/max(sw, 1e-300)
	if count < stringyPartials || !(vx > 0) || !(vy > 0) {
		return 0, false
	}
	b = vxy / vx
	return b, b > stringy && vxy*vxy > stringyShare*vx*vy
}

// stray is how far band b's own mean frequency lies from its place, as a ratio.
func (m *model) stray(b int) float64 {
	sum := complex(0, 0)
	last := complex(0, 0)
	shape := m.band(m.sources[0].shapes, b)
	for f, z := range m.bands[b].z {
		v := z * cmplx.Conj(shape[f])
		sum += v * cmplx.Conj(last)
		last = v
	}
	return cmplx.Phase(sum) / (2 * math.Pi * m.tick) / (float64(m.bands[b].k) * m.hz)
}
