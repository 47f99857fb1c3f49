package moves

import (
	"math"
	"slices"
	"time"

	"bellrow/hub/belief"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
)

// queue is a leader who goes down the row.
type queue struct {
	left []int
	away map[int]bool
}

func newQueue(n int) queue {
	q := queue{away: map[int]bool{}}
	for i := range n {
		q.left = append(q.left, i)
	}
	return q
}

func (q *queue) present(i int, here bool) { q.away[i] = !here }

func (q *queue) next(_ float64, playing []int) []int {
	for _, i := range q.left {
		if !q.away[i] && !slices.Contains(playing, i) {
			return []int{i}
		}
	}
	return nil
}

func (q *queue) leave(i int) { q.left = slices.DeleteFunc(q.left, func(j int) bool { return j == i }) }

func (q *queue) behind(i int) {
	q.leave(i)
	q.left = append(q.left, i)
}

func (q *queue) set(int) {}

func (q *queue) again(i int) []int { return []int{i} }

func (q *queue) over(float64) bool { return len(q.left) == 0 }

// meter: everybody watches a meter and bends until it is content. No slide moves.
type meter struct{ queue }

func newMeter(s *section) leader { return &meter{newQueue(len(s.chairs))} }

func (m *meter) style() style { return style{lips: true} }
func (m *meter) hear(n note) answer {
	m.leave(n.chair)
	return answer{}
}

// naive has each player move by a nominal number of millimetres per cent, by the
// mean of so many notes, until that mean is within the dead band.
type naive struct {
	queue
	*section
	mean  int
	most  int
	heard map[int][]float64
}

func newNaive(mean, most int) func(*section) leader {
	return func(s *section) leader {
		return &naive{queue: newQueue(len(s.chairs)), section: s, mean: mean, most: most, heard: map[int][]float64{}}
	}
}

func (m *naive) style() style { return style{rests: m.mean > 1} }

func (m *naive) hear(n note) answer {
	c := m.chairs[n.chair]
	full := c.notes >= m.most
	if n.refused == "" {
		m.heard[n.chair] = append(m.heard[n.chair], n.cents)
	}
	h := m.heard[n.chair]
	if len(h) < m.mean && !full {
		m.behind(n.chair)
		return answer{}
	}
	mean := 0.0
	for _, x := range h {
		mean += x / float64(len(h))
	}
	m.heard[n.chair] = nil
	if full || math.Abs(mean) <= float64(slide.DeadBand) {
		m.leave(n.chair)
	} else {
		m.behind(n.chair)
	}
	if math.Abs(mean) <= float64(slide.DeadBand) {
		return answer{}
	}
	return answer{mm: c.nominal(mean)}
}

// nominal is the whole number of millimetres for an error in cents.
func (c *chair) nominal(cents float64) float64 {
	main, _ := c.in.Slide(instrument.Main)
	from := c.settings[instrument.Main]
	to := math.Round(from + cents/-c.perMM())
	return math.Max(0, math.Min(main.TravelMM, to)) - from
}

// perMM is what the first millimetre out does by the model, in cents.
func (c *chair) perMM() float64 {
	return float64(c.in.CentsPerMM(c.in.Paths(c.note)[0], instrument.Main, c.settings))
}

// turns are bellrow's rules of today: two rounds, in each a turn of up to four
// notes for each chair, from hub/slide.
type turns struct {
	queue
	*section
	memory []slide.Memory
	turn   []slide.Turn
	round  int
	apart  style
}

func newTurns(added bool) func(*section) leader {
	return func(s *section) leader {
		n := len(s.chairs)
		return &turns{queue: newQueue(n), section: s, memory: make([]slide.Memory, n), turn: make([]slide.Turn, n),
			apart: style{rests: true, added: added}}
	}
}

func (t *turns) style() style { return t.apart }

func (t *turns) over(at float64) bool {
	if len(t.left) > 0 {
		return false
	}
	if t.round++; t.round >= 2 {
		return true
	}
	for i := range t.chairs {
		t.left = append(t.left, i)
		t.turn[i] = slide.Turn{}
	}
	return false
}

func (t *turns) hear(n note) answer {
	c, i := t.chairs[n.chair], n.chair
	a, follow := t.memory[i].Answer(slide.Input{
		Instrument: c.in, Note: c.note, Target: c.target, Reading: n.forAdvice(), Settings: c.settings, Played: n.played,
	})
	if follow != nil {
		c.judge(follow.Verdict, c.heldAtNote)
	}
	told, over := t.turn[i].Answer(a)
	t.turn[i].Take(a)
	if over {
		t.leave(i)
	} else if a.Code == "cold" {
		t.behind(i)
	}
	out := answer{warm: told.Code == "cold" || told.Code == "warming"}
	if told.Kind == slide.Move {
		st := told.Steps[0]
		out.mm = st.MM()
		t.memory[i].Moved(c.in, c.settings, st.Slide, st.FromMM, st.ToMM)
	}
	return out
}

