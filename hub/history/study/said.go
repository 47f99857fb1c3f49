package study

import (
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Said is one thing that a study says, in the tongue of whoever reads it. It is nil
// where nothing is said, and safe for concurrent use.
type Said func(phrase.Tongue) string

// say words a text of proto/phrase. A figure that is Said itself is worded with it.
func say(key string, figures ...any) Said {
	return func(t phrase.Tongue) string {
		worded := make([]any, len(figures))
		for i, f := range figures {
			if s, ok := f.(Said); ok {
				f = s(t)
			}
			worded[i] = f
		}
		return t.Say(key, worded...)
	}
}

// In is what is said in a tongue, empty for nothing.
func (s Said) In(t phrase.Tongue) string {
	if s == nil {
		return ""
	}
	return s(t)
}

// then is one sentence after another.
func (s Said) then(next Said) Said {
	return func(t phrase.Tongue) string { return s(t) + " " + next(t) }
}

// cents says a size in whole cents.
func cents(x pitch.Cents) Said {
	return func(t phrase.Tongue) string {
		if math.Round(float64(x)) == 0 {
			return t.Say("unit.less")
		}
		return t.Cents(x)
	}
}

// played says how a note is played.
func played(p instrument.Path) Said {
	return func(t phrase.Tongue) string { return t.Path(p) }
}

// tell makes what a report says of sentences, none of them or some to try.
func (r *Report) tell(try Said, words ...Said) {
	r.In = func(t phrase.Tongue) (said []string, what string) {
		for _, w := range words {
			said = append(said, w(t))
		}
		return said, try.In(t)
	}
	r.Words, r.Try = r.In(phrase.Tongue{})
}
