package piece

import (
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
	"slices"
)

// View is the open piece as the leader's page shows it.
type View struct {
	Title  string  `json:"title"`
	Bars   int     `json:"bars"`
	Parts  []Part  `json:"parts"`
	Seats  []Seat  `json:"seats"` // in seating order
	Chords []Chord `json:"chords"`
	// Next is the index in Chords of what DoNextSonority calls, len(Chords) at
	// the end.
	Next int `json:"next"`
	// Remarks says what was left out or guessed, in sentences.
	Remarks []string `json:"remarks,omitempty"`
}

// Part is one part of the score.
type Part struct {
	Name string `json:"name"`
	// Instrument is what it seems to be written for, empty when unknown.
	Instrument string `json:"instrument,omitempty"`
	// Could holds what else its name could mean, the likeliest first, where the
	// leader is to be asked; Said is the leader's answer. Of an Unknown part, which
	// no instrument of the catalogue goes by, it holds the instruments that are here.
	Could   []Could       `json:"could,omitempty"`
	Unknown bool          `json:"unknown,omitempty"`
	Said    instrument.ID `json:"said,omitempty"`
}

// Could is an instrument that a part could be written for.
type Could struct {
	ID   instrument.ID `json:"id"`
	Name string        `json:"name"`
}

// Seat says which part a chair plays.
type Seat struct {
	Chair      int64  `json:"chair"`
	Label      string `json:"label"`
	Name       string `json:"name,omitempty"`
	Instrument string `json:"instrument"`
	Part       int    `json:"part"` // index in Parts, -1 for none
	Absent     bool   `json:"absent,omitempty"`
}

// Chord is one held sonority.
type Chord struct {
	Bar  string `json:"bar"`
	When string `json:"when"` // "at the start, for a half note"
	// Name is the likeliest chord, Others what else the notes can be called.
	Name   string      `json:"name"`
	Others []OtherName `json:"others,omitempty"`
	Tones  []Tone      `json:"tones"`
	// Why says why it cannot be called, empty when it can.
	Why string `json:"why,omitempty"`
}

// OtherName is what else a chord can be called.
type OtherName struct {
	Name  string `json:"name"`  // as Piece.Call takes it
	Label string `json:"label"` // with the notes named in the view's style
}

// Tone is one chair's note of a chord.
type Tone struct {
	Label   string `json:"label"`
	Written string `json:"written"`
	Concert string `json:"concert"`
}

// Row is what the row says of the open piece.
type Row struct {
	Title string `json:"title"`
	Next  string `json:"next,omitempty"` // "bar 12, F major", empty at the end
}

// View shows the piece in English with notes named in a style, and lengths counted
// in quarter notes as the command line takes them; see ViewIn.
func (p *Piece) View(chairs []Chair, y pitch.Style) View {
	return p.ViewIn(chairs, phrase.Leader.In(quarters, y))
}

// quarters is English that calls a quarter note so.
const quarters = "en-US"

// ViewIn shows the piece to a section whose chairs are in seating order, in a tongue.
func (p *Piece) ViewIn(chairs []Chair, t phrase.Tongue) View {
	out := View{Title: p.title(t), Bars: len(p.score.Bars), Next: p.next, Chords: make([]Chord, 0, len(p.list)), Remarks: p.remarks(t)}
	for i, part := range p.score.Parts {
		pp := Part{Name: part.Name, Said: p.said[i]}
		if id, ok := p.writtenFor(i); ok {
			if in, err := instrument.Find(id); err == nil {
				pp.Instrument = t.Instrument(in.Name)
			}
		}
		pp.Could, pp.Unknown = could(part, chairs, t)
		if pp.Unknown && !p.sounds(i) { // drums, or a part that rests
			pp.Could, pp.Unknown = nil, false
		}
		out.Parts = append(out.Parts, pp)
	}
	for _, c := range chairs {
		seat := Seat{Chair: c.ID, Label: c.Label, Name: c.Name, Part: -1, Absent: c.Absent}
		if part, plays := p.seats[c.ID]; plays {
			seat.Part = part
		}
		if in, err := instrument.Find(c.Instrument); err == nil {
			seat.Instrument = t.Instrument(in.Name)
		}
		out.Seats = append(out.Seats, seat)
	}
	for _, x := range p.list {
		out.Chords = append(out.Chords, p.chord(x, chairs, t))
	}
	return out
}

// could lists what a part could be written for, where its name or its transposition
// leaves that open, and whether it tells nothing at all.
func could(part score.Part, chairs []Chair, t phrase.Tongue) (could []Could, unknown bool) {
	in := part.Instruments()
	ids := in.IDs
	switch in.Doubt {
	case score.DoubtSeveral, score.DoubtDisagree:
		if len(ids) < 2 {
			return nil, false
		}
	case score.DoubtUnknown:
		unknown = true
		for _, c := range chairs {
			if !slices.Contains(ids, c.Instrument) {
				ids = append(ids, c.Instrument)
			}
		}
	default:
		return nil, false
	}
	for _, id := range ids {
		if i, err := instrument.Find(id); err == nil {
			could = append(could, Could{id, t.Instrument(i.Name)})
		}
	}
	return could, unknown
}

// sounds reports whether a part has a note in any held chord.
func (p *Piece) sounds(part int) bool {
	return slices.ContainsFunc(p.list, func(x score.Sonority) bool {
		return slices.ContainsFunc(x.Tones, func(n score.PartNote) bool { return n.Part == part })
	})
}

func (p *Piece) title(t phrase.Tongue) string {
	if p.score.Title == "" {
		return t.Say("piece.untitled")
	}
	return p.score.Title
}

func (p *Piece) chord(x score.Sonority, chairs []Chair, t phrase.Tongue) Chord {
	c := Chord{Bar: p.score.Bars[x.Bar].Number, When: when(x, t), Name: sonorityName(x, t), Tones: []Tone{}}
	if len(x.Chords) > 1 && !oneClass(x) {
		for _, other := range x.Chords[1:] {
			c.Others = append(c.Others, OtherName{other.Name(), other.SayIn(t)})
		}
	}
	tones := p.tones(x, chairs)
	for _, ch := range chairs {
		n, plays := tones[ch.ID]
		if !plays {
			continue
		}
		transposition := 0
		if in, err := instrument.Find(ch.Instrument); err == nil {
			transposition = in.Transposition
		}
		sounding, written := x.Names(p.seats[ch.ID], n, transposition)
		c.Tones = append(c.Tones, Tone{Label: ch.Label, Written: t.Notes.Both(written), Concert: t.Notes.Both(sounding)})
	}
	switch {
	case len(tones) == 0:
		c.Why = t.Say("piece.why.nobody")
	case len(x.Chords) == 0 && !oneClass(x):
		c.Why = t.Say("piece.why.none")
	}
	return c
}

// Row is what the row says of the piece in a tongue.
func (p *Piece) Row(t phrase.Tongue) Row {
	r := Row{Title: p.title(t)}
	if p.next < len(p.list) {
		x := p.list[p.next]
		r.Next = t.Say("piece.bar", p.score.Bars[x.Bar].Number) + ", " + sonorityName(x, t)
	}
	return r
}
