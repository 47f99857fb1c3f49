// Package phrase holds the sentences that people read on the pages, in every
// language that is offered: one file for each, a text for each key. Rules and
// calculators say what is meant, in codes and figures; whoever shows it picks
// the key and hands the figures in. No sentence is put together from pieces: a
// text is a whole sentence, or names a thing or a quantity that a sentence holds.
//
// A text holds its figures as %[1]d, %[2]s (golang.org/x/text/message). Where it
// changes with a number, it is a choice by plural rules (plural.Selectf).
// Commands and their JSON stay English.
//
// A further language is one more file: its texts, and its line in Languages.
// The tests find what is missing, left over or takes other figures than English.
package phrase

import (
	"encoding/json"
	"fmt"
	"maps"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/feature/plural"
	"golang.org/x/text/language"
	"golang.org/x/text/message"
	"golang.org/x/text/message/catalog"

	"bellrow/proto/pitch"
)

// texts are the texts of one language by key: a string, or a choice by plural.
type texts map[string]any

// number is a text that changes with figure arg: 1, or another number.
func number(arg int, one, other string) counted { return counted{arg, one, other} }

// counted is a choice by plural.
type counted struct {
	arg        int
	one, other string
}

func (c counted) message() catalog.Message {
	return plural.Selectf(c.arg, "%d", plural.One, c.one, plural.Other, c.other)
}

// Language is a language that pages may be in.
type Language struct {
	Tag  string `json:"tag"`  // BCP 47: "en-GB", "de"
	Name string `json:"name"` // of itself
	// texts of its own; the rest is in English.
	texts texts
	// set writes a text as the language is set, nil for as it stands.
	set func(string) string
}

// Languages are all of them, the one that holds where none is chosen first.
var Languages = []Language{
	{Tag: "en-GB", Name: "English (UK)", texts: english},
	{Tag: "en-US", Name: "English (US)", texts: american},
	{Tag: "de", Name: "Deutsch", texts: german},
	{Tag: "fr", Name: "Français", texts: french, set: unbroken},
	{Tag: "es", Name: "Español", texts: spanish},
}

// MarshalJSON writes a choice for the scripts of a page: by which figure, and the forms.
func (c counted) MarshalJSON() ([]byte, error) {
	return json.Marshal(map[string]any{"by": c.arg, "one": c.one, "other": c.other})
}

// Page is a page that is offered in a language only as a whole: some areas of
// keys, by their first words.
type Page struct {
	areas   []string
	offered []Language
}

// Player is a player's page, with what the hub says on it.
var Player = newPage(players...)

var players = []string{"again", "check", "chord", "finger", "measure", "move", "note", "nothing", "number", "path", "player", "rest", "slide", "stay", "study", "tell", "tells", "unit", "view"}

// Leader are the leader's pages and the wall, in the language of the section, with
// what they quote of the players'.
var Leader = newPage(append([]string{"evening", "join", "page", "piece", "problem", "refusal", "row", "setup", "summary", "said", "harmony", "quality", "kind", "choice"}, players...)...)

// Report is the section's report, with the players' sheets.
var Report = newPage(append([]string{"harmony", "quality", "report"}, players...)...)

// Start is the page of a double click.
var Start = newPage("start")

// Door is the page on which a telephone is let in.
var Door = newPage("door")

// Get is the page that hands bellrow out.
var Get = newPage("get")

// Asked speaks the language of a page that a browser prefers; Long, which no browser
// does, only by its very tag.
func (p *Page) Asked(r interface{ Get(header string) string }) Tongue {
	tag := r.Get("Accept-Language")
	if tag != Long.Tag {
		tag = p.Match(tag)
	}
	return p.In(tag, pitch.Style{})
}

func newPage(areas ...string) *Page {
	p := &Page{areas: areas}
	p.offered = slices.DeleteFunc(slices.Clone(Languages), func(l Language) bool { return len(p.lacks(l)) > 0 })
	return p
}

// holds reports whether a key belongs to the page.
func (p *Page) holds(key string) bool {
	area, _, _ := strings.Cut(key, ".")
	return slices.Contains(p.areas, area)
}

// lacks are the keys of the page that a language has no text for. American is
// English where it says nothing else.
func (p *Page) lacks(l Language) (keys []string) {
	for _, key := range slices.Sorted(maps.Keys(english)) {
		if _, has := l.texts[key]; !has && p.holds(key) && !strings.HasPrefix(l.Tag, "en") {
			keys = append(keys, key)
		}
	}
	return keys
}

