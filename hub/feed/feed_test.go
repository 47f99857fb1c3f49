package feed_test

import (
	"sync"
	"testing"

	"bellrow/hub/feed"
)

// news is whether a feed has news, and whether there can be no more.
func news(f *feed.Feed[int]) (told, over bool) {
	select {
	case _, open := <-f.C():
		return open, !open
	default:
		return false, false
	}
}

// TestAReaderSeesTheLatest: the first value is news; whatever comes while the reader is busy is one news, and what is read
// then is the latest.
func TestAReaderSeesTheLatest(t *testing.T) {
	value := 1
	f := feed.New(func() int { return value }, func(*feed.Feed[int]) {})
	for busy := range 4 {
		if told, over := news(f); !told || over || f.Get() != value {
			t.Errorf("after %d changes: news %t, over %t, the value %d of %d", busy, told, over, f.Get(), value)
		}
		if told, over := news(f); told || over {
			t.Errorf("after %d changes there is news twice", busy)
		}
		for range busy + 1 {
			value++
			f.Poke()
		}
	}
}

// TestAnEndIsAnEnd: a feed that has ended tells that there is no more, whatever comes, and says so once and for all; its
// last value can still be read. Closing it stops it, as often as it is closed.
func TestAnEndIsAnEnd(t *testing.T) {
	for name, end := range map[string]func(*feed.Feed[int]){"ended": (*feed.Feed[int]).End, "closed": (*feed.Feed[int]).Close} {
		stopped := 0
		var f *feed.Feed[int]
		f = feed.New(func() int { return 7 }, func(g *feed.Feed[int]) {
			if stopped++; g != f {
				t.Error("another is stopped")
			}
		})
		news(f)
		for try := range 3 {
			end(f)
			f.Poke()
			if told, over := news(f); told || !over || f.Get() != 7 {
				t.Errorf("%s %d times: news %t, over %t", name, try+1, told, over)
			}
		}
		if want := map[string]int{"closed": 3}[name]; stopped != want {
			t.Errorf("%s: stopped %d times", name, stopped)
		}
	}
}

// TestPokedByMany: nobody who has news waits for the reader, or for one another.
func TestPokedByMany(t *testing.T) {
	f := feed.New(func() int { return 0 }, func(*feed.Feed[int]) {})
	var all sync.WaitGroup
	for i := range 16 {
		all.Go(func() {
			for range 100 {
				f.Poke()
			}
			if i == 7 {
				f.End()
			}
		})
	}
	all.Wait()
	news(f)
	if _, over := news(f); !over {
		t.Error("it goes on after its end")
	}
}
