package check

import (
	"context"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/node/capture"
	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
	"bellrow/proto/pitch"
)

// gone is a microphone that goes away, of a browser that processes the sound or not.
type gone struct {
	err   error
	block int
}

func (g *gone) Info() capture.Info { return capture.Info{Rate: rate, Name: "Built-in"} }
func (g *gone) Close() error       { return nil }
func (g *gone) Trouble() string    { return "processing-on" }
func (g *gone) Read(context.Context) (capture.Block, error) {
	if g.err != nil {
		return capture.Block{}, g.err
	}
	g.block++
	return capture.Block{First: int64(g.block-1) * rate, Samples: make([]float64, rate)}, nil
}

// faulty are lines of everything that can be wrong with a microphone.
func faulty(t *testing.T) (lines []Line) {
	write := func(lost int64, scenes ...scene) {
		for _, c := range scenes {
			s := NewSound(rate)
			s.Write(c.samples(), lost)
			lines = append(lines, s.Lines()...)
		}
	}
	write(1,
		scene{noise: 0.0005}, scene{}, scene{noise: 0.00001, note: 0.0015}, scene{noise: 0.0005, note: 3, process: clip}, scene{noise: 0.02, note: 0.4},
		scene{noise: 0.0005, note: 0.2, hum: 0.004, mains: 50}, scene{noise: 0.0005, note: 0.2, process: suppress}, scene{noise: 0.0005, note: 0.2, process: gate},
		scene{noise: 0.003, note: 0.3, process: level}, scene{noise: 0.0005, note: 0.2, process: func(x []float64) {
			for i := range x[:5*rate] {
				x[i] *= max(0.25, min(1, (float64(i)/rate-3.4)/0.1)) // the room is quieter before the note
			}
		}})
	lines = append(lines, NewSound(rate).Lines()...)
	lines = append(lines, delivered(1, 48000, 44100, 10, 0).Line())
	lines = append(lines, Microphone(t.Context(), &gone{}, nil, time.Now)...)
	return append(lines, Microphone(t.Context(), &gone{err: capture.ErrLost}, nil, time.Now)...)
}

// TestEveryLineSpeaks: each step, and whatever is to be put right about a microphone, is
// said in each language of the page, none of it in English; and there is no text that
// nothing comes to.
func TestEveryLineSpeaks(t *testing.T) {
	lines, said := faulty(t), map[string]bool{}
	for _, l := range phrase.Player.Offered() {
		tongue := phrase.Player.In(l.Tag, pitch.Style{})
		hear := func(text string) {
			if text == "" || strings.Contains(text, "check.") || strings.Contains(text, "%!") {
				t.Errorf("%s: %q", l.Tag, text)
			}
			if e := heard.English(l.Tag, text); e != "" && !strings.HasPrefix(l.Tag, "en") {
				t.Errorf("%s: %q is English in %q", l.Tag, e, text)
			}
		}
		for _, s := range Steps {
			hear(s.In(tongue))
		}
		for _, line := range lines {
			if line.State != Act {
				continue
			}
			finding, do := line.In(tongue)
			hear(finding)
			hear(do)
			said[line.key] = true
		}
	}
	pages := []string{"check.title", "check.allow", "check.good", "check.todo", "check.quiet", "check.hold", "check.quiet-again"}
	for key := range (phrase.Tongue{}).Texts("check") {
		if !said[key] && !strings.HasSuffix(key, ".next") && !slices.Contains(pages, key) {
			t.Errorf("nothing comes to %s", key)
		}
	}
}

// TestTheCommandSpeaksEnglish: in clauses, as programs that read its lines know them.
func TestTheCommandSpeaksEnglish(t *testing.T) {
	lines := faulty(t)
	for _, want := range []Line{
		{Check: "level", Finding: "no note was heard", Do: "play while the check listens; if you did, choose another microphone or raise its input level"},
		{Check: "samples", Finding: "1 samples were lost", Do: "close other programs and plug the laptop in"},
		{Check: "rate", Finding: "48000 Hz are stated, but 44100 come: every pitch would read 147 cents off", Do: "set the microphone to 48000 Hz in the system's sound settings and start again"},
		{Check: "microphone", Finding: "delivers no sound", Do: "plug the microphone in again, or choose another one"},
		{Check: "processing", Finding: "perfect silence around the note: noise suppression is suspected", Do: "switch off noise suppression, echo cancellation and automatic level for this microphone in the system's sound settings; if you faded the note yourself or somebody spoke, check again"},
	} {
		if !slices.ContainsFunc(lines, func(l Line) bool { return l.Check == want.Check && l.Finding == want.Finding && l.Do == want.Do }) {
			t.Errorf("no line is %+v", want)
		}
	}
}
