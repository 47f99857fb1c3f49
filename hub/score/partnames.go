package score

import (
	"regexp"
	"slices"
	"strings"
	"unicode"

	"bellrow/proto/instrument"
)

// words are what scores call instruments and their sizes in English, German,
// French, Spanish, Italian and Dutch, in full and abbreviated, under the one word that stands for
// them here (common practice, no source; checked against the instrument names of a
// notation program in these languages, see testdata/README.md). Accents are
// dropped before.
var words = map[string]string{
	"trumpet":    "trumpet trumpets tpt tpts trpt trpts trmp trp tromp tr tpte trompete trompeten trompette trompettes trompeta trompetas tromba trombe trompet trompetten",
	"cornet":     "cornet cornets cornett cnt cnts crt knt kor korn kornett kornette corneta cornetas cnta cornetta cornette cornetti piston pistons pist repiano ripieno ripiano repieno rep",
	"horn":       "horn horns hn hns hrn hrns hr horner corno corni corns cor cors hoorn hoorns trompa trompas tmpa waldhorn waldhorner frenchhorn",
	"flugelhorn": "flugelhorn flugelhorns flugelhorner flugel fluegelhorn fluegelhorner flghn flgh flg flhn flh flug flugh bugle bugles bugel bugels fliscorno fliscornos fiscorno fiscornos fiscorn fiscornio flisc fisc fsc flicorno flicorni flic bu",
	"trombone":   "trombone trombones tromboni trombon posaune posaunen pos psn tbn tbns trb trbn tbne trmb trombono",
	"baritone":   "baritone baritones bariton baritons baryton barytons baritono baritoni bar",
	"euphonium":  "euphonium euphoniums euphonien eupho euph eup eufonio eufonium euphonion euf bombardino bombardinos bombardini bombard",
	"tuba":       "tuba tubas tuben tba tu tub bombardon bombardone helicon helicons helikon helikontuba elicone bassotuba basstuba bastuba",
	"tb":         "tb", // a tuba, or a trombone
	"sousaphone": "sousaphone sousaphones sousaphon sousafon sousafono sousafoon sous sphn sousa soubassophone susafono",
	"mellophone": "mellophone mellophones mellophon melofono mellofono mellofoon mello melo",
	"saxhorn":    "saxhorn saxhorns saxhorno saxhoorn saxorno saxh",
	"altohorn":   "genis onoven onnoven",
	"cimbasso":   "cimbasso",

	"bass":       "bass basses basse bassa basso bajo baja bajos bas bs ba bso",
	"alto":       "alto alt alten contralto peck",
	"tenor":      "tenor tenore tenors ten",
	"soprano":    "soprano sopran sopraan sop sopranino",
	"contrabass": "contrabass kontrabass contrebasse contrebasses contrabajo contrabasso contrabbasso contrabas cb kb subcontrabass",
	"piccolo":    "piccolo picc pic piccola piccoli",
	"solo":       "solo",
	"french":     "french harmonie vienna wiener viennese viennois vienesa weense",

	// What makes another instrument of it.
	"wagner": "wagner wagnerien wag tbaw",
	"valve":  "valve ventil pistones cilindri",
	"other": "english englisch engl inglese ingl angl ingles anglais anglaise engelse englischhorn althobo basset bassett bassetto bassethorn bassetthorn bassethoorn " +
		"clarinet clarinets clarinete clarinetto clarinette klarinette klarinet clar cl clarineta " +
		"sax saxes saxo saxophone saxophon saxofon saxofono saxofoon saxof sx fagot fagott fagotto bassoon basson bsn fg flute flote flauto flauta fluit fl oboe hobo hautbois " +
		"drum drums trommel tambour cassa caisse bombo guitar gitarre guitare guitarra chitarra gitaar electric elektrisch electrique electrico elettrico elec el double string strings upright acoustic synth synthesizer slap fretless " +
		"post posthorn postal postale posta posthoorn alp alpes alpine alpina alpino alphorn alpenhoorn gemshorn camoscio hunting chasse caccia shofar ram krumm nebel clairon lur natural baroque barock barroca barocca baroque bq " +
		"slide zug varas coulisse schuif schuiftrompet zugtrompete pocket marine marina voice voices choir vocal continuo viol viola gamba recorder blockflote flageolet ophicleide ophikleide oficleide figle serpent sacabuche saqueboute " +
		"zink cornettino sackbut organ orgel orgue organo harmonium concertina accordion bandoneon dulcian rackett crumhorn kuhlohorn banjo ukulele mandola lute pommer shawm domra balalaika krar keyboard klaxon claxon klx clx ukelele uk synthesiser",
}

