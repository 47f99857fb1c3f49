package main

import (
	"encoding/json"
	"math"
	"strings"
	"testing"

	"bellrow/hub/history/study"
	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
)

// soloRate keeps the made-up sessions small.
const soloRate = 16000

// rendered makes a recording of notes with a pause between them.
func rendered(t *testing.T, notes []tone.Config) []float64 {
	t.Helper()
	x := make([]float64, soloRate/2)
	for i, c := range notes {
		c.Rate, c.Level, c.Seed = soloRate, -20, uint64(i+1)
		tn, err := tone.New(tone.Natural(c))
		if err != nil {
			t.Fatal(err)
		}
		note := make([]float64, int(c.Duration*soloRate))
		tn.Read(note)
		x = append(append(x, note...), make([]float64, soloRate/2)...)
	}
	return x
}

func soloReport(t *testing.T, args ...string) study.Report {
	t.Helper()
	code, out, errs := trial(t, append([]string{"solo", "--json"}, args...)...)
	if code != exitOK {
		t.Fatalf("status %d: %s", code, errs)
	}
	var r study.Report
	if err := json.Unmarshal([]byte(out), &r); err != nil {
		t.Fatalf("%v in %s", err, out)
	}
	if !strings.Contains(errs, "Stop at once if your lips") {
		t.Error("the cautions were not shown")
	}
	return r
}

func TestSoloCentre(t *testing.T) {
	base := pitch.Reference{}.Frequency(70) // B flat 4, the trumpet's written C5
	var notes []tone.Config
	for _, c := range []pitch.Cents{0, 6, -6, 3, 0} {
		notes = append(notes, tone.Config{F0: base.Shift(c), Voice: tone.Trumpet, Duration: 1.6, Wander: 0.5})
	}
	r := soloReport(t, "--wav", writeWAV(t, "centre.wav", rendered(t, notes), soloRate))
	if r.Centre == nil || r.Notes != 5 || math.Abs(float64(r.Centre.Range)-12) > 2 {
		t.Errorf("%+v, want five attacks within 12 cents", r)
	}
}

func TestSoloBend(t *testing.T) {
	base := pitch.Reference{}.Frequency(58)
	path := func(t float64) pitch.Cents {
		switch {
		case t > 1.2 && t < 3.2:
			return pitch.Cents(-10 * math.Sin(math.Pi*(t-1.2)/2))
		case t > 3.2 && t < 5.2:
			return pitch.Cents(8 * math.Sin(math.Pi*(t-3.2)/2))
		}
		return 0
	}
	var notes []tone.Config
	for range 3 {
		notes = append(notes, tone.Config{F0: base, Voice: tone.Trombone, Duration: 6.5, Wander: 0.5, Path: path})
	}
	r := soloReport(t, "--study", "bend", "--instrument", "tenor_trombone_bb", "--wav", writeWAV(t, "bend.wav", rendered(t, notes), soloRate))
	if r.Bend == nil || len(r.Bend.Bends) == 0 {
		t.Fatalf("%+v, want bends", r)
	}
	const tol = 2.5 // cents: the note's own wander, held for 0.15 s
	if math.Abs(float64(r.Bend.Down)-10) > tol || math.Abs(float64(r.Bend.Up)-8) > tol || math.Abs(float64(r.Bend.Back)) > tol || r.Bend.TooFar {
		t.Errorf("down %.1f up %.1f back %.1f, want 10, 8 and 0", r.Bend.Down, r.Bend.Up, r.Bend.Back)
	}
	if len(r.Bend.Bends[0].Path) < 300 {
		t.Errorf("%d points of path, want the whole note", len(r.Bend.Bends[0].Path))
	}
}

func TestSoloShortRecording(t *testing.T) {
	r := soloReport(t, "--wav", writeWAV(t, "silence.wav", make([]float64, soloRate), soloRate))
	if r.Centre != nil || len(r.Words) != 1 {
		t.Errorf("report of silence: %+v, want one sentence", r)
	}
}

func TestSoloShowsNoFigureWhilePlaying(t *testing.T) {
	base := pitch.Reference{}.Frequency(70)
	var notes []tone.Config
	for range 5 {
		notes = append(notes, tone.Config{F0: base.Shift(13), Voice: tone.Trumpet, Duration: 1.6})
	}
	code, out, errs := trial(t, "solo", "--wav", writeWAV(t, "centre.wav", rendered(t, notes), soloRate))
	during, _, _ := strings.Cut(out, "Your 5 attacks")
	if code != exitOK || strings.Contains(during, "cent") || strings.Contains(during, "Hz") || strings.Contains(during, "sharp") {
		t.Errorf("status %d %s; said while playing:\n%s", code, errs, during)
	}
}

func TestSoloMisuse(t *testing.T) {
	for _, args := range [][]string{
		{"--instrument", "kazoo"}, {"--study", "scales"}, {"--study", "hand-slide"}, {"--note", "H9"},
		{"--settings", "main=900"}, {"--wav", "a.wav", "--simulate", "build=1"}, {"--a4", "300"},
		{"--study", "bend", "--simulate", "build=1"},
	} {
		if code, _, errs := trial(t, append([]string{"solo"}, args...)...); code != exitUsage || !strings.Contains(errs, "\n  ") {
			t.Errorf("%v: status %d, %q; want a sentence and a hint", args, code, errs)
		}
	}
}

// TestSoloPosition: the hand-slide study in one position, both ways; from closed
// first position outward only.
func TestSoloPosition(t *testing.T) {
	if testing.Short() {
		t.Skip("plays in real time")
	}
	for position, ways := range map[string][]float64{"4": {20, -20}, "1": {20}} {
		r := soloReport(t, "--study", "hand-slide", "--position", position, "--instrument", "tenor_trombone_bb", "--simulate", "seed=3")
		if r.HandSlide == nil || len(r.HandSlide.Rows) != len(ways) {
			t.Fatalf("position %s: %+v, want %d rows", position, r.HandSlide, len(ways))
		}
		for i, row := range r.HandSlide.Rows {
			if row.MovedMM != ways[i] || !row.Heard || row.Own5 == 0 || math.Abs(row.Own10/row.Theory10-1) > 0.3 {
				t.Errorf("position %s: %+v, want %g mm and the player's own table", position, row, ways[i])
			}
		}
	}
	if code, _, errs := trial(t, "solo", "--position", "4"); code == exitOK || !strings.Contains(errs, "only the hand-slide study has a position") {
		t.Errorf("status %d: %s", code, errs)
	}
}
