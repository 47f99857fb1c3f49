// Package plain words for people what went wrong at the command line: one
// sentence, then a line with the next action. Names of packages, which errors
// carry for developers, are left out.
package plain

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strings"
	"text/tabwriter"

	"bellrow/proto/phrase"
)

// Error is an error for people.
type Error struct {
	Err  error
	Hint string // what to do next
	// Misuse marks a command line that was not understood.
	Misuse bool
}

func (e *Error) Error() string { return e.Err.Error() }
func (e *Error) Unwrap() error { return e.Err }

// Fail makes an error with what to do about it.
func Fail(hint, format string, a ...any) error {
	return &Error{Err: fmt.Errorf(format, a...), Hint: hint}
}

// Keyed gives an error for people the text that says it on a page.
func Keyed(err error, key string, figures ...any) error {
	return &phrase.Refusal{Key: key, Figures: figures, Err: err}
}

// In is Words in a tongue; in another than English what has no text is for the terminal.
func In(err error, t phrase.Tongue) string {
	if t.Language() == "" {
		return Words(err)
	}
	if sentence, ok := t.Why(err); ok {
		return sentence
	}
	return t.Say("start.fault.other")
}

// Misuse makes an error for a command line that makes no sense.
func Misuse(hint, format string, a ...any) error {
	return &Error{Err: fmt.Errorf(format, a...), Hint: hint, Misuse: true}
}

// Print writes an error as people read it. who is "bellrow" and the command.
func Print(w io.Writer, who string, err error) {
	fmt.Fprintf(w, "%s: %s\n", who, Sentence(err))
	if e, ok := errors.AsType[*Error](err); ok && e.Hint != "" {
		fmt.Fprintf(w, "  %s\n", e.Hint)
	}
}

// prefix is how the house's errors begin: the name of a package and a colon,
// one behind the other where they were wrapped.
var prefix = regexp.MustCompile(`(^|: |\()([a-z]+: )+`)

// Sentence is an error's text without the names of packages.
func Sentence(err error) string { return prefix.ReplaceAllString(err.Error(), "$1") }

// JSON prints one indented value.
func JSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// Table prints rows of cells in columns; the first row is the heading.
func Table(w io.Writer, rows ...[]string) error {
	tw := tabwriter.NewWriter(w, 0, 0, 2, ' ', 0)
	for _, r := range rows {
		fmt.Fprintln(tw, strings.Join(r, "\t"))
	}
	return tw.Flush()
}

// Words is an error in one line: the sentence, then what to do.
func Words(err error) string {
	text := Sentence(err)
	if text == "" {
		return ""
	}
	text = strings.ToUpper(text[:1]) + text[1:] + "."
	if e, ok := errors.AsType[*Error](err); ok && e.Hint != "" {
		text += " " + strings.ToUpper(e.Hint[:1]) + e.Hint[1:] + "."
	}
	return text
}
