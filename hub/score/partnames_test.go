package score_test

import (
	"encoding/csv"
	"fmt"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// TestNamesOfAnotherProgram: what a notation program calls brass instruments
// in six languages, with their transpositions (testdata/README.md).
func TestNamesOfAnotherProgram(t *testing.T) {
	for _, r := range namesIn(t, "testdata/part_names.csv") {
		transposition, err := strconv.Atoi(r[2])
		if err != nil {
			t.Fatal(err)
		}
		checkName(t, score.Part{Name: r[1], Transposition: transposition}, r[3], r[4])
	}
}

// checkName compares the first instrument and the doubt.
// namesIn are the rows of a table below its head.
func namesIn(t *testing.T, file string) [][]string {
	t.Helper()
	f, err := os.Open(file)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	return rows[1:]
}

func checkName(t *testing.T, p score.Part, want, doubt string) {
	t.Helper()
	in := p.Instruments()
	first := ""
	if len(in.IDs) > 0 {
		first = string(in.IDs[0])
	}
	if first != want || string(in.Doubt) != doubt {
		t.Errorf("%+v is taken for %v %q, want %s %q", p, in.IDs, in.Doubt, want, doubt)
	}
}

// TestNamesThatAreNoBrass: the same program's names of everything else, as far
// as they share a word with brass, are at most a woodwind's.
func TestNamesThatAreNoBrass(t *testing.T) {
	data, err := os.ReadFile("testdata/other_names.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		for _, transposition := range []int{0, -7, -14} {
			for _, concert := range []bool{false, true} {
				p := score.Part{Name: name, Transposition: transposition, Concert: concert}
				for _, id := range p.Instruments().IDs {
					if in, err := instrument.Find(id); err != nil || in.Tuned() {
						t.Errorf("%q (%d) is taken for %s", name, transposition, id)
					}
				}
			}
		}
	}
}

