package web

import (
	"fmt"
	"math"
	"strings"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Board is a Row made ready to draw: every mark has its place, every small
// print its words. It is what /api/row and /ws/row send.
type Board struct {
	hub.Row
	Chairs []Chair `json:"chairs"` // takes the place of Row.Chairs
	Scale  Scale   `json:"scale"`
	// Used is the time since the first call, in words.
	Used string `json:"used,omitempty"`
	// Count sums up the round: "7 of 11 set".
	Count string `json:"count"`
	// Left is what remains to be done, in words, empty when nothing does.
	Left   string       `json:"left,omitempty"`
	Spread string       `json:"spread,omitempty"`
	Calls  []CallButton `json:"calls"`
}

// Scale is the ruler over the row.
type Scale struct {
	// MM is how many millimetres of slide lie between the common line and
	// either edge of the drawing.
	MM    float64 `json:"mm"`
	Ticks []Tick  `json:"ticks"`
}

// Tick is one graduation of the ruler; At in percent of the drawing's width.
type Tick struct {
	At    float64 `json:"at"`
	Label string  `json:"label,omitempty"`
}

// Chair is a ChairRow with its place on the drawing.
type Chair struct {
	hub.ChairRow
	Mark *Mark `json:"mark,omitempty"`
	// Verb and Distance are the move in large type: "pull", "6". SlideName
	// says which.
	Verb      string `json:"verb,omitempty"`
	Distance  string `json:"distance,omitempty"`
	SlideName string `json:"slide_name,omitempty"`
	// Word is the chair's one word where there is no move: "set", "waiting".
	Word string `json:"word"`
	// Small is the small print: "+14 ±2 cents"; Was the earlier readings.
	Small string `json:"small,omitempty"`
	Was   string `json:"was,omitempty"`
}

// Mark places a chair's slide against the common line. All are in percent of
// the drawing's width; the line is at 50.
type Mark struct {
	// At is where the slide stands. Left of 50: too far in, to be pulled.
	At float64 `json:"at"`
	// Low and High bound the doubt.
	Low  float64 `json:"low"`
	High float64 `json:"high"`
	// Over is true when the slide stands beyond the edge of the drawing.
	Over bool `json:"over,omitempty"`
}

// CallButton is one call offered on the bar.
type CallButton struct {
	Label string   `json:"label"`
	Call  hub.Call `json:"call"`
}

// NewBoard lays out a row.
func NewBoard(r hub.Row, s hub.Section) Board {
	b := Board{Row: r, Chairs: make([]Chair, len(r.Chairs)), Calls: callsOf(s)}
	b.Scale = scaleFor(r.Chairs)
	for i, c := range r.Chairs {
		b.Chairs[i] = newChair(c, b.Scale.MM)
	}
	b.Row.Chairs = nil
	if r.Round != nil {
		b.Used = minutes(r.Round.UsedSeconds)
	}
	b.Count = fmt.Sprintf("%d of %d set", r.Section.Set, r.Section.Present)
	b.Left = leftOf(r)
	if r.Section.SpreadCents != nil && r.Section.Heard > 1 {
		b.Spread = fmt.Sprintf("spread %.0f cents", *r.Section.SpreadCents)
	}
	return b
}

// HideNames takes the players' names out, for screens that others can see.
func (b *Board) HideNames() {
	for i := range b.Chairs {
		b.Chairs[i].Name = ""
	}
}

func newChair(c hub.ChairRow, scale float64) Chair {
	out := Chair{ChairRow: c, Word: wordOf(c)}
	if c.Cents != nil {
		out.Small = centsText(*c.Cents, c.CI)
	}
	if len(c.History) > 0 {
		out.Was = "before: " + centsList(c.History)
	}
	if m, ok := firstMove(c); ok && c.Verdict != "doubt" {
		d := m.ToMM - m.FromMM
		out.Verb, out.Distance, out.SlideName = verbOf(d), distance(d), m.Name
		out.Mark = markOf(c, d, scale)
	} else if c.Verdict == "set" {
		out.Mark = &Mark{At: 50, Low: 50, High: 50}
	}
	return out
}

// firstMove returns the first slide in Moves that really moves, by more than
// half a millimetre: less cannot be set by hand.
func firstMove(c hub.ChairRow) (proto.Slide, bool) {
	for _, m := range c.Moves {
		if math.Abs(m.ToMM-m.FromMM) >= 0.5 && m.ID != instrument.Bell {
			return m, true
		}
	}
	return proto.Slide{}, false
}

// markOf places a slide that has d mm to go, positive out. A slide that must
// be pulled stands left of the line. The doubt is the reading's interval
// turned into millimetres at the rate of the move itself.
func markOf(c hub.ChairRow, d, scale float64) *Mark {
	doubt := 0.0
	if c.Cents != nil && c.CI != nil && math.Abs(*c.Cents) >= 1 {
		doubt = math.Abs(d / *c.Cents) * *c.CI
	}
	m := &Mark{At: place(-d, scale), Low: place(-d-doubt, scale), High: place(-d+doubt, scale)}
	m.Over = math.Abs(d) > scale
	return m
}

// place turns mm past the line into percent of the width, inside the drawing.
func place(mm, scale float64) float64 {
	p := 50 + 48*mm/scale // 48: a slide at the edge of the scale still shows its bow
	return math.Round(10*min(max(p, 1), 99)) / 10
}

// scales are the rulers, in mm either side, and the step of their labels.
var scales = []struct{ mm, step float64 }{{10, 5}, {20, 10}, {40, 20}, {80, 40}}

func scaleFor(chairs []hub.ChairRow) Scale {
	most := 0.0
	for _, c := range chairs {
		if m, ok := firstMove(c); ok {
			most = max(most, math.Abs(m.ToMM-m.FromMM))
		}
	}
	pick := scales[len(scales)-1]
	for _, s := range scales {
		if most <= s.mm {
			pick = s
			break
		}
	}
	out := Scale{MM: pick.mm}
	fine := pick.step / 5
	for i := -int(pick.mm / fine); i <= int(pick.mm/fine); i++ {
		t := Tick{At: place(float64(i)*fine, pick.mm)}
		if i%5 == 0 && i != 0 {
			t.Label = distance(float64(i) * fine)
		}
		out.Ticks = append(out.Ticks, t)
	}
	return out
}

func verbOf(d float64) string {
	if d < 0 {
		return "push"
	}
	return "pull"
}

// distance writes millimetres as a slide can be set: whole ones, and halves
// below three.
func distance(d float64) string {
	d = math.Abs(d)
	if d < 3 {
		half := math.Round(2*d) / 2
		whole := math.Floor(half)
		switch {
		case half == whole:
			return fmt.Sprintf("%.0f", whole)
		case whole == 0:
			return "½"
		default:
			return fmt.Sprintf("%.0f½", whole)
		}
	}
	return fmt.Sprintf("%.0f", d)
}

// wordOf is one word for a chair without a move.
func wordOf(c hub.ChairRow) string {
	switch {
	case c.State == "absent":
		return "absent"
	case c.Verdict == "set":
		return "set"
	case c.Verdict == "doubt":
		return "doubt"
	}
	words := map[string]string{"away": "no laptop", "idle": "ready", "wait": "waits",
		"turn": "plays now", "sounding": "sounding", "resting": "sounding", "heard": "heard",
		"overheard": "overheard", "unsettled": "again"}
	return words[c.State]
}

// centsText is the small print of a reading: "+14 ±2 cents", "in tune ±2 cents".
func centsText(cents float64, ci *float64) string {
	s := signed(cents)
	if ci != nil {
		s += fmt.Sprintf(" ±%.0f", max(1, math.Round(*ci)))
	}
	return s + " cents"
}

// signed writes a rounded number with a sign, using the true minus.
func signed(x float64) string {
	switch n := math.Round(x); {
	case n > 0:
		return fmt.Sprintf("+%.0f", n)
	case n < 0:
		return fmt.Sprintf("−%.0f", -n)
	}
	return "0"
}

func centsList(xs []float64) string {
	parts := make([]string, len(xs))
	for i, x := range xs {
		parts[i] = signed(x)
	}
	return strings.Join(parts, ", ")
}

// minutes writes a duration as people say it in a rehearsal.
func minutes(s float64) string {
	switch m := int(s / 60); {
	case s <= 0:
		return ""
	case m == 0:
		return "under a minute"
	default:
		return fmt.Sprintf("%d min", m)
	}
}

func leftOf(r hub.Row) string {
	if r.Round == nil || r.Round.Done {
		return ""
	}
	switch n := r.Section.Present - r.Section.Heard; {
	case n <= 0:
		return ""
	case n == 1:
		return "1 still to hear"
	default:
		return fmt.Sprintf("%d still to hear", n)
	}
}

func callsOf(s hub.Section) []CallButton {
	out := make([]CallButton, 0, len(s.TuningNotes))
	for _, n := range s.TuningNotes {
		out = append(out, CallButton{n.ClassName(), hub.Call{Kind: hub.CallNote, Note: n, Tones: map[hub.ChairID]pitch.Note{}}})
	}
	return out
}
