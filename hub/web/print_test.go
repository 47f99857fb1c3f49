package web_test

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"

	"github.com/chromedp/cdproto/emulation"
	"github.com/chromedp/chromedp"

	"bellrow/hub/show"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// pageObject is a page in an uncompressed part of a PDF (ISO 32000-1, table 30).
var pageObject = regexp.MustCompile(`/Type\s*/Page\b[^s]`)

// TestSummaryIsTrueNow: a summary that stays open says how things stand, and is left alone while nothing changes.
func TestSummaryIsTrueNow(t *testing.T) {
	h := webtest.New(12, webtest.Midway)
	b := browser.Open(t)
	b.Go(serve(t, h, webtest.Guard{}) + "/summary")
	b.Until("the summary", "document.querySelectorAll('tbody tr').length === 12")
	browser.Eval[bool](b, "document.querySelector('tbody a').focus(); true")
	h.Set(func(*show.Row) {})
	h.SetSummary(func(s *show.Summary) { s.Rounds = 3 }) // as it was
	b.Until("the focus stays for a second", "window.since ??= performance.now(), performance.now() > window.since + 1000 && document.activeElement.closest('tbody')")
	h.SetSummary(func(s *show.Summary) { s.Set = 5 })
	b.Until("the new count", "document.getElementById('title').textContent.includes('5 of 12')")
}

// TestSummaryPrintsOnOnePage prints a section of twelve on A4.
func TestSummaryPrintsOnOnePage(t *testing.T) {
	b := browser.Open(t)
	b.Go(serve(t, webtest.New(12, webtest.Done), webtest.Guard{}) + "/summary")
	b.Until("the summary", "document.querySelectorAll('tbody tr').length === 12")
	a4 := chromedp.PaperSize{Width: 8.27, Height: 11.69}
	pdf, err := chromedp.Run(b.Context(), chromedp.PrintToPDF(chromedp.PDFPaper(a4), chromedp.PDFPreferCSSPageSize()))
	if err != nil {
		t.Fatal(err)
	}
	if n := len(pageObject.FindAll(pdf, -1)); n != 1 {
		t.Errorf("the summary of 12 chairs prints on %d pages, need 1", n)
	}
	b.Size(718, 1047) // A4 within its margins, at 96 pixels to the inch
	if _, err := chromedp.Call(b.Context(), emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Media: "print"}); err != nil {
		t.Fatal(err)
	}
	b.Shot("summary-print")
	if dir := os.Getenv(browser.Artefacts); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, "summary.pdf"), pdf, 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
