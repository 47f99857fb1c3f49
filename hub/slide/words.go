package slide

import (
	"fmt"
	"math"
	"strings"

	"bellrow/proto/instrument"
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

// Say puts an answer in words. It reads Kind, Code, Steps, Offset, Heard, Try
// and Facts, and nothing else: what is meant decides what is said. An answer of
// a code that is not known here has no words.
func Say(a Advice) Words { return SayIn(pitch.Style{}, a) }

// SayIn is Say with the notes named in a style.
func SayIn(y pitch.Style, a Advice) Words {
	w := words{a, y}
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
	case Finger:
		out = w.finger()
	case Nothing:
		out = w.nothing()
	case Rest:
		out = w.rest()
	}
	if a.Facts.Pitched {
		out.Small = small(a.Offset, a.Facts.CI95)
	}
	return out
}

// words is an answer on its way into sentences.
type words struct {
	Advice
	style pitch.Style
}

const (
	leaveAll    = "Leave the slides where they are."
	freshAttack = "Rest, breathe, and start the note fresh where it wants to be."
)

// unsettledWords holds what was heard and what is asked, for reasons of the
// node and of this package.
var unsettledWords = map[string][2]string{
	"moving":     {"The pitch was still moving.", "Breathe, start the note again and let it rest."},
	"unsettled":  {"The pitch was still moving.", "Breathe, start the note again and let it rest."},
	"vibrato":    {"That had vibrato, which is fine in music but not for tuning.", "Play the note again, straight."},
	"short":      {"The note was too short.", "Hold it for about two seconds."},
	"soft":       {"The note was too soft to measure.", "Play it again, mezzo-forte."},
	"two-sounds": {"Two sounds were heard at once.", "Wait until the others are quiet, then play again."},
	"noise":      {"That was not a held note.", "Play the called note and hold it."},
	"wide":       {"That could not be measured closely enough to say which way.", "Sit close to your laptop, breathe, and play the same note once more: both together tell."},
	"clipping":   {"The microphone was overloaded.", "Play mezzo-forte, or move the laptop a step away."},
	"gap":        {"Some of the sound was lost on this laptop.", "Play the note again."},
	"no-pitch":   {"No pitch was heard.", "Play the note again, mezzo-forte."},
	"overheard":  {"That was another player.", "Play when it is your turn, near your own laptop."},
	"pinched":    {"The note began high and was still coming down.", "Rest, breathe, and start it with more air and less pressure."},
	"eased":      {"That was easier.", "Rest, breathe, and play it once more just like that."},
	"loud":       {"That was much louder than your other tuning notes.", "Play it again, mezzo-forte."},
	"softer":     {"That was much softer than your other tuning notes.", "Play it again, mezzo-forte."},
}

func (w words) again() Words {
	if u, ok := unsettledWords[w.Code]; ok {
		return Words{Headline: u[0], Next: u[1]}
	}
	switch w.Code {
	case "cold":
		return Words{
			Headline: "The instrument is still cold and will come up.",
			Next:     fmt.Sprintf("Play easy notes, about %.0f seconds of them, until you are called again.", 10*math.Ceil(w.Facts.WaitSeconds/10))}
	case "unlike":
		return Words{
			Headline: fmt.Sprintf("This is about %s %s than your instrument has stood lately.", w.Facts.Away.Size(), higher(w.Facts.Away)),
			Next:     "Check that every slide stands where it is written down, then play again."}
	case "apart":
		return Words{
			Headline: fmt.Sprintf("This note lies about %s %s than your others.", w.Facts.Away.Size(), higher(w.Facts.Away)),
			Next:     "Rest, breathe, and play it once more, relaxed: does it come out there again?"}
	case "muted":
		return w.muted()
	case "unsure":
		return Words{"Leave the slide. Play the note once more.", "It is not clear yet whether the pitch went with the slide.",
			"Breathe, and start the note fresh where it wants to be.", ""}
	case "too-far":
		return Words{"Check where the slides stand.", tooFarWords(w.Facts.WrongWay),
			"Write in the settings as they are, then play the note again.", ""}
	}
	return Words{}
}

