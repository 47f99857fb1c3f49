// Package solo leads one player through a study, without any hub: the same
// node, with a desk of its own in place of the connection.
package solo

import (
	"bufio"
	"cmp"
	"context"
	"errors"
	"fmt"
	"io"
	"log/slog"
	"strings"
	"time"

	"bellrow/hub/history/study"
	"bellrow/hub/slide"
	"bellrow/node"
	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Config describes who plays, and where it is said.
type Config struct {
	Study study.Config
	Desk  *Desk
	Open  func(context.Context) (capture.Source, error)
	Out   io.Writer // what is said to the player
	Log   *slog.Logger
	// ClockPPM is as in listen.Config.
	ClockPPM float64
	// Rest makes a rest of so many seconds as long as it is to be; nil for people.
	Rest func(seconds float64) time.Duration
	// Waits is set where the study waits until somebody says that a slide is
	// moved; Confirm tells a person how.
	Waits   bool
	Confirm string
	// Played is how many seconds count as played already.
	Played float64
}

// Solo is one study on its way.
type Solo struct {
	Config
	study study.Study
	said  study.Said // of the last note: why it did not count, nil for one that did
}

// New begins a study.
func New(c Config) (*Solo, error) {
	st, err := study.New(c.Study)
	if err != nil {
		return nil, err
	}
	if c.Rest == nil {
		c.Rest = func(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }
	}
	return &Solo{Config: c, study: st}, nil
}

// bendHold is how long a bend may last, in seconds: the note's reading comes
// when it is over, not in the middle.
const bendHold = 10

// Run listens and leads until the study, the recording or ctx is over, and
// hands over what was found. A player's page stays until it has been read.
func (s *Solo) Run(ctx context.Context, report func(study.Report) error) error {
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	lc := listen.Config{ClockPPM: s.ClockPPM}
	if s.Study.Kind == study.Bend {
		lc.KeepPath, lc.HoldFor = true, bendHold
	}
	n, err := node.New(node.Config{Open: s.Open, Uplink: s.Desk, Listen: lc, Played: s.Played, Heard: s.Desk.heard, Log: s.Log})
	if err != nil {
		return err
	}
	fmt.Fprintln(s.Out, "Before you start:")
	for _, c := range study.Cautions(english) {
		fmt.Fprintf(s.Out, "  %s\n", c)
	}
	listening, deaf := context.WithCancel(ctx)
	defer deaf()
	ended := make(chan error, 1)
	go func() { ended <- n.Run(listening); close(s.Desk.notes) }()
	s.lead(ctx)
	deaf()
	if err := <-ended; err != nil && !errors.Is(err, context.Canceled) {
		return err
	}
	if err := report(s.study.Report()); err != nil {
		return err
	}
	if s.Desk.Page != nil && ctx.Err() == nil {
		fmt.Fprintln(s.Out, "\nThe words are on your page too. Press Enter when you have read them.")
		s.wait(ctx, readWithin)
	}
	return nil
}

// readWithin is how long a page stays after its study when nobody says that it
// was read.
const readWithin = 5 * time.Minute

// Entered lets the desk go on at each line typed.
func Entered(ctx context.Context, in io.Reader, d *Desk) {
	for sc := bufio.NewScanner(in); sc.Scan() && ctx.Err() == nil; {
		d.goOn()
	}
}

// lead goes through the study.
func (s *Solo) lead(ctx context.Context) {
	for ctx.Err() == nil {
		p := s.study.Now()
		s.Desk.show(s.views(p))
		switch p.Act {
		case study.Done:
			return
		case study.Play:
			fmt.Fprintf(s.Out, "\n%s\n", counted(p, english))
			select {
			case r, ok := <-s.Desk.notes:
				if !ok {
					return // the recording is over
				}
				s.take(noteOf(r))
			case <-ctx.Done():
			}
		case study.Rest:
			fmt.Fprintln(s.Out, p.Say(english))
			s.rest(ctx, s.Rest(p.Seconds))
			s.study.Go()
		case study.Move:
			fmt.Fprintf(s.Out, "%s\n", p.Say(english))
			if s.Confirm != "" {
				fmt.Fprintln(s.Out, s.Confirm)
			}
			if s.Waits {
				s.wait(ctx, moveWithin)
			}
			s.study.Go()
		}
	}
}

// take hands a note to the study, and says what it made of it.
func (s *Solo) take(n study.Note) {
	s.said = s.study.Take(n)
	fmt.Fprintln(s.Out, cmp.Or(s.said.In(english), "Heard."))
}

// moveWithin is how long a study waits to hear that a slide was moved.
const moveWithin = 2 * time.Minute

// wait ends when the player goes on, or after d.
func (s *Solo) wait(ctx context.Context, d time.Duration) {
	ctx, stop := context.WithTimeout(ctx, d)
	defer stop()
	select {
	case <-ctx.Done():
	case <-s.Desk.on:
	}
}

// rest ends after d.
func (s *Solo) rest(ctx context.Context, d time.Duration) {
	ctx, stop := context.WithTimeout(ctx, d)
	defer stop()
	<-ctx.Done()
}

// counted says what to do, and how far the study is.
func counted(p study.Prompt, t phrase.Tongue) string {
	if p.Of < 2 {
		return p.Say(t)
	}
	return t.Say("study.counted", p.Nth, p.Of, p.Say(t))
}

// english is the language of the command line.
var english phrase.Tongue

// views are what the player's page shows of a prompt, by its language.
func (s *Solo) views(p study.Prompt) func(language string) proto.View {
	said, id, report := s.said, s.Desk.nextID(), study.Report{}
	if p.Act == study.Done {
		report = s.study.Report()
	}
	return func(language string) proto.View {
		return s.view(p, said, report, id, phrase.Player.In(language, s.Study.Notes))
	}
}

// view is what the page shows of a prompt, of what was said of the note before it,
// and of the report at the end.
func (s *Solo) view(p study.Prompt, said study.Said, report study.Report, id int64, t phrase.Tongue) proto.View {
	v := proto.View{Section: t.Say("study.alone"), Chair: t.Instrument(s.Study.Instrument.Name), Say: counted(p, t), Notes: study.Cautions(t)}
	if said != nil && (p.Act == study.Play || p.Act == study.Rest) {
		v.Answer = &proto.Answer{ID: id, Kind: string(slide.Again), Headline: said(t), Next: counted(p, t)}
	}
	switch p.Act {
	case study.Play:
		v.Phase, v.Round, v.Listen = "play", 1, true
		sounding := pitch.Usual(p.Note)
		v.Written, v.Concert, v.Target = pitch.Written(sounding, s.Study.Instrument.Transposition).Display(), sounding.Display(), s.Study.Reference.Frequency(p.Note)
		v.Names = s.Study.Notes.String()
		if p.Path != (instrument.Path{}) {
			v.Fingering = t.Path(p.Path)
		}
	case study.Rest:
		v.Phase = "rest"
	case study.Move:
		sl, _ := s.Study.Instrument.Slide(p.Slide)
		v.Phase = "answer"
		v.Answer = &proto.Answer{ID: id, Kind: string(slide.Move), Headline: p.Say(t), Moves: []proto.Slide{{
			ID: p.Slide, Name: t.Slide(sl.Name), FromMM: p.FromMM, ToMM: p.ToMM, TravelMM: sl.TravelMM,
		}}}
	case study.Done:
		words, try := report.In(t)
		v.Phase = "answer"
		v.Answer = &proto.Answer{ID: id, Kind: string(slide.Stay), Headline: words[0], Detail: strings.Join(words[1:], " "), Next: try}
	}
	return v
}