// canonical finds the word that stands for a written one.
var canonical = func() map[string]string {
	m := map[string]string{}
	for word, forms := range words {
		for _, f := range strings.Fields(forms) {
			m[f] = word
		}
	}
	return m
}()

// dotted are letters that abbreviate a size when a full stop follows: "A. Tbn."
var dotted = map[string]string{"a": "alto", "t": "tenor", "s": "soprano", "b": "bass", "ba": "bass", "p": "piccolo", "e": "other"}

// heads are words that compounds end in: Bassposaune, Tenorhorn, Esbas.
var heads = []string{"trompete", "trompet", "trumpet", "posaune", "trombone", "horn", "hoorn", "tuba", "tuben", "kornett", "cornet", "bugel", "bas", "bass", "tpt", "psn", "pos"}

// fronts are what compounds begin with.
var fronts = map[string]string{
	"bass": "bass", "bas": "bass", "alt": "alto", "tenor": "tenor", "sopran": "soprano", "sopraan": "soprano", "kontrabass": "contrabass",
	"contrabas": "contrabass", "piccolo": "piccolo", "p": "piccolo", "bariton": "baritone", "b": "bass", "bk": "other", "barock": "other", "barok": "other",
	"es": "key Eb", "bes": "key Bb", "f": "key F", "pocket": "other", "taschen": "other", "solo": "solo", "wagner": "wagner", "ventil": "valve",
}

// keys are the names of keys in the six languages; a plain B is B flat on any
// brass part.
var keys = map[string]string{
	"bb": "Bb", "bbb": "Bb", "bes": "Bb", "sib": "Bb", "b": "Bb", "eb": "Eb", "eeb": "Eb", "es": "Eb", "mib": "Eb", "f": "F", "fa": "F",
	"c": "C", "cc": "C", "do": "C", "ut": "C", "d": "D", "re": "D", "g": "G", "sol": "G", "ab": "Ab", "as": "Ab", "lab": "Ab", "e": "E", "mi": "E",
	"db": "Db", "des": "Db", "reb": "Db", "la": "A",
}

// flatWords make a key of two words: "B flat", "si bémol".
var flatWords = map[string]bool{"flat": true, "bemol": true, "bemolle": true, "b": true}

// clefs are found in a name before anything else: their letters are no keys.
var clefs = regexp.MustCompile(`(?i)\b(t\.? ?c\.?|treble( clef)?|violinschl[üu]e?ssel|cl[ée] de sol|clave de sol|chiave di (violino|sol)|g-?sleutel|b\.? ?c\.?|bass clef|bassschl[üu]e?ssel|cl[ée] de fa|clave de fa|chiave di (basso|fa)|f-?sleutel)($|[^\pL♭])`)

// clefOf finds a clef in a name. Most names have none, which is cheap to see.
func clefOf(name string) []string {
	for _, hint := range []string{"c.", " c", "tc", "bc", "clef", "cl", "schl", "sleutel", "chiave"} {
		if strings.Contains(name, hint) {
			return clefs.FindStringSubmatch(name)
		}
	}
	return nil
}

// named is a part's name taken apart.
type named struct {
	words map[string]bool
	key   string // "Bb", "" for none
	// treble and bassClef are true where the name tells the clef.
	treble, bassClef bool
	// strange is how many words were not understood, full whether an
	// instrument is named by a whole word: an abbreviation beside strange words may
	// stand for anything.
	strange int
	full    bool
	// repiano is true for the seat that only a brass band has.
	repiano bool
	// corDot is true for "Cor.", which abbreviates a cornet as well.
	corDot bool
}