// Offered are the languages that hold every text of the page.
func (p *Page) Offered() []Language { return slices.Clone(p.offered) }

// In speaks a language in which the page is offered; English where it is not.
func (p *Page) In(tag string, notes pitch.Style) Tongue {
	if tag != Long.Tag && !slices.ContainsFunc(p.offered, func(l Language) bool { return l.Tag == tag }) {
		tag = Languages[0].Tag
	}
	return Tongue{notes, voices[tag]()}
}

// Match is the best of the languages in which the page is offered for what a
// reader prefers: a tag, or a browser's Accept-Language. It is "" where none fits.
func (p *Page) Match(preferred string) string {
	want, _, err := language.ParseAcceptLanguage(preferred)
	if err != nil {
		return ""
	}
	tags := make([]language.Tag, len(p.offered))
	for i, l := range p.offered {
		tags[i] = language.Make(l.Tag)
	}
	_, i, sure := language.NewMatcher(tags).Match(want...)
	if sure < language.High {
		return ""
	}
	return p.offered[i].Tag
}

// Texts are the texts of some areas, of all where none is named, as the scripts of a
// page take them.
func (t Tongue) Texts(areas ...string) map[string]any {
	all := map[string]any{}
	for key, text := range t.speaks().all {
		if area, _, _ := strings.Cut(key, "."); len(areas) == 0 || slices.Contains(areas, area) {
			all[key] = text
		}
	}
	return all
}

// Spoken reports whether there is a language of a tag.
func Spoken(tag string) bool { return voices[tag] != nil }

// voice speaks one language.
type voice struct {
	tag     string
	all     texts
	plain   map[string]string // texts without plurals
	printer *message.Printer
}

// voices are the languages by tag. Each learns its texts when it is first asked:
// most programs speak one.
var voices = speakers()

func speakers() map[string]func() *voice {
	all := map[string]func() *voice{}
	for _, l := range append(slices.Clone(Languages), Long) {
		all[l.Tag] = sync.OnceValue(l.speak)
	}
	return all
}

// speak learns the texts of a language.
func (l Language) speak() *voice {
	own := maps.Clone(english)
	maps.Copy(own, l.texts)
	if l.set != nil {
		own = own.each(l.set)
	}
	tag := language.Make(l.Tag)
	b, v := catalog.NewBuilder(), &voice{tag: l.Tag, all: own, plain: map[string]string{}}
	for key, text := range own {
		var err error
		switch text := text.(type) {
		case string:
			v.plain[key] = text
			err = b.SetString(tag, key, text)
		case counted:
			err = b.Set(tag, key, text.message())
		}
		if err != nil {
			panic(fmt.Sprintf("phrase: %s %s: %v", l.Tag, key, err))
		}
	}
	v.printer = message.NewPrinter(tag, message.Catalog(b))
	return v
}

// Tongue is how one reader is spoken to: in a language, with notes named in a
// style. The zero value speaks English. It is safe for concurrent use.
type Tongue struct {
	Notes pitch.Style
	*voice
}

func (t Tongue) speaks() *voice {
	if t.voice == nil {
		return voices[Languages[0].Tag]()
	}
	return t.voice
}

// Language is the tag of the language, empty for the one that needs no telling.
func (t Tongue) Language() string {
	if tag := t.speaks().tag; tag != Languages[0].Tag {
		return tag
	}
	return ""
}

// Say words a text with its figures. A key that is not known is said itself; a
// test finds it.
func (t Tongue) Say(key string, figures ...any) string {
	v := t.speaks()
	if s, ok := v.plain[key]; ok && len(figures) == 0 {
		return s
	}
	return v.printer.Sprintf(message.Key(key, key), figures...)
}

// Has reports whether there is a text of a key.
func (t Tongue) Has(key string) bool { _, ok := english[key]; return ok }

// Parts are the texts of one thing said: what is done, why, and what then; empty
// where there is none.
func (t Tongue) Parts(key string) (what, why, next string) {
	for part, to := range map[string]*string{"": &what, ".why": &why, ".next": &next} {
		if t.Has(key + part) {
			*to = t.Say(key + part)
		}
	}
	return what, why, next
}

// Cents says how large an offset is, in whole cents: "12 cents".
func (t Tongue) Cents(x pitch.Cents) string { return t.Say("unit.cents", whole(float64(x))) }

// Off says an offset in whole cents: "12 cents sharp", "in tune".
func (t Tongue) Off(x pitch.Cents) string {
	switch n := math.Round(float64(x)); {
	case n == 0:
		return t.Say("unit.in-tune")
	case n < 0:
		return t.Say("unit.flat", t.Cents(x))
	}
	return t.Say("unit.sharp", t.Cents(x))
}

