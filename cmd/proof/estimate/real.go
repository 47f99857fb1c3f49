package estimate

import (
	"context"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"

	"bellrow/node/capture"
	"bellrow/proto/pitch"
)

// realSections are the parts of the table about recorded notes of real
// players, each through the node's listener.
var realSections = []struct {
	name string
	run  func(*run, context.Context) error
}{
	{"real-dry", (*run).realDry},
	{"real-rooms", (*run).realRooms},
	{"real-cuts", (*run).realCuts},
	{"real-steps", (*run).realSteps},
	{"real-company", (*run).realCompany},
	{"real-neighbour", (*run).realNeighbour},
	{"real-calls", (*run).realCalls},
	{"real-channels", (*run).realChannels},
	{"real-motion", (*run).realMotion},
	{"real-odd", (*run).realOdd},
	{"real-peers", (*run).realPeers},
}

func realNames() []string {
	var names []string
	for _, s := range realSections {
		names = append(names, s.name)
	}
	return names
}

// practised returns the notes and the company, read once.
func (r *run) practised(ctx context.Context) (*crowd, error) {
	if r.crowd != nil {
		return r.crowd, nil
	}
	notes, err := practiceNotes(ctx, r.notes)
	if err != nil {
		return nil, err
	}
	if r.crowd, err = newCrowd(ctx, notes, r.speech); err != nil {
		return nil, err
	}
	for _, s := range r.crowd.substitute {
		r.table.note(s)
	}
	r.table.note(scoreHeading)
	return r.crowd, nil
}

// row writes one condition.
func (t *table) row(what string, s *score) { t.printf("%-36s %s\n", what, s) }

// fail writes a line about an outcome that should not be.
func (t *table) fail(tr trial, o outcome, why string) {
	t.printf("#   %s: %s: %.2f Hz, truth %.2f, off %+.2f ± %.2f over %.2f to %.2f s\n",
		tr.name, why, o.hz, o.truth, o.off, o.half, o.stretch[0], o.stretch[1])
}

// judge hears a trial and puts it into s; what is wrong is written.
func (r *run) judge(ctx context.Context, s *score, t trial) (outcome, error) {
	o, err := t.hear(ctx)
	if err != nil {
		return o, fmt.Errorf("accuracy: %s: %w", t.name, err)
	}
	s.add(o)
	if o.wrong() {
		r.table.fail(t, o, "wrong")
	}
	return o, ctx.Err()
}

// each runs make once for every note and room and collects the outcomes.
func (r *run) each(ctx context.Context, what string, rooms int, rt60 float64, make func(*scene) (trial, bool)) error {
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	var s score
	for i := range crowd.notes {
		for j := range rooms {
			t, ok := make(plain(r.hall(rt60, r.roomSeed(what, i, j)), &crowd.notes[i]))
			if !ok {
				continue
			}
			if _, err := r.judge(ctx, &s, t); err != nil {
				return err
			}
		}
	}
	r.table.row(what, &s)
	return nil
}

// hall draws a room of the kind asked for.
func (r *run) hall(rt60 float64, seed uint64) hall {
	h := newHall(rt60, seed)
	h.network, h.compressed = r.network, r.compressed
	return h
}

// roomSeed gives every condition, note and room its own.
func (r *run) roomSeed(what string, note, room int) uint64 {
	h := uint64(14695981039346656037) // FNV-1a
	for _, b := range []byte(fmt.Sprint(r.seed, what, note, room)) {
		h = (h ^ uint64(b)) * 1099511628211
	}
	return h
}

func (r *run) realDry(ctx context.Context) error {
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	for _, grade := range []string{"A", "B", "C"} {
		var s score
		for i := range crowd.notes {
			if n := &crowd.notes[i]; n.grade == grade {
				if _, err := r.judge(ctx, &s, dry(n)); err != nil {
					return err
				}
				if err := halved(ctx, &s, func() trial { return dry(n) }, n.samples); err != nil {
					return err
				}
				if err := hurried(ctx, &s, dry(n), n.samples); err != nil {
					return err
				}
			}
		}
		r.table.row("dry, grade "+grade, &s)
	}
	return nil
}

