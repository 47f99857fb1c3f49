package tuneup

import (
	"fmt"
	"strings"
	"unicode/utf8"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Bounds of a set-up: generous, and small enough that a row can be drawn and
// sent whole.
const (
	maxChairs      = 1000
	maxTuningNotes = 24
	maxSeat        = 1000 // rows, and places in a row
	maxBand        = pitch.Cents(50)
)

// check finds what cannot be right in a set-up that a leader sends.
func check(s hub.Section) error {
	if err := checkName(s.Name); err != nil {
		return err
	}
	if s.Tuning != "" {
		if _, err := intonation.ParseTuning(s.Tuning); err != nil {
			return nonsense("%w", err)
		}
	}
	switch {
	case strings.TrimSpace(s.Name) == "":
		return refuse("refusal.no-name")
	case !(s.Good > 0 && s.Near >= s.Good && s.Near <= maxBand):
		return refuse("refusal.bands", float64(s.Good), float64(s.Near), float64(maxBand))
	case s.Order != "" && s.Order != hub.OrderLowToHigh && s.Order != hub.OrderSeating && !s.Order.ByWorth():
		return nonsense("tuneup: order %q, need %q, %q, %q or %q", s.Order, hub.OrderLowToHigh, hub.OrderSeating, hub.OrderByWorth, hub.OrderTwoAtOnce)
	case s.Language != "" && !phrase.Spoken(s.Language):
		return nonsense("tuneup: language %q, need a tag such as en-GB, en-US or de", s.Language)
	case s.HornOrder != slide.BbSideFirst && s.HornOrder != slide.FSideFirst:
		return nonsense("tuneup: horns set %q, need %q or %q", s.HornOrder, slide.BbSideFirst, slide.FSideFirst)
	case len(s.Chairs) > maxChairs:
		return refuse("refusal.chairs", len(s.Chairs), maxChairs)
	case len(s.TuningNotes) > maxTuningNotes:
		return refuse("refusal.tuning-notes", len(s.TuningNotes), maxTuningNotes)
	}
	if _, err := instrument.EveningAt(s.TemperatureC); err != nil {
		return &phrase.Refusal{Key: "setup.room.wrong", Err: err}
	}
	if err := s.Notes.Valid(); err != nil {
		return nonsense("%w", err)
	}
	if s.Reference.A4 != 0 {
		if _, err := pitch.NewReference(s.Reference.A4); err != nil {
			return &phrase.Refusal{Key: "refusal.reference", Figures: []any{int(pitch.MinA4), int(pitch.MaxA4)}, Err: err}
		}
	}
	for _, n := range s.TuningNotes {
		if n < pitch.MinNote || n > pitch.MaxNote {
			return nonsense("tuneup: tuning note %d, need %d to %d", n, pitch.MinNote, pitch.MaxNote)
		}
	}
	ids := map[hub.ChairID]bool{}
	for _, c := range s.Chairs {
		if c.ID != 0 && ids[c.ID] {
			return nonsense("tuneup: chair %d is there twice", c.ID)
		}
		ids[c.ID] = true
		if err := checkChair(c); err != nil {
			return err
		}
	}
	return nil
}

func checkChair(c hub.Chair) error {
	for _, name := range []string{c.Name, c.Label, c.Part} {
		if err := checkName(name); err != nil {
			return err
		}
	}
	if err := checkSeat(c.Row, c.Place); err != nil {
		return err
	}
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return &phrase.Refusal{Key: "refusal.instrument", Figures: []any{c.Label, string(c.Instrument)}, Err: fmt.Errorf("tuneup: chair %s: %w", c.Label, err)}
	}
	for what, set := range map[string]instrument.Settings{"setting": c.Settings, "travel": c.Travel} {
		for id, mm := range set {
			sl, has := in.Slide(id)
			if !has {
				return nonsense("tuneup: chair %s: %s of slide %q, which a %s has not", c.Label, what, id, in.Name)
			}
			if !(mm >= 0 && mm <= proto.MaxSlideMM) {
				return refuse("refusal.setting", slideOf(sl), c.Label, mm, float64(proto.MaxSlideMM))
			}
		}
	}
	return nil
}

func checkName(s string) error {
	if n := utf8.RuneCountInString(s); n > proto.MaxName || !utf8.ValidString(s) {
		return refuse("refusal.name", n, proto.MaxName)
	}
	return nil
}

// slideOf is a slide as a figure of a refusal.
func slideOf(s instrument.Slide) func(phrase.Tongue) string {
	return func(t phrase.Tongue) string { return t.Slide(s.Name) }
}

func checkSeat(row, place int) error {
	if row < 0 || row > maxSeat || place < 0 || place > maxSeat {
		return nonsense("tuneup: seat in row %d, place %d, need 0 to %d", row, place, maxSeat)
	}
	return nil
}
