package pitch

import (
	"errors"
	"fmt"
	"strconv"
	"strings"

	"golang.org/x/text/unicode/norm"
)

// Naming is a language's names of the notes.
type Naming string

// The namings. Names as in: German, Wieland Ziegenrücker, Allgemeine
// Musiklehre; French, Danhauser, Théorie de la musique; all of them from
// memory, checked against the note names of LilyPond's Notation Reference,
// "Note names in other languages".
const (
	English Naming = ""       // C, B♭, F♯
	German  Naming = "german" // C, B, Fis, and H for B natural
	Dutch   Naming = "dutch"  // C, Bes, Fis, B
	French  Naming = "french" // Do, Si♭, Fa♯, Ré: fixed Do
	Spanish Naming = "spanish"
	Italian Naming = "italian"
)

// Namings lists them all.
var Namings = []Naming{English, German, Dutch, French, Spanish, Italian}

// Octaves is a way of telling octaves apart.
type Octaves string

// The octaves.
const (
	Scientific Octaves = ""          // middle C is C4 (ASA; ISO 16 writes the tuning A as A4, from memory)
	Helmholtz  Octaves = "helmholtz" // ,C C c c' c'': middle C is c' (Helmholtz, Die Lehre von den Tonempfindungen, 1863)
	Franco     Octaves = "french"    // middle C is Do3, the octave below Do1 is Do-1 (Danhauser, from memory)
)

// Style is how notes are named for one reader. The zero value is English with
// scientific octaves, as commands and files are.
type Style struct {
	Naming  Naming
	Octaves Octaves
}

// String writes a style as settings and messages carry it: "english",
// "german", "german-helmholtz". ParseStyle reads it back.
func (y Style) String() string {
	s := string(y.Naming)
	if s == "" {
		s = "english"
	}
	if y.Octaves != "" {
		s += "-" + string(y.Octaves)
	}
	return s
}

// ParseStyle reads what String writes; "" is the zero style.
func ParseStyle(s string) (Style, error) {
	naming, octaves, _ := strings.Cut(strings.ToLower(strings.TrimSpace(s)), "-")
	y := Style{Naming(naming), Octaves(octaves)}
	if naming == "english" {
		y.Naming = English
	}
	return y, y.Valid()
}

// MarshalText writes the style as String does.
func (y Style) MarshalText() ([]byte, error) { return []byte(y.String()), nil }

// UnmarshalText reads what MarshalText wrote, and keeps what it does not know,
// which Valid reports: a file of a later version opens all the same.
func (y *Style) UnmarshalText(text []byte) error {
	*y, _ = ParseStyle(string(text))
	return nil
}

// Valid reports an unknown naming or one that its octaves do not suit:
// Helmholtz's tell octaves by small and capital letters, and syllables have none.
func (y Style) Valid() error {
	known := false
	for _, n := range Namings {
		known = known || n == y.Naming
	}
	switch {
	case !known:
		return fmt.Errorf("pitch: note names %q, need english, german, dutch, french, spanish or italian", string(y.Naming))
	case y.Octaves != Scientific && y.Octaves != Helmholtz && y.Octaves != Franco:
		return fmt.Errorf("pitch: octaves %q, need helmholtz, french, or none for scientific ones", string(y.Octaves))
	case y.Octaves == Helmholtz && y.Naming.syllables() != nil:
		return fmt.Errorf("pitch: octaves by capital and small letters with %s names, which are syllables", y.Naming)
	}
	return nil
}

// syllables are the names of C to B of a naming with a fixed Do, nil for
// namings by letters.
func (n Naming) syllables() []string {
	switch n {
	case French:
		return []string{"Do", "Ré", "Mi", "Fa", "Sol", "La", "Si"}
	case Spanish, Italian:
		return []string{"Do", "Re", "Mi", "Fa", "Sol", "La", "Si"}
	}
	return nil
}

