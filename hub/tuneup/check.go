package tuneup

import (
	"errors"
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
	if err := checkName("section", s.Name); err != nil {
		return err
	}
	if s.Tuning != "" {
		if _, err := intonation.ParseTuning(s.Tuning); err != nil {
			return err
		}
	}
	switch {
	case strings.TrimSpace(s.Name) == "":
		return errors.New("tuneup: section without a name, need one")
	case !(s.Good > 0 && s.Near >= s.Good && s.Near <= maxBand):
		return fmt.Errorf("tuneup: bands of %g and %g cents, need 0 < good ≤ watch ≤ %g", s.Good, s.Near, maxBand)
	case s.Order != "" && s.Order != hub.OrderLowToHigh && s.Order != hub.OrderSeating && !s.Order.ByWorth():
		return fmt.Errorf("tuneup: order %q, need %q, %q, %q or %q", s.Order, hub.OrderLowToHigh, hub.OrderSeating, hub.OrderByWorth, hub.OrderTwoAtOnce)
	case s.Language != "" && !phrase.Spoken(s.Language):
		return fmt.Errorf("tuneup: language %q, need a tag such as en-GB, en-US or de", s.Language)
	case s.HornOrder != slide.BbSideFirst && s.HornOrder != slide.FSideFirst:
		return fmt.Errorf("tuneup: horns set %q, need %q or %q", s.HornOrder, slide.BbSideFirst, slide.FSideFirst)
	case len(s.Chairs) > maxChairs:
		return fmt.Errorf("tuneup: %d chairs, need at most %d", len(s.Chairs), maxChairs)
	case len(s.TuningNotes) > maxTuningNotes:
		return fmt.Errorf("tuneup: %d tuning notes, need at most %d", len(s.TuningNotes), maxTuningNotes)
	}
	if _, err := instrument.EveningAt(s.TemperatureC); err != nil {
		return err
	}
	if err := s.Notes.Valid(); err != nil {
		return err
	}
	if s.Reference.A4 != 0 {
		if _, err := pitch.NewReference(s.Reference.A4); err != nil {
			return err
		}
	}
	for _, n := range s.TuningNotes {
		if n < pitch.MinNote || n > pitch.MaxNote {
			return fmt.Errorf("tuneup: tuning note %d, need %d to %d", n, pitch.MinNote, pitch.MaxNote)
		}
	}
	ids := map[hub.ChairID]bool{}
	for _, c := range s.Chairs {
		if c.ID != 0 && ids[c.ID] {
			return fmt.Errorf("tuneup: chair %d is there twice", c.ID)
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
		if err := checkName("chair", name); err != nil {
			return err
		}
	}
	if err := checkSeat(c.Row, c.Place); err != nil {
		return err
	}
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return fmt.Errorf("tuneup: chair %s: %w", c.Label, err)
	}
	for what, set := range map[string]instrument.Settings{"setting": c.Settings, "travel": c.Travel} {
		for id, mm := range set {
			if _, has := in.Slide(id); !has {
				return fmt.Errorf("tuneup: chair %s: %s of slide %q, which a %s has not", c.Label, what, id, in.Name)
			}
			if !(mm >= 0 && mm <= proto.MaxSlideMM) {
				return fmt.Errorf("tuneup: chair %s: %s of %s is %g mm, need 0 to %d", c.Label, what, id, mm, proto.MaxSlideMM)
			}
		}
	}
	return nil
}

func checkName(what, s string) error {
	if n := utf8.RuneCountInString(s); n > proto.MaxName || !utf8.ValidString(s) {
		return fmt.Errorf("tuneup: name of a %s with %d characters, need at most %d", what, n, proto.MaxName)
	}
	return nil
}

func checkSeat(row, place int) error {
	if row < 0 || row > maxSeat || place < 0 || place > maxSeat {
		return fmt.Errorf("tuneup: seat in row %d, place %d, need 0 to %d", row, place, maxSeat)
	}
	return nil
}
