package hub

import (
	"fmt"
	"slices"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// advise asks hub/slide what to tell the player of a tuning note. A move that
// the lips undid is not followed by another one.
func (h *Hub) advise(c *Chair, s *seat, r *Reading) slide.Advice {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return slide.Advice{Kind: slide.Nothing, Code: "instrument", Headline: "Choose your instrument on your page.",
			Detail: "Without it no slide can be named."}
	}
	a := slide.Advise(slide.Input{
		Instrument: in, Note: r.Note, Target: r.Target, Reading: r.forAdvice(),
		Settings: c.Settings, Travel: c.Travel, Air: instrument.Air{TemperatureC: h.section.TemperatureC},
		Purpose: slide.Tuning, Good: h.section.Good, Learned: h.learned(s),
		Earlier: h.earlier(s, r), History: h.past[s.id].past, Played: r.Wire.Played, Baseline: s.baseline(),
	})
	if a.Kind == slide.Again || a.Kind == slide.Note || a.Kind == slide.Stay {
		return a
	}
	m := h.lastMove(s, r)
	if m == nil {
		return a
	}
	f := slide.FollowThrough(h.made(m, h.reading(m.Reading), r))
	if b, first := f.Answer(); first {
		b.Small, b.Offset = a.Small, a.Offset
		if m.Assumed && f.Verdict == slide.Held {
			b.Next = fmt.Sprintf("If the slide was not moved yet, set it to %.0f mm. %s", m.ToMM, b.Next)
		}
		return b
	}
	return a
}

// forAdvice is the reading as hub/slide takes it.
func (r *Reading) forAdvice() slide.Reading {
	w := r.Wire
	sr := slide.Reading{
		Hz: w.Hz, CI95: w.CI95, Spread: w.Spread, Drift: w.Drift, Level: w.Level, Early: w.Early,
		Settled: w.Settled, Reason: w.Reason, Overheard: r.Why == whyOverheard,
	}
	if r.Heard != nil {
		sr.Hz, sr.CI95, sr.Settled, sr.Reason = r.Heard.Hz, r.Heard.CI95, true, ""
	}
	return sr
}

// earlier are the chair's settled readings of the same note since its slides
// last changed, without r.
func (h *Hub) earlier(s *seat, r *Reading) []slide.Reading {
	var out []slide.Reading
	for _, e := range h.readings {
		if e.Chair == s.id && e != r && e.Round != 0 && e.Note == r.Note && e.Wire.Settled && !e.At.Before(h.settled[s.id]) {
			out = append(out, e.forAdvice())
		}
	}
	return out
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

// learned is what the chair's own moves, of today and of earlier days, say
// about its millimetres per cent. What a move should bring is the model's own figure here.
func (h *Hub) learned(s *seat) slide.Learned {
	c := h.chair(s.id)
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return slide.Learned{}
	}
	made := slices.Clone(h.past[s.id].made)
	for _, m := range s.moves {
		before, after := h.reading(m.Reading), s.firstAfter(m)
		paths := []instrument.Path(nil)
		if before != nil {
			paths = in.Paths(before.Note)
		}
		if m.FollowThrough == "" || before == nil || after == nil || len(paths) == 0 {
			continue
		}
		md := h.made(m, before, after)
		md.Expected = slide.Expect(in, paths[0], c.Settings, m.Slide, m.FromMM, m.ToMM, slide.Learned{})
		made = append(made, md)
	}
	if len(made) == 0 {
		return slide.Learned{}
	}
	return slide.Learn(made...)
}

// lastMove is the chair's last move that was made between two readings of r's
// note and whose outcome is open: not judged yet, or held with the lips or
// unclear at the last reading, so that r tells more. No further move is given
// before that.
func (h *Hub) lastMove(s *seat, r *Reading) *MoveRecord {
	for _, m := range slices.Backward(s.moves) {
		if m.Done.IsZero() || m.Withdrawn {
			continue
		}
		before := h.reading(m.Reading)
		switch slide.Verdict(m.FollowThrough) {
		case "", slide.Held, slide.Unsure:
			if before != nil && before.Note == r.Note {
				return m
			}
		}
		return nil
	}
	return nil
}

// judgeMove notes what became of the chair's last move.
func (h *Hub) judgeMove(s *seat, r *Reading) {
	m := h.lastMove(s, r)
	if m == nil {
		return
	}
	f := slide.FollowThrough(h.made(m, h.reading(m.Reading), r))
	m.Measured, m.FollowThrough = f.Measured, string(f.Verdict)
	h.saveMove(m)
}

// made is a move between two readings. Where the first reading after it left
// the outcome unclear, the later ones are taken together with it.
func (h *Hub) made(m *MoveRecord, before, after *Reading) slide.Made {
	md := slide.Made{
		Expected: m.Expected, Before: before.forAdvice(), After: after.forAdvice(),
		Common: h.commonChange(before, after),
	}
	sum := pitch.Cents(0)
	for _, r := range h.readings {
		if r.Chair == m.Chair && r.Why == string(slide.Unsure) && r.Note == before.Note && !r.At.Before(m.Done) && r.ID < after.ID {
			sum += pitch.Between(md.After.Hz, r.hz())
			md.Repeats++
		}
	}
	md.After.Hz = md.After.Hz.Shift(sum / pitch.Cents(1+md.Repeats))
	return md
}

// commonChange is how far the section as a whole moved between two readings
// of one chair: the median change of the chairs that were read on both sides
// and moved no slide in between; 0 while there are fewer than minUnmoved.
func (h *Hub) commonChange(before, after *Reading) pitch.Cents {
	var ds []pitch.Cents
	for _, s := range h.seats {
		if s.id == before.Chair || h.settled[s.id].After(before.At) {
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
		if first != nil && last != nil && first != last && first.Note == last.Note {
			ds = append(ds, pitch.Between(first.hz(), last.hz()))
		}
	}
	if len(ds) < minUnmoved {
		return 0
	}
	slices.Sort(ds)
	return ds[len(ds)/2]
}

// minUnmoved chairs are a section: of two, either may have changed by itself.
const minUnmoved = 3

// reading finds a reading of this tune-up.
func (h *Hub) reading(id int64) *Reading {
	for _, r := range h.readings {
		if r.ID == id {
			return r
		}
	}
	return nil
}

// firstAfter is the chair's first counted reading after a move was made.
func (s *seat) firstAfter(m *MoveRecord) *Reading {
	for _, r := range s.counted {
		if r.ID > m.Reading && !r.At.Before(m.Done) {
			return r
		}
	}
	return nil
}
