//go:build portaudio

package main

import (
	"context"
	"io"
	"log/slog"
	"math"
	"sync"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto/pitch"
	"bellrow/testdata/hearing"
	"bellrow/testdata/notes"
	"bellrow/testdata/require"
	"bellrow/testdata/soundcard"
)

// patience bounds the waits of the tests with a sound card: they play in real
// time, and a busy machine must not fail them.
const patience = time.Minute

// rehearsal is a hub with one player at a native microphone.
type rehearsal struct {
	t       *testing.T
	station *station
}

// rehearse opens a hub and starts `bellrow node` for one trombone.
func rehearse(t *testing.T) *rehearsal {
	t.Helper()
	s, err := openStation(t.Context(), stationConfig{
		listen: "127.0.0.1:0", section: "Slide quartet", log: slog.New(slog.DiscardHandler),
	})
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(t.Context())
	var running sync.WaitGroup
	running.Go(func() { s.run(ctx) })
	state := t.TempDir()
	running.Go(func() {
		code := run(ctx, env{nil, io.Discard, io.Discard}, []string{
			"node",
			"--chair", "Trombone 1", "--instrument", "tenor_trombone_bb", "--warm", "--no-page", "--no-search",
			"--hub", s.addresses()[0], "--join", s.guard.JoinCode(), "--state", state,
		})
		if code != exitOK && ctx.Err() == nil {
			t.Errorf("node: status %d", code)
		}
	})
	t.Cleanup(func() { stop(); running.Wait() })
	r := &rehearsal{t, s}
	r.until("the player has a seat", func(c show.ChairRow) bool { return c.State != "away" })
	return r
}

// until waits until the player's chair is as wanted.
func (r *rehearsal) until(what string, wanted func(c show.ChairRow) bool) show.ChairRow {
	r.t.Helper()
	feed := r.station.hub.FollowRow()
	defer feed.Close()
	late := time.After(patience)
	for {
		chairs := r.station.hub.Row().Chairs
		if len(chairs) == 1 && wanted(chairs[0]) {
			return chairs[0]
		}
		select {
		case <-feed.C():
		case <-late:
			r.t.Fatalf("never came: %s; the row is %+v", what, chairs)
		}
	}
}

func settledAnswer(c show.ChairRow) bool { return c.Cents != nil }

// call calls the concert B flat 3.
func (r *rehearsal) call() {
	r.t.Helper()
	if err := r.station.hub.Command(r.t.Context(), hub.Command{
		Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: 58},
	}); err != nil {
		r.t.Fatal(err)
	}
	r.until("the player's turn", func(c show.ChairRow) bool { return c.State == "turn" })
}

// TestFromMicrophoneToHub: a trombone note goes through the sound server, the
// native microphone, a whole node and the network, and stands on the leader's
// row as it stands in the file.
func TestFromMicrophoneToHub(t *testing.T) {
	require.Alone(t)
	card := soundcard.Start(t)
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 2)
	want := pitch.Between(pitch.Reference{}.Frequency(58), hearing.Direct(t, path))
	r := rehearse(t)
	r.call()
	card.Play(path)
	c := r.until("a settled answer", settledAnswer)
	t.Logf("%s: %s; %+.4f cents, the file itself %+.4f", c.Label, c.Headline, *c.Cents, want)
	if math.Abs(*c.Cents-float64(want)) > hearing.Tolerance {
		t.Errorf("the row says %+.4f cents, the file itself %+.4f", *c.Cents, want)
	}
	if c.Headline == "" {
		t.Error("the answer names no next step")
	}
}

// TestNodeOutlivesItsSoundServer: the server is killed in the middle of a
// rehearsal; the row says so, and the next note after its return is read.
func TestNodeOutlivesItsSoundServer(t *testing.T) {
	require.Alone(t)
	card := soundcard.Start(t)
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 2)
	r := rehearse(t)
	r.call()
	card.Play(path)
	first := *r.until("a settled answer", settledAnswer).Cents
	card.Kill()
	start := time.Now()
	c := r.until("the trouble on the row", func(c show.ChairRow) bool { return c.Trouble != "" })
	t.Logf("after %v the row says: %s", time.Since(start).Round(time.Millisecond), c.Trouble)
	card.Restart()
	r.until("the trouble gone", func(c show.ChairRow) bool { return c.Trouble == "" })
	r.call()
	card.Play(path)
	if second := *r.until("a settled answer", settledAnswer).Cents; math.Abs(second-first) > hearing.Tolerance {
		t.Errorf("%+.4f cents after the return, %+.4f before", second, first)
	}
}
