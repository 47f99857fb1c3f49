package show_test

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/history/study"
	"bellrow/hub/intonation"
	"bellrow/hub/show"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// TestWalk draws standings by chance and keeps a digest of what the leader, the players and the summary are told in each:
// figures and sentences of our own, not truth.
func TestWalk(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(1200) {
		d := drawn(seed)
		st := d.standing()
		write := func(name string, x any) { out.WriteString(golden.Fields(t, name+".", x)) }
		var trouble error
		if seed%40 == 0 {
			trouble = fmt.Errorf("store: %w", []error{hub.ErrFull, hub.ErrReadOnly, hub.ErrMoved, hub.ErrDamaged, errors.New("a cable")}[seed/40%5])
		}
		row := show.NewRow(st, seed, trouble)
		chairs, groups := row.Chairs, row.Groups
		row.Chairs, row.Groups = nil, nil
		write("row", row)
		for i := range chairs {
			write("chair", chairs[i])
			write("view", show.NewView(st, &st.Chairs[i]))
		}
		for _, g := range groups {
			write("group", g)
		}
		if row.Round != nil {
			write("round", row.Round)
		}
		for _, c := range show.NewSummary(st).Chairs {
			write("summary", c)
		}
		write("summary", show.NewSummary(st))
	}
	golden.Lines(t, "walk.digest", golden.Digest(out.String()))
}

// drawing draws standings.
type drawing struct {
	*rand.Rand
	now time.Time
	// English keeps to the usual language and names.
	english bool
}

func drawn(seed uint64) *drawing {
	return &drawing{Rand: rand.New(rand.NewPCG(seed, 5)), now: time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)}
}

func (d *drawing) once(in int) bool { return d.IntN(in) == 0 }

func one[T any](d *drawing, of ...T) T { return of[d.IntN(len(of))] }

// cast are names that are no words of a sentence.
var cast = []string{"Abelard", "Brunhild", "Caradoc", "Dietlind", "Eusebius", "Fridolin"}

// standing is a section at some moment.
func (d *drawing) standing() tuneup.Standing {
	sec := &hub.Section{
		ID: 1, Name: "Quay", Reference: pitch.Reference{A4: one[pitch.Hertz](d, 440, 442, 415)}, Good: one[pitch.Cents](d, 3, 5), Near: 12, HideNames: d.once(4),
		TuningNotes: []pitch.Note{70, 65}, Order: one(d, hub.OrderLowToHigh, hub.OrderSeating, hub.OrderByWorth, hub.OrderTwoAtOnce), TemperatureC: one[float64](d, 0, 1, 17, 26),
	}
	if !d.english {
		sec.Language = one(d, "", "en-GB", "de", "fr", "es")
		sec.Notes = one(d, pitch.Style{}, pitch.Style{Naming: pitch.German}, pitch.Style{Naming: pitch.French})
	}
	st := tuneup.Standing{Section: sec, Rounds: d.IntN(3), Used: time.Duration(d.IntN(600)) * time.Second}
	if d.once(2) {
		st.Undo = &tuneup.Undone{Do: one(d, hub.DoCall, hub.DoSeat, hub.DoEnd, hub.DoAbsent), Who: hub.Chair{Label: "Horn 2", Name: "Abelard"}, Watched: d.once(2)}
	}
	var offsets []intonation.Offset
	for i := range d.IntN(len(cast) + 1) {
		st.Chairs = append(st.Chairs, d.chair(sec, i))
	}
	switch n := d.IntN(12); {
	case n == 0:
		st.Watching, st.Watched = true, time.Minute
	case n == 1:
		st.WarmUp = true
	case n > 2 && len(st.Chairs) > 0:
		st.Rounds++
		st.Round = d.round(&st)
	}
	for i := range st.Chairs {
		c := &st.Chairs[i]
		if c.State == tuneup.Absent {
			continue
		}
		st.Present++
		if c.Holds != nil {
			offsets = append(offsets, intonation.Offset{Cents: c.Holds.Cents, CI95: c.Holds.CI95()})
			if c.Holds.Verdict == intonation.Set {
				st.Set++
			}
		}
		if c.InRound != nil {
			st.Heard++
		}
	}
	if d.once(2) {
		st.Common = intonation.Common(offsets, sec.Good)
	}
	return st
}

