package phrase

import (
	"fmt"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"
	"unicode"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// tongues speak all languages.
func tongues() (all []Tongue) {
	for _, l := range Languages {
		all = append(all, Tongue{voice: voices[l.Tag]()})
	}
	return all
}

// ways are directions, with their opposites, as they stand in keys and in English.
var ways = map[string]string{"pull": "push", "out": "in", "sharp": "flat", "higher": "lower", "up": "down", "softer": "stronger", "high": "low", "above": "below"}

// TestEachWayIsItsOwnWord: of two texts whose keys differ by a direction alone each has the word of its own and not the
// opposite in its place; they differ in every language.
func TestEachWayIsItsOwnWord(t *testing.T) {
	word := func(w string) *regexp.Regexp { return regexp.MustCompile(`(?i)\b` + w + `(ed)?\b`) }
	pairs := 0
	for key, text := range english {
		for a, b := range ways {
			k := regexp.MustCompile(`(^|[.-])`+a+`($|[.-])`).ReplaceAllString(key, "${1}"+b+"${2}")
			other, ok := english[k]
			if k == key || !ok {
				continue
			}
			pairs++
			one, two := strings.Join(forms(text), " "), strings.Join(forms(other), " ")
			ofA, ofB := word(a), word(b)
			// "in" may stand for itself ("in the hand"), and as often in both.
			if x, y := len(ofA.FindAllString(one, -1))-len(ofA.FindAllString(two, -1)), len(ofB.FindAllString(two, -1))-len(ofB.FindAllString(one, -1)); x < 0 || y < 0 {
				t.Errorf("%s: %q against %q", key, one, two)
			}
			for _, tongue := range tongues() {
				all := tongue.speaks().all
				if fmt.Sprint(all[key]) == fmt.Sprint(all[k]) {
					t.Errorf("%s: %s and %s are both %v", tongue.Language(), key, k, all[key])
				}
			}
			// A move and where a note stands are never left to the other text.
			if must := []string{"pull", "sharp", "higher", "high", "above", "softer"}; slices.Contains(must, a) && len(ofA.FindAllString(one, -1))+len(ofB.FindAllString(two, -1)) == 1 {
				t.Errorf("%s has %s, or %s %s, and not both: %q, %q", key, a, k, b, one, two)
			}
		}
	}
	if pairs < 40 {
		t.Errorf("%d pairs", pairs)
	}
}

// TestOneIsOne: where a text goes by a number its text for one is never that for two, and that for two is that for five,
// in every language.
func TestOneIsOne(t *testing.T) {
	for key, text := range english {
		c, ok := text.(counted)
		if !ok {
			continue
		}
		for _, tongue := range tongues() {
			own, ok := tongue.speaks().all[key].(counted)
			if !ok {
				continue
			}
			say := func(n int) string {
				figures := slices.Repeat([]any{any(7)}, 6)
				figures[c.arg-1] = n
				return strings.ReplaceAll(tongue.Say(key, figures...), fmt.Sprint(n), "#")
			}
			if say(2) != say(5) || own.one != own.other && say(1) == say(2) && strings.ReplaceAll(own.one, "1", "#") != own.other {
				t.Errorf("%s %s: one %q, two %q, five %q", tongue.Language(), key, say(1), say(2), say(5))
			}
			if own.arg != c.arg {
				t.Errorf("%s %s goes by figure %d, English by %d", tongue.Language(), key, own.arg, c.arg)
			}
		}
	}
}

// TestOffsetsAreSaidByTheirSide: what rounds to nothing is in tune, and everything else on its side and as large as it
// is, however well it is known.
func TestOffsetsAreSaidByTheirSide(t *testing.T) {
	for x := pitch.Cents(-3); x <= 3; x += 0.25 {
		for _, say := range tongues() {
			nothing := x > -0.5 && x < 0.5
			key := map[bool]string{true: "unit.sharp", false: "unit.flat"}[x > 0]
			off := say.Say(key, say.Cents(x))
			if nothing {
				off = say.Say("unit.in-tune")
			}
			if got := say.Off(x); got != off || nothing != (say.Off(-x) == got) {
				t.Errorf("%s: %+g is %q, the other way %q", say.Language(), float64(x), got, say.Off(-x))
			}
			if about := say.About(x); nothing != (about == off) || !strings.Contains(about, off) {
				t.Errorf("%s: %+g is about %q", say.Language(), float64(x), about)
			}
			if rough := say.Roughly(x); nothing != (rough == say.Say("unit.less")) || !nothing && !strings.Contains(rough, say.Cents(x)) || say.Roughly(-x) != rough {
				t.Errorf("%s: %+g is roughly %q", say.Language(), float64(x), rough)
			}
			if within := say.Within(x, 1.2); !strings.Contains(within, "2") || nothing != (within == say.Say("unit.in-tune-within", say.Cents(2))) || !nothing && !strings.Contains(within, off) {
				t.Errorf("%s: %+g ± 1.2 is %q", say.Language(), float64(x), within)
			}
		}
	}
}

// TestSeries: everybody is named once and in order, the last behind a word of its own.
func TestSeries(t *testing.T) {
	names := []string{"Abelard", "Brunhild", "Caradoc", "Dietlind"}
	for _, say := range tongues() {
		for n := range len(names) + 1 {
			for _, said := range []string{say.List(names[:n]), say.Or(names[:n])} {
				at := 0
				for _, name := range names[:n] {
					k := strings.Index(said[at:], name)
					if k < 0 || strings.Count(said, name) != 1 {
						t.Fatalf("%s: %d names are %q", say.Language(), n, said)
					}
					at += k
				}
				if n > 1 && !strings.Contains(said, " ") {
					t.Errorf("%s: %d names are run together: %q", say.Language(), n, said)
				}
				if marks := strings.Count(said, ", ") + strings.Count(said, "; "); marks != max(0, n-2) {
					t.Errorf("%s: %d names are %q", say.Language(), n, said)
				}
			}
		}
	}
	if got := (Tongue{}).List(names[:3]) + " | " + (Tongue{}).Or(names[:3]); got != "Abelard, Brunhild and Caradoc | Abelard; Brunhild or Caradoc" {
		t.Error(got)
	}
}

// TestNumbersDiffer: no two small numbers, places or days are said alike, and a large one has its figures.
func TestNumbersDiffer(t *testing.T) {
	for _, say := range tongues() {
		for what, f := range map[string]func(int) string{"number": say.Number, "ordinal": say.Ordinal, "nth": say.Nth} {
			seen := map[string]int{}
			first := 0
			if what != "number" {
				first = 1
			}
			for n := first; n <= 60; n++ {
				s := f(n)
				if was, known := seen[s]; known || s == "" || n > 30 && !strings.Contains(s, fmt.Sprint(n)) || strings.HasPrefix(s, "number.") {
					t.Errorf("%s: %s %d is %q, as %d is", say.Language(), what, n, s, was)
				}
				seen[s] = n
			}
		}
		months := map[string]bool{}
		for m := 1; m <= 12; m++ {
			d := say.Date(fmt.Sprintf("2026-%02d-28", m))
			if months[d] || !strings.Contains(d, "28") || !strings.Contains(d, "2026") {
				t.Errorf("%s: month %d is %q", say.Language(), m, d)
			}
			months[d] = true
		}
		if say.Date("someday") != "someday" || say.Item("number.months", -1) != "" || say.Item("number.months", 12) != "" || say.Item("number.months", 0) == "" {
			t.Errorf("%s: days that are none, months beyond the last", say.Language())
		}
	}
	if got := (Tongue{}).Date("2026-03-02"); got != "2 Mar 2026" {
		t.Error(got)
	}
}

// TestABrowserGetsItsLanguage: the best of what it prefers, by whatever region, and English where it prefers none of ours.
func TestABrowserGetsItsLanguage(t *testing.T) {
	for accept, want := range map[string]string{
		"de": "de", "de-AT,de;q=0.9": "de", "fr-CH, fr;q=0.9, en;q=0.8": "fr", "es-419": "es", "en-US": "en-US", "en-GB": "en-GB", "tlh, de;q=0.3": "de", "ja": "", "": "", "no language;;": "",
	} {
		if got := Player.Match(accept); got != want {
			t.Errorf("%q gets %q, want %q", accept, got, want)
		}
		if want == "" {
			want = Languages[0].Tag
		}
		if got := Player.Asked(header(accept)).speaks().tag; got != want {
			t.Errorf("%q is spoken to in %q, want %q", accept, got, want)
		}
	}
	if got := Player.Asked(header(Long.Tag)).speaks().tag; got != Long.Tag {
		t.Errorf("who asks for the long language gets %q", got)
	}
	nobody := &Page{areas: players}
	for _, l := range Languages {
		if got := Player.In(l.Tag, pitch.Style{Naming: pitch.German}); got.speaks().tag != l.Tag || got.Notes.Naming != pitch.German || !Spoken(l.Tag) {
			t.Errorf("%s is spoken as %s", l.Tag, got.speaks().tag)
		}
		if got := nobody.In(l.Tag, pitch.Style{}).speaks().tag; got != Languages[0].Tag {
			t.Errorf("a page that is not offered in %s is spoken in %s", l.Tag, got)
		}
	}
	if Spoken("tlh") || Spoken("") || !Spoken(Long.Tag) {
		t.Error("languages that nobody has written are spoken, or one that is there is not")
	}
}

type header string

func (h header) Get(string) string { return string(h) }

// TestTextsByArea: the texts of some areas are all of these and no others; of none, all there are.
func TestTextsByArea(t *testing.T) {
	for _, say := range tongues() {
		all := say.Texts()
		if len(all) < len(english) {
			t.Errorf("%s: %d texts of %d", say.Language(), len(all), len(english))
		}
		rest := maps.Clone(all)
		for _, areas := range [][]string{{"unit"}, {"row", "piece"}} {
			some := say.Texts(areas...)
			for key, text := range all {
				area, _, _ := strings.Cut(key, ".")
				if got, has := some[key]; has != slices.Contains(areas, area) || has && fmt.Sprint(got) != fmt.Sprint(text) {
					t.Errorf("%s of %v: there %t", key, areas, has)
				}
				if slices.Contains(areas, area) {
					delete(rest, key)
				}
			}
		}
		if len(rest) == len(all) {
			t.Error("areas without texts")
		}
	}
}

// TestClauses: a sentence begins with a capital; behind a colon it does so in German alone.
func TestClauses(t *testing.T) {
	for _, s := range []string{"", "a", "écoutez tous", "Écoutez tous", "Pull the main slide", "12 mm"} {
		if c := Capital(s); strings.ToLower(c) != strings.ToLower(s) || c != "" && unicode.IsLower([]rune(c)[0]) {
			t.Errorf("%q is capital as %q", s, c)
		}
		for _, say := range tongues() {
			want := s
			if say.Language() != "de" && s != "" {
				r := []rune(s)
				want = string(unicode.ToLower(r[0])) + string(r[1:])
			}
			if got := say.Clause(s); got != want {
				t.Errorf("%s: %q behind a colon is %q", say.Language(), s, got)
			}
		}
	}
}

// TestThingsHaveTheirNames: an instrument is named term by term, and what no language has a name for as it is; ways of
// naming notes are told by their examples.
func TestThingsHaveTheirNames(t *testing.T) {
	german, other := Tongue{voice: voices["de"]()}, 0
	for _, in := range instrument.Band() {
		if got := (Tongue{}).Instrument(in.Name); got != in.Name {
			t.Errorf("%s is %q in English", in.Name, got)
		}
		if german.Instrument(in.Name) != in.Name {
			other++
		}
		if got := german.Instrument(in.Name); strings.Count(got, ", ") < strings.Count(in.Name, ", ") && !strings.Contains(in.Name, "(") || got == "" {
			t.Errorf("%s is %q in German", in.Name, got)
		}
	}
	if 2*other < len(instrument.Band()) {
		t.Errorf("%d instruments have a German name", other)
	}
	for i, c := range german.Namings() {
		if c.Label == pitch.Choices()[i].Label || c.Label == (Tongue{}).Namings()[i].Label {
			t.Errorf("a naming is called %q in German", c.Label)
		}
	}
	if got := german.Instrument("Nose flute, in B flat"); !strings.HasPrefix(got, "Nose flute, ") {
		t.Errorf("an instrument that nobody plays is %q", got)
	}
	for _, say := range tongues() {
		seen := map[string]bool{}
		for i, c := range say.Namings() {
			_, examples, _ := strings.Cut(pitch.Choices()[i].Label, ": ")
			if seen[c.Label] || !strings.Contains(c.Label, examples) || strings.Contains(c.Label, "player.names") || c.Value != pitch.Choices()[i].Value {
				t.Errorf("%s: %q", say.Language(), c.Label)
			}
			seen[c.Label] = true
		}
	}
	if got := german.Slide("nose"); got != "nose" {
		t.Errorf("a slide that no horn has is %q", got)
	}
}

// TestPartsOfAText: what is said, why and what then are texts of their own, and empty where there is none.
func TestPartsOfAText(t *testing.T) {
	why, next := 0, 0
	for key := range english {
		for _, say := range tongues()[:2] {
			a, b, c := say.Parts(key)
			for part, said := range map[string]string{"": a, ".why": b, ".next": c} {
				if _, has := english[key+part]; has != (said != "") && english[key+part] != "" || has && said != say.Say(key+part) {
					t.Errorf("%s%s is %q", key, part, said)
				}
			}
			if b != "" {
				why++
			}
			if c != "" {
				next++
			}
		}
	}
	if why < 20 || next < 20 {
		t.Errorf("%d reasons and %d next steps", why, next)
	}
}

// TestTheLongLanguageIsLonger: each of its texts is English two fifths longer, with the same figures.
func TestTheLongLanguageIsLonger(t *testing.T) {
	long := voices[Long.Tag]()
	var was, is int
	for key, text := range english {
		for i, form := range forms(text) {
			l := forms(long.all[key])[i]
			was, is = was+len(form), is+len(l)
			if len(l) < len(form) || !slices.Equal(figures(l), figures(form)) {
				t.Errorf("%s: %q is %q", key, form, l)
			}
		}
	}
	if r := float64(is) / float64(was); r < 1.25 || r > 1.5 {
		t.Errorf("%.2f as long", r)
	}
}
