package score

import (
	"regexp"
	"slices"
	"strings"

	"bellrow/proto/instrument"
)

// windFamily is a family of woodwinds: the stems of its names in the six
// languages, and its sizes (common practice, no source; checked against what a
// notation program calls them, see testdata/README.md).
type windFamily struct {
	stem  *regexp.Regexp
	sizes []windSize
}

// windSize is one size: several words may stand for it, and a word for several.
type windSize struct {
	words string // the sizes' names of sizeWords, "" where the plain name means it
	id    instrument.ID
}

// windFamilies are looked through in this order: names that hold another family's
// stem come before it.
var windFamilies = []windFamily{
	{regexp.MustCompile(`\bcor anglais\b|\benglish ?horn|\benglischhorn|\bcor(no|\.)? ingl\w*\b|\bengelse hoorn|\be\. ?hn\b|\bc\. *alto *$|\balto?(oboe|hobo)\b|\balto +ob\b`), []windSize{{"", "english_horn"}}},
	{regexp.MustCompile(`\bbassett? ?horn|\bcorn?o? d[ei] basset(to)?\b|\bbassethoorn|\bbst\. ?hn\b|\bcorn\. bass\b`), []windSize{{"", "basset_horn"}}},
	{regexp.MustCompile(`[ck]ontr[aeo]-?(fagott?o?|bass?oon|basson)|\bcbsn|\bkfgt|\bcfag|\bca\. fgt`), []windSize{{"", "contrabassoon"}}},
	{regexp.MustCompile(`[ck]larinett?[eoi]?[ns]?\b|\bcla?r?\b|\bkla?r?\b|\brequintos?\b`), []windSize{
		{"", "clarinet_bb"}, {"", "clarinet_eb"}, {"", "clarinet_a"}, {"", "clarinet_c"},
		{"alto contralto", "alto_clarinet"}, {"bass", "bass_clarinet"}, {"contraalto contralto", "contra_alto_clarinet"}, {"contrabass", "contrabass_clarinet"}}},
	{regexp.MustCompile(`(saxo[fp]h?o?o?n|saxo|sassofon|sax)\w*`), []windSize{
		{"alto contralto", "alto_saxophone"}, {"tenor", "tenor_saxophone"}, {"soprano", "soprano_saxophone"}, {"baritone", "baritone_saxophone"}, {"bass", "bass_saxophone"}}},
	{regexp.MustCompile(`oboe[ns]?\b|\boboi\b|hautbois\b|hobo'?s?\b|\bob\b|\bhtbs?\b`), []windSize{{"", "oboe"}, {"damore", "oboe_damore"}}},
	{regexp.MustCompile(`fagott?[oeis]*\b|\bbass?oons?\b|\bbassons?\b|\bbsn\b|\bfgt?\b|\bfag\b`), []windSize{{"", "bassoon"}}},
	{regexp.MustCompile(`flutes?\b|flote[n]?\b|flaut[oai]s?\b|(dwars)?fluit(en)?\b|\bfl\b|^picc?ol[oi]?$|^picc\b|\bafl\b|\bottavino\b|\bott\b|\bflautin\b`), []windSize{
		{"", "flute"}, {"piccolo", "piccolo_flute"}, {"alto contralto", "alto_flute"}, {"bass", "bass_flute"}}},
}

// sizeWords are the words for a size in what is left of a name without its stem.
var sizeWords = []struct {
	form *regexp.Regexp
	size string
}{
	{regexp.MustCompile(`[ck]ontr[ae](bb?ass?[eo]?|bajo)|ctbasse|\b[ck]b\b|\bca\. +bs`), "contrabass"},
	{regexp.MustCompile(`[ck]ontr[ae] ?alto?|octocontralto|\b[ck]a\b\.?( ?alto)?`), "contraalto"},
	{regexp.MustCompile(`\bcontralto|\bctrl\b`), "contralto"},
	{regexp.MustCompile(`picc?ol[oi]?|pikkolo|petite|\bpicc\b|ottavino|\bott\b|\bflautin\b`), "piccolo"},
	{regexp.MustCompile(`\bd['’]? ?(amore?|amour|am|alto)\b`), "damore"},
	{regexp.MustCompile(`\bsopra?a?no?\b|\bsop\b`), "soprano"},
	{regexp.MustCompile(`\balto?\b|\bafl\b`), "alto"},
	{regexp.MustCompile(`\btenore?\b|\bten\b`), "tenor"},
	{regexp.MustCompile(`\bbar[iy]tono?e?\b|\bbari?\b|\bba\b`), "baritone"},
	{regexp.MustCompile(`\bbass?[eo]?\b|\bbajo\b|\bbs\b`), "bass"},
}

// otherWinds are words that make another instrument of such a name.
var otherWinds = regexp.MustCompile(`caccia|caza|musette|barock|baroque|barok|baroc|barroc|sub|hyper|hiper|iper|octobass|double|doble|doppi|doppel|dubbel|hohl|tenor fl|treble|soprano (fl|cl)|sopran(kl|fl)|sopraan(kl|fl)|(flauta|clarinett?[eo]) sopr|piccolo (cl|kl|ob)|piccolo(kl)|(clarinett?[eo]|oboe) picc|basset ?(cl|kl)|(clarinett?[eo]) (de )?basset|clarinet basset|block|blok|recorder|dolce|dulce|a bec|pan|irisc?h|\btin\b|native|shaku|bansuri|di ?zi|organ|orgel|heckel|bar[iy]ton[eo]? ?(ob|hob)|oboe bar|(bass?|bajo) ?(ob|hob)|(oboe) ba[sj]|reed contrabass\b|melod|mezzo|sopranino|sopranissimo|russ|quena|ocarin|flageol|flautofono|synth|pipe|fife|nasen|nose|clavier|naturt|travers|kolben|turk|alban|chalum|aulo`)

