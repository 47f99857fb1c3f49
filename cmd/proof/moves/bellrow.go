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
	"bellrow/hub/tuneup"
	"bellrow/node/listen"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// led is a section that a real hub leads: the rounds, the turns, the words and
// the moves are the program's own. Only the sound, the network and the pages
// are left out. Anything that goes wrong is a panic: this is a trial.
type led struct {
	*section
	hub    *session.Session
	store  *mem.Store
	ids    []hub.ChairID
	at     float64
	rounds int
	calls  int       // how often the leader calls the note
	order  hub.Order // empty = in turns
	boots  []uint64
	told   []float64 // how long each was played, as its node has told
}

// newHubLeader has the hub lead in turns, with the note called twice; or ask where
// a note is worth most, with one call.
func newHubLeader(order hub.Order) func(*section) leader {
	return func(s *section) leader {
		l := &led{section: s, store: mem.New(), boots: make([]uint64, len(s.chairs)), told: make([]float64, len(s.chairs)), calls: 2, order: order}
		if l.worth() {
			l.calls = 1
		}
		l.open()
		return l
	}
}

func (l *led) open() {
	var err error
	l.hub, err = session.New(context.Background(), session.Config{Store: l.store, Now: func() time.Time { return clock(l.at) }})
	must(err)
	for i, c := range l.chairs {
		name := fmt.Sprint("Chair ", i+1)
		j, err := l.hub.Join(context.Background(), hub.Peer{Node: name, Boot: "1", Chair: name, Instrument: c.in.ID})
		must(err)
		l.ids = append(l.ids, j.Chair)
		l.state(i)
		l.set(i)
	}
	if l.worth() {
		sec := l.hub.Section()
		sec.Order, sec.TuningNotes = l.order, []pitch.Note{58, 53, 51, 48, 56, 55} // as tunes are chosen
		must(l.hub.Command(context.Background(), hub.Command{Do: hub.DoEdit, Section: &sec}))
	}
	l.call()
}

func must(err error) {
	if err != nil {
		panic(err)
	}
}

func (l *led) style() style {
	return style{rests: true, ahead: l.worth(), asks: l.worth(), warms: l.worth()}
}

func (l *led) worth() bool { return l.order.ByWorth() }

// present has the leader mark who is not here.
func (l *led) present(i int, here bool) {
	do := hub.DoAbsent
	if here {
		do = hub.DoPresent
	}
	must(l.hub.Command(context.Background(), hub.Command{Do: do, Chair: l.ids[i]}))
}

// again has the leader ask for a player's note once more, after whoever has the turn.
func (l *led) again(i int) []int {
	must(l.hub.Command(context.Background(), hub.Command{Do: hub.DoAgain, Chair: l.ids[i]}))
	return l.next(l.at, nil)
}

// set tells the hub where a slide stands.
func (l *led) set(i int) {
	must(l.hub.Setting(context.Background(), l.ids[i], proto.Setting{Slide: instrument.Main, MM: l.chairs[i].settings[instrument.Main]}))
}

// state has a node tell what it does all the time: how long it has been played. The
// first one always does, so that the hub's time goes on; the others where it is news.
func (l *led) state(i int) {
	if p := l.chairs[i].player.Played(); i == 0 || p != l.told[i] {
		l.told[i] = p
		l.hub.State(l.ids[i], proto.State{State: "quiet", Played: p})
	}
}

func (l *led) call() {
	call := hub.Call{Kind: hub.CallNote, Note: l.chairs[0].note, Tones: map[hub.ChairID]pitch.Note{}, Thorough: l.worth() && l.pop.Notes > 1}
	for i, c := range l.chairs {
		call.Tones[l.ids[i]] = c.note
	}
	l.rounds++
	must(l.hub.Command(context.Background(), hub.Command{Do: hub.DoCall, Call: &call}))
	l.agree()
}

