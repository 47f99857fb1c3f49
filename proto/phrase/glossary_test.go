package phrase

import (
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
)

// glossary are words of the trade that a language's texts must have, and near-misses that
// they must not: a word of another trade, or of another part of the instrument. The words
// are common practice, from memory, no source; no native speaker has read them yet.
var glossary = map[string]struct{ has, hasNot []string }{
	"en-GB": {has: []string{"main slide", "crotchet", "minim", "centre", "mouthpiece", "mezzo-forte"}, hasNot: []string{"center", "half note", "tuning pipe", "embouchure piece"}},
	"en-US": {has: []string{"main slide", "quarter note", "half note", "center"}, hasNot: []string{"crotchet", "minim", "quaver"}},
	"de": {has: []string{"Stimmzug", "Zieh", "Posaunenzug", "Mundstück", "Register", "Takt", "Grundton"},
		hasNot: []string{"Stimmrutsche", "Rutsche", "Schieber", "Folie", "Abstimmung", "Abschnitt", "Riegel"}},
	"fr": {has: []string{"coulisse d’accord", "tirer", "pousser", "embouchure", "pupitre", "mesure", "noire"},
		hasNot: []string{"glissière", "diapositive", "tiroir", "barre de mesure"}},
	"es": {has: []string{"bomba general", "vara", "boquilla", "compás", "negra"},
		hasNot: []string{"diapositiva", "corredera", "deslizador", "tobogán", "barra de compás"}},
}

// TestGlossary: each language speaks of slides, mouthpieces and bars as its players do.
func TestGlossary(t *testing.T) {
	for _, l := range Languages {
		own := maps.Clone(l.texts)
		var all []string
		for _, key := range slices.Sorted(maps.Keys(own)) {
			all = append(all, forms(own[key])...)
		}
		if l.Tag == "en-US" { // what it says otherwise, and what it shares
			all = nil
			for key, text := range english {
				if of, otherwise := american[key]; otherwise {
					text = of
				}
				all = append(all, forms(text)...)
			}
		}
		text := strings.ToLower(strings.Join(all, "\n"))
		words, known := glossary[l.Tag]
		if !known {
			t.Errorf("%s has no glossary", l.Tag)
		}
		word := func(w string) bool {
			return regexp.MustCompile(`(?:^|[^\pL])` + regexp.QuoteMeta(strings.ToLower(w))).MatchString(text)
		}
		for _, w := range words.has {
			if !word(w) {
				t.Errorf("%s never says %q", l.Tag, w)
			}
		}
		for _, w := range words.hasNot {
			if word(w) {
				t.Errorf("%s says %q, which its players do not", l.Tag, w)
			}
		}
	}
}
