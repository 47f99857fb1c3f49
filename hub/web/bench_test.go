package web_test

import (
	"math"
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"bellrow/hub/show"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

const bigSection = 120 // chairs

// timed makes the page time, and so count, each message it handles.
const timed = `window.costs = [];
const set = Object.getOwnPropertyDescriptor(WebSocket.prototype, "onmessage").set;
Object.defineProperty(WebSocket.prototype, "onmessage", { set(f) {
	set.call(this, (e) => { const t = performance.now(); f(e); window.costs.push(performance.now() - t); });
} });`

// BenchmarkFirstPaint opens the row with 120 chairs as the leader does, from
// the join page, for the first time or again. chairs-ms is when the chairs
// in the window were on the screen, since navigation began; first-ms when
// anything was.
func BenchmarkFirstPaint(b *testing.B) {
	for _, visit := range []string{"first", "again"} {
		b.Run(visit, func(b *testing.B) {
			br := browser.Open(b)
			br.Size(1366, 768)
			br.WatchPaint("li.line .label")
			url := serve(b, webtest.New(bigSection, webtest.Midway), webtest.Guard{})
			br.Go(url + "/row")
			var first, chairs []float64
			for b.Loop() {
				br.Go(url + "/")
				if visit == "first" {
					br.ForgetFiles()
				}
				f, c := br.Paints(url+"/row", "document.querySelectorAll('li.line').length === 120")
				first, chairs = append(first, f), append(chairs, c)
			}
			b.ReportMetric(median(first), "first-ms")
			b.ReportMetric(median(chairs), "chairs-ms")
			b.ReportMetric(slices.Max(chairs), "chairs-max-ms")
		})
	}
}

// BenchmarkUpdate pushes rows of 120 chairs in which one chair or all of them
// have changed, and takes from the browser's trace what each cost the page:
// script-ms and script-p99-ms are the processor's time in scripting, which
// other programs do not lengthen; script-wall-p99-ms is by the clock;
// layout+paint-ms is what the browser's main thread did with it.
func BenchmarkUpdate(b *testing.B) {
	for _, all := range []bool{false, true} {
		name := "one"
		if all {
			name = "all"
		}
		b.Run(name, func(b *testing.B) {
			br := browser.Open(b)
			br.Size(1366, 768)
			h := webtest.New(bigSection, webtest.Midway)
			br.Go(fast(b, h) + "/row")
			br.Until("the row", "document.querySelectorAll('li.line').length === 120")
			spans := br.Trace(func() {
				for n := 1; b.Loop(); n++ {
					h.Set(func(r *show.Row) { change(r, n, all) })
					time.Sleep(20 * time.Millisecond)
				}
			})
			reportUpdates(b, spans)
		})
	}
}

// afterScript are the browser's steps from a changed document to a picture.
var afterScript = []string{"UpdateLayoutTree", "Layout", "PrePaint", "Paint", "Layerize"}

func reportUpdates(b *testing.B, spans []browser.Span) {
	ms := func(d time.Duration) float64 { return d.Seconds() * 1000 }
	var cpu, wall []float64
	after := 0.0
	for _, s := range spans {
		switch {
		case s.Function == "socket.onmessage": // feed.js
			cpu, wall = append(cpu, ms(s.CPU)), append(wall, ms(s.Wall))
		case slices.Contains(afterScript, s.Name):
			after += ms(s.CPU)
		}
	}
	if len(cpu) == 0 {
		b.Fatal("the trace holds no message handled by the page")
	}
	b.ReportMetric(median(cpu), "script-ms")
	b.ReportMetric(p99(cpu), "script-p99-ms")
	b.ReportMetric(p99(wall), "script-wall-p99-ms")
	b.ReportMetric(after/float64(len(cpu)), "layout+paint-ms")
}

func p99(xs []float64) float64 {
	xs = slices.Sorted(slices.Values(xs))
	return xs[len(xs)*99/100]
}

// BenchmarkHeap is two hours of use in a row of 120 chairs, a row each
// second, pushed as fast as the page takes them: heap-growth-kB is the script
// heap after the second hour over that after the first.
func BenchmarkHeap(b *testing.B) {
	const hour = 3600
	for b.Loop() {
		u := watched(b)
		first, second := u.see(hour), u.see(hour)
		b.ReportMetric(float64(u.seen), "rows")
		b.ReportMetric(second.heap/1024, "heap-kB")
		b.ReportMetric((second.heap-first.heap)/1024, "heap-growth-kB")
		b.ReportMetric(second.nodes-first.nodes, "node-growth")
	}
}

// TestHeapIsFlat is ten minutes of the same, after ten to settle.
func TestHeapIsFlat(t *testing.T) {
	const (
		tenMinutes = 600 // rows, which reach a slow page as fewer
		fewest     = 60  // rows that say something
		// mostHeap is twice what collections were seen to leave by chance; a
		// row has 70 kB, and some hundreds are seen.
		mostHeap = 1 << 20
		// mostNodes are the answers of one row, replaced and not collected yet.
		mostNodes = 9 * bigSection
	)
	u := watched(t)
	first, second := u.see(tenMinutes), u.see(tenMinutes)
	for range 30 { // what leaks stays; the browser frees the rest when it has time
		if second.heap-first.heap <= mostHeap && second.nodes-first.nodes <= mostNodes {
			break
		}
		time.Sleep(time.Second)
		now := u.held()
		second = held{min(second.heap, now.heap), min(second.nodes, now.nodes)}
	}
	t.Logf("%d rows seen, heap %.0f then %.0f kB", u.seen, first.heap/1024, second.heap/1024)
	if second.heap-first.heap > mostHeap {
		t.Errorf("the heap grew from %.0f to %.0f kB", first.heap/1024, second.heap/1024)
	}
	if second.nodes-first.nodes > mostNodes {
		t.Errorf("the page grew from %g to %g nodes", first.nodes, second.nodes)
	}
	if u.seen < fewest {
		t.Errorf("the page was sent %d rows, need %d", u.seen, fewest)
	}
}

// use is a page that a leader leaves open.
type use struct {
	br     *browser.Browser
	hub    *webtest.Hub
	pushed int // rows by the hub
	seen   int // rows by the page, which get to be one when it is slower
}

type held struct{ heap, nodes float64 }

func watched(t testing.TB) *use {
	u := &use{br: browser.Open(t), hub: webtest.New(bigSection, webtest.Midway)}
	u.br.Inject(timed)
	u.br.Go(fast(t, u.hub) + "/row")
	u.br.Until("the row", "document.querySelectorAll('li.line').length === 120")
	return u
}

// see pushes rows, in a tenth of which every chair has changed, and returns
// what the page then holds.
func (u *use) see(rows int) held {
	for range rows {
		u.pushed++
		u.hub.Set(func(r *show.Row) { change(r, u.pushed, u.pushed%10 == 0) })
		time.Sleep(3 * time.Millisecond)
	}
	u.br.Until("the last row", "window.costs.length > 0")
	u.seen += browser.Eval[int](u.br, "window.costs.splice(0).length")
	return u.held()
}

// held collects what the page has left behind and returns what stays.
func (u *use) held() held {
	out := held{math.Inf(1), math.Inf(1)}
	for range 5 { // what one collection frees may hold more; what leaks stays
		out.heap = min(out.heap, u.br.Heap())
		out.nodes = min(out.nodes, u.br.Metrics()["Nodes"])
	}
	return out
}

// change gives one chair, or all, another reading.
func change(r *show.Row, n int, all bool) {
	for i := range r.Chairs {
		if !all && i != n%len(r.Chairs) {
			continue
		}
		cents, ci := float64((n+i)%40-20), 2.0
		c := &r.Chairs[i]
		c.State, c.Verdict, c.Words, c.Headline = "heard", "out", "heard", "Move the main slide."
		c.Cents, c.CI = &cents, &ci
		m := c.Slides[0]
		m.ToMM = m.FromMM + float64((n+i)%19-9)
		c.Moves = append(c.Moves[:0:0], m)
	}
}

// fast serves without the pause between rows.
func fast(t testing.TB, h web.Hub) string {
	t.Helper()
	s, err := web.New(web.Config{Hub: h, Guard: webtest.Guard{}, Catalogue: catalogue, FeedEvery: time.Millisecond})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(srv.Close)
	return srv.URL
}

func median(xs []float64) float64 {
	xs = slices.Sorted(slices.Values(xs))
	return xs[len(xs)/2]
}

// BenchmarkBoard lays a row of 120 chairs out, as for each viewer.
func BenchmarkBoard(b *testing.B) {
	h := webtest.New(bigSection, webtest.Midway)
	row, section := h.Row(), h.Section()
	b.ReportAllocs()
	for b.Loop() {
		web.NewBoard(row, section)
	}
}
