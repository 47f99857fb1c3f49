package tuneup_test

import (
	"encoding/json"
	"errors"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/hub/tuneup"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
	"bellrow/proto/pitch"
)

// tongues hears what leader and players are told as it stands, in every language, and
// finds what is English all the same.
type tongues struct {
	t    testing.TB
	seen map[string]bool
}

// codes are the keys under which a row or a view has what programs read, or what was typed.
var codes = []string{"section", "part", "chord", "tuning", "instrument", "order", "tone", "tones"}

func (x *tongues) hear(state *tuneup.State, now time.Time) {
	if x.t == nil {
		return
	}
	x.t.Helper()
	for _, l := range phrase.Leader.Offered() {
		if l.Tag == "en-GB" || l.Tag == "en-US" {
			continue
		}
		st := state.Standing(now)
		sec := state.Section()
		sec.Language = l.Tag
		st.Section = &sec
		typed := append([]string{sec.Name}, slides()...)
		for _, c := range sec.Chairs {
			typed = append(typed, c.Name, c.Label)
		}
		x.listen(l.Tag, show.NewRow(st, 0, nil), typed)
		for i := range st.Chairs {
			c := &st.Chairs[i]
			said := c.Sound
			said.Language = l.Tag
			c.Sound = said
			x.listen(l.Tag, show.NewView(st, c), typed)
		}
	}
}

func (x *tongues) listen(tag string, what any, typed []string) {
	data, err := json.Marshal(what)
	if err != nil {
		x.t.Fatal(err)
	}
	for _, text := range heard.JSON(data, codes...) {
		if x.seen == nil {
			x.seen = map[string]bool{}
		}
		if x.seen[tag+text] {
			continue
		}
		x.seen[tag+text] = true
		if e := heard.English(tag, text, typed...); e != "" {
			x.t.Errorf("%s: %q is English in %q", tag, e, text)
		}
	}
}

// slides are the names of slides, which the pages translate.
func slides() (names []string) {
	for _, in := range instrument.Catalogue() {
		for _, s := range in.Slides {
			names = append(names, s.Name)
		}
	}
	return names
}

// refused: whatever refuses a command has a text, and that one is in the language.
func refused(t testing.TB, err error, typed ...string) {
	t.Helper()
	if err == nil || errors.Is(err, hub.ErrNotFound) { // a page has a sentence of its own for it
		return
	}
	for _, l := range phrase.Leader.Offered() {
		text, ok := phrase.Leader.In(l.Tag, phrase.Tongue{}.Notes).Why(err)
		if !ok {
			t.Errorf("nobody can say %v", err)
			return
		}
		if e := heard.English(l.Tag, text, typed...); e != "" && l.Tag != "en-GB" && l.Tag != "en-US" {
			t.Errorf("%s: %q is English in %q", l.Tag, e, text)
		}
	}
}

// TestNonsenseIsRefusedInEveryLanguage: each command with nothing, with what no page
// sends, and each field of a set-up out of its bounds.
func TestNonsenseIsRefusedInEveryLanguage(t *testing.T) {
	long := strings.Repeat("x", 200)
	commands := []hub.Command{{Do: "odd"}, {Do: "odd", Chair: 1}, {Do: hub.DoOpen}}
	for _, do := range []string{hub.DoCall, hub.DoAgain, hub.DoNext, hub.DoSkip, hub.DoAbsent, hub.DoEnd, hub.DoUndo, hub.DoSeat, hub.DoEdit, hub.DoSetting, hub.DoTone, hub.DoFingering,
		hub.DoMoves, hub.DoWarmUp, hub.DoAllMove, hub.DoFollow, hub.DoHearAgain, hub.DoRemove, hub.DoListen, hub.DoChoose, hub.DoPart, hub.DoPartFor, hub.DoSonority, hub.DoNextSonority,
		hub.DoDropPiece, hub.DoBend, hub.DoWatch} {
		for _, chair := range []hub.ChairID{0, 1, 77} {
			commands = append(commands, hub.Command{Do: do, Chair: chair, SeatRow: -1, Slide: "main", MM: -3, Note: 500, Name: "nose", Part: 99, Index: 99})
		}
	}
	for _, chord := range []string{"X major", "", "C nonsense", "C/Q", "C/D", "C first inversion/E", "C third inversion", "C minor 7/4", long} {
		commands = append(commands, hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallChord, Chord: chord}})
	}
	for _, c := range []hub.Call{{Kind: "odd"}, {Note: 500}, {Note: 70, Where: long}, {Note: 70, Thorough: true, Together: true}, {Note: 70, Tones: map[hub.ChairID]pitch.Note{1: -3}},
		{Kind: hub.CallChord, Chord: "C", Tuning: "odd"}, {Kind: hub.CallChord, Chord: "C", Anchor: "odd"}, {Kind: hub.CallChord, Chord: "C", Shape: "odd"}} {
		commands = append(commands, hub.Command{Do: hub.DoCall, Call: &c})
	}
	for _, spoil := range []func(*hub.Section){
		func(s *hub.Section) { s.Name = " " }, func(s *hub.Section) { s.Name = long }, func(s *hub.Section) { s.Good = -1 }, func(s *hub.Section) { s.Near = 1000 },
		func(s *hub.Section) { s.Order = "odd" }, func(s *hub.Section) { s.Language = "odd" }, func(s *hub.Section) { s.HornOrder = "odd" }, func(s *hub.Section) { s.Tuning = "odd" },
		func(s *hub.Section) { s.Chairs = make([]hub.Chair, 1001) }, func(s *hub.Section) { s.TuningNotes = make([]pitch.Note, 25) }, func(s *hub.Section) { s.TuningNotes = []pitch.Note{500} },
		func(s *hub.Section) { s.TemperatureC = 99 }, func(s *hub.Section) { s.Notes.Naming = "odd" }, func(s *hub.Section) { s.Reference.A4 = 1 },
		func(s *hub.Section) { s.Chairs = append(s.Chairs, s.Chairs[0]) }, func(s *hub.Section) { s.Chairs[0].Part = long }, func(s *hub.Section) { s.Chairs[0].Row = -1 },
		func(s *hub.Section) { s.Chairs[0].Instrument = "kazoo" }, func(s *hub.Section) { s.Chairs[0].Settings = instrument.Settings{"nose": 1} },
		func(s *hub.Section) { s.Chairs[0].Settings = instrument.Settings{"main": -1} }, func(s *hub.Section) { s.Chairs[0].Travel = instrument.Settings{"main": 5000} },
	} {
		h := room(t, 440)
		h.lines("join Ada trumpet_bb")
		s := h.state.Section().Clone()
		spoil(&s)
		commands = append(commands, hub.Command{Do: hub.DoEdit, Section: &s})
	}
	n := 0
	for _, before := range []string{"", "call Bb4", "call Bb major", "listen", "watch", "bend"} {
		for _, c := range commands {
			h := room(t, 440)
			h.lines("join Ada trumpet_bb")
			if before != "" {
				h.lines(before)
			}
			if _, err := h.state.Step(h.now, tuneup.Command(c)); err != nil {
				n++
				refused(t, err, "nose", long, "C", "D")
			}
		}
	}
	if n < 300 {
		t.Errorf("%d commands of nonsense were refused", n)
	}
}
