package hub

import (
	"fmt"
	"slices"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// advise asks hub/slide what to tell the player of a tuning note, on the
// ground of all that was heard of this player and moved so far. A move that
// the lips undid is not followed by another one. The Follow is nil unless the
// reading judged a move.
func (h *Hub) advise(c *Chair, s *seat, r *Reading) (slide.Advice, *slide.Follow) {
	in, ok := h.inquiry(c, s, r)
	listening := h.running().listening()
	if listening {
		in, ok = h.listenInquiry(c, r)
	}
	if !ok {
		return slide.Advice{Kind: slide.Nothing, Code: "instrument", Headline: "Choose your instrument on your page.",
			Detail: "Without it no slide can be named."}, nil
	}
	if listening || h.running().Call.Kind == CallChord {
		return slide.Advise(in), nil // says whether the reading is believed; the chord says the rest
	}
	a, f := s.memory.Answer(in)
	if f != nil && f.Verdict == slide.Held {
		if m := s.lastMade(); m != nil && m.Assumed {
			a.Next = fmt.Sprintf("If the slide was not moved yet, set it to %.0f mm. %s", m.ToMM, a.Next)
		}
	}
	return a, f
}

// inquiry is what hub/slide is asked about a reading; false when the chair
// has no instrument.
func (h *Hub) inquiry(c *Chair, s *seat, r *Reading) (slide.Input, bool) {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return slide.Input{}, false
	}
	return slide.Input{
		Instrument: in, Note: r.Note, Target: r.Target, Reading: r.forAdvice(),
		Settings: c.Settings, Travel: c.Travel, Air: instrument.Air{TemperatureC: h.section.TemperatureC},
		Purpose: slide.Tuning, Good: h.section.Good, Learned: slide.Learn(h.past[s.id].made...),
		CommonChange: h.commonChange(s.last(), r), History: h.past[s.id].past, Played: r.Wire.Played, Baseline: s.baseline(),
	}, true
}

// recall gives every chair's memory what happened in this tune-up, in order.
func (h *Hub) recall() {
	next := 0
	for _, r := range h.readings {
		for next < len(h.settings) && h.settings[next].precedes(r) {
			if c := h.chair(h.settings[next].Chair); c != nil {
				h.remember(c, h.settings[next])
			}
			next++
		}
		c, s := h.chair(r.Chair), h.seats[r.Chair]
		if c == nil || s == nil || r.Answer == nil || blameless[r.Why] || h.inChord(r) {
			continue
		}
		if in, ok := h.inquiry(c, s, r); ok {
			s.memory.Answer(in)
		}
	}
	for _, rec := range h.settings[next:] {
		if c := h.chair(rec.Chair); c != nil {
			h.remember(c, rec)
		}
	}
}

// precedes reports whether a slide was set before a reading. A move that was
// taken as made because of a reading bears its time.
func (rec SettingRecord) precedes(r *Reading) bool {
	return rec.At.Before(r.At) || rec.At.Equal(r.At) && rec.Source == sourceMove
}

// remember tells a chair's memory that a slide was moved.
func (h *Hub) remember(c *Chair, rec SettingRecord) {
	in, err := instrument.Find(c.Instrument)
	if s := h.seats[c.ID]; err == nil && s != nil && rec.From != rec.MM {
		s.memory.Moved(in, c.Settings, rec.Slide, rec.From, rec.MM)
	}
}

// inChord reports whether a reading belongs to a chord round.
func (h *Hub) inChord(r *Reading) bool {
	i := slices.IndexFunc(h.rounds, func(o Round) bool { return o.ID == r.Round })
	return i >= 0 && h.rounds[i].Call.Kind == CallChord
}

// learned is what the chair's own moves say about its millimetres per cent.
func (h *Hub) learned(s *seat) slide.Learned {
	if l := slide.Learn(h.past[s.id].made...); l.Moves > 0 {
		return l
	}
	return s.memory.Learned()
}

// forAdvice is the reading as hub/slide takes it.
func (r *Reading) forAdvice() slide.Reading {
	w := r.Wire
	sr := slide.Reading{
		Hz: w.Hz, CI95: w.CI95, Spread: w.Spread, Drift: w.Drift, Level: w.Level, Early: w.Early, Played: w.Played,
		Settled: w.Settled, Reason: w.Reason, Overheard: r.Why == whyOverheard,
	}
	if r.Heard != nil {
		// What the node made of the mixture says nothing about the player.
		sr = slide.Reading{Hz: r.Heard.Hz, CI95: r.Heard.CI95, Spread: r.Heard.Spread, Drift: r.Heard.Drift, Level: r.Heard.Level, Settled: true}
	}
	return sr
}

// minBaseline is how many counted readings make a usual level.
const minBaseline = 2

// baseline is the chair's usual level at its own microphone: the median of
// the counted readings of this tune-up; 0 while unknown.
func (s *seat) baseline() pitch.Level {
	if len(s.counted) < minBaseline {
		return 0
	}
	var ls []pitch.Level
	for _, r := range s.counted {
		ls = append(ls, r.Wire.Level)
	}
	slices.Sort(ls)
	return ls[len(ls)/2]
}

// lastMade is the chair's last move that was made, nil when there is none.
func (s *seat) lastMade() *MoveRecord {
	for _, m := range slices.Backward(s.moves) {
		if !m.Done.IsZero() && !m.Withdrawn {
			return m
		}
	}
	return nil
}

// judgeMove notes what became of the chair's last move.
func (h *Hub) judgeMove(s *seat, f slide.Follow) {
	if m := s.lastMade(); m != nil {
		m.Measured, m.FollowThrough = f.Measured, string(f.Verdict)
		h.saveMove(m)
	}
}

// commonChange is how far the section as a whole moved between two readings
// of one chair: the median change of the chairs that were read on both sides
// and moved no slide in between; 0 while there are fewer than minUnmoved.
func (h *Hub) commonChange(before, after *Reading) pitch.Cents {
	if before == nil || before.Round == after.Round {
		return 0
	}
	var ds []pitch.Cents
	for _, s := range h.seats {
		if s.id == before.Chair {
			continue
		}
		var first, last *Reading
		for _, r := range s.counted {
			if r.Round == before.Round {
				first = r
			}
			if r.Round == after.Round {
				last = r
			}
		}
		if first != nil && last != nil && first.Note == last.Note && !h.movedBetween(s.id, first, last) {
			ds = append(ds, pitch.Between(first.hz(), last.hz()))
		}
	}
	if len(ds) < minUnmoved {
		return 0
	}
	slices.Sort(ds)
	return ds[len(ds)/2]
}

// movedBetween reports whether a chair's slide was moved from one of its
// readings to another.
func (h *Hub) movedBetween(id ChairID, first, last *Reading) bool {
	return slices.ContainsFunc(h.settings, func(rec SettingRecord) bool {
		return rec.Chair == id && rec.From != rec.MM && !rec.precedes(first) && rec.precedes(last)
	})
}

// movedSince reports whether a slide of a reading's chair was moved after it.
func (h *Hub) movedSince(r *Reading) bool {
	return slices.ContainsFunc(h.settings, func(rec SettingRecord) bool {
		return rec.Chair == r.Chair && rec.From != rec.MM && !rec.precedes(r)
	})
}

// minUnmoved chairs are a section: of two, either may have changed by itself.
const minUnmoved = 3