// chair is one outside of a round.
func (d *drawing) chair(sec *hub.Section, i int) tuneup.Chair {
	band := instrument.Band()
	in := band[d.IntN(len(band))]
	c := tuneup.Chair{
		Chair:      &hub.Chair{ID: hub.ChairID(i + 1), Label: fmt.Sprintf("Seat %d", i+1), Name: one(d, "", cast[i], cast[i]), Part: one(d, "", "2nd"), Instrument: in.ID, Row: i / 3, Place: i % 3},
		Instrument: in, Away: d.once(8), Sends: d.once(2), Deaf: d.once(9), Notes: d.IntN(9), Warming: d.once(8), Outside: d.Float64(), Ahead: d.IntN(4),
		Sound: proto.State{State: one(d, "", "quiet", "sounding", "resting"), Played: float64(d.IntN(5) * 60), Trouble: one(d, "", "", "", "no-samples", "clipping", "smoke")},
	}
	c.Paused = !c.Away && d.once(9)
	if d.once(12) {
		c.Instrument = nil
	}
	if !d.english && d.once(5) {
		c.Sound.Language, c.Sound.Names = one(d, "de", "fr", "en-US"), one(d, "", "german", "elvish")
	}
	if d.once(8) {
		c.State = tuneup.Absent
	}
	if main, ok := in.Slide(instrument.Main); ok && d.once(3) {
		lo, hi := main.Reach()
		c.Settings = instrument.Settings{instrument.Main: one(d, lo, lo+0.4, lo+0.6, (lo+hi)/2, hi-0.6, hi-0.4, hi)}
	}
	for k := range d.IntN(3) {
		c.Counted = append(c.Counted, d.reading(sec, &c, int64(10*i+k+1), true))
	}
	if n := len(c.Counted); n > 0 {
		last := c.Counted[n-1]
		c.Before = c.Counted[:n]
		c.Moved = d.once(3)
		if !c.Moved {
			c.Holds = last
		}
		if last.Answer.Kind == slide.Move && !c.Moved {
			c.Open = last
		}
		for _, step := range last.Answer.Steps {
			m := &hub.MoveRecord{Slide: step.Slide, FromMM: step.FromMM, ToMM: step.ToMM, Reading: last.ID, Withdrawn: d.once(6), FollowThrough: one(d, "", "", string(slide.Went), string(slide.Held), string(slide.Partly), "elsewhere")}
			if !d.once(3) {
				m.Done = d.now
			}
			if m.Assumed = d.once(3); m.Assumed && !m.Done.IsZero() {
				c.Assumed = m
			}
			c.Moves = append(c.Moves, m)
		}
	}
	return c
}

// reading is one with the answer of hub/slide to it.
func (d *drawing) reading(sec *hub.Section, c *tuneup.Chair, id int64, counts bool) *hub.Reading {
	in := c.Instrument
	if in == nil {
		in, _ = instrument.Find("trumpet_bb")
	}
	note := in.TuningNote(70)
	target := sec.Reference.Frequency(note)
	r := &hub.Reading{ID: id, Chair: c.ID, Note: note, Target: target, At: d.now.Add(time.Duration(d.IntN(3)-1) * time.Minute), Wire: proto.Reading{
		Hz: target.Shift(pitch.Cents(12 * d.NormFloat64())), CI95: one[pitch.Cents](d, 0.5, 1, 4, 15), Spread: 1, Level: -20, Settled: true, Played: float64(d.IntN(10) * 60),
	}}
	if !counts {
		r.Wire.Settled, r.Wire.Reason = false, one(d, "vibrato", "moving", "short", "soft", "two-sounds", "noise")
		if d.once(3) {
			r.Wire.Settled, r.Wire.Hz = true, target.Shift(-1190)
		}
	}
	r.Cents = pitch.Between(target, r.Wire.Hz)
	path := instrument.Path{}
	if ways := in.Paths(note); len(ways) > 0 {
		path = ways[0]
	}
	a := slide.Advise(slide.Input{
		Instrument: in, Note: note, Path: path, Target: target, Settings: c.Settings, Purpose: slide.Tuning, Good: sec.Good, Played: r.Wire.Played,
		Reading: slide.Reading{Hz: r.Wire.Hz, CI95: r.Wire.CI95, Spread: 1, Level: -20, Settled: r.Wire.Settled, Reason: r.Wire.Reason, Played: r.Wire.Played},
	})
	r.Counted = a.Kind != slide.Again && a.Kind != slide.Note
	if r.Counted {
		r.Verdict = intonation.Verdict(r.Cents, r.CI95(), sec.Good, sec.Near)
		a = one(d, a, a, a, a, slide.Advice{Kind: slide.Stay, Code: "heard"}, slide.Advice{Kind: slide.Stay, Code: "room"}, slide.Advice{Kind: slide.Rest, Code: string(slide.Held)})
	} else {
		r.Why, r.Verdict = hub.Reason(a.Code), intonation.Doubt
		a = one(d, a, a, slide.Advice{Kind: slide.Again, Code: string(hub.WhyUnclear)}, slide.Advice{Kind: slide.Again, Code: string(hub.WhyTogether)}, slide.Advice{Kind: slide.Again, Code: string(hub.WhyOverheard)})
	}
	r.Answer = &hub.Answer{ID: id, Advice: a}
	return r
}