// Name writes a name: "B♭", "B", "Bes", "Si♭".
func (n Naming) Name(x Name) string {
	if !x.Valid() {
		return ""
	}
	if s := n.syllables(); s != nil {
		return s[x.step()] + accidentals(x.Alter, "♯", "♭")
	}
	switch {
	case n != German && n != Dutch:
		return x.Display()
	case n == German && x == Name{'B', -1}:
		return "B"
	}
	letter := string(x.Letter)
	if n == German && x.Letter == 'B' {
		letter = "H"
	}
	if x.Alter >= 0 {
		return letter + strings.Repeat("is", x.Alter)
	}
	if letter == "A" || letter == "E" { // As and Es, not Aes and Ees
		return letter + "s" + strings.Repeat("es", -x.Alter-1)
	}
	return letter + strings.Repeat("es", -x.Alter)
}

// Both writes a name, and the English one in brackets where an English reader
// would take it for another note: "B (B♭)" for the German B.
func (n Naming) Both(x Name) string {
	s := n.Name(x)
	if read, err := ParseName(s); err == nil && read != x {
		return s + " (" + x.Display() + ")"
	}
	return s
}

// Note writes a note: "B♭3", "B3" in German, "b" with Helmholtz's octaves,
// "Si♭2" in French with French ones.
func (y Style) Note(s Spelled) string {
	name := y.Naming.Name(s.Name)
	if name == "" {
		return ""
	}
	switch y.Octaves {
	case Helmholtz:
		if s.Octave >= 3 {
			return strings.ToLower(name[:1]) + name[1:] + strings.Repeat("'", s.Octave-3)
		}
		return strings.Repeat(",", 2-s.Octave) + name
	case Franco:
		return name + strconv.Itoa(toFranco(s.Octave))
	}
	return name + strconv.Itoa(s.Octave)
}

// Of writes a note that no key or chord spells.
func (y Style) Of(n Note) string { return y.Note(Usual(n)) }

// Both writes a note, and the English name in brackets where an English reader
// would take its name for another one: "B3 (B♭3)" for the German B.
func (y Style) Both(s Spelled) string {
	if y.Naming.Both(s.Name) != y.Naming.Name(s.Name) {
		return y.Note(s) + " (" + s.Display() + ")"
	}
	return y.Note(s)
}

// toFranco turns the octave number of C4 into that of Do3; there is no octave 0.
func toFranco(octave int) int {
	if octave <= 1 {
		return octave - 2
	}
	return octave - 1
}

func fromFranco(octave int) (int, bool) {
	switch {
	case octave < 0:
		return octave + 2, true
	case octave > 0:
		return octave + 1, true
	}
	return 0, false
}

// Parsed is a note as it was typed.
type Parsed struct {
	Note Spelled
	// Or holds what else it could mean to another reader: B natural for a
	// German B, A4 for La3. Whoever asked shows both, or asks.
	Or []Spelled
}

// Foreign are the namings whose own names (H, Fis, Do) mean one note whoever
// reads them, so that they are understood among names of any language.
var Foreign = []Naming{German, French}

// Tidy makes one form of what keyboards write alike: full-width letters,
// letters with their accent apart, an acute accent for a stroke.
func Tidy(s string) string {
	return strings.TrimSpace(norm.NFKC.String(strokes.Replace(s)))
}

// strokes are the accents that are typed for an octave's stroke.
var strokes = strings.NewReplacer("´", "'", "`", "'")

// Parse reads a note as the style's readers write it, in the language's names
// or in English with signs ("B♭3", "Bb3" and "B3" are one in German). What is
// no note to them is read as those of Foreign read it.
func (y Style) Parse(s string) (Parsed, error) {
	text := Tidy(s)
	p, why := y.parse(text)
	for _, n := range Foreign {
		if why == nil || errors.Is(why, errOutside) {
			break
		}
		other, err := Style{n, y.Octaves}.parse(text)
		if err == nil || errors.Is(why, errNoName) {
			p, why = other, err
		}
	}
	if why != nil {
		return Parsed{}, y.bad(s, why)
	}
	return p, nil
}

