// Package name brings names of people, chairs and parts into one form, so that
// no two that look the same are different, and none carries what cannot be
// seen.
package name

import (
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"
)

// maxMarks is how many marks one letter may carry: Vietnamese needs two,
// Hebrew with points three; stacks that run over the lines above have dozens.
const maxMarks = 3

// blank are letters and symbols by their class that show nothing: fillers of
// Hangul, and the empty braille pattern.
var blank = map[rune]bool{0x115F: true, 0x1160: true, 0x3164: true, 0xFFA0: true, 0x2800: true}

// Normal returns s composed (Unicode normalisation form C, UAX 15), with single
// spaces, and without what cannot be seen: controls, format characters, among
// them the directional ones of UAX 9, the joiners and the tags of UTS 51,
// variation selectors, blank letters, private and unassigned code points; and
// with no more than maxMarks marks on a letter.
func Normal(s string) string {
	var b strings.Builder
	marks := maxMarks // none where there is no letter yet
	for _, r := range norm.NFD.String(strings.ToValidUTF8(s, "")) {
		switch {
		case unicode.IsSpace(r):
			r, marks = ' ', maxMarks
		case unseen(r):
			continue
		case unicode.Is(unicode.M, r):
			if marks++; marks > maxMarks {
				continue
			}
		default:
			marks = 0
		}
		b.WriteRune(r)
	}
	return norm.NFC.String(strings.Join(strings.Fields(b.String()), " "))
}

func unseen(r rune) bool {
	return blank[r] || unicode.Is(unicode.Variation_Selector, r) || unicode.Is(unicode.Other_Default_Ignorable_Code_Point, r) ||
		!unicode.IsGraphic(r)
}

// Alike reports whether a and b are different names that look the same, by the
// commonest of the confusables of UTS 39, section 4: letters of Latin, Greek and
// Cyrillic, digits, and pairs such as rn for m. Letters with other accents
// do not look the same.
func Alike(a, b string) bool {
	a, b = Normal(a), Normal(b)
	return !strings.EqualFold(a, b) && skeleton(a) == skeleton(b)
}

// skeleton maps each letter to the one that it looks like. It differs from that
// of UTS 39 in that case does not count, as it does not for names of chairs.
func skeleton(s string) string {
	s = norm.NFKD.String(s)
	s = pairs.Replace(s) // before case goes: capital I looks like l, small i does not
	return pairs.Replace(strings.ToLower(s))
}

// pairs holds what looks alike, from confusables.txt of Unicode 16 (from
// memory; a selection).
var pairs = strings.NewReplacer(
	// Digits, and the letters l and I.
	"0", "o", "1", "l", "I", "l", "|", "l", "5", "s", "rn", "m", "vv", "w",
	// Cyrillic, small and capital.
	"а", "a", "е", "e", "о", "o", "р", "p", "с", "c", "у", "y", "х", "x", "і", "i", "ј", "j", "ѕ", "s", "ԁ", "d", "һ", "h", "ԛ", "q", "ԝ", "w", "ӏ", "l",
	"А", "A", "В", "B", "Е", "E", "К", "K", "М", "M", "Н", "H", "О", "O", "Р", "P", "С", "C", "Т", "T", "У", "Y", "Х", "X", "І", "l", "Ј", "J", "Ѕ", "S", "Ӏ", "l", "З", "3",
	// Greek, small and capital.
	"ο", "o", "α", "a", "ν", "v", "ρ", "p", "υ", "u", "ι", "i", "γ", "y", "κ", "k",
	"Α", "A", "Β", "B", "Ε", "E", "Ζ", "Z", "Η", "H", "Ι", "l", "Κ", "K", "Μ", "M", "Ν", "N", "Ο", "O", "Ρ", "P", "Τ", "T", "Υ", "Y", "Χ", "X",
	// Apostrophes and hyphens.
	"’", "'", "ʼ", "'", "‘", "'", "`", "'", "‐", "-", "‑", "-", "–", "-", "—", "-", "−", "-",
)