// round is a running one, in which the chairs of the standing stand somewhere.
func (d *drawing) round(st *tuneup.Standing) *tuneup.Round {
	run := &hub.Round{ID: 7, Call: hub.Call{Kind: hub.CallNote, Note: one[pitch.Note](d, 70, 65), Tones: map[hub.ChairID]pitch.Note{}, Spelled: one(d, "", "", "A#")}, After: map[hub.ChairID]int64{}}
	r := &tuneup.Round{Round: run, ByWorth: st.Section.Order.ByWorth(), Tracks: 58, Outside: d.Float64()}
	kind := d.IntN(10)
	run.Call.Together = kind < 5
	run.InTurn = run.Call.Together && d.once(3)
	switch kind {
	case 0, 9:
		run.Call.Kind, run.Call.Chord, run.Call.Where, r.ByWorth = hub.CallChord, one(d, "Bb major", "Eb7", "of the morning"), one(d, "", "bar 12", "letter C"), false
	case 1:
		run.Call.Kind, r.ByWorth = hub.CallListen, false
	case 2:
		run.Call.Kind, run.InTurn, r.ByWorth = hub.CallBend, false, false
		r.Bend = &tuneup.Bend{Cue: study.BendCues[d.IntN(len(study.BendCues))], Ready: d.once(3), Left: time.Second}
	}
	r.Phase = tuneup.Turns
	if r.AllAtOnce() {
		r.Phase = tuneup.Together
	}
	if d.once(3) {
		r.Phase = tuneup.Done
	}
	var waits []hub.ChairID
	for i := range st.Chairs {
		c := &st.Chairs[i]
		if c.State == tuneup.Absent {
			continue
		}
		if d.inRound(st.Section, r, c) {
			waits = append(waits, c.ID)
		}
	}
	run.Queue = waits
	if r.Phase == tuneup.Turns {
		d.turn(st, r, waits)
	}
	if run.Call.Together && d.once(3) {
		run.Parted = &hub.Parted{Pairs: d.IntN(2), Left: 1 + d.IntN(4), Help: one(d, "", hub.HelpGroups, hub.HelpLaptops, hub.HelpNearer)}
		if len(waits) > 2 && r.AllAtOnce() {
			run.Groups = [][]hub.ChairID{waits[:2]}
		}
		run.Alone = waits[:d.IntN(len(waits)+1)]
		run.Held = d.IntN(2)
	}
	if run.Call.Kind == hub.CallNote && d.once(6) {
		run.Call.Several = map[hub.ChairID][]pitch.Note{1: {70, 65}}
	}
	if r.Gathered = d.IntN(3); len(waits) > 0 {
		r.Here = len(waits)
	}
	d.results(st, r)
	return r
}

// inRound puts a chair somewhere in a round; true where it is still to be heard.
func (d *drawing) inRound(sec *hub.Section, r *tuneup.Round, c *tuneup.Chair) bool {
	c.Part = !d.once(8)
	if !c.Part {
		return false
	}
	in := c.Instrument
	if in == nil {
		in, _ = instrument.Find("trumpet_bb")
	}
	if !r.Listening() {
		c.Note = in.TuningNote(70)
		c.Target = sec.Reference.Frequency(c.Note)
	}
	r.Call.Tones[c.ID] = c.Note
	if d.once(5) {
		r.Call.Heads = map[hub.ChairID]hub.Head{c.ID: {Clef: one(d, "", "alto"), Key: one(d, nil, new(-2))}}
	}
	c.State = one(d, tuneup.Waiting, tuneup.Heard, tuneup.Overheard, tuneup.Unsettled, tuneup.LeftOut, tuneup.Gathered)
	if r.AllAtOnce() {
		c.State = one(d, tuneup.Asked, tuneup.Gathered, tuneup.Waiting, tuneup.Heard)
	} else if c.State == tuneup.Gathered {
		c.State = tuneup.Waiting
	}
	if r.Phase == tuneup.Done && (c.State == tuneup.Asked || c.State == tuneup.Gathered) {
		c.State = tuneup.Heard
	}
	switch c.State {
	case tuneup.Heard:
		if c.InRound = c.Holds; c.InRound == nil {
			c.InRound = d.reading(sec, c, int64(200+c.ID), true)
		}
		if r.Last == nil && c.InRound.Counted {
			r.Last = c.InRound
		}
		c.Along = d.once(9) && r.AllAtOnce()
	case tuneup.Unsettled, tuneup.Overheard:
		c.InRound = d.reading(sec, c, int64(300+c.ID), false)
		c.Outdated = d.once(6)
	case tuneup.Waiting, tuneup.Asked:
		if d.once(3) {
			c.Unheard = one(d, hub.WhyUnclear, hub.WhyDrowned, hub.WhyClock, hub.WhyTogether)
		}
		d.askedAgain(sec, c)
	}
	return c.State == tuneup.Waiting || c.State == tuneup.Asked || c.State == tuneup.Gathered
}

