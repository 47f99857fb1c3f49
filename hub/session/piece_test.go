package session_test

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"bellrow/hub"
	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// quay is an invented chorale of six bars for four parts.
const quay = "../testdata/quay.musicxml"

func (b *bench) loadPiece(path string) {
	b.t.Helper()
	f, err := os.Open(path)
	if err != nil {
		b.t.Fatal(err)
	}
	defer f.Close()
	if err := b.hub.LoadPiece(b.t.Context(), f); err != nil {
		b.t.Fatal(err)
	}
}

func (b *bench) piece() piece.View {
	b.t.Helper()
	p, ok := b.hub.Piece()
	if !ok {
		b.t.Fatal("there is no piece")
	}
	return p
}

func TestPieceListsWhatIsHeld(t *testing.T) {
	b := newBench(t)
	b.quartet()
	b.loadPiece(quay)
	p := b.piece()
	if p.Title != "Quay at First Light" || p.Bars != 6 || p.Next != 0 || len(p.Parts) != 4 {
		t.Fatalf("%q, %d bars, next %d, %d parts; want the quay, 6, 0, 4", p.Title, p.Bars, p.Next, len(p.Parts))
	}
	want := []struct{ bar, when, name, others, why string }{
		{"1", "at the start, for a semibreve", "B♭ major", "", ""},
		{"2", "at the start, for a minim", "E♭ major", "", ""},
		{"2", "after a minim, for a minim", "F dominant seventh", "", ""},
		{"3", "at the start, for a semibreve", "G minor seventh", "B♭ sixth", ""},
		{"4", "at the start, for a semibreve", "F in unison or octaves", "", ""},
		{"5", "at the start, for a minim", "C2 D3 E♭4 C5", "", "no chord that can be tuned"},
		{"5", "after a minim, for a minim", "F major", "", ""},
		{"6", "at the start, for a semibreve", "B♭ major", "", ""},
	}
	if len(p.Chords) != len(want) {
		t.Fatalf("%d chords, want %d: %+v", len(p.Chords), len(want), p.Chords)
	}
	for i, w := range want {
		c := p.Chords[i]
		if c.Bar != w.bar || c.When != w.when || c.Name != w.name || c.Why != w.why || !strings.Contains(fmt.Sprint(c.Others), w.others) {
			t.Errorf("chord %d is %+v, want %+v", i, c, w)
		}
	}
	// A trumpet in B flat is written a tone above its sound, a horn in F a
	// fifth (any orchestration handbook, e.g. W. Piston, Orchestration, 1955).
	got := map[string]string{}
	for _, tone := range p.Chords[0].Tones {
		got[tone.Label] = tone.Written
	}
	for label, written := range map[string]string{"Trumpet 1": "C5", "Horn 1": "A4", "Trombone 1": "F3", "Tuba 1": "B♭1"} {
		if got[label] != written {
			t.Errorf("%s reads %q, want %q", label, got[label], written)
		}
	}
}

func TestPieceIsCalledChordByChord(t *testing.T) {
	togetherBench(t, nil, func(b *bench) {
		ps := b.quartet()
		extra := b.join("Fay", "euphonium_bb_bc") // no part for it in this piece
		b.loadPiece(quay)
		if r := b.row().Piece; r == nil || r.Next != "bar 1, B♭ major" {
			t.Errorf("the row offers %+v, want bar 1", r)
		}
		b.do(hub.Command{Do: hub.DoNextSonority})
		if title := b.row().Round.Title; title != "B♭ major, bar 1, together" {
			t.Errorf("the round is called %q", title)
		}
		if v := ps[2].wants("play"); v.Written != "A4" || v.Concert != "D4" {
			t.Errorf("the horn is asked for %s (%s), want written A4", v.Written, v.Concert)
		}
		extra.wants("idle")
		extra.rejoin("euphonium_bb_bc")
		extra.wants("idle") // coming back is no reason to play
		for i, cents := range []pitch.Cents{0, 0, 0, 0} {
			ps[i].play(cents)
		}
		time.Sleep(time.Second)
		synctest.Wait()
		if r := b.row(); !r.Round.Done || r.Round.Sentence == "" {
			t.Errorf("round %+v, want it judged", r.Round)
		}

		b.do(hub.Command{Do: hub.DoSonority, Index: 3, Name: "B♭ sixth"})
		if r := b.row(); !strings.HasPrefix(r.Round.Chord, "B♭ sixth") || r.Piece.Next != "bar 4, F in unison or octaves" {
			t.Errorf("chord %q, next %q; want the other name of bar 3, then bar 4", r.Round.Chord, r.Piece.Next)
		}
		b.do(hub.Command{Do: hub.DoNextSonority})
		if r := b.row().Round; r.Chord != "" || !strings.HasPrefix(r.Title, "F, bar 4") {
			t.Errorf("round %+v, want the F of bar 4 as a note", r)
		}
		b.do(hub.Command{Do: hub.DoSonority, Index: 6}) // the tuba rests
		ps[0].wants("idle")
		ps[1].wants("play")
		b.do(hub.Command{Do: hub.DoUndo})
		if p := b.piece(); p.Next != 5 {
			t.Errorf("after undo chord %d is next, want 5", p.Next)
		}
		for _, c := range []hub.Command{
			{Do: hub.DoSonority, Index: 5}, {Do: hub.DoSonority, Index: 99}, {Do: hub.DoSonority, Index: -1},
			{Do: hub.DoPart, Chair: 999}, {Do: hub.DoPart, Chair: ps[0].chair, Part: 4}, {Do: hub.DoSonority, Name: "X major"},
		} {
			if err := b.hub.Command(t.Context(), c); err == nil {
				t.Errorf("%+v is taken, want a refusal", c)
			}
		}
	})
}