var fold = strings.NewReplacer("ä", "a", "à", "a", "á", "a", "â", "a", "ö", "o", "ó", "o", "ò", "o", "ô", "o", "ü", "u", "ú", "u", "ù", "u", "û", "u",
	"é", "e", "è", "e", "ê", "e", "ë", "e", "í", "i", "ì", "i", "î", "i", "ï", "i", "ñ", "n", "ç", "c", "ß", "ss", "♭", "b", "♯", "#", "𝄫", "bb")

func takeApart(name string) named {
	n := named{words: map[string]bool{}}
	name = strings.ToLower(name)
	if m := clefOf(name); m != nil {
		n.bassClef = strings.HasPrefix(m[1], "b") || strings.Contains(m[1], "fa") || strings.Contains(m[1], "basso") || strings.HasPrefix(m[1], "f")
		n.treble = !n.bassClef
		name = clefs.ReplaceAllString(name, " $4 ")
	}
	if strings.Contains(name, "flügel") && !strings.Contains(name, "flügelh") && strings.TrimSpace(name) == "flügel" {
		n.words["other"] = true // a grand piano; a flugelhorn drops its dots with its horn
	}
	if strings.ContainsAny(name, "'’") {
		name = elided.ReplaceAllString(name, " ")
	}
	tokens := split(fold.Replace(name))
	for i := 0; i < len(tokens); i++ {
		i += n.take(tokens, i)
	}
	return n
}

// elided are the articles of Cor d'harmonie.
var elided = regexp.MustCompile(`\b[dl]['’]`)

// token is a word of a name and whether a full stop follows.
type token struct {
	text string
	dot  bool
}

func split(name string) []token {
	var out []token
	var b strings.Builder
	end := func(dot bool) {
		if b.Len() > 0 {
			out = append(out, token{b.String(), dot})
			b.Reset()
		}
	}
	for _, r := range name {
		switch {
		case unicode.IsLetter(r) || r == '#':
			b.WriteRune(r)
		default:
			end(r == '.')
		}
	}
	end(false)
	return out
}

// longestShort is the length of the longest abbreviation that other
// instruments share: Tr., Bar., Tub.
const longestShort = 3

// take reads the token at i and returns how many more it used.
func (n *named) take(tokens []token, i int) (more int) {
	t := tokens[i]
	inKey := i > 0 && (tokens[i-1].text == "in" || tokens[i-1].text == "en")
	if w, ok := dotted[t.text]; ok && t.dot && !inKey {
		n.words[w] = true
		return 0
	}
	n.corDot = n.corDot || t.text == "cor" && t.dot
	n.repiano = n.repiano || strings.HasPrefix(t.text, "repi") || strings.HasPrefix(t.text, "ripi")
	if w, ok := canonical[t.text]; ok {
		n.words[w] = true
		n.full = n.full || len(t.text) > longestShort && !slices.Contains(sizes, w)
		return 0
	}
	if key, more := keyAt(tokens, i, inKey); key != "" {
		if n.key == "" || inKey {
			n.key = key
		}
		return more
	}
	if !n.compound(t.text) && !fillers[t.text] {
		n.strange++
	}
	return 0
}

// lowered are the keys that a word for flat after them makes.
var lowered = map[string]string{"B": "Bb", "Bb": "Bb", "E": "Eb", "A": "Ab", "D": "Db"}

// keyAt reads a key, "" for none, and returns how many more tokens it took. An
// A is a word of several languages: it is a key after in, or at the beginning.
func keyAt(tokens []token, i int, inKey bool) (key string, more int) {
	text := tokens[i].text
	key = keys[text]
	switch text {
	case "a":
		key = "A"
	case "si":
		key = "B"
	}
	if i+1 < len(tokens) && flatWords[tokens[i+1].text] && lowered[key] != "" {
		return lowered[key], 1
	}
	if text == "si" || text == "a" && !inKey && i > 0 {
		return "", 0
	}
	return key, 0
}

