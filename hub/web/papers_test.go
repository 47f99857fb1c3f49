package web_test

import (
	"fmt"
	"os"
	"testing"

	"bellrow/hub"
	"bellrow/proto/page/browser"
	"bellrow/proto/phrase"
)

// TestPapersInEveryLanguage: the page of the piece is in the section's language
// as a whole, without a text by its key, and nothing is cut on a telephone or a laptop.
func TestPapersInEveryLanguage(t *testing.T) {
	s := newBand(t)
	s.join("Tuba", "tuba_bbb", 0)
	s.join("Trumpet", "trumpet_bb", 9)
	score, err := os.Open(quay)
	if err != nil {
		t.Fatal(err)
	}
	defer score.Close()
	if err := s.hub.LoadPiece(t.Context(), score); err != nil {
		t.Fatal(err)
	}
	b := browser.Open(t)
	b.Size(1366, 768)
	s.enter(b)
	for _, l := range phrase.Leader.Offered() {
		sec := s.hub.Section()
		sec.Language = l.Tag
		if err := s.hub.Command(t.Context(), hub.Command{Do: hub.DoEdit, Section: &sec}); err != nil {
			t.Fatal(err)
		}
		for name, p := range map[string]struct{ url, ready string }{
			"piece": {s.url + "/piece", `document.querySelectorAll("#chords > li").length === 8 && !document.getElementById("in-plan").hidden`},
		} {
			b.Go(p.url)
			b.Until(name, p.ready)
			for _, size := range [][2]int64{{390, 844}, {1366, 768}} {
				b.Size(size[0], size[1])
				settle(b)
				if bad := browser.Eval[string](b, pageFaults); bad != "" {
					t.Errorf("%s in %s at %d: %s", name, l.Name, size[0], bad)
				}
				if wide := browser.Eval[float64](b, "document.documentElement.scrollWidth - innerWidth"); wide > 0 {
					t.Errorf("%s in %s at %d: %g px wider than the window", name, l.Name, size[0], wide)
				}
				b.Shot(fmt.Sprintf("papers-%s-%s-%d", l.Tag, name, size[0]))
			}
			if key := browser.Eval[string](b, `(document.body.innerText.match(/\b(page|piece|report)\.[a-z-]+(\.[a-z-]+)*/) ?? [""])[0]`); key != "" {
				t.Errorf("%s in %s says %q", name, l.Name, key)
			}
		}
	}
}