// TestPieceGuessesParts matches names, then instruments and numbers.
func TestPieceGuessesParts(t *testing.T) {
	b := newBench(t)
	ps := b.quartet()
	second := b.join("Gil", "trumpet_bb") // doubles the only trumpet part
	b.loadPiece(quay)
	want := map[int64]int{int64(ps[3].chair): 0, int64(second.chair): 0, int64(ps[2].chair): 1, int64(ps[1].chair): 2, int64(ps[0].chair): 3}
	for _, s := range b.piece().Seats {
		if s.Part != want[s.Chair] {
			t.Errorf("%s plays part %d, want %d", s.Label, s.Part, want[s.Chair])
		}
	}
	b.do(hub.Command{Do: hub.DoPart, Chair: second.chair, Part: -1})
	b.do(hub.Command{Do: hub.DoPart, Chair: ps[1].chair, Part: 3})
	part := func(id hub.ChairID) int {
		seats := b.piece().Seats
		return seats[slices.IndexFunc(seats, func(s piece.Seat) bool { return s.Chair == int64(id) })].Part
	}
	if part(second.chair) != -1 || part(ps[1].chair) != 3 {
		t.Errorf("parts %d and %d, want none and the tuba's", part(second.chair), part(ps[1].chair))
	}
	b.do(hub.Command{Do: hub.DoUndo})
	if part(ps[1].chair) != 2 {
		t.Errorf("after undo the trombone plays part %d, want 2", part(ps[1].chair))
	}
	b.do(hub.Command{Do: hub.DoSonority, Index: 1})
	b.restart(append(ps, second)...)
	if p := b.piece(); part(second.chair) != -1 || part(ps[1].chair) != 2 || p.Next != 2 || len(p.Chords) != 8 {
		t.Errorf("after a restart %+v, want parts, chords and place as they were", p)
	}
	b.do(hub.Command{Do: hub.DoDropPiece})
	b.restart(append(ps, second)...)
	if _, open := b.hub.Piece(); open || b.row().Piece != nil {
		t.Error("the piece is there after it was closed")
	}
}

func TestPieceNames(t *testing.T) {
	b := newBench(t)
	var chairs []hub.Chair
	for _, c := range []struct {
		label string
		id    instrument.ID
	}{{"Cornet 2", "cornet_bb"}, {"Cornet 1", "cornet_bb"}, {"Horn 2", "horn_f"}, {"Solo", "tuba_f"}} {
		chairs = append(chairs, hub.Chair{Label: c.label, Instrument: c.id})
	}
	s := b.hub.Section()
	s.Chairs = chairs
	b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	var doc strings.Builder
	doc.WriteString(`<score-partwise><part-list>`)
	names := []string{"1st Cornet in B♭", "2nd Cornet in B♭", "Horn in F I", "Horn in F II", "Violin", "Tuba"}
	for i, n := range names {
		doc.WriteString(`<score-part id="P` + string(rune('1'+i)) + `"><part-name>` + n + `</part-name></score-part>`)
	}
	doc.WriteString(`</part-list>`)
	for i := range names {
		doc.WriteString(`<part id="P` + string(rune('1'+i)) + `"><measure number="1"><attributes><divisions>1</divisions></attributes><note><pitch><step>C</step><octave>4</octave></pitch><duration>4</duration></note></measure></part>`)
	}
	doc.WriteString(`</score-partwise>`)
	if err := b.hub.LoadPiece(t.Context(), strings.NewReader(doc.String())); err != nil {
		t.Fatal(err)
	}
	want := map[string]int{"Cornet 2": 1, "Cornet 1": 0, "Horn 2": 3, "Solo": 5}
	for _, seat := range b.piece().Seats {
		if seat.Part != want[seat.Label] {
			t.Errorf("%s plays %d, want %d", seat.Label, seat.Part, want[seat.Label])
		}
	}
}