// note says which note was heard, and how that may have come about.
func (w words) note() Words {
	f := w.Facts
	out := Words{
		Headline: fmt.Sprintf("That sounded as %s.", w.both(w.Heard)),
		Next:     fmt.Sprintf("Play %s again: %s.", w.both(f.Called), f.Path),
	}
	written := w.written(f.Called)
	switch {
	case w.Code == "octave":
		out.Detail = "That is the called note in another octave."
	case w.Code == "wrong-side":
		out.Detail = "That is this fingering on the other side of the horn."
	case w.Code == "wrong-partial":
		out.Detail = "That is the neighbouring partial of the same fingering."
	case w.Code == "stopped":
		out.Detail = "Stopped, a horn sounds about a semitone higher than it is fingered."
		out.Next = fmt.Sprintf("Play the tuning note open. Where the music wants it stopped, finger it a semitone lower: %s.", f.Path)
	case f.Slip == slipConcert:
		out.Detail = fmt.Sprintf("It looks as if the concert name was read as a written note: the call is your %s.", written)
	case f.Slip == slipTwice:
		out.Detail = fmt.Sprintf("It looks as if the note was transposed twice or the wrong way: the call is your %s.", written)
	default:
		out.Detail = "That is too far away for a slide: another note, fingering or partial is likelier."
	}
	return out
}

// written names the note that this player reads for a sounding one.
func (w words) written(n pitch.Note) string {
	return w.style.Note(pitch.Written(pitch.Usual(n), w.Facts.Transposition))
}

// both names a note for this player: "concert B♭4, your C5", or "B♭3" for an
// instrument that reads at concert pitch.
func (w words) both(n pitch.Note) string {
	if w.Facts.Transposition == 0 {
		return w.style.Of(n)
	}
	return fmt.Sprintf("concert %s, your %s", w.style.Of(n), w.written(n))
}

func (w words) stay() Words {
	out := Words{Headline: leaveAll}
	f := w.Facts
	switch w.Code {
	case "in-band":
		out.Detail = "This note is in tune."
	case "in-doubt":
		out.Detail = "The difference is smaller than the doubt of this reading."
	case "once-more":
		out.Detail, out.Next = "This note is close, but it is not quite sure yet.", "Rest, breathe, and play it once more to be sure."
	case "warming":
		out.Detail, out.Next = "The instrument still comes up a little: this note will be in tune when it is warm.", "Keep it warm with easy notes until the next call."
	case "under-a-millimetre":
		out.Detail = "The difference is less than a millimetre of slide."
	case "at-end":
		out.Detail = fmt.Sprintf("The difference is small, and the %s has no more to give.", f.Main)
	case "between":
		out.Detail = fmt.Sprintf("This note is %s, but the slide stands right for your %s notes together.", w.Offset.Off(), number(f.Notes))
		if x := f.Theory.Cents(); math.Abs(float64(x)) >= float64(instrument.TellsBelow) {
			out.Detail = fmt.Sprintf("This note is %s, and by nature it lies %s%s: the slide stands right for your %s notes together.", w.Offset.Off(), off(x), w.cause(), number(f.Notes))
		}
	case "by-ear":
		out.Headline = fmt.Sprintf("Leave the %s where it is.", f.Main)
		out.Detail = fmt.Sprintf("In %s your ear places this note, not the %s.", f.Path, f.Main)
		out.Next = w.tellsWords("in closed first position ")
	case "not-telling":
		out.Headline = fmt.Sprintf("Leave the %s where it is.", f.Main)
		out.Detail = fmt.Sprintf("This note was %s. By nature it lies %s%s, more or less from instrument to instrument: alone it does not tell where the %s belongs.",
			w.Offset.Off(), off(f.Theory.Cents()), w.cause(), f.Main)
		out.Next = w.tellsWords("")
	case "room":
		return roomWords(f.Common, f.Own.Offset)
	case "all-in-band":
		out.Detail = "These notes are in tune, as far as slides can bring them."
		if f.Notes == 1 {
			out.Detail = "This note is in tune, as far as slides can bring it."
		}
	case "none-tells":
		out.Detail = fmt.Sprintf("None of these notes tells where the %s belongs: all lie off by nature, more or less from instrument to instrument.", f.Main)
		if f.Notes == 1 {
			out.Detail = fmt.Sprintf("This note alone does not tell where the %s belongs: it lies off by nature, more or less from instrument to instrument.", f.Main)
		}
		out.Next = w.tellsWords("")
	case "no-move-helps":
		out.Detail = "No slide would bring these notes closer to their places."
	}
	if out.Next == "" && f.Pinched && w.Code != "once-more" {
		out.Next = "Rest until you are called again, and start the next note with more air and less pressure."
	}
	return out
}

