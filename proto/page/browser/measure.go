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

// Faults measures a page that is read and filled in: what stands outside the
// window without a way to scroll there, text cut by its own box, and things to
// press that lie on one another. What lies behind an open dialog does not count.
const Faults = `(() => {
	const slack = 1.5, out = [], root = document.querySelector("dialog[open]") ?? document.body;
	const name = (e) => e.tagName.toLowerCase() + (e.id ? "#" + e.id : "") + " «" + (e.textContent || e.value || "").trim().slice(0, 30) + "»";
	const seen = (e) => e.checkVisibility({ visibilityProperty: true }) && e.getClientRects().length > 0 && !e.closest(".unseen, [aria-hidden=true]") && getComputedStyle(e).clipPath === "none";
	const scrolls = (e) => { for (let a = e.parentElement; a; a = a.parentElement) if (/auto|scroll/.test(getComputedStyle(a).overflowX) && a.scrollWidth > a.clientWidth) return true; return false; };
	const all = (s) => [...root.querySelectorAll(s)].filter(seen);
	for (const e of all("h1, h2, h3, p, label, legend, button, input, select, summary, th, td, li, output, img")) {
		const b = e.getBoundingClientRect();
		if ((b.left < -slack || b.right > innerWidth + slack) && !scrolls(e)) out.push("outside the window: " + name(e));
		if (getComputedStyle(e).overflowX === "hidden" && e.scrollWidth > e.clientWidth + slack) out.push("cut: " + name(e));
	}
	const press = all("button, input:not([type=radio], [type=checkbox], [type=range], [type=file]), select, a, summary, .choice span");
	for (let i = 0; i < press.length; i++) for (let j = 0; j < i; j++) {
		if (press[i].contains(press[j]) || press[j].contains(press[i])) continue;
		if (press[i].closest(".bar, .actions") !== press[j].closest(".bar, .actions")) continue; // what scrolls goes under the bar
		const a = press[i].getBoundingClientRect(), b = press[j].getBoundingClientRect();
		if (a.right > b.left + slack && b.right > a.left + slack && a.bottom > b.top + slack && b.bottom > a.top + slack) out.push("overlap: " + name(press[j]) + " and " + name(press[i]));
	}
	return [...new Set(out)].slice(0, 8).join("; ");
})()`