// agree makes sure that the hub sets a chair by the notes that the truth is of.
func (l *led) agree() {
	several := l.hub.Standing().Round.Call.Several
	for i, c := range l.chairs {
		var notes []pitch.Note
		if len(c.tunes) > 1 {
			for _, t := range c.tunes {
				notes = append(notes, t.note)
			}
		}
		if l.worth() && !slices.Equal(notes, several[l.ids[i]]) {
			panic(fmt.Sprintf("moves: %s is set by %v, the hub asks for %v", c.in.ID, notes, several[l.ids[i]]))
		}
	}
}

// next is who is asked to play.
func (l *led) next(at float64, playing []int) []int {
	l.at = at
	for i := range l.chairs {
		l.state(i)
	}
	var group []int
	st := l.hub.Standing()
	for _, c := range st.Chairs {
		i := slices.Index(l.ids, c.ID)
		l.chairs[i].called = max(0, slices.IndexFunc(l.chairs[i].tunes, func(t tune) bool { return t.note == c.Note }))
		if len(playing) == 0 && c.State == tuneup.Asked || len(playing) > 0 && c.State == tuneup.Waiting && !c.Warming && c.Ahead <= 1 { // is told so
			group = append(group, i)
		}
	}
	return group
}

// over has the leader call once more, and want the moves that the hub holds
// back because the section is off as one.
func (l *led) over(at float64) bool {
	l.at = at
	if len(l.next(at, nil)) > 0 || l.hub.Standing().Round.Phase != tuneup.Done {
		return false
	}
	if l.hub.Row().SayKind == "room" {
		must(l.hub.Command(context.Background(), hub.Command{Do: hub.DoMoves}))
		l.carryOut()
		return len(l.next(at, nil)) == 0 && l.hub.Standing().Round.Phase == tuneup.Done && l.recall()
	}
	return l.recall()
}

func (l *led) recall() bool {
	if l.rounds >= l.calls {
		return true
	}
	l.call()
	return false
}

// carryOut has everybody make the move that stands on their page.
func (l *led) carryOut() {
	for i, c := range l.chairs {
		v := l.hub.View(l.ids[i])
		if v.Answer == nil {
			continue
		}
		for _, m := range v.Answer.Moves {
			if mm := m.ToMM - c.settings[instrument.Main]; m.ID == instrument.Main && mm != 0 {
				c.carryBy(mm)
				l.set(i)
			}
		}
	}
}

// hear delivers a note and carries out the answer.
func (l *led) hear(n note) answer {
	l.at = n.at
	c, id, name := l.chairs[n.chair], l.ids[n.chair], fmt.Sprint("Chair ", n.chair+1)
	v := l.hub.View(id)
	r := onWire(n.reading)
	l.state(n.chair)
	l.boots[n.chair]++
	r.Sequence, r.Round, r.Played = l.boots[n.chair], v.Round, n.played
	before := int64(0)
	if v.Answer != nil {
		before = v.Answer.ID
	}
	must(l.hub.Deliver(context.Background(), id, name, "1", r))
	l.judge(n.chair)
	v = l.hub.View(id)
	var a answer
	if v.Answer == nil || v.Answer.ID == before {
		return a
	}
	for _, m := range v.Answer.Moves {
		if m.ID == instrument.Main {
			a.mm = m.ToMM - c.settings[instrument.Main]
		}
	}
	a.warm = v.Answer.Code == "cold" || v.Answer.Code == "warming"
	return a
}

// judge counts what the hub has made of the last move against the truth.
func (l *led) judge(i int) {
	moves, err := l.store.Moves(context.Background(), l.hub.Section().ID, time.Time{})
	must(err)
	for _, m := range moves {
		if m.Chair == l.ids[i] && m.FollowThrough != "" {
			l.chairs[i].judge(slide.Verdict(m.FollowThrough), l.chairs[i].heldAtNote)
		}
	}
}

// onWire is what of a reading reaches the hub.
func onWire(r listen.Reading) proto.Reading {
	const rate = 48000
	return proto.Reading{
		Hz: r.Hz, CI95: r.CI95, Spread: r.Spread, Drift: r.Drift, Level: r.Level, Floor: r.Floor, Early: r.Early,
		Start: float64(r.Start) / rate, End: float64(r.End) / rate, Settled: r.Settled, Reason: string(r.Reason),
	}
}
