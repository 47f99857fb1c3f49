package access

import (
	"context"
	"sync/atomic"
	"testing"
	"testing/synctest"
	"time"
)

// Strangers who ask for pages without end wait in line; those who leave it
// take nobody's turn along, and whoever stays is served.
func TestStrangersWaitInLine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		g := guard(t, Config{})
		for range pagesAtOnce {
			if !g.queue(t.Context()) {
				t.Fatal("a section that opens its pages has to wait")
			}
		}
		gone, leave := context.WithCancel(t.Context())
		var served atomic.Int64
		for range 10000 {
			go func() {
				if g.queue(gone) {
					served.Add(1)
				}
			}()
		}
		synctest.Wait()
		leave()
		synctest.Wait()
		began := time.Now()
		for range 8 {
			if !g.queue(t.Context()) {
				t.Fatal("sent away")
			}
		}
		if d := time.Since(began); served.Load() > linePlaces || d > 3*lineTime {
			t.Errorf("%d of those who left were served, 8 others waited %v", served.Load(), d)
		}
		time.Sleep(time.Second)
	})
}
