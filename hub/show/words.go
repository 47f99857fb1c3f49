package show

import (
	"cmp"
	"errors"
	"strings"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// called is how sentences call a chair that everybody can see.
func called(st tuneup.Standing, c *tuneup.Chair) string { return st.Section.Called(*c.Chair) }

// styleOf is how a player reads notes: by the player's own choice, or as the
// section does.
func styleOf(st tuneup.Standing, c *tuneup.Chair) pitch.Style {
	if own := c.Sound.Names; own != "" {
		if y, err := pitch.ParseStyle(own); err == nil {
			return y
		}
	}
	return st.Section.Notes
}

// tongueOf is how a player is spoken to: in the player's own choice of language,
// or the section's.
func tongueOf(st tuneup.Standing, c *tuneup.Chair) phrase.Tongue {
	return phrase.Player.In(cmp.Or(c.Sound.Language, st.Section.Language), styleOf(st, c))
}

// leaders is how the leader's row and the wall speak.
func leaders(st tuneup.Standing) phrase.Tongue {
	return phrase.Leader.In(st.Section.Language, st.Section.Notes)
}

// English is a standing of which the leader is told in English, as commands and
// files have it.
func English(st tuneup.Standing) tuneup.Standing {
	sec := *st.Section
	sec.Language = ""
	st.Section = &sec
	return st
}

// namesOf is a style as a view carries it, empty for the usual one.
func namesOf(y pitch.Style) string {
	if y == (pitch.Style{}) {
		return ""
	}
	return y.String()
}

// followWords says what became of a move.
func followWords(v slide.Verdict, t phrase.Tongue) string {
	switch v {
	case slide.Went, slide.Partly, slide.Held, slide.TooFar, slide.Unsure, slide.Small:
		return t.Say("said.follow." + string(v))
	}
	return strings.TrimSpace(string(v))
}

// deviceTrouble says what is wrong with a laptop, by proto.State's code.
func deviceTrouble(code string, t phrase.Tongue) string {
	switch code {
	case "":
		return ""
	case "no-samples", "overrun", "clipping", "processing-on":
		return t.Say("said.device." + code)
	}
	return t.Say("said.device.other", code)
}

// TroubleWords says in a tongue why nothing can be stored.
func TroubleWords(err error, t phrase.Tongue) string {
	switch {
	case errors.Is(err, hub.ErrMoved):
		return t.Say("said.store.moved")
	case errors.Is(err, hub.ErrDamaged):
		return t.Say("said.store.damaged")
	case errors.Is(err, hub.ErrFull):
		return t.Say("said.store.full")
	case errors.Is(err, hub.ErrReadOnly):
		return t.Say("said.store.read-only")
	}
	return t.Say("said.store.other", err.Error())
}
