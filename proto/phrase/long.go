package phrase

import (
	"regexp"
	"strings"
)

// Long is English two fifths longer, which no page offers: a page that has room for
// it has room for languages that are yet to come.
var Long = Language{Tag: "en-XA", Name: "long", set: Longer}

// each writes every text otherwise.
func (all texts) each(write func(string) string) texts {
	out := texts{}
	for key, text := range all {
		switch text := text.(type) {
		case string:
			out[key] = write(text)
		case counted:
			out[key] = counted{text.arg, write(text.one), write(text.other)}
		}
	}
	return out
}

// fixed is what stays of a text: figures and marks.
var fixed = regexp.MustCompile(`%\[\d+\][a-z]|</?[a-z]+>`)

// Longer makes a text two fifths longer by its vowels, and leaves figures and marks.
func Longer(text string) string {
	var out strings.Builder
	at, owed := 0, 0.8 // so that a short word grows, too
	stretch := func(s string) {
		for _, r := range s {
			out.WriteRune(r)
			owed += 0.4
			for strings.ContainsRune("aeiouAEIOU", r) && owed >= 1 {
				out.WriteRune(r)
				owed--
			}
		}
	}
	for _, m := range fixed.FindAllStringIndex(text, -1) {
		stretch(text[at:m[0]])
		out.WriteString(text[m[0]:m[1]])
		at = m[1]
	}
	stretch(text[at:])
	return out.String()
}
