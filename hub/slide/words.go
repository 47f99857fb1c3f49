package slide

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Words are the sentences of an answer. Headline is what a player does, in one
// short line; Detail why; Next what happens then. Small is the small print: the
// offset and its interval in cents, whole numbers, empty when no pitch is to be
// told.
type Words struct {
	Headline string `json:"headline,omitempty"`
	Detail   string `json:"detail,omitempty"`
	Next     string `json:"next,omitempty"`
	Small    string `json:"small,omitempty"`
}

// Say puts an answer in English words; SayIn tells how.
func Say(a Advice) Words { return SayIn(phrase.Tongue{}, a) }

// SayIn puts an answer in the words of a tongue. It reads Kind, Code, Steps,
// Offset, Heard, Try and Facts, and nothing else: what is meant decides what is
// said. An answer of a code that is not known here has no words.
func SayIn(t phrase.Tongue, a Advice) Words {
	w := words{t, a}
	var out Words
	switch a.Kind {
	case Again:
		out = w.again()
	case Note:
		out = w.note()
	case Stay:
		out = w.stay()
	case Move:
		out = w.move()
	case Tell:
		out = w.tell()
	case Finger:
		out = w.finger()
	case Nothing:
		out = w.nothing()
	case Rest:
		out = w.rest()
	}
	if a.Facts.Pitched {
		out.Small = w.small()
	}
	return out
}

// words is an answer on its way into sentences.
type words struct {
	phrase.Tongue
	Advice
}

// small is where the note was read, and with a vibrato what it was taken for.
func (w words) small() string {
	f := w.Facts
	read := w.Within(w.Offset, f.CI95)
	if f.Vibrato <= 0 {
		return read
	}
	straight := Reading{CI95: f.CI95, Vibrato: f.Vibrato}
	return w.Say("move.small.vibrato", read, w.Cents(f.Vibrato), w.Within(w.Offset+straight.above(), f.CI95+straight.above()))
}

// whole is an answer by its key, as far as there are texts for it.
func (w words) whole(key string) (out Words) {
	out.Headline, out.Detail, out.Next = w.Parts(key)
	return out
}

func (w words) again() Words {
	key, f := "again."+w.Code, w.Facts
	out := w.whole(key)
	switch w.Code {
	case "cold":
		out.Next = w.Say("again.cold.next", 10*int(math.Ceil(f.WaitSeconds/10)))
	case "unlike", "apart":
		out.Headline = w.Say(key+higher(f.Away), w.Cents(f.Away))
	case "muted":
		return w.muted()
	case "too-far":
		if f.WrongWay {
			out.Detail = w.Say("again.too-far.other-way")
		}
	}
	return out
}

// note says which note was heard, and how that may have come about.
func (w words) note() Words {
	f := w.Facts
	out := Words{Headline: w.Say("note.heard", w.both(w.Heard)), Next: w.Say("note.next", w.both(f.Called), w.Path(f.Path))}
	named := f.Path.String() != "" // no fingering of a woodwind is known
	if !named {
		out.Next = w.Say("note.again", w.both(f.Called))
	}
	switch key := "note.why." + w.Code; {
	case w.Code == "stopped":
		out.Detail, out.Next = w.Say(key), w.Say("note.stopped.next", w.Path(f.Path))
	case w.Has(key):
		out.Detail = w.Say(key)
	case f.Slip != "":
		out.Detail = w.Say("note.why."+f.Slip, w.written(f.Called))
	case !named:
		out.Detail = w.Say("note.why.other")
	default:
		out.Detail = w.Say("note.why.far")
	}
	return out
}

// written names the note that this player reads for a sounding one.
func (w words) written(n pitch.Note) string {
	return w.Notes.Note(pitch.Written(pitch.Usual(n), w.Facts.Transposition))
}