// halved reads both halves of a recording, each as a note of its own, and
// asks whether the interval of one holds the mean of the other.
func halved(ctx context.Context, s *score, whole func() trial, x []float64) error {
	t := whole()
	return divided(ctx, s, whole, x, (t.on+t.off)/2)
}

// divided does so with the two parts before and after the given second.
func divided(ctx context.Context, s *score, whole func() trial, x []float64, at float64) error {
	t := whole()
	cut := int(at * rate)
	fade := rate / 100
	parts := [2][]float64{append([]float64(nil), x[:cut]...), append([]float64(nil), x[cut:]...)}
	for i := range fade {
		parts[0][cut-1-i] *= float64(i) / float64(fade)
		parts[1][i] *= float64(i) / float64(fade)
	}
	var o [2]outcome
	for i := range o {
		h := whole()
		shift := float64(i*cut) / rate
		h.source = capture.Slice(parts[i], rate)
		h.truth = func(from, to float64) float64 { return t.truth(from+shift, to+shift) }
		h.on, h.off = max(0, t.on-shift), min(t.off-shift, float64(len(parts[i]))/rate)
		var err error
		if o[i], err = h.hear(ctx); err != nil {
			return err
		}
	}
	for i := range o {
		if other := o[1-i]; o[i].read && other.read && !o[i].octave() {
			s.half(float64(pitch.Between(pitch.Hertz(other.truth), pitch.Hertz(o[i].hz))), o[i].half)
		}
	}
	return nil
}

// realCuts cuts every note in two at many places and asks how often one part says
// where the other lies: shares of each note, for parts of one are no two trials.
func (r *run) realCuts(ctx context.Context) error {
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	for _, rt60 := range []float64{0, 0.8} {
		shares := map[string][]float64{}
		for i := range crowd.notes {
			n := &crowd.notes[i]
			again, x := func() trial { return dry(n) }, n.samples
			if rt60 > 0 {
				sc := plain(r.hall(rt60, r.roomSeed("cuts", i, 0)), n)
				y, on, off := sc.recorded()
				again, x = func() trial { return sc.trialOf(capture.Slice(y, rate), on, off) }, y
			}
			t, s := again(), score{}
			for at := t.on + 1.1; at < t.off-1; at += 0.1 {
				if err := divided(ctx, &s, again, x, at); err != nil {
					return err
				}
			}
			if s.halves > 0 {
				shares[n.grade] = append(shares[n.grade], 100*float64(s.halvesHeld)/float64(s.halves))
			}
		}
		for _, grade := range []string{"A", "B", "C"} {
			sum, all := 0.0, shares[grade]
			for _, v := range all {
				sum += v / float64(len(all))
			}
			r.table.figure(fmt.Sprintf("parts of a note, RT60 %g s, grade %s", rt60, grade),
				fmt.Sprintf("one holds the other in %.1f %%, of the worst note in %s", sum, short(quantile(all, 0))), "93 to 98 %")
		}
	}
	return nil
}

// briefNote is the length, in seconds, of a note that rests for one.
const briefNote = 1.25

// hurried finds how soon after its beginning a note that ends there is read
// with an interval under ±3 cents, and whether a brief one is read at all.
func hurried(ctx context.Context, s *score, t trial, x []float64) error {
	onset, found := t.on+t.practice.onset, false
	for _, seconds := range []float64{0.4, 0.5, 0.6, 0.7, 0.85, 1, 1.25, 1.5, 1.75, 2, 2.5, 3} {
		end := int((onset + seconds) * rate)
		if end > len(x) || found && seconds > briefNote {
			break
		}
		short := append(append([]float64(nil), x[:end]...), make([]float64, rate/4)...)
		for i := range rate / 50 {
			short[end-1-i] *= float64(i) / (rate / 50)
		}
		t.source, t.off = capture.Slice(short, rate), onset+seconds
		o, err := t.hear(ctx)
		if err != nil {
			return err
		}
		if seconds == briefNote {
			s.brief++
			if o.read && !o.octave() {
				s.briefRead++
			}
		}
		if o.read && o.half < 3 && !o.octave() && !found {
			s.sooner, found = append(s.sooner, seconds), true
		}
	}
	if !found {
		s.sooner = append(s.sooner, math.Inf(1))
	}
	return nil
}

