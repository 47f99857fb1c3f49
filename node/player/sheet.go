package player

import (
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf8"

	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/instrument"
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
	// Moved is true once the player said that the move was made.
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
	Places   string             `json:"places"` // "from 12 mm out to 18 mm out"
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
	Joining bool      `json:"joining"`
}

func newSheet(st state, browserMic bool) Sheet {
	v := st.view
	sh := Sheet{Stage: "join", Section: v.Section, Chair: v.Chair, Instrument: v.Instrument, Phase: v.Phase, Say: v.Say, Slides: v.Slides,
		Notes: v.Notes, Paused: st.paused, Mic: micSheet(st.sound, browserMic), Link: linkSheet(st), Wish: st.wish}
	sh.Mute, sh.Mutes = st.mute, mutes(st.wish.Instrument)
	if st.link.State == LinkJoined || st.link.State == LinkLost {
		sh.Stage = "play"
	}
	if sh.Phase == "" {
		sh.Phase = "idle"
	}
	sh.Warming = warmingWords(st.sound.Played)
	if sh.Slides == nil {
		sh.Slides = []proto.Slide{}
	}
	if st.paused {
		sh.Phase, sh.Say = "paused", "Paused. Nothing is listened to; the row goes on without you."
		return sh
	}
	if v.Written != "" {
		style := st.style()
		sh.Note, sh.NoteSmall = named(style.Note, v.Written), noteSmall(v, style)
		sh.Staff = newStaff(v.Written, clefOf(v, st.wish.Instrument), v.Key)
	}
	// Where all play together they hold on until the others are heard.
	if st.sound.Enough && v.Listen && v.Round != 0 && !v.Tracks.Valid() && !v.Path {
		sh.Enough, sh.Say = true, "Heard. Stop."
	}
	sh.Dark = v.Listen && st.sound.State != listen.Quiet && st.sound.State != ""
	if v.Answer != nil {
		sh.Answer = answerSheet(*v.Answer, st.moved)
	}
	return sh
}

// coldSeconds of sound are enough for a first setting when nothing else is
// known of the instrument, as the hub has it.
const coldSeconds = 120

// warmingWords says how long still to play, in steps that can be read at a
// glance; empty for a warm instrument.
func warmingWords(played float64) string {
	const step = 10
	left := math.Ceil((coldSeconds-played)/step) * step
	if left <= 0 {
		return ""
	}
	return fmt.Sprintf("Play easy notes to warm up: about %.0f seconds more until a slide can be set well.", left)
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
func noteSmall(v proto.View, y pitch.Style) string {
	s := ""
	switch {
	case v.Concert != "" && v.Concert != v.Written:
		s = "sounds " + named(y.Both, v.Concert)
	case named(y.Both, v.Written) != named(y.Note, v.Written):
		s = "in English " + v.Written
	}
	if v.Fingering != "" {
		if s != "" {
			s += " · "
		}
		s += v.Fingering
	}
	return s
}

func answerSheet(a proto.Answer, moved int64) *AnswerSheet {
	out := &AnswerSheet{ID: a.ID, Kind: a.Kind, Headline: a.Headline, Detail: a.Detail, Next: a.Next, Small: a.Small,
		Moved: moved == a.ID && len(a.Moves) > 0}
	for _, m := range a.Moves {
		out.Moves = append(out.Moves, drawSlide(m, out.Moved))
	}
	return out
}

// leastMM is the least length of slide drawn, so that a short move on a slide
// of unknown travel still has surroundings.
const leastMM = 40

// drawSlide places a slide. Once moved it stands at its new place.
func drawSlide(m proto.Slide, moved bool) SlideDraw {
	whole := max(m.TravelMM, m.FromMM+5, m.ToMM+5)
	if m.TravelMM <= 0 {
		whole = max(whole, leastMM)
	}
	at := func(mm float64) float64 { return math.Round(1000*mm/whole) / 10 }
	d := SlideDraw{ID: m.ID, Name: m.Name, Verb: "pull", Distance: millimetres(m.ToMM - m.FromMM),
		From: at(m.FromMM), To: at(m.ToMM),
		Places: fmt.Sprintf("from %s mm out to %s mm out", millimetres(m.FromMM), millimetres(m.ToMM))}
	if m.ToMM < m.FromMM {
		d.Verb = "push"
	}
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

// troubles explain a device's trouble, with what to do.
var troubles = map[string][2]string{
	"no-samples":    {"The microphone gives no sound.", "Plug it in again, or choose another one."},
	"overrun":       {"This laptop lost some sound.", "Close other programs."},
	"clipping":      {"The microphone is overloaded.", "Turn its input level down, or move it away from the bell."},
	"processing-on": {"Sound processing is switched on.", "Switch off noise suppression, echo cancellation and automatic level for this microphone."},
}

func micSheet(h Sound, browser bool) MicSheet {
	m := MicSheet{Browser: browser, Device: h.Device, Level: "play a note to check", Noise: ""}
	if h.Device == "" {
		m.Level = "no microphone yet"
		return m
	}
	m.Good = true
	if h.State != listen.Quiet && h.State != "" {
		switch {
		case h.Level > tooLoud:
			m.Level, m.Good = "too loud for the microphone", false
		case h.Level < tooQuiet:
			m.Level, m.Good = "too quiet: bring the microphone closer", false
		default:
			m.Level = "heard well"
		}
	}
	if h.Floor != 0 {
		m.Noise = "the room is quiet"
		if h.Floor > noisy {
			m.Noise = "the room is noisy"
		}
	}
	if t, ok := troubles[h.Trouble]; ok {
		m.Trouble, m.Hint, m.Good = t[0], t[1], false
	}
	return m
}

func linkSheet(st state) LinkSheet {
	l := LinkSheet{State: st.link.State, Hub: st.link.Hub, Found: st.link.Found, Joining: st.joining, Hint: sentence(st.link.Hint)}
	if l.Found == nil {
		l.Found = []string{}
	}
	words := map[LinkState]string{
		LinkSearching: "Looking for the hub on this network …",
		LinkFound:     "The hub is there.",
		LinkJoined:    "Connected.",
		LinkLost:      "The hub does not answer just now. Play on: readings are kept and sent later.",
		LinkRefused:   "The hub said no.",
	}
	l.Words = words[st.link.State]
	if st.link.Problem != "" {
		l.Words = sentence(st.link.Problem)
	}
	if st.joining && st.link.State != LinkRefused {
		l.Words = "Asking for a seat …"
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
