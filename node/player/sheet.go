package player

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Sheet is the whole page, display-ready: the page sets it and computes
// nothing.
type Sheet struct {
	// Stage is "join" until the node sits at a hub, then "play".
	Stage   string `json:"stage"`
	Section string `json:"section,omitempty"`
	Chair   string `json:"chair,omitempty"`
	// Instrument is what the hub has this chair down for.
	Instrument string `json:"instrument,omitempty"`
	// Phase is proto.View's, or "paused". Dark is true while the instrument
	// sounds in answer to a call: the page then shows the note and nothing else.
	Phase string `json:"phase"`
	Dark  bool   `json:"dark"`
	// Enough is set while the note still sounds though enough of it was heard:
	// the page changes as a whole, so that it is seen without being read.
	Enough bool   `json:"enough,omitempty"`
	Say    string `json:"say"`
	// Note is the written note in large type; NoteSmall the concert note and
	// the fingering.
	Note      string        `json:"note,omitempty"`
	NoteSmall string        `json:"note_small,omitempty"`
	Staff     *Staff        `json:"staff,omitempty"`
	Answer    *AnswerSheet  `json:"answer,omitempty"`
	Slides    []proto.Slide `json:"slides,omitempty"`
	Notes     []string      `json:"notes,omitempty"`
	// Warming says how far the instrument is from being warm; empty once it is.
	Warming string `json:"warming,omitempty"`
	Paused  bool   `json:"paused"`
	// Mute is what the player says is in the bell, Mutes what can be.
	Mute  string       `json:"mute,omitempty"`
	Mutes []MuteChoice `json:"mutes,omitempty"`
	// Language is what all of this is in, as a tag of BCP 47; empty = English.
	Language string `json:"language,omitempty"`
	// Mic is the microphone check.
	Mic  MicSheet  `json:"mic"`
	Link LinkSheet `json:"link"`
	Wish Wish      `json:"wish"`
}

// AnswerSheet is the frozen answer with its drawing.
type AnswerSheet struct {
	ID       int64       `json:"id"`
	Kind     string      `json:"kind"`
	Headline string      `json:"headline"`
	Detail   string      `json:"detail,omitempty"`
	Next     string      `json:"next,omitempty"`
	Small    string      `json:"small,omitempty"`
	Moves    []SlideDraw `json:"moves,omitempty"`
	// Moved is true once the move was made, as the player said here or the hub
	// knows otherwise.
	Moved bool `json:"moved"`
	// Keep offers to keep the sound; Kept says where it lies once it is kept.
	Keep bool   `json:"keep,omitempty"`
	Kept string `json:"kept,omitempty"`
}

// refuses reports whether an answer of this kind (proto.Answer) gave the note no
// reading that counts.
func refuses(kind string) bool { return kind == "again" || kind == "note" || kind == "rest" }

// keep offers to keep the sound of the note that a refused, or says where it
// is.
func (a *AnswerSheet) keep(k kept) {
	a.Keep = k.path == "" || k.answer != a.ID
	if !a.Keep {
		a.Kept = k.path
	}
}

// SlideDraw is a slide drawn to scale. From and To are in percent of the
// drawing's width, which runs from the slide closed (0 mm) to WholeMM out.
type SlideDraw struct {
	ID       instrument.SlideID `json:"id"`
	Name     string             `json:"name"`
	Verb     string             `json:"verb"`
	Distance string             `json:"distance"`
	From     float64            `json:"from"`
	To       float64            `json:"to"`
	Words    string             `json:"words"` // "pull the main slide 6 mm, from 12 mm out to 18 mm out"
	Ticks    []Tick             `json:"ticks"`
}

// Tick is one graduation; At in percent of the width.
type Tick struct {
	At    float64 `json:"at"`
	Label string  `json:"label,omitempty"`
}

// MicSheet is the microphone check in words.
type MicSheet struct {
	Browser bool   `json:"browser"` // the page itself is the microphone
	Device  string `json:"device,omitempty"`
	Level   string `json:"level"`
	Noise   string `json:"noise"`
	Trouble string `json:"trouble,omitempty"`
	Hint    string `json:"hint,omitempty"`
	Good    bool   `json:"good"`
}

// LinkSheet is the connection in words.
type LinkSheet struct {
	State   LinkState `json:"state"`
	Words   string    `json:"words"`
	Hint    string    `json:"hint,omitempty"`
	Hub     string    `json:"hub,omitempty"`
	Found   []string  `json:"found"`
	Seated  string    `json:"seated,omitempty"` // who sits where, in words
	Joining bool      `json:"joining"`
}