// both names a note for this player: "concert B♭4, your C5", or "B♭3" for an
// instrument that reads at concert pitch.
func (w words) both(n pitch.Note) string {
	if w.Facts.Transposition == 0 {
		return w.Notes.Of(n)
	}
	return w.Say("note.both", w.Notes.Of(n), w.written(n))
}

// tell says where a note stands on an instrument without slides.
func (w words) tell() Words {
	if w.Code == "in-band" {
		return w.whole("tell.in-band")
	}
	return Words{Headline: phrase.Capital(w.Say("tell.off", w.Off(w.Offset))), Next: w.Say("tell.off.next")}
}

func (w words) stay() Words {
	f, key, main := w.Facts, "stay."+w.Code, w.Slide(w.Facts.Main)
	out := Words{Headline: w.Say("stay.slides")}
	switch w.Code {
	case "at-end":
		out.Detail = w.Say(key, main)
	case "between":
		out.Detail = w.Say(key, w.Off(w.Offset), w.Number(f.Notes))
		if x := f.Theory.Cents(); math.Abs(float64(x)) >= float64(instrument.TellsBelow) {
			cause, what := w.cause()
			out.Detail = w.Say(key+cause, w.Off(w.Offset), w.About(x), what, w.Number(f.Notes))
		}
	case "by-ear":
		out.Headline, out.Detail = w.Say("stay.slide", main), w.Say(key, w.Path(f.Path), main)
		out.Next = w.tells("tells.closed.")
	case "not-telling":
		cause, what := w.cause()
		out.Headline, out.Detail = w.Say("stay.slide", main), w.Say(key+cause, w.Off(w.Offset), w.About(f.Theory.Cents()), what, main)
		out.Next = w.tells("tells.")
	case "room":
		return w.room()
	case "all-in-band":
		out.Detail = w.Say(key, f.Notes)
	case "none-tells":
		out.Detail, out.Next = w.Say(key, f.Notes, main), w.tells("tells.")
	default:
		all := w.whole(key)
		out.Detail, out.Next = all.Headline, all.Next
		switch {
		case f.Away != 0 && w.Code == "in-band":
			out.Detail = w.Say("stay.alone", w.Off(w.Offset))
		case f.Away != 0:
			out.Detail = w.Say("stay.too-little", w.Off(w.Offset))
		}
	}
	if out.Next == "" && f.Pinched && w.Code != "once-more" {
		out.Next = w.Say("stay.was-pinched.next")
	}
	return out
}

// cause is what makes a note lie off by nature: its fingering, or its partial.
func (w words) cause() (key, what string) {
	t := w.Facts.Theory
	if math.Abs(float64(t.Valves)) > math.Abs(float64(t.Partial)) {
		return ".valves", w.Path(w.Facts.Path)
	}
	return ".partial", w.Ordinal(w.Facts.Path.Partial)
}

// tells offers what tells where the main slide belongs: the same note played
// otherwise, or other notes by the names this player reads. key begins its texts,
// figures come before the notes.
func (w words) tells(key string, figures ...any) string {
	if w.Try != nil {
		if key == "tells.closed." {
			key = "tells."
		}
		return w.Say(key+"way", append(figures, w.Path(*w.Try))...)
	}
	return w.telling(key+"note", figures...)
}

// telling says a text with one note that tells, the same with an s with two, and
// nothing without.
func (w words) telling(key string, figures ...any) string {
	switch tell := w.Facts.Telling; len(tell) {
	case 0:
		return ""
	case 1:
		return w.Say(key, append(figures, w.written(tell[0]))...)
	default:
		return w.Say(key+"s", append(figures, w.written(tell[0]), w.written(tell[1]))...)
	}
}

// muted asks for the tuning note open.
func (w words) muted() Words {
	out := w.whole("again.muted." + string(w.Facts.Mute))
	if s := w.Facts.MuteShift; s.Sure() && w.Facts.Mute != Stopped {
		out.Detail += " " + w.Say("again.muted"+higher(s.Cents), w.Cents(s.Cents))
	}
	return out
}

