package hub

import (
	"context"
	"slices"
	"time"

	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// pastDays is how far back a player's earlier days are looked at: long
// enough for a weekly rehearsal to leave a habit, short enough for last
// season's mouthpiece to be forgotten.
const pastDays = 60

// earlierDays is what a chair's earlier days say about it.
type earlierDays struct {
	past []slide.Past // one for each day
	made []slide.Made // judged moves
}

// loadPast reads the days before this tune-up.
func (h *Hub) loadPast(ctx context.Context, s Section, fresh time.Time) (map[ChairID]earlierDays, error) {
	since := fresh.AddDate(0, 0, -pastDays)
	rec, err := h.records(ctx, s, since)
	if err != nil {
		return nil, err
	}
	readings := slices.DeleteFunc(rec.Readings, func(r Reading) bool { return !r.Counted || r.Verdict == "" || !r.At.Before(fresh) })
	out := map[ChairID]earlierDays{}
	for _, day := range lastOfEachDay(readings) {
		common := commonOf(day, s.Good)
		for _, r := range day {
			ed := out[r.Chair]
			ed.past = append(ed.past, slide.Past{Settings: settingsAt(rec.Settings, r.Chair, r.At), Cents: r.Cents - common.Offset})
			out[r.Chair] = ed
		}
	}
	for _, c := range s.Chairs {
		ed := out[c.ID]
		ed.made = pastMoves(c, readings, rec.Moves)
		out[c.ID] = ed
	}
	return out, nil
}

// lastOfEachDay keeps each chair's last reading of each calendar day.
func lastOfEachDay(readings []Reading) [][]Reading {
	var days [][]Reading
	var date string
	for _, r := range readings { // oldest first
		if d := r.At.Local().Format(time.DateOnly); d != date {
			date = d
			days = append(days, nil)
		}
		day := &days[len(days)-1]
		*day = append(slices.DeleteFunc(*day, func(o Reading) bool { return o.Chair == r.Chair }), r)
	}
	return days
}

// commonOf is what the chairs of one day had in common: the weather.
func commonOf(day []Reading, good pitch.Cents) intonation.Together {
	var os []intonation.Offset
	for i := range day {
		os = append(os, intonation.Offset{Cents: day[i].Cents, CI95: day[i].ci()})
	}
	t := intonation.Common(os, good)
	if t.Chairs < intonation.MinCommon {
		t.Offset = 0
	}
	return t
}

// settingsAt is where a chair's slides stood at a moment, as far as anybody
// said; oldest record first.
func settingsAt(settings []SettingRecord, chair ChairID, at time.Time) instrument.Settings {
	set := instrument.Settings{}
	for _, r := range settings {
		if r.Chair == chair && !r.At.After(at) {
			set[r.Slide] = r.MM
		}
	}
	return set
}

// pastMoves are a chair's judged moves with the readings on either side. What
// they should have brought is the model's own figure.
func pastMoves(c Chair, readings []Reading, moves []MoveRecord) []slide.Made {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return nil
	}
	var made []slide.Made
	for _, m := range moves {
		if m.Chair != c.ID || m.FollowThrough == "" || m.Withdrawn {
			continue
		}
		before := slices.IndexFunc(readings, func(r Reading) bool { return r.ID == m.Reading })
		after := slices.IndexFunc(readings, func(r Reading) bool {
			return r.Chair == c.ID && r.ID > m.Reading && !r.At.Before(m.Done)
		})
		if before < 0 || after < 0 || readings[before].Note != readings[after].Note {
			continue
		}
		paths := in.Paths(readings[before].Note)
		if len(paths) == 0 {
			continue
		}
		made = append(made, slide.Made{
			Expected: slide.Expect(in, paths[0], c.Settings, m.Slide, m.FromMM, m.ToMM, slide.Learned{}),
			Before:   readings[before].forAdvice(), After: readings[after].forAdvice(),
		})
	}
	return made
}
