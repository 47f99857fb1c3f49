package web

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Verdicts of a show.ChairRow that are drawn differently.
const (
	verdictSet   = "set"
	verdictNear  = "near"
	verdictDoubt = "doubt"
)

// Board is a Row made ready to draw: every mark has its place, every small
// print its words. It is what /api/row and /ws/row send.
type Board struct {
	show.Row
	Chairs []Chair `json:"chairs"` // takes the place of Row.Chairs
	Scale  Scale   `json:"scale"`
	// Language is what all of this is in, as a tag of BCP 47; empty for English.
	Language string `json:"language,omitempty"`
	// Used is the time since the first call, or that of the watch, in words.
	Used string `json:"used,omitempty"`
	// Count sums up the round: "7 of 11 set".
	Count string `json:"count"`
	// Left is what remains to be done, in words, empty when nothing does.
	Left   string `json:"left,omitempty"`
	Spread string `json:"spread,omitempty"`
	// Beside is what else there is to say of the section and the chord, without
	// what Say has said.
	Beside string       `json:"beside,omitempty"`
	Calls  []CallButton `json:"calls"`
	// ByWorth is set where turns go by what notes tell: a call may then be thorough.
	ByWorth bool `json:"by_worth,omitempty"`
	// Arc is set when the section sits in an arc and fits: then each chair has
	// its Spot.
	Arc bool `json:"arc,omitempty"`
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
	show.ChairRow
	Mark *Mark `json:"mark,omitempty"`
	Spot *Spot `json:"spot,omitempty"`
	// Verb and Distance are the move in large type: "pull", "6". SlideName
	// says which.
	Verb string `json:"verb,omitempty"`
	// Off says which way the note was off: "sharp".
	Off       string       `json:"off,omitempty"`
	Distance  string       `json:"distance,omitempty"`
	SlideName string       `json:"slide_name,omitempty"`
	Move      *proto.Slide `json:"move,omitempty"` // the same, as the hub has it
	// Word is the chair's one word where there is no move: "set", "waiting".
	Word string `json:"word"`
	// Small is the small print: "+14 ±2 cents"; Was the earlier readings.
	Small string `json:"small,omitempty"`
	Was   string `json:"was,omitempty"`
	// Stands says where the tuning slides stand.
	Stands string `json:"stands,omitempty"`
	// Tones are the notes this chair could take in the called chord.
	Tones []ToneChoice `json:"tones,omitempty"`
}

// Mark places a chair's slide against the common line. All are in percent of
// the drawing's width; the line is at 50.
type Mark struct {
	// At is where the slide stands. Left of 50: too far in, to be pulled.
	At float64 `json:"at"`
	// Low and High bound the doubt.
	Low  float64 `json:"low"`
	High float64 `json:"high"`
	// Go is true when it has to move: an arrow leads to the line.
	Go bool `json:"go,omitempty"`
	// Unheard is true when it was moved and no note has shown yet how well.
	Unheard bool `json:"unheard,omitempty"`
	// Over is true when the slide stands beyond the edge of the drawing.
	Over bool `json:"over,omitempty"`
}

// CallButton is one call offered on the bar.
type CallButton struct {
	Label string   `json:"label"`
	Call  hub.Call `json:"call"`
}

// NewBoard lays out a row.
func NewBoard(r show.Row, s hub.Section) Board {
	t := phrase.Leader.In(s.Language, s.Notes)
	b := Board{Row: r, Language: t.Language(), Chairs: make([]Chair, len(r.Chairs)), Calls: callsOf(s), ByWorth: s.Order.ByWorth()}
	marks := marksOf(r.Chairs, s)
	b.Scale = scaleFor(marks)
	tones := tonesOf(r, s, t)
	for i, c := range r.Chairs {
		b.Chairs[i] = newChair(c, t)
		b.Chairs[i].Mark = marks[i].on(b.Scale.MM)
		b.Chairs[i].Tones = tones[c.ID]
	}
	if s.Arc {
		b.seat(arcOf(r.Chairs))
	}
	b.Row.Chairs = nil
	if r.Round != nil {
		b.Used = soFar(minutes(r.Round.UsedSeconds, t), t)
	}
	if r.Section.Watching {
		b.Used = t.Say("row.watched", minutes(max(1, r.Section.WatchSeconds), t))
	}
	b.Count = t.Say("row.set-of", r.Section.Set, r.Section.Present)
	b.Left = leftOf(r, t)
	b.Beside = besides(r)
	if r.Section.SpreadCents != nil && r.Section.Heard > 1 {
		b.Spread = spreadOf(*r.Section.SpreadCents, b.Beside, t)
	}
	return b
}

