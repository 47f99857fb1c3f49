package tuneup

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"bellrow/hub"
	"bellrow/hub/belief"
	"bellrow/hub/history"
	"bellrow/hub/intonation"
	"bellrow/hub/piece"
	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Records is what is stored of a section, to be taken up by New.
type Records struct {
	Section hub.Section
	// The records of the last Longest before now, each oldest first. Readings
	// are those that answered a round.
	Rounds   []hub.Round
	Readings []hub.Reading
	Moves    []hub.MoveRecord
	Settings []hub.SettingRecord
	// Begun is where the last tune-up began, as Beginning.String wrote it.
	Begun   string
	Watched string       // the store's value of the watch
	Piece   *piece.Piece // that was open, nil for none
	// NextID is the first number that was never given.
	NextID int64
}

// Longest is how far back the records have to reach: a tune-up that is going on
// may have begun a day ago, and what players did on earlier days counts against
// an odd reading.
const Longest = longestTuneUp + pastDays*24*time.Hour

const (
	// tuneUpGap is how long a hub may stay silent before what comes next is
	// another tune-up: longer than any interval of a rehearsal.
	tuneUpGap = 3 * time.Hour
	// longestTuneUp is how far back a tune-up that is going on may have begun.
	longestTuneUp = 24 * time.Hour
	// pastDays is how far back a player's earlier days are looked at: long
	// enough for a weekly rehearsal to leave a habit, short enough for last
	// season's mouthpiece to be forgotten.
	pastDays = 60
)

// Beginning is where a tune-up begins: at a moment, and at the first of the
// numbers that the hub gives to what it makes. The numbers tell before from
// after even when the laptop's clock was set in between.
type Beginning struct {
	At time.Time
	ID int64 // 0 = not known
}

// String writes it for the store.
func (b Beginning) String() string { return fmt.Sprintf("%s %d", b.At.Format(time.RFC3339Nano), b.ID) }

// parseBeginning reads what String wrote. What nobody we know wrote says
// nothing; the records decide.
func parseBeginning(v string) (b Beginning, ok bool) {
	at, id, numbered := strings.Cut(v, " ")
	t, err := time.Parse(time.RFC3339Nano, at)
	if err != nil {
		return Beginning{}, false
	}
	n, err := strconv.ParseInt(id, 10, 64)
	if numbered && err != nil {
		return Beginning{}, false
	}
	return Beginning{t, n}, true
}

// begun is where the last tune-up began, as far as is known.
func (r *Records) begun(now time.Time) Beginning {
	oldest := now.Add(-longestTuneUp)
	b, ok := parseBeginning(r.Begun)
	if !ok {
		return Beginning{At: oldest}
	}
	b.At = later(b.At, oldest)
	return b
}

// tuneUp keeps what belongs to the last tune-up, in the order in which the hub
// made it, and says whether another begins now. Settings bear no numbers; of
// them time decides.
func (r Records) tuneUp(begun Beginning, now time.Time) (kept Records, anew bool) {
	oldest := now.Add(-longestTuneUp)
	belongs := func(id int64, at time.Time) bool {
		if begun.ID == 0 {
			return !at.Before(begun.At)
		}
		return id >= begun.ID && !at.Before(oldest)
	}
	kept = r
	kept.Rounds = keep(r.Rounds, func(x hub.Round) bool { return belongs(int64(x.ID), x.Started) })
	kept.Readings = keep(r.Readings, func(x hub.Reading) bool { return belongs(x.ID, x.At) })
	kept.Moves = keep(r.Moves, func(x hub.MoveRecord) bool { return belongs(x.ID, x.At) })
	kept.Settings = keep(r.Settings, func(x hub.SettingRecord) bool { return !x.At.Before(begun.At) })
	slices.SortStableFunc(kept.Rounds, func(a, b hub.Round) int { return cmp.Compare(a.ID, b.ID) })
	slices.SortStableFunc(kept.Readings, func(a, b hub.Reading) int { return cmp.Compare(a.ID, b.ID) })
	slices.SortStableFunc(kept.Moves, func(a, b hub.MoveRecord) int { return cmp.Compare(a.ID, b.ID) })
	last := begun.At
	for _, x := range kept.Rounds {
		last = later(last, later(x.Started, x.Ended))
	}
	for _, x := range kept.Readings {
		last = later(last, x.At)
	}
	return kept, now.Sub(last) >= tuneUpGap
}

// facts takes the records of a tune-up up.
func (r Records) facts(begun Beginning) facts {
	section := r.Section.Clone()
	f := facts{begun: begun, watching: watched(r.Watched, begun.At), piece: r.Piece, ids: ids{max(r.NextID, 1), max(r.NextID, 1)}, settings: r.Settings}
	f.chairs = pointers(section.Chairs)
	section.Chairs = nil
	f.section = &section
	f.rounds = pointers(keep(r.Rounds, func(x hub.Round) bool { return !x.Void }))
	f.readings, f.moves = pointers(r.Readings), pointers(r.Moves)
	return f
}

