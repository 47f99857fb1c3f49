package webtest

import (
	"strings"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto"
)

// Scene makes a row for a section: one moment of a tune-up.
type Scene func(hub.Section) show.Row

func base(s hub.Section) show.Row {
	r := show.Row{Version: 1, Section: show.SectionRow{ID: s.ID, Name: s.Name, A4: float64(s.Reference.A4),
		GoodCents: float64(s.Good), WatchCents: float64(s.Near), HideNames: s.HideNames, Present: len(s.Chairs)}}
	for _, n := range s.TuningNotes {
		r.Section.TuningNotes = append(r.Section.TuningNotes, n.ClassName())
	}
	for i, c := range s.Chairs {
		p := seats[i%len(seats)]
		r.Chairs = append(r.Chairs, show.ChairRow{ID: c.ID, Label: c.Label, Name: c.Name, Part: c.Part,
			Instrument: p.display, Family: p.family, Row: c.Row, Place: c.Place,
			State: "idle", Words: "ready", Slides: p.slides})
	}
	r.Groups = groupsOf(r)
	return r
}

// Before is the section assembled, nothing called yet.
func Before(s hub.Section) show.Row {
	r := base(s)
	r.Say, r.SayKind = "Call a note to begin.", "wait"
	if len(r.Chairs) == 0 {
		r.Say = "Nobody has joined yet. Show the players the join page."
	}
	if len(r.Chairs) > 5 {
		r.Chairs[5].State, r.Chairs[5].Words = "away", "no laptop yet"
	}
	return r
}

// Midway is a round in turn, half done, with every kind of answer in it.
func Midway(s hub.Section) show.Row {
	r := base(s)
	r.Round = &show.RoundRow{ID: 3, Title: "B♭, in turn, low to high", UsedSeconds: 252}
	r.Say, r.SayKind = "Tuba first: push the main slide 14 mm.", "move"
	r.CanUndo = "skip Trumpet 3"
	cents, spread := -1.0, 19.0
	r.Section.CommonCents, r.Section.SpreadCents = &cents, &spread
	for i := range r.Chairs {
		midway(&r.Chairs[i], i%12)
		c := &r.Chairs[i]
		if c.Verdict == "set" {
			r.Section.Set++
		}
		if c.Verdict != "" {
			r.Section.Heard++
		}
		if c.State == "absent" {
			r.Section.Present--
		}
	}
	return r
}

func midway(c *show.ChairRow, i int) {
	c.Written, c.Concert = seats[i].written, "B♭"
	c.State, c.Words = "wait", "waits for its turn"
	switch i {
	case 0:
		heard(c, "set", 2, 2, "Set. Leave the main slide.", 0)
		c.History = []float64{14, 6}
		c.FollowThrough = "The pitch went with the slide."
	case 1:
		heard(c, "out", 12, 3, "Pull the main slide 7 mm.", 7)
		c.Detail = "Written F reads sharp on two tries."
	case 2:
		c.Verdict, c.State, c.Words = "doubt", "unsettled", "vibrato"
		c.Headline, c.Detail = "Play it once more, plain.", "The pitch swung five times a second: fine in music, no use for a tuning note."
		x, ci := 9.0, 11.0
		c.Cents, c.CI = &x, &ci
	case 3:
		heard(c, "set", -1, 2, "Set. Leave the main slide.", 0)
	case 4:
		heard(c, "near", 7, 2, "Pull the main slide 3 mm.", 3)
		c.History = []float64{15}
		c.FollowThrough = "Half the move came out as pitch: let the slide do it."
	case 5:
		c.State, c.Words = "turn", "plays now"
	case 6:
		c.State, c.Words = "absent", "not here today"
	case 7:
		heard(c, "set", 3, 2, "Set. Leave the tuning slide.", 0)
	case 8:
		heard(c, "out", -11, 2, "Push the tuning slide 9 mm.", -9)
	case 9:
		c.State, c.Words, c.Verdict = "overheard", "the microphone heard Euphonium", "doubt"
		c.Headline = "Move the microphone closer to the bell."
	case 10:
		heard(c, "set", 4, 3, "Set. Leave the main slide.", 0)
		c.Trouble = "The laptop lost sound for a moment."
	case 11:
		heard(c, "out", -8, 2, "Push the main slide 14 mm.", -14)
		c.Detail = "The lowest voice goes first; the others tune to it."
	}
}

func heard(c *show.ChairRow, verdict string, cents, ci float64, headline string, mm float64) {
	c.State, c.Words, c.Verdict, c.Headline = "heard", "heard", verdict, headline
	c.Cents, c.CI = &cents, &ci
	if mm != 0 {
		m := c.Slides[0]
		m.ToMM = m.FromMM + mm
		c.Moves = []proto.Slide{m}
	}
}

