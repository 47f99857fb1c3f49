package web_test

import (
	"testing"

	"github.com/chromedp/chromedp"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/proto/page/browser"
)

// TestEveningOnThePage: a room that is typed in either unit says where the section
// will stand, and A goes there only when the leader wants it; which side horns are
// set on is the leader's, too.
func TestEveningOnThePage(t *testing.T) {
	s := newBand(t)
	s.join("Horn", "horn_double", 0)
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	b.Go(s.url + "/setup")
	b.Until("the chairs", "document.querySelectorAll('.seat').length === 1")
	typeRoom := func(text string) {
		browser.Eval[bool](b, `document.getElementById("temp").value = "", true`)
		b.Run(chromedp.SendKeys(chromedp.CSS("#temp"), text))
	}
	for typed, want := range map[string]string{
		"77 F": "25 °C a section that has warmed up will stand about 10 cents higher than at 20 °C, somewhere from 5 to 15: A near 443 Hz",
		"0":    "0 °C a section that has warmed up will stand about 40 cents lower than at 20 °C, somewhere from 20 to 60: A near 430 Hz",
		"20":   "will stand where it does at 20 °C: A near 440 Hz",
	} {
		typeRoom(typed)
		b.Until(typed, `document.getElementById("evening").textContent.includes("`+want+`") && document.getElementById("evening").textContent.includes("Cramer 1993")`)
	}
	typeRoom("41 C")
	b.Until("nothing of a furnace", `document.getElementById("evening").hidden && !document.getElementById("temp").validity.valid`)
	typeRoom("25 C")
	b.Until("the offer", `document.getElementById("evening-a4").textContent === "A at 443 Hz"`)
	b.Run(chromedp.Click(chromedp.CSS("#evening-a4")))
	browser.Eval[bool](b, `document.querySelector('#horns [value="f-first"]').click(), true`)
	b.Shot("setup-evening")
	b.Run(chromedp.Click(chromedp.CSS("#save")))
	b.Until("saved", `document.getElementById("said").textContent === "Saved."`)
	if sec := s.hub.Section(); sec.Reference.A4 != 443 || sec.TemperatureC != 25 || sec.HornOrder != slide.FSideFirst {
		t.Errorf("the hub has A at %g Hz, %g °C, horns %q", float64(sec.Reference.A4), sec.TemperatureC, sec.HornOrder)
	}
	b.Go(s.url + "/row")
	b.Until("the evening on the row", `document.getElementById("common").textContent.includes("about 10 cents higher")`)
	b.Shot("row-evening")
	if err := s.hub.Command(t.Context(), hub.Command{Do: hub.DoCall, Call: &hub.Call{Note: 65}}); err != nil {
		t.Fatal(err)
	}
	b.Until("the call", `!document.getElementById("common").textContent.includes("higher")`)
}
