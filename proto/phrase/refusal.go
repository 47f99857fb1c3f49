package phrase

import (
	"errors"
	"strings"
)

// Refusal is an error that a page says in its reader's language. Logs and commands
// say it in English.
type Refusal struct {
	Key string
	// Figures are those of the text. What has a name in each language, such as a
	// slide, is a func(Tongue) string.
	Figures []any
	From    string // the package that refuses
	Err     error  // what a log says instead of the text, nil for the text itself
}

// Refuse makes the refusal of a package; in English it is the text as a clause.
func Refuse(from, key string, figures ...any) *Refusal {
	return &Refusal{Key: key, Figures: figures, From: from}
}

func (r *Refusal) Error() string {
	if r.Err != nil {
		return r.Err.Error()
	}
	clause := strings.TrimSuffix(r.say(Tongue{}), ".")
	if text, _ := english[r.Key].(string); !strings.HasPrefix(text, "%") { // a name stays as it is
		clause = Tongue{}.Clause(clause)
	}
	return r.From + ": " + clause
}

func (r *Refusal) Unwrap() error { return r.Err }

// SayIn says it in a tongue.
func (r *Refusal) SayIn(t Tongue) string { return Capital(r.say(t)) }

func (r *Refusal) say(t Tongue) string {
	figures := make([]any, len(r.Figures))
	for i, f := range r.Figures {
		figures[i] = f
		if say, ok := f.(func(Tongue) string); ok {
			figures[i] = say(t)
		}
	}
	return t.Say(r.Key, figures...)
}

// Why says an error in a tongue; false for one that has no text. What wraps a
// refusal is left out.
func (t Tongue) Why(err error) (sentence string, ok bool) {
	var r interface{ SayIn(Tongue) string }
	if !errors.As(err, &r) {
		return "", false
	}
	return r.SayIn(t), true
}
