package attribute

import (
	"log/slog"
	"math"
	"testing"

	"bellrow/cmd/proof/estimate"
	"bellrow/proto/pitch"
	"bellrow/testdata/require"
)

// TestHall: four players hold a tuning note in a room, before laptops whose clocks
// differ, joined to a hub over sockets. The round comes to its end, somebody is
// read while all play, and nobody gets another's pitch. Messages take a little
// more or less time on another machine; what is asked holds for all of that.
func TestHall(t *testing.T) {
	if testing.Short() {
		t.Skip("a round of a row takes seconds")
	}
	notes, err := estimate.RecordedNotes(t.Context(), "")
	if err != nil {
		require.Missing(t, err.Error())
	}
	take, err := Hall{Row: Row{Players: 4, RT60: 0.8, Kind: "octaves", Seed: 100}}.Play(t.Context(), notes, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	if !take.Done || len(take.Fits) == 0 {
		t.Fatalf("after %.0f s the round is over: %v; %d fits", take.Seconds, take.Done, len(take.Fits))
	}
	together := 0
	for _, r := range take.Readings {
		if r.Fit >= 0 {
			together++
		}
		if e := math.Abs(float64(pitch.Between(r.Truth, r.Hz))); !r.Known || e > wrongRow {
			t.Errorf("chair %d is read %.1f cents off what it played", r.Chair+1, e)
		}
	}
	if together == 0 {
		t.Errorf("of %d readings none came of all playing at once", len(take.Readings))
	}
	in := take.Fits[0].In
	if d := in.End - in.Start; d < 1.5 {
		t.Errorf("the row was heard for %.1f s, it held for three", d)
	}
	for _, c := range in.Chairs {
		if c.ClockError <= 0 || c.ClockError > 0.05 {
			t.Errorf("the clock of chair %d is known to %.3f s", c.ID, c.ClockError)
		}
	}
}