func TestPieceRefusals(t *testing.T) {
	b := newBench(t)
	b.quartet()
	for _, tt := range []struct {
		name, doc string
		is        error
	}{
		{"not a score", "a shopping list", score.ErrNotMusicXML},
		{"declarations", `<!DOCTYPE a [<!ENTITY b "c">]><score-partwise></score-partwise>`, score.ErrForbidden},
		{"nothing held", `<score-partwise><part-list><score-part id="P1"><part-name>Tuba</part-name></score-part></part-list><part id="P1"><measure number="1"/></part></score-partwise>`, nil},
	} {
		err := b.hub.LoadPiece(t.Context(), strings.NewReader(tt.doc))
		if err == nil || tt.is != nil && !errors.Is(err, tt.is) {
			t.Errorf("%s: %v, want %v", tt.name, err, tt.is)
		}
	}
	for _, do := range []string{hub.DoNextSonority, hub.DoSonority, hub.DoPart, hub.DoDropPiece} {
		if err := b.hub.Command(t.Context(), hub.Command{Do: do}); err == nil {
			t.Errorf("%s without a piece: no error", do)
		}
	}
	if _, err := b.hub.PiecePlan(); err == nil {
		t.Error("a plan without a piece: no error")
	}
}

// TestPiecePlan: the plan gains on one tuning note or stays with it, follows
// what was heard, and counts from the section's pitch.
func TestPiecePlan(t *testing.T) {
	b := newBench(t)
	ps := b.quartet()
	b.loadPiece(quay)
	plan, err := b.hub.PiecePlan()
	if err != nil {
		t.Fatal(err)
	}
	if len(plan.Players) != 4 || !strings.Contains(plan.Words, "cents remain") || plan.Note != "B♭" {
		t.Fatalf("plan %+v, want four players and a sentence against B♭", plan)
	}
	for _, p := range plan.Players {
		if p.Measured || !strings.Contains(p.Words, "tunes on B♭") || !strings.Contains(p.Gain, "remain") {
			t.Errorf("%+v, want the slide against the tuning note, and nothing measured", p)
		}
	}
	at := func(p *player) piece.PlayerPlan {
		t.Helper()
		plan, err := b.hub.PiecePlan()
		if err != nil {
			t.Fatal(err)
		}
		return plan.Players[slices.IndexFunc(plan.Players, func(x piece.PlayerPlan) bool { return x.Chair == int64(p.chair) })]
	}
	trumpet := ps[3]
	before := at(trumpet).Words
	b.call("Bb4")
	for range ps { // in whatever order they are asked
		i := slices.IndexFunc(ps, func(p *player) bool { return p.view().Phase == "play" })
		ps[i].play(map[*player]pitch.Cents{trumpet: 40}[ps[i]]) // sharper than built: the slide has to come out further
	}
	after := at(trumpet)
	if !after.Measured || after.Words == before || !strings.HasPrefix(after.Words, "pull the ") || strings.Contains(after.Words, ".") {
		t.Errorf("after a sharp note %+v, before %q; want a pull in whole millimetres", after, before)
	}
	b.do(hub.Command{Do: hub.DoAbsent, Chair: trumpet.chair})
	if plan, err := b.hub.PiecePlan(); err != nil || len(plan.Players) != 3 {
		t.Errorf("without the trumpet %d players (%v), want 3", len(plan.Players), err)
	}
}

// TestPieceKeptInSmall measures what a long piece takes in the store.
func TestPieceKeptInSmall(t *testing.T) {
	b := newBench(t)
	b.quartet()
	b.loadPiece(quay)
	v, err := b.store.Value(context.Background(), "piece/"+"1")
	if err != nil || len(v) == 0 || len(v) > 4<<10 {
		t.Errorf("six bars take %d bytes (%v), want some and at most 4 kB", len(v), err)
	}
}

