package attribute

import (
	"math"
	"testing"

	"bellrow/cmd/proof/estimate"
	"bellrow/hub/attribute"
	"bellrow/testdata/require"
)

// Rows of recorded notes of real players, in a room, each laptop with a clock of
// its own: nobody gets somebody else's pitch, who does not play gets none, and
// some are read. The shares are measured by the command; these seeds are the
// first ones, not chosen.
func TestRowsOfRecordedNotes(t *testing.T) {
	notes, err := estimate.RecordedNotes(t.Context(), "")
	if err != nil {
		require.Missing(t, err.Error())
	}
	var f attribute.Fitter
	all := &rowTally{}
	for i, r := range []Row{
		{Players: 4, RT60: 0.4, Kind: "octaves"}, {Players: 4, RT60: 0.8, Kind: "unison"}, {Players: 4, RT60: 1.2, Kind: "chord", Known: true},
	} {
		r.Seed = uint64(i + 1)
		if err := r.measure(&f, notes, all); err != nil {
			t.Fatal(err)
		}
	}
	t.Log(all)
	if all.wrong+all.ghosts > 0 {
		t.Errorf("%d wrong, %d silent chairs read", all.wrong, all.ghosts)
	}
	if all.read*3 < all.playing {
		t.Errorf("%d of %d read, want a third", all.read, all.playing)
	}
	turnedRow(t, notes)
}

// BenchmarkRow is a row of twelve in a room.
func BenchmarkRow(b *testing.B) {
	notes, err := estimate.RecordedNotes(b.Context(), "")
	if err != nil {
		b.Skip(err)
	}
	take, err := Row{Players: 12, RT60: 0.8, Kind: "octaves", Seed: 1}.Play(notes)
	if err != nil {
		b.Fatal(err)
	}
	var f attribute.Fitter
	for b.Loop() {
		take.Input().Fit(&f, nil)
	}
}

// turnedRow: a row gives the same answer in whatever order its chairs stand.
func turnedRow(t *testing.T, notes []estimate.Note) {
	take, err := Row{Players: 4, RT60: 0.4, Kind: "octaves", Seed: 1}.Play(notes)
	if err != nil {
		t.Fatal(err)
	}
	was := take.Input().Fit(new(attribute.Fitter), nil)
	turned := take.Input()
	for i := range turned.Chairs {
		turned.Chairs[i] = take.Input().Chairs[(i+1)%4]
	}
	for i, c := range turned.Fit(new(attribute.Fitter), nil).Chairs {
		o := was.Chairs[(i+1)%4]
		if c.ID != o.ID || c.Verdict != o.Verdict || math.Abs(float64(c.Hz-o.Hz)) > 1e-6*float64(o.Hz) {
			t.Errorf("chair %d: %s at %v Hz, was %s at %v", c.ID, c.Verdict, c.Hz, o.Verdict, o.Hz)
		}
	}
}
