package session_test

import (
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func TestEarlierDaysCountAgainstAnOddReading(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	for range 3 {
		b.restart(tuba, horn, trumpet)
		b.call("Bb4")
		tuba.play(0)
		horn.play(0)
		trumpet.play(0)
		b.now = b.now.Add(24 * time.Hour)
	}
	b.restart(tuba, horn, trumpet)
	if n := len(tuba.row().History); n != 0 {
		t.Errorf("%d readings of other days count today", n)
	}
	b.call("Bb4")
	tuba.play(45) // half a semitone away from every other day
	if a := tuba.wants("play"); !strings.Contains(a.Say, "lately") {
		t.Errorf("the tuba is told %q, want a word on where it has stood lately", a.Say)
	}
	tuba.play(45) // and again: believed
	if a := tuba.wants("wait").Answer; a.Kind != "move" {
		t.Errorf("a second reading that agrees is not believed: %+v", a)
	}
}

func TestLeadersSettingsAreRecorded(t *testing.T) {
	b := newBench(t)
	tuba, _, _ := b.trio()
	s := b.hub.Section()
	for i := range s.Chairs {
		if s.Chairs[i].ID == tuba.chair {
			s.Chairs[i].Settings = instrument.Settings{"main": 17}
		}
	}
	for range 2 { // the second time nothing has changed
		b.do(hub.Command{Do: hub.DoEdit, Section: &s})
	}
	rs, err := b.store.Settings(t.Context(), b.hub.Section().ID, time.Time{})
	if err != nil || len(rs) != 1 || rs[0].MM != 17 || rs[0].Source != "leader" {
		t.Errorf("settings %+v (%v), want the leader's one", rs, err)
	}
	b.do(hub.Command{Do: hub.DoSetting, Chair: tuba.chair, Slide: "main", MM: 19})
	if got := tuba.row().Slides[0].FromMM; got != 19 {
		t.Errorf("the slide stands at %g, want 19", got)
	}
}

// TestMuteIsLearned: a mute that sharpens by 8 cents day after day is told so, is
// kept apart from the open notes, and goes with its tick.
func TestMuteIsLearned(t *testing.T) {
	b := newBench(t)
	tuba, horn, trumpet := b.trio()
	muted := func(cents pitch.Cents) {
		trumpet.send(func(r *proto.Reading) { r.Hz, r.Mute = trumpet.view().Target.Shift(cents), "straight" })
	}
	for day := range 4 {
		b.restart(tuba, horn, trumpet)
		b.call("Bb4")
		tuba.play(0)
		horn.play(0)
		muted(8 + pitch.Cents(day%2))
		row := trumpet.row()
		if row.Cents != nil || !strings.HasPrefix(row.Headline, "That was with a straight mute.") {
			t.Fatalf("day %d: the muted note counts: %+v", day, row)
		}
		if told := strings.Contains(row.Detail, "With it you have lately stood about 8 cents higher than without."); told != (day == 3) {
			t.Errorf("day %d: %q", day, row.Detail)
		}
		trumpet.play(0)
		if row := trumpet.row(); row.Verdict != "set" {
			t.Errorf("day %d: open, the trumpet is %+v", day, row)
		}
		b.now = b.now.Add(24 * time.Hour)
	}
}
