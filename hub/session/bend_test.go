package session_test

import (
	"encoding/json"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
)

// TestBendIsEachOnesOwn: what a bend showed is told to its player alone, with the
// cautions before; the row names nobody, and nothing of it counts.
func TestBendIsEachOnesOwn(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	b.do(hub.Command{Do: hub.DoBend})
	if r := b.row(); !strings.Contains(r.Round.Sentence, "Stop at once if your lips") || !strings.Contains(r.Say, "Whoever hurts rests") {
		t.Errorf("before the bend the row says %q, %q", r.Say, r.Round.Sentence)
	}
	if v := horn.view(); !v.Path || !v.Listen || v.Tracks != 0 || !strings.Contains(v.Say, "Stop at once if anything hurts") {
		t.Errorf("the horn sees %+v", v)
	}
	bent := func(p *player, down, up, back int) {
		path := &proto.Path{Hz: 233, Step: 0.05}
		for _, c := range []int{0, -down, 0, up, back} {
			for range 30 {
				path.Tenths = append(path.Tenths, 10*c)
			}
		}
		p.send(func(r *proto.Reading) { r.Settled, r.Reason, r.Path = false, "moving", path })
	}
	b.now = b.now.Add(9 * time.Second)
	bent(horn, 10, 9, 0)
	bent(trumpet, 20, 4, 8)
	bent(tuba, 6, 6, 0)
	for p, want := range map[*player]string{
		horn:    "Down by about 10 cents, up by about 9 cents. It goes about as far both ways. The centre came back to the same place.",
		trumpet: "More than 15 cents is too far for this study. The note ended about 8 cents higher than it began.",
	} {
		if a := p.view().Answer; a == nil || !strings.Contains(a.Detail, want) {
			t.Errorf("%s is told %+v, want %q", p.name, a, want)
		}
	}
	row := b.row()
	said, err := json.Marshal(row)
	if err != nil || strings.Contains(string(said), "than it began") || !strings.Contains(row.Say, "Heard 3 of 3.") {
		t.Errorf("the row says %s (%v)", said, err)
	}
	for _, c := range row.Chairs {
		if c.Verdict != "" || c.Cents != nil {
			t.Errorf("a bend counts: %+v", c)
		}
	}
}
