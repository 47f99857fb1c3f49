// Package partials turns samples into partial tracks: the slowly varying
// complex amplitudes around multiples of a reference frequency, for the hub to
// tell players apart by (proto/track).
//
// Each frame is one value of a short-time Fourier transform at exactly k times
// the reference: a Hann-windowed sum over the samples around the frame, with
// the phase counted from sample 0 of the source, so that frames of different
// chunks continue one another. The window is long enough for its first null
// to fall where the next multiple begins, and the frame rate follows from the
// width of pitch that must be kept (Harris 1978, Proc. IEEE 66:51, for the
// window).
//
// No clock, no goroutine; time is a sample count.
package partials

import (
	"fmt"
	"math"

	"bellrow/proto/pitch"
	"bellrow/proto/track"
)

// Choices of the extraction, each with its reason.
const (
	// chunkSeconds is about how much one chunk covers; four a second.
	chunkSeconds = 0.25
	// frameGrain divides every chunk length: 1200 has thirty divisors, so
	// that frame rates can follow bandwidth closely.
	frameGrain = 1200
	// keepCents is how far from the called pitch a player may be and still
	// lie inside the tracks: a quarter tone would be a wrong note.
	keepCents = 45
	// keepHertz is the least half bandwidth, so that scoops and wobble of low
	// notes stay inside.
	keepHertz = 7
	// topHertz is the highest partial taken: brass has little above, and
	// laptop microphones differ most there.
	topHertz = 4500
	// overFloor is by how many dB the level must exceed the quiet floor.
	overFloor = 10
	// leastLevel is the level below which nothing is sent, dBFS.
	leastLevel = -70
	// wireBytes is what a second of sound may cost as JSON: below 10 kB, with
	// room for the message around the chunk.
	wireBytes = 9500
	// chunkBytes and partialBytes are the JSON of a chunk and of a partial
	// apart from its frames, at their longest.
	chunkBytes, partialBytes = 150, 56
	// mostPartials is as many as tell players apart: beyond, brass is weak.
	mostPartials = 14
	// gridBelow is the reference, in Hz, below which it is a grid for notes that
	// nobody called: no brass note sounds so low. More multiples are sent then,
	// for the strongest are often a neighbour's.
	gridBelow, mostOfGrid = 20, track.MaxPartials
	// gridHold is the share of a band's half width that is not damped by more
	// than some decibels.
	gridHold = 0.75
	// stay is by how many dB a newcomer must exceed a partial already sent,
	// so that tracks are not torn.
	stay = 10
)

// Config sets up an Extractor.
type Config struct {
	Rate      float64     // samples per second, track.MinRate to track.MaxRate
	Reference pitch.Hertz // from the call, common to all nodes
	// Floor is the quiet floor if the caller knows it; 0 lets the extractor
	// find its own from the quietest tenths of a second so far.
	Floor pitch.Level
}

// Extractor makes chunks of partial tracks while there is sound. One
// goroutine at a time.
type Extractor struct {
	cfg   Config
	chunk int // samples per chunk, a multiple of frameGrain
	bands []band

	ring  []float64 // the last len(ring) samples, at index n mod len(ring)
	n     int64     // samples taken, lost ones included
	next  int64     // first frame of the next chunk
	clean int64     // first sample after the last gap
	reach int64     // samples that the longest window needs on either side

	gate   gate
	chosen []int // indices into bands, ascending K
	order  []int
	frames []complex128
	out    []track.Chunk
	store  [][]byte
}

