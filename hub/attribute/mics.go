package attribute

import "math"

// balanceMics re-estimates the microphones' sensitivities by reciprocity: the
// way from bell a to microphone b is about as long as from bell b to
// microphone a, so the ratio of what each loses on it is the square of the
// ratio of sensitivities.
func (m *model) balanceMics() {
	n := len(m.paths)
	loss := make([][]float64, n)
	for a := range n {
		loss[a] = make([]float64, n)
		for b := range n {
			loss[a][b] = m.loss(a, b)
		}
	}
	log := make([]float64, n)
	for range balancing {
		for a := range n {
			sum, count := 0.0, 0.0
			for b := range n {
				if a != b && m.in[a] && m.in[b] && loss[a][b] != 0 && loss[b][a] != 0 {
					sum += log[b] + (loss[b][a]-loss[a][b])/2
					count++
				}
			}
			if count > 0 {
				log[a] = 0.5*log[a] + 0.5*sum/count
			}
		}
	}
	for a := range n {
		if m.in[a] {
			m.gain[a] = math.Pow(10, log[a]/10)
		}
	}
}

// balancing is how often the pairwise ratios are averaged out; the average
// halves its distance each time.
const balancing = 20

// loss is the level, in dB, of chair a's sound at microphone b relative to its
// own microphone, over the lines both heard; 0 when unknown.
func (m *model) loss(a, b int) float64 {
	p, q := 0.0, 0.0
	for i := range m.lines {
		l := &m.lines[i]
		if l.n[a] > 0 && l.mics[a].y != nil && l.mics[b].y != nil {
			p += power(l.mics[a].g[a])
			q += power(l.mics[b].g[a])
		}
	}
	if p == 0 || q == 0 {
		return 0
	}
	return max(-40, min(40, db(q/p)))
}