// spreadOf writes the spread, unless a sentence beside it names it already.
func spreadOf(cents float64, beside string, t phrase.Tongue) string {
	text := t.Cents(pitch.Cents(cents))
	if strings.Contains(beside, text) {
		return ""
	}
	return t.Say("row.spread", text)
}

// seat gives the chairs their spots on the arc, if there are any.
func (b *Board) seat(spots []Spot) {
	b.Arc = len(spots) > 0
	for i := range spots {
		b.Chairs[i].Spot = &spots[i]
	}
}

// besides gathers the sentences on the section and the chord that Say, or one
// before them, does not hold already.
func besides(r show.Row) string {
	texts := []string{r.Section.Common}
	if r.Round != nil {
		texts = append(texts, r.Round.Sentence)
	}
	texts = append(texts, r.Evening)
	said, out := strings.ToLower(r.Say), []string{}
	for _, text := range texts {
		for sentence := range strings.SplitSeq(text, ". ") {
			sentence = strings.TrimSuffix(strings.TrimSpace(sentence), ".")
			if sentence == "" || strings.Contains(said, strings.ToLower(sentence)) {
				continue
			}
			out = append(out, sentenceOf(sentence))
			said += " " + strings.ToLower(sentence)
		}
	}
	return strings.Join(out, " ")
}

// sentenceOf gives words a capital and a full stop.
func sentenceOf(words string) string {
	if words == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(words)
	return string(unicode.ToUpper(first)) + strings.TrimSuffix(words[size:], ".") + "."
}

func newChair(c show.ChairRow, t phrase.Tongue) Chair {
	out := Chair{ChairRow: c, Word: wordOf(c, t), Stands: standsOf(c.Slides, t)}
	out.FollowThrough = sentenceOf(c.FollowThrough)
	if c.Part == c.Label {
		out.Part = ""
	}
	if c.Cents != nil {
		out.Small = centsText(*c.Cents, c.CI, t)
		if c.Nature != 0 {
			out.Small = t.Say("row.by-nature", out.Small, signed(c.Nature))
		}
	}
	if before := earlier(c); len(before) > 0 {
		out.Was = t.Say("row.before", centsList(before))
	}
	if c.Moved {
		out.Headline = t.Say("row.moved")
	}
	if m, ok := firstMove(c); ok && c.Verdict != verdictDoubt && !playing(c) {
		if c.Moved {
			out.Word = t.Say("row.word.moved")
			if mm := gone(c, m); mm != 0 && out.Small != "" {
				out.Small = t.Say("row.was."+verbOf(mm), distance(mm), out.Small)
			}
			return out
		}
		d := m.ToMM - m.FromMM
		out.Verb, out.Distance, out.SlideName = t.Say("row.verb."+verbOf(d)), distance(d), t.Slide(m.Name)
		out.Move = &m
		if c.Cents != nil {
			out.Off = way(*c.Cents, t)
		}
	}
	return out
}

// playing reports whether a chair is asked just now: then its old answer
// gives way to the call.
func playing(c show.ChairRow) bool {
	return c.State == "turn" && !c.ToMove || c.State == "sounding" || c.State == "resting"
}

