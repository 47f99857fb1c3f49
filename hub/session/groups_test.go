package session_test

import (
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/proto/pitch"
)

// TestGroups: a director sees where each group of instruments stands, who
// stands out of it and who was not heard.
func TestGroups(t *testing.T) {
	b := newBench(t)
	off := map[string]float64{"T1": 6, "T2": 7, "T3": 6, "T4": 31}
	ps := map[string]*player{}
	for _, name := range []string{"T1", "T2", "T3", "T4"} {
		ps[name] = b.join(name, "trumpet_bb")
	}
	tuba := b.join("Tuba", "tuba_bbb")
	for _, g := range b.row().Groups {
		if g.Words != "not heard yet" || g.Mean != nil {
			t.Errorf("before a call %s: %q, mean %v", g.Title, g.Words, g.Mean)
		}
	}
	b.call("Bb4")
	tuba.playOut()
	for _, name := range []string{"T1", "T2", "T3", "T4"} {
		ps[name].play(pitch.Cents(off[name]))
		if ps[name].view().Listen { // once is enough here
			b.do(hub.Command{Do: hub.DoNext})
		}
	}
	groups := map[string]string{}
	for _, g := range b.row().Groups {
		groups[g.Title] = g.Words
		if g.Title == "Trumpets" && (g.Present != 4 || len(g.Chairs) != 4) {
			t.Errorf("%d of %d trumpets, need 4 of 4", g.Present, len(g.Chairs))
		}
	}
	if w := groups["Trumpets"]; !strings.Contains(w, "sharp on the whole") {
		t.Errorf("the trumpets: %q, need how sharp they are", w)
	}
	if w := groups["Trumpets"]; !strings.Contains(w, "stands out, 31 cents sharp") {
		t.Errorf("the trumpets: %q, need who stands out", w)
	}
	if len(groups) != 2 {
		t.Errorf("groups %v, need two", groups)
	}
}
