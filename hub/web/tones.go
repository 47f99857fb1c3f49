package web

import (
	"cmp"
	"net/http"
	"slices"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto/instrument"
	"bellrow/proto/page"
	"bellrow/proto/pitch"
)

// Chords is what the choice of a chord needs of the hub.
type Chords interface {
	// Propose hands the tones of a chord, by its name, out to the chairs.
	Propose(chord string) (tuneup.Proposal, error)
}

// ToneChoice is one note of a chord as a chair would play it.
type ToneChoice struct {
	Note    pitch.Note `json:"note"`
	Written string     `json:"written"` // "E4"
	Tone    string     `json:"tone"`    // "third"
	Now     bool       `json:"now,omitempty"`
}

// ChordSheet is a chord before it is called: its tones, and which of them each
// chair could play.
type ChordSheet struct {
	Name   string       `json:"name"`
	Tones  []string     `json:"tones"` // from the root up
	Bass   string       `json:"bass"`  // the tone that should lie lowest
	Chairs []ChairTones `json:"chairs"`
}

// ChairTones is one chair on a ChordSheet.
type ChairTones struct {
	ID    hub.ChairID  `json:"id"`
	Label string       `json:"label"`
	Tones []ToneChoice `json:"tones"` // low to high
}

// KindChoice is a kind of chord that can be called, with the names of its
// roots: a minor chord stands on C♯ where a major one stands on D♭.
type KindChoice struct {
	intonation.Kind
	Roots [12]string `json:"roots"` // by pitch class, C first
}

// getChords answers with every kind of chord, in the order of the page.
func (s *Server) getChords(w http.ResponseWriter, r *http.Request) {
	page.JSON(w, http.StatusOK, kindChoices())
}

func kindChoices() []KindChoice {
	var out []KindChoice
	for _, k := range intonation.Kinds() {
		c := KindChoice{Kind: k}
		for class := range c.Roots {
			c.Roots[class] = intonation.Chord{Root: class, Quality: k.Quality}.RootName().Display()
		}
		out = append(out, c)
	}
	return out
}

// getChord answers with the sheet of the chord that is asked for by name.
func (s *Server) getChord(w http.ResponseWriter, r *http.Request) {
	p, err := s.hub.Propose(r.FormValue("name"))
	if err != nil {
		s.fail(w, r, err)
		return
	}
	page.JSON(w, http.StatusOK, sheetOf(p, s.hub.Section()))
}

func sheetOf(p tuneup.Proposal, s hub.Section) ChordSheet {
	sheet := ChordSheet{Name: p.Chord.Name(), Bass: p.Chord.Bass().Name, Chairs: []ChairTones{}}
	for _, t := range p.Chord.Tones() {
		sheet.Tones = append(sheet.Tones, t.Name)
	}
	chairs := slices.SortedStableFunc(slices.Values(s.Chairs), func(a, b hub.Chair) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Place, b.Place))
	})
	for _, c := range chairs {
		in, err := instrument.Find(c.Instrument)
		note, plays := p.Tones[c.ID]
		if err == nil && plays {
			sheet.Chairs = append(sheet.Chairs, ChairTones{c.ID, c.Label, tonesIn(p.Chord, in, note)})
		}
	}
	return sheet
}

// tonesOf lists, for each chair of a chord call, the notes of the chord
// within its usual range, so that the leader can hand them out differently.
func tonesOf(r show.Row, s hub.Section) map[hub.ChairID][]ToneChoice {
	if r.Round == nil || r.Round.Chord == "" || r.Round.Done {
		return nil
	}
	chord, err := intonation.ParseChord(r.Round.Chord)
	if err != nil {
		return nil // the hub has taken it; a name only it can read offers no choice
	}
	now := map[hub.ChairID]string{}
	for _, c := range r.Chairs {
		now[c.ID] = c.Concert
	}
	out := map[hub.ChairID][]ToneChoice{}
	for _, c := range s.Chairs {
		in, err := instrument.Find(c.Instrument)
		note, noteErr := pitch.ParseNote(now[c.ID])
		if err == nil && noteErr == nil {
			out[c.ID] = tonesIn(chord, in, note)
		}
	}
	return out
}

// tonesIn lists the notes of a chord within the usual range of an instrument,
// and the one that is played now wherever it lies.
func tonesIn(chord intonation.Chord, in *instrument.Instrument, now pitch.Note) []ToneChoice {
	var out []ToneChoice
	for n := min(in.Low, now); n <= max(in.High, now); n++ {
		t, ok := chord.Tone(n)
		if n == now && !ok {
			t.Name, ok = "not in the chord", true
		}
		if ok && (n == now || n >= in.Low && n <= in.High) {
			out = append(out, ToneChoice{n, chord.SpellWritten(n, in.Transposition).Display(), t.Name, n == now})
		}
	}
	return out
}
