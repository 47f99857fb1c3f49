package show_test

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/show"
	"bellrow/hub/slide"
	"bellrow/hub/tuneup"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// standings draws many, and gives each to a law.
func standings(t *testing.T, law func(t *testing.T, d *drawing, st tuneup.Standing)) {
	t.Helper()
	for seed := range uint64(600) {
		d := drawn(10000 + seed)
		d.english = seed%2 == 0
		law(t, d, d.standing())
	}
}

// TestARowTellsTheFacts: the row has every chair, in the order of the standing, with the figures that hold of it, and
// counts as the standing does; each chair is in one group, and the groups count the same.
func TestARowTellsTheFacts(t *testing.T) {
	standings(t, func(t *testing.T, d *drawing, st tuneup.Standing) {
		row := show.NewRow(st, 3, nil)
		if s := row.Section; len(row.Chairs) != len(st.Chairs) || s.Set != st.Set || s.Present != st.Present || s.Heard != st.Heard || s.A4 != float64(st.Section.Reference.A4) || s.Watching != st.Watching || s.WatchSeconds != st.Watched.Seconds() {
			t.Errorf("%+v of %+v", s, st)
		}
		hearing, set, present := 0, 0, 0
		var grouped []hub.ChairID
		for _, g := range row.Groups {
			set, present, grouped = set+g.Set, present+g.Present, append(grouped, g.Chairs...)
			if (g.Mean == nil) != (g.Spread == nil) {
				t.Errorf("half of a group's figures: %+v", g)
			}
		}
		slices.Sort(grouped)
		for i := range st.Chairs {
			c, r := &st.Chairs[i], row.Chairs[i]
			if r.ID != c.ID || r.Label != c.Label || r.Name != c.Name || grouped[i] != c.ID {
				t.Errorf("chair %+v of %+v, grouped %v", r, c.Chair, grouped)
			}
			if st.Watching && (c.Sound.State == "sounding" || c.Sound.State == "resting") {
				hearing++
			}
			if (r.Trouble != "") != (c.Deaf || c.Sound.Trouble != "") {
				t.Errorf("trouble %q of deaf %t, %q", r.Trouble, c.Deaf, c.Sound.Trouble)
			}
			if (r.State == "absent") != (c.State == tuneup.Absent) || r.Words == "" {
				t.Errorf("state %d is shown as %s (%s)", c.State, r.State, r.Words)
			}
			if h := c.Holds; h != nil && r.Cents != nil && (*r.Cents != float64(h.Cents) || *r.CI != float64(h.CI95()) || r.Verdict != h.Verdict) {
				t.Errorf("what holds is %+v, the row says %+v", h, r)
			}
			if len(r.History) != len(c.Before) {
				t.Errorf("history %v of %d notes", r.History, len(c.Before))
			}
			if r.ToMove && c.State != tuneup.Asked {
				t.Errorf("who is not asked is to move first: %+v", r)
			}
			if (r.Concert != "") != (c.Note != 0) || r.Note != c.Note {
				t.Errorf("note %d is shown as %d (%s)", c.Note, r.Note, r.Concert)
			}
		}
		if row.Section.Hearing != hearing || set != st.Set || present != st.Present || len(grouped) != len(st.Chairs) {
			t.Errorf("%d hear, need %d; groups have %d of %d set and %d of %d here", row.Section.Hearing, hearing, set, st.Set, present, st.Present)
		}
		if (row.Evening != "") != (st.Round == nil && st.Rounds == 0 && st.Section.TemperatureC != 0 && show.Evening(st.Section.TemperatureC, phrase.Leader.In("", pitch.Style{})) != "") {
			t.Errorf("before %d rounds at %g °C: %q", st.Rounds, st.Section.TemperatureC, row.Evening)
		}
		if row.Say == "" || (row.CanUndo != "") != (st.Undo != nil) {
			t.Errorf("says %q, undoes %q of %+v", row.Say, row.CanUndo, st.Undo)
		}
		if c := st.Common; (row.Section.CommonCents != nil) != (c.Chairs >= intonation.MinCommon) || row.Section.CommonCents != nil && (*row.Section.CommonCents != float64(c.Offset) || *row.Section.SpreadCents != float64(c.Spread)) {
			t.Errorf("in common %+v, the row says %+v", c, row.Section)
		}
	})
}