func newSheet(st state, browserMic bool) Sheet {
	v, t := st.view, st.tongue()
	sh := Sheet{Language: t.Language(),
		Stage: "join", Section: v.Section, Chair: v.Chair, Instrument: t.Instrument(v.Instrument), Phase: v.Phase, Say: v.Say, Slides: v.Slides,
		Notes: v.Notes, Paused: st.paused, Mic: micSheet(st.sound, browserMic, t), Link: linkSheet(st, t), Wish: st.wish}
	sh.Mute, sh.Mutes = st.mute, mutes(st.wish.Instrument)
	for i := range sh.Mutes {
		sh.Mutes[i].Label = t.Say(sh.Mutes[i].Label)
	}
	sh.Slides = slices.Clone(sh.Slides)
	for i := range sh.Slides {
		sh.Slides[i].Name = t.Slide(sh.Slides[i].Name)
	}
	if st.joined() {
		sh.Stage = "play"
	}
	if sh.Phase == "" {
		sh.Phase = "idle"
	}
	sh.Warming = warmingWords(st.sound.Played, t)
	if sh.Slides == nil {
		sh.Slides = []proto.Slide{}
	}
	if st.paused {
		sh.Phase, sh.Say = "paused", t.Say("player.paused")
		return sh
	}
	if v.Written != "" {
		sh.Note, sh.NoteSmall = named(t.Notes.Note, v.Written), noteSmall(v, t)
		sh.Staff = newStaff(v.Written, clefOf(v, st.wish.Instrument), v.Key, t)
	}
	// Where all play together they hold on until the others are heard.
	if st.sound.Enough && v.Listen && v.Round != 0 && !v.Tracks.Valid() && !v.Path {
		sh.Enough, sh.Say = true, t.Say("player.enough")
	}
	if st.heard && v.Phase == "play" { // else it asked once more until the answer comes
		sh.Say = t.Say("player.enough.after")
	}
	sh.Dark = v.Listen && st.sound.State != listen.Quiet && st.sound.State != ""
	if v.Answer != nil {
		sh.Answer = answerSheet(*v.Answer, st.moved, t)
	}
	return sh
}

// coldSeconds of sound are enough for a first setting when nothing else is
// known of the instrument, as the hub has it.
const coldSeconds = 120

// warmingWords says how long still to play, in steps that can be read at a
// glance; empty for a warm instrument.
func warmingWords(played float64, t phrase.Tongue) string {
	const step = 10
	left := math.Ceil((coldSeconds-played)/step) * step
	if left <= 0 {
		return ""
	}
	return t.Say("player.warming", int(left))
}

// style is how this page names notes: as its player chose, or as the hub says.
func (st state) style() pitch.Style {
	for _, names := range []string{st.wish.Names, st.view.Names} {
		if y, err := pitch.ParseStyle(names); names != "" && err == nil {
			return y
		}
	}
	return pitch.Style{}
}

// named writes a note that the hub named in English.
func named(write func(pitch.Spelled) string, english string) string {
	s, err := pitch.ParseSpelled(english)
	if err != nil {
		return english
	}
	return write(s)
}

// noteSmall is the concert note where it is another one, the English name where
// the style's could be misread, and the fingering.
func noteSmall(v proto.View, t phrase.Tongue) string {
	y, s := t.Notes, ""
	switch {
	case v.Concert != "" && v.Concert != v.Written:
		s = t.Say("player.sounds", named(y.Both, v.Concert))
	case named(y.Both, v.Written) != named(y.Note, v.Written):
		s = t.Say("player.in-english", v.Written)
	}
	if v.Fingering != "" {
		if s != "" {
			s += " · "
		}
		s += v.Fingering
	}
	return s
}

func answerSheet(a proto.Answer, moved int64, t phrase.Tongue) *AnswerSheet {
	out := &AnswerSheet{ID: a.ID, Kind: a.Kind, Headline: a.Headline, Detail: a.Detail, Next: a.Next, Small: a.Small,
		Moved: a.Moved || moved == a.ID && len(a.Moves) > 0}
	for _, m := range a.Moves {
		out.Moves = append(out.Moves, drawSlide(m, out.Moved, t))
	}
	return out
}

// leastMM is the least length of slide drawn, so that a short move on a slide
// of unknown travel still has surroundings.
const leastMM = 40