var (
	// windLetter is a size's letter with a full stop: "A. Sax.".
	windLetter  = regexp.MustCompile(`\b([astb])\.`)
	windLetters = map[string]string{"a.": " alto ", "s.": " soprano ", "t.": " tenor ", "b.": " bass "}
	// numbered is the number of a part: "1", "2nd", "II", "1.".
	numbered = regexp.MustCompile(`\b(\d+(st|nd|rd|th|ere?|a|o)?|i{1,3}|iv)\b[.ªº]?`)
)

// woodwind names the woodwinds that a part can be written for: by the first of its
// names that is one's, the key in it, and what the part adds.
func (p Part) woodwind() Instruments {
	if p.Sound != "" && !strings.HasPrefix(p.Sound, "wind.") {
		return Instruments{Doubt: DoubtUnknown}
	}
	for _, name := range []string{p.Name, p.Instrument, p.Short, p.Group, strings.NewReplacer(".", " ", "-", " ").Replace(p.Sound)} {
		plain := strings.NewReplacer("-", "", "  ", " ").Replace(numbered.ReplaceAllString(fold.Replace(strings.ToLower(name)), ""))
		plain = strings.TrimSpace(clefs.ReplaceAllString(plain, " "))
		if plain == "" {
			continue
		}
		for _, f := range windFamilies {
			plain := windLetter.ReplaceAllStringFunc(plain, func(s string) string { return windLetters[s] })
			at := f.stem.FindStringIndex(plain)
			switch {
			case at == nil:
				continue
			case otherWinds.MatchString(plain):
				return Instruments{Doubt: DoubtUnknown}
			}
			rest := plain[:at[0]] + " " + plain[at[1]:]
			if f.sizes[len(f.sizes)-1].id == "bass_flute" {
				rest += " " + plain[at[0]:at[1]] // a piccolo has no other stem
			}
			return p.amongWinds(f.sized(rest), f, keyOfWind(name))
		}
	}
	return Instruments{Doubt: DoubtUnknown}
}

// keyOfWind is the key that a name tells, -1 for none. MusicXML's sounds write it in
// one word.
func keyOfWind(name string) int {
	name = strings.NewReplacer("bflat", "in B flat", "eflat", "in E flat").Replace(name)
	return keyClass(takeApart(name).key)
}

// sized are the members of a family that a size means; of none, those that the
// plain name means, or all of them.
func (f windFamily) sized(rest string) []instrument.ID {
	said := ""
	for _, w := range sizeWords {
		if w.form.MatchString(rest) {
			said = w.size
			break
		}
	}
	var ids, all []instrument.ID
	for _, s := range f.sizes {
		all = append(all, s.id)
		if said == "" && s.words == "" || said != "" && slices.Contains(strings.Fields(s.words), said) {
			ids = append(ids, s.id)
		}
	}
	if said == "" && len(ids) == 0 {
		return all
	}
	return ids
}

// amongWinds weighs the instruments that a name means against its key and what the
// part adds; where these contradict it, those of the family that agree are offered too.
func (p Part) amongWinds(ids []instrument.ID, f windFamily, key int) Instruments {
	list, family := windsOf(ids), []entry{}
	for _, s := range f.sizes {
		family = append(family, windsOf([]instrument.ID{s.id})...)
	}
	if len(list) == 0 {
		return Instruments{Doubt: DoubtUnknown}
	}
	plain := len(list) > 1 // the name means several
	if keyed := slices.DeleteFunc(slices.Clone(list), func(e entry) bool { return e.key != key }); len(keyed) > 0 {
		list, plain = keyed, false
	}
	if p.Concert {
		if len(list) > 1 {
			return instruments(list, DoubtSeveral)
		}
		return instruments(list, DoubtNone)
	}
	agrees := func(list []entry, as func(int) int) []entry {
		return slices.DeleteFunc(slices.Clone(list), func(e entry) bool { return as(e.transposition) != as(p.Transposition) })
	}
	exactly := func(t int) int { return t }
	for _, fit := range [][]entry{agrees(list, exactly), agrees(list, classOf)} {
		if len(fit) > 0 {
			return instruments(fit, DoubtNone)
		}
	}
	if other := agrees(family, exactly); plain && len(other) > 0 {
		return instruments(other, DoubtNone) // a plain clarinet part that adds what an alto's does
	}
	return instruments(append(list, agrees(family, exactly)...), DoubtDisagree)
}

// windsOf are the entries of the rest of the band. Their key is that of what the
// part adds.
func windsOf(ids []instrument.ID) (list []entry) {
	for _, id := range ids {
		if in, err := instrument.Find(id); err == nil {
			list = append(list, entry{in.ID, in.Family, in.Clef, in.Transposition, classOf(in.Transposition)})
		}
	}
	return list
}
