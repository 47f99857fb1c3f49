package report

import (
	"cmp"
	"math"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/history"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

const (
	// headSeconds is the middle of the stretch that a reading's start is
	// measured over, in seconds from the onset.
	headSeconds = 0.21
	// watchCents is how far a note heard while the section played may lie from
	// a tempered one to be taken for it: further off it may be another.
	watchCents = 40
	// watchSecondDB is how loud another source may be beside a note heard while
	// the section played: a louder one may be the neighbour's note altogether.
	watchSecondDB = -10
)

// Players turns the records into what hub/history reads, in the order of the
// section's chairs. Rehearsals are days in the time zone of this computer.
func Players(r Records) []history.Player {
	out := make([]history.Player, len(r.Section.Chairs))
	seat := map[hub.ChairID]*seated{}
	for i, c := range r.Section.Chairs {
		out[i].Label = c.Label
		seat[c.ID] = newSeated(&out[i], c)
	}
	for _, s := range r.Settings {
		if st := seat[s.Chair]; st != nil {
			st.stood(s)
		}
	}
	for _, x := range r.Figures {
		if st := seat[x.Chair]; st != nil {
			st.reading(x, r.Section.Reference)
		}
	}
	for _, m := range r.Moves {
		if st := seat[m.Chair]; st != nil && m.FollowThrough != "" && !m.Withdrawn {
			st.p.Moves = append(st.p.Moves, history.Move{At: m.At.Local(), Expected: m.Expected, Measured: m.Measured, Went: m.FollowThrough == string(slide.Went)})
		}
	}
	return out
}

// seated is a player on the way from the records, with the instrument.
type seated struct {
	p      *history.Player
	in     *instrument.Instrument // nil when it is not in the catalogue
	usual  float64
	slides map[instrument.SlideID][]stand
	paths  map[pitch.Note]instrument.Path
}

// stand is where a slide stood from a moment on.
type stand struct {
	at time.Time
	mm float64
}

func newSeated(p *history.Player, c hub.Chair) *seated {
	s := &seated{p: p, slides: map[instrument.SlideID][]stand{}, paths: map[pitch.Note]instrument.Path{}}
	if in, err := instrument.Find(c.Instrument); err == nil {
		s.in = in
		s.usual = in.MM(nil, instrument.Main)
	}
	return s
}

// stood takes a setting; oldest first.
func (s *seated) stood(r hub.SettingRecord) {
	s.slides[r.Slide] = append(s.slides[r.Slide], stand{r.At, r.MM})
	if r.Slide == instrument.Main {
		s.p.Settings = append(s.p.Settings, history.Setting{At: r.At.Local(), MM: r.MM})
	}
}

// mainAt is where the main slide stood.
func (s *seated) mainAt(at time.Time) float64 {
	stands := s.slides[instrument.Main]
	i, found := slices.BinarySearchFunc(stands, at, func(x stand, t time.Time) int { return x.at.Compare(t) })
	switch {
	case found:
		return stands[i].mm
	case i == 0:
		return s.usual
	}
	return stands[i-1].mm
}

// reading takes what was judged, and what settled while the section played.
func (s *seated) reading(f hub.Figures, ref pitch.Reference) {
	if s.in == nil || !s.in.Tuned() { // what history learns is of slides
		return
	}
	x := history.Reading{
		At: f.At.Local(), Note: f.Note, Offset: f.Cents, Level: f.Level, Early: f.Early,
		Drift: f.Drift, Lead: max(0, f.Middle-headSeconds), Played: f.Played, Watch: f.Watch, Mute: f.Mute,
	}
	if f.Watch {
		if !f.Hz.Valid() || f.Second > watchSecondDB {
			return
		}
		x.Note, x.Offset = ref.Nearest(f.Hz)
		if math.Abs(float64(x.Offset)) > watchCents {
			return
		}
	}
	path, known := s.paths[x.Note]
	if !known {
		if ps := s.in.Paths(x.Note); len(ps) > 0 {
			path = ps[0]
		}
		s.paths[x.Note] = path
	}
	x.Theory = s.in.Nature(path)
	x.MainMM, x.UsualMM = s.mainAt(x.At), s.usual
	x.CentsPerMM = float64(s.in.CentsPerMM(path, instrument.Main, instrument.Settings{instrument.Main: x.MainMM}))
	s.p.Readings = append(s.p.Readings, x)
}

// byDate sorts the keys of a map of dates.
func byDate[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, cmp.Compare[string])
	return keys
}