// askedAgain may give a chair a note to repeat.
func (d *drawing) askedAgain(sec *hub.Section, c *tuneup.Chair) {
	switch d.IntN(4) {
	case 0:
		c.Again = d.reading(sec, c, int64(400+c.ID), d.once(2))
		c.InRound = c.Again
		if d.once(5) {
			c.Again.Why = hub.WhyCold
		}
	case 1:
		if c.Open != nil {
			c.Again, c.InRound, c.ToMove = c.Open, c.Open, d.once(2)
		}
	}
}

// turn gives one of those who wait the turn, or lets the round wait.
func (d *drawing) turn(st *tuneup.Standing, r *tuneup.Round, waits []hub.ChairID) {
	if len(waits) == 0 {
		r.Phase = tuneup.Done
		return
	}
	switch d.IntN(6) {
	case 0:
		r.Phase, r.Awaited = tuneup.Waits, waits[0]
		return
	case 1:
		r.Phase, r.Awaited = tuneup.Rests, waits[0]
		return
	}
	ask := func(id hub.ChairID) { st.Chairs[id-1].State = tuneup.Asked }
	r.Asked, r.Twice = waits[0], d.once(2)
	ask(r.Asked)
	if len(waits) > 1 && d.once(4) {
		r.Beside = waits[1:2]
		ask(waits[1])
	}
	for _, id := range waits[1:] {
		if !slices.Contains(r.Beside, id) && d.once(2) {
			r.Next = append(r.Next, id)
		}
	}
}

// results are what a round that was heard has shown.
func (d *drawing) results(st *tuneup.Standing, r *tuneup.Round) {
	var heard []*tuneup.Chair
	for i := range st.Chairs {
		if c := &st.Chairs[i]; c.Part && c.State == tuneup.Heard && c.Instrument != nil {
			heard = append(heard, c)
		}
	}
	for _, c := range heard {
		if r.ByWorth && d.once(3) {
			r.Doubtful = append(r.Doubtful, c.ID)
		}
		c.Balance = one(d, "", intonation.MuchSofter, intonation.Stronger)
	}
	switch {
	case r.Call.Kind == hub.CallChord && r.Phase == tuneup.Done && !d.once(3):
		var names []string
		for i := range st.Chairs[:min(2, len(st.Chairs))] {
			names = append(names, st.Section.Called(*st.Chairs[i].Chair))
		}
		first := one(d, intonation.ClauseSoFar, intonation.ClauseRings, intonation.ClauseTempered, intonation.ClauseSilent)
		r.Judgement = &intonation.Judgement{Facts: []intonation.Clause{{Code: first, Shift: 4}, {Code: intonation.ClauseWaiting, Names: names}}}
	case r.Listening() && r.Phase == tuneup.Done:
		r.Chords.Players = d.IntN(5)
		r.Chords.Class = one(d, "", "Bb")
		for _, name := range []string{"Bb major", "G minor"}[:d.IntN(3)] {
			chord, _ := intonation.ParseChord(name)
			r.Chords.Candidates = append(r.Chords.Candidates, intonation.Candidate{Chord: chord, Share: 0.5})
		}
	case r.Bend != nil && r.Phase == tuneup.Done:
		var all []study.Bender
		for _, c := range heard {
			b := study.Bender{Label: c.Label}
			for k := range 140 * d.IntN(2) {
				hz := pitch.Hertz(233).Shift([]pitch.Cents{0, -40, 0, 30, 2}[k/28])
				if b.Paths == nil {
					b.Paths = [][]study.Point{nil}
				}
				b.Paths[0] = append(b.Paths[0], study.Point{Seconds: 0.05 * float64(k), Hz: hz})
			}
			all, r.Bend.Chairs = append(all, b), append(r.Bend.Chairs, c.ID)
		}
		r.Bend.Result = study.BendTogether(all)
	case r.Call.Kind == hub.CallNote && d.once(6):
		common := one[pitch.Cents](d, -9, 11)
		r.AsOne, r.Round.AsOne = true, &common
		var seats []slide.Seat
		for _, c := range heard {
			seats = append(seats, slide.Seat{Instrument: c.Instrument, Offset: common + pitch.Cents(d.NormFloat64())})
		}
		r.Choices = slide.Together(st.Section.Reference, seats, st.Section.Good, d.once(5))
	}
}
