package score

import (
	"regexp"
	"strings"

	"bellrow/proto/instrument"
)

// windNames are the names of woodwinds in the six languages, what is more special
// first (common practice, no source). Accents are dropped and letters small before.
var windNames = []struct {
	form *regexp.Regexp
	id   instrument.ID
}{
	{regexp.MustCompile(`\bcor anglais\b|\benglish ?horn|\benglischhorn|\bcorno ingles|\bengelse hoorn|\balthobo`), "english_horn"},
	{regexp.MustCompile(`\b[ck]ontra-?fagot|\bcontrabassoon|\bcontre-?basson|\bcontrofagotto`), "contrabassoon"},
	{regexp.MustCompile(`\bfagott?[oei]?s?\b|\bbassoons?\b|\bbassons?\b|\bbsn\b`), "bassoon"},
	{regexp.MustCompile(`\boboes?\b|\boboen\b|\boboi\b|\bhautbois\b|\bhobo'?s?\b`), "oboe"},
	{regexp.MustCompile(`\bbassett?-?horn|\bcor de basset\b|\bcorno di bassetto\b|\bbassethoorn`), "basset_horn"},
	{regexp.MustCompile(`\bbass? clarinet|\bbasskl?larinett|\bbass-?klarinett|\bclarinett?[eo] bass[eo]\b|\bclarinete bajo\b|\bbasklarinet`), "bass_clarinet"},
	{regexp.MustCompile(`\balto clarinet|\balt-?klarinett?|\bclarinett?[eo] alto\b|\bclarinetto contralto\b`), "alto_clarinet"},
	{regexp.MustCompile(`\bclarinett?[oei]?s?\b|\bklarinett?en?\b|\bklarinet\b`), "clarinet_bb"},
	{regexp.MustCompile(`\bsopra?ano? sax|\bsopran-?saxo|\bsax\w* sopra?no?\b|\bsopraansax`), "soprano_saxophone"},
	{regexp.MustCompile(`\balto? sax|\balt-?saxo|\bsax\w* (alto|contralto)\b`), "alto_saxophone"},
	{regexp.MustCompile(`\btenor sax|\btenor-?saxo|\bsax\w* tenor[e]?\b`), "tenor_saxophone"},
	{regexp.MustCompile(`\bbari(tone?)? sax|\bbariton-?saxo|\bsax\w* bar[iy]ton[eo]?\b`), "baritone_saxophone"},
	{regexp.MustCompile(`\bpicc?olo( flute)?$|\bpiccolo-?flote\b|\bpikkoloflote\b|\bflauto piccolo$|\bflautin$|\bottavino\b|\bpetite flute$`), "piccolo_flute"},
	{regexp.MustCompile(`\balto flute|\baltflote|\bflute alto\b|\bflauto contralto\b|\bflauta alto\b|\baltfluit`), "alto_flute"},
	{regexp.MustCompile(`\bflutes?\b|\bquerflote|\bflote[n]?\b|\bflaut[oai]s?\b|\bdwarsfluit|\bfluit(en)?\b`), "flute"},
}

// otherWinds are words that make another instrument of such a name.
var otherWinds = regexp.MustCompile(`amore|amour|caccia|barock|baroque|barok|baroc|contralto clar|contra-?alto|contra-?bass|kontra-?bass|contre-?basse|contraba|sub|hyper|double|dopp|hohl|tenor fl|treble|soprano (fl|cl)|sopran(klar|fl)|piccolo (cl|ob)|basset (cl|kl)|block|block-?fl|recorder|dolce|dulce|a bec|pan|irish|tin|native|shaku|bansuri|di ?zi|organ|orgel|heckel|bar[iy]ton (ob|hob)|baritone oboe|bass ob|bassob|bassfl|bass fl|flute basse|melody|mezzo|sopranino|sopranissimo|russ|quena|ocarin|flageol|flautofono|synth|pipe|fife|nasen|nose|clavier|naturt|turk|alban|chalum`)

// winds recognises the part of a woodwind, "" for none: by its name, and a clarinet's
// key by what its part adds.
func (p Part) winds(name string) instrument.ID {
	name = strings.TrimSpace(numbered.ReplaceAllString(fold.Replace(strings.ToLower(name)), ""))
	if name == "" || otherWinds.MatchString(name) {
		return ""
	}
	for _, w := range windNames {
		if !w.form.MatchString(name) {
			continue
		}
		if w.id == "clarinet_bb" && !p.Concert {
			return map[int]instrument.ID{-2: "clarinet_bb", 3: "clarinet_eb", -3: "clarinet_a", 0: "clarinet_c", -9: "alto_clarinet", -14: "bass_clarinet"}[p.Transposition]
		}
		return w.id
	}
	return ""
}

// numbered is the number of a part: "1", "2nd", "II", "1.".
var numbered = regexp.MustCompile(`\b(\d+(st|nd|rd|th|ere?|a|o)?|i{1,3}|iv)\b[.ªº]?`)