// cause names what makes a note lie off by nature.
func (w words) cause() string {
	t := w.Facts.Theory
	if math.Abs(float64(t.Valves)) > math.Abs(float64(t.Partial)) {
		return fmt.Sprintf(" with %s", w.Facts.Path)
	}
	return fmt.Sprintf(", as the %s partial does", ordinal(w.Facts.Path.Partial))
}

// tellsWords offers what tells: the same note played otherwise, or other notes
// by the names this player reads.
func (w words) tellsWords(where string) string {
	if w.Try != nil {
		return fmt.Sprintf("Played %s, this note would tell.", *w.Try)
	}
	names := w.tellingNames()
	if names == "" {
		return ""
	}
	return upperFirst(fmt.Sprintf("%s %swould tell.", names, where))
}

// tellingNames names two notes that tell.
func (w words) tellingNames() string {
	var names []string
	for i, n := range w.Facts.Telling {
		if i < 2 {
			names = append(names, "your "+w.written(n))
		}
	}
	return strings.Join(names, " or ")
}

var muteNames = map[Mute]string{Straight: "a straight mute", Cup: "a cup mute", OtherOne: "a mute"}

// muted asks for the tuning note open.
func (w words) muted() Words {
	if w.Facts.Mute == Stopped {
		return Words{Headline: "That was stopped.", Detail: "A stopped note does not tell where the slides belong.",
			Next: "Play the tuning note open, with the hand as you usually hold it."}
	}
	name := muteNames[w.Facts.Mute]
	out := Words{Headline: "That was with " + name + ".", Detail: upperFirst(name) + " changes the pitch by itself: this note does not tell where the slides belong.",
		Next: "Take it out for the tuning note, and say so on your page."}
	if s := w.Facts.MuteShift; s.Sure() {
		out.Detail += fmt.Sprintf(" With it you have lately stood about %s %s than without.", s.Cents.Size(), higher(s.Cents))
	}
	return out
}

// roomWords tells a player that the section is off as one, and where the player
// stands in it.
func roomWords(common, own pitch.Cents) Words {
	out := Words{Headline: "Leave the slides for now.", Detail: fmt.Sprintf("The whole section is %s as one, you with it.", off(common))}
	if math.Abs(float64(own)) > float64(DeadBand) {
		out.Detail = fmt.Sprintf("The whole section is %s as one; you stand %s %s the others.", off(common), own.Size(), above(own))
	}
	out.Next = "Blow warm air through the instrument. The leader will call again."
	if common > 0 {
		out.Next = "Rest the lips a moment. The leader decides whether everybody moves out or the section tunes to where it stands."
	}
	return out
}

func (w words) move() Words {
	st, f := w.Steps[0], w.Facts
	out := Words{Headline: headline(st), Next: "Then rest, breathe, and play the note again."}
	if len(w.Steps) > 1 {
		return w.several()
	}
	if f.Vibrato > 0 {
		out.Next = "Then rest, breathe, and play the note again, straight."
	}
	main := f.Main
	if main == "" {
		main = "main slide"
	}
	switch w.Code {
	case "move":
		out.Detail = fmt.Sprintf("From %.0f to %.0f mm out.", math.Round(st.FromMM), math.Round(st.ToMM))
		if f.Notes > 1 {
			out.Detail += fmt.Sprintf(" That is for your %s notes together.", number(f.Notes))
		}
		if f.Anew {
			out.Detail += " Your earlier notes no longer agree with this one and are left out."
		}
		if f.Rise >= 1 {
			out.Detail += fmt.Sprintf(" It still comes up by about %s as it warms; that is allowed for.", f.Rise.Size())
		}
	case "all-move":
		way := "in"
		if st.MM() > 0 {
			way = "out"
		}
		out.Detail = fmt.Sprintf("Everybody moves %s by what the section has in common: from %.0f to %.0f mm out.", way, math.Round(st.FromMM), math.Round(st.ToMM))
		if st.ShortBy != 0 {
			out.Detail += fmt.Sprintf(" %s.", needed(st, f))
		}
		out.Next = "Then rest until the note is called again: what is your own is heard then."
	case "limit":
		out.Detail = needed(st, f) + "."
		out.Next = w.limitNext()
	case "valve-slide", "low-valve-slide":
		out.Detail = fmt.Sprintf("%s is sharp by nature; the %s stays.", f.Path, main)
		if st.ShortBy != 0 {
			out.Detail = fmt.Sprintf("%s is sharp by nature, and the %s stays. %s: with that it is still about %s sharp.", f.Path, main, needed(st, f), st.ShortBy.Size())
		}
		out.Next = "Put it back for other notes."
		if st.ShortBy != 0 {
			out.Next = strings.TrimSpace(out.Next + " " + w.measure())
		}
		if t := w.tellsWords(""); t != "" && w.Code == "valve-slide" {
			out.Next += " For the " + main + ", " + strings.ToLower(t[:1]) + t[1:]
		}
	case "attachment-low":
		out.Detail = "The hand slide is at its end here, and the low notes of the F attachment run sharp. Push the slide back for the other notes."
	case "balance":
		out.Detail = fmt.Sprintf("For this chord only; the %s stays.", main)
	case "balance-limit":
		out.Detail = fmt.Sprintf("%s; the %s stays.", needed(st, f), main)
		if ask := w.measure(); ask != "" {
			out.Next = ask
		}
	}
	return out
}