// standsOf says where the slides stand that are set once for tuning; valve
// slides and the hand slide move all the time.
func standsOf(slides []proto.Slide, t phrase.Tongue) string {
	var parts []string
	for _, s := range slides {
		switch s.ID {
		case instrument.Main, instrument.FMain, instrument.BbMain, instrument.GbMain:
			parts = append(parts, t.Say("row.stands", t.Slide(s.Name), int(math.Round(s.FromMM))))
		}
	}
	return strings.Join(parts, ", ")
}

// earlier returns the readings before the one that is shown.
func earlier(c show.ChairRow) []float64 {
	n := len(c.History)
	if n > 0 && c.Cents != nil && c.History[n-1] == *c.Cents {
		return c.History[:n-1]
	}
	return c.History
}

// firstMove returns the first slide in Moves that really moves, by half a
// millimetre or more: less cannot be set by hand.
func firstMove(c show.ChairRow) (proto.Slide, bool) {
	for _, m := range c.Moves {
		if math.Abs(m.ToMM-m.FromMM) >= 0.5 && m.ID != instrument.Bell {
			return m, true
		}
	}
	return proto.Slide{}, false
}

// gone is how far a moved chair's slide has left the place that m sends it from,
// in mm; 0 where another slide was moved, or the hand slide, which is noted for one
// position and sent from another.
func gone(c show.ChairRow, m proto.Slide) float64 {
	const (
		least    = 0.25 // half of the least move
		position = 40   // half of the way between the nearest two positions
	)
	for _, s := range c.Slides {
		if mm := s.FromMM - m.FromMM; s.ID == m.ID && math.Abs(mm) > least && (m.ID != instrument.Hand || math.Abs(mm) < position) {
			return mm
		}
	}
	return 0
}

// standing is where a chair's slide stands, in mm past the common line, and
// how far that may be wrong.
type standing struct {
	known, moves bool
	unheard      bool // moved since it was heard
	past, doubt  float64
}

func marksOf(chairs []show.ChairRow, s hub.Section) []standing {
	byID := map[hub.ChairID]hub.Chair{}
	for _, c := range s.Chairs {
		byID[c.ID] = c
	}
	marks := make([]standing, len(chairs))
	for i, c := range chairs {
		marks[i] = standingOf(c, byID[c.ID])
	}
	return marks
}

// standingOf finds the place: the move's own where there is one, and what was
// left of it when the slide has been moved; flush for a chair that is set,
// because inside the band there is nothing to do; and for a chair that is off
// but stays (the whole section is off, or no slide is left) as many
// millimetres as its main slide would need on the open tube.
func standingOf(c show.ChairRow, ch hub.Chair) standing {
	m, moves := firstMove(c)
	switch {
	case c.Cents == nil || c.Verdict == verdictDoubt || c.Verdict == "" && !c.Moved:
		return standing{}
	case moves && c.Moved && gone(c, m) == 0: // where to, nobody knows before the note is heard
		return standing{}
	case moves && c.Moved:
		return standing{known: true, unheard: true, past: m.FromMM + gone(c, m) - m.ToMM}
	case moves:
		d := m.ToMM - m.FromMM
		at := standing{known: true, moves: true, past: -d}
		if c.CI != nil && math.Abs(*c.Cents) >= 1 {
			at.doubt = math.Abs(d / *c.Cents) * *c.CI
		}
		return at
	case c.Verdict == verdictSet:
		return standing{known: true}
	case c.Moved:
		return standing{}
	}
	in, err := instrument.Find(ch.Instrument)
	if err != nil || !in.Tuned() {
		return standing{}
	}
	need := func(cents float64) float64 {
		return slide.LeverOf(in, instrument.Path{}, instrument.Main, ch.Settings, slide.Learned{}).MM(pitch.Cents(-cents))
	}
	at := standing{known: true, past: -need(*c.Cents - c.Nature)}
	if c.CI != nil {
		at.doubt = math.Abs(need(*c.CI))
	}
	return at
}

// on places a standing on a ruler of scale mm either side.
func (s standing) on(scale float64) *Mark {
	if !s.known {
		return nil
	}
	return &Mark{At: place(s.past, scale), Low: place(s.past-s.doubt, scale), High: place(s.past+s.doubt, scale),
		Go: s.moves, Unheard: s.unheard, Over: math.Abs(s.past) > scale}
}

