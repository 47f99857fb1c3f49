package report

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/history"
	"bellrow/hub/mem"
	"bellrow/hub/slide"
	"bellrow/hub/storetest"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// year fills a store with rehearsals of a made-up section: each chair plays
// two tuning notes a day, moves a slide every other day, and is heard while
// the section plays when watched.
type year struct {
	chairs, days, watched int
	wanderer              int // index of a chair whose place wanders, -1 for none
}

var firstDay = time.Date(2030, 1, 7, 19, 0, 0, 0, time.Local)

func (y year) fill(ctx context.Context, store storetest.Store) (hub.Section, error) {
	s := hub.Section{Name: "Hill Brass", Good: 5, Near: 10}
	for i := range y.chairs {
		s.Chairs = append(s.Chairs, hub.Chair{Label: fmt.Sprintf("Trumpet %d", i+1), Name: fmt.Sprintf("Player %c<%d>", 'A'+i%26, i), Instrument: "trumpet_bb"})
	}
	s, err := store.SaveSection(ctx, s)
	if err != nil {
		return s, err
	}
	r := rand.New(rand.NewPCG(1, 2))
	seq := uint64(0)
	for d := range y.days {
		at := firstDay.AddDate(0, 0, d)
		run, err := store.SaveRound(ctx, hub.Round{Section: s.ID, Started: at, Ended: at.Add(time.Minute), TemperatureC: 18 + float64(d%5),
			Call: hub.Call{Kind: hub.CallNote, Note: 58}})
		if err != nil {
			return s, err
		}
		var batch []hub.Reading
		for i, c := range s.Chairs {
			off := 3*r.NormFloat64() + float64(d%5)
			if i == y.wanderer {
				off += 15 * r.NormFloat64()
			}
			for k := range 2 + y.watched {
				seq++
				x := hub.Reading{Chair: c.ID, Node: fmt.Sprint("node", i), Boot: "b", At: at.Add(time.Duration(k) * time.Minute),
					Wire: proto.Reading{Sequence: seq, Onset: 1, Start: 1.6, End: 3.2, Hz: 466.2, CI95: 0.6, Spread: 2, Level: pitch.Level(-20 + 2*r.NormFloat64()), Floor: -60,
						Early: pitch.Cents(2 + r.NormFloat64()), Drift: 0.3 * r.NormFloat64(), Played: 600 + 60*r.Float64(), Settled: true}}
				if k < 2 {
					x.Round, x.Note, x.Target, x.Counted, x.Verdict = run.ID, 70, 466.164, true, "set"
					x.Cents = pitch.Cents(off + r.NormFloat64())
					x.Answer = &hub.Answer{ID: int64(seq), Advice: slide.Advice{Kind: slide.Stay, Code: "in-band"}}
				} else {
					x.Why = hub.WhyWatch
				}
				batch = append(batch, x)
			}
			if (d+i)%2 == 0 {
				if _, err := store.SaveMove(ctx, hub.MoveRecord{Chair: c.ID, Round: run.ID, At: at, Slide: instrument.Main, FromMM: 12, ToMM: 13, Expected: -8, Measured: -7.5, FollowThrough: "went", Done: at}); err != nil {
					return s, err
				}
			}
			if err := store.AddSetting(ctx, hub.SettingRecord{Chair: c.ID, At: at, Slide: instrument.Main, MM: 12 + float64(d%3), Source: "player"}); err != nil {
				return s, err
			}
		}
		if _, err := store.AddReadings(ctx, batch); err != nil {
			return s, err
		}
	}
	return s, nil
}