// fillers are words that say nothing of the instrument.
var fillers = func() map[string]bool {
	m := map[string]bool{}
	for _, w := range strings.Fields(`in en de du di da del der die des the la le les el los i ii iii iv v vi e et y und and o a
		st nd rd th er ere eme re te first second third fourth one two three erste erster zweite zweiter dritte dritter vierte primo prima secondo seconda terzo quarto
		aigu agudo high low hoge hohes lage premier premiere deuxieme troisieme primero primera segundo segunda tercero tercera eerste tweede derde principal grave vent tief tiefem hoch part section parts voce`) {
		m[w] = true
	}
	return m
}()

// compound takes apart what German and Dutch write in one word; false when it cannot.
func (n *named) compound(text string) bool {
	if strings.HasPrefix(text, "sax") || strings.HasPrefix(text, "sarr") || strings.HasPrefix(text, "sasso") || strings.HasSuffix(text, "saxophon") || strings.HasSuffix(text, "klarinette") || strings.HasSuffix(text, "klarinet") || strings.HasSuffix(text, "flote") {
		n.words["other"] = true
		return true
	}
	for _, h := range heads {
		front, ok := strings.CutSuffix(text, h)
		if !ok {
			continue
		}
		w, known := fronts[front]
		if !known {
			continue
		}
		n.words[canonical[h]] = true
		n.full = true
		if k, isKey := strings.CutPrefix(w, "key "); isKey {
			n.key = k
		} else {
			n.words[w] = true
		}
		return true
	}
	return false
}

// sort is what a set of words in a name means.
type sort struct {
	words []string
	ids   []instrument.ID // those it can be, the usual first; none: not in the catalogue
	// several is true where the name is used for different instruments.
	several bool
	// joined is true where the name holds several names: "Euphonium/Baritone".
	joined bool
}