// TestPartNames: names as they stand on parts, in full and short (common
// practice, no source).
func TestPartNames(t *testing.T) {
	const band, concert = "band", "concert"
	for _, tt := range []struct {
		name          string
		transposition int
		where         string // "" an own-key score, band a brass band's, concert one at concert pitch
		want, doubt   string
	}{
		// English.
		{"Bb Trumpet", 0, concert, "trumpet_bb", ""}, {"Bb Trumpet 1", -2, "", "trumpet_bb", ""}, {"Bb Trumpet", 0, "", "trumpet_bb", "disagree"}, {"Trumpet in C", -2, "", "trumpet_c", "disagree"},
		{"Tpt.", -2, "", "trumpet_bb", ""}, {"Tpt. 2", 0, "", "trumpet_c", ""}, {"Hn.", -7, "", "horn_double", ""}, {"Hn. 1.2", 0, concert, "horn_double", ""}, {"F Horn 3", -7, "", "horn_double", ""},
		{"Horn in F", 5, "", "horn_double_bc_old", ""}, {"Horn in F", -9, "", "horn_double", "disagree"}, {"Horn", -9, band, "tenor_horn_eb", ""}, {"Solo Horn", -9, band, "tenor_horn_eb", ""}, {"Solo Horn", 0, "band concert", "tenor_horn_eb", ""},
		{"1st Horn", -9, band, "tenor_horn_eb", ""}, {"Solo Eb Horn", -9, band, "tenor_horn_eb", ""}, {"Tenor Horn", -9, "", "tenor_horn_eb", ""}, {"Tenor Horn", 0, concert, "tenor_horn_eb", "several"},
		{"Soprano Cornet", 3, band, "soprano_cornet_eb", ""}, {"Soprano Cornet in Eb", 3, band, "soprano_cornet_eb", ""}, {"Solo Cornet", -2, band, "cornet_bb", ""}, {"Repiano Cornet", -2, band, "cornet_bb", ""}, {"Repiano", -2, band, "cornet_bb", ""},
		{"Sop. Cor.", 3, band, "soprano_cornet_eb", ""}, {"Cor. 1", -2, "", "cornet_bb", ""}, {"Solo Cor.", 0, "band concert", "cornet_bb", ""}, {"Flugel", -2, band, "flugelhorn_bb", ""}, {"Flug.", -2, "", "flugelhorn_bb", ""}, {"1st Baritone", -14, band, "baritone_bb_tc", ""}, {"Baritone T.C.", 0, concert, "baritone_bb_tc", ""},
		{"Baritone B.C.", 0, concert, "baritone_bb_bc", ""}, {"Baritone (Treble Clef)", -14, "", "baritone_bb_tc", ""}, {"Euphonium", 0, "band concert", "euphonium_bb_tc", ""}, {"Euphonium T.C.", -14, "", "euphonium_bb_tc", ""}, {"Euph.", 0, "", "euphonium_bb_bc", ""},
		{"Euphonium/Baritone", 0, "", "euphonium_bb_bc", "several"}, {"Flugelhorn/Trumpet", -2, "", "trumpet_bb", "several"}, {"Flugel Horn", -2, "", "flugelhorn_bb", ""}, {"Peck Horn", -9, "", "tenor_horn_eb", ""}, {"Soprano in Eb", 3, band, "soprano_cornet_eb", ""}, {"Engl. Horn", -7, "", "", "unknown"}, {"Eb Bass", -21, band, "bass_eb_tc", ""}, {"Eb Bass", 0, "band concert", "bass_eb_tc", ""}, {"Bb Bass", -26, band, "bass_bb_tc", ""}, {"BBb Bass", -26, "", "bass_bb_tc", ""}, {"EEb Bass", -21, "", "bass_eb_tc", ""},
		{"Bass", 0, "", "", "unknown"}, {"Bass", -12, "", "", "unknown"}, {"Bass in Bb", -26, band, "bass_bb_tc", ""}, {"BBb Tuba", 0, "", "tuba_bbb", ""}, {"CC Tuba", 0, "", "tuba_cc", ""}, {"Tba.", 0, "", "tuba_bbb", ""}, {"Tenor Tuba", 0, "", "euphonium_bb_bc", ""},
		{"Bass Trombone", 0, "", "bass_trombone_bb", ""}, {"B. Tbn.", 0, "", "bass_trombone_bb", ""}, {"Trombone 3 (Bass)", 0, "", "bass_trombone_bb", ""}, {"1st Trombone", -14, band, "tenor_trombone_bb_tc", ""}, {"Tbn. 2", 0, "", "tenor_trombone_bb", ""}, {"Alto Trombone", 0, "", "alto_trombone_eb", ""},
		{"Mellophone", -7, "", "mellophone_f", ""}, {"Piccolo Trumpet in Bb", 10, "", "piccolo_trumpet_bb", ""}, {"Sousaphone", 0, "", "sousaphone_bb", ""}, {"French Horn", -7, "", "horn_double", ""}, {"Trumpet", 0, concert, "trumpet_bb", ""},
		{"English Horn", -7, "", "english_horn", ""}, {"E. Hn.", -7, "", "english_horn", ""}, {"Cor Anglais", -7, "", "english_horn", ""}, {"Double Bass", -12, "", "", "unknown"}, {"Bass Clarinet", -14, "", "bass_clarinet", ""}, {"Bari Sax", -21, "", "baritone_saxophone", ""},
		// German.
		{"Trompete in B", -2, "", "trumpet_bb", ""}, {"1. Trompete in B", -2, "", "trumpet_bb", ""}, {"Flügelhorn II", -2, "", "flugelhorn_bb", ""}, {"Es-Horn", -9, band, "tenor_horn_eb", ""}, {"Althorn in Es", -9, "", "tenor_horn_eb", ""}, {"Waldhorn 1 in F", -7, "", "horn_double", ""},
		{"Tenorhorn", -9, band, "tenor_horn_eb", ""}, {"Tenorhorn", 0, "band concert", "tenor_horn_eb", ""}, {"Tenorhorn", -14, "", "baritone_bb_tc", ""}, {"Tenorhorn", 0, concert, "tenor_horn_eb", "several"}, {"Tenorhorn in B", -14, "", "baritone_bb_tc", ""}, {"Bariton", -14, "", "baritone_bb_tc", ""}, {"Bariton in C", 0, "", "baritone_bb_bc", ""}, {"Posaune in C", 0, "", "tenor_trombone_bb", ""},
		{"Posaune 1", 0, "", "tenor_trombone_bb", ""}, {"Pos. II", 0, "", "tenor_trombone_bb", ""}, {"Bassposaune", 0, "", "bass_trombone_bb", ""}, {"Altposaune", 0, "", "alto_trombone_eb", ""}, {"Bass in Es", -21, "", "bass_eb_tc", ""}, {"B-Tuba", 0, "", "tuba_bbb", ""}, {"F-Tuba", 0, "", "tuba_f", ""}, {"Basstuba", 0, "", "tuba_bbb", ""},
		{"Kornett in B", -2, "", "cornet_bb", ""}, {"Es-Kornett", 3, "", "soprano_cornet_eb", ""}, {"Englischhorn", -7, "", "english_horn", ""}, {"Kontrabass", -12, "", "", "unknown"}, {"Bassetthorn", -7, "", "basset_horn", ""}, {"Basstrommel", 0, "", "", "unknown"}, {"Flügel", 0, "", "", "unknown"},
		// French.
		{"Trompette", -2, "", "trumpet_bb", ""}, {"1re Trompette en si bémol", -2, "", "trumpet_bb", ""}, {"Trompette en ut", 0, "", "trumpet_c", ""}, {"Cor", -7, "", "horn_double", ""}, {"Cor en fa", -7, "", "horn_double", ""}, {"Cors 1 et 2", -7, "", "horn_double", ""}, {"Bugle", -2, "", "flugelhorn_bb", ""},
		{"Cornet à pistons en sib", -2, "", "cornet_bb", ""}, {"Trombone basse", 0, "", "bass_trombone_bb", ""}, {"Alto mib", -9, "", "", "unknown"}, {"Saxhorn alto mib", -9, "", "tenor_horn_eb", ""}, {"Saxhorn basse", 0, "", "euphonium_bb_bc", ""}, {"Baryton", -14, "", "baritone_bb_tc", ""},
		{"Contrebasse si b", -26, "", "bass_bb_tc", ""}, {"Basse sib", -14, "", "euphonium_bb_tc", "several"}, {"Cor d'harmonie", -7, "", "horn_double", ""}, {"Contrebasse à vent Sib", -26, "", "bass_bb_tc", ""}, {"Basse mi bémol", -21, "", "bass_eb_tc", ""}, {"Soubassophone", 0, "", "sousaphone_bb", ""}, {"Contrebasse", -12, "", "", "unknown"}, {"Cor de basset", -7, "", "basset_horn", ""}, {"Grosse caisse", 0, "", "", "unknown"}, {"Cor.", 0, concert, "horn_double", "several"},
		// Spanish.
		{"Trompeta 1ª en Si♭", -2, "", "trumpet_bb", ""}, {"Trompa en Fa", -7, "", "horn_double", ""}, {"Trompa", -7, "", "horn_double", ""}, {"Fliscorno", -2, "", "flugelhorn_bb", ""}, {"Bombardino", 0, "", "euphonium_bb_bc", ""}, {"Trombón", 0, "", "tenor_trombone_bb", ""}, {"Trombón bajo", 0, "", "bass_trombone_bb", ""},
		{"Onoven", -9, "", "tenor_horn_eb", ""}, {"Corneta", -2, "", "cornet_bb", ""}, {"Corno inglés", -7, "", "english_horn", ""}, {"Contrabajo", -12, "", "", "unknown"}, {"Clarinete bajo", -14, "", "bass_clarinet", ""}, {"Bajo en Si b", -26, "", "bass_bb_tc", ""},
		// Italian.
		{"Tromba in Sib", -2, "", "trumpet_bb", ""}, {"Tr. I", -2, "", "trumpet_bb", ""}, {"Corno in Fa", -7, "", "horn_double", ""}, {"Corni I-II", -7, "", "horn_double", ""}, {"Flicorno soprano", -2, "", "flugelhorn_bb", ""}, {"Flicorno contralto", -9, "", "tenor_horn_eb", ""}, {"Flicorno tenore", -14, "", "baritone_bb_tc", ""},
		{"Trombone basso", 0, "", "bass_trombone_bb", ""}, {"Eufonio", 0, "", "euphonium_bb_bc", ""}, {"Basso tuba", 0, "", "tuba_f", ""}, {"Basso in Mib", -21, "", "bass_eb_tc", ""}, {"Genis in Mib", -9, "", "tenor_horn_eb", ""}, {"Corno inglese", -7, "", "english_horn", ""}, {"Corno di bassetto", -7, "", "basset_horn", ""}, {"Contrabbasso", -12, "", "", "unknown"}, {"Grancassa", 0, "", "", "unknown"},
		// Dutch.
		{"Trompet in Bes", -2, "", "trumpet_bb", ""}, {"Hoorn in F", -7, "", "horn_double", ""}, {"Bugel 1", -2, "", "flugelhorn_bb", ""}, {"Althoorn in Es", -9, "", "tenor_horn_eb", ""}, {"Bastrombone", 0, "", "bass_trombone_bb", ""}, {"Besbas", -26, "", "bass_bb_tc", ""}, {"Esbas", -21, "", "bass_eb_tc", ""}, {"Piston in Es", 3, "", "soprano_cornet_eb", ""},
		{"Eufonium", -14, "", "euphonium_bb_tc", ""}, {"Engelse hoorn", -7, "", "english_horn", ""}, {"Contrabas", -12, "", "", "unknown"}, {"Basklarinet", -14, "", "bass_clarinet", ""},
	} {
		p := score.Part{Name: tt.name, Transposition: tt.transposition, Concert: strings.Contains(tt.where, concert), BrassBand: strings.Contains(tt.where, band)}
		checkName(t, p, tt.want, tt.doubt)
	}
}

