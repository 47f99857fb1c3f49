package piece

import (
	"errors"
	"fmt"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// What a name says of a key tells no two parts apart, and a number is the same in any of its forms.
func TestNamesOfParts(t *testing.T) {
	for _, key := range []string{"in B♭", "in Bb", "in E♭", "in Eb", "in F", "in C", "in D", "in A", "B flat", "(E flat)", "- in E", "b♭", "BB"} {
		for _, name := range []string{"Horn " + key, key + ", horn", "HORN: " + key} {
			if got := plainName(name); got != "horn" {
				t.Errorf("%q is plainly %q", name, got)
			}
		}
	}
	for _, name := range []string{"Flatterer", "Index", "Abe"} {
		if got := plainName(name); got != strings.ToLower(name) {
			t.Errorf("%q is plainly %q", name, got)
		}
	}
	for n, forms := range [][]string{{"Horn", "Horn X", "Horn 0", ""}, {"Horn 1", "1st Horn", "Horn I", "i. Horn", "Horn_1", "Horn 1/2"}, {"Horn 2", "2nd", "HORN II", "ii horn"}, {"3rd", "III"}, {"4 Horn", "iv", "Horn-IV"}, {"5"}, {"Horn 6"}, {"7"}, {"8th"}, {"9"}} {
		for _, name := range forms {
			if got := numberOf(name); got != n {
				t.Errorf("%q has the number %d, want %d", name, got, n)
			}
		}
	}
}

// The nearer a chair's name, number, instrument and family are to a part's, the less unlike they are.
func TestUnlike(t *testing.T) {
	p := &Piece{score: &score.Score{Parts: []score.Part{{Name: "Trombone 2"}, {Name: "Trombone"}, {Name: "Ocarina"}, {Name: "Horn"}, {Name: ""}}}}
	trombone, cornet := instrument.ID("tenor_trombone_bb"), instrument.ID("cornet_bb")
	for _, c := range []struct {
		chair Chair
		part  int
		want  int
	}{
		{Chair{Label: "2 Trombone", Instrument: cornet}, 0, sameName},
		{Chair{Label: "x", Part: "TROMBONE 2", Instrument: trombone}, 0, sameName},
		{Chair{Label: "Posaune 2", Instrument: trombone}, 0, sameNumber},
		{Chair{Label: "Posaune 1", Part: "zweite 2", Instrument: trombone}, 0, sameNumber}, // the part is said, the label is the place's
		{Chair{Label: "Posaune 2", Part: "erste 1", Instrument: trombone}, 0, sameFamily},
		{Chair{Label: "Posaune 1", Instrument: trombone}, 0, sameFamily},
		{Chair{Label: "Posaune", Instrument: trombone}, 0, sameInstrument}, // no number of its own
		{Chair{Label: "Posaune 3", Instrument: trombone}, 1, sameInstrument},
		{Chair{Label: "Posaune", Instrument: trombone}, 1, sameInstrument},
		{Chair{Label: "Bass", Instrument: "bass_trombone_bb"}, 1, sameFamily},
		{Chair{Label: "Kornett", Instrument: cornet}, 1, otherFamily},
		{Chair{Label: "Kornett", Instrument: "nose"}, 1, otherFamily},
		{Chair{Label: "Kornett", Instrument: cornet}, 2, otherFamily},
		{Chair{Label: "", Part: "", Instrument: trombone}, 4, otherFamily}, // no name is no name in common
		{Chair{Label: "a", Instrument: "horn_double"}, 3, sameInstrument},
	} {
		if got := p.unlike(c.chair, c.part); got != c.want {
			t.Errorf("%+v and %q: %d, want %d", c.chair, p.score.Parts[c.part].Name, got, c.want)
		}
	}
	q := p.with(func(p *Piece) { p.said[3] = cornet })
	if got := q.unlike(Chair{Label: "Kornett", Instrument: cornet}, 3); got != sameInstrument {
		t.Errorf("a part that was said to be the cornet's is unlike it by %d", got)
	}
}

// A move out and the same move in are said alike, and the figures are those of the slide.
func TestWordsOfAMove(t *testing.T) {
	in, err := instrument.Find("trumpet_bb")
	if err != nil {
		t.Fatal(err)
	}
	p := Player{Player: intonation.Player{Name: "Ada", Instrument: in}, Measured: true}
	for _, c := range []struct {
		from, to, oneNote float64
		measured          bool
		want              string
	}{
		{12.2, 16.4, 0, true, "pull the main slide 4 mm, from 12 to 16"},
		{16.4, 12.2, 0, true, "push the main slide 4 mm, from 16 to 12"},
		{12.4, 12.4, 0, true, "leave the main slide at 12 mm"},
		{12.6, 13.4, 0, true, "leave the main slide at 13 mm"},
		{0, 16.4, 12.2, false, "the main slide 4 mm further out than it tunes on B♭"},
		{0, 12.2, 16.4, false, "the main slide 4 mm further in than it tunes on B♭"},
		{0, 12.2, 12.4, false, "the main slide where it tunes on B♭"},
	} {
		p.Measured = c.measured
		if got := p.move(intonation.PlayerPlan{FromMM: c.from, MainMM: c.to, OneNoteMM: c.oneNote}, "B♭", phrase.Tongue{}); got != c.want {
			t.Errorf("from %g to %g, %g on one note: %q, want %q", c.from, c.to, c.oneNote, got, c.want)
		}
	}
	for _, c := range []struct {
		was, is float64
		want    string
	}{
		{7.2, 3.1, "3 cents remain instead of 7"}, {3.1, 7.2, "7 cents remain; it was 3, for the others’ sake"}, {4.4, 4.3, "4 cents remain, as after tuning on one note"},
		{5, 1, "1 cent remains instead of 5"}, {5, 0, "0 cents remain instead of 5"}, {5, 2, "2 cents remain instead of 5"},
	} {
		if got := gain(intonation.PlayerPlan{OneNoteRMS: c.was, RMS: c.is}, phrase.Tongue{}); got != c.want {
			t.Errorf("%g then %g: %q, want %q", c.was, c.is, got, c.want)
		}
	}
	for n, want := range map[int]string{1: "One note is out of reach of the instruments and left out.", 2: "2 notes are out of reach of the instruments and left out.", 40: "40 notes are out of reach of the instruments and left out."} {
		if got := (phrase.Tongue{}).Say("piece.left-out", n); got != want {
			t.Errorf("%q, want %q", got, want)
		}
	}
}

// What stays out is told bar by bar in the order of the piece, and in a bar by the order of the
// players, whatever order it came in.
func TestHurtsAreToldBarByBar(t *testing.T) {
	in, err := instrument.Find("trumpet_bb")
	if err != nil {
		t.Fatal(err)
	}
	p := &Piece{score: &score.Score{Bars: []score.Bar{{Number: "1"}, {Number: "2"}, {Number: "3"}}}}
	players := []Player{{Player: intonation.Player{Name: "Ada", Instrument: in}}, {Player: intonation.Player{Name: "Bo", Instrument: in}}}
	all := []intonation.Hurt{{Bar: 2, Player: 1, Note: 70, Left: 9}, {Bar: 0, Player: 1, Note: 70, Left: -12}, {Bar: 2, Player: 0, Note: 72, Left: 8}, {Bar: 0, Player: 0, Note: 70, Left: 7}, {Bar: 0, Player: 0, Note: 71, Left: 7}}
	want := []Hurts{
		{"1", []string{"Ada: written C5, 7 cents sharp", "Ada: written C♯5, 7 cents sharp", "Bo: written C5, 12 cents flat"}},
		{"3", []string{"Ada: written D5, 8 cents sharp", "Bo: written C5, 9 cents sharp"}},
	}
	given := append([]intonation.Hurt(nil), all...)
	if got := p.hurts(players, given, phrase.Tongue{}); !reflect.DeepEqual(got, want) {
		t.Errorf("%q, want %q", got, want)
	}
	if !reflect.DeepEqual(given, all) {
		t.Error("the figures were put in another order")
	}
}

// A part's number is one of the score's parts, wherever it comes from: a leader, or what was kept.
func TestPartsThatAreThere(t *testing.T) {
	s := &score.Score{Title: "Three", Bars: []score.Bar{{Number: "1", Length: Quarters(4)}}}
	for i, name := range []string{"Trumpet", "Horn", "Tuba"} {
		n := pitch.Note(60 - 12*i)
		s.Parts = append(s.Parts, score.Part{Name: name, Notes: []score.Note{{Length: Quarters(4), Written: n, Pitch: n}}})
	}
	p, err := New(s, Quarters(1))
	if err != nil {
		t.Fatal(err)
	}
	packed, err := pack(s)
	if err != nil {
		t.Fatal(err)
	}
	for part, there := range map[int]bool{-2: false, -1: false, 0: true, 2: true, 3: false} {
		q, err := p.Seat(1, part)
		if ok := err == nil; ok != (part < 3) {
			t.Errorf("part %d: %v", part, err)
		}
		if err == nil {
			if got, plays := q.Part(1); plays != there || there && got != part {
				t.Errorf("seated at %d, plays %d %v", part, got, plays)
			}
		}
		if _, err := p.For(part, "cornet_bb", nil); (err == nil) != there {
			t.Errorf("part %d for a cornet: %v", part, err)
		}
		kept := fmt.Sprintf(`{"seats":{"5":%d},"next":%d,"said":{"%d":"cornet_bb"}}`, part, part, part)
		u, err := Unpack(packed, kept)
		if err != nil {
			t.Fatal(err)
		}
		got, plays := u.Part(5)
		if _, said := u.said[part]; plays != there || said != there || there && got != part || u.Next() != max(0, part) {
			t.Errorf("kept as %s: plays %d %v, said %v, next %d", kept, got, plays, u.said, u.Next())
		}
	}
	if _, err := p.For(1, "nose", nil); err == nil {
		t.Error("a part is for a nose")
	}
	if u, err := Unpack(packed, `{"said":{"1":"nose"}}`); err != nil || len(u.said) != 0 {
		t.Errorf("a kept nose: %v %v", u.said, err)
	}
	if u, err := Unpack(packed, "nonsense"); err == nil || u == nil || len(u.seats) != 0 {
		t.Errorf("a state that cannot be read: %v %v", u, err)
	}
	if _, err := Unpack("nonsense", ""); err == nil {
		t.Error("nonsense is a score")
	}
	if _, _, err := p.EveryPart(map[string]instrument.ID{"Horn": "nose"}); err == nil {
		t.Error("every part with a nose")
	}
	if _, _, err := p.EveryPart(map[string]instrument.ID{"Bassoon": "horn_f"}); err == nil || !strings.Contains(err.Error(), "Trumpet, Horn, Tuba") {
		t.Errorf("a part that is not there: %v", err)
	}
	if q := p.Guess(nil); !p.SameScore(q) || p.SameScore(nil) || (*Piece)(nil).SameScore(p) || (*Piece)(nil).SameScore(nil) {
		t.Error("seating makes another score, or nothing is one")
	}
	if other, _ := New(&score.Score{Bars: s.Bars, Parts: s.Parts}, Quarters(1)); p.SameScore(other) {
		t.Error("two scores are one")
	}
}

// A score that is too long for a store is not kept, and the page says so; one that can be is.
func TestTooLongToBeKept(t *testing.T) {
	r := rand.New(rand.NewPCG(1, 1))
	noise := make([]byte, 3<<20)
	for i := range noise {
		noise[i] = byte('a' + r.IntN(26)) // 4.7 bits each: 1.8 MB packed, 2.4 MB as text
	}
	if packed, err := pack(&score.Score{Title: string(noise)}); packed != "" || err != nil {
		t.Errorf("%d characters are kept: %v", len(packed), err)
	}
	if packed, err := pack(&score.Score{Title: string(noise[:2<<20])}); packed == "" || err != nil {
		t.Errorf("1.6 MB are not kept: %v", err)
	}
	said := func(p *Piece) bool {
		return strings.Contains(strings.Join(p.remarks(phrase.Tongue{}), " "), "too long to be kept")
	}
	if p := (&Piece{score: &score.Score{}}); said(p) || !said(&Piece{score: p.score, long: true}) {
		t.Error("the remark on a long piece is where it does not belong")
	}
	var many score.Score
	for range 2 {
		many.Parts = append(many.Parts, score.Part{Notes: make([]score.Note, maxPlanNotes/2+1)})
	}
	if _, err := (&Piece{score: &many}).Plan(Question{Players: []Player{{}}}); err == nil || !strings.Contains(err.Error(), "200,002 notes") {
		t.Errorf("slides are worked out for too many notes: %v", err)
	}
	many.Parts = many.Parts[:1]
	if _, err := (&Piece{score: &many}).Plan(Question{}); err == nil || !strings.Contains(err.Error(), "nobody here plays") {
		t.Errorf("slides are worked out for nobody: %v", err)
	}
}

// One part by itself is nobody to tune to; a note in octaves is called by its name, and what is no
// chord is shown with its notes and cannot be called.
func TestWhatCanBeCalled(t *testing.T) {
	s := &score.Score{}
	for i, bar := range [][]string{{"C4", ""}, {"C4", "C3"}, {"C4", "E4 G3"}, {"C4 C#4 D4 D#4", "E4 F4 F#4"}, {"D4", "C3"}} {
		s.Bars = append(s.Bars, score.Bar{Number: fmt.Sprint(i + 1), Start: Quarters(float64(4 * i)), Length: Quarters(4)})
		for part, names := range bar {
			if i == 0 {
				s.Parts = append(s.Parts, score.Part{Name: []string{"Trumpet", "Horn"}[part]})
			}
			for _, name := range strings.Fields(names) {
				n, err := pitch.ParseSpelled(name)
				if err != nil {
					t.Fatal(err)
				}
				s.Parts[part].Notes = append(s.Parts[part].Notes, score.Note{Bar: i, Start: Quarters(float64(4 * i)), Length: Quarters(4), Pitch: n.Note(), Written: n.Note()})
			}
		}
	}
	s.Bars[1].Signs = []string{"coda"}
	p, err := New(s, Quarters(1))
	if err != nil {
		t.Fatal(err)
	}
	chairs := []Chair{{ID: 1, Label: "Trumpet", Instrument: "trumpet_c"}, {ID: 2, Label: "Horn", Instrument: "horn_f"}}
	p = p.Guess(chairs)
	v := p.View(chairs, pitch.Style{})
	if v.Title != "A piece without a title" || len(v.Chords) != 4 || v.Chords[0].Bar != "2" {
		t.Fatalf("%+v", v)
	}
	if c := v.Chords[0]; c.Name != "C in unison or octaves" || c.Why != "" || len(c.Others) != 0 {
		t.Errorf("octaves: %+v", c)
	}
	if c := v.Chords[2]; c.Why == "" {
		t.Errorf("a cluster: %+v", c)
	}
	if _, _, err := p.Call(2, "", chairs); err == nil || !strings.Contains(err.Error(), "the notes in bar 4 are no chord that can be tuned") {
		t.Errorf("a cluster is called: %v", err)
	}
	if c := v.Chords[3]; c.Name == "C in unison or octaves" || c.Name == "D in unison or octaves" {
		t.Errorf("two notes: %+v", c)
	}
	if c, q, err := p.Call(0, "", chairs); err != nil || c.Note.Class() != 0 || c.Chord != "" || q.Next() != 1 {
		t.Errorf("octaves called: %+v %v", c, err)
	}
	for k, c := range v.Chords {
		if len(c.Others) != max(0, len(p.list[k].Chords)-1) && !oneClass(p.list[k]) {
			t.Errorf("%s has %d other names of %d", c.Name, len(c.Others), len(p.list[k].Chords))
		}
		for _, o := range c.Others {
			if call, _, err := p.Call(k, o.Name, chairs); err != nil || call.Chord != o.Name {
				t.Errorf("called by its other name %s: %+v %v", o.Name, call, err)
			}
		}
	}
	if _, _, err := p.Call(0, "", nil); err == nil || !strings.Contains(err.Error(), "nobody here plays in bar 2") {
		t.Errorf("called for nobody: %v", err)
	}
	for _, k := range []int{-1, 4} {
		if _, _, err := p.Call(k, "", chairs); err == nil {
			t.Errorf("chord %d is called", k)
		}
	}
	r := p.Report(chairs, nil)
	if len(r.Signs) != 1 || r.Signs[0].Bar != "2" || r.Signs[0].Signs[0] != "coda" {
		t.Errorf("signs: %+v", r.Signs)
	}
	if _, err := New(&score.Score{Bars: s.Bars[:1], Parts: s.Parts[:1]}, Quarters(1)); !errors.Is(err, ErrNothingHeld) {
		t.Errorf("one part alone: %v", err)
	}
}

// A length has its name, or is counted in quarters; where a chord begins is told when it is not at
// the start. British players say crotchet (Associated Board of the Royal Schools of Music, from memory).
func TestLengths(t *testing.T) {
	american := phrase.Leader.In("en-US", pitch.Style{})
	for q, want := range map[float64]string{0.5: "a quaver", 1: "a crotchet", 2: "a minim", 4: "a semibreve", 2.5: "2.5 crotchets"} {
		if got := lengthWords(Quarters(q), phrase.Tongue{}); got != want {
			t.Errorf("%g quarters in Britain: %q, want %q", q, got, want)
		}
	}
	for q, want := range map[float64]string{0.5: "an eighth note", 1: "a quarter note", 1.5: "a dotted quarter", 2: "a half note", 3: "a dotted half", 4: "a whole note", 2.5: "2.5 quarters", 1.0 / 3: "0.33 quarters"} {
		if got := lengthWords(Quarters(q), american); got != want {
			t.Errorf("%g quarters: %q, want %q", q, got, want)
		}
	}
	if got := when(score.Sonority{Length: Quarters(2)}, american); got != "at the start, for a half note" {
		t.Errorf("%q", got)
	}
	if got := when(score.Sonority{Offset: Quarters(1), Length: Quarters(3)}, american); got != "after a quarter note, for a dotted half" {
		t.Errorf("%q", got)
	}
	if Quarters(0) != 1 || Quarters(-3) != 1 || Quarters(1) != score.TicksPerQuarter {
		t.Errorf("%d %d %d", Quarters(0), Quarters(-3), Quarters(1))
	}
}

// A key moves with the notes: seven fifths for each semitone, and of the enharmonic ones the one with at most six signs;
// nothing moves by an octave.
func TestKeysOnOtherInstruments(t *testing.T) {
	for _, in := range instrument.Catalogue() {
		for written := -14; written <= 14; written++ {
			for key := -6; key <= 6; key++ {
				k := key
				p := &Piece{score: &score.Score{Parts: []score.Part{{Transposition: written, Heads: []score.Head{{Clef: "treble", Key: &k}}}}}, seats: map[int64]int{1: 0}}
				h := p.head(0, Chair{ID: 1, Instrument: in.ID})
				up := written - in.Transposition
				if h.Key == nil || *h.Key < -6 || *h.Key > 6 || (*h.Key-key-7*up)%12 != 0 {
					t.Fatalf("%s, part at %d, key %d: %v", in.ID, written, key, h.Key)
				}
				if up%12 == 0 && (*h.Key-key)%12 != 0 || (h.Clef == "") != (up%12 != 0) {
					t.Fatalf("%s, part at %d, key %d: %d, clef %q", in.ID, written, key, *h.Key, h.Clef)
				}
			}
		}
	}
}

// What cannot be read says which of the two it was: the score, or who plays what.
func TestWhatCannotBeRead(t *testing.T) {
	if _, err := Read(strings.NewReader("nonsense")); err == nil {
		t.Error("nonsense is a score")
	}
	packed, err := pack(&score.Score{Title: "x", Bars: []score.Bar{{Number: "1", Length: Quarters(4)}}, Parts: []score.Part{
		{Name: "Horn", Notes: []score.Note{{Length: Quarters(4), Pitch: 60, Written: 60}}}, {Name: "Tuba", Notes: []score.Note{{Length: Quarters(4), Pitch: 48, Written: 48}}}}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Unpack(packed, "nonsense"); err == nil || !strings.Contains(err.Error(), "who plays what") {
		t.Errorf("%v", err)
	}
	if _, err := Unpack("nonsense", ""); err == nil || !strings.Contains(err.Error(), "kept score") {
		t.Errorf("%v", err)
	}
	p, err := Unpack(packed, "")
	if err != nil {
		t.Fatal(err)
	}
	q, _, err := p.EveryPart(map[string]instrument.ID{"Horn": "horn_double"})
	if err != nil || q.said[0] != "horn_double" || len(q.said) != 1 {
		t.Errorf("typed for the horn: %v %v", q.said, err)
	}
}

// Of a divided part with two players the upper note is the first one's and the lower one the second's; one player alone
// has all of it.
func TestADividedPartForTwo(t *testing.T) {
	in, err := instrument.Find("horn_f")
	if err != nil {
		t.Fatal(err)
	}
	note := func(at float64, n pitch.Note) score.Note {
		return score.Note{Start: Quarters(at), Length: Quarters(1), Pitch: n, Written: n}
	}
	notes := []score.Note{note(1, 53), note(1, 57), note(2, 60), note(3, 50), note(3, 55), note(3, 59)}
	p := &Piece{score: &score.Score{Parts: []score.Part{{Name: "Horn 1.2", Notes: notes}, {Name: "Tuba", Notes: notes[:1]}}}}
	horn := Player{Part: 0, Player: intonation.Player{Instrument: in}}
	s, players := p.perPlayer([]Player{horn, horn})
	var got [][]pitch.Note
	for _, part := range s.Parts {
		var ns []pitch.Note
		for _, n := range part.Notes {
			ns = append(ns, n.Pitch)
		}
		got = append(got, ns)
	}
	if want := [][]pitch.Note{{57, 60, 59}, {53, 60, 55}, {53}}; !reflect.DeepEqual(got, want) || len(players) != 2 {
		t.Errorf("%v, want %v", got, want)
	}
	if s, _ := p.perPlayer([]Player{horn}); len(s.Parts) != 2 || len(s.Parts[0].Notes) != len(notes) {
		t.Errorf("one player has %+v", s.Parts)
	}
}
