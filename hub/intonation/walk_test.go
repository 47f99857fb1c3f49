package intonation

import (
	"fmt"
	"maps"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// band are the instruments of made-up groups, by their parts.
var band = []instrument.ID{"trumpet_bb", "trumpet_bb", "horn_double", "tenor_trombone_bbf", "euphonium_bb_bc", "tuba_cc", "flugelhorn_bb", "horn_f"}

func find(t *testing.T, id instrument.ID) *instrument.Instrument {
	t.Helper()
	in, err := instrument.Find(id)
	if err != nil {
		t.Fatal(err)
	}
	return in
}

// one takes a value by chance.
func one[T any](r *rand.Rand, xs ...T) T { return xs[r.IntN(len(xs))] }

// TestWalkOfChords writes down how made-up groups' chords are spread, judged and named.
func TestWalkOfChords(t *testing.T) {
	var out strings.Builder
	kinds := Kinds()
	for seed := range uint64(140) {
		r := rand.New(rand.NewPCG(seed, 81))
		k := kinds[int(seed)%len(kinds)]
		c := Chord{Root: r.IntN(12), Quality: k.Quality}
		if k.Seventh {
			c.Seventh = one(r, Seventh(""), Tempered, Melodic)
		}
		if r.IntN(3) == 0 {
			c.Inversion = 1
		}
		if c.Valid() != nil {
			c.Seventh, c.Inversion = "", 0
		}
		n := 3 + r.IntN(len(band)-2)
		var parts []Part
		for i, id := range band[:n] {
			in := find(t, id)
			parts = append(parts, Part{Chair: Chair(i + 1), Low: in.Low, High: in.High, Rank: 1 + i%2})
		}
		tones := Spread(c, parts)
		ref := pitch.Reference{A4: one[pitch.Hertz](r, 0, 442)}
		q := Question{Chord: c, Tuning: one(r, Just, Just, Equal, Keyboard), Anchor: one(r, Anchor(""), AnchorBass, AnchorReference), Reference: ref, Good: one[pitch.Cents](r, 0, 3), Shape: one(r, Even, BottomHeavy)}
		common := pitch.Cents(9 * r.NormFloat64())
		var heard []Reading
		for i, id := range band[:n] {
			s := Seat{Chair: Chair(i + 1), Name: fmt.Sprint("chair ", i+1), Note: tones[Chair(i+1)], Instrument: find(t, id), Settings: instrument.Settings{instrument.Main: one(r, 3.0, 14, 30)}, Baseline: -20}
			if r.IntN(7) > 0 {
				x := common + pitch.Cents(one(r, 1.0, 4, 12)*r.NormFloat64())
				s.Reading = &slide.Reading{Hz: ref.Frequency(s.Note).Shift(x), CI95: one[pitch.Cents](r, 0.5, 2, 9), Level: pitch.Level(-20 + one(r, -7.0, 0, 0, 2, 6)), Settled: r.IntN(9) > 0, Reason: "moving", Overheard: r.IntN(12) == 0}
				heard = append(heard, Reading{Hz: s.Reading.Hz, CI95: s.Reading.CI95})
			}
			if r.IntN(8) == 0 {
				s.Instrument = nil
			}
			q.Seats = append(q.Seats, s)
		}
		judged(&out, seed, q, tones, heard)
	}
	golden.Lines(t, "chords.txt", out.String())
}

// judged writes down all that is said of a question and of what was heard.
func judged(out *strings.Builder, seed uint64, q Question, tones map[Chair]pitch.Note, heard []Reading) {
	c, ref := q.Chord, q.Reference
	j := Judge(q)
	fmt.Fprintf(out, "%d %s %s %s %s: rings %t shift %.5f code %s\n", seed, c, q.Tuning, q.Anchor, q.Shape, j.Rings, float64(j.Aim.Shift), j.Aim.Code)
	for _, f := range j.Facts {
		fmt.Fprintf(out, "  fact %s %s %d of %d high %t little %t shift %.4f actions %d more %d names %d\n", f.Code, f.Tone, f.Out, f.Of, f.High, f.Little, float64(f.Shift), len(f.Actions), f.More, len(f.Names))
	}
	for _, s := range j.Seats {
		fmt.Fprintf(out, "  %d %v %.4f %t %s %.4f %s %s", s.Chair, s.Target.Note, float64(s.Target.Hz), s.Target.InChord, s.Target.Tone.Name, float64(s.Offset), s.Verdict, s.Hint)
		for _, st := range s.Advice.Steps {
			fmt.Fprintf(out, " %s %g to %g", st.Slide, st.FromMM, st.ToMM)
		}
		fmt.Fprintf(out, " %s %s resorts %d\n", s.Advice.Kind, s.Advice.Code, len(s.Resorts))
		if said := strings.Join(append(s.Instead, s.Words, s.Balance), " | "); said != " | " {
			fmt.Fprintf(out, "    %s\n", said)
		}
		if s.Place != nil {
			w := s.Place.Say(s.Advice, phrase.Tongue{})
			fmt.Fprintf(out, "    %s | %s | %s\n", w.Headline, w.Detail, w.Next)
		}
	}
	fmt.Fprintf(out, "  %s\n", j.Sentence)
	for _, b := range j.Beats {
		fmt.Fprintf(out, "  beat %d %d %v %.5f %s\n", b.Low, b.High, b.Ratio, b.PerSecond, b.Code)
	}
	for _, x := range Infer(heard, ref) {
		fmt.Fprintf(out, "  could be %s share %.6f shift %.5f misfit %.5f\n", x.Chord, x.Share, float64(x.Shift), float64(x.Misfit))
	}
	var spelled []pitch.Spelled
	for _, chair := range slices.Sorted(maps.Keys(tones)) {
		spelled = append(spelled, c.Spell(tones[chair]))
	}
	fmt.Fprintf(out, "  %v named %v\n", spelled, Naming(spelled))
}

// TestWalkOfPieces writes down the one setting for made-up pieces, and what sections have in
// common.
func TestWalkOfPieces(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(14) {
		r := rand.New(rand.NewPCG(seed, 82))
		var players []Player
		n := 2 + r.IntN(len(band)-2)
		for i, id := range band[:n] {
			in := find(t, id)
			p := Player{Name: fmt.Sprint("chair ", i+1), Instrument: in, Settings: instrument.Settings{instrument.Main: one(r, 2.0, 12, 25)}, Offset: pitch.Cents(8 * r.NormFloat64()), OneNote: in.TuningNote(10)}
			if r.IntN(3) == 0 {
				p.Learned = slide.Learned{Ratio: 1.2, SD: 0.04, Moves: 2}
			}
			if r.IntN(3) == 0 {
				p.Travel = instrument.Settings{instrument.Main: 22}
			}
			players = append(players, p)
		}
		var chords []HeldChord
		for bar := range 9 {
			h := HeldChord{Bar: bar + 1, Weight: one(r, 1.0, 2, 4)}
			for i, p := range players {
				note := p.Instrument.Low + pitch.Note(r.IntN(int(p.Instrument.High-p.Instrument.Low)+3))
				h.Tones = append(h.Tones, HeldTone{i, note, one[pitch.Cents](r, 0, -13.7, 2, 15.6)})
			}
			chords = append(chords, h)
		}
		fixed := r.IntN(2) == 0
		planned(&out, seed, players, chords, one[pitch.Cents](r, 0, 3), fixed)
	}
	for seed := range uint64(80) {
		r := rand.New(rand.NewPCG(seed, 83))
		var offsets []Offset
		var loud []Loudness
		common := one(r, 0.0, 4, -9, 14)
		for i := range 1 + r.IntN(9) {
			offsets = append(offsets, Offset{pitch.Cents(common + one(r, 1.0, 4, 15)*r.NormFloat64()), one[pitch.Cents](r, 0, 0.5, 3)})
			loud = append(loud, Loudness{Chair(i + 1), pitch.Note(40 + 3*i), pitch.Level(-20 + one(r, 2.0, 6)*r.NormFloat64()), one[pitch.Level](r, -20, -24)})
		}
		x := Common(offsets, 5)
		fmt.Fprintf(&out, "%s\n", x.Words)
		fmt.Fprintf(&out, "common %.5f ± %.5f spread %.5f of %d as one %t %s\n", float64(x.Offset), float64(x.CI95), float64(x.Spread), x.Chairs, x.AsOne, x.Code)
		for _, s := range []Shape{Even, BottomHeavy} {
			h := Balance(s, loud)
			for _, c := range slices.Sorted(maps.Keys(h)) {
				fmt.Fprintf(&out, "  %s %d %s\n", s, c, h[c])
			}
		}
	}
	golden.Lines(t, "pieces.txt", out.String())
}

// planned writes down the one setting of a piece.
func planned(out *strings.Builder, seed uint64, players []Player, chords []HeldChord, good pitch.Cents, fixed bool) {
	plan, err := Compromise(players, chords, good, fixed)
	fmt.Fprintf(out, "%d fixed %t: %v %.5f to %.5f unplayable %d %s\n", seed, fixed, err, plan.OneNoteRMS, plan.RMS, plan.Unplayable, plan.Code)
	for _, p := range plan.Players {
		fmt.Fprintf(out, "  %s %g one %g main %.5f of %g left %.5f then %.5f\n", p.Name, p.FromMM, p.OneNoteMM, p.MainMM, p.TravelMM, p.OneNoteRMS, p.RMS)
	}
	for _, h := range plan.Hurts {
		fmt.Fprintf(out, "  hurt %d %d %v %.4f %g\n", h.Bar, h.Player, h.Note, float64(h.Left), h.Weight)
	}
}