// Room is a section that is flat as one: nobody moves.
func Room(s hub.Section) show.Row {
	r := base(s)
	r.Round = &show.RoundRow{ID: 2, Title: "B♭, in turn, low to high", UsedSeconds: 431, Done: true}
	r.Round.Choices = []show.ChoiceRow{
		{Do: "warm-up", Label: "Warm up first", Words: "Cold instruments are flat and come up by themselves."},
		{Do: "all-move", Label: "Everybody in", Words: "By the common part alone, 9 cents: up to 15 mm."},
		{Do: "follow", Label: "Tune there", Words: "A at 438 Hz for everybody; the slides stay for what is common."},
		{Do: "hear-again", Label: "Hear it again", Words: "The same call for all, before anything moves."},
		{Do: "moves", Label: "Each their own", Words: "What all have in common and what is each one's own, at once."},
	}
	r.Say, r.SayKind = "The section is 9 cents flat as one: leave the slides, play warm and call again.", "room"
	common, spread := -9.0, 6.0
	r.Section.Common, r.Section.CommonCents, r.Section.SpreadCents = "the section is 9 cents flat as one", &common, &spread
	for i := range r.Chairs {
		c := &r.Chairs[i]
		c.Written, c.Concert = seats[i%12].written, "B♭"
		heard(c, []string{"near", "out"}[i%2], -9+float64(i%5)-2, 2, "Leave the slide: the whole section is flat.", 0)
		r.Section.Heard++
	}
	return r
}

// Done is the end: nearly all are set.
func Done(s hub.Section) show.Row {
	r := base(s)
	r.Round = &show.RoundRow{ID: 5, Title: "B♭, together", UsedSeconds: 540, Done: true, Together: true}
	r.Say, r.SayKind = "The section is set. Play.", "done"
	common, spread := 1.0, 7.0
	r.Section.Common, r.Section.CommonCents, r.Section.SpreadCents = "the section agrees within 7 cents", &common, &spread
	for i := range r.Chairs {
		c := &r.Chairs[i]
		c.Written, c.Concert = seats[i%12].written, "B♭"
		heard(c, "set", float64(i%5)-2, 2, "Set. Leave the slide.", 0)
		c.History = []float64{float64(i*7%23) - 9, float64(i*5%11) - 5}
		r.Section.Heard++
		r.Section.Set++
	}
	return r
}

// Trouble is the hub itself in need of help.
func Trouble(s hub.Section) show.Row {
	r := Midway(s)
	r.Trouble = []string{"The disk is full: today's readings are not being kept."}
	r.Say, r.SayKind = "Two chairs cannot be told apart: hear Horn 2 and Horn 3 in turn.", "trouble"
	return r
}

func summaryOf(s hub.Section) show.Summary {
	sum := show.Summary{Section: s.Name, A4: s.Reference.A4, Rounds: 3, Seconds: 540,
		Set: len(s.Chairs) - 1, Present: len(s.Chairs), Common: "the section agrees within 7 cents"}
	for i, c := range s.Chairs {
		p := seats[i%12]
		line := show.ChairSummary{ID: c.ID, Label: c.Label, Name: c.Name, Instrument: p.display,
			Readings: []float64{float64(i*7%29) - 9, float64(i*5%13) - 5, float64(i%5) - 2}, Verdict: "set",
			Moves: []string{"main slide pulled 6 mm"}, FollowThrough: "The pitch went with the slide.", Words: "set"}
		if i == 4 {
			line.Verdict, line.Words = "near", "Half the move came out as pitch."
			line.FollowThrough = "The embouchure held part of it."
		}
		if i == 6 {
			line = show.ChairSummary{ID: c.ID, Label: c.Label, Name: c.Name, Instrument: p.display, Words: "not here today"}
		}
		sum.Chairs = append(sum.Chairs, line)
	}
	return sum
}

// groupsOf is the section by families, with invented figures.
func groupsOf(r show.Row) []show.GroupRow {
	var out []show.GroupRow
	at := map[string]int{}
	for _, c := range r.Chairs {
		g, known := at[c.Family]
		if !known {
			g = len(out)
			at[c.Family] = g
			out = append(out, show.GroupRow{Title: strings.ToUpper(c.Family[:1]) + c.Family[1:] + "s",
				Words: "6 cents sharp on the whole; Trumpet 3 stands out, 18 cents sharp; not heard: Flugelhorn"})
		}
		out[g].Chairs = append(out[g].Chairs, c.ID)
		out[g].Present++
		out[g].Set = out[g].Present - 1
	}
	return out
}
