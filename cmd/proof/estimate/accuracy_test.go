package estimate

import (
	"context"
	"errors"
	"math"
	"slices"
	"strings"
	"testing"

	"bellrow/node/simulate/tone"
	"bellrow/proto/pitch"
	"bellrow/testdata/require"
)

// read measures segments with the project's own estimator.
func read(t *testing.T, segments []segment) tally {
	t.Helper()
	results, err := ownMethod.read(t.Context(), segments)
	if err != nil {
		t.Fatal(err)
	}
	return tallyOf(segments, results)
}

func worst(x []float64) float64 { return quantile(x, 1) }

func TestClean(t *testing.T) {
	x := read(t, steadyTones(30, 1, math.Inf(1), 1))
	if x.gross > 0 || worst(x.errors) > 0.001 {
		t.Errorf("clean tones: worst %.5f cents, gross %d; want 0.001, 0", worst(x.errors), x.gross)
	}
}

func TestNoise(t *testing.T) {
	// A hundredth of a cent is far below what a player holds: the mean is the
	// phase wound up over the stretch, every moment alike, which noise moves four
	// times as much as the best estimator of a steady tone.
	for _, tt := range []struct{ seconds, snr, rms float64 }{{1, 20, 0.01}, {0.5, 20, 0.02}, {1, 10, 0.03}} {
		x := read(t, steadyTones(50, tt.seconds, tt.snr, 3))
		if rms := rootMeanSquare(x.errors); x.gross > 0 || rms > tt.rms {
			t.Errorf("%g dB, %g s: rms %.4f cents, gross %d; want %g, 0", tt.snr, tt.seconds, rms, x.gross, tt.rms)
		}
	}
}

func TestPlayersAndNeighbours(t *testing.T) {
	solos := players(24, 1, 3)
	var segments []segment
	for _, s := range solos {
		segments = append(segments, s.segment())
	}
	alone := read(t, segments)
	if alone.gross > 0 || worst(alone.errors) > 0.4 {
		t.Errorf("alone: worst %.3f cents, gross %d", worst(alone.errors), alone.gross)
	}
	// The part of the fit that told two sources apart went, because it bought
	// nothing on recorded neighbours; on simulated ones it was better than this.
	beside := read(t, mixes(solos, -6, neighbours, 5))
	if m, p := quantile(beside.errors, 0.5), quantile(beside.errors, 0.95); beside.gross > 0 || beside.taken > 0 || m > 0.2 || p > 1.5 {
		t.Errorf("neighbour at -6 dB: median %.3f, 95 %% %.3f, gross %d, taken %d; want 0.2, 1.5, 0, 0", m, p, beside.gross, beside.taken)
	}
	if held := float64(beside.held) / float64(beside.stated); held < 0.8 {
		t.Errorf("neighbour at -6 dB: interval holds the truth in %.0f %%", 100*held)
	}
}

// In half a second a low neighbour 3 cents away beats less than once, and leaves
// no more than the side lobes of the stretch do.
func TestLowNeighbours(t *testing.T) {
	low := slices.DeleteFunc(players(60, 0.5, 103), func(s solo) bool { return s.truth > 130 })
	x := read(t, mixes(low, -6, []float64{3}, 5))
	if len(x.errors) != len(low) || worst(x.errors) > 1.5 || x.held < x.stated-1 || x.taken > 0 {
		t.Errorf("%d low notes: read %d, worst %.3f cents, held by %d intervals, taken %d; want all, 1.5, all but one, 0", len(low), len(x.errors), worst(x.errors), x.held, x.taken)
	}
}

// The reference method for rendered notes is checked where the truth is known.
func TestMeanPitch(t *testing.T) {
	for _, hz := range []float64{43, 117, 233, 880} {
		tn := mustTone(tone.Config{
			Rate: rate, F0: pitch.Hertz(hz), Level: -20, Voice: voiceAt(hz, 0), Wander: 1.5, VibratoHz: 5, VibratoCents: 10,
		})
		x := make([]float64, 2*rate)
		tn.Read(x)
		got, disagreement, ok := meanPitch(x, rate/2, 3*rate/2, hz*1.003)
		truth, _ := tn.Truth(rate/2, 3*rate/2)
		// The ends are averaged over four periods of a moving pitch: a
		// twentieth of a cent at the bottom, less above.
		if off := math.Abs(float64(pitch.Between(truth, pitch.Hertz(got)))); !ok || off > 0.05 {
			t.Errorf("%g Hz: off by %.4f cents (partials disagree by %.4f), %v", hz, off, disagreement, ok)
		}
	}
}

func TestRenderedNotes(t *testing.T) {
	if testing.Short() {
		t.Skip("rendering takes seconds")
	}
	notes, err := render(t.Context(), 6)
	if errors.Is(err, errNoSynth) {
		require.Missing(t, err.Error())
	}
	if err != nil {
		t.Fatal(err)
	}
	var segments []segment
	for _, s := range solos(notes, 1) {
		segments = append(segments, s.segment())
	}
	x := read(t, segments)
	// Many of them wobble by some cents, and the ends of a stretch, where the
	// bands ring, are left out: that is within the interval.
	if len(segments) < 8 || x.gross > 0 || float64(x.held) < 0.9*float64(x.stated) || quantile(x.errors, 0.5) > 0.1 {
		t.Errorf("%d rendered stretches: median %.3f cents, gross %d, held by %d of %d intervals; want at least 8, 0.1, 0, 90 %%",
			len(segments), quantile(x.errors, 0.5), x.gross, x.held, x.stated)
	}
}

func TestRunPrintsTable(t *testing.T) {
	var out strings.Builder
	if err := Run(t.Context(), &out, []string{"-n", "4", "-only", "clean,gross", "-peers=false"}); err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"rms/bound", "steady tone, clean", "gross errors, hum at -10 dB"} {
		if !strings.Contains(out.String(), want) {
			t.Errorf("no %q in\n%s", want, out.String())
		}
	}
	if err := Run(t.Context(), &out, []string{"-n", "0"}); err == nil {
		t.Error("-n 0: no error")
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if err := Run(ctx, &out, []string{"-n", "1", "-only", "clean", "-peers=false"}); !errors.Is(err, context.Canceled) {
		t.Errorf("cancelled: %v", err)
	}
}