// TestEveryInstrumentHasNames: every entry of the catalogue can be found by a
// name. A new one needs its words in partnames.go.
func TestEveryInstrumentHasNames(t *testing.T) {
	found := map[instrument.ID]bool{}
	for _, name := range []string{
		"Piccolo Trumpet", "Soprano Cornet", "Trumpet", "Cornet", "Flugelhorn", "Mellophone", "Horn", "Tenor Horn", "Alto Trombone", "Trombone",
		"Bass Trombone", "Baritone", "Euphonium", "Tuba", "Bass Tuba", "Eb Bass", "Bb Bass", "Sousaphone",
		"Wagner Tuba", "Valve Trombone", "Cimbasso", "Contrabass Bugle", "Alto Horn", "Horn in D",
	} {
		for transposition := -29; transposition <= 10; transposition++ {
			for _, clef := range []string{"", "treble", "bass", "alto", "tenor"} {
				for _, id := range (score.Part{Name: name, Transposition: transposition, Clef: clef}).Instruments().IDs {
					found[id] = true
				}
			}
		}
	}
	found["tenor_horn_eb_f"] = true // who plays an F part on an E flat horn says so
	for _, in := range instrument.Catalogue() {
		if !found[in.ID] && !slices.ContainsFunc(instrument.Catalogue(), func(o *instrument.Instrument) bool { return found[o.ID] && samePart(in, o) }) {
			t.Errorf("no part name leads to %s", in.ID)
		}
	}
}

