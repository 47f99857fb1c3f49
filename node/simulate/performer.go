package simulate

import (
	"context"
	"time"

	"bellrow/node/simulate/player"
	"bellrow/proto"
	"bellrow/proto/pitch"
)

// Desk is what a performer sees and touches: the view on the player's page,
// and the ways to say what was done. *uplink.Uplink is most of one.
type Desk interface {
	View() proto.View
	// Changed returns a channel that is closed at the next change of View.
	Changed() <-chan struct{}
	Setting(proto.Setting)
}

// Performer is a simulated player at a desk: it plays what is called, reads
// the answer, and does what it says.
type Performer struct {
	Player *player.Player
	Voice  *Voice
	Desk   Desk
	// Warmed is told how many seconds of playing pass while warming up off
	// stage; nil ignores them.
	Warmed func(seconds float64)
	// Own is the sounding note that is held when the call names none; 0 = the
	// performer stays silent then.
	Own pitch.Note
	// React is how long the performer takes to start a note; 0 means half a
	// second. Patience is how long it waits for an answer before it plays
	// again; 0 means four seconds.
	React, Patience time.Duration
	// Speed is that of the stage; 0 means 1.
	Speed float64
	// Clock is that of a stage that has its own; nil means real time.
	Clock *Clock
}

// Times of a performer, at speed 1.
const (
	reactIn   = 500 * time.Millisecond
	patience  = 4 * time.Second
	warmingUp = 2 * time.Second // stands for warmFor seconds of easy notes
	warmFor   = 360.0           // seconds
	// ownSeconds is how long a note of one's own is held, with the others: one
	// breath at mezzo-forte (common practice, no source).
	ownSeconds = 6.0
)

// Run performs until ctx is done.
func (p *Performer) Run(ctx context.Context) {
	answered, asked := int64(0), ""
	for ctx.Err() == nil {
		changed := p.Desk.Changed()
		v := p.Desk.View()
		if v.Answer != nil && v.Answer.ID != answered {
			answered, asked = v.Answer.ID, v.Answer.Code
			if !p.obey(ctx, v.Answer) {
				return
			}
		}
		if v.Why != asked {
			if asked = v.Why; !p.mend(ctx, asked) {
				return
			}
		}
		if v.Phase != "play" || !v.Listen {
			select {
			case <-changed:
			case <-ctx.Done():
			}
			continue
		}
		if !p.wait(ctx, p.or(p.React, reactIn), nil) {
			return
		}
		p.play(ctx, v, changed)
		asked = ""
	}
}

// play sounds the called note once and waits until it is over and answered.
func (p *Performer) play(ctx context.Context, v proto.View, changed <-chan struct{}) {
	n, err := pitch.ParseNote(v.Concert)
	if err != nil {
		n = p.Own
	}
	if n == 0 {
		p.wait(ctx, p.or(p.Patience, patience), changed)
		return
	}
	sound := p.Player.Sounding(n)
	if err != nil {
		sound.Seconds = ownSeconds
	}
	if p.Voice.Play(sound.Tone()) != nil {
		return
	}
	length := time.Duration(sound.Seconds * float64(time.Second))
	if p.wait(ctx, p.scaled(length), nil) {
		p.wait(ctx, p.or(p.Patience, patience), changed)
	}
}

// obey does what an answer says. It returns false when ctx is done.
func (p *Performer) obey(ctx context.Context, a *proto.Answer) bool {
	if !p.wait(ctx, p.or(p.React, reactIn), nil) {
		return false
	}
	for _, m := range a.Moves {
		mm := p.Player.CarryOut(m.ID, m.ToMM)
		p.Desk.Setting(proto.Setting{Slide: m.ID, MM: mm})
	}
	if len(a.Moves) > 0 {
		p.Player.Rest() // "then rest, breathe, and play the note again"
	}
	return p.mend(ctx, a.Code)
}

// mend does what an answer, or the reason for another try, asks for.
func (p *Performer) mend(ctx context.Context, code string) bool {
	if !p.Player.Heed(code) {
		return true
	}
	p.Player.Warm(warmFor)
	if p.Warmed != nil {
		p.Warmed(warmFor)
	}
	return p.wait(ctx, p.scaled(warmingUp), nil)
}

func (p *Performer) or(d, standard time.Duration) time.Duration {
	if d == 0 {
		d = standard
	}
	return p.scaled(d)
}

func (p *Performer) scaled(d time.Duration) time.Duration {
	if p.Speed > 0 {
		return time.Duration(float64(d) / p.Speed)
	}
	return d
}

// wait waits for d or for stop, and returns false when ctx is done.
func (p *Performer) wait(ctx context.Context, d time.Duration, stop <-chan struct{}) bool {
	after := time.After
	if p.Clock != nil {
		after = p.Clock.After
	}
	select {
	case <-ctx.Done():
		return false
	case <-stop:
	case <-after(d):
	}
	return true
}