// sorts lists them, those of two words before those of one.
var sorts = []sort{
	{words: []string{"flugelhorn", "horn"}, ids: []instrument.ID{"flugelhorn_bb"}},
	{words: []string{"contrabass", "flugelhorn"}, ids: []instrument.ID{"tuba_bbb", "bass_bb_tc", "contrabass_g"}},
	{words: []string{"alto", "flugelhorn"}, ids: altoHorns},
	{words: []string{"tenor", "flugelhorn"}, ids: baritones},
	{words: []string{"baritone", "flugelhorn"}, ids: append(baritones, euphoniums...), several: true},
	{words: []string{"bass", "flugelhorn"}, ids: euphoniums},
	{words: []string{"euphonium", "flugelhorn"}, ids: euphoniums},
	{words: []string{"mellophone", "flugelhorn"}, ids: []instrument.ID{"mellophone_f"}},
	{words: []string{"soprano", "flugelhorn"}, ids: []instrument.ID{"flugelhorn_bb"}},
	{words: []string{"piccolo", "trumpet"}, ids: []instrument.ID{"piccolo_trumpet_bb", "piccolo_trumpet_a"}},
	{words: []string{"bass", "trumpet"}},
	{words: []string{"tenor", "trumpet"}},
	{words: []string{"soprano", "cornet"}, ids: []instrument.ID{"soprano_cornet_eb"}},
	{words: []string{"alto", "cornet"}},
	{words: []string{"tenor", "cornet"}},
	{words: []string{"alto", "trombone"}, ids: []instrument.ID{"alto_trombone_eb"}},
	{words: []string{"bass", "trombone"}, ids: []instrument.ID{"bass_trombone_bb", "bass_trombone_bb_2v"}},
	{words: []string{"soprano", "trombone"}},
	{words: []string{"contrabass", "trombone"}},
	{words: []string{"valve", "trombone"}, ids: []instrument.ID{"valve_trombone_bb"}},
	{words: []string{"french", "horn"}, ids: []instrument.ID{"horn_double", "horn_f", "horn_bb"}},
	{words: []string{"alto", "horn"}, ids: altoHorns},
	{words: []string{"baritone", "horn"}, ids: baritones},
	{words: []string{"tenor", "horn"}, ids: append(altoHorns, baritones...), several: true},
	{words: []string{"solo", "horn"}, ids: append(altoHorns, "horn_double"), several: true},
	{words: []string{"alto", "saxhorn"}, ids: altoHorns},
	{words: []string{"baritone", "saxhorn"}, ids: baritones},
	{words: []string{"tenor", "saxhorn"}, ids: append(altoHorns, baritones...), several: true},
	{words: []string{"bass", "saxhorn"}, ids: euphoniums},
	{words: []string{"contrabass", "saxhorn"}, ids: basses},
	{words: []string{"wagner", "tuba"}, ids: wagnerTubas},
	{words: []string{"wagner", "tb"}, ids: wagnerTubas},
	{words: []string{"bass", "tb"}, ids: []instrument.ID{"tuba_f", "tuba_eb", "tuba_bbb", "bass_trombone_bb"}, several: true},
	{words: []string{"contrabass", "tb"}, ids: []instrument.ID{"tuba_bbb", "tuba_cc"}},
	{words: []string{"tenor", "tuba"}, ids: euphoniums},
	{words: []string{"bass", "tuba"}, ids: []instrument.ID{"tuba_f", "tuba_eb", "bass_eb_tc", "tuba_bbb", "bass_bb_tc", "tuba_cc"}},
	{words: []string{"contrabass", "tuba"}, ids: []instrument.ID{"tuba_bbb", "tuba_cc", "bass_bb_tc", "tuba_eb", "bass_eb_tc", "tuba_f"}},
	{words: []string{"trumpet"}, ids: []instrument.ID{"trumpet_bb", "trumpet_c", "trumpet_eb", "trumpet_d"}},
	{words: []string{"cornet"}, ids: []instrument.ID{"cornet_bb", "soprano_cornet_eb"}},
	{words: []string{"flugelhorn"}, ids: []instrument.ID{"flugelhorn_bb"}},
	{words: []string{"altohorn"}, ids: altoHorns},
	{words: []string{"saxhorn"}, ids: append(append(altoHorns, baritones...), euphoniums...), several: true},
	{words: []string{"trombone"}, ids: []instrument.ID{"tenor_trombone_bb", "tenor_trombone_bbf"}},
	{words: []string{"mellophone"}, ids: []instrument.ID{"mellophone_f"}},
	{words: []string{"sousaphone"}, ids: []instrument.ID{"sousaphone_bb"}},
	{words: []string{"cimbasso"}, ids: []instrument.ID{"cimbasso_f"}},
	{words: []string{"euphonium"}, ids: euphoniums},
	{words: []string{"tuba"}, ids: []instrument.ID{"tuba_bbb", "tuba_cc", "tuba_eb", "tuba_f", "bass_eb_tc", "bass_bb_tc"}},
	{words: []string{"tb"}, ids: []instrument.ID{"tuba_bbb", "tuba_cc", "tuba_eb", "tuba_f", "bass_eb_tc", "bass_bb_tc", "tenor_trombone_bb"}, several: true},
	{words: []string{"horn"}, ids: []instrument.ID{"horn_double", "horn_f", "horn_bb", "tenor_horn_eb"}},
	{words: []string{"baritone"}, ids: baritones},
	{words: []string{"contrabass"}, ids: basses, several: true},
	{words: []string{"bass"}, ids: basses, several: true},
}

var (
	altoHorns   = []instrument.ID{"tenor_horn_eb", "alto_horn_f"}
	baritones   = []instrument.ID{"baritone_bb_bc", "baritone_bb_tc"}
	euphoniums  = []instrument.ID{"euphonium_bb_bc", "euphonium_bb_tc", "euphonium_bb_4v"}
	wagnerTubas = []instrument.ID{"wagner_tuba_f", "wagner_tuba_bb"}
	basses      = []instrument.ID{"bass_eb_tc", "bass_bb_tc", "tuba_eb", "tuba_bbb"}
)