// TestWhoPlaysSeesNothingElse: while a player is asked to play, nothing else is on the page; the round is named to those
// who are asked and to nobody else; only a laptop that sends tracks is told what to follow.
func TestWhoPlaysSeesNothingElse(t *testing.T) {
	standings(t, func(t *testing.T, d *drawing, st tuneup.Standing) {
		for i := range st.Chairs {
			c := &st.Chairs[i]
			v := show.NewView(st, c)
			if v.Phase == "play" && (v.Answer != nil || v.Slides != nil || v.Notes != nil) {
				t.Errorf("beside its call a page shows %+v", v)
			}
			asked := st.Round != nil && c.Part && c.State == tuneup.Asked && !c.Along && !st.Watching && !st.WarmUp
			if (v.Round != 0) != asked || v.Listen != (asked || st.Watching && c.State != tuneup.Absent) {
				t.Errorf("state %d, along %t: named round %d, listens %t", c.State, c.Along, v.Round, v.Listen)
			}
			if v.Tracks != 0 && !c.Sends {
				t.Errorf("a laptop without tracks is told to follow %g Hz", float64(v.Tracks))
			}
			if v.Say == "" && !c.Outdated {
				t.Errorf("state %d: nothing is said: %+v", c.State, v)
			}
			if (c.State == tuneup.Absent) != (v.Phase == "absent") {
				t.Errorf("state %d is shown as %s", c.State, v.Phase)
			}
		}
	})
}

// TestHiddenNamesAreNowhere: where names are hidden no sentence that everybody can read has one.
func TestHiddenNamesAreNowhere(t *testing.T) {
	named := 0
	standings(t, func(t *testing.T, d *drawing, st tuneup.Standing) {
		row := show.NewRow(st, 1, nil)
		said := row.Say + row.CanUndo
		if row.Round != nil {
			said += row.Round.Sentence
		}
		for _, g := range row.Groups {
			said += g.Words
		}
		for i := range st.Chairs {
			if st.Round != nil {
				said += show.NewView(st, &st.Chairs[i]).Say
			}
		}
		for _, name := range cast {
			if strings.Contains(said, name) {
				if named++; st.Section.HideNames {
					t.Errorf("%s is named in %q", name, said)
				}
			}
		}
	})
	if named < 50 {
		t.Errorf("names stand in %d only", named)
	}
}

// TestTheOtherWayIsTheOtherWord: a section and its mirror, as far sharp as the other is flat, have the same to move, and
// each is told its own direction.
func TestTheOtherWayIsTheOtherWord(t *testing.T) {
	trumpet, _ := instrument.Find("trumpet_bb")
	lo, hi := trumpet.Slides[0].Reach()
	said := func(off pitch.Cents, mm float64, verdict string) string {
		c := hub.Chair{ID: 1, Label: "Trumpet 1", Settings: instrument.Settings{instrument.Main: mm}}
		r := &hub.Reading{Cents: off, Verdict: verdict, Counted: true}
		st := tuneup.Standing{Section: &hub.Section{Good: 5}, Chairs: []tuneup.Chair{{Chair: &c, Instrument: trumpet, Holds: r, Counted: []*hub.Reading{r}}}}
		return show.NewRow(st, 1, nil).Groups[0].Words
	}
	for in := 0.0; in <= 3; in += 0.25 { // mm from the end
		for _, c := range []struct {
			off     pitch.Cents
			mm      float64
			verdict string
			ends    bool
		}{
			{-9, lo + in, intonation.Out, in <= 0.5}, {9, hi - in, intonation.Out, in <= 0.5}, {9, lo + in, intonation.Out, false}, {-9, hi - in, intonation.Out, false},
			{-9, lo + in, intonation.Set, false}, {0, lo + in, intonation.Near, false},
		} {
			if got := strings.Contains(said(c.off, c.mm, c.verdict), "Trumpet 1"); got != c.ends {
				t.Errorf("%+g cents, %s, slide at %g of %g to %g mm: at its end %t", float64(c.off), c.verdict, c.mm, lo, hi, got)
			}
		}
	}
}

