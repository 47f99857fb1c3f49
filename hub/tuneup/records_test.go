package tuneup

import (
	"fmt"
	"math"
	"reflect"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/slide"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

var evening = time.Date(2026, 3, 2, 19, 0, 0, 0, time.UTC)

// A beginning reads back as it was written; what nobody wrote says nothing.
func TestBeginningReadsBack(t *testing.T) {
	for _, b := range []Beginning{{At: evening}, {At: evening.Add(123456789), ID: 77}} {
		if got, ok := parseBeginning(b.String()); !ok || !got.At.Equal(b.At) || got.ID != b.ID {
			t.Errorf("%v reads back as %v %v", b, got, ok)
		}
	}
	if got, ok := parseBeginning(evening.Format(time.RFC3339Nano)); !ok || got.ID != 0 || !got.At.Equal(evening) {
		t.Errorf("without a number: %v %v", got, ok)
	}
	for _, s := range []string{"", "yesterday", "yesterday 5", evening.Format(time.RFC3339Nano) + " five"} {
		if got, ok := parseBeginning(s); ok || got != (Beginning{}) {
			t.Errorf("%q reads as %v", s, got)
		}
	}
}

// Three hours of silence end a tune-up, and not a second less; what happened since it began belongs to it, whatever
// the clock said, and nothing that is older than a day.
func TestWhatBelongsToATuneUp(t *testing.T) {
	for _, c := range []struct {
		silent time.Duration
		anew   bool
	}{{0, false}, {tuneUpGap - time.Second, false}, {tuneUpGap, true}, {tuneUpGap + time.Hour, true}} {
		for name, r := range map[string]Records{
			"a reading": {Readings: []hub.Reading{{ID: 12, At: evening}}}, "a round begun": {Rounds: []hub.Round{{ID: 12, Started: evening}}},
			"a round ended": {Rounds: []hub.Round{{ID: 12, Started: evening.Add(-2 * time.Hour), Ended: evening}}}, "a beginning": {},
		} {
			begun := Beginning{evening.Add(-3 * time.Hour), 10}
			if name == "a beginning" {
				begun.At = evening
			}
			if _, anew := r.tuneUp(begun, evening.Add(c.silent)); anew != c.anew {
				t.Errorf("%v after %s: another begins %v", c.silent, name, anew)
			}
		}
	}
	at := func(h float64) time.Time { return evening.Add(time.Duration(h * float64(time.Hour))) }
	r := Records{
		Rounds:   []hub.Round{{ID: 30, Started: at(-1)}, {ID: 5, Started: at(-1)}, {ID: 20, Started: at(-26)}, {ID: 11, Started: at(-2)}},
		Readings: []hub.Reading{{ID: 31, At: at(-1)}, {ID: 6, At: at(0)}, {ID: 12, At: at(-1.5)}, {ID: 13, At: at(-25)}},
		Moves:    []hub.MoveRecord{{ID: 33, At: at(-1)}, {ID: 14, At: at(-1)}, {ID: 9, At: at(-1)}},
		Settings: []hub.SettingRecord{{MM: 1, At: at(-3)}, {MM: 2, At: at(-1)}, {MM: 3, At: at(-2)}},
	}
	kept, _ := r.tuneUp(Beginning{at(-2), 10}, evening)
	var ids []string
	for _, x := range kept.Rounds {
		ids = append(ids, fmt.Sprint("round ", x.ID))
	}
	for _, x := range kept.Readings {
		ids = append(ids, fmt.Sprint("reading ", x.ID))
	}
	for _, x := range kept.Moves {
		ids = append(ids, fmt.Sprint("move ", x.ID))
	}
	for _, x := range kept.Settings {
		ids = append(ids, fmt.Sprint("setting ", x.MM))
	}
	if want := []string{"round 11", "round 30", "reading 12", "reading 31", "move 14", "move 33", "setting 2", "setting 3"}; !reflect.DeepEqual(ids, want) {
		t.Errorf("kept %v, want %v", ids, want)
	}
	if len(r.Rounds) != 4 || r.Rounds[0].ID != 30 {
		t.Error("the records themselves were changed")
	}
	if b := (&Records{Begun: "nonsense"}).begun(evening); !b.At.Equal(evening.Add(-24*time.Hour)) || b.ID != 0 {
		t.Errorf("begun at nobody knows when: %v", b)
	}
	if b := (&Records{Begun: Beginning{at(-40), 7}.String()}).begun(evening); !b.At.Equal(evening.Add(-24*time.Hour)) || b.ID != 7 {
		t.Errorf("begun the day before yesterday: %v", b)
	}
	if b := (&Records{Begun: Beginning{at(-2), 7}.String()}).begun(evening); !b.At.Equal(at(-2)) || b.ID != 7 {
		t.Errorf("begun two hours ago: %v", b)
	}
}

// What is taken up leaves out what was taken back, has the chairs apart from the section, and gives no number twice.
func TestFactsOfRecords(t *testing.T) {
	r := Records{Section: hub.Section{ID: 1, Chairs: []hub.Chair{{ID: 3}, {ID: 4}}}, Rounds: []hub.Round{{ID: 11}, {ID: 12, Void: true}, {ID: 13}}, NextID: 40}
	f := r.facts(Beginning{At: evening})
	if len(f.chairs) != 2 || f.section.Chairs != nil || len(r.Section.Chairs) != 2 || len(f.rounds) != 2 || f.rounds[1].ID != 13 || f.ids.next != 40 {
		t.Errorf("%+v, %d rounds", f, len(f.rounds))
	}
	if none := (Records{}).facts(Beginning{}); none.ids.next != 1 {
		t.Errorf("the first number is %d", none.ids.next)
	}
}

// past are days of a section: every chair reads the day's weather and its own place; chair 1 has a mute now and then,
// and a move on the third day that goes along by so much.
func past(days int, weather func(day int) pitch.Cents, own func(chair int) pitch.Cents, went float64) Records {
	r := Records{Section: hub.Section{ID: 1, Good: 5, Reference: pitch.Reference{A4: 440}}}
	in := []instrument.ID{"trumpet_bb", "cornet_bb", "horn_f", "tuba_bbb"}
	for i, id := range in {
		r.Section.Chairs = append(r.Section.Chairs, hub.Chair{ID: hub.ChairID(i + 1), Label: string(id), Instrument: id})
	}
	id := int64(10)
	read := func(chair int, at time.Time, x pitch.Cents, mute slide.Mute) {
		c := r.Section.Chairs[chair-1]
		inst, _ := instrument.Find(c.Instrument)
		n := inst.TuningNote(70)
		id++
		target := pitch.Reference{}.Frequency(n)
		why := hub.Reason("")
		if mute != slide.Open {
			why = hub.WhyMuted
		}
		r.Readings = append(r.Readings, hub.Reading{ID: id, Chair: c.ID, At: at, Note: n, Target: target, Cents: x, Counted: mute == slide.Open, Why: why, Verdict: "set",
			Wire: proto.Reading{Hz: target.Shift(x), CI95: 1, Settled: true, Level: -20, Played: 900, Mute: string(mute)}})
	}
	for day := range days {
		at := evening.AddDate(0, 0, day-days)
		for chair := range in {
			read(chair+1, at.Add(time.Duration(chair)*time.Minute), 30, slide.Open) // before it settled: not the day's last
		}
		for chair := range in {
			read(chair+1, at.Add(time.Duration(10+chair)*time.Minute), weather(day)+own(chair+1), slide.Open)
		}
		read(1, at.Add(20*time.Minute), weather(day)+own(1)+9, slide.Cup)
		read(1, at.Add(21*time.Minute), weather(day)+own(1), slide.Open)
		if went != 0 && day == days-3 {
			before := id
			moved := at.Add(22 * time.Minute)
			r.Moves = append(r.Moves, hub.MoveRecord{ID: 900, Chair: 1, Reading: before, Slide: instrument.Main, FromMM: 12, ToMM: 20, At: moved, Done: moved, FollowThrough: "went"})
			trumpet, _ := instrument.Find("trumpet_bb")
			e := slide.Expect(trumpet, trumpet.Paths(70)[0], nil, instrument.Main, 12, 20, slide.Learned{})
			read(1, at.Add(23*time.Minute), weather(day)+own(1)+e*pitch.Cents(went), slide.Open)
		}
	}
	return r
}

// Of each day counts a chair's last note without what the section had in common; whatever the weather was, the days
// come out alike.
func TestEarlierDaysWithoutTheWeather(t *testing.T) {
	own := func(chair int) pitch.Cents { return []pitch.Cents{0, 4, -3, 1, -2}[chair] }
	for name, weather := range map[string]func(int) pitch.Cents{"even": func(int) pitch.Cents { return 0 }, "warm": func(int) pitch.Cents { return 14 }, "changing": func(d int) pitch.Cents { return pitch.Cents(9*d - 20) }} {
		r := past(6, weather, own, 0)
		all := r.earlier(Beginning{At: evening})
		for _, c := range r.Section.Chairs {
			e := all[c.ID]
			if len(e.days) != 6 {
				t.Fatalf("%s: chair %d has %d days", name, c.ID, len(e.days))
			}
			for k, d := range e.days {
				if math.Abs(float64(d.Cents-own(int(c.ID)))) > 3 {
					t.Errorf("%s: chair %d stood at %+.1f on day %d, want about %+.1f", name, c.ID, float64(d.Cents), k, float64(own(int(c.ID))))
				}
			}
		}
		if shift := all[1].mutes[slide.Cup]; math.Abs(float64(shift.Cents)-9) > 1 || !shift.Sure() {
			t.Errorf("%s: the cup mute does %+v, want 9 cents", name, shift)
		}
		if len(all[2].mutes) != 0 {
			t.Errorf("%s: who never had a mute: %+v", name, all[2].mutes)
		}
	}
	r := past(6, func(int) pitch.Cents { return 0 }, own, 0)
	for name, begun := range map[string]time.Time{"today's": evening.AddDate(0, 0, -6).Add(-time.Hour), "a season ago": evening.AddDate(0, 0, pastDays+1)} {
		for id, e := range r.earlier(Beginning{At: begun}) {
			if len(e.days) != 0 || len(e.mutes) != 0 && e.mutes[slide.Cup].Sure() {
				t.Errorf("%s notes count as earlier: chair %d %+v", name, id, e)
			}
		}
	}
	two := past(3, func(int) pitch.Cents { return 14 }, own, 0)
	two.Section.Chairs = two.Section.Chairs[:2]
	var kept []hub.Reading
	for _, x := range two.Readings {
		if x.Chair <= 2 {
			kept = append(kept, x)
		}
	}
	two.Readings = kept
	if d := two.earlier(Beginning{At: evening})[1].days[0]; math.Abs(float64(d.Cents)-18) > 0.01 {
		t.Errorf("two players are a section: %+v", d)
	}
}

// A move of an earlier day teaches with the notes on either side, by as much as the pitch went; one that was taken
// back, of another player, or without a note after it teaches nothing.
func TestEarlierMovesTeach(t *testing.T) {
	for _, went := range []float64{1, 0.8} {
		r := past(5, func(int) pitch.Cents { return 0 }, func(int) pitch.Cents { return 2 }, went)
		made := r.earlier(Beginning{At: evening})[1].made
		if len(made) != 1 || math.Abs(float64(made[0].Measured())/float64(made[0].Expected)-went) > 1e-6 || made[0].Expected >= 0 {
			t.Fatalf("%g of a move: %+v", went, made)
		}
		if l := slide.Learn(made...); l.Moves != 1 || (l.Ratio > 1.001) != (went < 1) {
			t.Errorf("%g of a move teaches %+v", went, l)
		}
		for name, change := range map[string]func(*Records){
			"taken back":       func(r *Records) { r.Moves[0].Withdrawn = true },
			"not judged":       func(r *Records) { r.Moves[0].FollowThrough = "" },
			"another's":        func(r *Records) { r.Moves[0].Chair = 2 },
			"made at the end":  func(r *Records) { r.Moves[0].Done = evening },
			"of no reading":    func(r *Records) { r.Moves[0].Reading = 5 },
			"of a lost player": func(r *Records) { r.Section.Chairs[0].Instrument = "nose" },
			"long ago":         func(r *Records) { r.Moves[0].At = evening.AddDate(0, 0, -pastDays-1) },
			"of another note": func(r *Records) {
				for i := range r.Readings {
					if r.Readings[i].ID == r.Moves[0].Reading {
						r.Readings[i].Note++
					}
				}
			},
		} {
			r := past(5, func(int) pitch.Cents { return 0 }, func(int) pitch.Cents { return 2 }, went)
			change(&r)
			if got := r.earlier(Beginning{At: evening})[1].made; len(got) != 0 {
				t.Errorf("a move %s teaches %+v", name, got)
			}
		}
	}
}

// A slide stands where the last word before a moment put it, by the chair's own slides.
func TestSettingsByAMoment(t *testing.T) {
	at := func(min int) time.Time { return evening.Add(time.Duration(min) * time.Minute) }
	all := []hub.SettingRecord{{Chair: 1, Slide: "main", MM: 10, At: at(0)}, {Chair: 2, Slide: "main", MM: 99, At: at(1)}, {Chair: 1, Slide: "third", MM: 3, At: at(2)}, {Chair: 1, Slide: "main", MM: 14, At: at(5)}}
	for _, c := range []struct {
		min  int
		want instrument.Settings
	}{{-1, instrument.Settings{}}, {0, instrument.Settings{"main": 10}}, {2, instrument.Settings{"main": 10, "third": 3}}, {4, instrument.Settings{"main": 10, "third": 3}}, {5, instrument.Settings{"main": 14, "third": 3}}} {
		if got := settingsBy(all, 1, at(c.min)); !reflect.DeepEqual(got, c.want) {
			t.Errorf("after %d minutes %v, want %v", c.min, got, c.want)
		}
	}
}

// What a player's earlier moves taught goes before what those of this tune-up teach, which stands where there were none.
func TestEarlierMovesGoFirst(t *testing.T) {
	read := func(x pitch.Cents) slide.Reading {
		return slide.Reading{Hz: pitch.Reference{}.Frequency(70).Shift(x), CI95: 0.5, Settled: true}
	}
	st := &seat{chair: &hub.Chair{ID: 1}}
	if got, want := (&State{}).learned(st), st.memory.Learned(); got != want {
		t.Errorf("without earlier moves %+v, want %+v", got, want)
	}
	m := slide.Made{Expected: -20, Before: read(20), After: read(4)}
	s := &State{past: map[hub.ChairID]earlier{1: {made: []slide.Made{m, m}}}}
	if got, want := s.learned(st), slide.Learn(m, m); got != want || got.Moves == 0 || got == st.memory.Learned() {
		t.Errorf("with earlier moves %+v, want %+v", got, want)
	}
}