// New checks the configuration and prepares the windows.
func New(cfg Config) (*Extractor, error) {
	if !(cfg.Rate >= track.MinRate && cfg.Rate <= track.MaxRate) {
		return nil, fmt.Errorf("partials: rate %g Hz, need %d to %d", cfg.Rate, track.MinRate, track.MaxRate)
	}
	if !(cfg.Reference >= track.MinReference && cfg.Reference <= track.MaxReference) {
		return nil, fmt.Errorf("partials: reference %g Hz, need %g to %g",
			float64(cfg.Reference), float64(track.MinReference), float64(track.MaxReference))
	}
	e := &Extractor{cfg: cfg}
	e.chunk = frameGrain * max(1, int(math.Round(cfg.Rate*chunkSeconds/frameGrain)))
	e.bands = makeBands(cfg.Rate, float64(cfg.Reference), e.chunk)
	if len(e.bands) == 0 {
		return nil, fmt.Errorf("partials: no multiple of %g Hz below half of rate %g", float64(cfg.Reference), cfg.Rate)
	}
	longest := 0
	for i := range e.bands {
		longest = max(longest, len(e.bands[i].window))
	}
	e.reach = int64(longest/2 + 1)
	e.ring = make([]float64, 2*e.chunk+4*longest)
	e.gate = newGate(cfg)
	e.next = e.align(0)
	return e, nil
}

// align returns the first chunk boundary whose frames all lie after sample n.
func (e *Extractor) align(n int64) int64 {
	c := int64(e.chunk)
	return (n + e.reach + c - 1) / c * c
}

// Write takes samples and returns the chunks they complete, usually none or
// one. The result is valid until the next Write.
func (e *Extractor) Write(samples []float64) []track.Chunk {
	e.out = e.out[:0]
	for len(samples) > 0 {
		part := samples[:min(len(samples), e.chunk)]
		samples = samples[len(part):]
		for _, v := range part {
			e.ring[e.n%int64(len(e.ring))] = v
			e.n++
			e.gate.add(v)
		}
		for e.n >= e.next+int64(e.chunk)+e.reach {
			e.emit()
			e.next += int64(e.chunk)
		}
	}
	return e.out
}

// Gap tells that lost samples are missing before the next Write. Frames whose
// window would reach across the gap are left out.
func (e *Extractor) Gap(lost int64) {
	if lost <= 0 {
		return
	}
	e.n += lost
	e.clean = e.n
	e.next = max(e.next, e.align(e.n))
	e.chosen = e.chosen[:0]
}

// emit makes the chunk at e.next if it holds sound.
func (e *Extractor) emit() {
	level := e.level()
	if !e.gate.open(level) {
		e.chosen = e.chosen[:0]
		return
	}
	e.choose()
	c := track.Chunk{
		Reference: e.cfg.Reference,
		First:     e.next,
		Rate:      e.cfg.Rate,
		Floor:     tenth(e.gate.floor),
		Level:     tenth(level),
	}
	slot := len(e.out)
	for len(e.store) <= slot {
		e.store = append(e.store, make([]byte, 0, wireBytes/2))
	}
	bytes := e.store[slot][:0]
	for _, i := range e.chosen {
		b := &e.bands[i]
		e.frames = e.frames[:0]
		for j := range e.chunk / b.step {
			e.frames = append(e.frames, b.at(e.ring, e.next+int64(j*b.step)))
		}
		before := len(bytes)
		var scale float64
		bytes, scale = track.Pack(bytes, e.frames)
		c.Partials = append(c.Partials, track.Partial{K: b.k, Step: b.step, Scale: scale, Frames: bytes[before:len(bytes):len(bytes)]})
	}
	e.store[slot] = bytes[:0]
	e.out = append(e.out, c)
}

// level is the RMS level over the chunk at e.next.
func (e *Extractor) level() pitch.Level {
	sum := 0.0
	for i := e.next; i < e.next+int64(e.chunk); i++ {
		v := e.ring[i%int64(len(e.ring))]
		sum += v * v
	}
	return pitch.LevelOf(math.Sqrt(sum / float64(e.chunk)))
}

// tenth shortens a level for the wire.
func tenth(l pitch.Level) pitch.Level { return pitch.Level(math.Round(float64(l)*10) / 10) }
