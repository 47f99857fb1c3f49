package slide

import (
	"strings"
	"testing"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

func with(f func(*Reading)) func(*Input) { return func(in *Input) { f(&in.Reading) } }

// pinched is a note that starts 8 cents high and comes down by 3 cents a second.
func pinched(r *Reading) { r.Early, r.Drift = 8, -3 }

func TestAdviseWithholds(t *testing.T) {
	past := []Past{{Cents: 1}, {Cents: -2}, {Cents: 3}, {Cents: 0}}
	for _, c := range []struct {
		name string
		in   Input
		code string
	}{
		{"no pitch", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Hz = 0 })), "no-pitch"},
		{"moving", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Settled, r.Reason = false, "moving" })), "moving"},
		{"vibrato", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Settled, r.Reason = false, "vibrato" })), "vibrato"},
		{"short", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Settled, r.Reason = false, "short" })), "short"},
		{"soft", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Settled, r.Reason = false, "soft" })), "soft"},
		{"two sounds", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Settled, r.Reason = false, "two-sounds" })), "two-sounds"},
		{"speech", ask(t, "trumpet_bb", "Bb4", 0, with(func(r *Reading) { r.Settled, r.Reason, r.Hz = false, "noise", 0 })), "noise"},
		{"a reason from a newer node", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Settled, r.Reason = false, "sneeze" })), "unsettled"},
		{"overheard", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Overheard = true })), "overheard"},
		{"overheard, another note", ask(t, "trumpet_bb", "Bb4", 400, with(func(r *Reading) { r.Overheard = true })), "overheard"},
		{"a wide interval", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.CI95 = 16 })), "wide"},
		{"pinched", ask(t, "trumpet_bb", "Bb4", 14, with(pinched)), "pinched"},
		{"pinched and unsettled", ask(t, "trumpet_bb", "Bb4", 14, with(pinched), with(func(r *Reading) { r.Settled, r.Reason = false, "moving" })), "pinched"},
		{"loud", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Level = -8 }), func(in *Input) { in.Baseline = -20 }), "loud"},
		{"soft for this player", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Level = -32 }), func(in *Input) { in.Baseline = -20 }), "softer"},
		{"cold and flat", ask(t, "trumpet_bb", "Bb4", -14, func(in *Input) { in.Played = 20 }), "cold"},
		{"cold and in tune: it will go sharp", ask(t, "trumpet_bb", "Bb4", 0, func(in *Input) { in.Played = 20 }), "cold"},
		{"cold, whatever else the note was", ask(t, "trumpet_bb", "Bb4", -14, with(pinched), func(in *Input) { in.Played = 20 }), "cold"},
		{"unlike recent days", ask(t, "trumpet_bb", "Bb4", 40, func(in *Input) { in.History = past }), "unlike"},
	} {
		t.Run(c.name, func(t *testing.T) {
			a := Advise(c.in)
			if a.Kind != Again || a.Code != c.code {
				t.Errorf("%s %q %q, want again, %q", a.Kind, a.Code, Say(a).Headline, c.code)
			}
			if Say(a).Headline == "" || Say(a).Next == "" || len(a.Steps) > 0 || Say(a).Small != "" {
				t.Errorf("%+v: want a reason and a next step, without moves and numbers", a)
			}
		})
	}
}