func (y Style) parse(s string) (Parsed, error) {
	marks, body := cutCommas(s)
	names, rest, err := y.Naming.Cut(body)
	if err != nil {
		return Parsed{}, err
	}
	octaves, err := y.octaves(body, rest, marks)
	if err != nil {
		return Parsed{}, err
	}
	var all []Spelled
	for _, o := range octaves {
		for _, name := range names {
			if n := (Spelled{Name: name, Octave: o}); o > -3 && o < 11 && n.Valid() {
				all = append(all, n)
			}
		}
	}
	if len(all) == 0 {
		return Parsed{}, errOutside
	}
	return Parsed{Note: all[0], Or: all[1:]}, nil
}

// bad says what is no note, with notes as the style's readers type them.
func (y Style) bad(s string, why error) error {
	ascii := strings.NewReplacer("♭", "b", "♯", "#")
	return badNote(s, why, ascii.Replace(y.Of(58)), ascii.Replace(y.Note(Spelled{Name{'F', 1}, 4})))
}

func cutCommas(s string) (n int, rest string) {
	rest = strings.TrimLeft(s, ",")
	return len(s) - len(rest), rest
}

// primeSigns are the strokes that people type.
var primeSigns = strings.NewReplacer("’", "'", "′", "'", "″", "''", `"`, "''")

// octaves reads what stands after a name, the likeliest meaning first.
func (y Style) octaves(body, rest string, commas int) ([]int, error) {
	small := body[0] >= 'a' && body[0] <= 'z'
	rest = primeSigns.Replace(strings.TrimSpace(rest))
	primes := len(rest)
	switch {
	case rest == strings.Repeat("'", primes) && (primes > 0 && small && commas == 0):
		return []int{3 + primes}, nil
	case rest == strings.Repeat(",", primes) && !small && commas+primes > 0:
		return []int{2 - commas - primes}, nil
	case rest == "" && commas == 0 && y.Octaves == Helmholtz:
		if small {
			return []int{3}, nil
		}
		return []int{2}, nil
	}
	n, err := strconv.Atoi(rest)
	if err != nil || strconv.Itoa(n) != rest || commas > 0 {
		return nil, errNoOctave
	}
	return y.numbered(n, small), nil
}

// numbered is what an octave number can mean: c1 is c' on a German part, La3
// the tuning A on a French one.
func (y Style) numbered(n int, small bool) []int {
	other, ok := n, false
	switch {
	case y.Naming.syllables() != nil || y.Octaves == Franco:
		other, ok = fromFranco(n)
	case (y.Naming == German || y.Octaves == Helmholtz) && small && n > 0:
		other, ok = n+3, true
	case (y.Naming == German || y.Octaves == Helmholtz) && n == 2: // C2 is ,,C; there is no octave below
		other, ok = 0, true
	}
	switch {
	case !ok || other == n:
		return []int{n}
	case y.Octaves == Scientific:
		return []int{n, other}
	}
	return []int{other, n}
}

// Cut reads a name at the start of s and returns what follows it. More than
// one name means that readers of other languages would take it differently,
// the likeliest for this one first.
func (n Naming) Cut(s string) (names []Name, rest string, err error) {
	s = strings.TrimSpace(s)
	if n.syllables() != nil {
		if name, rest, ok := n.cutSyllable(s); ok {
			return []Name{name}, rest, nil
		}
	}
	if n == German || n == Dutch {
		if names, rest, ok := n.cutLetter(s); ok {
			return names, rest, nil
		}
	}
	name, rest, err := cutName(s)
	if err != nil {
		return nil, "", err
	}
	return []Name{name}, rest, nil
}

// flatWords and sharpWords alter a syllable; with the signs, and as words of
// French, Spanish and Italian.
var (
	sharpWords = []string{"#", "♯", "dièse", "diese", "diesis", "sostenido"}
	flatWords  = []string{"b", "♭", "bémol", "bemolle", "bemol"}
	twice      = []string{"double ", "doble ", "doppio "}
)

