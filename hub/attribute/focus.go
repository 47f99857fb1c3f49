package attribute

// focus limits a trial to a few chairs, the others standing as they are, and
// to a few microphones. The zero value is everything.
type focus struct {
	on     bool
	chairs []bool
	mics   []bool // nil = all
}

func (f *focus) solves(c int) bool { return !f.on || f.chairs[c] }

func (f *focus) hears(c int) bool { return f.mics == nil || f.mics[c] }

// look sets the focus: what the marked chairs explain now, with what is left
// over, is what they will explain anew.
func (m *model) look(chairs, mics []bool) {
	m.focus = focus{true, chairs, mics}
	for i := range m.lines[:m.use] {
		l := &m.lines[i]
		for c := range l.mics {
			h := &l.mics[c]
			if h.y == nil || !m.focus.hears(c) {
				continue
			}
			h.base = append(h.base[:0], h.r...)
			for o, on := range chairs {
				if on && h.g[o] != 0 {
					add(h.base, l.b[o], h.g[o])
				}
			}
		}
	}
}
