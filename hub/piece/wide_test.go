package piece_test

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"sort"
	"strings"
	"testing"

	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/hub/score"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// madeUp is a score drawn by a seed: unisons, octaves that are spelled otherwise below than above, chords,
// what is no chord, divided and doubled parts, parts that rest, keys and clefs.
func madeUp(r *rand.Rand) *score.Score {
	s := &score.Score{Title: []string{"", "Slack Water"}[r.IntN(2)]}
	all := []score.Part{{Name: "Trumpet 1", Transposition: -2}, {Name: "Horn in Eb", Transposition: -9}, {Name: "Trombone", Clef: "bass"}, {Name: "Tuba"}, {Name: "Ocarina"}, {Name: "Horn 2", Transposition: -7}, {Name: "2nd Trumpet", Transposition: -2}, {Name: "Timpani"}}
	r.Shuffle(len(all), func(i, j int) { all[i], all[j] = all[j], all[i] })
	s.Parts = all[:2+r.IntN(5)]
	for _, remark := range []string{score.RemarkRepeats, score.RemarkDoubled, score.RemarkMicrotones, "Something else was left out."} {
		if r.IntN(3) == 0 {
			s.Remarks = append(s.Remarks, remark)
		}
	}
	chords := [][]string{{"Bb4", "A#3", "Bb2", "Bb2"}, {"D5", "F4", "Bb3", "Bb2"}, {"Eb5", "G4", "Bb3", "Eb2"}, {"A3", "C#4", "E4", "A2"}, {"F#4", "D4", "C4", "G#3"}, {"C4", "C#4", "D4", "Eb4"}, {"F4", "F4", "F3", "F2"}, {"D4", "F4", "Ab4", "B4"}}
	for bar := range 3 + r.IntN(7) {
		b := score.Bar{Number: fmt.Sprint(bar + 1), Start: piece.Quarters(float64(4 * bar)), Length: piece.Quarters(4)}
		if r.IntN(4) == 0 {
			b.Signs = []string{"D.S. al Fine"}
		}
		s.Bars = append(s.Bars, b)
		chord := chords[r.IntN(len(chords))]
		after := piece.Quarters([]float64{0, 0, 1, 0.5}[r.IntN(4)])
		length := piece.Quarters([]float64{1, 2, 3, 4, 1.33}[r.IntN(5)])
		for i := range s.Parts {
			p := &s.Parts[i]
			if bar == 0 || r.IntN(4) == 0 {
				key := r.IntN(15) - 7
				p.Heads = append(p.Heads, score.Head{Bar: bar, Clef: []string{"treble", "bass", ""}[r.IntN(3)], Key: []*int{&key, nil}[r.IntN(2)]})
			}
			if r.IntN(5) == 0 || p.Name == "Timpani" {
				continue
			}
			var notes []score.Note
			for range 1 + r.IntN(2)*r.IntN(3) { // divided
				n, err := pitch.ParseSpelled(chord[r.IntN(len(chord))])
				if err != nil {
					panic(err)
				}
				notes = append(notes, score.Note{Bar: bar, Start: b.Start + after, Length: length, Pitch: n.Note(), Written: n.Note() - pitch.Note(p.Transposition), Spelled: pitch.Written(n, p.Transposition), Voice: "1"})
			}
			sort.Slice(notes, func(i, j int) bool { return notes[i].Pitch < notes[j].Pitch })
			p.Notes = append(p.Notes, notes...)
		}
	}
	return s
}

// TestWideWalk shows, plays, plans and reports made-up pieces for rows of every kind, and keeps a digest of what came
// of it.
func TestWideWalk(t *testing.T) {
	var out strings.Builder
	row := []piece.Chair{{Label: "Trumpet 1", Instrument: "trumpet_bb"}, {Label: "Tenor horn", Instrument: "tenor_horn_eb"}, {Label: "Horn 2", Name: "Bo", Instrument: "horn_f"}, {Label: "Trombone 1", Instrument: "tenor_trombone_bbf"},
		{Label: "Tuba", Instrument: "tuba_bbb"}, {Label: "Trumpet 2", Part: "2nd Trumpet", Instrument: "trumpet_c"}, {Label: "Horn 1", Part: "Horn in Eb", Instrument: "horn_double"}, {Label: "Trombone 2", Part: "Trombone", Instrument: "tenor_trombone_bb"}, {Label: "Odd", Instrument: "nose"}}
	languages := []string{"", "en-US"} // other languages are held by proto/phrase
	for seed := range uint64(30) {
		r := rand.New(rand.NewPCG(seed, 85))
		show := func(what string, x any) {
			text, err := json.MarshalIndent(x, "", " ")
			if err != nil {
				t.Fatal(err)
			}
			for _, line := range strings.Split(string(text), "\n") {
				name, _, _ := strings.Cut(strings.TrimSpace(line), ":")
				if !strings.HasPrefix(name, `"`) || strings.Contains(name, " ") {
					name = "value"
				}
				fmt.Fprintf(&out, "%s-%s %s\n", what, strings.Trim(name, `",`), line)
			}
		}
		p, err := piece.New(madeUp(r), []score.Ticks{score.Held, piece.Quarters(2)}[r.IntN(2)])
		if err != nil {
			fmt.Fprintf(&out, "refused %v\n", err)
			continue
		}
		var chairs []piece.Chair
		for i, c := range row {
			if r.IntN(4) > 0 {
				c.ID, c.Absent = int64(i+1), r.IntN(8) == 0
				chairs = append(chairs, c)
			}
		}
		p = p.Guess(chairs)
		for range 3 {
			q, err := p, error(nil)
			switch r.IntN(3) {
			case 0:
				q, err = p.Seat(int64(1+r.IntN(9)), r.IntN(8)-1)
			case 1:
				q, err = p.For(r.IntN(9)-1, []instrument.ID{"horn_f", "tenor_horn_eb", "nose", "trumpet_c"}[r.IntN(4)], chairs)
			}
			if err != nil {
				fmt.Fprintf(&out, "refused %v\n", err)
				continue
			}
			p = q
		}
		language := languages[seed%2]
		tongue := phrase.Leader.In(language, pitch.Style{})
		show("view", p.ViewIn(chairs, tongue))
		for k := range 6 {
			call, q, err := p.Call(k+r.IntN(2), []string{"", "", "F major"}[r.IntN(3)], chairs)
			if err != nil {
				fmt.Fprintf(&out, "refused %v\n", err)
				continue
			}
			p = q
			show("call", call)
			show("row", p.Row(tongue))
		}
		players := p.AsBuilt(chairs, 65)
		for i := range players {
			players[i].Offset, players[i].Measured = pitch.Cents(9*r.NormFloat64()), r.IntN(2) == 0
		}
		plan, err := p.Plan(piece.Question{Players: players, Note: 65, Good: []pitch.Cents{0, 2, 5}[r.IntN(3)], Tuning: []intonation.Tuning{"", intonation.Just, intonation.Equal, intonation.Keyboard}[r.IntN(4)], Language: language})
		if err != nil {
			fmt.Fprintf(&out, "refused %v\n", err)
		}
		show("plan", plan)
		show("report", p.Report(chairs, &plan))
	}
	golden.Lines(t, "wide.digest", golden.Digest(out.String()))
}
