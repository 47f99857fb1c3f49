package attribute

import (
	"math"
	"slices"

	"bellrow/proto/track"
)

// line is the neighbourhood of one multiple of the reference, as every
// microphone that sent it heard it, on a grid of times common to all.
type line struct {
	*grid
	k     int
	hz    float64        // k times the reference
	heard [][]complex128 // by chair: as sent, on the grid; nil where the chair did not send it
	n     []int          // by chair: which of its partials falls here, 0 = none
}

// Which partials count for which chair.
const (
	// nearCents is how far a chair's partial may lie from a multiple of the
	// reference and still be inside the tracks: what nodes keep, less a margin.
	nearCents = 50
	// longestWindow bounds the work, in seconds; notes are asked for one breath.
	longestWindow = 4.0
	// mostChairs bounds it too: twice a large brass section.
	mostChairs = 64
	// leastFrames on a line: fewer tell nothing about movement.
	leastFrames = 6
)

// window is the data of one fit.
type window struct {
	in     *Input
	ref    float64
	mid    float64 // hub time of the middle
	half   float64 // half its length in seconds
	lines  []line
	grids  []*grid
	tracks []bool // chairs with usable tracks
}

// gather puts the chunks of all chairs on common grids.
func gather(in *Input) *window {
	w := &window{in: in, mid: (in.Start + in.End) / 2, half: (in.End - in.Start) / 2, tracks: make([]bool, len(in.Chairs))}
	w.ref = reference(in)
	if w.ref == 0 || !(w.half > 0 && w.half <= longestWindow/2) || len(in.Chairs) > mostChairs {
		w.half = 0
		return w
	}
	for _, k := range multiples(in, w.ref) {
		if l, ok := w.line(k); ok {
			w.lines = append(w.lines, l)
		}
	}
	for c := range in.Chairs {
		n := 0
		for i := range w.lines {
			if w.lines[i].n[c] > 0 && w.lines[i].heard[c] != nil {
				n++
			}
		}
		w.tracks[c] = n >= 2
	}
	return w
}

// reference returns the reference common to the chunks, 0 when there is none.
// Chunks around another one are left out.
func reference(in *Input) float64 {
	votes := map[float64]int{}
	best := 0.0
	for i := range in.Chairs {
		for j := range in.Chairs[i].Chunks {
			f := float64(in.Chairs[i].Chunks[j].Reference)
			votes[f]++
			if votes[f] > votes[best] || votes[f] == votes[best] && f < best {
				best = f
			}
		}
	}
	return best
}

// multiples lists every multiple sent, ascending.
func multiples(in *Input, ref float64) []int {
	var ks []int
	for i := range in.Chairs {
		for j := range in.Chairs[i].Chunks {
			c := &in.Chairs[i].Chunks[j]
			if float64(c.Reference) != ref {
				continue
			}
			for p := range c.Partials {
				if k := c.Partials[p].K; !slices.Contains(ks, k) {
					ks = append(ks, k)
				}
			}
		}
	}
	slices.Sort(ks)
	return ks
}

// line gathers one multiple. It is of use if some chair has a partial there
// and some microphone covers the whole window.
func (w *window) line(k int) (line, bool) {
	l := line{k: k, hz: float64(k) * w.ref, n: make([]int, len(w.in.Chairs)), heard: make([][]complex128, len(w.in.Chairs))}
	any := false
	for c := range w.in.Chairs {
		l.n[c] = partialAt(float64(w.in.Chairs[c].Expected), l.hz)
		any = any || l.n[c] > 0
	}
	if !any {
		return l, false
	}
	step := 0.0
	for c := range w.in.Chairs {
		step = max(step, stepSeconds(&w.in.Chairs[c], k))
	}
	if step == 0 {
		return l, false
	}
	count := int(2 * w.half / step)
	if count < leastFrames {
		return l, false
	}
	l.grid = w.gridOf(count, step)
	any = false
	for c := range w.in.Chairs {
		l.heard[c] = w.resample(&w.in.Chairs[c], k, l.t)
		any = any || l.heard[c] != nil
	}
	return l, any
}

// partialAt returns which partial of a note at f lies at hz, 0 if none does.
func partialAt(f, hz float64) int {
	if !(f > 0) {
		return 0
	}
	n := math.Round(hz / f)
	if n < 1 || math.Abs(1200*math.Log2(hz/(n*f))) > nearCents {
		return 0
	}
	return int(n)
}

func stepSeconds(c *Chair, k int) float64 {
	for i := range c.Chunks {
		if p := c.Chunks[i].Find(k); p != nil {
			return float64(p.Step) / c.Chunks[i].Rate
		}
	}
	return 0
}

// reachFrames is half the length of the interpolation between frames.
const reachFrames = 4

// resample reads multiple k of a chair's chunks at the grid times, and returns
// nil where the window is not covered.
func (w *window) resample(c *Chair, k int, grid []float64) []complex128 {
	var frames []complex128
	var have []bool
	first, step := int64(0), 0
	rate := 0.0
	for i := range c.Chunks {
		ch := &c.Chunks[i]
		p := ch.Find(k)
		if p == nil || float64(ch.Reference) != w.ref {
			continue
		}
		if step == 0 {
			first, step, rate = ch.First, p.Step, ch.Rate
		}
		at := ch.First - first
		if p.Step != step || ch.Rate != rate || at < 0 || at%int64(step) != 0 || at/int64(step) > int64(64*track.MaxFrames) {
			continue
		}
		for int64(len(frames)) < at/int64(step) {
			frames, have = append(frames, 0), append(have, false)
		}
		frames = p.Unpack(frames)
		for len(have) < len(frames) {
			have = append(have, true)
		}
	}
	if step == 0 {
		return nil
	}
	perFrame := float64(step) / rate
	start := c.Zero + float64(first)/rate - w.mid
	y := make([]complex128, len(grid))
	for i, t := range grid {
		x := (t - start) / perFrame
		j := int(math.Floor(x))
		if j < 0 || j+1 >= len(frames) || !have[j] || !have[j+1] {
			return nil
		}
		y[i] = between(frames, x)
	}
	return y
}

// between interpolates frames at x by a windowed sinc, zero beyond the ends.
func between(frames []complex128, x float64) complex128 {
	j := int(math.Floor(x))
	frac := x - float64(j)
	if frac == 0 {
		return frames[j]
	}
	var sum complex128
	s := math.Sin(math.Pi*frac) / math.Pi
	for i := 1 - reachFrames; i <= reachFrames; i++ {
		if j+i < 0 || j+i >= len(frames) {
			continue
		}
		d := frac - float64(i)
		v := s / d
		if i%2 != 0 {
			v = -v
		}
		v *= 0.5 + 0.5*math.Cos(math.Pi*d/(reachFrames+0.5))
		sum += complex(v, 0) * frames[j+i]
	}
	return sum
}