// About says an offset that is known roughly: "about 14 cents flat".
func (t Tongue) About(x pitch.Cents) string {
	if math.Round(float64(x)) == 0 {
		return t.Off(x)
	}
	return t.Say("unit.about", t.Off(x))
}

// Roughly says a size that was measured roughly.
func (t Tongue) Roughly(x pitch.Cents) string {
	if math.Round(float64(x)) == 0 {
		return t.Say("unit.less")
	}
	return t.Say("unit.about", t.Cents(x))
}

// Within says an offset and how well it is known: "11 cents sharp, give or take 2".
func (t Tongue) Within(x, ci pitch.Cents) string {
	half := pitch.Cents(math.Ceil(float64(ci)))
	if math.Round(float64(x)) == 0 {
		return t.Say("unit.in-tune-within", t.Cents(half))
	}
	return t.Say("unit.within", t.Off(x), whole(float64(half)))
}

// List names some one after the other: "Ada, Bo and Cy"; Or offers them: "A; B or C".
func (t Tongue) List(names []string) string { return t.series(names, ", ", "unit.and") }

// Or see List.
func (t Tongue) Or(names []string) string { return t.series(names, "; ", "unit.or") }

func (t Tongue) series(names []string, sep, last string) string {
	n := len(names) - 1
	if n < 1 {
		return strings.Join(names, "")
	}
	return t.Say(last, strings.Join(names[:n], sep), names[n])
}

// Capital writes a clause as the start of a sentence.
func Capital(clause string) string { return first(clause, unicode.ToUpper) }

// Clause writes a sentence as it stands after a colon: in German as it is.
func (t Tongue) Clause(sentence string) string {
	if strings.HasPrefix(t.speaks().tag, "de") {
		return sentence
	}
	return first(sentence, unicode.ToLower)
}

func first(s string, f func(rune) rune) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(f(r)) + s[n:]
}

// Number writes a small number as a word.
func (t Tongue) Number(n int) string { return t.counted("number.word", n) }

// Ordinal writes the place of something: "fifth"; Nth the same short: "5th".
func (t Tongue) Ordinal(n int) string { return t.counted("number.ordinal", n) }

// Nth see Ordinal.
func (t Tongue) Nth(n int) string { return t.counted("number.nth", n) }

func (t Tongue) counted(key string, n int) string {
	if word := t.Item(key+".list", n); word != "" {
		return word
	}
	return t.Say(key+".more", n)
}

// Item is the n-th of a text that is a list, from 0 on, as the languages that
// inflect it need it; empty beyond its end.
func (t Tongue) Item(key string, n int) string {
	if words := strings.Split(t.Say(key), "|"); n >= 0 && n < len(words) {
		return words[n]
	}
	return ""
}

// Slide is what a player of the language calls a slide that the catalogue of
// instruments names in English.
func (t Tongue) Slide(name string) string {
	if s := t.Say("slide." + name); s != "slide."+name {
		return s
	}
	return name
}

// Instrument is what a player of the language calls an instrument that the
// catalogue names in English: its terms one by one, as they stand between commas.
func (t Tongue) Instrument(name string) string {
	terms := term.FindAllString(name, -1)
	for i, english := range terms {
		if s, ok := t.speaks().plain["instrument."+english]; ok {
			terms[i] = s
		}
	}
	return strings.Join(terms, ", ")
}

// term is what stands between two commas, brackets whole.
var term = regexp.MustCompile(`[^, (](?:[^,(]|\([^)]*\))*`)

// Namings are the ways of naming notes, each told by how it names a few.
func (t Tongue) Namings() []pitch.Choice {
	all := pitch.Choices()
	for i, c := range all {
		naming, _, _ := strings.Cut(c.Value, "-")
		_, examples, _ := strings.Cut(c.Label, ": ")
		all[i].Label = t.Say("player.names."+naming, examples)
	}
	return all
}

// Decimal writes a number as the language does: "441.5", "441,5".
func (t Tongue) Decimal(x float64) string { return t.Say("unit.number", x) }

// Date writes a day that is kept as year-month-day; what is none stays as it is.
func (t Tongue) Date(day string) string {
	d, err := time.Parse(time.DateOnly, day)
	if err != nil {
		return day
	}
	return t.Say("number.date", d.Day(), t.Item("number.months", int(d.Month())-1), strconv.Itoa(d.Year()))
}

// whole is a size in whole units.
func whole(x float64) int { return int(math.Abs(math.Round(x))) }