// room tells a player that the section is off as one, and where the player
// stands in it.
func (w words) room() Words {
	common, own := w.Facts.Common, w.Facts.Own.Offset
	out := Words{Headline: w.Say("stay.room"), Detail: w.Say("stay.room.with", w.About(common)), Next: w.Say("stay.room.flat")}
	if math.Abs(float64(own)) > float64(DeadBand) {
		key := "stay.room.below"
		if own > 0 {
			key = "stay.room.above"
		}
		out.Detail = w.Say(key, w.About(common), w.Cents(own))
	}
	if common > 0 {
		out.Next = w.Say("stay.room.sharp")
	}
	return out
}

func (w words) move() Words {
	if len(w.Steps) > 1 {
		return w.several()
	}
	st, f := w.Steps[0], w.Facts
	out := Words{Headline: w.headline(st), Next: w.Say("move.next")}
	if f.Vibrato > 0 {
		out.Next = w.Say("move.next.straight")
	}
	main := w.Slide(cmp.Or(f.Main, "main slide"))
	switch w.Code {
	case "move":
		out.Detail = w.Say("move.from", whole(st.FromMM), whole(st.ToMM))
		if f.Notes > 1 {
			out.Detail += " " + w.Say("move.together", w.Number(f.Notes))
		}
		if f.Anew {
			out.Detail += " " + w.Say("move.anew")
		}
		if f.Rise >= 1 {
			out.Detail += " " + w.Say("move.rise", w.Cents(f.Rise))
		}
	case "all-move":
		out.Detail = w.Say("move.all"+outward(st), whole(st.FromMM), whole(st.ToMM))
		if st.ShortBy != 0 {
			out.Detail += " " + w.Say("move.needed", whole(f.NeedMM), whole(st.MM()))
		}
		out.Next = w.Say("move.next.called")
	case "limit":
		out.Detail, out.Next = w.Say("move.needed", whole(f.NeedMM), whole(st.MM())), w.limitNext()
	case "valve-slide", "low-valve-slide":
		out.Detail, out.Next = w.Say("move.valve", w.Path(f.Path), main), w.Say("move.valve.next")
		if st.ShortBy != 0 {
			out.Detail = w.Say("move.valve.and", w.Path(f.Path), main) + " " +
				w.Say("move.needed.still", whole(f.NeedMM), whole(st.MM()), w.Cents(st.ShortBy))
			out.Next = join(out.Next, w.measure())
		}
		if w.Code == "valve-slide" {
			out.Next = join(out.Next, w.tells("tells.for-main.", main))
		}
	case "attachment-low":
		out.Detail = w.Say("move.attachment-low")
	case "balance":
		out.Detail = w.Say("move.balance", main)
	case "balance-limit":
		out.Detail = w.Say("move.needed.main", whole(f.NeedMM), whole(st.MM()), main)
		out.Next = cmp.Or(w.measure(), out.Next)
	}
	return out
}

// join puts sentences one after another.
func join(sentences ...string) string {
	return strings.Join(slices.DeleteFunc(sentences, func(s string) bool { return s == "" }), " ")
}

// limitNext is what to do about a slide that does not reach: look and measure,
// play another note, and only when several notes agree have the instrument looked at.
func (w words) limitNext() string {
	next := w.Say("move.next.note")
	switch {
	case w.Facts.Notes > 1:
		next = w.Say("move.next.day")
	case len(w.Facts.Telling) > 0:
		next = w.telling("move.next.telling")
	}
	return join(w.measure(), next)
}

