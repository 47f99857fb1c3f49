package show_test

import (
	"strings"
	"testing"

	"bellrow/hub"
	"bellrow/hub/history/study"
	"bellrow/hub/show"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto/pitch"
)

// TestEveryCommandHasAName: whatever a leader does can be named when it is to
// be taken back.
func TestEveryCommandHasAName(t *testing.T) {
	for _, do := range []string{hub.DoCall, hub.DoAgain, hub.DoNext, hub.DoSkip, hub.DoAbsent, hub.DoPresent, hub.DoEnd, hub.DoFresh,
		hub.DoSeat, hub.DoEdit, hub.DoSetting, hub.DoTone, hub.DoFingering, hub.DoMoves, hub.DoRemove, hub.DoListen, hub.DoChoose,
		hub.DoPart, hub.DoSonority, hub.DoNextSonority, hub.DoDropPiece, hub.DoWatch, "piece"} {
		st := tuneup.Standing{Section: &hub.Section{}, Undo: &tuneup.Undone{Do: do, Who: hub.Chair{Label: "Horn 2"}}}
		if name := show.NewRow(st, 1, nil).CanUndo; name == "" || strings.HasSuffix(name, " ") {
			t.Errorf("%s is called %q", do, name)
		}
	}
}

// TestEarlierVersionsKeepTheirWords: records of versions that stored sentences
// are shown with them, those of this one with the same sentences made anew.
func TestEarlierVersionsKeepTheirWords(t *testing.T) {
	flat := pitch.Cents(-6)
	old := hub.Round{Call: hub.Call{Kind: hub.CallNote, Note: 70}, Room: "The section is 6 cents flat as one: leave the slides, play warm and call again."}
	now := old
	now.Room, now.AsOne = "", &flat
	for _, r := range []hub.Round{old, now} {
		st := tuneup.Standing{Section: &hub.Section{}, Chairs: []tuneup.Chair{{Chair: &hub.Chair{}}}, Round: &tuneup.Round{Round: &r, AsOne: true}}
		if row := show.NewRow(st, 1, nil); row.Say != old.Room || row.SayKind != "room" {
			t.Errorf("the row says %q (%s), need %q", row.Say, row.SayKind, old.Room)
		}
	}
	heard := slide.Words{Headline: "Heard.", Next: "Rest until the chord is complete."}
	for name, a := range map[string]*hub.Answer{
		"an earlier version's": {Advice: slide.Advice{Kind: slide.Stay, Code: "heard"}, Words: heard},
		"this one's":           {Advice: slide.Advice{Kind: slide.Stay, Code: "heard"}},
	} {
		r := &hub.Reading{Counted: true, Answer: a}
		c := tuneup.Chair{Chair: &hub.Chair{}, State: tuneup.Heard, Part: true, InRound: r}
		st := tuneup.Standing{Section: &hub.Section{}, Chairs: []tuneup.Chair{c}, Round: &tuneup.Round{Round: &now}}
		if v := show.NewView(st, &c); v.Answer == nil || v.Answer.Headline != heard.Headline || v.Answer.Next != heard.Next {
			t.Errorf("%s answer is shown as %+v", name, v.Answer)
		}
	}
}

// TestSectionsLanguage: a bar and the cues of a bend are named in the section's
// language; a place that is no bar stands as it was given.
func TestSectionsLanguage(t *testing.T) {
	for tag, want := range map[string][2]string{
		"en-GB": {"bar 12", "Let go, back to the centre."}, "en-US": {"bar 12", "Let go, back to the center."},
		"de": {"Takt 12", "Loslassen, zurück zur Mitte."}, "fr": {"mesure 12", "Lâchez, retour au centre."}, "es": {"compás 12", "Soltad, de vuelta al centro."},
	} {
		row := func(c hub.Call, b *tuneup.Bend) show.Row {
			return show.NewRow(tuneup.Standing{Section: &hub.Section{Language: tag}, Chairs: []tuneup.Chair{{Chair: &hub.Chair{}, State: tuneup.Asked}}, Round: &tuneup.Round{Round: &hub.Round{Call: c}, Bend: b}}, 1, nil)
		}
		if got := row(hub.Call{Kind: hub.CallNote, Note: 70, Where: "bar 12"}, nil).Round.Title; !strings.Contains(got, ", "+want[0]) {
			t.Errorf("%s: the title is %q, need %q", tag, got, want[0])
		}
		if got := row(hub.Call{Kind: hub.CallNote, Note: 70, Where: "letter C"}, nil).Round.Title; !strings.Contains(got, ", letter C") {
			t.Errorf("%s: the title is %q", tag, got)
		}
		if got := row(hub.Call{Kind: hub.CallBend, Note: 70}, &tuneup.Bend{Cue: study.BendCues[2]}).Say; got != want[1] {
			t.Errorf("%s: the leader says %q, need %q", tag, got, want[1])
		}
	}
}

// TestIdleIsTrueNow: who has played tuning notes is not sent to warm up again.
func TestIdleIsTrueNow(t *testing.T) {
	say := func(notes int) string {
		c := tuneup.Chair{Chair: &hub.Chair{}, Notes: notes}
		return show.NewView(tuneup.Standing{Section: &hub.Section{}, Chairs: []tuneup.Chair{c}}, &c).Say
	}
	if before, after := say(0), say(4); !strings.HasPrefix(before, "Warm up.") || !strings.HasPrefix(after, "Rest.") {
		t.Errorf("before a note: %q, after four: %q", before, after)
	}
}