// place turns mm past the line into percent of the width, inside the drawing.
func place(mm, scale float64) float64 {
	p := 50 + 48*mm/scale // 48: a slide at the edge of the scale still shows its bow
	return math.Round(10*min(max(p, 1), 99)) / 10
}

// scales are the rulers, in mm either side, and the step of their labels.
var scales = []struct{ mm, step float64 }{{10, 5}, {20, 10}, {40, 20}, {80, 40}}

func scaleFor(marks []standing) Scale {
	most := 0.0
	for _, m := range marks {
		most = max(most, math.Abs(m.past))
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
			t.Label = distance(float64(i)*fine) + " mm"
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

// distance writes the millimetres of a move.
func distance(d float64) string {
	whole, half := math.Modf(show.ByHand(math.Abs(d)))
	switch {
	case half == 0:
		return fmt.Sprintf("%.0f", whole)
	case whole == 0:
		return "½"
	}
	return fmt.Sprintf("%.0f½", whole)
}

// wordOf is one word or two for a chair without a move.
func wordOf(c show.ChairRow, t phrase.Tongue) string {
	switch {
	case c.State == "absent":
		return t.Say("row.word.absent")
	case playing(c):
		return t.Say("row.word.plays")
	case c.Moved:
		return t.Say("row.word.moved")
	case c.Verdict == verdictDoubt:
		return t.Say("row.word.doubt")
	case c.Verdict == verdictSet:
		return t.Say("row.word.set")
	case c.Verdict != "" && c.Cents != nil:
		return offWord(*c.Cents-c.Nature, c.Verdict, t)
	}
	if key := "row.word." + c.State; t.Has(key) {
		return t.Say(key)
	}
	return ""
}

// offWord says which way a chair is off, where no slide is to be moved.
func offWord(cents float64, verdict string, t phrase.Tongue) string {
	key := wayKey(cents)
	if verdict == verdictNear {
		key += ".little"
	}
	return t.Say(key)
}

// way says which way a note is off: "sharp".
func way(cents float64, t phrase.Tongue) string { return t.Say(wayKey(cents)) }

func wayKey(cents float64) string {
	if cents < 0 {
		return "row.flat"
	}
	return "row.sharp"
}

// centsText is the small print of a reading: "+14 ±2 cents", the doubt rounded up
// as on the player's page.
func centsText(cents float64, ci *float64, t phrase.Tongue) string {
	s := signed(cents)
	if ci != nil {
		s += fmt.Sprintf(" ±%.0f", max(1, math.Ceil(*ci)))
	}
	return t.Say("row.cents", s)
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
func minutes(s float64, t phrase.Tongue) string {
	switch m := int(s / 60); {
	case s <= 0:
		return ""
	case m == 0:
		return t.Say("row.under-a-minute")
	default:
		return t.Say("row.minutes", m)
	}
}

// soFar says that a time counts up: beside what is still to be done it would be
// read as the time that this takes.
func soFar(time string, t phrase.Tongue) string {
	if time == "" {
		return ""
	}
	return t.Say("row.so-far", time)
}

func leftOf(r show.Row, t phrase.Tongue) string {
	if r.Section.Watching {
		return t.Say("row.hearing", r.Section.Hearing, r.Section.Present)
	}
	if r.Round == nil || r.Round.Done {
		return ""
	}
	if n := r.Section.Present - r.Section.Heard; n > 0 {
		return t.Say("row.still-to-hear", n)
	}
	return ""
}

func callsOf(s hub.Section) []CallButton {
	out := make([]CallButton, 0, len(s.TuningNotes))
	for _, n := range s.TuningNotes {
		out = append(out, CallButton{s.Notes.Naming.Both(pitch.Usual(n).Name), hub.Call{Kind: hub.CallNote, Note: n, Tones: map[hub.ChairID]pitch.Note{}}})
	}
	return out
}