// needed says what is needed and what is left.
func needed(st Step, f Facts) string {
	left := math.Abs(math.Round(st.MM()))
	is := "are"
	if left == 1 {
		is = "is"
	}
	return fmt.Sprintf("%s are needed, %.0f %s left", millimetres(f.NeedMM), left, is)
}

// limitNext is what to do about a slide that does not reach: look and measure,
// play another note, and only when several notes agree have the instrument looked at.
func (w words) limitNext() string {
	next := "Then play another note: one note alone says little about an instrument."
	names := w.tellingNames()
	switch {
	case w.Facts.Notes > 1:
		next = "If it is the same another day, show the instrument and mouthpiece to a teacher or technician."
	case names != "":
		next = fmt.Sprintf("Then play another note, %s: one note alone says little about an instrument.", names)
	}
	return strings.TrimSpace(w.measure() + " " + next)
}

// measure asks a player to look where a slide stands and how far it goes, before
// it is called at its end on figures that are only usual.
func (w words) measure() string {
	f := w.Facts
	var ask []string
	if !f.Placed && f.Slide.ID != instrument.Hand {
		ask = append(ask, fmt.Sprintf("Look where your %s stands, and write it in: %.0f mm out is only what is usual.", f.Slide.Name, f.Slide.UsualMM))
	}
	if f.Out && !f.Measured && f.Slide.ID != instrument.Hand {
		ask = append(ask, fmt.Sprintf("Measure once how far your %s goes before it %s, and write it in: %.0f mm is only what is usual.", f.Slide.Name, ends(f.Slide), f.Slide.TravelMM))
	}
	return strings.Join(ask, " ")
}

func ends(s instrument.Slide) string {
	if s.End == instrument.Stops {
		return "stops"
	}
	return "comes off"
}

// several is a plan of more than one slide.
func (w words) several() Words {
	var lines []string
	for _, st := range w.Steps {
		lines = append(lines, headline(st))
	}
	f := w.Facts
	out := Words{Headline: strings.Join(lines, " "), Detail: "From one note.", Next: "Then rest, breathe, and play the note again."}
	if f.Notes > 1 {
		out.Detail, out.Next = fmt.Sprintf("From %s notes together.", number(f.Notes)), "Then rest, breathe, and play the notes again."
	}
	horn := false
	for _, st := range w.Steps {
		horn = horn || st.Slide == instrument.FMain || st.Slide == instrument.BbMain
	}
	switch main := w.Steps[0].Slide == instrument.Main; {
	case len(w.Steps) < 2 || !main:
	case horn && f.Order == FSideFirst:
		out.Detail += " Main slide on the F side first, then the B♭ slide to match."
	case horn:
		out.Detail += " Main slide on the B♭ side first, then the F slide to match."
	default:
		out.Detail += " The main slide once; the valve slides for their own notes."
	}
	return out
}

