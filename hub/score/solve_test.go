package score_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// bandParts is an invented band as it stands in a score: name and instrument.
var bandParts = []struct {
	name string
	id   instrument.ID
}{
	{"Trumpet 1", "trumpet_bb"}, {"Trumpet 2", "trumpet_bb"}, {"Trumpet 3", "trumpet_bb"}, {"Flugelhorn", "flugelhorn_bb"},
	{"Horn 1", "horn_double"}, {"Horn 2", "horn_double"}, {"Trombone 1", "tenor_trombone_bb"}, {"Trombone 2", "tenor_trombone_bb"},
	{"Bass Trombone", "bass_trombone_bb"}, {"Euphonium", "euphonium_bb_bc"}, {"Tuba 1", "tuba_bbb"}, {"Tuba 2", "tuba_bbb"},
}

// bandScore writes an invented chorale for the band: two chords a bar, each
// part written in its own transposition.
func bandScore(t testing.TB, bars int) []byte {
	rng := rand.New(rand.NewPCG(3, 4))
	var ins []*instrument.Instrument
	var parts []intonation.Part
	for i, p := range bandParts {
		in, err := instrument.Find(p.id)
		if err != nil {
			t.Fatal(err)
		}
		ins = append(ins, in)
		parts = append(parts, intonation.Part{Chair: intonation.Chair(i), Low: in.Low, High: in.High, Rank: i})
	}
	roots, qualities := []int{10, 3, 5, 0, 7}, []intonation.Quality{intonation.Major, intonation.Major, intonation.Minor, intonation.Dominant7}
	voicings := map[intonation.Chord]map[intonation.Chair]pitch.Note{}
	chords := make([]intonation.Chord, 2*bars)
	for i := range chords {
		chords[i] = intonation.Chord{Root: roots[rng.IntN(len(roots))], Quality: qualities[rng.IntN(len(qualities))]}
		if voicings[chords[i]] == nil {
			voicings[chords[i]] = intonation.Spread(chords[i], parts)
		}
	}
	var b bytes.Buffer
	b.WriteString(`<score-partwise version="4.0"><movement-title>Tide Tables</movement-title><part-list>`)
	for i, p := range bandParts {
		fmt.Fprintf(&b, `<score-part id="P%d"><part-name>%s</part-name></score-part>`, i, p.name)
	}
	b.WriteString(`</part-list>`)
	for i, in := range ins {
		fmt.Fprintf(&b, `<part id="P%d">`, i)
		for bar := range bars {
			fmt.Fprintf(&b, `<measure number="%d">`, bar+1)
			if bar == 0 {
				fmt.Fprintf(&b, `<attributes><divisions>1</divisions><transpose><chromatic>%d</chromatic></transpose></attributes>`, in.Transposition)
			}
			for half := range 2 {
				writeNote(&b, in.Written(voicings[chords[2*bar+half]][intonation.Chair(i)]))
			}
			b.WriteString(`</measure>`)
		}
		b.WriteString(`</part>`)
	}
	b.WriteString(`</score-partwise>`)
	return b.Bytes()
}

func writeNote(b *bytes.Buffer, n pitch.Note) {
	name := n.String()
	alter := ""
	if strings.Contains(name, "b") {
		alter = "<alter>-1</alter>"
	}
	fmt.Fprintf(b, `<note><pitch><step>%s</step>%s<octave>%d</octave></pitch><duration>2</duration></note>`, name[:1], alter, n.Octave())
}

// bandPlayers seats the parts by their names.
func bandPlayers(t testing.TB, s *score.Score) map[int]intonation.Player {
	players := map[int]intonation.Player{}
	for i, p := range s.Parts {
		id, ok := score.Guess(p)
		if !ok || id != bandParts[i].id {
			t.Errorf("%s is taken for %q, want %q", p.Name, id, bandParts[i].id)
			continue
		}
		in, err := instrument.Find(id)
		if err != nil {
			t.Fatal(err)
		}
		players[i] = intonation.Player{Name: p.Name, Instrument: in, OneNote: in.TuningNote(58)}
	}
	return players
}