// samePart reports two instruments that read one part and differ in their valves:
// no name tells them apart.
func samePart(a, b *instrument.Instrument) bool {
	return a.Family == b.Family && a.Clef == b.Clef && a.Transposition == b.Transposition && a.Fundamental == b.Fundamental
}

// TestClefsChooseThePart: the clef that most notes stand under and the
// transposition choose among the parts of an instrument (common practice, no source).
func TestClefsChooseThePart(t *testing.T) {
	for _, c := range []struct {
		name, clef    string
		transposition int
		want, doubt   string
	}{
		{"Trombone 1", "bass", 0, "tenor_trombone_bb", ""}, {"Trombone 1", "tenor", 0, "tenor_trombone_bb_tenor", ""}, {"Posaune I", "alto", 0, "tenor_trombone_bb_alto", ""},
		{"Trombone", "treble", -14, "tenor_trombone_bb_tc", ""}, {"Bass Trombone", "treble", -14, "bass_trombone_bb_tc", ""}, {"Ventilposaune", "bass", 0, "valve_trombone_bb", ""},
		{"Horn in F", "treble", -7, "horn_double", ""}, {"Horn in F", "bass", -7, "horn_double_bc", ""}, {"Horn in F", "bass", 5, "horn_double_bc_old", ""}, {"Corno in Re", "treble", -10, "horn_double_d", ""},
		{"Wagnertuba in B", "treble", -2, "wagner_tuba_bb", ""}, {"Wagner Tuba in F", "treble", -7, "wagner_tuba_f", ""}, {"Cimbasso", "bass", 0, "cimbasso_f", ""},
		{"Alto Horn in F", "treble", -7, "alto_horn_f", ""}, {"Alto Horn", "treble", -9, "tenor_horn_eb", ""}, {"Tenor Horn in Eb", "treble", -9, "tenor_horn_eb", ""}, {"Trompete in Es", "treble", 3, "trumpet_eb", ""}, {"Piccolo Trumpet in A", "treble", 9, "piccolo_trumpet_a", ""},
	} {
		checkName(t, score.Part{Name: c.name, Clef: c.clef, Transposition: c.transposition}, c.want, c.doubt)
	}
}

