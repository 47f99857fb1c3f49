package intonation

import (
	"fmt"
	"math"
	"strings"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// All words of this package come from this file, made of facts that the results
// carry beside them: Judgement.Facts, SeatJudgement.Resorts, Beat.Code,
// Together.Code, Aim.Code, Plan.Code, ChordError. What a page shows is in the
// language of a tongue; commands alone show the rest.

// words says where a tone stands: "the third, 11 cents high".
func (p Place) words(y pitch.Style) string {
	tone := "the " + p.Tone
	if p.Tone == "" {
		tone = y.Naming.Both(p.Note.Name) + ", not in the chord"
	}
	return tone + ", " + place(phrase.Tongue{}, p.Cents)
}

// Say words an answer to a chord tone: the move within the chord or the honest
// alternative, where the tone stands, and how else it could be played, in a
// tongue.
func (p Place) Say(a slide.Advice, t phrase.Tongue) slide.Words {
	w := slide.SayIn(t, a)
	if p.Resort != nil {
		w.Next = p.Resort.words(t)
	}
	if w.Detail == "" {
		w.Detail = p.have(t)
	}
	switch len(p.Ways) {
	case 0:
	case 1:
		w.Detail += " " + t.Say("chord.way", t.Path(p.Ways[0]))
	default: // more than a player weighs while holding a note
		w.Detail += " " + t.Say("chord.ways", t.Path(p.Ways[0]), t.Path(p.Ways[1]))
	}
	return w
}

// have tells a player where the tone stands.
func (p Place) have(t phrase.Tongue) string {
	tone := t.Say("chord.tone." + p.Tone)
	if p.Tone == "" {
		tone = t.Say("chord.tone.none", t.Notes.Naming.Both(p.Note.Name))
	}
	switch {
	case whole(p.Cents) == 0:
		return t.Say("chord.have.in", tone)
	case p.Cents > 0:
		return t.Say("chord.have.high", tone, t.Cents(p.Cents))
	}
	return t.Say("chord.have.low", tone, t.Cents(p.Cents))
}

// place says an offset within a chord: "11 cents high".
func place(t phrase.Tongue, c pitch.Cents) string {
	switch {
	case whole(c) == 0:
		return t.Say("harmony.in-place")
	case c > 0:
		return t.Say("harmony.high-by", t.Cents(c))
	}
	return t.Say("harmony.low-by", t.Cents(c))
}

// Say words the facts of a judgement in English with the notes named in a style.
func (j Judgement) Say(y pitch.Style) string { return j.SayIn(phrase.Tongue{Notes: y}) }

// SayIn words them in a tongue.
func (j Judgement) SayIn(t phrase.Tongue) string {
	words := make([]string, len(j.Facts))
	for i, c := range j.Facts {
		words[i] = c.words(t)
	}
	return phrase.Capital(strings.Join(words, "; ")) + "."
}

// clauses are the texts of what needs no names.
var clauses = map[ClauseCode]string{
	ClauseSilent: "harmony.silent", ClauseRings: "harmony.rings", ClauseTempered: "harmony.tempered", ClauseSoFar: "harmony.so-far",
}

func (c Clause) words(t phrase.Tongue) string {
	if key, ok := clauses[c.Code]; ok {
		if c.Shift != 0 {
			return t.Say("harmony.as-one", t.Say(key), t.Off(c.Shift))
		}
		return t.Say(key)
	}
	if c.Code == ClauseWaiting {
		return t.Say("harmony.waiting", list(t, c.Names))
	}
	actions := []string{}
	for _, a := range c.Actions {
		actions = append(actions, t.Say("harmony.does", a.Name, a.words(t)))
	}
	if c.More > 0 {
		actions = append(actions, t.Say("harmony.more", c.More))
	}
	return t.Say("harmony.who", c.subject(t), strings.Join(actions, ", "))
}

// subject says what is wrong. A text lists the forms of its word: of one tone that
// stands alone, of one of several, of several.
func (c Clause) subject(t phrase.Tongue) string {
	switch {
	case c.Code == ClauseStranger:
		return t.Say("harmony.stranger")
	case c.Code == ClauseWrong && c.Out > 1:
		return t.Say("harmony.wrong.notes")
	case c.Code == ClauseWrong:
		return t.Say("harmony.wrong.note")
	}
	form, many := 0, 0
	switch {
	case c.Out > 1:
		form, many = 2, 1
	case c.Of > 1:
		form = 1
	}
	key := "harmony.low"
	if c.High {
		key = "harmony.high"
	}
	if c.Little {
		key += ".little"
	}
	return t.Say([]string{"harmony.is", "harmony.are"}[many], t.Item("harmony.tone."+c.Tone, form), t.Item(key, many))
}

// words says what a chair does, short enough for the one sentence.
func (a Action) words(t phrase.Tongue) string {
	switch a.Code {
	case ActSlides:
		return stepWords(t, a.Steps)
	case ActTry:
		return t.Say("harmony.try", t.Path(a.Path))
	case ActBell:
		if a.High {
			return t.Say("harmony.hand.more")
		}
		return t.Say("harmony.hand.less")
	case ActResort:
		return a.Resort.short(t)
	case ActSounds:
		return t.Say("harmony.sounds", t.Notes.Both(a.Heard), t.Notes.Both(a.Note))
	case ActOn:
		return t.Say("harmony.on", t.Notes.Both(a.Note))
	}
	return place(t, a.Cents)
}

func (r Resort) short(t phrase.Tongue) string {
	switch r.Code {
	case ResortPath:
		return t.Say("harmony.try.with", t.Path(r.Path), stepWords(t, r.Steps))
	case ResortSwap:
		return t.Say("harmony.nothing.swap", r.Name, t.Notes.Both(r.Note))
	}
	return t.Say("harmony.nothing")
}

func (r Resort) words(t phrase.Tongue) string {
	switch r.Code {
	case ResortPath:
		return t.Say("chord.resort.path", t.Path(r.Path), slide.SayIn(t, slide.Advice{Kind: slide.Move, Steps: r.Steps}).Headline)
	case ResortSwap:
		return t.Say("chord.resort.swap", r.Name, t.Notes.Both(r.Note))
	case ResortAnchor:
		return t.Say("chord.resort.anchor", t.Say("chord.anchor."+string(r.Anchor)))
	}
	return ""
}

func stepWords(t phrase.Tongue, steps []slide.Step) string {
	words := []string{}
	for _, st := range steps {
		key, mm := "harmony.out", int(math.Abs(math.Round(st.MM())))
		if st.MM() < 0 {
			key = "harmony.in"
		}
		w := t.Say(key+".hand", mm)
		if st.Slide != instrument.Hand {
			w = t.Say(key, t.Slide(st.Name), mm)
		}
		if st.ShortBy != 0 {
			w = t.Say("harmony.limit", w)
		}
		words = append(words, w)
	}
	return t.List(words)
}

func list(t phrase.Tongue, names []string) string {
	if len(names) > maxActions {
		return t.Say("harmony.names.more", strings.Join(names[:maxActions], ", "), len(names)-maxActions)
	}
	return strings.Join(names, ", ")
}

// SayIn names a chord in a tongue: "B♭ dominant seventh (16/9), first inversion".
func (c Chord) SayIn(t phrase.Tongue) string {
	s := t.Say("quality."+string(c.Quality), t.Notes.Naming.Both(c.RootName()))
	if c.Quality.dominant() && c.Seventh != Harmonic {
		key := "harmony.seventh.moves"
		if c.Seventh == Tempered {
			key = "harmony.seventh.tempered"
		}
		s = t.Say(key, s)
	}
	if c.Inversion > 0 && c.Inversion < len(inversionNames) {
		s = t.Say("harmony.inversion", s, t.Item("harmony.inversions", c.Inversion))
	}
	return s
}

// words says how a pair beats.
func (b Beat) words() string {
	switch b.Code {
	case BeatStill:
		return "rings"
	case BeatSlow:
		return fmt.Sprintf("rolls slowly, once in about %s", seconds(1/b.PerSecond))
	case BeatCounted:
		return "beats about " + times(b.PerSecond) + " a second"
	case BeatFast:
		return fmt.Sprintf("beats fast, about %.0f times a second", b.PerSecond)
	}
	return "is rough, too fast to count"
}

func times(n float64) string {
	if n = math.Round(n); n > 1 {
		return fmt.Sprintf("%.0f times", n)
	}
	return "once"
}

func seconds(s float64) string {
	if n := math.Round(s); n > 1 {
		return fmt.Sprintf("%.0f seconds", n)
	}
	return "a second"
}

// Say names what Infer found, honestly, in English: one chord, or "could be A or
// B", with the notes of a language.
func Say(candidates []Candidate, n pitch.Naming) string {
	t := phrase.Tongue{Notes: pitch.Style{Naming: n}}
	if len(candidates) < 2 {
		return SayIn(candidates, t)
	}
	return "could be " + SayIn(candidates, t)
}

// SayIn names the chords that Infer found in a tongue.
func SayIn(candidates []Candidate, t phrase.Tongue) string {
	if len(candidates) == 0 {
		return t.Say("harmony.unknown")
	}
	names := make([]string, len(candidates))
	for i, c := range candidates {
		names[i] = c.Chord.SayIn(t)
	}
	return t.Or(names)
}

// Say says in a tongue what a section has in common.
func (t Together) Say(in phrase.Tongue) string {
	switch t.Code {
	case TogetherAsOne:
		return in.Say("harmony.together.as-one", in.Off(t.Offset))
	case TogetherAbout:
		return in.Say("harmony.together.about", in.Off(t.Offset), in.Cents(t.Spread))
	case TogetherAgrees:
		return in.Say("harmony.together.agrees")
	}
	return in.Say("harmony.together.apart", in.Cents(t.Spread))
}

func (p Plan) words() string {
	if p.Code == PlanServes {
		return fmt.Sprintf("Tuning on one note already serves this piece: %.1f cents remain.", p.RMS)
	}
	return fmt.Sprintf("Set for the piece, %.1f cents remain instead of %.1f after tuning on one note.", p.RMS, p.OneNoteRMS)
}

// whyWords says why a chord hangs from the reference.
func (c AimCode) words() string {
	switch c {
	case AimKeyboard:
		return "The keyboard cannot move, so the chord stays at the reference."
	case AimNoBass:
		return "The bass has not been heard yet; the reference stands in for it."
	case AimTooFew:
		return "Too few chairs have been heard to agree on a pitch; the reference stands in for them."
	}
	return ""
}

// Say says a hint on balance in a tongue, empty for none.
func (h Hint) Say(t phrase.Tongue) string {
	if h == "" {
		return ""
	}
	return t.Say("harmony.balance." + string(h))
}

// SayIn says it in a tongue; the kinds that there are stand on the page.
func (e *ChordError) SayIn(t phrase.Tongue) string {
	switch e.Code {
	case ChordLong:
		return t.Say("refusal.chord.long", maxChordText)
	case ChordKind, ChordBass, ChordNoTone:
		return t.Say("refusal.chord."+string(e.Code), e.Text, e.Word)
	}
	return t.Say("refusal.chord."+string(e.Code), e.Text)
}

func (e *ChordError) words() string {
	const how = "; write it as Bb major, Bb7 or Cm7/Eb"
	switch e.Code {
	case ChordLong:
		return fmt.Sprintf("a chord has at most %d letters%s", maxChordText, how)
	case ChordRoot:
		return fmt.Sprintf("chord %q: it begins with no note A to G%s", e.Text, how)
	case ChordKind:
		kinds := make([]string, len(Qualities))
		for i, q := range Qualities {
			kinds[i] = string(q)
		}
		return fmt.Sprintf("chord %q: unknown kind %q; the kinds are %s", e.Text, e.Word, strings.Join(kinds, ", "))
	case ChordBass:
		return fmt.Sprintf("chord %q: unknown bass %q%s", e.Text, e.Word, how)
	case ChordNoTone:
		return fmt.Sprintf("chord %q: the bass %s is not a tone of the chord; choose one that is, or leave it out", e.Text, e.Word)
	case ChordBoth:
		return fmt.Sprintf("chord %q: an inversion and a bass; give one of them", e.Text)
	case ChordInversion:
		return fmt.Sprintf("chord %q: it has too few tones for that inversion", e.Text)
	}
	return fmt.Sprintf("chord %q: only chords with a dominant seventh have a choice of seventh; leave it out", e.Text)
}
