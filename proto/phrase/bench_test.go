package phrase_test

import (
	"testing"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// BenchmarkSay is one sentence with figures: of plain text, and by plural.
func BenchmarkSay(b *testing.B) {
	for _, tag := range []string{"en-GB", "de"} {
		t := phrase.Player.In(tag, pitch.Style{})
		b.Run(tag+"/plain", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				t.Say("view.idle")
			}
		})
		b.Run(tag+"/figures", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				t.Say("move.from", 12, 18)
			}
		})
		b.Run(tag+"/plural", func(b *testing.B) {
			b.ReportAllocs()
			for b.Loop() {
				t.Say("unit.cents", 12)
			}
		})
	}
}
