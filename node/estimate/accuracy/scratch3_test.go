package accuracy

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"bellrow/node/estimate"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

func TestCalib(t *testing.T) {
	for _, l := range []float64{1, 0.5} {
		for _, snr := range []float64{200, 20, 10} {
			r := rand.New(rand.NewPCG(5, 6))
			var offs, zs, ratio []float64
			cover, cnt := 0, 0
			for i := range 60 {
				hz := 29 * math.Pow(1000.0/29, r.Float64())
				c := tone.Config{Rate: rate, F0: pitch.Hertz(hz), Level: -20, Voice: tone.Voice(1 + i%5), Seed: uint64(i)}
				tn, _ := tone.New(c)
				x := make([]float64, int(l*rate))
				tn.Read(x)
				sd := math.Pow(10, -20.0/20) / math.Sqrt2 * math.Pow(10, -snr/20)
				for j := range x {
					x[j] += sd * r.NormFloat64()
				}
				e, ok := estimate.Whole(x, rate, 0)
				if !ok {
					fmt.Println("none", hz, c.Voice)
					continue
				}
				off := math.Abs(float64(pitch.Between(c.F0, e.Hz)))
				if off > 1 {
					fmt.Println("gross", hz, c.Voice, off, e)
				}
				offs = append(offs, off)
				zs = append(zs, off/float64(e.CI95))
				cnt++
				if off <= float64(e.CI95) {
					cover++
				}
				_ = ratio
			}
			fmt.Printf("calib %g s %g dB: %s | z %s cover %.3f\n", l, snr, quant(offs), quant(zs), float64(cover)/float64(cnt))
		}
	}
}
