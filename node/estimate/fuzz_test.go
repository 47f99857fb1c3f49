package estimate

import (
	"encoding/binary"
	"math"
	"testing"
)

// wild makes samples of any bit pattern out of bytes, with the rest filled by
// repeating them, so that a short input still makes a long stretch.
func wild(data []byte, n int) []float64 {
	x := make([]float64, n)
	for i := range x {
		var b [8]byte
		for j := range b {
			if len(data) > 0 {
				b[j] = data[(8*i+j)%len(data)]
			}
		}
		x[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[:]))
	}
	return x
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

func FuzzWhole(f *testing.F) {
	f.Add([]byte{}, 48000.0)
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0xf8, 0x7f}, 48000.0)                         // NaN
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0xf0, 0x7f, 1, 2, 3, 4, 5, 6, 7, 8}, 44100.0) // infinite
	f.Add([]byte{0xff, 0xff, 0xff, 0xff, 0xff, 0xff, 0xef, 0x7f, 0, 0, 0, 0, 0, 0, 0xe0, 0xbf}, 8000.0)
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0xe0, 0x3f, 0, 0, 0, 0, 0, 0, 0xe0, 0xbf}, 96000.0)
	f.Fuzz(func(t *testing.T, data []byte, rate float64) {
		if !(rate >= 8000 && rate <= 192000) {
			rate = 48000
		}
		e, ok := Whole(wild(data, 6000), rate, Options{ClockPPM: 50})
		if !finite(float64(e.Hz)) || !finite(float64(e.CI95)) || !finite(float64(e.Wander)) {
			t.Errorf("not finite: %+v", e)
		}
		if ok && !(e.Hz > 0 && e.CI95 >= 0) {
			t.Errorf("estimate %+v is none", e)
		}
	})
}