func (w words) finger() Words {
	f := w.Facts
	switch w.Code {
	case "bell":
		out := Words{Headline: "Open the hand in the bell a little.", Detail: "For this chord only; the slides stay."}
		if f.Out {
			out.Headline = "Cover the bell a little more with the hand."
		}
		return out
	case "non-compensating":
		return Words{Headline: fmt.Sprintf("Try %s instead of %s.", w.Try, f.Path),
			Detail: fmt.Sprintf("Without compensation the low combinations run sharp; in theory this one is about %s lower.", f.Gain.Size())}
	}
	return Words{Headline: fmt.Sprintf("Try %s instead of %s.", w.Try, f.Path),
		Detail: fmt.Sprintf("In theory it lies about %s %s.", f.Gain.Size(), higher(f.Gain))}
}

func (w words) nothing() Words {
	f := w.Facts
	switch w.Code {
	case "limit":
		where := "all the way in already"
		switch {
		case f.Out && f.Slide.End == instrument.Stops:
			where = "all the way out already"
		case f.Out && f.Measured:
			where = "as far out as is safe already"
		case f.Out:
			where = "already as far out as they usually go"
		}
		return Words{Headline: fmt.Sprintf("The %s is %s.", f.Slide.Name, where),
			Detail: fmt.Sprintf("About %s more would be needed.", millimetres(f.NeedMM)), Next: w.limitNext()}
	case "all-move-end":
		end := "in"
		if f.Out {
			end = "out"
		}
		return Words{Headline: fmt.Sprintf("Leave the %s: it stands all the way %s.", f.Slide.Name, end),
			Detail: fmt.Sprintf("Everybody moves by what the section has in common; yours would need %s more.", millimetres(f.NeedMM)),
			Next:   "Rest until the note is called again."}
	case "attachment-low":
		out := Words{"The F attachment does not reach down to this note in tune.", "The hand slide and the F-attachment slide together end above it.",
			"Choose another octave, or ask a teacher about the part.", ""}
		if left := w.Offset + f.Gain; f.NeedMM > 0 {
			out.Detail = fmt.Sprintf("With the F-attachment slide pulled %s it is still about %s sharp.", millimetres(f.NeedMM), left.Size())
			out.Next = strings.TrimSpace(w.measure() + " " + out.Next)
		}
		return out
	case "non-compensating":
		return Words{"No slide puts this low note right.",
			fmt.Sprintf("Without compensation %s is sharp by nature, about %s in theory. It is the fingering, not your slide.", f.Path, f.Theory.Cents().Size()),
			"Tune on the open notes and leave the slides.", ""}
	case "stopped-hand":
		return Words{"Leave this note as it is.", "Stopped, how tightly the hand closes the bell sets the pitch.", "Let the others come to it, or try how far the hand goes in.", ""}
	case "slide-closed":
		return Words{"The hand slide is all the way in already.", "This note is flat in first position and has no slide left.",
			"Set the bell slide a little further in at the next tuning, so that first position can be played slightly out.", ""}
	case "slide-out":
		return Words{"The hand slide is all the way out already.", "This note is sharp there and has no slide left.", "Let the others come to it, or take it in another position.", ""}
	}
	out := Words{Headline: "Leave this note as it is.", Next: "Let the others come to it.",
		Detail: fmt.Sprintf("Played %s, nothing moves this note while it sounds, and the %s stays.", f.Path, f.Main)}
	if f.Slide.Name != "" {
		end := "in"
		if f.Out {
			end = "out"
		}
		out.Detail = fmt.Sprintf("The %s is all the way %s already, and the %s stays.", f.Slide.Name, end, f.Main)
	}
	return out
}

func (w words) rest() Words {
	switch w.Code {
	case "held":
		return Words{"Leave the slide. Rest a moment.", "The slide moved and the pitch stayed where it was.",
			"Breathe, think of an easy sound, and start the note fresh: does it go where the slide went?", ""}
	case "partly":
		return Words{"Leave the slide. Play the note once more.", "The pitch went only part of the way with the slide.", freshAttack, ""}
	case "tries":
		because := w.Advice
		because.Kind, because.Code = Again, w.Facts.Because
		if because.Heard != 0 {
			because.Kind = Note
		}
		return Words{Headline: "Rest now.", Detail: SayIn(w.style, because).Headline, Next: "That was enough for the moment. The others go on; you will be asked again later."}
	}
	return Words{}
}

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