func TestSolveABandScore(t *testing.T) {
	const bars = 24
	s, err := score.Read(bytes.NewReader(bandScore(t, bars)))
	if err != nil {
		t.Fatal(err)
	}
	for _, x := range sonorities(t, s, score.Held) {
		if len(x.Tones) != len(bandParts) || len(x.Chords) == 0 {
			t.Errorf("bar %s: %d tones, chords %v", s.Bars[x.Bar].Number, len(x.Tones), x.Chords)
		}
	}
	plan, err := s.Solve(bandPlayers(t, s), score.Options{Good: 5})
	if err != nil {
		t.Fatal(err)
	}
	t.Log(plan.Words)
	if !(plan.RMS < plan.OneNoteRMS) || plan.Unplayable > 0 {
		t.Errorf("%.2f cents remain, %.2f by one note, %d unplayable", plan.RMS, plan.OneNoteRMS, plan.Unplayable)
	}
	if _, err := s.Solve(nil, score.Options{}); err == nil {
		t.Error("a piece without players is solved")
	}
}

// TestSolveTakesInReadings: a lone trumpet that stands 10 cents sharp beside a
// keyboard is let out by what its tube needs.
func TestSolveTakesInReadings(t *testing.T) {
	text := `<score-partwise><part-list><score-part id="A"><part-name>Trumpet</part-name></score-part></part-list><part id="A"><measure number="1">
<attributes><divisions>1</divisions><transpose><chromatic>-2</chromatic></transpose></attributes>
<note><pitch><step>C</step><octave>5</octave></pitch><duration>4</duration></note></measure></part></score-partwise>`
	s, err := score.Read(strings.NewReader(text))
	if err != nil {
		t.Fatal(err)
	}
	in, _ := instrument.Find("trumpet_bb")
	plan, err := s.Solve(map[int]intonation.Player{0: {Name: "Trumpet", Instrument: in, OneNote: 70, Offset: 10}}, score.Options{Tuning: intonation.Keyboard})
	if err != nil {
		t.Fatal(err)
	}
	// 10 cents on an open B flat trumpet are 4.27 mm (L/2·(2^(10/1200)-1), L = 1.472 m).
	if moved := plan.Players[0].MainMM - plan.Players[0].FromMM; math.Abs(moved-4.27) > 0.51 {
		t.Errorf("moved %.1f mm, want 4.3 to the nearest whole place", moved)
	}
}

func TestGuess(t *testing.T) {
	tests := []struct {
		name          string
		transposition int
		want          instrument.ID
	}{
		{"Trumpet in Bb 1", -2, "trumpet_bb"}, {"Trumpets in C", 0, "trumpet_c"}, {"Solo Cornet", -2, "cornet_bb"},
		{"Horn in F", -7, "horn_double"}, {"Tenor Horn", -9, "tenor_horn_eb"}, {"Bass Trombone", 0, "bass_trombone_bb"},
		{"Euphonium", -14, "euphonium_bb_tc"}, {"Tuba", 0, "tuba_bbb"}, {"Eb Bass", -21, "bass_eb_tc"}, {"Bb Bass", -26, "bass_bb_tc"},
		{"Posaune II", 0, "tenor_trombone_bb"}, {"Flügelhorn", -2, "flugelhorn_bb"},
		{"English Horn", -7, "english_horn"}, {"Bassoon", 0, "bassoon"}, {"Double Bass", -12, ""}, {"Violin", 0, ""}, {"", 0, ""},
	}
	for _, tt := range tests {
		got, ok := score.Guess(score.Part{Name: tt.name, Transposition: tt.transposition})
		if got != tt.want || ok != (tt.want != "") {
			t.Errorf("%q (%d) is taken for %q, want %q", tt.name, tt.transposition, got, tt.want)
		}
	}
}

// BenchmarkRead reads 300 bars for 12 parts; BenchmarkSolve finds the
// sonorities and solves them.
func BenchmarkRead(b *testing.B) {
	data := bandScore(b, 300)
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		if _, err := score.Read(bytes.NewReader(data)); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkSolve(b *testing.B) {
	s, err := score.Read(bytes.NewReader(bandScore(b, 300)))
	if err != nil {
		b.Fatal(err)
	}
	players := bandPlayers(b, s)
	for b.Loop() {
		if _, err := s.Solve(players, score.Options{Good: 5}); err != nil {
			b.Fatal(err)
		}
	}
}