func (r *run) realRooms(ctx context.Context) error {
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	for _, rt60 := range []float64{0.4, 0.8, 1.2} {
		what := fmt.Sprintf("alone, RT60 %g s", rt60)
		var s score
		for i := range crowd.notes {
			for j := range r.rooms {
				sc := plain(r.hall(rt60, r.roomSeed(what, i, j)), &crowd.notes[i])
				x, on, off := sc.recorded()
				again := func() trial { return sc.trialOf(capture.Slice(x, rate), on, off) }
				if _, err := r.judge(ctx, &s, again()); err != nil {
					return err
				}
				if j%4 == 0 { // these take several readings more
					if err := halved(ctx, &s, again, x); err != nil {
						return err
					}
				}
				if j%10 == 0 {
					if err := hurried(ctx, &s, again(), x); err != nil {
						return err
					}
				}
			}
		}
		r.table.row(what, &s)
	}
	return nil
}

func (r *run) realCompany(ctx context.Context) error {
	for _, c := range companies {
		err := r.asked(ctx, "beside "+c.name, r.rooms, 0.4, func(s *scene) bool {
			s.beside(r.crowd, c)
			return true
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// asked runs each with the right call, as in a rehearsal, and a quarter as
// often without one.
func (r *run) asked(ctx context.Context, what string, rooms int, rt60 float64, change func(*scene) bool) error {
	for _, called := range []bool{true, false} {
		name := what
		if !called {
			name, rooms = what+", no call", max(1, rooms/4)
		}
		err := r.each(ctx, name, rooms, rt60, func(s *scene) (trial, bool) {
			if !change(s) {
				return trial{}, false
			}
			t := s.trial()
			if called {
				t.call = calledNear(s.note, 0, s.hall.random)
			}
			return t, true
		})
		if err != nil {
			return err
		}
	}
	return nil
}

func (r *run) realNeighbour(ctx context.Context) error {
	for _, level := range []float64{-6, -10} {
		err := r.asked(ctx, fmt.Sprintf("neighbour %g dB, 3 to 15 cents", level), r.rooms, 0.4, func(s *scene) bool {
			return s.neighbour(r.crowd, either(s.hall.random)*(3+12*s.hall.random.Float64()), level)
		})
		if err != nil {
			return err
		}
	}
	return nil
}

// realCalls asks for the note that is played, and for others.
func (r *run) realCalls(ctx context.Context) error {
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	calls := []struct {
		name      string
		semitones []float64
	}{
		{"right", []float64{0}},
		{"an octave off", []float64{-12, 12}},
		{"a third or fifth off", []float64{-7, -4, -3, 3, 4, 7}},
	}
	for _, c := range calls {
		for _, where := range []string{"dry", "RT60 0.8 s", "beside speech"} {
			what := "call " + c.name + ", " + where
			var s score
			taken := 0
			for i := range crowd.notes {
				for j := range r.rooms {
					n := &crowd.notes[i]
					t, random := r.calledTrial(what, where, i, j)
					semitones := c.semitones[random.IntN(len(c.semitones))]
					t.call = calledNear(n, semitones, random)
					o, err := t.hear(ctx)
					if err != nil {
						return err
					}
					if semitones != 0 && o.read && !o.another {
						taken++
						r.table.fail(t, o, "taken for the called note")
					}
					if semitones == 0 && o.another {
						r.table.fail(t, o, "said to be another note")
					}
					s.add(o)
				}
			}
			r.table.row(what, &s)
			if c.name == "right" {
				r.table.figure("  said to be another note", share(s.another, s.n)+" %", "0.5 % dry, 2 % beside noise")
			} else {
				r.table.figure("  taken for the called note", fmt.Sprintf("%d of %d", taken, s.n), "1 in 100; an octave off 1 in 20")
			}
		}
	}
	return nil
}

func (r *run) calledTrial(what, where string, note, room int) (trial, *rand.Rand) {
	n, seed := &r.crowd.notes[note], r.roomSeed(what, note, room)
	random := rand.New(rand.NewPCG(seed, 5))
	switch where {
	case "dry":
		return dry(n), random
	case "beside speech":
		return plain(r.hall(0.4, seed), n).beside(r.crowd, companies[0]).trial(), random
	}
	return plain(r.hall(0.8, seed), n).trial(), random
}

// realChannels plays each note without a room through the channels.
func (r *run) realChannels(ctx context.Context) error {
	for _, c := range channels {
		var failed error
		err := r.each(ctx, c.name, max(1, r.rooms/4), 0, func(s *scene) (trial, bool) {
			x, on, off := s.recorded()
			src, err := c.pass(ctx, x, s.hall.random)
			if err != nil {
				failed = err
				return trial{}, false
			}
			t := s.trialOf(src, on, off)
			if c.name == channels[len(channels)-1].name {
				// What is lost makes the rest earlier, but not sharper.
				whole := t.truth
				t.truth = func(from, to float64) float64 { return whole(from*37/36, to*37/36) }
				t.on, t.off = on*36/37, off*36/37
			}
			return t, true
		})
		if err != nil {
			return err
		}
		if errors.Is(failed, errNoCodec) {
			r.table.note(c.name + " left out: " + failed.Error())
		} else if failed != nil {
			return failed
		}
	}
	return nil
}

// realMotion moves the steadier notes.
func (r *run) realMotion(ctx context.Context) error {
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	for _, m := range motions {
		for _, where := range []string{"dry", "RT60 0.4 s"} {
			what := m.name + ", " + where
			var s score
			for i := range crowd.notes {
				if crowd.notes[i].grade != "A" {
					continue
				}
				for j := range r.rooms {
					t := r.movedTrial(m, what, where == "dry", i, j)
					o, err := t.hear(ctx)
					if err != nil {
						return err
					}
					s.add(o)
					if m.rests && o.wrong() {
						r.table.fail(t, o, "wrong")
					}
				}
			}
			r.table.row(what, &s)
			if !m.rests {
				r.table.figure("  read, and the end excluded", fmt.Sprintf("%d of %d", s.passed, s.n), "1 in 100")
			}
		}
	}
	return nil
}

func (r *run) movedTrial(m motion, what string, isDry bool, note, room int) trial {
	n, seed := &r.crowd.notes[note], r.roomSeed(what, note, room)
	x, truth := moved(n, m.path(rand.New(rand.NewPCG(seed, 6))))
	for i := range rate / 50 {
		x[len(x)-1-i] *= float64(i) / (rate / 50)
	}
	end := float64(len(x)) / rate
	t := trial{name: n.name, source: capture.Slice(x, rate), off: end, truth: truth, practice: n}
	if !isDry {
		s := &scene{hall: r.hall(0.4, seed), note: n, sound: x, truth: truth}
		t = s.trial()
	}
	t.name += ", " + strings.Split(what, ",")[0]
	if !m.rests {
		t.end = truth(end-0.3, end-0.05)
	}
	return t
}

// realPeers puts the reference libraries beside the estimator on the windows
// whose pitch the manifest gives.
func (r *run) realPeers(ctx context.Context) error {
	crowd, err := r.practised(ctx)
	if err != nil {
		return err
	}
	cut := func(x []float64, from, to, truth float64) segment {
		return segment{samples: x[int(from*rate):int(to*rate)], truth: pitch.Hertz(truth)}
	}
	var alone, roomy []segment
	for i := range crowd.notes {
		n := &crowd.notes[i]
		a := cut(n.samples, n.window[0], n.window[1], n.reference)
		a.name = n.name
		alone = append(alone, a)
		s := plain(r.hall(0.8, r.roomSeed("peers", i, 0)), n)
		x, on, off := s.recorded()
		from, to := on+n.window[0], on+n.window[1]
		b := cut(x, from, to, s.trialOf(nil, on, off).truth(from, to))
		b.name = n.name
		roomy = append(roomy, b)
	}
	if _, err := r.measure(ctx, "recorded notes, the manifest's second", "-", alone); err != nil {
		return err
	}
	_, err = r.measure(ctx, "the same in a room, RT60 0.8 s", "-", roomy)
	return err
}
