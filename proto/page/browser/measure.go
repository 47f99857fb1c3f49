package browser

import (
	"fmt"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/heapprofiler"
	"github.com/chromedp/cdproto/network"
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

// WatchPaint makes the browser time when the text of elements that match the
// selector is painted, for Paints, on every page that is opened from now on.
func (b *Browser) WatchPaint(selector string) {
	b.t.Helper()
	b.Inject(fmt.Sprintf(`window.paints = [];
new PerformanceObserver(l => paints.push(...l.getEntries().map(e => e.startTime))).observe({type: "element", buffered: true});
new MutationObserver(() => document.querySelectorAll(%q).forEach(e => e.setAttribute("elementtiming", "watched")))
	.observe(document, {childList: true, subtree: true});`, selector+":not([elementtiming])"))
}

// Paints opens an address and returns, in milliseconds since navigation
// began, the first contentful paint (Paint Timing, W3C), and when the last of
// the watched elements in the window was painted (Element Timing, WICG). The
// largest contentful paint would not do: an element whose text is replaced
// counts with its first text.
func (b *Browser) Paints(address, ready string) (first, watched float64) {
	b.t.Helper()
	b.Go(address)
	b.Until("paint", ready)
	b.Until("paint of what is watched", "window.paints?.length > 0")
	v := Eval[[]float64](b, `[performance.getEntriesByName("first-contentful-paint")[0]?.startTime ?? -1, Math.max(...paints)]`)
	return v[0], v[1]
}

// ForgetFiles empties the browser's cache, as for a first visit.
func (b *Browser) ForgetFiles() {
	b.t.Helper()
	if _, err := chromedp.Call(b.ctx, network.ClearBrowserCache, cdp.Empty{}); err != nil {
		b.t.Fatalf("browser: clearing the cache: %v", err)
	}
}

// Inject runs a script in every page that is opened from now on, before its own.
func (b *Browser) Inject(script string) {
	b.t.Helper()
	_, err := chromedp.Call(b.ctx, page.AddScriptToEvaluateOnNewDocument, page.AddScriptToEvaluateOnNewDocumentParams{Source: script})
	if err != nil {
		b.t.Fatalf("browser: %v", err)
	}
}
