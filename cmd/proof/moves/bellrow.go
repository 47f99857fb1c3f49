package moves

import (
	"context"
	"fmt"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/hub/session"
	"bellrow/hub/slide"
	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// led is a section that a real hub leads: the rounds, the turns, the words and
// the moves are the program's own. Only the sound, the network and the pages
// are left out.
type led struct {
	*section
	ctx   context.Context
	hub   *session.Session
	store *mem.Store
	seats []*seat
}

// seat is a chair of the section with what its player has seen so far.
type seat struct {
	*chair
	id       hub.ChairID
	node     string
	sequence uint64
	heeded   int64   // the last answer that was carried out
	warmFrom float64 // since when easy notes are played, in seconds; 0 = not
	followed string  // what the hub last made of a move
}

// rehearsal is any moment for a tune-up to begin.
var rehearsal = time.Date(2026, time.November, 23, 19, 20, 0, 0, time.UTC)

// playBellrow opens a hub for the section, and calls the note once for each round.
func playBellrow(ctx context.Context, s *section) (func() error, error) {
	l := &led{section: s, ctx: ctx, store: mem.New()}
	var err error
	l.hub, err = session.New(ctx, session.Config{Store: l.store, Now: l.now})
	if err != nil {
		return nil, err
	}
	for i, c := range s.chairs {
		if err := l.sit(fmt.Sprint("Chair ", i+1), c); err != nil {
			return nil, err
		}
	}
	return l.round, nil
}

func (l *led) now() time.Time { return rehearsal.Add(time.Duration(l.seconds * float64(time.Second))) }

// sit has a chair join and say where its slides stand.
func (l *led) sit(name string, c *chair) error {
	j, err := l.hub.Join(l.ctx, hub.Peer{Node: name, Boot: "1", Chair: name, Instrument: c.in.ID})
	if err != nil {
		return err
	}
	st := &seat{chair: c, id: j.Chair, node: name}
	l.seats = append(l.seats, st)
	l.state(st)
	return l.set(st, instrument.Main)
}

// set tells the hub where a slide stands.
func (l *led) set(st *seat, id instrument.SlideID) error {
	return l.hub.Setting(l.ctx, st.id, proto.Setting{Slide: id, MM: st.settings[id]})
}

// round calls the note and plays until everybody was heard. Where the hub holds
// moves back because the section is off as one, the leader wants them.
func (l *led) round() error {
	call := hub.Call{Kind: hub.CallNote, Note: l.chairs[0].note, Tones: map[hub.ChairID]pitch.Note{}}
	for _, st := range l.seats {
		call.Tones[st.id] = st.note
	}
	if err := l.hub.Command(l.ctx, hub.Command{Do: hub.DoCall, Call: &call}); err != nil {
		return err
	}
	if err := l.playOut(); err != nil {
		return err
	}
	if l.hub.Row().SayKind != "room" {
		return nil
	}
	if err := l.hub.Command(l.ctx, hub.Command{Do: hub.DoMoves}); err != nil {
		return err
	}
	return l.playOut()
}

// playOut has everybody do what their page says until nobody is asked for
// anything any more.
func (l *led) playOut() error {
	for busy := true; busy; {
		busy = false
		for _, st := range l.seats {
			did, err := l.look(st)
			if err != nil {
				return err
			}
			busy = busy || did
		}
	}
	return nil
}

// look has one player look at the page and do what it says.
func (l *led) look(st *seat) (did bool, err error) {
	v := l.hub.View(st.id)
	if a := v.Answer; a != nil && a.ID != st.heeded {
		st.heeded = a.ID
		for _, m := range a.Moves {
			l.seconds += moveTakes
			st.carryOut(m.ID, m.ToMM)
			if err := l.set(st, m.ID); err != nil {
				return true, err
			}
		}
		if len(a.Moves) > 0 {
			st.player.Rest() // "then rest, breathe, and play the note again"
		}
		l.heed(st, a.Code)
		return true, nil
	}
	if st.warmFrom > 0 {
		l.warm(st)
	}
	if v = l.hub.View(st.id); v.Phase != "play" || !v.Listen {
		return false, nil
	}
	return true, l.play(st, v)
}

// heed does what a code asks for.
func (l *led) heed(st *seat, code string) {
	if st.player.Heed(code) && st.warmFrom == 0 {
		st.warmFrom = l.seconds
	}
}

// warm lets a player play easy notes until now, and the node tell of it.
func (l *led) warm(st *seat) {
	st.player.Warm(l.seconds - st.warmFrom)
	st.warmFrom = l.seconds
	l.state(st)
}

// state has a node tell what it does all the time: how long it has been played.
func (l *led) state(st *seat) {
	l.hub.State(st.id, proto.State{State: "quiet", Played: st.player.Played()})
}

// play sounds the called note once.
func (l *led) play(st *seat, v proto.View) error {
	l.heed(st, v.Why)
	st.warmFrom = 0
	l.seconds += noteTakes
	st.notes++
	holding := st.player.Holding(st.note)
	r := onWire(st.player.Reading(st.player.Sounding(st.note)))
	l.state(st)
	st.sequence++
	r.Sequence, r.Round, r.Played = st.sequence, v.Round, st.player.Played()
	if err := l.hub.Deliver(l.ctx, st.id, st.node, "1", r); err != nil {
		return err
	}
	return l.judge(st, holding)
}

// judge counts what the hub has just made of the last move against the truth.
func (l *led) judge(st *seat, holding bool) error {
	moves, err := l.store.Moves(l.ctx, l.hub.Section().ID, time.Time{})
	if err != nil {
		return err
	}
	for _, m := range slices.Backward(moves) {
		if m.Chair != st.id || m.FollowThrough == "" {
			continue
		}
		if verdict := fmt.Sprint(m.ID, m.FollowThrough); verdict != st.followed {
			st.followed = verdict
			st.judge(slide.Verdict(m.FollowThrough), holding)
		}
		return nil
	}
	return nil
}

// onWire is what of a reading reaches the hub.
func onWire(r listen.Reading) proto.Reading {
	const rate = 48000
	return proto.Reading{
		Hz: r.Hz, CI95: r.CI95, Spread: r.Spread, Drift: r.Drift, Level: r.Level, Floor: r.Floor, Early: r.Early,
		Start: float64(r.Start) / rate, End: float64(r.End) / rate, Settled: r.Settled, Reason: string(r.Reason),
	}
}
