package check

import (
	"fmt"
	"math"
	"slices"
	"strconv"

	"bellrow/proto/pitch"
)

// Thresholds of the microphone check. Levels are dBFS with 0 at the RMS of a
// full-scale sine. They are common practice, no source, unless said otherwise.
const (
	// frameSeconds is the step of the level contour: short against a note,
	// long against a period of the lowest one.
	frameSeconds = 0.05
	// tooLoud leaves 3 dB for a louder note; tooQuiet is where an ordinary
	// laptop's own noise begins to matter.
	tooLoud, tooQuiet pitch.Level = -3, -50
	// noisy is a quiet-room level above which soft notes disappear.
	noisy pitch.Level = -45
	// toneAbove is how far a note stands out of the room, in dB.
	toneAbove = 15.0
	// toneSeconds is the shortest held note that tells about processing.
	toneSeconds = 1.0
	// clippedRun is how many samples in a row at full scale are clipping: two
	// may be chance.
	clippedRun = 3
	// fullScale is where a sample counts as at full scale.
	fullScale = 0.999
	// humLoud is the level of mains hum that is worth a hand's movement.
	humLoud pitch.Level = -60
	// fades is how much a held note may fall, in dB, before something other
	// than the player is suspected. Chromium's processing was measured to take
	// 8 dB from a note held for three seconds, and more from longer ones; a
	// player keeps an even note within 3 dB.
	fades = 6.0
	// shifts is how much the quiet room may differ before and after a note, in
	// dB: the same processing was measured to shift it by 14 dB.
	shifts = 10.0
	// swells is how much it may grow within seconds after a note, in dB.
	swells = 6.0
	// gated is a level that no microphone in a room reaches: somebody puts
	// zeros between the notes.
	gated pitch.Level = -110
)

// Sound gathers what a microphone delivers while the player is quiet, holds a
// note, and is quiet again. One goroutine uses it.
type Sound struct {
	rate    float64
	frame   int // samples
	sum     float64
	filled  int
	levels  []pitch.Level // of the frames
	run     int           // samples in a row at full scale
	clipped int           // runs of clipping
	samples []float64     // all of it, at most keepSeconds
	lost    int64
}

// keepSeconds bounds the memory of a check.
const keepSeconds = 120

// NewSound returns a check of sound at rate Hz.
func NewSound(rate float64) *Sound {
	return &Sound{rate: rate, frame: int(frameSeconds * rate)}
}

// Write takes the next samples.
func (s *Sound) Write(samples []float64, lost int64) {
	s.lost += lost
	for _, x := range samples {
		if math.Abs(x) >= fullScale {
			if s.run++; s.run == clippedRun {
				s.clipped++
			}
		} else {
			s.run = 0
		}
		s.sum += x * x
		if s.filled++; s.filled == s.frame {
			s.levels = append(s.levels, pitch.LevelOf(math.Sqrt(s.sum/float64(s.frame))))
			s.sum, s.filled = 0, 0
		}
	}
	room := int(keepSeconds*s.rate) - len(s.samples)
	s.samples = append(s.samples, samples[:max(0, min(room, len(samples)))]...)
}

// floor is the level of the quiet room: a tenth of the frames are quieter.
func (s *Sound) floor() pitch.Level {
	sorted := slices.Sorted(slices.Values(s.levels))
	return sorted[len(sorted)/10]
}

// span is a stretch of frames, from inclusive, to exclusive.
type span struct{ from, to int }

func (p span) seconds() float64 { return float64(p.to-p.from) * frameSeconds }

// longest returns the longest run of frames that fit.
func (s *Sound) longest(fits func(l pitch.Level) bool) span {
	var best span
	start := -1
	for i := 0; i <= len(s.levels); i++ {
		in := i < len(s.levels) && fits(s.levels[i])
		if in && start < 0 {
			start = i
		}
		if !in && start >= 0 {
			if i-start > best.to-best.from {
				best = span{start, i}
			}
			start = -1
		}
	}
	return best
}

// Lines says what was found.
func (s *Sound) Lines() []Line {
	if len(s.levels) == 0 {
		return []Line{told("microphone", "check.microphone.none")}
	}
	loudest := slices.Max(s.levels)
	if loudest <= gated {
		return []Line{told("microphone", "check.microphone.zero")}
	}
	floor := s.floor()
	tone := s.longest(func(l pitch.Level) bool { return l > max(floor, gated)+toneAbove })
	return []Line{
		s.levelLine(loudest, tone), s.noiseLine(floor), s.clippingLine(), s.humLine(floor),
		s.processingLine(floor, tone), s.lostLine(),
	}
}

func (s *Sound) levelLine(loudest pitch.Level, tone span) Line {
	const name = "level"
	switch {
	case tone.seconds() < frameSeconds:
		return told(name, "check.level.none")
	case loudest > tooLoud:
		return told(name, "check.level.loud", whole(float64(loudest)))
	case loudest < tooQuiet:
		return told(name, "check.level.faint", whole(float64(loudest)))
	}
	return ok(name, fmt.Sprintf("%.0f dBFS at the loudest", loudest))
}

func (s *Sound) noiseLine(floor pitch.Level) Line {
	if floor > noisy {
		return told("noise", "check.noise.loud", whole(float64(floor)))
	}
	return ok("noise", fmt.Sprintf("%.0f dBFS in the quiet room", floor))
}

func (s *Sound) clippingLine() Line {
	if s.clipped > 0 {
		return told("clipping", "check.clipping.times", s.clipped, strconv.Itoa(s.clipped))
	}
	return ok("clipping", "never overloaded")
}

func (s *Sound) lostLine() Line {
	if s.lost > 0 {
		return told("samples", "check.samples.lost", strconv.FormatInt(s.lost, 10))
	}
	return ok("samples", "none lost")
}
