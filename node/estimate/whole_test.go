package estimate

import (
	"fmt"
	"math"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

func TestWholeSteady(t *testing.T) {
	for _, f := range []float64{29.1, 58.27, 116.54, 233.08, 466.2, 698.4, 932.3} {
		for v := tone.Plain; v <= tone.Tuba; v++ {
			t.Run(fmt.Sprintf("%g/%d", f, v), func(t *testing.T) {
				tn, err := tone.New(tone.Config{Rate: 48000, F0: pitch.Hertz(f * 1.0017), Level: -20, Voice: v, Seed: uint64(v)})
				if err != nil {
					t.Fatal(err)
				}
				x := make([]float64, 48000)
				tn.Read(x)
				e, ok := Whole(x, 48000, Options{})
				if !ok {
					t.Fatal("no estimate")
				}
				off := float64(pitch.Between(pitch.Hertz(f*1.0017), e.Hz))
				if math.Abs(off) > 0.001 {
					t.Errorf("off by %.5f cents ± %.5f", off, e.CI95)
				}
			})
		}
	}
}
