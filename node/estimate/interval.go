package estimate

import "math"

// deviation returns the standard error of the louder source's mean pitch in
// cents, as the posterior has it: what noise and the other source leave open. What
// the wander leaves open is not in it.
func (m *model) deviation() (float64, bool) {
	a, row := m.equation.a, make([]float64, m.params())
	m.withPrior()
	if _, ok := a.factorize(); !ok {
		return 0, false
	}
	own := m.louder() * (m.wanders + 1)
	row[own] = 1
	a.solve(row)
	return math.Sqrt(max(0, row[own])), true
}
