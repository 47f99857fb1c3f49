// Package heard hears English where a page speaks another language. It is for tests.
package heard

import (
	"encoding/json"
	"regexp"
	"slices"
	"strings"
	"sync"

	"golang.org/x/net/html"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// words are English ones that German, French and Spanish have not, in whatever sense:
// articles, prepositions, verbs without which hardly a sentence is made, and some that
// pages are fond of.
var words = regexp.MustCompile(`(?i)(?:^|[^\pL\d.:/_-])(the|is|not|of|and|your|you|with|to|for|this|that|are|have|been|were|its|which|by|need|at|chairs?|again|slide|play|reading|unknown)(?:$|[^\pL\d:/_-])`)

// sentences are the English texts of three words and more without figures, by key.
var sentences = sync.OnceValue(func() map[string]string {
	all := map[string]string{}
	for key, text := range (phrase.Tongue{}).Texts() {
		if s, ok := text.(string); ok && !strings.Contains(s, "%") && strings.Count(s, " ") > 1 {
			all[key] = s
		}
	}
	return all
})

// English is what is English in a text that should be in another language, empty for
// nothing: a word, or a text of the catalogue that the language has otherwise. What
// people typed is left out of it.
func English(tag, text string, typed ...string) string {
	slices.SortFunc(typed, func(a, b string) int { return len(b) - len(a) })
	for _, s := range typed {
		if s != "" {
			text = strings.ReplaceAll(text, s, "…")
		}
	}
	if m := words.FindStringSubmatch(text); m != nil {
		return m[1]
	}
	t := phrase.Leader.In(tag, pitch.Style{})
	for key, s := range sentences() {
		if strings.Contains(text, s) && t.Say(key) != s {
			return s
		}
	}
	return ""
}

// JSON lists the strings of a JSON value that people may read: those with a space in
// them, except under the keys that are left out, which hold codes, or what was typed.
func JSON(data []byte, except ...string) (texts []string) {
	var v any
	if json.Unmarshal(data, &v) != nil {
		return nil
	}
	var walk func(v any)
	walk = func(v any) {
		switch v := v.(type) {
		case string:
			if strings.Contains(strings.TrimSpace(v), " ") {
				texts = append(texts, v)
			}
		case []any:
			for _, x := range v {
				walk(x)
			}
		case map[string]any:
			for key, x := range v {
				if !slices.Contains(except, key) {
					walk(x)
				}
			}
		}
	}
	walk(v)
	return texts
}

// HTML lists what people read on a page, or have read to them: the texts, titles,
// labels, placeholders and pictures' descriptions, and the texts that the page hands
// to its scripts.
func HTML(page string) (texts []string) {
	z := html.NewTokenizer(strings.NewReader(page))
	skip, data := false, false
	for {
		switch z.Next() {
		case html.ErrorToken:
			return texts
		case html.TextToken:
			switch text := strings.TrimSpace(string(z.Text())); {
			case data:
				texts = append(texts, JSON([]byte(text))...)
			case !skip && text != "":
				texts = append(texts, text)
			}
		case html.StartTagToken, html.SelfClosingTagToken:
			t := z.Token()
			skip, data = t.Data == "script" || t.Data == "style" || t.Data == "code" || t.Data == "kbd", false
			for _, a := range t.Attr {
				switch a.Key {
				case "title", "aria-label", "aria-description", "placeholder", "alt", "data-to-paper", "data-to-stage":
					texts = append(texts, a.Val)
				case "type":
					data = t.Data == "script" && a.Val == "application/json"
				}
			}
		case html.EndTagToken:
			skip, data = false, false
		}
	}
}
