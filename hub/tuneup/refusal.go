package tuneup

import "fmt"

// Refusal is the error of a command that cannot be done as things stand: a code
// for the words of hub/show, with its figures. Its own text is English.
type Refusal struct {
	Code    string
	Figures []any
	text    string
}

// Error is the refusal in English.
func (r *Refusal) Error() string { return "tuneup: " + r.text }

// refuse makes a refusal; format takes the figures in their order.
func refuse(code, format string, figures ...any) *Refusal {
	return &Refusal{code, figures, fmt.Sprintf(format, figures...)}
}