// TestPieceTooLongToKeep: a score that the store should not hold is played
// from all the same, and the leader is told that it will be gone. A short one
// says nothing.
func TestPieceTooLongToKeep(t *testing.T) {
	if testing.Short() {
		t.Skip("a score of 300,000 notes takes seconds")
	}
	b := newBench(t)
	b.quartet()
	b.loadPiece(quay)
	kept := strings.Join(b.piece().Remarks, " ")
	if strings.Contains(kept, "too long") {
		t.Errorf("a short piece: %q", kept)
	}
	rng := rand.New(rand.NewPCG(1, 2))
	var doc strings.Builder
	doc.WriteString(`<score-partwise><part-list><score-part id="A"><part-name>Horn</part-name></score-part><score-part id="B"><part-name>Tuba</part-name></score-part></part-list>`)
	for _, id := range []string{"A", "B"} {
		fmt.Fprintf(&doc, `<part id="%s"><measure number="1"><attributes><divisions>10000</divisions></attributes>`, id)
		for i := range 150000 { // lengths that nothing compresses
			if i%1000 == 0 && i > 0 {
				fmt.Fprintf(&doc, `</measure><measure number="%d">`, i/1000+1)
			}
			fmt.Fprintf(&doc, `<note><pitch><step>%c</step><octave>%d</octave></pitch><duration>%d</duration></note>`, 'A'+byte(rng.IntN(7)), 2+rng.IntN(4), 10000+rng.IntN(30000))
		}
		doc.WriteString(`</measure></part>`)
	}
	doc.WriteString(`</score-partwise>`)
	if err := b.hub.LoadPiece(t.Context(), strings.NewReader(doc.String())); err != nil {
		t.Fatal(err)
	}
	if got := strings.Join(b.piece().Remarks, " "); !strings.Contains(got, "too long to be kept") {
		t.Errorf("the page says %q, want that the piece is not kept", got)
	}
	b.restart()
	if _, open := b.hub.Piece(); open {
		t.Error("the piece is open after a restart, though it was said to be lost")
	}
}

// TestPieceAsksWhatAPartIsFor: the leader's answer holds, can be taken back, and a
// unison keeps the name that the score gives it, as each one reads it.
func TestPieceAsksWhatAPartIsFor(t *testing.T) {
	b := newBench(t)
	ada, bo := b.join("Ada", "trumpet_bb"), b.join("Bo", "tenor_horn_eb")
	path := filepath.Join(t.TempDir(), "unison.musicxml")
	text := `<score-partwise><part-list><score-part id="A"><part-name>Trumpet 1</part-name></score-part><score-part id="C"><part-name>Horn in Eb</part-name></score-part></part-list>
<part id="A"><measure number="1"><attributes><divisions>1</divisions><transpose><chromatic>-2</chromatic></transpose></attributes>
<note><pitch><step>G</step><alter>1</alter><octave>4</octave></pitch><duration>4</duration></note></measure></part>
<part id="C"><measure number="1"><attributes><divisions>1</divisions><transpose><chromatic>-9</chromatic></transpose></attributes>
<note><pitch><step>D</step><alter>1</alter><octave>5</octave></pitch><duration>4</duration></note></measure></part></score-partwise>`
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	b.loadPiece(path)
	b.do(hub.Command{Do: hub.DoPartFor, Part: 1, Name: "tenor_horn_eb"})
	if p := b.piece().Parts[1]; p.Said != "tenor_horn_eb" || b.row().CanUndo != "the instrument of a part" {
		t.Errorf("%+v, undo %q", p, b.row().CanUndo)
	}
	b.do(hub.Command{Do: hub.DoUndo})
	if p := b.piece().Parts[1]; p.Said != "" || len(p.Could) == 0 {
		t.Errorf("taken back: %+v", p)
	}
	b.do(hub.Command{Do: hub.DoPartFor, Part: 1, Name: "tenor_horn_eb"})
	b.restart(ada, bo)
	if p := b.piece().Parts[1]; p.Said != "tenor_horn_eb" {
		t.Errorf("after a restart: %+v", p)
	}
	b.do(hub.Command{Do: hub.DoNextSonority})
	if a, h := ada.view(), bo.view(); a.Written != "G♯4" || a.Concert != "F♯4" || h.Written != "D♯5" {
		t.Errorf("the trumpet reads %s (%s), the horn %s; the score has G sharp and D sharp", a.Written, a.Concert, h.Written)
	}
}
