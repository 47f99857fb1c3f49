package browser

import (
	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/heapprofiler"
	"github.com/chromedp/cdproto/page"
	"github.com/chromedp/cdproto/performance"
	"github.com/chromedp/chromedp"
)

// Metrics returns the browser's own counters of this tab (Performance domain
// of the DevTools protocol): "ScriptDuration", "LayoutDuration" and
// "RecalcStyleDuration" in seconds since the tab began, "JSHeapUsedSize" in
// bytes, "Nodes" and "JSEventListeners".
func (b *Browser) Metrics() map[string]float64 {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, performance.Enable, performance.EnableParams{}); err != nil {
		b.t.Fatalf("browser: metrics: %v", err)
	}
	got, err := chromedp.Call(b.ctx, performance.GetMetrics, cdp.Empty{})
	if err != nil {
		b.t.Fatalf("browser: metrics: %v", err)
	}
	out := map[string]float64{}
	for _, m := range got.Metrics {
		out[m.Name] = m.Value
	}
	return out
}

// Heap returns the bytes in use on the script heap after a collection.
func (b *Browser) Heap() float64 {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, heapprofiler.CollectGarbage, cdp.Empty{}); err != nil {
		b.t.Fatalf("browser: collecting garbage: %v", err)
	}
	return b.Metrics()["JSHeapUsedSize"]
}

// Paints opens an address and returns, in milliseconds since navigation
// began, the first contentful paint (Paint Timing, W3C) and the last largest
// contentful paint (Largest Contentful Paint, W3C) after the expression became
// true: when what matters most on the page was on the screen.
func (b *Browser) Paints(address, ready string) (first, largest float64) {
	b.t.Helper()
	b.Go(address)
	b.Until("paint", ready)
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[[]float64](`new Promise(done => {
		let largest = 0;
		new PerformanceObserver(l => { for (const e of l.getEntries()) largest = e.startTime; })
			.observe({type: "largest-contentful-paint", buffered: true});
		setTimeout(() => done([performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? -1, largest]), 400);
	})`, chromedp.EvalAwaitPromise))
	if err != nil {
		b.t.Fatalf("browser: paint: %v", err)
	}
	return v[0], v[1]
}

// Inject runs a script in every page that is opened from now on, before its own.
func (b *Browser) Inject(script string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
	if err != nil {
		b.t.Fatalf("browser: %v", err)
	}
}
