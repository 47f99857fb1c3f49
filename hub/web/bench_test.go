package web_test

import (
	"net/http/httptest"
	"slices"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

const bigSection = 120 // chairs

// timed makes the page time each message it handles.
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
// have changed. script-ms is the page's scripting for each, style+layout-ms
// what the browser did with it.
func BenchmarkUpdate(b *testing.B) {
	for _, all := range []bool{false, true} {
		name := "one"
		if all {
			name = "all"
		}
		b.Run(name, func(b *testing.B) {
			br := browser.Open(b)
			br.Inject(timed)
			br.Size(1366, 768)
			h := webtest.New(bigSection, webtest.Midway)
			br.Go(fast(b, h) + "/row")
			br.Until("the row", "document.querySelectorAll('li.line').length === 120")
			browser.Eval[bool](br, "window.costs.length = 0; true")
			before, n := br.Metrics(), 0
			for b.Loop() {
				n++
				h.Set(func(r *hub.Row) { change(r, n, all) })
				time.Sleep(20 * time.Millisecond)
			}
			br.Until("the last row", "window.costs.length > 0")
			after, costs := br.Metrics(), browser.Eval[[]float64](br, "window.costs")
			slices.Sort(costs)
			b.ReportMetric(median(costs), "script-ms")
			b.ReportMetric(costs[len(costs)*99/100], "script-p99-ms")
			work := after["LayoutDuration"] + after["RecalcStyleDuration"] - before["LayoutDuration"] - before["RecalcStyleDuration"]
			b.ReportMetric(1000*work/float64(len(costs)), "style+layout-ms")
		})
	}
}

// BenchmarkHeap is two hours of use in a row of 120 chairs, a row each
// second, pushed as fast as the page takes them: heap-growth-kB is the script
// heap after the second hour over that after the first.
func BenchmarkHeap(b *testing.B) {
	const hour = 3600
	for b.Loop() {
		br := browser.Open(b)
		br.Inject(timed)
		h := webtest.New(bigSection, webtest.Midway)
		br.Go(fast(b, h) + "/row")
		br.Until("the row", "document.querySelectorAll('li.line').length === 120")
		run := func(from int) (heap, nodes float64) {
			for n := range hour {
				h.Set(func(r *hub.Row) { change(r, from+n, n%10 == 0) })
				time.Sleep(3 * time.Millisecond)
			}
			br.Until("the hour's last row", "window.costs.length > 0")
			browser.Eval[bool](br, "window.rows = (window.rows ?? 0) + window.costs.length; window.costs.length = 0; true")
			return br.Heap(), br.Metrics()["Nodes"]
		}
		first, nodes1 := run(0)
		second, nodes2 := run(hour)
		b.ReportMetric(browser.Eval[float64](br, "window.rows"), "rows")
		b.ReportMetric(second/1024, "heap-kB")
		b.ReportMetric((second-first)/1024, "heap-growth-kB")
		b.ReportMetric(nodes2-nodes1, "node-growth")
	}
}

// change gives one chair, or all, another reading.
func change(r *hub.Row, n int, all bool) {
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
