package web

import (
	"cmp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"
)

// HideNames takes the players' names out, for screens that others can see:
// the fields go, and in sentences each name gives way to its chair's label.
// Some players are children, so a word that happens to be a name goes too.
func (b *Board) HideNames() {
	type swap struct{ name, label string }
	var swaps []swap
	for i := range b.Chairs {
		if c := &b.Chairs[i]; c.Name != "" && c.Name != c.Label {
			swaps = append(swaps, swap{c.Name, c.Label})
		}
		b.Chairs[i].Name = ""
	}
	// Long names first: "Ada Lark" before "Ada".
	slices.SortStableFunc(swaps, func(x, y swap) int { return cmp.Compare(len(y.name), len(x.name)) })
	clean := func(text *string) {
		for _, s := range swaps {
			*text = replaceWord(*text, s.name, s.label)
		}
	}
	clean(&b.Say)
	clean(&b.Beside)
	clean(&b.CanUndo)
	if b.Round != nil {
		r := *b.Round // the row's own is shared
		clean(&r.Title)
		clean(&r.Sentence)
		b.Round = &r
	}
	for i := range b.Chairs {
		c := &b.Chairs[i]
		for _, text := range []*string{&c.Words, &c.Word, &c.Headline, &c.Detail, &c.FollowThrough, &c.Balance, &c.Trouble} {
			clean(text)
		}
	}
}

// replaceWord replaces name where it stands as a word of its own.
func replaceWord(text, name, label string) string {
	var out strings.Builder
	for {
		i := indexWord(text, name)
		if i < 0 {
			out.WriteString(text)
			return out.String()
		}
		out.WriteString(text[:i])
		out.WriteString(label)
		text = text[i+len(name):]
	}
}

func indexWord(text, name string) int {
	letter := func(r rune) bool { return unicode.IsLetter(r) || unicode.IsDigit(r) }
	for from := 0; from+len(name) <= len(text); {
		i := strings.Index(text[from:], name)
		if i < 0 {
			return -1
		}
		i += from
		before, _ := utf8.DecodeLastRuneInString(text[:i])
		after, _ := utf8.DecodeRuneInString(text[i+len(name):])
		if !letter(before) && !letter(after) {
			return i
		}
		from = i + 1
	}
	return -1
}
