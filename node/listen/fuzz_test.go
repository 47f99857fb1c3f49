package listen

import (
	"encoding/binary"
	"math"
	"testing"
)

func finite(xs ...float64) bool {
	for _, x := range xs {
		if math.IsNaN(x) || math.IsInf(x, 0) {
			return false
		}
	}
	return true
}

// FuzzWrite feeds any bit patterns in blocks of any length, with gaps.
func FuzzWrite(f *testing.F) {
	f.Add([]byte{}, uint16(100), int64(0))
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0xf8, 0x7f}, uint16(480), int64(7))
	f.Add([]byte{0, 0, 0, 0, 0, 0, 0xe0, 0x3f, 0, 0, 0, 0, 0, 0, 0xe0, 0xbf, 1, 2, 3, 4, 5, 6, 0x10, 0x3f}, uint16(1), int64(-5))
	f.Add([]byte("a text is a sound too, if it is long enough to repeat"), uint16(333), int64(1)<<40)
	f.Fuzz(func(t *testing.T, data []byte, block uint16, lost int64) {
		l, err := New(Config{Rate: 8000})
		if err != nil {
			t.Fatal(err)
		}
		x := make([]float64, 1+int(block)%4000)
		notes := 0
		check := func(events []Event) {
			for _, e := range events {
				if r := e.Reading; r != nil {
					notes++
					if !finite(float64(r.Hz), float64(r.CI95), float64(r.Spread), r.Drift, float64(r.Level), float64(r.Peak), float64(r.Floor), float64(r.Early)) {
						t.Errorf("not finite: %+v", *r)
					}
					if r.End < r.Start || r.Start < r.Onset {
						t.Errorf("stretch out of order: %+v", *r)
					}
				}
			}
		}
		total := 0
		for at := 0; total < 12000; total += len(x) {
			for i := range x {
				var b [8]byte
				for j := range b {
					if len(data) > 0 {
						b[j] = data[at%len(data)]
						at++
					}
				}
				x[i] = math.Float64frombits(binary.LittleEndian.Uint64(b[:]))
			}
			check(l.Write(x))
			if total == 0 && lost < 1<<50 {
				l.Gap(lost)
			}
		}
		check(l.Flush())
		if !finite(float64(l.Level()), float64(l.Floor())) {
			t.Errorf("level %v, floor %v", l.Level(), l.Floor())
		}
		if notes > total/1200+1 {
			t.Errorf("%d readings in %d samples", notes, total)
		}
	})
}