// believer asks where the answer is worth it: hub/belief.
type believer struct {
	*section
	b      *belief.Section
	first  [][]int // who plays at once first, one group after the other
	groups bool    // up to three at once where octaves apart
	names  bool
	moved  []float64
}

var begun = time.Date(2026, time.November, 23, 19, 20, 0, 0, time.UTC)

func clock(seconds float64) time.Time {
	return begun.Add(time.Duration(seconds * float64(time.Second)))
}

type manner struct{ ahead, together, groups, free bool }

func newBeliever(m manner) func(*section) leader {
	return func(s *section) leader {
		rules := s.rules
		if m.free {
			rules = rules.Free()
		}
		b := &believer{section: s, b: belief.New(belief.Config{Notes: s.pop.Notes, Rules: rules}), names: m.ahead, groups: m.groups}
		if m.together {
			b.first = s.together()
		}
		for i, c := range s.chairs {
			main, _ := c.in.Slide(instrument.Main)
			lo, hi := slide.Limits(main)
			b.b.Sit(int64(i+1), belief.Slide{MM: c.settings[instrument.Main], Min: lo, Max: hi, PerMM: -c.perMM(), Notes: len(c.tunes)}, c.profile)
			b.b.Sounded(int64(i+1), begun, c.player.Played())
		}
		return b
	}
}

func (b *believer) style() style { return style{ahead: b.names, rests: true, warms: true} }

func (b *believer) present(i int, here bool) {
	if here {
		b.b.Back(int64(i + 1))
	} else {
		b.b.Away(int64(i + 1))
	}
}

func (b *believer) set(int) {}

func (b *believer) again(i int) []int { return []int{i} }

func (b *believer) over(at float64) bool { return b.b.Over(clock(at)) }

func (b *believer) next(at float64, playing []int) []int {
	for len(b.first) > 0 {
		group := b.first[0]
		if i := group[0]; b.chairs[i].notes == 0 && !slices.Contains(playing, i) {
			return group
		}
		b.first = b.first[1:]
	}
	now := ids(playing)
	for i, c := range b.chairs {
		if p := c.player.Played(); p < 300 {
			b.b.Sounded(int64(i+1), clock(at), p)
		}
	}
	c, ok := b.b.Next(clock(at), now...)
	if !ok {
		return nil
	}
	group := []int{int(c.Chair - 1)}
	b.call(c)
	for b.groups && len(group) < 3 {
		c, ok := b.b.Next(clock(at), append(now, ids(group)...)...)
		if !ok || !b.apart(group, int(c.Chair-1)) {
			break
		}
		b.call(c)
		group = append(group, int(c.Chair-1))
	}
	return group
}

// together deals those who are here into groups that play at once, none beside another.
func (s *section) together() [][]int {
	n := max(1, (len(s.chairs)+s.pop.AtOnce-1)/s.pop.AtOnce)
	groups := make([][]int, n)
	for i, c := range s.chairs {
		if c.comes == 0 {
			groups[i%n] = append(groups[i%n], i)
		}
	}
	return slices.DeleteFunc(groups, func(g []int) bool { return len(g) == 0 })
}

// call asks a chair for one of its notes.
func (b *believer) call(c belief.Choice) {
	ch := b.chairs[c.Chair-1]
	ch.called = c.Note
}

func ids(group []int) (out []int64) {
	for _, i := range group {
		out = append(out, int64(i+1))
	}
	return out
}

// apart reports whether a chair's note is in another octave than the group's.
func (b *believer) apart(group []int, i int) bool {
	for _, j := range group {
		d := b.chairs[i].note - b.chairs[j].note
		if max(d, -d) < 10 {
			return false
		}
	}
	return true
}

// take has the belief take in a note.
func (b *believer) take(n note) {
	c := b.chairs[n.chair]
	b.b.Heard(int64(n.chair+1), belief.Reading{
		At: clock(n.at), Note: c.called, Cents: n.cents - float64(c.theory), Half: n.half, Refused: n.refused != "",
		Start: n.start, StartHalf: n.started, Drift: n.reading.Drift, DriftHalf: n.drift, Middle: middle, Played: n.played, Earlier: n.along,
	})
}

func (b *believer) hear(n note) answer {
	id := int64(n.chair + 1)
	c := b.chairs[n.chair]
	b.take(n)
	if n.refused == "" && c.farMoved {
		c.judged = true
		if c.heldAtNote {
			c.holds++
		}
		if st, _ := b.b.Standing(id); st.Held {
			c.accused = true
			c.warned = c.warned || c.heldAtNote
		}
		c.farMoved = false
	}
	if n.refused != "" {
		return answer{}
	}
	mm := b.b.Best(id)
	if mm != 0 {
		c.farMoved = c.farMoved || math.Abs(mm*c.perMM()) >= 8
		b.b.Moved(id, clock(n.at), mm, true)
	}
	return answer{mm: mm}
}
