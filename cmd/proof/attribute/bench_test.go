package attribute

import (
	"fmt"
	"testing"

	"bellrow/hub/attribute"
)

// BenchmarkFit is the cost at the hub of one window of a second.
func BenchmarkFit(b *testing.B) {
	for _, n := range []int{4, 8, 16, 32} {
		b.Run(fmt.Sprintf("chairs=%d", n), func(b *testing.B) {
			take, err := Scene{Chairs: n, RT60: 0.8, Seconds: 1, Rate: 16000, PPM: 50, Seed: 1}.Play()
			if err != nil {
				b.Fatal(err)
			}
			b.ReportAllocs()
			for b.Loop() {
				attribute.Fit(take.Input)
			}
		})
	}
}
