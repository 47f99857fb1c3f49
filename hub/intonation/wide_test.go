package intonation

import (
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// The wide walks go where the others do not come, and keep a digest of what they see.

// TestTables writes down all that the tables hold of each kind, and what is made of them.
func TestTables(t *testing.T) {
	var out strings.Builder
	for _, k := range kinds {
		fmt.Fprintf(&out, "%s, %s: likely %g, spare %q, dominant %t, written %q\n ", k.quality, k.family, k.likely, k.spare, k.dominant, k.words)
		for class := range 12 {
			c := Chord{Root: class, Quality: k.quality}
			fmt.Fprintf(&out, " %v/%d", c.RootName(), c.accidentals(c.RootName()))
		}
		for _, seventh := range []Seventh{Harmonic, Melodic, Tempered} {
			c := Chord{Quality: k.quality, Seventh: seventh}
			if c.Valid() != nil {
				continue
			}
			for _, tone := range c.Tones() {
				fmt.Fprintf(&out, "\n  %s %q %d semitones, %v, %.4f cents, steps %d, missing %g, %s", tone.Name, seventh, tone.Semitones, tone.Ratio, float64(tone.Offset()), tone.interval().Steps, k.missing(tone), tone.Source)
			}
		}
		out.WriteString("\n  chairs")
		for chairs := 1; chairs <= 14; chairs++ {
			for inversion := range k.tones {
				c := Chord{Quality: k.quality, Inversion: inversion}
				fmt.Fprintf(&out, " %d", beam{c, c.Tones(), make([]Part, chairs)}.doublings())
			}
		}
		out.WriteString("\n")
	}
	golden.Lines(t, "tables.txt", out.String())
}

// TestNoChords writes down what is said of names that are none, each kind of mistake by itself.
func TestNoChords(t *testing.T) {
	var out strings.Builder
	said := map[ChordCode]bool{}
	for _, typed := range []string{
		"", "x", "H", "C nonsense", "Cmaj7/H", "C major/D", "C major/x", "C/G first inversion", "C major third inversion", "C6 fifth inversion", "C minor tempered", "C minor 16/9", "C major (7/4)",
		"C##b major", "B flat flat", "Bbb flat major", "F## sharp", "C sharpish", "C flatter", "Bb flat", strings.Repeat("C", maxChordText+1), strings.Repeat("C", maxChordText), "C major / E flat", "C/", "C 7 with", "c", "cM", "C m7b", "7", "Cis", "cis-moll", "H7", "B-dur", "do majeur", "si b mayor",
	} {
		for _, n := range []pitch.Naming{pitch.English, pitch.German} {
			p, err := ParseChordIn(n, typed)
			var bad *ChordError
			if errors.As(err, &bad) {
				fmt.Fprintf(&out, "%v %.20q: %s, word %.20q\n", n, typed, bad.Code, bad.Word)
				if !said[bad.Code] {
					said[bad.Code] = true
					fmt.Fprintf(&out, "  %v\n", err)
				}
				continue
			}
			fmt.Fprintf(&out, "%v %q: %v or %v\n", n, typed, p.Chord, p.Or)
		}
	}
	golden.Lines(t, "nochords.txt", out.String())
}

// TestWideWalkOfNames: every way of writing every kind, in small and in capital letters, with and without inversion,
// seventh, bass; and the names of all notes by every chord, sounding and written.
func TestWideWalkOfNames(t *testing.T) {
	var out strings.Builder
	read := func(kind, typed string) {
		p, err := ParseChordIn(pitch.English, typed)
		var bad *ChordError
		if errors.As(err, &bad) {
			fmt.Fprintf(&out, "%s-read %s %s\n", kind, bad.Code, bad.Word)
			return
		}
		fmt.Fprintf(&out, "%s-read %v %v\n", kind, p.Chord, p.Or)
	}
	for i, k := range kinds {
		name := strings.ReplaceAll(string(k.quality), " ", "-")
		for j, word := range append(k.words, string(k.quality)) {
			root := pitch.NameAt((i+5*j)%14 - 6).String()
			for _, w := range []string{word, strings.ToUpper(word), " " + word, " " + strings.ToUpper(word) + " Chord", "-" + word, " flat " + word, " SHARP " + word, " flat/G"} {
				for _, tail := range []string{"", " in First Inversion", " 3rd inversion", "/E", "/" + root, " over Bb", " (16/9)", " with tempered seventh"} {
					read(name, root+w+tail)
				}
			}
		}
		for class := range 12 {
			c := Chord{Root: class, Quality: k.quality}
			for fifths := -8; fifths <= 11; fifths++ {
				c := c.Named(pitch.NameAt(fifths))
				if fifths != -8 && c.Spelling == (pitch.Name{}) {
					continue
				}
				for n := pitch.Note(55); n < 67; n++ {
					fmt.Fprintf(&out, "%s-spelt %v %v", name, c, c.Spell(n))
					for _, transposition := range []int{-2, -7, 9, -14, 12} {
						fmt.Fprintf(&out, " %v", c.SpellWritten(n, transposition))
					}
					out.WriteString("\n")
				}
			}
		}
	}
	for n := pitch.Note(58); n < 70; n++ {
		for _, chord := range []string{"", "no chord", "F# major", "Gb major", "C minor"} {
			a, b := SpellerFor(chord).Names(n, -2)
			fmt.Fprintf(&out, "speller %v %v\n", a, b)
		}
	}
	golden.Lines(t, "names.digest", golden.Digest(out.String()))
}

// TestWideWalkOfChords judges groups that the other walk has none of: one chair and two dozen, far out, soft,
// other notes than were called or none of the chord's, played another way, out of reach.
func TestWideWalkOfChords(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(8 * len(kinds)) {
		r := rand.New(rand.NewPCG(seed, 91))
		k := kinds[int(seed)%len(kinds)]
		c := Chord{Root: r.IntN(12), Quality: k.quality, Inversion: r.IntN(len(k.tones))}
		if k.dominant {
			c.Seventh = one(r, Harmonic, Tempered, Melodic)
		}
		n := one(r, 1, 2, 3, 4, 5, 6, 8, 10, 16, 24)
		var parts []Part
		for i := range n {
			in := find(t, one(r, append(band, "tenor_trombone_bb", "tuba_bbb")...))
			low, high := in.Low, in.High
			if r.IntN(6) == 0 {
				low, high = 50, 50+pitch.Note(r.IntN(7)) // hardly an octave
			}
			parts = append(parts, Part{Chair: Chair(n - i), Low: low, High: high, Rank: r.IntN(3)})
		}
		tones := Spread(c, parts)
		ref := pitch.Reference{A4: one[pitch.Hertz](r, 0, 430, 442)}
		q := Question{Chord: c, Tuning: one(r, Just, Just, Equal, Keyboard, ""), Anchor: one(r, Anchor(""), AnchorBass, AnchorReference), Reference: ref, Good: one[pitch.Cents](r, 0, -1, 0.5, 3, 8), Watch: one[pitch.Cents](r, 0, 12), Shape: one(r, Even, BottomHeavy)}
		if seed%5 == 0 {
			q.Chord = q.Chord.Named(pitch.NameAt(one(r, -7, -6, 6, 7, 9)))
		}
		common := pitch.Cents(one(r, 0.0, 3, 9, 60) * r.NormFloat64())
		var heard []Reading
		for i := range n {
			id := Chair(i + 1)
			s := Seat{Chair: id, Name: fmt.Sprint("chair ", i+1), Note: tones[id], Instrument: find(t, one(r, band...)), Baseline: one[pitch.Level](r, 0, -20, -26, pitch.Silence, pitch.Silence+1), Air: instrument.Air{TemperatureC: one(r, 0.0, 17, 27)},
				Settings: instrument.Settings{instrument.Main: one(r, 0.0, 3, 14, 30), instrument.Hand: one(r, 0.0, 200), "third": one(r, 0.0, 9), "first": one(r, 0.0, 7)}}
			if r.IntN(5) == 0 {
				s.Travel = instrument.Settings{instrument.Main: 22, "third": 16}
			}
			if r.IntN(5) == 0 {
				s.Learned = slide.Learned{Ratio: one(r, 0.8, 1.3), SD: 0.05, Moves: 3}
			}
			switch r.IntN(12) {
			case 0:
				s.Note++ // no tone of the chord, or another one
			case 1:
				s.Note += 30 // out of reach
			}
			if paths := s.Instrument.Paths(s.Note); len(paths) > 1 && r.IntN(4) == 0 {
				s.Path = paths[1+r.IntN(len(paths)-1)]
				if r.IntN(2) == 0 {
					s.Path.Partial = 0
				}
			}
			if r.IntN(8) > 0 {
				x := common + pitch.Cents(one(r, 0.5, 2, 6, 25)*r.NormFloat64())
				if r.IntN(10) == 0 {
					x += one[pitch.Cents](r, 100, -100, 1200, -700)
				}
				s.Reading = &slide.Reading{Hz: ref.Frequency(s.Note).Shift(x), CI95: one[pitch.Cents](r, 0.2, 1, 4, 14), Spread: 1, Level: pitch.Level(one(r, -20.0, -20, -11, -26, -30, float64(pitch.Silence)) + r.NormFloat64()), Settled: r.IntN(9) > 0, Reason: "moving", Overheard: r.IntN(15) == 0}
				heard = append(heard, Reading{Hz: s.Reading.Hz, CI95: s.Reading.CI95})
			}
			if r.IntN(10) == 0 {
				s.Instrument = nil
			}
			q.Seats = append(q.Seats, s)
		}
		var one strings.Builder
		judged(&one, seed, q, tones, heard)
		for _, line := range strings.Split(one.String(), "\n") {
			// Each line by what it is about and by its kind of chord.
			word, _, _ := strings.Cut(strings.TrimSpace(line), " ")
			if len(word) < 3 || strings.Trim(word, "0123456789") == "" {
				word = "seats"
			} else if !strings.Contains("fact beat could", word) {
				word = "said"
			}
			fmt.Fprintf(&out, "%s-%s %s\n", strings.ReplaceAll(string(k.quality), " ", "-"), word, line)
		}
	}
	golden.Lines(t, "groups.digest", golden.Digest(out.String()))
}

// TestWideWalkOfPieces: pieces for one and for many, for players far out and for notes out of reach, and what groups
// have in common by every band.
func TestWideWalkOfPieces(t *testing.T) {
	var out strings.Builder
	for seed := range uint64(60) {
		r := rand.New(rand.NewPCG(seed, 92))
		var players []Player
		for i := range 1 + r.IntN(9) {
			in := find(t, one(r, band...))
			p := Player{Name: fmt.Sprint("chair ", i+1), Instrument: in, Settings: instrument.Settings{instrument.Main: one(r, 0.0, 2, 12, 25)}, Offset: pitch.Cents(one(r, 0.0, 3, 10, 40) * r.NormFloat64()), OneNote: in.TuningNote(10) + pitch.Note(one(r, 0, 0, 0, 60))}
			if r.IntN(3) == 0 {
				p.Learned = slide.Learned{Ratio: one(r, 0.7, 1.2), SD: 0.04, Moves: 2}
			}
			if r.IntN(3) == 0 {
				p.Travel = instrument.Settings{instrument.Main: one(r, 14.0, 22, 60)}
			}
			players = append(players, p)
		}
		var chords []HeldChord
		for bar := range 1 + r.IntN(14) {
			h := HeldChord{Bar: bar/2 + 1, Weight: one(r, 0.0, 0.5, 1, 2, 4)}
			off := one[pitch.Cents](r, 0, 0, 0, 80, -80)
			for i, p := range players {
				if r.IntN(8) == 0 {
					continue
				}
				note := p.Instrument.Low + pitch.Note(r.IntN(int(p.Instrument.High-p.Instrument.Low)+5)) - 2
				h.Tones = append(h.Tones, HeldTone{i, note, off + one[pitch.Cents](r, 0, -13.7, 2, 15.6, -31)})
			}
			chords = append(chords, h)
		}
		var one strings.Builder
		planned(&one, seed, players, chords, []pitch.Cents{0, 0.5, 3, 8}[seed%4], r.IntN(3) == 0)
		for _, line := range strings.Split(one.String(), "\n") {
			word, _, _ := strings.Cut(strings.TrimSpace(line), " ")
			fmt.Fprintf(&out, "%d-%s %s\n", seed/4, strings.TrimRight(word, "0123456789"), line)
		}
	}
	for seed := range uint64(400) {
		r := rand.New(rand.NewPCG(seed, 93))
		var offsets []Offset
		var loud []Loudness
		common := one(r, 0.0, 2, -4, 6, -9, 14)
		for i := range 1 + r.IntN(9) {
			offsets = append(offsets, Offset{pitch.Cents(common + one(r, 0.2, 1, 2, 4, 15)*r.NormFloat64()), one[pitch.Cents](r, 0, 0.5, 3, 9)})
			loud = append(loud, Loudness{Chair(i + 1), pitch.Note(40 + r.IntN(30)), pitch.Level(-20 + one(r, 0.0, 2, 6)*r.NormFloat64()), one[pitch.Level](r, -20, -24, pitch.Silence, 2*pitch.Silence, pitch.Silence+2)})
		}
		for _, good := range []pitch.Cents{-1, 0, 0.5, 2, 5, 9} {
			x := Common(offsets, good)
			fmt.Fprintf(&out, "common-%g %.5f ± %.5f spread %.5f of %d as one %t %s %s\n", float64(good), float64(x.Offset), float64(x.CI95), float64(x.Spread), x.Chairs, x.AsOne, x.Code, x.Words)
			for _, o := range offsets {
				fmt.Fprintf(&out, "verdict-%g %s %s\n", float64(good), Verdict(o.Cents, o.CI95, good, 0), Verdict(o.Cents, o.CI95, good, 8))
			}
		}
		for _, s := range []Shape{Even, BottomHeavy} {
			for c, h := range Balance(s, loud) {
				fmt.Fprintf(&out, "balance-%s chair%d %s %s\n", s, c, h, h.Say(phrase.Tongue{}))
			}
		}
	}
	golden.Lines(t, "plans.digest", golden.Digest(out.String()))
}

// TestWideWalkOfGuesses: which chords two to six pitches could be that come from nowhere in particular.
func TestWideWalkOfGuesses(t *testing.T) {
	var out strings.Builder
	most := 0
	for seed := range uint64(240) {
		r := rand.New(rand.NewPCG(seed, 94))
		c := Chord{Root: r.IntN(12), Quality: kinds[r.IntN(len(kinds))].quality}
		tones, lie := c.Tones(), one(r, 3.0, 12, 30)
		var heard []Reading
		for i := range 2 + r.IntN(5) {
			hz := pitch.Reference{}.Frequency(48 + pitch.Note(c.Root+tones[i%len(tones)].Semitones+12*r.IntN(3)))
			heard = append(heard, Reading{Hz: hz.Shift(pitch.Cents(lie * r.NormFloat64()))})
		}
		found := Infer(heard, pitch.Reference{})
		for i, x := range found {
			fmt.Fprintf(&out, "guess-%d %s share %.6f shift %.5f misfit %.5f %d of %d\n", seed%20, x.Chord, x.Share, float64(x.Shift), float64(x.Misfit), i, len(found))
			if x.Share <= 0 || x.Share > 1 || i > 0 && x.Share > found[i-1].Share || float64(x.Misfit) > worstMisfit || math.Abs(float64(x.Shift)) > 100 {
				t.Errorf("%d: %+v of %+v", seed, x, found)
			}
		}
		most = max(most, len(found))
	}
	if most != maxCandidates {
		t.Errorf("%d chords at most, want to see %d", most, maxCandidates)
	}
	golden.Lines(t, "guesses.digest", golden.Digest(out.String()))
}