func made(t *testing.T, y year) (Records, Report) {
	t.Helper()
	store := mem.New()
	s, err := y.fill(t.Context(), store)
	if err != nil {
		t.Fatal(err)
	}
	records, err := Load(t.Context(), store, s, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	return records, Make(records)
}

func TestMake(t *testing.T) {
	_, r := made(t, year{chairs: 6, days: 10, watched: 2, wanderer: 4})
	if r.Rehearsals != 10 || r.From != "2030-01-07" || r.To != "2030-01-16" || r.Readings != 6*10*4 || r.Moves != 30 {
		t.Errorf("%d rehearsals %s to %s, %d readings, %d moves", r.Rehearsals, r.From, r.To, r.Readings, r.Moves)
	}
	if d := r.Days[1]; d.TemperatureC == nil || *d.TemperatureC != 19 || d.Heard != 6 || len(d.Notes) != 1 || d.Notes[0] != "B♭" || d.Common == nil {
		t.Errorf("second day %+v", d)
	}
	p := r.Players[0]
	if len(p.Days) != 10 || p.Days[1].MainMM != 13 || p.Days[0].Readings != 2 || p.Moves != 5 || p.Went != 5 {
		t.Errorf("first player %+v", p)
	}
}

// TestWanderingIsTheirsFirst: the finding with its figures stands on the
// player's sheet; the leader gets a hint without any figure, and nobody is
// compared with anybody.
func TestWanderingIsTheirsFirst(t *testing.T) {
	_, r := made(t, year{chairs: 6, days: 12, wanderer: 4})
	found := false
	for i, p := range r.Players {
		for _, f := range p.Findings {
			if f.Habit == history.Wandering {
				found = true
				if i != 4 {
					t.Errorf("%s is said to wander", p.Label)
				}
			}
		}
	}
	if !found {
		t.Fatal("the wanderer's sheet says nothing")
	}
	hints := strings.Join(r.Hints, " ")
	if !strings.Contains(hints, "Player E") || strings.ContainsAny(strings.NewReplacer("Player E<4>", "").Replace(hints), "0123456789") {
		t.Errorf("to the leader: %q, want the name and no figure", hints)
	}
	var b bytes.Buffer
	if err := WriteText(&b, r); err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{"worst", "best", "rank", "fault"} {
		if strings.Contains(strings.ToLower(b.String()), bad) {
			t.Errorf("the report says %q", bad)
		}
	}
}

func TestNoNames(t *testing.T) {
	records, named := made(t, year{chairs: 5, days: 4, wanderer: -1})
	hidden := records
	hidden.HideNames()
	r := Make(hidden)
	var b bytes.Buffer
	for _, write := range []func() error{
		func() error { return WriteText(&b, r) }, func() error { return WriteJSON(&b, r) },
		func() error { return WriteCSV(&b, r) }, func() error { return WriteHTML(&b, r) },
	} {
		if err := write(); err != nil {
			t.Fatal(err)
		}
	}
	if strings.Contains(b.String(), "Player ") || !strings.Contains(b.String(), "Trumpet 3") {
		t.Error("a name is left, or a label is gone")
	}
	if records.Section.Chairs[0].Name == "" || named.Players[0].Name == "" {
		t.Error("the records themselves lost their names")
	}
}

func TestOnly(t *testing.T) {
	store := mem.New()
	section, err := year{chairs: 5, days: 4, wanderer: -1}.fill(t.Context(), store)
	if err != nil {
		t.Fatal(err)
	}
	only, err := LoadExport(t.Context(), store, section, time.Time{})
	if err != nil {
		t.Fatal(err)
	}
	id := section.Chairs[2].ID
	only.Only(id)
	if len(only.Section.Chairs) != 1 || len(only.Readings) != 8 || len(only.Settings) != 4 || len(only.Moves) != 2 {
		t.Errorf("%d chairs, %d readings, %d settings, %d moves; want 1, 8, 4, 2",
			len(only.Section.Chairs), len(only.Readings), len(only.Settings), len(only.Moves))
	}
	for _, x := range only.Readings {
		if x.Chair != id {
			t.Fatal("a reading of somebody else")
		}
	}
}

func TestCSV(t *testing.T) {
	_, r := made(t, year{chairs: 5, days: 4, wanderer: -1})
	r.Players[0].Label = "=1+1"
	var b bytes.Buffer
	if err := WriteCSV(&b, r); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 1+5*4 || len(rows[1]) != len(csvHead) {
		t.Fatalf("%d rows, %v; want 21", len(rows), err)
	}
	if rows[1][1] != "'=1+1" {
		t.Errorf("label %q would be a formula", rows[1][1])
	}
}

func TestJSONIsComplete(t *testing.T) {
	_, r := made(t, year{chairs: 5, days: 8, wanderer: 1})
	var b bytes.Buffer
	if err := WriteJSON(&b, r); err != nil {
		t.Fatal(err)
	}
	var back Report
	if err := json.Unmarshal(b.Bytes(), &back); err != nil || len(back.Players) != 5 || back.Players[1].Label != "Trumpet 2" {
		t.Errorf("%v, %d players", err, len(back.Players))
	}
}

// TestHTML: the page needs nothing else, every drawing is well-formed, and a
// name cannot become markup.
func TestHTML(t *testing.T) {
	_, r := made(t, year{chairs: 5, days: 9, wanderer: 2})
	var b bytes.Buffer
	if err := WriteHTML(&b, r); err != nil {
		t.Fatal(err)
	}
	page := b.String()
	if strings.Contains(page, "<0>") || strings.Contains(page, "http:") || strings.Contains(page, "https:") || strings.Contains(page, "<script") {
		t.Error("markup from a name, or something from elsewhere")
	}
	svgs := 0
	for rest := page; ; svgs++ {
		from := strings.Index(rest, "<svg")
		if from < 0 {
			break
		}
		to := strings.Index(rest, "</svg>") + len("</svg>")
		var any struct {
			Inner string `xml:",innerxml"`
		}
		if err := xml.Unmarshal([]byte(rest[from:to]), &any); err != nil {
			t.Fatalf("drawing %d: %v", svgs, err)
		}
		if strings.Contains(any.Inner, "NaN") || strings.Contains(any.Inner, "Inf") {
			t.Errorf("drawing %d holds a figure that is none", svgs)
		}
		rest = rest[to:]
	}
	if want := 2 + 2*5; svgs != want {
		t.Errorf("%d drawings, want %d", svgs, want)
	}
}

func TestNothing(t *testing.T) {
	r := Make(Records{Section: hub.Section{Name: "Hill Brass", Chairs: []hub.Chair{{Label: "Tuba", Instrument: "tuba_f"}, {Label: "Odd", Instrument: "unknown"}}}})
	var b bytes.Buffer
	if err := WriteText(&b, r); err != nil || !strings.Contains(b.String(), "Nothing was stored") {
		t.Errorf("%v: %s", err, b.String())
	}
	if err := WriteHTML(&b, r); err != nil || strings.Contains(b.String(), "<svg") {
		t.Errorf("%v: a drawing of nothing", err)
	}
}

func TestPlotAxis(t *testing.T) {
	for _, c := range []struct{ x, want float64 }{{0.9, 1}, {1.1, 2}, {3, 5}, {6, 10}, {30, 50}, {0.03, 0.05}} {
		if got := tickStep(c.x); got < c.want*0.999 || got > c.want*1.001 {
			t.Errorf("step for %g is %g, want %g", c.x, got, c.want)
		}
	}
}

// TestWatchInReport: five chairs rehearse for an hour; one of them sinks by 15
// cents an hour, which makes 9.75 from the first third to the last, and 4 mm of a
// trumpet's main slide. The leader hears whose note to take at the break; the figures
// are on the player's sheet.
func TestWatchInReport(t *testing.T) {
	s := hub.Section{Name: "Hill Brass"}
	for i := range 5 {
		s.Chairs = append(s.Chairs, hub.Chair{ID: hub.ChairID(i + 1), Label: fmt.Sprintf("Trumpet %d", i+1), Instrument: "trumpet_bb"})
	}
	records := Records{Section: s}
	r := rand.New(rand.NewPCG(7, 8))
	base := pitch.Reference{}.Frequency(70)
	for d := range 6 {
		for i, c := range s.Chairs {
			for k := range 20 {
				off := 1.5 * r.NormFloat64()
				if i == 3 && d == 5 {
					off -= 15 * float64(k) * 3 / 60
				}
				records.Figures = append(records.Figures, hub.Figures{Chair: c.ID, At: firstDay.AddDate(0, 0, d).Add(time.Duration(3*k) * time.Minute), Watch: true,
					Hz: base.Shift(pitch.Cents(off)), Level: -20, Played: 900, Middle: 1.5, Second: math.Inf(-1)})
			}
		}
	}
	got := Make(records)
	if got.Watch == nil || got.Watch.Minutes != 57 || !strings.Contains(strings.Join(got.Watch.Words, " "), "hear Trumpet 4 once more") {
		t.Fatalf("%+v", got.Watch)
	}
	for i, p := range got.Players {
		if sinks := strings.Contains(p.Watch.Words, "push the main slide in"); sinks != (i == 3) {
			t.Errorf("%s is told %q", p.Label, p.Watch.Words)
		}
	}
	lines := watched(*got.Watch, phrase.Tongue{})
	for i, l := range lines {
		if away := strings.Contains(l.Change, " cents flat, give or take ") && strings.Contains(l.Break, "push in 4 mm"); away != (i == 3) {
			t.Errorf("of %s the table says %q and %q", l.Label, l.Change, l.Break)
		}
		if l.Notes != 20 || strings.Count(string(l.Path), "<circle") != 12 {
			t.Errorf("%s: %d notes, drawn %s; want 20 in 12 steps of five minutes", l.Label, l.Notes, l.Path)
		}
	}
	sheet, ok := got.Of(4)
	var b bytes.Buffer
	if err := WriteHTML(&b, sheet); err != nil || !ok {
		t.Fatal(ok, err)
	}
	if page := b.String(); strings.Contains(page, "Trumpet 3") || !strings.Contains(page, "push the main slide in") || !strings.Contains(page, "Your pitch while the section rehearsed") {
		t.Error("one player's sheet names another, or says nothing of the watch")
	}
	if _, plain := made(t, year{chairs: 5, days: 2, wanderer: -1}); plain.Watch != nil {
		t.Error("a watch where none was")
	}
}

// TestReportSpeaks: in every language the page of a year has the section's days,
// each player and nothing that is not said; its temperatures are in the language's
// unit, and the files for machines are the same whatever it speaks.
func TestReportSpeaks(t *testing.T) {
	_, rep := made(t, year{chairs: 6, days: 8, watched: 20, wanderer: 2})
	var before bytes.Buffer
	if err := WriteCSV(&before, rep); err != nil {
		t.Fatal(err)
	}
	seen := map[string]string{}
	for _, l := range phrase.Report.Offered() {
		spoken := rep.In(phrase.Report.In(l.Tag, pitch.Style{}))
		var html, csv bytes.Buffer
		if err := errors.Join(WriteHTML(&html, spoken), WriteCSV(&csv, spoken)); err != nil {
			t.Fatal(err)
		}
		page := html.String()
		for _, bad := range []string{"%!", "report.", "&lt;nil&gt;", "<no value>"} {
			if i := strings.Index(page, bad); i >= 0 {
				t.Errorf("%s: %q in %q", l.Tag, bad, page[max(0, i-60):min(len(page), i+60)])
			}
		}
		if strings.Contains(page, "°F") != (l.Tag == "en-US") || strings.Contains(page, "°C") == (l.Tag == "en-US") {
			t.Errorf("%s: the room is in the other unit", l.Tag)
		}
		if csv.String() != before.String() {
			t.Errorf("%s: the table for machines changed", l.Tag)
		}
		for _, s := range append(slices.Clone(spoken.Words), spoken.Hints...) {
			if tag, twice := seen[s]; twice && !strings.HasPrefix(l.Tag, "en") {
				t.Errorf("%s and %s say %q", tag, l.Tag, s)
			}
			seen[s] = l.Tag
		}
	}
	if len(phrase.Report.Offered()) != len(phrase.Languages) {
		t.Errorf("reports are offered in %v", phrase.Report.Offered())
	}
}
