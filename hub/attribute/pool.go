package attribute

import (
	"cmp"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// cluster is a pitch of a chair that windows agree on.
type cluster struct {
	best     []*guess // by window, nil where it is not
	top      *guess
	cents    float64
	from, to float64
	spread   float64
	facts    []float64
	score    float64
	another  bool // it may be another note's than the called one's
}

const (
	cleanings = 2   // the last by what all facts say, the others by what the windows do
	poolCents = 3.0 // windows agree within this: a pitch wanders between them
	// unsaid is the log odds of a pitch that a window does not name.
	unsaid = -4.0
	// leastRow is the smallest row that the weights were learned from: of fewer
	// they would say more than they know.
	leastRow = 4
)

// evidence is a cluster's score before anything was learned: the log odds of
// its windows.
func (c *cluster) evidence() float64 {
	sum := 0.0
	for _, x := range c.best {
		if x != nil {
			sum += max(unsaid, x.score)
		} else {
			sum += unsaid
		}
	}
	return sum / float64(len(c.best))
}

// clusters gathers what the windows say of chair c, best first.
func clusters(ws []*window, all [][][]guess, c int) []*cluster {
	type seen struct {
		x *guess
		k int
	}
	var list []seen
	for k := range ws {
		for i := range all[k][c] {
			list = append(list, seen{&all[k][c][i], k})
		}
	}
	slices.SortStableFunc(list, func(a, b seen) int { return cmp.Compare(b.x.score, a.x.score) })
	var out []*cluster
	used := make([]bool, len(list))
	for i := range list {
		if used[i] || len(out) == mostCands {
			continue
		}
		p := &cluster{best: make([]*guess, len(ws)), top: list[i].x}
		for j, s := range list {
			if math.Abs(s.x.cents-p.top.cents) <= poolCents {
				used[j] = true
				if p.best[s.k] == nil {
					p.best[s.k] = s.x
				}
			}
		}
		out = append(out, p)
	}
	slices.SortStableFunc(out, func(a, b *cluster) int { return cmp.Compare(b.evidence(), a.evidence()) })
	return out
}

// pooled is everything of a row.
type pooled struct {
	windows []*window
	all     [][][]guess // by window, chair
	chairs  [][]*cluster
	resting int
	weighed bool // chairs are in the order of all facts
	strands [][][]strand
	combs   []map[*split][][]complex128 // by window: see paths
	quiet   []float64                   // by chair: the log of how loud its microphone is over the middle one
}

// pool hears a row in several windows.
func pool(in *Input) *pooled {
	p := &pooled{resting: in.Resting}
	for _, s := range spans(in.Start, in.End) {
		one := *in
		one.Start, one.End = s[0], s[1]
		w := gather(&one)
		if w.half == 0 {
			continue
		}
		p.windows = append(p.windows, w)
		vs := w.strands()
		p.strands = append(p.strands, vs)
		x := w.guesses(vs)
		for c := range x {
			for i := range x[c] {
				x[c][i].score = score(firstWeights, x[c][i].facts)
			}
		}
		p.all = append(p.all, x)
	}
	p.gather(in)
	p.loudness()
	p.all = make([][][]guess, len(p.windows))
	for round := range cleanings {
		if round == cleanings-1 { // the surest first
			p.weigh(in)
		}
		for k, w := range p.windows {
			w.clean(p.strands[k], p.chosen(k))
			second := w.guesses(p.strands[k])
			for c := range second {
				for i := range second[c] {
					x := &second[c][i]
					same, other := unsaid, unsaid
					for _, cl := range p.chairs[c] {
						e := cl.evidence()
						if math.Abs(cl.top.cents-x.cents) <= poolCents {
							same = max(same, e)
						} else {
							other = max(other, e)
						}
					}
					x.facts = append(x.facts, same, other)
					x.score = score(secondWeights, x.facts)
				}
			}
			p.all[k] = second
		}
		p.gather(in)
	}
	p.weigh(in)
	return p
}

// weigh scores what is left to choose from. All facts are found before the first
// choice, so that the order of the chairs plays no part.
func (p *pooled) weigh(in *Input) {
	p.combs = make([]map[*split][][]complex128, len(p.windows))
	for c, list := range p.chairs {
		for _, cl := range list {
			cl.facts = p.facts(in, c, cl)
		}
	}
	for c, list := range p.chairs {
		weights := finalWeights
		if in.Chairs[c].Doubt > 0 {
			weights = knownWeights
		}
		for _, cl := range list {
			cl.score = odds(weights, cl.facts)
		}
		slices.SortStableFunc(list, func(a, b *cluster) int { return cmp.Compare(b.score, a.score) })
	}
	p.weighed = true
}

// loudness compares the microphones: who does not play has the quietest one.
func (p *pooled) loudness() {
	if len(p.windows) == 0 {
		return
	}
	for _, g := range p.windows[0].loudness() {
		p.quiet = append(p.quiet, -math.Log(g))
	}
	s := slices.Sorted(slices.Values(p.quiet))
	for c := range p.quiet {
		p.quiet[c] = max(-3, min(3, p.quiet[c]-s[len(s)/2]))
	}
}

func (p *pooled) gather(in *Input) {
	p.weighed = false
	p.chairs = make([][]*cluster, len(in.Chairs))
	for c := range in.Chairs {
		p.chairs[c] = clusters(p.windows, p.all, c)
		slices.SortStableFunc(p.chairs[c], func(a, b *cluster) int {
			return cmp.Compare(b.evidence()+before(&in.Chairs[c], b.top.cents)/2, a.evidence()+before(&in.Chairs[c], a.top.cents)/2)
		})
	}
}

// chosen is by chair the path in window k that is believed most, nil where
// little speaks for it.
func (p *pooled) chosen(k int) [][]float64 {
	paths := make([][]float64, len(p.chairs))
	for c, list := range p.chairs {
		if len(list) > 0 && (p.weighed && list[0].score > 0 || !p.weighed && list[0].evidence() > -1.5) {
			if x := list[0].best[k]; x != nil {
				paths[c] = x.path
			}
		}
	}
	return paths
}

// facts are what speaks for a cluster of chair c and against it.
func (p *pooled) facts(in *Input, c int, cl *cluster) []float64 {
	b := cl.scores()
	rival, rivalAll, rivalKnown := unsaid, unsaid, unheld
	for _, o := range p.chairs[c] {
		if o != cl {
			rival = max(rival, o.scores()[0])
			rivalAll = max(rivalAll, o.evidence())
			rivalKnown = max(rivalKnown, held(in, c, o))
		}
	}
	twin, twinKnown := unsaid, unheld
	for o := range p.chairs {
		for _, q := range p.chairs[o] {
			if o != c && coincide(cl.top.hz, q.top.hz) {
				twin = max(twin, q.evidence())
				twinKnown = max(twinKnown, held(in, o, q))
			}
		}
	}
	means := p.summed(cl)
	facts := []float64{b[0], b[min(1, len(b)-1)], stat.Mean(b[min(2, len(b)-1):], nil), rival, rivalAll, before(&in.Chairs[c], cl.cents),
		means[factOwn], means[factTone], twin, max(0, twin-cl.evidence()), cl.spread, math.Log(float64(max(leastRow, len(in.Chairs)))), p.quiet[c]}
	long, short := cl.places()
	a, o := p.only(long, c, cl.best[long].path), p.only(short, c, cl.best[short].path)
	cl.another = another(a, o)
	lead, tone := (a.lead+o.lead)/2, (a.tone+o.tone)/2
	return append(facts, lead, min(lead, 0), min(facts[factNearer], nearby), tone, min(tone, nearby), min(a.lead, o.lead), min(a.tone, o.tone),
		math.Log(a.share+0.02), math.Log(o.share+0.02), rivalKnown, twinKnown)
}

// nearby is the log from where on it says no more how much louder a pitch is here.
const nearby = 0.3

// unheld is below what held says of anything.
const unheld = unsaid - 2

// held is how much speaks for a cluster of chair c with what was believed before.
func held(in *Input, c int, cl *cluster) float64 {
	return cl.evidence() + before(&in.Chairs[c], cl.top.cents)/2
}

// scores are what its windows say, best first.
func (c *cluster) scores() []float64 {
	var v []float64
	for _, x := range c.best {
		if x == nil {
			v = append(v, unsaid)
		} else {
			v = append(v, max(unsaid, x.score))
		}
	}
	slices.SortFunc(v, func(a, b float64) int { return cmp.Compare(b, a) })
	return v
}

// places are the windows in which a cluster is looked at once more: the long one,
// if it is there, and the best of the others, each the other's if there is one only.
func (c *cluster) places() (long, short int) {
	long, short = -1, -1
	best := func(not int) int {
		at := -1
		for k, x := range c.best {
			if x != nil && k != not && (at < 0 || x.score > c.best[at].score) {
				at = k
			}
		}
		return at
	}
	if long = 0; c.best[0] == nil {
		long = best(-1)
	}
	if short = best(long); short < 0 {
		short = long
	}
	return long, short
}

// summed is what the windows' facts are in the mean, by what speaks for each; the
// cluster's pitch and stretch are found along.
func (p *pooled) summed(cl *cluster) []float64 {
	var all, weight, cents, sq float64
	means := make([]float64, len(cl.top.facts))
	cl.from, cl.to = math.Inf(1), math.Inf(-1)
	for k, x := range cl.best {
		if x == nil {
			continue
		}
		w := math.Exp(min(6, x.score))
		all += w
		for i, f := range x.facts {
			means[i] += w * f
		}
		w *= p.windows[k].half
		at := x.cents + lean(x.path)
		weight += w
		cents += w * at
		sq += w * at * at
		if x.score > cl.top.score-1.5 {
			cl.from, cl.to = min(cl.from, p.windows[k].in.Start), max(cl.to, p.windows[k].in.End)
		}
	}
	for i := range means {
		means[i] /= all
	}
	cl.cents = cents / weight
	cl.spread = math.Sqrt(max(0, sq/weight-cl.cents*cl.cents))
	return means
}

// Places of facts: of a guess, and of a cluster.
const (
	factOwn, factTone                 = 11, 12
	factNearer, factTwin, factOutdone = 7, 8, 9
	factLead                          = 13
)

// coincide: low partials of two notes lie within agrees.
func coincide(a, b float64) bool {
	for i := 1.0; i <= 6; i++ {
		for j := 1.0; j <= 6; j++ {
			if math.Abs(1200*math.Log2(a*i/(b*j))) <= agrees {
				return true
			}
		}
	}
	return false
}

// Windows: a long one tells pitches apart, short ones catch who comes late or
// stops early, and what they agree on is seldom wrong. In seconds.
const (
	longSpan, shortSpan = 2.0, 1.1
	shortSpans          = 4
	leadIn              = 0.25
)

// spans are the windows of a stretch.
func spans(from, to float64) [][2]float64 {
	if to-from <= shortSpan {
		return [][2]float64{{from, to}}
	}
	out := [][2]float64{{from, min(to, from+longSpan)}}
	first, last := from-leadIn, min(to, from+longSpan+leadIn)-shortSpan
	for i := range shortSpans {
		at := first + (last-first)*float64(i)/(shortSpans-1)
		out = append(out, [2]float64{at, at + shortSpan})
	}
	return out
}

// Figures of what is believed before.
const (
	elsewhereShare = 0.2 // of chairs do not stand where they were believed
	elsewhereCents = 50.0
	noteSD         = 1.0 // cents from one note to the next
)

// before is the log of how much likelier a pitch is than without any belief.
func before(c *Chair, cents float64) float64 {
	if c.Doubt == 0 {
		return 0
	}
	sd := math.Hypot(float64(c.Doubt), noteSD)
	d := (cents - float64(c.Believed)) / sd
	at := math.Exp(-d*d/2) / (sd * math.Sqrt(2*math.Pi))
	return math.Log((1-elsewhereShare)*at*elsewhereCents + elsewhereShare)
}
