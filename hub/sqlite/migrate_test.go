package sqlite

import (
	"math"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
)

// TestFiguresOfOldReadings: readings from before there were columns for their
// figures get the same ones as new readings.
func TestFiguresOfOldReadings(t *testing.T) {
	at := time.Date(2030, 1, 7, 19, 0, 0, 5, time.UTC)
	old := []hub.Reading{
		{Chair: 2, Round: 3, Node: "n", Boot: "b", At: at, Note: 58, Target: 233.1, Cents: -4.5, Counted: true, Verdict: "flat", Wire: proto.Reading{
			Sequence: 1, Onset: 1, Start: 1.5, End: 3, Hz: 232.5, CI95: 1, Drift: -0.5, Level: -21.5, Early: 2.5, Played: 40, Settled: true}},
		{Chair: 2, Node: "n", Boot: "b", At: at.Add(time.Hour), Why: hub.WhyWatch, Wire: proto.Reading{
			Sequence: 2, Start: 1, End: 2, Hz: 350, Level: -12, Played: 900, Settled: true, Second: &proto.Second{Offset: 5, LevelDB: -14.5}}},
		{Chair: 2, Node: "n", Boot: "b", At: at.Add(2 * time.Hour), Why: hub.WhyWatch, Wire: proto.Reading{Sequence: 3, Reason: "vibrato"}},
		{Chair: 2, Node: "n", Boot: "b", At: at.Add(3 * time.Hour), Why: "early", Wire: proto.Reading{Sequence: 4, Settled: true}},
	}
	path := newPath(t)
	s, err := open(t.Context(), path, migrations[:1])
	if err != nil {
		t.Fatal(err)
	}
	if _, err := s.db.Exec(`INSERT INTO section VALUES (1, 'Hill Brass', 1, '{}'); INSERT INTO chair VALUES (2, 1, 1, 0, 'Horn', '', 'horn_f', '{}')`); err != nil {
		t.Fatal(err)
	}
	for _, r := range old {
		if _, err := s.db.Exec("INSERT INTO reading("+readingColumns+", sequence, hz, ci95_cents) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, '', '', ?, ?, ?)",
			nil, r.Chair, r.Round, r.Node, r.Boot, nanos(r.At), r.Note, float64(r.Target), float64(r.Cents), r.Counted, r.Why, r.Verdict,
			encode(r.Wire), r.Wire.Sequence, float64(r.Wire.Hz), float64(r.Wire.CI95)); err != nil {
			t.Fatal(err)
		}
	}
	s.Close()
	if s, err = Open(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	got, err := s.Figures(t.Context(), 1, time.Time{})
	want := []hub.Figures{
		{Chair: 2, At: at, Note: 58, Cents: -4.5, Hz: 232.5, Level: -21.5, Early: 2.5, Drift: -0.5, Middle: 1.25, Played: 40, Second: math.Inf(-1)},
		{Chair: 2, At: at.Add(time.Hour), Watch: true, Hz: 350, Level: -12, Middle: 1.5, Played: 900, Second: -14.5},
	}
	if err != nil || len(got) != 2 || got[0] != want[0] || got[1] != want[1] {
		t.Errorf("%v\ngot  %+v\nwant %+v", err, got, want)
	}
}