// measure asks a player to look where a slide stands and how far it goes, before
// it is called at its end on figures that are only usual.
func (w words) measure() string {
	f, ask := w.Facts, ""
	if f.Slide.ID == instrument.Hand {
		return ""
	}
	if !f.Placed {
		ask = w.Say("measure.stands", w.Slide(f.Slide.Name), whole(f.Slide.UsualMM))
	}
	if f.Out && !f.Measured {
		end := instrument.ComesOff
		if f.Slide.End == instrument.Stops {
			end = instrument.Stops
		}
		ask = join(ask, w.Say("measure.goes."+string(end), w.Slide(f.Slide.Name), whole(f.Slide.TravelMM)))
	}
	return ask
}

// several is a plan of more than one slide.
func (w words) several() Words {
	var lines []string
	horn := false
	for _, st := range w.Steps {
		lines = append(lines, w.headline(st))
		horn = horn || st.Slide == instrument.FMain || st.Slide == instrument.BbMain
	}
	f := w.Facts
	out := Words{Headline: join(lines...), Detail: w.Say("move.several.note"), Next: w.Say("move.next")}
	if f.Notes > 1 {
		out.Detail, out.Next = w.Say("move.several.notes", w.Number(f.Notes)), w.Say("move.next.notes")
	}
	switch {
	case w.Steps[0].Slide != instrument.Main:
	case horn && f.Order == FSideFirst:
		out.Detail += " " + w.Say("move.several.f-first")
	case horn:
		out.Detail += " " + w.Say("move.several.bb-first")
	default:
		out.Detail += " " + w.Say("move.several.valves")
	}
	return out
}

func (w words) finger() Words {
	f := w.Facts
	if w.Code == "bell" {
		out := Words{Headline: w.Say("finger.bell.open"), Detail: w.Say("finger.bell.why")}
		if f.Out {
			out.Headline = w.Say("finger.bell.cover")
		}
		return out
	}
	out := Words{Headline: w.Say("finger.try", w.Path(*w.Try), w.Path(f.Path)), Detail: w.Say("finger.theory"+higher(f.Gain), w.Cents(f.Gain))}
	if w.Code == "non-compensating" {
		out.Detail = w.Say("finger.non-compensating", w.Cents(f.Gain))
	}
	return out
}

func (w words) nothing() Words {
	f, key, main, stuck := w.Facts, "nothing."+w.Code, w.Slide(w.Facts.Main), w.Slide(w.Facts.Slide.Name)
	out := w.whole(key)
	end := "in"
	if f.Out {
		end = "out"
	}
	switch w.Code {
	case "limit":
		switch {
		case f.Out && f.Slide.End == instrument.Stops:
		case f.Out && f.Measured:
			end = "safe"
		case f.Out:
			end = "usual"
		}
		return Words{Headline: w.Say("nothing.end."+end, stuck), Detail: w.Say("nothing.need", whole(f.NeedMM)), Next: w.limitNext()}
	case "all-move-end":
		return Words{Headline: w.Say("nothing.all."+end, stuck), Detail: w.Say("nothing.all.why", whole(f.NeedMM)), Next: w.Say("nothing.all.next")}
	case "attachment-low":
		if left := w.Offset + f.Gain; f.NeedMM > 0 {
			out.Detail = w.Say("nothing.attachment-low.pulled", whole(f.NeedMM), w.Cents(left))
			out.Next = join(w.measure(), out.Next)
		}
		return out
	case "non-compensating":
		out.Detail = w.Say("nothing.non-compensating.why", w.Path(f.Path), w.Cents(f.Theory.Cents()))
		return out
	case "stopped-hand":
		out.Headline = w.Say("nothing.leave")
		return out
	}
	if out.Headline != "" {
		return out
	}
	out = w.whole("nothing.leave")
	out.Detail = w.Say("nothing.leave.path", w.Path(f.Path), main)
	if f.Slide.Name != "" {
		out.Detail = w.Say("nothing.leave."+end, stuck, main)
	}
	return out
}

func (w words) rest() Words {
	out := w.whole("rest." + w.Code)
	if w.Code == "tries" {
		because := w.Advice
		because.Kind, because.Code = Again, w.Facts.Because
		if because.Heard != 0 {
			because.Kind = Note
		}
		out.Detail = SayIn(w.Tongue, because).Headline
	}
	return out
}

