package name

import (
	"testing"
	"unicode"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

func TestNormal(t *testing.T) {
	for in, want := range map[string]string{
		"Ada":                                    "Ada",
		"  Ada \t Bell  ":                        "Ada Bell",
		"Jo\u0308rg":                             "Jörg", // composed (UAX 15)
		"A\u200Bd\u2060a\uFEFF":                  "Ada",  // zero width
		"A\u202Ed\u2066a\u200F":                  "Ada",  // directions (UAX 9)
		"Ada\U000E0061\U000E0062\U000E007F":      "Ada",  // tags (UTS 51)
		"Ada\uFE0F\U000E0100":                    "Ada",  // variation selectors
		"A\u00ADda":                              "Ada",  // soft hyphen
		"\u3164\u2800\uFFA0\u115F":               "",     // blank letters
		"A\x00d\x1ba":                            "Ada",
		"Ada\uE000\uFFFF":                        "Ada", // private use, no character
		"A\u0301\u0302\u0303\u0304\u0305\u0306d": "Á\u0302\u0303d",
		"\u0301Ada":                              "Ada",
		"Nguyễn Ái":                              "Nguyễn Ái",
		"שָׁלוֹם":                                norm.NFC.String("שָׁלוֹם"),
		"Ολυμπία":                                "Ολυμπία",
		"Tuba 🎺":                                 "Tuba 🎺",
		"a\xffb":                                 "ab",
	} {
		if got := Normal(in); got != want {
			t.Errorf("%q: %q (% x), want %q", in, got, got, want)
		}
	}
}

func TestAlike(t *testing.T) {
	for _, c := range []struct {
		a, b string
		want bool
	}{
		{"Ada", "Аdа", true},                                                      // Cyrillic А and а
		{"Ada", "ada", false}, {"Ada", "Ada", false}, {"Ada", "Ad\u200Ba", false}, // one name: the hub's to seat
		{"Bill", "Bi1l", true}, {"Bill", "BilI", true}, {"Otto", "0tto", true}, {"Omar", "Ornar", true},
		{"Ada", "Eda", false}, {"Jörg", "Jorg", false}, {"Horn 1", "Horn 2", false}, {"Olga", "Οlga", true}, // Greek Ο
		{"Horn 1", "Horn l", true}, {"Ａda", "Ada", true}, // full width
	} {
		if got := Alike(c.a, c.b); got != c.want || Alike(c.b, c.a) != c.want {
			t.Errorf("%q and %q: %v", c.a, c.b, got)
		}
	}
}

// FuzzNormal: what comes out stays as it is, is no longer than what went in
// allows, and holds nothing unseen.
func FuzzNormal(f *testing.F) {
	f.Add("Jo\u0308rg\u202E")
	f.Fuzz(func(t *testing.T, s string) {
		got := Normal(s)
		if again := Normal(got); again != got {
			t.Fatalf("%q: %q, then %q", s, got, again)
		}
		for _, r := range got {
			if unicode.IsControl(r) || unicode.Is(unicode.Cf, r) || r == utf8.RuneError {
				t.Fatalf("%q: %q holds %U", s, got, r)
			}
		}
	})
}
