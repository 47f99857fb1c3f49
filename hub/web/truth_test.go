package web_test

import (
	"fmt"
	"slices"
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto"
	"bellrow/proto/page/browser"
	"bellrow/proto/pitch"
)

// screen is what can be read on a row, a wall or a summary.
type screen struct {
	Chairs map[string]string // what is said of each, by label
	Count  string            // "3 of 4 set"
}

const rowOrWall = `({
	Chairs: Object.fromEntries([...document.querySelectorAll("li.line")].map((l) => [l.querySelector(".label").textContent, l.querySelector(".answer").textContent])),
	Count: [...document.querySelectorAll("#facts span")].map((s) => s.textContent).find((s) => / set$/.test(s)) ?? "",
})`

const summary = `({
	Chairs: Object.fromEntries([...document.querySelectorAll("tbody tr")].map((r) => [r.querySelector("th a").textContent, r.querySelector("td:last-child b").textContent])),
	Count: / (\d+ of \d+ set)$/.exec(document.getElementById("title").textContent)?.[1] ?? "",
})`

// set counts the chairs that a screen calls set.
func (s screen) set() (n int) {
	for _, words := range s.Chairs {
		if words == "set" {
			n++
		}
	}
	return n
}

// TestScreensAgree: whatever the leader or a player does, row, wall, summary and
// the players' own pages say the same of everybody at once: who is set, how many
// that are, whose turn it is; and nothing of before.
func TestScreensAgree(t *testing.T) {
	b := newBand(t)
	br := browser.Open(t)
	br.Size(1366, 768)
	b.enter(br)
	tuba := b.join("Tuba", "tuba_bbb", 0)
	trumpet := b.join("Trumpet", "trumpet_bb", 14)
	horn := b.join("Horn", "horn_f", 1)
	b.join("Euphonium", "euphonium_bb_bc", 0)
	do := func(c hub.Command) {
		t.Helper()
		if err := b.hub.Command(t.Context(), c); err != nil {
			t.Fatalf("%s: %v", c.Do, err)
		}
	}
	call := func(n pitch.Note) { do(hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: n}}) }
	a4 := func(hz float64) {
		sec := b.hub.Section()
		sec.Reference.A4 = pitch.Hertz(hz)
		do(hub.Command{Do: hub.DoEdit, Section: &sec})
	}
	all := func() { b.playAll(); b.obeyAll(); b.playAll() }
	const nobody = "0 of 4 set"
	for _, deed := range []struct {
		what  string
		do    func()
		count string            // with a round only
		words map[string]string // that the row must hold, by the player's name
	}{
		{"a call", func() { call(70) }, nobody, map[string]string{"Tuba": "plays now"}},
		{"all play, and move", all, "4 of 4 set", map[string]string{"Trumpet": "set"}},
		{"another reference", func() { a4(442) }, nobody, nil},
		{"and back", func() { a4(440) }, "4 of 4 set", nil},
		{"a slide moved by itself", func() {
			if err := b.hub.Setting(t.Context(), horn.chair, proto.Setting{Slide: "main", MM: 30}); err != nil {
				t.Fatal(err)
			}
		}, "3 of 4 set", map[string]string{"Horn": "moved"}},
		{"another call", func() { call(65) }, nobody, nil},
		{"a pause", func() { b.hub.State(tuba.chair, proto.State{State: proto.Paused}) }, nobody, map[string]string{"Tuba": "paused"}},
		{"its end", func() { b.hub.State(tuba.chair, proto.State{State: "quiet", Level: -70}) }, nobody, nil},
		{"all play", func() { horn.cents = 0; all() }, "4 of 4 set", nil},
		{"one goes home", func() { do(hub.Command{Do: hub.DoAbsent, Chair: trumpet.chair}) }, "3 of 3 set", map[string]string{"Trumpet": "absent"}},
		{"and is back", func() { do(hub.Command{Do: hub.DoUndo}) }, "4 of 4 set", map[string]string{"Trumpet": "set"}},
		{"a laptop is closed", func() { b.hub.Leave(trumpet.chair, "node-Trumpet") }, "4 of 4 set", nil},
		{"a watch", func() { do(hub.Command{Do: hub.DoWatch}) }, "", nil},
		{"its end", func() { do(hub.Command{Do: hub.DoEnd}) }, "", nil},
	} {
		deed.do()
		b.agree(br, deed.what, deed.count, deed.words)
	}
	if section := b.hub.Section().Name; !strings.Contains(section, "brass") {
		t.Errorf("the section is %q", section)
	}
	do(hub.Command{Do: hub.DoOpen, Name: "Low brass"})
	b.players = nil
	b.agree(br, "another section", "", nil)
}

// agree opens the three screens after a deed and compares what they say, and what
// the players' own pages do.
func (b *band) agree(br *browser.Browser, what, count string, words map[string]string) {
	b.t.Helper()
	row := b.hub.Row()
	read := func(path, ready, script string) screen {
		br.Go(b.url + path)
		br.Until(what+": "+path, fmt.Sprintf(ready, len(row.Chairs)))
		return browser.Eval[screen](br, script)
	}
	lines := `document.getElementById("facts").childElementCount > 0 && document.querySelectorAll("li.line").length === %d`
	onRow, onWall := read("/row", lines, rowOrWall), read("/wall", lines, rowOrWall)
	sum := read("/summary", `document.getElementById("title").textContent.includes(" set") && document.querySelectorAll("tbody tr").length === %d`, summary)

	if onRow.Count != count || onWall.Count != count {
		b.t.Errorf("%s: the row says %q and the wall %q, need %q", what, onRow.Count, onWall.Count, count)
	}
	if count != "" && (sum.Count != count || !strings.HasPrefix(count, fmt.Sprint(onRow.set())+" of")) {
		b.t.Errorf("%s: the summary says %q and %d chairs stand as set on the row, need %q", what, sum.Count, onRow.set(), count)
	}
	if onRow.set() != sum.set() || !strings.HasPrefix(sum.Count, fmt.Sprint(sum.set())+" of") {
		b.t.Errorf("%s: %d set on the row, %d on the summary, whose title says %q", what, onRow.set(), sum.set(), sum.Count)
	}
	for label, said := range onRow.Chairs {
		if onWall.Chairs[label] != said {
			b.t.Errorf("%s: of %s the row says %q and the wall %q", what, label, said, onWall.Chairs[label])
		}
	}
	for _, p := range b.players {
		i := slices.IndexFunc(row.Chairs, func(c show.ChairRow) bool { return c.ID == p.chair })
		said := onRow.Chairs[row.Chairs[i].Label]
		if need, ok := words[p.name]; ok && said != need {
			b.t.Errorf("%s: the row says of %s %q, need %q", what, p.name, said, need)
		}
		asked := b.hub.View(p.chair).Phase == "play"
		if paused := row.Chairs[i].State == "paused"; !paused && (said == "plays now") != asked {
			b.t.Errorf("%s: the row says of %s %q, and its own page asks for a note: %v", what, p.name, said, asked)
		}
	}
}
