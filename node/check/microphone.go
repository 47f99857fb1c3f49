package check

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"bellrow/node/capture"
	"bellrow/proto/phrase"
)

// A Step is what the player does during a part of the microphone check.
type Step struct {
	key     string
	Seconds float64
}

// In says it in a tongue.
func (s Step) In(t phrase.Tongue) string { return t.Say(s.key) }

// Steps are the parts of the microphone check, in order.
var Steps = []Step{
	{"check.quiet", 3},
	{"check.hold", 4},
	{"check.quiet-again", 3},
}

// Microphone listens through the steps. Say, when set, is told each step as it
// begins. A source that ends early (a file) ends the check. Now stamps the
// blocks of a live source.
func Microphone(ctx context.Context, src capture.Source, say func(Step), now func() time.Time) []Line {
	info := src.Info()
	l := listening{
		src: src, sound: NewSound(info.Rate), pace: NewPace(info.Rate), start: now(), now: now,
	}
	for _, step := range Steps {
		if say != nil {
			say(step)
		}
		l.until += step.Seconds
		if err := l.listen(ctx); errors.Is(err, io.EOF) {
			break
		} else if err != nil {
			l := told("microphone", "check.microphone.ended")
			l.Finding = sentence(err)
			return []Line{l}
		}
	}
	lines := l.sound.Lines()
	if lines[0].Check != "microphone" {
		lines = append([]Line{ok("microphone", info.Name)}, lines...)
	}
	if t, yes := src.(capture.Troubled); yes && t.Trouble() == "processing-on" {
		lines = append(lines, told("browser", "check.browser.processes"))
	}
	if info.Live {
		lines = append(lines, l.pace.Line())
	}
	return lines
}

// listening is a check under way.
type listening struct {
	src   capture.Source
	sound *Sound
	pace  *Pace
	start time.Time
	now   func() time.Time
	until float64 // seconds of sound
}

func (l *listening) listen(ctx context.Context) error {
	rate := l.src.Info().Rate
	for {
		b, err := l.src.Read(ctx)
		if err != nil {
			return err
		}
		end := b.First + int64(len(b.Samples))
		l.sound.Write(b.Samples, b.Lost)
		l.pace.Mark(end, l.now().Sub(l.start))
		if float64(end) >= l.until*rate {
			return nil
		}
	}
}

// sentence takes the package off an error that a player reads.
func sentence(err error) string {
	text := err.Error()
	if _, rest, cut := strings.Cut(text, ": "); cut && !strings.Contains(text[:len(text)-len(rest)-2], " ") {
		return rest
	}
	return text
}

// Unopened tells that a microphone could not be opened, and what to do.
func Unopened(err error, do string) Line { return act("microphone", sentence(err), do) }

// Microphones lists the devices that can be chosen.
func Microphones(names []string, err error) Line {
	switch {
	case err != nil:
		return skipped("microphones", sentence(err))
	case len(names) == 0:
		return act("microphones", "this computer lists none", "plug one in, or allow this program to use it")
	}
	return ok("microphones", fmt.Sprintf("%d: %s", len(names), strings.Join(names, "; ")))
}
