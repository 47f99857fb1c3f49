package accuracy

import (
	"context"
	"encoding/gob"
	"fmt"
	"math"
	"os"
	"slices"
	"testing"

	"bellrow/node/estimate"
	"bellrow/proto/pitch"
)

type bag struct {
	Solos [2][]gobSolo
}
type gobSolo struct {
	Name     string
	Midi     int
	Samples  []float64
	From, To int
	Truth    float64
}

func cached(t *testing.T) [2][]solo {
	const path = "/tmp/est/solos.gob"
	var b bag
	if f, err := os.Open(path); err == nil {
		if err := gob.NewDecoder(f).Decode(&b); err != nil {
			t.Fatal(err)
		}
		f.Close()
	} else {
		notes, err := render(context.Background(), 1)
		if err != nil {
			t.Skip(err)
		}
		for i, l := range []float64{1, 0.5} {
			for _, s := range solos(notes, l) {
				b.Solos[i] = append(b.Solos[i], gobSolo{s.name, s.midi, s.samples, s.from, s.to, float64(s.truth)})
			}
		}
		f, _ := os.Create(path)
		gob.NewEncoder(f).Encode(&b)
		f.Close()
	}
	var out [2][]solo
	step := 1
	fmt.Sscan(os.Getenv("STEP"), &step)
	for i := range b.Solos {
		for q, s := range b.Solos[i] {
			if q%step != 0 {
				continue
			}
			out[i] = append(out[i], solo{note{s.Name, s.Midi, false, s.Samples}, s.From, s.To, pitch.Hertz(s.Truth)})
		}
	}
	return out
}

func quant(x []float64) string {
	if len(x) == 0 {
		return "-"
	}
	y := slices.Clone(x)
	slices.Sort(y)
	return fmt.Sprintf("n %d med %.4f p90 %.4f p95 %.4f worst %.4f", len(y), y[len(y)/2], y[len(y)*9/10], y[len(y)*95/100], y[len(y)-1])
}

func TestScratch(t *testing.T) {
	all := cached(t)
	for i, l := range []string{"1s", "0.5s"} {
		var offs, zs []float64
		ghosts, cover := 0, 0
		for _, s := range all[i] {
			e, ok := estimate.Whole(s.samples[s.from:s.to], rate, 0)
			if !ok {
				fmt.Println("none", s.name)
				continue
			}
			off := float64(pitch.Between(s.truth, e.Hz))
			if os.Getenv("V") == "solo" {
				fmt.Printf("solo %s %-20s %4d off %8.4f ci %.4f wander %.2f 2nd %v\n", l, s.name, s.from/4800, off, float64(e.CI95), float64(e.Wander), e.Second)
			}
			offs = append(offs, math.Abs(off))
			zs = append(zs, math.Abs(off)/float64(e.CI95))
			if e.Second != nil {
				ghosts++
			}
			if math.Abs(off) <= float64(e.CI95) {
				cover++
			}
		}
		fmt.Println("solo", l, quant(offs), "| z", quant(zs), "| ghosts", ghosts, "cover", float64(cover)/float64(len(offs)))
	}
	for _, level := range []float64{-6, -10} {
		for i, l := range []string{"1s", "0.5s"} {
			for _, offset := range []float64{3, 8, 15} {
				var offs, zs, kept []float64
				caught, cover, two := 0, 0, 0
				for _, m := range mixes(all[i], level, []float64{offset}, 1) {
					e, ok := estimate.Whole(m.samples, rate, 0)
					if !ok {
						fmt.Println("none", m.name)
						continue
					}
					off := float64(pitch.Between(m.truth, e.Hz))
					if os.Getenv("V") == l && math.Abs(off) > 0.3 {
						fmt.Printf("mix %g %g %-40s off %8.4f (nb %.1f) ci %.4f 2nd %+v\n", level, offset, m.name, off, float64(pitch.Between(m.truth, m.neighbour)), float64(e.CI95), e.Second)
					}
					offs = append(offs, math.Abs(off))
					zs = append(zs, math.Abs(off)/float64(e.CI95))
					if math.Abs(off) <= float64(e.CI95) {
						cover++
					}
					if e.CI95 < 0.7 {
						kept = append(kept, math.Abs(off))
					}
					if e.Second != nil {
						two++
					}
					if math.Abs(float64(pitch.Between(m.neighbour, e.Hz))) < math.Abs(off) {
						caught++
					}
				}
				fmt.Printf("mix %g dB %s %g c: %s | caught %d two %d cover %.3f | kept %s\n", level, l, offset, quant(offs), caught, two, float64(cover)/float64(len(offs)), quant(kept))
			}
		}
	}
}