// TestSoundsOfMusicXML: the sound that a file gives outweighs a name that
// other things share (MusicXML 4.0, Standard Sounds).
func TestSoundsOfMusicXML(t *testing.T) {
	checkName(t, score.Part{Name: "Baritone", Sound: "voice.baritone"}, "", "unknown")
	checkName(t, score.Part{Name: "Baryton", Sound: "strings.baryton"}, "", "unknown")
	checkName(t, score.Part{Name: "Baritone", Sound: "brass.baritone-horn"}, "baritone_bb_bc", "")
	checkName(t, score.Part{Name: "P1", Instrument: "B♭ Trumpet", Transposition: -2}, "trumpet_bb", "")
	checkName(t, score.Part{Name: "", Short: "Tbn."}, "tenor_trombone_bb", "")
	checkName(t, score.Part{Name: "MusicXML Part", Sound: "brass.trombone.bass"}, "bass_trombone_bb", "")
	checkName(t, score.Part{Name: "Part 3", Sound: "brass.french-horn", Transposition: -7}, "horn_double", "")
	checkName(t, score.Part{Name: "II", Group: "Horns in F", Transposition: -7}, "horn_double", "")
}

// TestCompany: a brass band's score is told by its parts, one at concert pitch
// by its transpositions or by MusicXML's own mark.
func TestCompany(t *testing.T) {
	file := func(defaults string, parts ...string) *score.Score {
		var list, music strings.Builder
		for i, p := range parts {
			name, transposition, _ := strings.Cut(p, "|")
			fmt.Fprintf(&list, `<score-part id="P%d"><part-name>%s</part-name></score-part>`, i, name)
			fmt.Fprintf(&music, `<part id="P%d"><measure number="1"><attributes><divisions>1</divisions>`, i)
			if transposition != "" {
				fmt.Fprintf(&music, `<transpose><chromatic>%s</chromatic></transpose>`, transposition)
			}
			music.WriteString(`</attributes><note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure></part>`)
		}
		s, err := score.Read(strings.NewReader(`<score-partwise>` + defaults + `<part-list>` + list.String() + `</part-list>` + music.String() + `</score-partwise>`))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	firsts := func(s *score.Score) string {
		var out []string
		for _, p := range s.Parts {
			in := p.Instruments()
			w := string(in.Doubt)
			if len(in.IDs) > 0 {
				w = string(in.IDs[0]) + w
			}
			out = append(out, w)
		}
		return strings.Join(out, " ")
	}
	for _, tt := range []struct {
		s    *score.Score
		want string
	}{
		{file("", "Soprano Cornet|3", "Solo Cornet|-2", "Solo Horn|-9", "Tenorhorn|-9", "Euphonium|-14", "Eb Bass|-21"), "soprano_cornet_eb cornet_bb tenor_horn_eb tenor_horn_eb euphonium_bb_tc bass_eb_tc"},
		{file("", "Soprano Cornet", "Solo Cornet", "Solo Horn", "Tenorhorn", "Euphonium", "Eb Bass"), "soprano_cornet_eb cornet_bb tenor_horn_eb tenor_horn_eb euphonium_bb_tc bass_eb_tc"},
		{file("", "Sop. Cor.|3", "Solo Cor.|-2", "Rep.|-2", "1st Hn.|-9", "1st Bar.|-14", "Eb Bass|-21"), "soprano_cornet_eb cornet_bb cornet_bb tenor_horn_eb baritone_bb_tc bass_eb_tc"},
		{file("", "Bb Trumpet", "Horn", "Trombone", "Tuba", "Glockenspiel|24"), "trumpet_bb horn_double tenor_trombone_bb tuba_bbb unknown"},
		{file("", "Bb Trumpet", "Horn|-7"), "trumpet_bbdisagree horn_double"},
		{file("<defaults><concert-score/></defaults>", "Bb Trumpet", "Clarinet|-2"), "trumpet_bb clarinet_bbseveral"},
	} {
		if got := firsts(tt.s); got != tt.want {
			t.Errorf("got  %s\nwant %s", got, tt.want)
		}
	}
}

// TestGroups: the name of the bracket around a part.
func TestGroups(t *testing.T) {
	part := func(id, name string) string {
		return fmt.Sprintf(`<score-part id="%s"><part-name>%s</part-name></score-part>`, id, name)
	}
	s, err := score.Read(strings.NewReader(`<score-partwise><part-list><part-group type="start" number="1"><group-symbol>bracket</group-symbol></part-group>` +
		`<part-group type="start" number="2"><group-name>Horns in F</group-name></part-group>` + part("A", "1") + part("B", "2") + `<part-group type="stop" number="2"/>` +
		part("C", "Tuba") + `<part-group type="stop" number="1"/></part-list><part id="A"><measure/></part></score-partwise>`))
	if err != nil {
		t.Fatal(err)
	}
	for i, want := range []string{"Horns in F", "Horns in F", ""} {
		if got := s.Parts[i].Group; got != want {
			t.Errorf("%s stands in %q, want %q", s.Parts[i].Name, got, want)
		}
	}
}

// TestInstrumentLaws: without doubt the first reads the part as it is written,
// or at concert pitch; all named are in the catalogue and named once.
func TestInstrumentLaws(t *testing.T) {
	names := []string{"Trumpet", "Bb Trumpet", "Cornet", "Horn", "Horn in F", "Horn in Eb", "Tenorhorn", "Baritone", "Euphonium", "Trombone", "Bass Trombone", "Tuba", "Eb Bass", "Bb Bass", "Flugelhorn"}
	for _, name := range names {
		for transposition := -26; transposition <= 12; transposition++ {
			p := score.Part{Name: name, Transposition: transposition}
			in := p.Instruments()
			for i, id := range in.IDs {
				if _, err := instrument.Find(id); err != nil || slices.Contains(in.IDs[:i], id) {
					t.Errorf("%q (%d): %v", name, transposition, in)
				}
			}
			if len(in.IDs) == 0 || in.Doubt != score.DoubtNone {
				continue
			}
			first, err := instrument.Find(in.IDs[0])
			if err != nil {
				t.Fatal(err)
			}
			own := (first.Transposition - transposition) % 12
			tube := (int(pitchClass(first)) - transposition) % 12
			if own != 0 && tube != 0 && !strings.Contains(name, "Horn in") {
				t.Errorf("%q (%d) is %s without doubt", name, transposition, first.ID)
			}
		}
	}
}

// pitchClass is the key an instrument is named in, by its tube.
func pitchClass(in *instrument.Instrument) int {
	n, _ := pitch.Reference{}.Nearest(in.Fundamental)
	return n.Class()
}

func BenchmarkInstruments(b *testing.B) {
	p := score.Part{Name: "Trumpet in Bb 1", Transposition: -2}
	for b.Loop() {
		p.Instruments()
	}
}
