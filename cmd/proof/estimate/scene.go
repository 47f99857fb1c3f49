package estimate

import (
	"math"
	"math/rand/v2"

	"bellrow/node/capture"
	"bellrow/proto/pitch"
)

// A scene puts a note, and what else sounds, before a laptop.
type scene struct {
	hall  hall
	note  *practice
	sound []float64                      // the note as played; note.samples unless changed
	truth func(from, to float64) float64 // seconds into sound
	other []float64                      // what else sounds, from the beginning of the recording
	below float64                        // its level in dB relative to the note; per source where it has several
	leads float64                        // seconds of sound before the note begins in it
	each  bool                           // other's sources have RMS 1 each: scale by that, not by the sum
}

const (
	// leadIn and leadOut are heard before and after the note, in seconds.
	leadIn, leadOut = 0.6, 0.8
	// Levels of the note at the microphone, RMS in dBFS.
	softestNote, loudestNote = -32.0, -20.0
)

// recorded is what the laptop hears, at 48 kHz, and the times of the note.
func (s *scene) recorded() (x []float64, on, off float64) {
	lead := make([]float64, int(leadIn*rate))
	n := len(lead) + len(s.sound) + int(leadOut*rate)
	x = s.hall.heard(append(lead, s.sound...), 0, n)
	on = leadIn + s.hall.delay()
	off = on + float64(len(s.sound))/rate
	level := softestNote + (loudestNote-softestNote)*s.hall.random.Float64()
	on += s.leads
	loud := rms(x[int(on*rate):min(n, int(off*rate))])
	scale(x, math.Pow(10, level/20)/math.Sqrt2/loud)
	if s.other != nil {
		y := s.hall.heard(s.other, 1, n)
		own := rms(y)
		if s.each {
			own /= rms(s.other) // what one source of RMS 1 gives
		}
		gain := math.Pow(10, (level+s.below)/20) / math.Sqrt2 / own
		for i := range x {
			x[i] += gain * y[i]
		}
	}
	s.hall.chain(x)
	return x, on, off
}

// trial listens to what is recorded.
func (s *scene) trial() trial {
	x, on, off := s.recorded()
	return s.trialOf(capture.Slice(x, rate), on, off)
}

// trialOf listens to another source of the same times.
func (s *scene) trialOf(src capture.Source, on, off float64) trial {
	clock, began := 1+s.hall.ppm*1e-6, on-s.leads
	return trial{
		name: s.note.name + " in " + s.hall.String(), source: src, on: on, off: off, practice: s.note,
		truth: func(from, to float64) float64 {
			// A clock that runs fast counts more samples and hears a lower pitch.
			return s.truth(from/clock-began, to/clock-began) / clock
		},
	}
}

func scale(x []float64, by float64) {
	for i := range x {
		x[i] *= by
	}
}

// plain is note by itself in h.
func plain(h hall, note *practice) *scene {
	return &scene{hall: h, note: note, sound: note.samples, truth: note.winding.mean}
}

// dry is the note as it was recorded, as `bellrow read` reads the file.
func dry(note *practice) trial {
	return trial{
		name: note.name, source: capture.Slice(note.samples, rate), on: 0, off: float64(len(note.samples)) / rate,
		truth: note.winding.mean, practice: note,
	}
}

// beside puts c into the scene.
func (s *scene) beside(crowd *crowd, c company) *scene {
	n := len(s.sound) + int((leadIn+leadOut)*rate)
	s.other, s.below = c.make(crowd, n, s.note, s.hall.random), c.levelDB
	s.each = c.name == companies[3].name
	return s
}

// neighbour puts another note cents away from this one beside it, begun a
// little earlier or later. It is false without a note within nearNote.
func (s *scene) neighbour(crowd *crowd, cents, levelDB float64) bool {
	mean := s.note.winding.mean(s.note.onset+0.3, s.note.onset+2.8)
	for _, j := range s.hall.random.Perm(len(crowd.notes)) {
		p := &crowd.notes[j]
		theirs := p.winding.mean(p.onset+0.3, p.onset+2.8)
		if p.name == s.note.name || math.Abs(1200*math.Log2(mean/theirs)) > 100*nearNote {
			continue
		}
		lead := make([]float64, int((leadIn-0.3+0.6*s.hall.random.Float64())*rate))
		s.other = append(lead, resampled(p.samples, mean/theirs*math.Exp2(cents/1200))...)
		s.below = levelDB
		return true
	}
	return false
}

// calledNear is a call that the player meets within 30 cents, moved by
// semitones.
func calledNear(note *practice, semitones float64, random *rand.Rand) pitch.Hertz {
	return pitch.Hertz(note.reference * math.Exp2((60*random.Float64()-30)/1200+semitones/12))
}
