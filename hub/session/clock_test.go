package session_test

import (
	"testing"
	"time"

	"bellrow/hub"
)

// TestClockIsSet sets the laptop's clock in the midst of a tune-up, far back
// and forth, as a time server or a person does, with and without a new
// tune-up while it was wrong. A hub that opens again afterwards goes on where
// it was: everything is there, in the order in which it was played.
func TestClockIsSet(t *testing.T) {
	for _, fresh := range []bool{false, true} {
		for _, by := range []time.Duration{-9 * time.Hour, -time.Minute, 2 * time.Hour} {
			b := newBench(t)
			tuba, horn, trumpet := b.trio()
			same := func(when string) {
				t.Helper()
				before := b.hub.Summary()
				b.restart(tuba, horn, trumpet)
				if after := b.hub.Summary(); !equal(after, before) {
					t.Errorf("clock set by %v, %s: summary\n%+v, before the restart\n%+v", by, when, after, before)
				}
			}
			b.call("F4")
			if fresh {
				b.now = b.now.Add(time.Second)
				b.do(hub.Command{Do: hub.DoFresh})
				b.call("F4")
			}
			tuba.play(20)
			horn.play(-14)
			b.now = b.now.Add(by)
			trumpet.play(9)
			same("in the round")
			b.call("Bb4")
			tuba.play(1)
			same("in the next round")
			horn.play(2)
			b.now = b.now.Add(-by)
			trumpet.play(3)
			same("when it was put right")
		}
	}
}

// TestTheMorningIsOver opens the hub again in the evening, twice: what was
// played in the morning belongs to neither.
func TestTheMorningIsOver(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.call("Bb4")
	tuba.play(20)
	b.now = b.now.Add(7 * time.Hour)
	for range 2 {
		b.restart(tuba, horn, trumpet)
		if n := b.hub.Summary().Rounds; n != 0 {
			t.Errorf("%d rounds of this tune-up, want none", n)
		}
	}
	b.call("Bb4")
	tuba.play(3)
	b.restart(tuba, horn, trumpet)
	if n := b.hub.Summary().Rounds; n != 1 {
		t.Errorf("%d rounds of this tune-up after a restart, want 1", n)
	}
}
