package report

import (
	"math"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/history"
	"bellrow/hub/intonation"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Report is what the records show.
type Report struct {
	Section    string         `json:"section"`
	From       string         `json:"from"` // date of the first rehearsal, empty without any
	To         string         `json:"to"`
	Rehearsals int            `json:"rehearsals"`
	Readings   int            `json:"readings"`
	Moves      int            `json:"moves"`
	Days       []SectionDay   `json:"days"`
	Words      []string       `json:"words"` // to the leader, about the section
	Hints      []string       `json:"hints"` // to the leader, in the order of seats
	Players    []PlayerReport `json:"players"`
	// Watch tells of the last rehearsal that was watched, nil when none was.
	Watch *history.Watch `json:"watch,omitempty"`

	tongue phrase.Tongue // of Words, Hints and pages; English at first
}

// SectionDay is one rehearsal.
type SectionDay struct {
	Date string `json:"date"`
	// Common is the section's offset that day in cents against its usual, nil
	// while too few players were heard to tell.
	Common *float64 `json:"common_cents,omitempty"`
	// Notes are the concert notes that were called, TemperatureC what the leader
	// typed, nil when nothing was.
	Notes        []string `json:"notes,omitempty"`
	TemperatureC *float64 `json:"temperature_c,omitempty"`
	Heard        int      `json:"heard"` // players

	calls []hub.Call // that Notes names
}

// PlayerReport is one player's page.
type PlayerReport struct {
	Chair      hub.ChairID       `json:"chair"`
	Label      string            `json:"label"`
	Name       string            `json:"name,omitempty"`
	Instrument string            `json:"instrument"`
	Readings   int               `json:"readings"`
	Moves      int               `json:"moves"`
	Went       int               `json:"moves_that_went_along"`
	Days       []PlayerDay       `json:"days"`
	Trend      history.Trend     `json:"trend"`
	Findings   []history.Finding `json:"findings"`
	// Watch is the player's part in the last watched rehearsal, nil without one.
	Watch *history.ChairWatch `json:"watch,omitempty"`
}

// PlayerDay is one rehearsal of one player.
type PlayerDay struct {
	Date     string  `json:"date"`
	Readings int     `json:"readings"`
	Offset   float64 `json:"offset_cents"` // median as sounded, from the target
	// Own is the same with the main slide at its usual place and the section's
	// common part taken out.
	Own    float64 `json:"own_cents"`
	MainMM float64 `json:"main_mm"` // at the end of the day
	Moves  int     `json:"moves"`
	// Went counts the moves that the pitch went along with.
	Went int `json:"moves_that_went_along"`
}

// Make reads the records of a whole section: one player alone cannot be told
// from the room.
func Make(r Records) Report {
	players := Players(r)
	sec := history.SectionOf(players)
	common := history.CommonOf(players)
	out := Report{Section: r.Section.Name, Days: sectionDays(r, players, common)}
	out.Rehearsals = len(out.Days)
	if n := len(out.Days); n > 0 {
		out.From, out.To = out.Days[0].Date, out.Days[n-1].Date
	}
	for i, p := range players {
		c := r.Section.Chairs[i]
		pr := PlayerReport{
			Chair: c.ID, Label: c.Label, Name: c.Name, Instrument: instrumentName(c.Instrument), Readings: len(p.Readings), Moves: len(p.Moves),
			Days: playerDays(p, common), Trend: history.TrendOf(p, common), Findings: history.Findings(p, sec),
		}
		for _, d := range pr.Days {
			pr.Went += d.Went
		}
		out.Readings += pr.Readings
		out.Moves += pr.Moves
		out.Players = append(out.Players, pr)
	}
	if from, to, ok := lastWatch(players); ok {
		w := history.WatchOf(players, from, to)
		out.Watch = &w
		for i := range out.Players {
			out.Players[i].Watch = &w.Chairs[i]
		}
	}
	return out.In(phrase.Tongue{Notes: r.Section.Notes})
}

// Of leaves one player's sheet, without what is for the leader only; false
// when there is no such chair.
func (r Report) Of(chair hub.ChairID) (Report, bool) {
	i := slices.IndexFunc(r.Players, func(p PlayerReport) bool { return p.Chair == chair })
	if i < 0 {
		return Report{}, false
	}
	r.Players, r.Hints, r.Watch = r.Players[i:i+1], nil, nil
	return r, true
}

// lastWatch bounds the notes of the last watched rehearsal.
func lastWatch(players []history.Player) (from, to time.Time, ok bool) {
	for _, p := range players {
		for _, x := range p.Readings {
			if x.Watch && x.At.After(to) {
				to, ok = x.At, true
			}
		}
	}
	from = to
	for _, p := range players {
		for _, x := range p.Readings {
			if x.Watch && x.At.Before(from) && date(x.At) == date(to) {
				from = x.At
			}
		}
	}
	return from, to, ok
}

func instrumentName(id instrument.ID) string {
	if in, err := instrument.Find(id); err == nil {
		return in.Name
	}
	return string(id)
}

// date names a rehearsal, in the time zone of this computer.
func date(t time.Time) string { return t.Local().Format(time.DateOnly) }

func sectionDays(r Records, players []history.Player, common history.Common) []SectionDay {
	days := map[string]*SectionDay{}
	heard := map[string]map[int]bool{}
	for i, p := range players {
		for _, x := range p.Readings {
			d := date(x.At)
			if days[d] == nil {
				days[d], heard[d] = &SectionDay{Date: d}, map[int]bool{}
				if c, ok := common.On(x.At); ok {
					days[d].Common = &c
				}
			}
			heard[d][i] = true
		}
	}
	for _, run := range r.Rounds {
		d := days[date(run.Started)]
		if d == nil || run.Void {
			continue
		}
		if run.TemperatureC != 0 {
			d.TemperatureC = &run.TemperatureC
		}
		if run.Call.Kind == hub.CallListen || run.Call.Kind == hub.CallBend {
			continue // nothing was called by name, or nothing to be tuned
		}
		d.calls = append(d.calls, run.Call)
	}
	var out []SectionDay
	for _, d := range byDate(days) {
		days[d].Heard = len(heard[d])
		out = append(out, *days[d])
	}
	return out
}

// called names what was called, what came several times in a row once.
func called(calls []hub.Call, t phrase.Tongue) []string {
	var names []string
	for _, c := range calls {
		name := t.Notes.Naming.Both(pitch.Usual(c.Note).Name)
		if c.Kind == hub.CallChord {
			name = c.Chord
			if chord, err := intonation.ParseChord(c.Chord); err == nil {
				name = chord.SayIn(t)
			}
		}
		names = append(names, name)
	}
	return slices.Compact(names)
}

// playerDays lists a player's rehearsals with tuning notes.
func playerDays(p history.Player, common history.Common) []PlayerDay {
	type sums struct {
		offsets, owns []float64
		day           PlayerDay
	}
	days := map[string]*sums{}
	for _, x := range p.Readings {
		if x.Watch {
			continue
		}
		d := date(x.At)
		if days[d] == nil {
			days[d] = &sums{day: PlayerDay{Date: d}}
		}
		c, _ := common.On(x.At)
		s := days[d]
		s.offsets, s.owns = append(s.offsets, float64(x.Offset)), append(s.owns, x.Own()-c)
		s.day.MainMM = x.MainMM
	}
	for _, x := range p.Settings {
		if s := days[date(x.At)]; s != nil {
			s.day.MainMM = x.MM
		}
	}
	for _, m := range p.Moves {
		if s := days[date(m.At)]; s != nil {
			s.day.Moves++
			if m.Went {
				s.day.Went++
			}
		}
	}
	var out []PlayerDay
	for _, d := range byDate(days) {
		s := days[d]
		s.day.Readings, s.day.Offset, s.day.Own = len(s.offsets), pitch.Median(s.offsets), pitch.Median(s.owns)
		out = append(out, s.day)
	}
	return out
}

// In speaks a report in a language, for pages; files for machines stay English.
func (r Report) In(t phrase.Tongue) Report {
	r.tongue = t
	r.Days = slices.Clone(r.Days)
	for i := range r.Days {
		r.Days[i].Notes = called(r.Days[i].calls, t)
	}
	r.Words, r.Hints = r.words(), r.hints()
	if r.Watch != nil {
		w := *r.Watch
		w.Words = w.In(t)
		r.Watch = &w
	}
	return r
}

// Between says which days the report is about: one, or the first and the last.
func (r Report) Between() string {
	if r.From == r.To {
		return r.tongue.Date(r.From)
	}
	return r.tongue.Say("report.from-to", r.tongue.Date(r.From), r.tongue.Date(r.To))
}

// words say how the section went.
func (r Report) words() []string {
	t := r.tongue
	if r.Rehearsals == 0 {
		return []string{t.Say("report.nothing.section")}
	}
	words := []string{t.Say("report.sums", t.Say("report.rehearsals", r.Rehearsals), t.Say("report.readings", r.Readings), t.Say("report.moves", r.Moves))}
	var lo, hi *SectionDay
	for i := range r.Days {
		d := &r.Days[i]
		if d.Common == nil {
			continue
		}
		if lo == nil || *d.Common < *lo.Common {
			lo = d
		}
		if hi == nil || *d.Common > *hi.Common {
			hi = d
		}
	}
	if lo != nil && math.Round(*hi.Common-*lo.Common) > 0 {
		words = append(words, t.Say("report.common", t.Date(lo.Date), offOr(t, *lo.Common, "report.as-usual"), t.Date(hi.Date), offOr(t, *hi.Common, "report.as-usual")))
	}
	return words
}

// hints are for the leader: who has something on their own page, in the order
// of seats, never how much.
func (r Report) hints() []string {
	var moved, pages []string
	for _, p := range r.Players {
		wanders := p.Trend.Away != 0
		other := false
		for _, f := range p.Findings {
			if f.Habit == history.Wandering {
				wanders = true
			} else {
				other = true
			}
		}
		if wanders {
			moved = append(moved, p.called())
		}
		if other {
			pages = append(pages, p.called())
		}
	}
	var out []string
	if len(moved) > 0 {
		out = append(out, r.tongue.Say("report.hint.moved", history.List(r.tongue, moved)))
	}
	if len(pages) > 0 {
		out = append(out, r.tongue.Say("report.hint.pages", history.List(r.tongue, pages)))
	}
	return out
}

// called is the player's name, or the chair's label.
func (p PlayerReport) called() string {
	if p.Name != "" {
		return p.Name
	}
	return p.Label
}

// offOr says an offset in words, none in the words of a key.
func offOr(t phrase.Tongue, x float64, none string) string {
	if math.Round(x) == 0 {
		return t.Say(none)
	}
	return t.Off(pitch.Cents(x))
}