func keep[T any](xs []T, belongs func(T) bool) []T {
	return slices.DeleteFunc(slices.Clone(xs), func(x T) bool { return !belongs(x) })
}

func pointers[T any](xs []T) []*T {
	var out []*T
	for i := range xs {
		out = append(out, &xs[i])
	}
	return out
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}

// earlier is what a chair's earlier days say about it.
type earlier struct {
	days []slide.Past // one for each day
	made []slide.Made // judged moves
	// mutes is what each mute does to the pitch, as far as it is known.
	mutes map[slide.Mute]slide.Estimate
	// profile is what the notes of a day, one after another, tell of the player;
	// the zero value where there are few such days.
	profile belief.Profile
	since   int64 // the chair's Since then
}

// earlierOf is what a chair's earlier days say of the instrument that it has now.
func (s *State) earlierOf(st *seat) earlier {
	if p := s.past[st.id()]; p.since == st.chair.Since {
		return p
	}
	return earlier{}
}

// earlier looks at the days before a tune-up.
func (r Records) earlier(begun Beginning) map[hub.ChairID]earlier {
	since := begun.At.AddDate(0, 0, -pastDays)
	with := map[hub.ChairID]int64{} // since when their instruments are those
	for _, c := range r.Section.Chairs {
		with[c.ID] = c.Since
	}
	r.Readings = keep(r.Readings, func(x hub.Reading) bool { return x.ID >= with[x.Chair] })
	r.Moves = keep(r.Moves, func(m hub.MoveRecord) bool { return m.ID >= with[m.Chair] })
	readings := keep(r.Readings, func(x hub.Reading) bool {
		return x.Counted && x.Verdict != "" && x.At.Before(begun.At) && !x.At.Before(since)
	})
	settings := keep(r.Settings, func(x hub.SettingRecord) bool { return !x.At.Before(since) })
	out := map[hub.ChairID]earlier{}
	for _, day := range lastOfEachDay(readings) {
		common := commonOf(day, r.Section.Good)
		for _, x := range day {
			e := out[x.Chair]
			e.days = append(e.days, slide.Past{
				Settings: settingsBy(settings, x.Chair, x.At), Cents: x.Cents - common.Offset, Theory: r.nature(x),
			})
			out[x.Chair] = e
		}
	}
	for _, c := range r.Section.Chairs {
		e := out[c.ID]
		e.made = pastMoves(c, readings, keep(r.Moves, func(m hub.MoveRecord) bool { return !m.At.Before(since) }))
		e.profile = pastProfile(c, readings, settings)
		e.mutes = pastMutes(c, r.Readings, settings, since, begun.At)
		e.since = c.Since
		out[c.ID] = e
	}
	return out
}

// Days from which a player's scatter is taken for their own, and the most that
// are looked at.
const (
	leastDays = 3
	mostDays  = 10
)

// pastProfile is what the last days' notes of a chair tell of its player: how far
// attacks scatter, and hands, lips and slide. Each day's notes of one name are
// believed as they were in their tune-up, what one day taught going into the next.
func pastProfile(c hub.Chair, readings []hub.Reading, settings []hub.SettingRecord) (p belief.Profile) {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return p
	}
	type dayNote struct {
		day  string
		note pitch.Note
	}
	notes := map[dayNote][]*hub.Reading{}
	var order []dayNote
	for i := range readings {
		r := &readings[i]
		if r.Chair == c.ID && (r.Heard != nil || r.Wire.Settled) {
			k := dayNote{r.At.Format(time.DateOnly), r.Note}
			if len(notes[k]) == 1 {
				order = append(order, k) // two say something of scatter
			}
			notes[k] = append(notes[k], r)
		}
	}
	if len(order) < leastDays {
		return p
	}
	for _, k := range order[max(0, len(order)-mostDays):] {
		p = believeDay(in, p, notes[k], settings)
	}
	return p
}

// believeDay takes one day's notes of one player into what is known of them.
func believeDay(in *instrument.Instrument, p belief.Profile, notes []*hub.Reading, settings []hub.SettingRecord) belief.Profile {
	ways := in.Paths(notes[0].Note)
	if len(ways) == 0 {
		return p
	}
	b := belief.New(belief.Config{})
	b.Sit(1, belief.Slide{PerMM: -float64(in.CentsPerMM(ways[0], instrument.Main, nil))}, p)
	for i, r := range notes {
		for _, set := range settings {
			if i > 0 && set.Chair == r.Chair && set.Slide == instrument.Main && precedes(set, r) && !precedes(set, notes[i-1]) {
				b.Moved(1, set.At, set.MM-set.From, set.Source != hub.SourceMove)
			}
		}
		b.Heard(1, asBelieved(r, float64(r.Cents)))
	}
	return b.Profile(1)
}

