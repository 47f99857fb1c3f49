package intonation

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// All English of this package stands in this file, worded from facts that the
// results carry beside it: Judgement.Facts, SeatJudgement.Resorts, Beat.Code,
// Together.Code, Aim.Code, Plan.Code, ChordError. Another language words the same facts.

// words says where a tone stands: "the third, 11 cents high".
func (p Place) words(y pitch.Style) string {
	tone := "the " + p.Tone
	if p.Tone == "" {
		tone = y.Naming.Both(p.Note.Name) + ", not in the chord"
	}
	return tone + ", " + place(p.Cents)
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
func place(c pitch.Cents) string {
	if whole(c) == 0 {
		return "in place"
	}
	return c.Size() + " " + way(c >= 0)
}

func way(high bool) string {
	if high {
		return "high"
	}
	return "low"
}

// Say words the facts of a judgement with the notes named in a style.
func (j Judgement) Say(y pitch.Style) string { return sentence(j.Facts, y) }

// sentence words the facts of a judgement.
func sentence(facts []Clause, y pitch.Style) string {
	words := make([]string, len(facts))
	for i, c := range facts {
		words[i] = c.words(y)
	}
	return capital(strings.Join(words, "; ")) + "."
}

func (c Clause) words(y pitch.Style) string {
	switch c.Code {
	case ClauseSilent:
		return "nothing has been heard yet that can be judged"
	case ClauseRings, ClauseTempered, ClauseSoFar:
		s := map[ClauseCode]string{
			ClauseRings: "the chord rings", ClauseTempered: "every tone is in its tempered place",
			ClauseSoFar: "every tone heard so far is where it belongs",
		}[c.Code]
		if c.Shift != 0 {
			s += ", " + c.Shift.Off() + " as one"
		}
		return s
	case ClauseWaiting:
		return "still to be heard: " + list(c.Names)
	}
	actions := []string{}
	for _, a := range c.Actions {
		actions = append(actions, a.Name+" "+a.words(y))
	}
	if c.More > 0 {
		actions = append(actions, fmt.Sprintf("and %d more", c.More))
	}
	return c.subject() + ": " + strings.Join(actions, ", ")
}

func (c Clause) subject() string {
	switch {
	case c.Code == ClauseStranger:
		return "not in the chord"
	case c.Code == ClauseWrong && c.Out > 1:
		return "wrong notes"
	case c.Code == ClauseWrong:
		return "a wrong note"
	}
	w := way(c.High)
	if c.Little {
		w = "a little " + w
	}
	switch {
	case c.Out > 1:
		return c.Tone + "s are " + w
	case c.Of > 1:
		return "one " + c.Tone + " is " + w
	}
	return "the " + c.Tone + " is " + w
}

// words says what a chair does, short enough for the one sentence.
func (a Action) words(y pitch.Style) string {
	switch a.Code {
	case ActSlides:
		return stepWords(a.Steps)
	case ActTry:
		return "try " + a.Path.String()
	case ActBell:
		if a.High {
			return "a little more hand in the bell"
		}
		return "a little less hand in the bell"
	case ActResort:
		return a.Resort.short(y)
	case ActSounds:
		return "sounds " + y.Both(a.Heard) + " in place of " + y.Both(a.Note)
	case ActOn:
		return "on " + y.Both(a.Note)
	}
	return place(a.Cents)
}

func (r Resort) short(y pitch.Style) string {
	switch r.Code {
	case ResortPath:
		return fmt.Sprintf("try %s, %s", r.Path, stepWords(r.Steps))
	case ResortSwap:
		return fmt.Sprintf("has nothing to move, let %s take %s", r.Name, y.Both(r.Note))
	}
	return "has nothing to move"
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

func stepWords(steps []slide.Step) string {
	words := []string{}
	for _, st := range steps {
		w := fmt.Sprintf("%s %.0f mm", direction(st.MM()), math.Abs(st.MM()))
		if st.Slide != instrument.Hand {
			w = st.Name + " " + w
		}
		if st.ShortBy != 0 {
			w += ", as far as it goes"
		}
		words = append(words, w)
	}
	return strings.Join(words, " and ")
}

func direction(mm float64) string {
	if mm < 0 {
		return "in"
	}
	return "out"
}

func list(names []string) string {
	if len(names) > maxActions {
		return fmt.Sprintf("%s and %d more", strings.Join(names[:maxActions], ", "), len(names)-maxActions)
	}
	return strings.Join(names, ", ")
}

func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	return string(unicode.ToUpper(r)) + s[n:]
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

// Say names what Infer found, honestly: one chord, or "could be A or B", with
// the notes of a language.
func Say(candidates []Candidate, n pitch.Naming) string {
	switch len(candidates) {
	case 0:
		return "no known chord fits what was heard"
	case 1:
		return candidates[0].Chord.NameIn(n)
	}
	names := make([]string, len(candidates))
	for i, c := range candidates {
		names[i] = c.Chord.NameIn(n)
	}
	last := len(names) - 1
	return fmt.Sprintf("could be %s or %s", strings.Join(names[:last], "; "), names[last])
}

func (t Together) words() string {
	switch t.Code {
	case TogetherAsOne:
		return fmt.Sprintf("the section is %s as one", t.Offset.Off())
	case TogetherAbout:
		return fmt.Sprintf("the section is about %s, but the chairs differ by about %s either way", t.Offset.Off(), t.Spread.Size())
	case TogetherAgrees:
		return "the section agrees with the reference"
	}
	return fmt.Sprintf("the section is right on the whole, but the chairs differ by about %s either way", t.Spread.Size())
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

// hintWords says a hint on balance.
func (h Hint) words() string {
	switch h {
	case MuchSofter:
		return "much softer here"
	case Softer:
		return "a little softer here"
	case MuchStronger:
		return "much stronger here"
	case Stronger:
		return "a little stronger here"
	}
	return ""
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