// fixedDo lists the syllables that are read in any naming with a fixed Do.
var fixedDo = []struct {
	word   string
	letter byte
}{
	{"sol", 'G'}, {"do", 'C'}, {"ut", 'C'}, {"ré", 'D'}, {"re", 'D'}, {"mi", 'E'}, {"fa", 'F'}, {"la", 'A'}, {"si", 'B'},
}

func (n Naming) cutSyllable(s string) (Name, string, bool) {
	for _, d := range fixedDo {
		rest, ok := cutWord(s, d.word)
		if !ok {
			continue
		}
		name := Name{Letter: d.letter}
		by := 1
		for _, w := range twice {
			if after, ok := cutWord(strings.TrimLeft(rest, " -"), w); ok {
				rest, by = after, 2
			}
		}
		for {
			alter, after := cutAlter(rest)
			if alter == 0 || name.Alter*alter < 0 || max(name.Alter, -name.Alter)+by > MaxAlter {
				return name, rest, true
			}
			name.Alter, rest = name.Alter+alter*by, after
		}
	}
	return Name{}, s, false
}

// cutAlter reads one sign or word that alters a syllable. A b that begins a
// longer word is none.
func cutAlter(s string) (alter int, rest string) {
	trimmed := strings.TrimLeft(s, " -")
	for _, set := range []struct {
		words []string
		alter int
	}{{sharpWords, 1}, {flatWords, -1}} {
		best := ""
		for _, w := range set.words {
			if _, ok := cutWord(trimmed, w); ok && len(w) > len(best) {
				best = w
			}
		}
		if best != "" {
			rest, _ := cutWord(trimmed, best)
			return set.alter, rest
		}
	}
	return 0, s
}

// cutWord cuts a word in either case.
func cutWord(s, word string) (string, bool) {
	if len(s) >= len(word) && strings.EqualFold(s[:len(word)], word) {
		return s[len(word):], true
	}
	return s, false
}

// cutLetter reads a letter with -is or -es; ok is false for forms that English
// shares.
func (n Naming) cutLetter(s string) ([]Name, string, bool) {
	if s == "" {
		return nil, s, false
	}
	name, rest := Name{Letter: strings.ToUpper(s[:1])[0]}, s[1:]
	own := n == German && name.Letter == 'H'
	if own {
		name.Letter = 'B'
	}
	if strings.IndexByte(letters, name.Letter) < 0 {
		return nil, s, false
	}
	before := rest
	rest = name.suffixes(rest)
	switch {
	case name.Alter != 0:
		return []Name{name}, rest, true
	case own:
		if english, after, err := cutName("B" + before); err == nil && english.Alter != 0 { // H♭
			return []Name{english}, after, true
		}
		return []Name{name}, rest, true
	case n == German && name.Letter == 'B' && !signed(rest):
		return []Name{{'B', -1}, {'B', 0}}, rest, true
	}
	return nil, s, false
}

func signed(rest string) bool {
	return strings.HasPrefix(rest, "b") || strings.HasPrefix(rest, "#") || strings.HasPrefix(rest, "♭") || strings.HasPrefix(rest, "♯")
}

// suffixes reads -is and -es after a letter, -s after A and E.
func (x *Name) suffixes(rest string) string {
	if after, ok := cutWord(rest, "s"); ok && (x.Letter == 'A' || x.Letter == 'E') && !suspended(rest) {
		x.Alter, rest = -1, after
	}
	for x.Alter > -MaxAlter && x.Alter < MaxAlter {
		after, sharp := cutWord(rest, "is")
		if !sharp {
			flat := false
			if after, flat = cutWord(rest, "es"); !flat {
				if after, flat = cutWord(rest, "as"); !flat || x.Letter != 'A' || x.Alter >= 0 { // Asas
					return rest
				}
			}
		}
		if sharp == (x.Alter < 0) && x.Alter != 0 {
			return rest
		}
		if sharp {
			x.Alter++
		} else {
			x.Alter--
		}
		rest = after
	}
	return rest
}

// suspended tells "Asus4" from As.
func suspended(rest string) bool {
	_, ok := cutWord(rest, "sus")
	return ok
}
