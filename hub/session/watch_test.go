package session_test

import (
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
)

func TestWatch(t *testing.T) {
	b := newBench(t)
	p := b.join("Horn 1", "trumpet_bb")
	b.call("Bb3")
	b.do(hub.Command{Do: hub.DoWatch})
	if v := p.view(); v.Phase != "watch" || !v.Listen || v.Round != 0 || v.Answer != nil || v.Target != 0 {
		t.Errorf("view while the section rehearses %+v, need to listen and show nothing", v)
	}
	if !b.row().Section.Watching {
		t.Error("the row does not say that a rehearsal is watched")
	}
	p.send(func(r *proto.Reading) { r.Hz = 233 })
	rs, err := b.store.Readings(t.Context(), b.row().Section.ID, time.Time{})
	if err != nil || len(rs) != 1 || rs[0].Why != hub.WhyWatch || rs[0].Counted || rs[0].Answer != nil {
		t.Fatalf("stored %+v, %v; want one reading of the watch without an answer", rs, err)
	}
	if err := b.hub.Command(t.Context(), hub.Command{Do: hub.DoWatch}); err == nil {
		t.Error("a second watch begins within the first")
	}
	b.do(hub.Command{Do: hub.DoUndo})
	if p.view().Phase == "watch" {
		t.Error("undo leaves the watch on")
	}
	b.do(hub.Command{Do: hub.DoWatch})
	b.do(hub.Command{Do: hub.DoEnd})
	if v := p.view(); v.Phase == "watch" || v.Listen {
		t.Errorf("view after the watch %+v", v)
	}
	b.do(hub.Command{Do: hub.DoWatch})
	b.call("Bb3")
	if p.wants("play"); b.row().Section.Watching {
		t.Error("a call must end the watch")
	}
}

// TestWatchGoesOnAfterARestart: a hub that stopped while it watched watches on,
// and keeps what is heard; one that is started for the next rehearsal does not,
// and neither does one whose watch had ended.
func TestWatchGoesOnAfterARestart(t *testing.T) {
	b := newBench(t)
	p := b.join("Horn 1", "trumpet_bb")
	b.do(hub.Command{Do: hub.DoWatch})
	p.send(func(r *proto.Reading) { r.Hz = 233 })
	begun := b.now
	b.restart(p)
	b.now = begun.Add(5 * time.Minute)
	if s := b.row().Section.WatchSeconds; s < 5*60 || s > 6*60 {
		t.Errorf("after five minutes and a restart the watch is said to last %g s", s)
	}
	if !b.row().Section.Watching || p.view().Phase != "watch" || !p.view().Listen {
		t.Fatalf("after a restart within the watch: %+v", p.view())
	}
	p.send(func(r *proto.Reading) { r.Hz = 233 })
	rs, err := b.store.Readings(t.Context(), b.row().Section.ID, time.Time{})
	if err != nil || len(rs) != 2 || rs[1].Why != hub.WhyWatch {
		t.Errorf("stored %+v, %v; want the readings before and after the restart", rs, err)
	}
	b.do(hub.Command{Do: hub.DoEnd})
	for what, end := range map[string]func(){
		"its end": func() { b.do(hub.Command{Do: hub.DoEnd}) },
		"a call":  func() { b.call("Bb3") },
		"undo":    func() { b.do(hub.Command{Do: hub.DoUndo}) },
		"a night": func() { b.now = b.now.Add(12 * time.Hour) },
	} {
		b.do(hub.Command{Do: hub.DoWatch})
		end()
		for i := range 2 {
			if b.restart(p); b.row().Section.Watching {
				t.Errorf("after %s and restart %d the hub watches still", what, i+1)
			}
		}
	}
}

func TestRoundKeepsTheTemperature(t *testing.T) {
	b := newBench(t)
	b.join("Horn 1", "trumpet_bb")
	s := b.hub.Section()
	s.TemperatureC = 19.5
	b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	b.call("Bb3")
	rounds, err := b.store.Rounds(t.Context(), s.ID, time.Time{})
	if err != nil || len(rounds) != 1 || rounds[0].TemperatureC != 19.5 {
		t.Errorf("stored %+v, %v; want a round called at 19.5 °C", rounds, err)
	}
}