// headline is what a player does with a slide: "Pull the main slide 6 mm."
func (w words) headline(st Step) string {
	key := "move.push"
	switch {
	case st.Slide == instrument.Hand:
		key = "move.hand" + outward(st)
	case st.MM() > 0:
		key = "move.pull"
	}
	return w.Say(key, w.Slide(st.Name), whole(st.MM()))
}

// outward ends a key by the way a slide goes.
func outward(st Step) string {
	if st.MM() > 0 {
		return ".out"
	}
	return ".in"
}

// higher ends a key by the side of an offset.
func higher(x pitch.Cents) string {
	if x > 0 {
		return ".higher"
	}
	return ".lower"
}

// whole writes a distance as players see it: whole, without sign.
func whole(mm float64) int { return int(math.Abs(math.Round(mm))) }

// words is one plain sentence for the leader.
func (f Follow) words() string {
	switch f.Verdict {
	case Small:
		return "The move was too small to tell whether the pitch followed."
	case Held:
		return "The slide moved and the pitch stayed where it was."
	case Unsure:
		return "It is not clear whether the pitch followed the slide."
	case Partly:
		return "The pitch followed the slide part of the way."
	case TooFar:
		return tooFarWords(f.Ratio < 0)
	}
	return "The pitch went with the slide."
}

// words says to the leader what the section has in common.
func (t AsOne) words() string {
	if !t.Off {
		return ""
	}
	return fmt.Sprintf("The section is %s as one.", t.Common.Off())
}

// Say names in a tongue one thing that the leader of a section can do that is off as
// one, and says what it means.
func (c Choice) Say(t phrase.Tongue, common pitch.Cents) (label, words string) {
	switch c.Do {
	case WarmUp:
		return t.Say("choice.warm-up"), t.Say("choice.warm-up.why")
	case AllMove:
		key := "choice.all.in"
		if common > 0 {
			key = "choice.all.out"
		}
		words = t.Say("choice.all.why", t.Cents(common), whole(c.MM))
		if c.Beyond > 0 {
			words += " " + t.Say("choice.all.beyond", c.Beyond, phrase.Capital(t.Number(c.Beyond)))
		}
		return t.Say(key), words
	case TuneThere:
		return t.Say("choice.there"), t.Say("choice.there.why", t.Decimal(float64(c.Reference.A4)))
	}
	if common > 0 {
		return t.Say("choice.again"), t.Say("choice.again.rested")
	}
	return t.Say("choice.again"), t.Say("choice.again.why")
}

// words is what a command says of a choice.
func (c Choice) words(common pitch.Cents) string {
	t := phrase.Tongue{}
	label, words := c.Say(t, common)
	return label + ": " + t.Clause(words)
}

// words says an offer to the leader.
func (o Offer) words() string {
	a := float64(o.Reference.A4)
	switch {
	case o.Fixed:
		return fmt.Sprintf("The fixed instrument sets A at %g Hz.", a)
	case !o.Changed:
		return fmt.Sprintf("A at %g Hz suits this section as well as any.", a)
	case o.Beyond < o.PresentBeyond:
		more := o.PresentBeyond - o.Beyond
		if more == 1 {
			return fmt.Sprintf("A at %g Hz is within reach of one more slide.", a)
		}
		return fmt.Sprintf("A at %g Hz is within reach of %s more slides.", a, phrase.Tongue{}.Number(more))
	}
	return fmt.Sprintf("A at %g Hz would need %.0f mm of slide in all instead of %.0f.", a, o.MM, o.PresentMM)
}

func tooFarWords(wrongWay bool) string {
	if wrongWay {
		return "The pitch went the other way: was the slide moved the wrong way, or another slide too?"
	}
	return "The pitch went further than the slide: was another slide moved too?"
}
