package hub

import (
	"maps"
	"slices"
)

// Clone returns a copy that shares no memory.
func (s Section) Clone() Section {
	s.TuningNotes = slices.Clone(s.TuningNotes)
	s.Chairs = slices.Clone(s.Chairs)
	for i := range s.Chairs {
		s.Chairs[i] = s.Chairs[i].Clone()
	}
	return s
}

// Clone returns a copy that shares no memory.
func (c Chair) Clone() Chair {
	c.Settings = maps.Clone(c.Settings)
	c.Travel = maps.Clone(c.Travel)
	return c
}

// Clone returns a copy that shares no memory.
func (r Round) Clone() Round {
	r.Queue = slices.Clone(r.Queue)
	r.After = maps.Clone(r.After)
	r.Passed = slices.Clone(r.Passed)
	r.Alone = slices.Clone(r.Alone)
	r.Groups = slices.Clone(r.Groups) // of which nobody changes one
	r.Call.Tones = maps.Clone(r.Call.Tones)
	r.Call.Fingerings = maps.Clone(r.Call.Fingerings)
	r.Call.Several = maps.Clone(r.Call.Several) // whose notes nobody changes
	r.Call.Heads = maps.Clone(r.Call.Heads)     // whose keys nobody changes
	if r.AsOne != nil {
		v := *r.AsOne
		r.AsOne = &v
	}
	r.Unheard = maps.Clone(r.Unheard)
	if r.Parted != nil {
		v := *r.Parted
		r.Parted = &v
	}
	return r
}

// Clone returns a copy that shares no memory.
func (r Reading) Clone() Reading {
	if r.Wire.Vibrato != nil {
		v := *r.Wire.Vibrato
		r.Wire.Vibrato = &v
	}
	if r.Wire.Second != nil {
		s := *r.Wire.Second
		r.Wire.Second = &s
	}
	if r.Wire.Path != nil {
		p := *r.Wire.Path
		p.Tenths = slices.Clone(p.Tenths)
		r.Wire.Path = &p
	}
	if r.Answer != nil {
		a := r.Answer.Clone()
		r.Answer = &a
	}
	return r
}
