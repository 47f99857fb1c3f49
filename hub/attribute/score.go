package attribute

// score is the log odds that facts speak of: a quadratic form, its weights
// constant first, then of the facts, then of their products.
func score(w, facts []float64) float64 {
	s := w[0]
	n := len(facts)
	at := 1 + n
	for i, f := range facts {
		s += w[1+i] * f
		for _, g := range facts[:i+1] {
			s += w[at] * f * g
			at++
		}
	}
	return s
}

// odds are the log odds that facts of a cluster speak of, its weights constant first.
func odds(w, facts []float64) float64 {
	s := w[0]
	for i, f := range facts {
		s += w[1+i] * f
	}
	return s
}
