package estimate

import (
	"context"
	"math"
	"math/rand/v2"
)

// What players and their neighbours do that is no tuning note.

// oddity changes a scene; it is false where the note cannot serve.
type oddity struct {
	name   string
	change func(r *run, s *scene) bool
}

var oddities = []oddity{
	{"cut after 1 s", func(_ *run, s *scene) bool {
		s.sound = cutNote(s.note, 1)
		return true
	}},
	{"late, after a neighbour at -10 dB", func(r *run, s *scene) bool {
		p := r.crowd.other(s.note, s.hall.random)
		s.other, s.below = p.samples, -10
		wait := make([]float64, int((0.6+0.8*s.hall.random.Float64())*rate))
		lead := float64(len(wait)) / rate
		s.sound = append(wait, s.note.samples...)
		s.truth = func(from, to float64) float64 { return s.note.winding.mean(from-lead, to-lead) }
		s.leads = lead
		return true
	}},
	{"double-tongued, 6 to 9 a second", func(_ *run, s *scene) bool {
		s.sound = tongued(s.note.samples, 6+3*s.hall.random.Float64())
		return true
	}},
	{"neighbour an octave higher, -6 dB", neighbourAt(1200, -6)},
	{"neighbour an octave lower, -6 dB", neighbourAt(-1200, -6)},
	{"neighbour a fifth away, -3 dB", neighbourAt(700, -3)},
	{"neighbour 6 to 15 cents away, -3 dB", func(r *run, s *scene) bool {
		return s.neighbour(r.crowd, either(s.hall.random)*(6+9*s.hall.random.Float64()), -3)
	}},
	{"a chord, two others at -6 dB each", func(r *run, s *scene) bool {
		if !neighbourAt(400, -6)(r, s) {
			return false
		}
		third := s.other
		if !neighbourAt(700, -6)(r, s) {
			return false
		}
		scale(third, 1/rms(third))
		scale(s.other, 1/rms(s.other))
		for i := range min(len(third), len(s.other)) {
			s.other[i] += third[i]
		}
		s.each = true
		return true
	}},
}

// neighbourAt puts another player cents away, give or take 8.
func neighbourAt(cents, levelDB float64) func(*run, *scene) bool {
	return func(r *run, s *scene) bool {
		mean := s.note.winding.mean(s.note.onset+0.3, s.note.onset+2.8)
		want := mean * math.Exp2((cents+8*s.hall.random.NormFloat64())/1200)
		for _, j := range s.hall.random.Perm(len(r.crowd.notes)) {
			p := &r.crowd.notes[j]
			theirs := p.winding.mean(p.onset+0.3, p.onset+2.8)
			if p.name == s.note.name || math.Abs(12*math.Log2(want/theirs)) > nearNote {
				continue
			}
			lead := make([]float64, int((leadIn-0.3+0.6*s.hall.random.Float64())*rate))
			s.other = append(lead, resampled(p.samples, want/theirs)...)
			s.below = levelDB
			return true
		}
		return false
	}
}

// cutNote ends a note so many seconds after its attack, with a release of 30 ms.
func cutNote(n *practice, seconds float64) []float64 {
	end := min(len(n.samples), int((n.onset+seconds)*rate))
	x := append([]float64(nil), n.samples[:end]...)
	const release = rate * 3 / 100
	for i := range min(release, end) {
		x[end-1-i] *= float64(i) / release
	}
	return x
}

// tongued stops the note so many times a second for a third of the time.
func tongued(samples []float64, perSecond float64) []float64 {
	x := append([]float64(nil), samples...)
	for i := range x {
		at := math.Mod(float64(i)/rate*perSecond, 1)
		x[i] *= max(0, min(1, at*8, (0.68-at)*8))
	}
	return x
}

func (r *run) realOdd(ctx context.Context) error {
	for _, o := range oddities {
		err := r.asked(ctx, o.name, max(1, r.rooms/2), 0.4, func(s *scene) bool { return o.change(r, s) })
		if err != nil {
			return err
		}
	}
	return r.realGlides(ctx)
}

// realGlides never rest.
func (r *run) realGlides(ctx context.Context) error {
	glide := motion{"glissando, 60 to 300 cents/s", false, func(random *rand.Rand) func(float64) float64 {
		slope := either(random) * 60 * math.Pow(5, random.Float64())
		return func(t float64) float64 { return slope * t }
	}}
	var s score
	for i := range r.crowd.notes {
		for j := range max(1, r.rooms/4) {
			o, err := r.movedTrial(glide, glide.name, j%2 == 0, i, j).hear(ctx)
			if err != nil {
				return err
			}
			s.add(o)
		}
	}
	r.table.row(glide.name, &s)
	return ctx.Err()
}
