package history

import (
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"bellrow/hub/slide"
	"bellrow/proto/pitch"
	"bellrow/testdata/golden"
)

// TestWalk writes down what the records of made-up sections show.
func TestWalk(t *testing.T) {
	var out strings.Builder
	said := map[string]bool{} // what people are told
	for seed := range uint64(24) {
		r := rand.New(rand.NewPCG(seed, 51))
		one := func(xs ...float64) float64 { return xs[r.IntN(len(xs))] }
		days := int(one(3, 5, 9, 16))
		room := make([]float64, days)
		for d := range room {
			room[d] = 5 * r.NormFloat64()
		}
		var players []Player
		for i := range int(one(3, 6)) {
			p := Player{Label: fmt.Sprint("Chair ", i+1)}
			early, drift, cold, loud, moved, wander, up := one(0, 0, 7, 12), one(0, 0, -2, -4), one(0, 0, 6, 15), one(0, 0, 2.6, 5), one(1, 1, 0.6, 0.2), one(0.5, 1, 8), one(0, 0, 7, -9)
			place := wander * r.NormFloat64()
			for d := range days {
				place = 0.5*place + wander*r.NormFloat64()
				begin := first.AddDate(0, 0, d)
				main := 12 + float64(r.IntN(4)) + one(0, 0, 0, 10)
				p.Settings = append(p.Settings, Setting{At: begin, MM: main}, Setting{At: begin.Add(time.Minute), MM: main + one(0, 2)})
				for k := range 9 {
					h := float64(k) * one(0.1, 0.2)
					x := Reading{At: begin.Add(time.Duration(h * float64(time.Hour))), Note: pitch.Note(53 + r.IntN(3)), Level: pitch.Level(-20 + 6*r.NormFloat64()), Watch: k > 3,
						Early: pitch.Cents(early + 2*r.NormFloat64()), Drift: drift + 0.4*r.NormFloat64(), Lead: 1.2, Played: 20 + 150*float64(k), MainMM: main, UsualMM: 13, CentsPerMM: -2, Theory: pitch.Cents(one(0, 0, 2))}
					own := place + room[d] + loud*float64(x.Level+20)/10 + up*h + 3*float64(x.Note%3) + 1.5*r.NormFloat64() + one(0, 0, 0, 0, 0, 0, 0, 0, 0, 40)
					if x.Played < 60 {
						own -= cold
					}
					if r.IntN(6) == 0 {
						x.Mute = slide.Mutes[r.IntN(len(slide.Mutes))]
						own += 4
					}
					x.Offset = pitch.Cents(own-2*(main-13)) + x.Theory
					p.Readings = append(p.Readings, x)
				}
				if r.IntN(2) == 0 {
					e := one(-15, 10, 6, -4)
					p.Moves = append(p.Moves, Move{At: begin, Expected: pitch.Cents(e), Measured: pitch.Cents(e*moved + 2*r.NormFloat64())})
				}
			}
			players = append(players, p)
		}
		s := SectionOf(players)
		fmt.Fprintf(&out, "section %d of %d over %d days, wander %.5f\n", seed, len(players), days, s.wander)
		for _, d := range sorted(s.Common) {
			fmt.Fprintf(&out, "  day %d common %.5f drift %.5f\n", d, s.Common[d], s.drift[d])
		}
		for _, p := range players {
			tr := TrendOf(p, s.Common)
			fmt.Fprintf(&out, "  %s: %g to %g of %d today %g away %.5f\n", p.Label, tr.Low, tr.High, tr.From, tr.Today, tr.Away)
			said[tr.Words] = true
			recent := p.recent()
			fmt.Fprintf(&out, "    days %.5f firsts %.5f\n", recent.days(s.Common), recent.firsts(s.Common))
			for _, look := range looks {
				f, found := look(recent, s)
				fmt.Fprintf(&out, "    %s %t %.5f ( %.5f to %.5f ) %d %s\n", f.Habit, found, f.Evidence.Mean, f.Evidence.Low, f.Evidence.High, f.Evidence.N, f.Unit)
				if found {
					said[fmt.Sprintf("%s: %s %s", f.Habit, f.Words, f.Try)] = true
				}
			}
			for _, m := range slide.Mutes {
				if e := MuteShift(p, m); e.CI95 > 0 {
					fmt.Fprintf(&out, "    %s %.5f ± %.5f\n", m, float64(e.Cents), float64(e.CI95))
				}
			}
			ts := p.tendencies()
			for _, n := range sorted(ts) {
				fmt.Fprintf(&out, "    note %v %.5f\n", n, ts[n])
			}
		}
		from := first.AddDate(0, 0, days-1)
		w := WatchOf(players, from, from.Add(2*time.Hour))
		for _, words := range w.Words {
			said[words] = true
		}
		for _, m := range w.Section {
			fmt.Fprintf(&out, "    minute %d %.5f of %d\n", m.Minute, m.Cents, m.Notes)
		}
		for _, c := range w.Chairs {
			fmt.Fprintf(&out, "    %s %d %.5f ( %.5f to %.5f ) move %.5f\n", c.Label, c.Notes, c.Own.Mean, c.Own.Low, c.Own.High, c.MoveMM)
			said[c.Words] = true
		}
	}
	golden.Lines(t, "walk.txt", out.String())
	golden.Lines(t, "said.txt", strings.Join(sorted(said), "\n")+"\n")
}
