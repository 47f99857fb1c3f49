package accuracy

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"testing"
	"time"

	"bellrow/node/estimate"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

func natural(seed uint64, hz float64, voice tone.Voice, room bool, wander float64) solo {
	c := tone.Config{Rate: rate, F0: pitch.Hertz(hz), Level: -22, Voice: voice, Seed: seed, Wander: pitch.Cents(wander)}
	if room {
		c.Room = &tone.Room{Decay: 0.5, WetDB: -10}
	}
	tn, _ := tone.New(tone.Natural(c))
	x := make([]float64, 3*rate)
	tn.Read(x)
	return solo{note{name: fmt.Sprintf("nat%d_%.0f", seed, hz), midi: int(69 + 12*math.Log2(hz/440)), samples: x}, rate, 0, 0}.with(tn)
}

func (s solo) with(tn *tone.Tone) solo {
	s.to = s.from + s.midiLen()
	t, _ := tn.Truth(int64(s.from), int64(s.to))
	s.truth = t
	return s
}

var natLen = rate

func (s solo) midiLen() int { return natLen }

func TestNatural(t *testing.T) {
	n := 40
	wanders := []float64{0.01, 1.2, 2.5}
	if os.Getenv("V") == "mix" {
		wanders = []float64{1.2}
	}
	fmt.Sscan(os.Getenv("N"), &n)
	for _, l := range []int{rate, rate / 2} {
		natLen = l
		rooms := []bool{false, true}
		if os.Getenv("V") == "mix" {
			rooms = []bool{true}
		}
		for _, room := range rooms {
			for _, wander := range wanders {
				r := rand.New(rand.NewPCG(1, 2))
				var ss []solo
				for i := range n {
					hz := 43 * math.Pow(2, 4.4*r.Float64())
					v := tone.Trumpet
					switch {
					case hz < 110:
						v = tone.Tuba
					case hz < 250:
						v = []tone.Voice{tone.Trombone, tone.Horn, tone.Euphonium}[i%3]
					case hz < 400:
						v = []tone.Voice{tone.Trumpet, tone.Horn}[i%2]
					}
					ss = append(ss, natural(uint64(i+1), hz, v, room, wander))
				}
				var offs, zs, lens []float64
				ghosts := 0
				cover := 0
				for _, s := range ss {
					t0 := time.Now()
					e, ok := estimate.Whole(s.samples[s.from:s.to], rate, 0)
					lens = append(lens, float64(time.Since(t0).Milliseconds()))
					if !ok {
						fmt.Println("none", s.name)
						continue
					}
					off := float64(pitch.Between(s.truth, e.Hz))
					if os.Getenv("V") == "nat" {
						fmt.Printf("%-20s off %8.4f ci %.4f wander %.2f 2nd %+v\n", s.name, off, float64(e.CI95), float64(e.Wander), e.Second)
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
				fmt.Printf("natural %d room %v wander %.2f %s z %s ghosts %d cover %.3f  ms %s\n", l, room, wander, quant(offs), quant(zs), ghosts, float64(cover)/float64(len(offs)), quant(lens))
				for _, level := range []float64{-6, -10} {
					for _, offset := range []float64{3, 8, 15} {
						var offs, zs, kept []float64
						caught, cover, two := 0, 0, 0
						for _, m := range mixes(ss, level, []float64{offset}, 1) {
							e, ok := estimate.Whole(m.samples, rate, 0)
							if !ok {
								fmt.Println("none", m.name)
								continue
							}
							off := float64(pitch.Between(m.truth, e.Hz))
							if os.Getenv("V") == "mix" {
								sec := estimate.Second{}
								if e.Second != nil {
									sec = *e.Second
								}
								bad := " "
								if math.Abs(off) > 0.3 {
									bad = "BAD"
								}
								fmt.Printf("%s %g %g %-22s f %.0f off %8.4f ci %.4f wander %.2f left %.1f 2nd %.2f %.1f (nb %.2f)\n", bad, level, offset, m.name, float64(m.truth), off, float64(e.CI95), float64(e.Wander), 10*math.Log10(e.Unexplained), float64(sec.Offset), sec.LevelDB, float64(pitch.Between(m.truth, m.neighbour)))
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
						fmt.Printf("   mix %g dB %g c: %s | z %s caught %d two %d cover %.3f | kept %s\n", level, offset, quant(offs), quant(zs), caught, two, float64(cover)/float64(max(1, len(offs))), quant(kept))
					}
				}
			}
		}
	}
}
