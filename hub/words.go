package hub

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// countWords writes small numbers as words at the start of a sentence.
func countWords(n int) string {
	words := [...]string{"No", "One", "Two", "Three", "Four", "Five", "Six", "Seven", "Eight", "Nine", "Ten", "Eleven", "Twelve"}
	if n >= 0 && n < len(words) {
		return words[n]
	}
	return strconv.Itoa(n)
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

// followWords says what became of a move, by slide.Verdict.
func followWords(code string) string {
	switch code {
	case "went":
		return "the pitch went with the slide"
	case "partly":
		return "the pitch followed the slide part of the way"
	case "held":
		return "the slide moved, the pitch stayed: held with the lips"
	case "too-far":
		return "the pitch went elsewhere: another slide may have moved"
	case "unsure":
		return "not clear yet whether the pitch followed"
	case "small":
		return "the move was too small to tell"
	}
	return strings.TrimSpace(code)
}