// SayEvening tells a leader where a section that has warmed up will stand in a
// room, so that A can be chosen on purpose: with the source, and how far it can be
// trusted.
func SayEvening(e instrument.Evening) string {
	a, _, _ := e.A4(pitch.Reference{}) // that instruments are built for
	size := func(x pitch.Cents) float64 { return math.Abs(math.Round(float64(x))) }
	text := fmt.Sprintf("In a room of %.0f °C a section that has warmed up will stand where it does at 20 °C: A near %.0f Hz with the slides where they usually are.", e.RoomC, float64(a))
	if size(e.Expected) >= 1 {
		near, far := size(e.Low), size(e.High)
		text = fmt.Sprintf("In a room of %.0f °C a section that has warmed up will stand about %s %s than at 20 °C, somewhere from %.0f to %.0f: A near %.0f Hz with the slides where they usually are.",
			e.RoomC, e.Expected.Size(), higher(e.Expected), math.Min(near, far), math.Max(near, far), float64(a))
	}
	text += " That is theory: the air alone does 3 cents for each °C (Cramer 1993); that instruments do 2 of them, from 1 to 3, rests on no measurement that we found."
	if e.Beyond {
		text += " So warm a room is beyond what the formula was checked for."
	}
	return text + " Choose A, warm up, and listen before a slide moves."
}

// words says one thing that the leader can do.
func (c Choice) words(common pitch.Cents) string {
	switch c.Do {
	case WarmUp:
		return "Warm up first, then call again: cold instruments are flat and come up by themselves."
	case AllMove:
		way := "in"
		if common > 0 {
			way = "out"
		}
		text := fmt.Sprintf("Everybody %s by the common part, %s: up to %s.", way, common.Size(), millimetres(c.MM))
		if c.Beyond > 0 {
			text += fmt.Sprintf(" %s of the slides cannot go so far.", upperFirst(number(c.Beyond)))
		}
		return text
	case TuneThere:
		return fmt.Sprintf("Tune to where they stand: A at %g Hz.", float64(c.Reference.A4))
	}
	if common > 0 {
		return "Hear it once more, mezzo-forte and rested, before anything moves."
	}
	return "Hear it once more before anything moves."
}

func above(x pitch.Cents) string {
	if x > 0 {
		return "above"
	}
	return "below"
}

func upperFirst(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

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
		return fmt.Sprintf("A at %g Hz is within reach of %s more slides.", a, number(more))
	}
	return fmt.Sprintf("A at %g Hz would need %.0f mm of slide in all instead of %.0f.", a, o.MM, o.PresentMM)
}

func tooFarWords(wrongWay bool) string {
	if wrongWay {
		return "The pitch went the other way: was the slide moved the wrong way, or another slide too?"
	}
	return "The pitch went further than the slide: was another slide moved too?"
}

// headline is what a player does with a slide: "Pull the main slide 6 mm."
func headline(st Step) string {
	verb := "Push in"
	if st.MM() > 0 {
		verb = "Pull"
	}
	if st.Slide == instrument.Hand {
		verb = "Bring in"
		if st.MM() > 0 {
			verb = "Move out"
		}
	}
	return fmt.Sprintf("%s the %s %s.", verb, st.Name, millimetres(st.MM()))
}

// millimetres writes a distance as players see it: whole, without sign.
func millimetres(mm float64) string {
	return fmt.Sprintf("%.0f mm", math.Abs(math.Round(mm)))
}

// small is the small print of an answer: "11 cents sharp, give or take 2".
func small(x, ci pitch.Cents) string {
	within := pitch.Cents(math.Ceil(float64(ci)))
	if math.Round(float64(x)) == 0 {
		return "in tune, give or take " + within.Size()
	}
	return fmt.Sprintf("%s, give or take %.0f", x.Off(), float64(within))
}

func higher(x pitch.Cents) string {
	if x > 0 {
		return "higher"
	}
	return "lower"
}

// off says an offset that is known roughly: "about 14 cents flat".
func off(x pitch.Cents) string {
	if math.Round(float64(x)) == 0 {
		return "in tune"
	}
	return "about " + x.Off()
}

// number writes small numbers as words.
func number(n int) string {
	names := []string{"no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven", "twelve"}
	if n < len(names) {
		return names[n]
	}
	return fmt.Sprint(n)
}

func ordinal(n int) string {
	names := []string{"", "first", "second", "third", "fourth", "fifth", "sixth", "seventh", "eighth", "ninth", "tenth", "eleventh", "twelfth"}
	if n > 0 && n < len(names) {
		return names[n]
	}
	return fmt.Sprintf("%dth", n)
}