// drawSlide places a slide. Once moved it stands at its new place.
func drawSlide(m proto.Slide, moved bool, t phrase.Tongue) SlideDraw {
	whole := max(m.TravelMM, m.FromMM+5, m.ToMM+5)
	if m.TravelMM <= 0 {
		whole = max(whole, leastMM)
	}
	at := func(mm float64) float64 { return math.Round(1000*mm/whole) / 10 }
	key := "player.draw.pull"
	if m.ToMM < m.FromMM {
		key = "player.draw.push"
	}
	d := SlideDraw{ID: m.ID, Name: t.Slide(m.Name), Verb: t.Say(key), Distance: millimetres(m.ToMM - m.FromMM), From: at(m.FromMM), To: at(m.ToMM)}
	d.Words = t.Say(key+".words", d.Name, d.Distance, millimetres(m.FromMM), millimetres(m.ToMM))
	if moved {
		d.From = d.To
	}
	step := 10.0
	for whole/step > 12 {
		step *= 2
	}
	for mm := 0.0; mm <= whole; mm += step / 5 {
		t := Tick{At: at(mm)}
		if math.Mod(math.Round(10*mm), 10*step) == 0 {
			t.Label = fmt.Sprintf("%.0f", mm)
		}
		d.Ticks = append(d.Ticks, t)
	}
	return d
}

// millimetres writes a length as a slide can be set by hand: whole ones, and
// halves below three.
func millimetres(mm float64) string {
	mm = math.Abs(mm)
	half := math.Round(2*mm) / 2
	switch {
	case mm >= 3 || half == math.Floor(half):
		return fmt.Sprintf("%.0f", math.Round(mm))
	case half < 1:
		return "½"
	}
	return fmt.Sprintf("%.0f½", math.Floor(half))
}

// Levels of the microphone check, dBFS. Capture keeps a resting note between
// about -40 and -6 dBFS when the microphone is well placed (common practice,
// no source); the room should lie well below the note.
const (
	tooLoud  pitch.Level = -3
	tooQuiet pitch.Level = -50
	noisy    pitch.Level = -45
)

func micSheet(h Sound, browser bool, t phrase.Tongue) MicSheet {
	m := MicSheet{Browser: browser, Device: h.Device, Level: t.Say("player.mic.check"), Noise: ""}
	if h.Device == "" {
		m.Level = t.Say("player.mic.missing")
		return m
	}
	m.Good = true
	if h.State != listen.Quiet && h.State != "" {
		switch {
		case h.Level > tooLoud:
			m.Level, m.Good = t.Say("player.mic.loud"), false
		case h.Level < tooQuiet:
			m.Level, m.Good = t.Say("player.mic.quiet"), false
		default:
			m.Level = t.Say("player.mic.well")
		}
	}
	if h.Floor != 0 {
		m.Noise = t.Say("player.mic.room.quiet")
		if h.Floor > noisy {
			m.Noise = t.Say("player.mic.room.noisy")
		}
	}
	if key := "player.mic." + h.Trouble; h.Trouble != "" && t.Has(key+".next") {
		m.Trouble, _, m.Hint = t.Parts(key)
		m.Good = false
	}
	return m
}

func linkSheet(st state, t phrase.Tongue) LinkSheet {
	l := LinkSheet{State: st.link.State, Hub: st.link.Hub, Found: st.link.Found, Joining: st.joining, Hint: sentence(st.link.Hint)}
	if l.Found == nil {
		l.Found = []string{}
	}
	l.Words = t.Say("player.link." + string(st.link.State))
	if st.link.State == LinkFound && st.link.Hub != "" {
		l.Words = t.Say("player.link.here", st.link.Hub)
		if len(st.link.Seated) > 0 {
			l.Seated = t.Say("player.link.seated", strings.Join(st.link.Seated, ", "))
		}
	}
	if st.link.Problem != "" {
		l.Words = sentence(st.link.Problem)
		if t.Language() != "" { // the hub and the node speak English
			key := "player.trouble." + st.link.Code
			if st.link.Code == "" || !t.Has(key) {
				key = "player.trouble.other"
			}
			l.Words, _, l.Hint = t.Parts(key)
		}
	}
	if st.joining && st.link.State != LinkRefused {
		l.Words = t.Say("player.link.asking")
	}
	return l
}

// sentence gives a clause a capital and a full stop.
func sentence(words string) string {
	if words == "" {
		return ""
	}
	first, size := utf8.DecodeRuneInString(words)
	words = string(unicode.ToUpper(first)) + words[size:]
	if last, _ := utf8.DecodeLastRuneInString(words); strings.ContainsRune(".!?…", last) {
		return words
	}
	return words + "."
}
