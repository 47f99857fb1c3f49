package access

import (
	"context"
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
		served := 0
		for range 10000 {
			go func() {
				if g.queue(gone) {
					served++
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
		if d := time.Since(began); served > linePlaces || d > 3*lineTime {
			t.Errorf("%d of those who left were served, 8 others waited %v", served, d)
		}
		time.Sleep(time.Second)
	})
}
