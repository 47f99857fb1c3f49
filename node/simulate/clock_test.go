package simulate

import (
	"testing"
	"time"
)

// An alarm rings when its time has come, not before, whatever steps the time
// goes in; and time stands still where nobody drives it.
func TestClockRingsWhenDue(t *testing.T) {
	begun := time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)
	c := NewClock(begun)
	rang := func(ch <-chan time.Time) (at time.Duration, ok bool) {
		select {
		case x := <-ch:
			return x.Sub(begun), true
		default:
			return 0, false
		}
	}
	now, soon, late := c.After(0), c.After(30*time.Millisecond), c.After(time.Second)
	if _, ok := rang(now); !ok {
		t.Error("an alarm for now has not rung")
	}
	for range 2 {
		c.Pass(10 * time.Millisecond)
		if _, ok := rang(soon); ok {
			t.Fatalf("an alarm for 30 ms rang at %v", c.Now().Sub(begun))
		}
	}
	c.Pass(10 * time.Millisecond)
	if at, ok := rang(soon); !ok || at != 30*time.Millisecond {
		t.Errorf("an alarm for 30 ms rang (%v) at %v", ok, at)
	}
	c.Pass(5 * time.Second)
	if at, ok := rang(late); !ok || at != 5030*time.Millisecond {
		t.Errorf("an alarm for 1 s rang (%v) at %v", ok, at)
	}
	if n := len(c.waiting); n != 0 {
		t.Errorf("%d alarms are kept after they rang", n)
	}
}
