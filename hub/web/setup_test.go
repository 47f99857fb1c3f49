package web_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"

	"bellrow/hub"
	"bellrow/hub/web/webtest"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/page/browser"
)

// TestSetup changes the set-up as a leader would, against the real hub.
func TestSetup(t *testing.T) {
	s := newBand(t)
	s.join("Tuba", "tuba_bbb", 0)
	s.join("Horn", "horn_double", 0)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	b.Go(s.url + "/setup")
	b.Until("the chairs", "document.querySelectorAll('.seat').length === 2")

	b.Run(chromedp.SetValue(chromedp.CSS("#a4"), "442"), chromedp.SetValue(chromedp.CSS("#name"), "Monday brass"),
		chromedp.Click(chromedp.CSS("#hide")), chromedp.Click(chromedp.CSS("#add")))
	b.Until("a third chair", "document.querySelectorAll('.seat').length === 3")
	b.Run(chromedp.SendKeys(chromedp.CSS(`.seat:last-child [data-key="label"]`), "Cornet 1"),
		chromedp.Focus(chromedp.CSS(`.seat:last-child select`)), chromedp.SetValue(chromedp.CSS(`.seat:last-child select`), "cornet_bb"))
	browser.Eval[bool](b, `document.querySelector(".seat:last-child select").dispatchEvent(new Event("change", {bubbles: true})), document.querySelector(".seat:last-child details").open = true`)
	b.Run(chromedp.SendKeys(chromedp.CSS(`.seat:last-child [data-slide="main"]`), "12.5"),
		chromedp.Click(chromedp.CSS("#save")))
	b.Until("saved", `document.getElementById("said").textContent === "Saved."`)

	sec := s.hub.Section()
	if sec.Name != "Monday brass" || sec.Reference.A4 != 442 || !sec.HideNames || len(sec.Chairs) != 3 {
		t.Fatalf("the hub has %q at %g Hz, names hidden %v, %d chairs; need Monday brass, 442, hidden, 3", sec.Name, float64(sec.Reference.A4), sec.HideNames, len(sec.Chairs))
	}
	last := sec.Chairs[len(sec.Chairs)-1]
	if last.Label != "Cornet 1" || last.Instrument != "cornet_bb" || last.Settings[instrument.Main] != 12.5 {
		t.Errorf("the new chair is %+v, need Cornet 1 with its main slide at 12.5 mm", last)
	}

	b.Run(chromedp.Click(chromedp.CSS("#undo-edit")))
	b.Until("taken back", `document.querySelectorAll(".seat").length === 2`)

	file := filepath.Join(t.TempDir(), "chairs.csv")
	if err := os.WriteFile(file, []byte("label,instrument,name\nHorn 1,horn_double,Ada\nTuba 1,tuba_bbb,\nTrombone 1,tenor_trombone_bb,\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	b.Run(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{file}))
	b.Until("the file read", `document.getElementById("said").textContent === "3 chairs read."`)
	if got := len(s.hub.Section().Chairs); got != 3 {
		t.Errorf("%d chairs after the file, need 3", got)
	}
	if err := os.WriteFile(file, []byte("label,instrument\nHorn 1,kazoo\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	b.Run(chromedp.SetUploadFiles(chromedp.CSS("#file"), []string{file}))
	b.Until("the fault named", `document.getElementById("said").textContent.includes("kazoo")`)

	b.Run(chromedp.SetValue(chromedp.CSS("#new-name"), "Quartet"), chromedp.Click(chromedp.CSS("#new")))
	b.Until("another section", `document.getElementById("name").value === "Quartet"`)
	b.Until("both saved", `document.querySelectorAll("#saved li").length === 2`)
	b.Run(chromedp.Click(chromedp.CSS(`#saved button`)))
	b.Until("the first again", `document.getElementById("section").textContent !== "Quartet" && document.querySelectorAll(".seat").length === 3`)
}

// TestMovedSlidesCanBeSaved: slides stand where moves have left them, between the steps of the form, and the set-up is
// saved all the same, and leaves them there.
func TestMovedSlidesCanBeSaved(t *testing.T) {
	h := webtest.New(2, webtest.Before)
	const stands = 17.7 // after 5 mm from the usual 12.7
	h.SetSection(func(s *hub.Section) {
		s.Chairs[0].Settings = instrument.Settings{instrument.Main: stands}
		s.Chairs[0].Travel = instrument.Settings{instrument.Main: 45.5}
	})
	b := browser.Open(t)
	b.Go(serve(t, h, webtest.Guard{}) + "/setup")
	b.Until("the chairs", "document.querySelectorAll('.seat').length === 2")
	b.Run(chromedp.SetValue(chromedp.CSS("#a4"), "442"), chromedp.Click(chromedp.CSS("#save")))
	b.Until("an answer", `document.getElementById("said").textContent !== ""`)
	all := h.Commands()
	if len(all) != 1 {
		t.Fatalf("not saved: %s", browser.Eval[string](b, `document.getElementById("said").textContent`))
	}
	if got := all[0].Section.Chairs[0]; got.Settings[instrument.Main] != stands || got.Travel[instrument.Main] != 45.5 {
		t.Errorf("the slide stands at %v of %v, need %g", got.Settings, got.Travel, stands)
	}
}

// TestNothingUnderTheBar: at every size and place of scrolling, the bar with
// the save button covers no part of the form (WCAG 2.2, 2.4.11 and 2.5.8).
func TestNothingUnderTheBar(t *testing.T) {
	b := browser.Open(t)
	b.Go(serve(t, webtest.New(26, webtest.Before), webtest.Guard{}) + "/setup")
	b.Until("the chairs", "document.querySelector('.seat')")
	for _, s := range sizes {
		b.Size(s.width, s.height)
		covered := browser.Eval[int](b, `(() => {
			const main = document.querySelector("main"), bar = document.querySelector(".bar").getBoundingClientRect();
			const scroller = main.scrollHeight > main.clientHeight + 1 ? main : document.documentElement;
			let covered = 0;
			for (let y = 0; y < scroller.scrollHeight; y += scroller.clientHeight / 3) {
				scroller.scrollTo(0, y);
				for (const e of [...main.querySelectorAll("input, select, button, summary")].filter((e) => e.checkVisibility())) {
					const r = e.getBoundingClientRect(), x = r.left + r.width / 2;
					for (const at of [r.top + 1, r.bottom - 1]) {
						const hit = at > 0 && at < innerHeight ? document.elementFromPoint(x, at) : null;
						if (hit?.closest(".bar") && at + 1 < main.getBoundingClientRect().bottom) covered++;
					}
				}
			}
			return covered;
		})()`)
		if covered > 0 {
			t.Errorf("at %s px the bar covers a control %d times", s.name, covered)
		}
	}
}

// TestArcOnTheRow: a section that the set-up puts in an arc sits in one on the
// row, no card on another, and in rows where the screen is narrow.
func TestArcOnTheRow(t *testing.T) {
	s := newBand(t)
	for _, name := range []string{"Ada", "Bram", "Cleo", "Dov", "Esme"} {
		s.join(name, "horn_double", 0)
	}
	s.join("Leo", "tuba_bbb", 0)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	b.Go(s.url + "/setup")
	b.Until("the chairs", "document.querySelectorAll('.seat').length === 6")
	click(`#seating input[value="arc"]`)(b)
	click("#save")(b)
	b.Until("saved", `document.getElementById("said").textContent === "Saved."`)
	b.Go(s.url + "/row")
	b.Until("an arc", "document.querySelectorAll('[data-arc] .chair').length === 6")
	const touching = `(() => { const rs = [...document.querySelectorAll(".chair")].map(c => c.getBoundingClientRect());
		return rs.filter((a, i) => rs.some((b, j) => i < j && a.left < b.right && b.left < a.right && a.top < b.bottom && b.top < a.bottom)).length; })()`
	const tops = `new Set([...document.querySelectorAll(".chair")].map(c => Math.round(c.getBoundingClientRect().top))).size`
	if n := browser.Eval[int](b, touching); n > 0 {
		t.Errorf("%d cards lie on another", n)
	}
	if n := browser.Eval[int](b, tops); n < 3 {
		t.Errorf("the cards stand at %d heights, need an arc", n)
	}
	b.Axe("row, arc")
	press(kb.ArrowDown + kb.Enter)(b)
	b.Until("an open chair", `document.querySelector(".more:not([hidden])")`)
	b.Axe("row, arc, chair open")
	b.Size(820, 1180)
	if n := browser.Eval[int](b, `new Set([...document.querySelectorAll(".chair")].map(c => c.getBoundingClientRect().left)).size`); n != 1 {
		t.Errorf("on a narrow screen the chairs begin at %d places across, need rows", n)
	}
}

// TestSavingKeepsLateArrivals: who joins while the form is open appears in it,
// and saving changes only what was changed there.
func TestSavingKeepsLateArrivals(t *testing.T) {
	s := newBand(t)
	ada := s.join("Ada", "horn_double", 0)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	b.Go(s.url + "/setup")
	b.Until("one chair", "document.querySelectorAll('.seat').length === 1")
	b.Run(chromedp.SetValue(chromedp.CSS("#name"), "Monday brass"))
	browser.Eval[bool](b, `document.getElementById("name").dispatchEvent(new Event("change", {bubbles: true}))`)

	s.join("Leo", "tuba_bbb", 0)
	b.Until("who came late", "document.querySelectorAll('.seat').length === 2")
	// Ada moves a slide while the form shows where it stood.
	if err := s.hub.Setting(t.Context(), ada.chair, proto.Setting{Slide: instrument.Main, MM: 9.5}); err != nil {
		t.Fatal(err)
	}
	click("#save")(b)
	b.Until("saved", `document.getElementById("said").textContent === "Saved."`)
	sec := s.hub.Section()
	if sec.Name != "Monday brass" || len(sec.Chairs) != 2 {
		t.Errorf("saved %q with %d chairs, need Monday brass with 2", sec.Name, len(sec.Chairs))
	}
	if mm := sec.Chairs[0].Settings[instrument.Main]; mm != 9.5 {
		t.Errorf("the slide moved meanwhile stands at %g mm after saving, need 9.5", mm)
	}
}

// TestFaultsStandByTheirFields: what cannot be saved is said at its field, and
// nothing is lost.
func TestFaultsStandByTheirFields(t *testing.T) {
	h := webtest.New(3, webtest.Before)
	b := browser.Open(t)
	b.Size(1366, 768)
	b.Go(serve(t, h, webtest.Guard{}) + "/setup")
	b.Until("the chairs", "document.querySelectorAll('.seat').length === 3")
	b.Run(chromedp.SetValue(chromedp.CSS("#a4"), "600"))
	click("#save")(b)
	b.Until("the fault at its field", `document.querySelector("#a4 + .fault") && document.activeElement.id === "a4"`)
	if n := len(h.Commands()); n != 0 {
		t.Errorf("%d commands were sent, need none", n)
	}
}