// pastMutes is what earlier days tell of a chair's mutes.
func pastMutes(c hub.Chair, readings []hub.Reading, settings []hub.SettingRecord, since, until time.Time) map[slide.Mute]slide.Estimate {
	in, err := instrument.Find(c.Instrument)
	muted := func(x hub.Reading) bool { return x.Chair == c.ID && x.Mute() != slide.Open }
	if err != nil || !slices.ContainsFunc(readings, muted) {
		return nil
	}
	var p history.Player
	for _, x := range readings {
		ways := in.Paths(x.Note)
		if _, tells := x.Figures(); !tells || x.Chair != c.ID || len(ways) == 0 || x.Why == hub.WhyWatch || !x.At.Before(until) || x.At.Before(since) {
			continue
		}
		main := in.MM(settingsBy(settings, c.ID, x.At), instrument.Main)
		p.Readings = append(p.Readings, history.Reading{
			At: x.At.Local(), Note: x.Note, Offset: x.Cents, Played: x.Wire.Played, Mute: x.Mute(), MainMM: main, UsualMM: in.MM(nil, instrument.Main),
			CentsPerMM: float64(in.CentsPerMM(ways[0], instrument.Main, instrument.Settings{instrument.Main: main})),
		})
	}
	out := map[slide.Mute]slide.Estimate{}
	for _, m := range slide.Mutes {
		out[m] = history.MuteShift(p, m)
	}
	return out
}

// nature is how far a reading's note lies off by nature, 0 where the chair's
// instrument is not known any more.
func (r Records) nature(x hub.Reading) pitch.Cents {
	i := slices.IndexFunc(r.Section.Chairs, func(c hub.Chair) bool { return c.ID == x.Chair })
	if i < 0 {
		return 0
	}
	in, err := instrument.Find(r.Section.Chairs[i].Instrument)
	if err != nil {
		return 0
	}
	return x.Cents - slide.Clear(in, x.Note, instrument.Path{}, x.Cents)
}

// lastOfEachDay keeps each chair's last reading of each calendar day.
func lastOfEachDay(readings []hub.Reading) [][]hub.Reading {
	var days [][]hub.Reading
	var date string
	for _, r := range readings { // oldest first
		if d := r.At.Local().Format(time.DateOnly); d != date {
			date = d
			days = append(days, nil)
		}
		day := &days[len(days)-1]
		*day = append(slices.DeleteFunc(*day, func(o hub.Reading) bool { return o.Chair == r.Chair }), r)
	}
	return days
}

// commonOf is what the chairs of one day had in common: the weather.
func commonOf(day []hub.Reading, good pitch.Cents) intonation.Together {
	var os []intonation.Offset
	for i := range day {
		os = append(os, intonation.Offset{Cents: day[i].Cents, CI95: day[i].CI95()})
	}
	t := intonation.Common(os, good)
	if t.Chairs < intonation.MinCommon {
		t.Offset = 0
	}
	return t
}

// settingsBy is where a chair's slides stood at a moment, as far as anybody
// said; oldest record first.
func settingsBy(settings []hub.SettingRecord, chair hub.ChairID, at time.Time) instrument.Settings {
	set := instrument.Settings{}
	for _, r := range settings {
		if r.Chair == chair && !r.At.After(at) {
			set[r.Slide] = r.MM
		}
	}
	return set
}

// pastMoves are a chair's judged moves with the readings on either side. What
// they should have brought is the model's own figure.
func pastMoves(c hub.Chair, readings []hub.Reading, moves []hub.MoveRecord) []slide.Made {
	in, err := instrument.Find(c.Instrument)
	if err != nil {
		return nil
	}
	var made []slide.Made
	for _, m := range moves {
		if m.Chair != c.ID || m.FollowThrough == "" || m.Withdrawn {
			continue
		}
		before := slices.IndexFunc(readings, func(r hub.Reading) bool { return r.ID == m.Reading })
		after := slices.IndexFunc(readings, func(r hub.Reading) bool {
			return r.Chair == c.ID && r.ID > m.Reading && !r.At.Before(m.Done)
		})
		if before < 0 || after < 0 || readings[before].Note != readings[after].Note {
			continue
		}
		paths := in.Paths(readings[before].Note)
		if len(paths) == 0 {
			continue
		}
		made = append(made, slide.Made{
			Expected: slide.Expect(in, paths[0], c.Settings, m.Slide, m.FromMM, m.ToMM, slide.Learned{}),
			Before:   asHeard(&readings[before]), After: asHeard(&readings[after]),
		})
	}
	return made
}