// TestWhoStandsOut: of a group whoever is farther off than three spreads and than the band is named, to either side, and
// nobody else.
func TestWhoStandsOut(t *testing.T) {
	trumpet, _ := instrument.Find("trumpet_bb")
	for _, off := range []pitch.Cents{-30, -12, -7, -2, 0, 2, 7, 12, 30} {
		st := tuneup.Standing{Section: &hub.Section{Good: 5}}
		var offsets []intonation.Offset
		for i, cents := range []pitch.Cents{1, -1, 1.5, -1.5, 0.5, off} {
			r := &hub.Reading{Cents: cents, Verdict: intonation.Set, Counted: true, Wire: proto.Reading{CI95: 0.5}}
			st.Chairs = append(st.Chairs, tuneup.Chair{Chair: &hub.Chair{ID: hub.ChairID(i + 1), Label: fmt.Sprint("Seat ", i+1)}, Instrument: trumpet, Holds: r})
			offsets = append(offsets, intonation.Offset{Cents: cents, CI95: r.CI95()})
		}
		common := intonation.Common(offsets, 5)
		want := math.Abs(float64(off-common.Offset)) > math.Max(3*float64(common.Spread), float64(intonation.DefaultGood))
		words := show.NewRow(st, 1, nil).Groups[0].Words
		if got := strings.Contains(words, "Seat 6"); got != want || strings.Contains(words, "Seat 1") {
			t.Errorf("%+g cents among others near 0: %q, need named %t", float64(off), words, want)
		}
	}
}

// TestFarthestFirst: after a round whose chairs are to move, the one that is farthest off is named first, whatever its
// place and direction.
func TestFarthestFirst(t *testing.T) {
	trumpet, _ := instrument.Find("trumpet_bb")
	for far := range 3 {
		for _, sign := range []pitch.Cents{1, -1} {
			st := tuneup.Standing{Section: &hub.Section{Good: 5, Order: hub.OrderSeating}, Present: 3, Rounds: 1, Round: &tuneup.Round{Round: &hub.Round{Call: hub.Call{Kind: hub.CallNote, Note: 70}}, Phase: tuneup.Done}}
			for i := range 3 {
				off := 8 * sign
				if i == far {
					off = 17 * sign
				}
				r := &hub.Reading{Cents: off, Verdict: intonation.Out, Counted: true, Answer: &hub.Answer{Advice: slide.Advice{Kind: slide.Move, Code: "move", Steps: []slide.Step{{Slide: instrument.Main, Name: "main slide", FromMM: 12, ToMM: 12 + float64(sign)*4}}}}}
				st.Chairs = append(st.Chairs, tuneup.Chair{Chair: &hub.Chair{ID: hub.ChairID(i + 1), Label: fmt.Sprint("Seat ", i+1)}, Instrument: trumpet, State: tuneup.Heard, Open: r, Holds: r, InRound: r, Counted: []*hub.Reading{r}})
			}
			row := show.NewRow(st, 1, nil)
			if want := fmt.Sprint("Seat ", far+1); !strings.Contains(row.Say, want) || row.SayKind != "move" {
				t.Errorf("the row says %q (%s), need %s", row.Say, row.SayKind, want)
			}
		}
	}
}

// TestRestComesAfterManyNotes: who has played often is told to rest and to stop on pain, from six notes on.
func TestRestComesAfterManyNotes(t *testing.T) {
	for notes := range 12 {
		st := tuneup.Standing{Section: &hub.Section{}, Chairs: []tuneup.Chair{{Chair: &hub.Chair{ID: 1}, Notes: notes}}}
		if v := show.NewView(st, &st.Chairs[0]); (len(v.Notes) == 2) != (notes >= 6) {
			t.Errorf("after %d notes: %q", notes, v.Notes)
		}
	}
}

// TestMadeForYou: a move that was taken as made is told to whoever is said to have held the pitch since, and to nobody
// whose note came before it.
func TestMadeForYou(t *testing.T) {
	at := time.Unix(1000, 0)
	for after, told := range map[time.Duration]bool{-time.Second: false, 0: true, time.Second: true} {
		for code, held := range map[string]bool{string(slide.Held): true, "move": false} {
			r := &hub.Reading{At: at.Add(after), Counted: true, Answer: &hub.Answer{Advice: slide.Advice{Kind: slide.Rest, Code: code}}}
			c := tuneup.Chair{Chair: &hub.Chair{ID: 1}, State: tuneup.Heard, Part: true, InRound: r, Assumed: &hub.MoveRecord{ToMM: 17, Done: at, Assumed: true}}
			st := tuneup.Standing{Section: &hub.Section{}, Chairs: []tuneup.Chair{c}, Round: &tuneup.Round{Round: &hub.Round{Call: hub.Call{Kind: hub.CallNote, Note: 70}}}}
			v := show.NewView(st, &c)
			if got := v.Answer != nil && strings.Contains(v.Answer.Next, "17"); got != (told && held) {
				t.Errorf("%s, %v after the move: %+v", code, after, v.Answer)
			}
		}
	}
}
