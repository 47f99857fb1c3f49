package show

import (
	"cmp"
	"math"
	"strings"

	"bellrow/hub"
	"bellrow/hub/intonation"
	"bellrow/hub/tuneup"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
)

// GroupRow sums up the chairs of one family of instruments, for a director who
// looks at groups before looking at players.
type GroupRow struct {
	Title   string        `json:"title"` // "Trumpets"
	Chairs  []hub.ChairID `json:"chairs"`
	Set     int           `json:"set"`
	Present int           `json:"present"`
	// Mean and Spread are the common offset of those who were heard and their
	// robust standard deviation about it, in cents; nil for fewer than two.
	Mean   *float64 `json:"mean_cents,omitempty"`
	Spread *float64 `json:"spread_cents,omitempty"`
	// Words say where the group stands and who stands out of it.
	Words string `json:"words"`
}

// groups sums the section up by families, in the order in which they sit.
func groups(st tuneup.Standing) []GroupRow {
	t, at := leaders(st), map[string]int{}
	var out []GroupRow
	var members [][]*tuneup.Chair
	for i := range st.Chairs {
		c := &st.Chairs[i]
		family := ""
		if c.Instrument != nil {
			family = c.Instrument.Family
		}
		g, known := at[family]
		if !known {
			g = len(out)
			at[family] = g
			out, members = append(out, GroupRow{Title: groupName(family, t)}), append(members, nil)
		}
		out[g].Chairs = append(out[g].Chairs, c.ID)
		members[g] = append(members[g], c)
	}
	for g := range out {
		out[g].sum(st, members[g], t)
	}
	return out
}

// groupName names a family of instruments; one that the catalogue does not name by
// itself is as it is there.
func groupName(family string, t phrase.Tongue) string {
	key := "said.family." + cmp.Or(family, "other")
	if t.Has(key) {
		return t.Say(key)
	}
	return phrase.Capital(family)
}

// sum fills in how the group stands.
func (g *GroupRow) sum(st tuneup.Standing, chairs []*tuneup.Chair, in phrase.Tongue) {
	var offsets []intonation.Offset
	var unheard, ends []string
	for _, c := range chairs {
		if c.State == tuneup.Absent {
			continue
		}
		g.Present++
		switch {
		case c.Holds != nil:
			offsets = append(offsets, intonation.Offset{Cents: c.Holds.Cents, CI95: c.Holds.CI95()})
			if c.Holds.Verdict == intonation.Set {
				g.Set++
			}
		case !c.Moved:
			unheard = append(unheard, c.Label)
		}
		if atItsEnd(c) {
			ends = append(ends, c.Label)
		}
	}
	t := intonation.Common(offsets, st.Section.Good)
	var words []string
	if len(offsets) > 1 {
		mean, spread := float64(t.Offset), float64(t.Spread)
		g.Mean, g.Spread = &mean, &spread
		words = append(words, in.Say("said.group.whole", in.Off(t.Offset)))
		if out := standsOut(chairs, t, in); out != "" {
			words = append(words, out)
		}
	}
	switch n := len(unheard); {
	case n == g.Present && n > 0:
		words = append(words, in.Say("said.group.unheard"))
	case n > 0:
		words = append(words, in.Say("said.group.unheard.who", strings.Join(unheard, ", ")))
	}
	if len(ends) > 0 {
		words = append(words, in.Say("said.group.end", strings.Join(ends, ", ")))
	}
	g.Words = strings.Join(words, "; ")
}

// standsOut names the chair farthest from its group, empty where nobody is
// farther than chance and the others' spread let one be.
func standsOut(chairs []*tuneup.Chair, t intonation.Together, in phrase.Tongue) string {
	const far = 3 // spreads: one in 400 of a normal distribution
	least := math.Max(far*float64(t.Spread), float64(intonation.DefaultGood))
	var worst *tuneup.Chair
	var most float64
	for _, c := range chairs {
		if c.Holds == nil || c.State == tuneup.Absent {
			continue
		}
		if away := math.Abs(float64(c.Holds.Cents - t.Offset)); away > most {
			worst, most = c, away
		}
	}
	if worst == nil || most <= least {
		return ""
	}
	return in.Say("said.group.out", worst.Label, in.Off(worst.Holds.Cents))
}

// atItsEnd reports whether a chair's main slide has nowhere left to go in the
// direction that its last note asks for.
func atItsEnd(c *tuneup.Chair) bool {
	const end = 0.5 // mm
	if c.Instrument == nil || c.Holds == nil || c.Holds.Verdict == intonation.Set {
		return false
	}
	in := c.Instrument.WithTravel(c.Travel)
	main, ok := in.Slide(instrument.Main)
	if !ok {
		return false
	}
	mm := in.MM(c.Settings, main.ID)
	lo, hi := main.Reach()
	return c.Holds.Cents < 0 && mm <= lo+end || c.Holds.Cents > 0 && mm >= hi-end
}
