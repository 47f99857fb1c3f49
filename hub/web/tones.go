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
	"bellrow/proto/phrase"
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
	Tone    string     `json:"tone"`    // "third"; empty for none of the chord's
	Label   string     `json:"label"`   // the same in the section's language
	Now     bool       `json:"now,omitempty"`
}

// ChordSheet is a chord before it is called: its tones, and which of them each
// chair could play.
type ChordSheet struct {
	Name   string       `json:"name"`         // as hub.Call.Chord takes it
	Label  string       `json:"label"`        // as the section names notes
	Or     []OtherChord `json:"or,omitempty"` // what else was perhaps meant
	Tones  []string     `json:"tones"`        // from the root up, as ToneChoice has them
	Root   pitch.Note   `json:"root"`         // in the octave from C3, to be sounded
	Bass   string       `json:"bass"`         // the tone that should lie lowest
	Chairs []ChairTones `json:"chairs"`
}

// OtherChord is what the written name of a chord means to other readers.
type OtherChord struct {
	Name  string `json:"name"`
	Label string `json:"label"`
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
	Roots  [12]string `json:"roots"`  // by pitch class, C first
	Labels [12]string `json:"labels"` // the same as the section names notes
	Label  string     `json:"label"`  // the kind in the section's language
	Fold   string     `json:"fold"`   // its family
}

// getChords answers with every kind of chord, in the order of the page.
func (s *Server) getChords(w http.ResponseWriter, r *http.Request) {
	page.JSON(w, http.StatusOK, kindChoices(s.tongue()))
}

func kindChoices(t phrase.Tongue) []KindChoice {
	var out []KindChoice
	for _, k := range intonation.Kinds() {
		c := KindChoice{Kind: k, Label: t.Say("kind." + string(k.Quality)), Fold: t.Say("kind.family." + string(k.Family))}
		for class := range c.Roots {
			root := intonation.Chord{Root: class, Quality: k.Quality}.RootName()
			c.Roots[class], c.Labels[class] = root.Display(), t.Notes.Naming.Both(root)
		}
		out = append(out, c)
	}
	return out
}

// getChord answers with the sheet of the chord that is asked for by name, or by
// the text that somebody wrote in the section's names of notes.
func (s *Server) getChord(w http.ResponseWriter, r *http.Request) {
	sec, t := s.hub.Section(), s.tongue()
	name, or, err := readChord(r, t)
	var p tuneup.Proposal
	if err == nil {
		p, err = s.hub.Propose(name)
	}
	if err != nil {
		s.fail(w, r, err)
		return
	}
	sheet := sheetOf(p, sec, t)
	sheet.Or = or
	page.JSON(w, http.StatusOK, sheet)
}

// readChord returns the name of the chord that is asked for, and what else the
// text could mean.
func readChord(r *http.Request, t phrase.Tongue) (name string, or []OtherChord, err error) {
	text := r.FormValue("text")
	if text == "" {
		return r.FormValue("name"), nil, nil
	}
	p, err := intonation.ParseChordIn(t.Notes.Naming, text)
	if err != nil {
		return "", nil, err
	}
	for _, c := range p.Or {
		or = append(or, OtherChord{c.Name(), otherName(c, t)})
	}
	return p.Chord.Name(), or, nil
}

// otherName names a chord that readers of other languages mean: "H major (B
// natural)".
func otherName(c intonation.Chord, t phrase.Tongue) string {
	if root := c.RootName(); root == (pitch.Name{Letter: 'B'}) && t.Notes.Naming.Name(root) != "B" {
		return t.Say("row.chords.b-natural", c.SayIn(t))
	}
	return c.SayIn(t)
}

func sheetOf(p tuneup.Proposal, s hub.Section, t phrase.Tongue) ChordSheet {
	sheet := ChordSheet{Name: p.Chord.Name(), Label: p.Chord.SayIn(t), Bass: p.Chord.Bass().Name, Root: pitch.Note(48 + p.Chord.Root), Chairs: []ChairTones{}}
	for _, tone := range p.Chord.Tones() {
		sheet.Tones = append(sheet.Tones, tone.Name)
	}
	chairs := slices.SortedStableFunc(slices.Values(s.Chairs), func(a, b hub.Chair) int {
		return cmp.Or(cmp.Compare(a.Row, b.Row), cmp.Compare(a.Place, b.Place))
	})
	for _, c := range chairs {
		in, err := instrument.Find(c.Instrument)
		note, plays := p.Tones[c.ID]
		if err == nil && plays {
			sheet.Chairs = append(sheet.Chairs, ChairTones{c.ID, c.Label, tonesIn(p.Chord, in, note, t)})
		}
	}
	return sheet
}

// tonesOf lists, for each chair of a chord call, the notes of the chord
// within its usual range, so that the leader can hand them out differently.
func tonesOf(r show.Row, s hub.Section, t phrase.Tongue) map[hub.ChairID][]ToneChoice {
	if r.Round == nil || r.Round.Chord == "" || r.Round.Done {
		return nil
	}
	chord, err := intonation.ParseChord(r.Round.Chord)
	if err != nil {
		return nil // the hub has taken it; a name only it can read offers no choice
	}
	now := map[hub.ChairID]pitch.Note{}
	for _, c := range r.Chairs {
		now[c.ID] = c.Note
	}
	out := map[hub.ChairID][]ToneChoice{}
	for _, c := range s.Chairs {
		in, err := instrument.Find(c.Instrument)
		if note := now[c.ID]; err == nil && note != 0 {
			out[c.ID] = tonesIn(chord, in, note, t)
		}
	}
	return out
}

// tonesIn lists the notes of a chord within the usual range of an instrument,
// and the one that is played now wherever it lies.
func tonesIn(chord intonation.Chord, in *instrument.Instrument, now pitch.Note, t phrase.Tongue) []ToneChoice {
	var out []ToneChoice
	for n := min(in.Low, now); n <= max(in.Top(), now); n++ {
		tone, ok := chord.Tone(n)
		if n == now || ok && n >= in.Low && n <= in.Top() {
			out = append(out, ToneChoice{n, t.Notes.Note(chord.SpellWritten(n, in.Transposition)), tone.Name, t.Say("row.tone." + cmp.Or(tone.Name, "none")), n == now})
		}
	}
	return out
}
