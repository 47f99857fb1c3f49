package show

import (
	"cmp"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

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

// leaders is how the leader's row speaks.
func leaders(st tuneup.Standing) phrase.Tongue { return phrase.Tongue{Notes: st.Section.Notes} }

// namesOf is a style as a view carries it, empty for the usual one.
func namesOf(y pitch.Style) string {
	if y == (pitch.Style{}) {
		return ""
	}
	return y.String()
}

// chairOf finds a chair, nil when there is none.
func chairOf(st tuneup.Standing, id hub.ChairID) *tuneup.Chair {
	for i := range st.Chairs {
		if st.Chairs[i].ID == id {
			return &st.Chairs[i]
		}
	}
	return nil
}

// count writes small numbers as words at the start of a sentence.
func count(n int) string {
	words := [...]string{"No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve"}
	if n >= 0 && n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n)
}

// list writes two names or more: "Ada, Bo and Cy".
func list(names []string) string {
	n := len(names) - 1
	return strings.Join(names[:n], ", ") + " and " + names[n]
}

// capital writes a clause as the start of a sentence.
func capital(s string) string { return firstRune(s, unicode.ToUpper) }

// lowerFirst writes a sentence as a clause after a name and a colon.
func lowerFirst(s string) string { return firstRune(s, unicode.ToLower) }

func firstRune(s string, f func(rune) rune) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(f(r)) + s[n:]
}

// followWords says what became of a move.
func followWords(v slide.Verdict) string {
	switch v {
	case slide.Went:
		return "the pitch went with the slide"
	case slide.Partly:
		return "the pitch followed the slide part of the way"
	case slide.Held:
		return "the slide moved, the pitch stayed: held with the lips"
	case slide.TooFar:
		return "the pitch went elsewhere: another slide may have moved"
	case slide.Unsure:
		return "not clear yet whether the pitch followed"
	case slide.Small:
		return "the move was too small to tell"
	}
	return strings.TrimSpace(string(v))
}

// deviceTrouble says what is wrong with a laptop, by proto.State's code.
func deviceTrouble(code string) string {
	switch code {
	case "":
		return ""
	case "no-samples":
		return "the microphone sends nothing"
	case "overrun":
		return "the laptop is too busy: sound was lost"
	case "clipping":
		return "the microphone is overloaded"
	case "processing-on":
		return "the microphone's sound processing is on"
	}
	return "the microphone reports " + code
}

// TroubleWords says why nothing can be stored.
func TroubleWords(err error) string {
	switch {
	case errors.Is(err, hub.ErrMoved):
		return "The data folder was taken away or replaced: nothing more is stored, and players' laptops keep their readings. Stop the hub, put the data right, and start it again."
	case errors.Is(err, hub.ErrDamaged):
		return "The data is damaged: nothing more is stored, and players' laptops keep their readings. Stop the hub, and put the last copy back with bellrow restore."
	case errors.Is(err, hub.ErrFull):
		return "The disk is full: nothing more is stored. Free some space; the round goes on meanwhile."
	case errors.Is(err, hub.ErrReadOnly):
		return "The data folder cannot be written: nothing more is stored. The round goes on meanwhile."
	}
	return fmt.Sprintf("Nothing more is stored (%v). The round goes on meanwhile.", err)
}