func TestAdviseBelieves(t *testing.T) {
	n := noteOf(t, "Bb4")
	past := []Past{{Cents: 1}, {Cents: -2}, {Cents: 3}}
	for _, c := range []struct {
		name string
		in   Input
	}{
		{"the player says it is warm", ask(t, "trumpet_bb", "Bb4", -14, func(in *Input) { in.Played, in.Warm = 20, true })},
		{"played time unknown", ask(t, "trumpet_bb", "Bb4", -14)},
		{"cold and sharp already: it goes sharper still", ask(t, "trumpet_bb", "Bb4", 14, func(in *Input) { in.Played = 20 })},
		{"warm enough to tell where it will stand", ask(t, "trumpet_bb", "Bb4", -14, func(in *Input) { in.Played = ColdSeconds })},
		{"a slide at one pace is a drift and no pinch", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Early, r.Drift = 3.5, -5 }))},
		{"a scoop from below is no pinch", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Early, r.Drift = -20, 1 }))},
		{"an early wobble that does not go on falling", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Early, r.Drift = 9, 0.5 }))},
		{"a little louder than usual", ask(t, "trumpet_bb", "Bb4", 14, with(func(r *Reading) { r.Level = -15 }), func(in *Input) { in.Baseline = -20 })},
		{"two days are no habit", ask(t, "trumpet_bb", "Bb4", 40, func(in *Input) { in.History = past[:2] })},
		{"unlike recent days, but said twice", ask(t, "trumpet_bb", "Bb4", 40, func(in *Input) {
			in.History, in.Earlier = past, []Reading{heard(n, 41, 1.5)}
		})},
		{"the slide was moved since, which explains it", ask(t, "trumpet_bb", "Bb4", 40, main(2), func(in *Input) {
			for _, p := range past {
				p.Settings = instrument.Settings{"main": 19}
				in.History = append(in.History, p)
			}
		})},
	} {
		t.Run(c.name, func(t *testing.T) {
			if a := Advise(c.in); a.Kind != Move {
				t.Errorf("%s %q %q, want a move", a.Kind, a.Code, Say(a).Headline)
			}
		})
	}
}

// Whoever has pinched is told to rest even when the next note is in tune, and
// the next fall needs to be smaller to be called one.
func TestAdviseRemembersAPinch(t *testing.T) {
	a := Advise(ask(t, "trumpet_bb", "Bb4", 1, func(in *Input) { in.Pinches = true }))
	if a.Kind != Stay || !strings.Contains(Say(a).Next, "Rest") {
		t.Errorf("%+v, want a rest", a)
	}
	slight := with(func(r *Reading) { r.Early, r.Drift = 2, -2 }) // a fall of 5
	if a := Advise(ask(t, "trumpet_bb", "Bb4", 14, slight)); a.Kind != Move {
		t.Errorf("a slight fall: %+v", a)
	}
	if a := Advise(ask(t, "trumpet_bb", "Bb4", 14, slight, func(in *Input) { in.Pinches = true })); a.Code != "pinched" {
		t.Errorf("a slight fall of one who pinches: %+v", a)
	}
}

// A wandering note still tells that another one was played.
func TestAdviseNamesAWanderingNote(t *testing.T) {
	wander := with(func(r *Reading) { r.Settled, r.Reason, r.Spread = false, "vibrato", 30 })
	if a := Advise(ask(t, "trumpet_bb", "Bb4", -200, wander)); a.Code != "transposition" {
		t.Errorf("%+v, want the other note named", a)
	}
	if a := Advise(ask(t, "trumpet_bb", "Bb4", 70, wander)); a.Code != "vibrato" {
		t.Errorf("%+v, want the vibrato: 70 cents of a wide note are no other note", a)
	}
	noise := with(func(r *Reading) { r.Settled, r.Reason = false, "two-sounds" })
	if a := Advise(ask(t, "trumpet_bb", "Bb4", -200, noise)); a.Code != "two-sounds" {
		t.Errorf("%+v, want nothing said of a note that two players may have made", a)
	}
}

func TestBelief(t *testing.T) {
	n := noteOf(t, "Bb3")
	at := func(x pitch.Cents) Reading { return heard(n, x, 2) }
	b := Belief{}.Read(10, at(10))
	if b.Offset != 10 || b.SD < 1.5 || b.SD > 2.5 {
		t.Errorf("after one reading %+v", b)
	}
	two := b.Read(8, at(8))
	if two.Offset <= 8 || two.Offset >= 10 || two.SD >= b.SD {
		t.Errorf("after two readings %+v", two)
	}
	moved := two.Moved(-9, 10, Learned{})
	if d := moved.Offset - (two.Offset - 9); d > 1e-9 || d < -1e-9 || moved.SD <= two.SD {
		t.Errorf("after a move %+v", moved)
	}
	if fresh := two.Read(40, at(40)); fresh.Offset != 40 {
		t.Errorf("a reading from elsewhere is averaged in: %+v", fresh)
	}
	if (Belief{}).Moved(-9, 10, Learned{}) != (Belief{}) {
		t.Error("a move tells something about an unknown offset")
	}
	falling := at(10)
	pinched(&falling)
	if f := (Belief{}).Read(10, falling); f.SD <= b.SD {
		t.Errorf("a falling note is as good as a steady one: %+v", f)
	}
}
