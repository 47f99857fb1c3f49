package main

import (
	"context"
	"log/slog"
	"math"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto/page/browser"
	"bellrow/proto/pitch"
	"bellrow/testdata/hearing"
	"bellrow/testdata/notes"
	"bellrow/testdata/require"
)

// openDoor runs a hub with a door for telephones.
func openDoor(t testing.TB) (*station, *phones) {
	t.Helper()
	log := slog.New(slog.DiscardHandler)
	dir := t.TempDir()
	s, err := openStation(t.Context(), stationConfig{listen: "127.0.0.1:0", section: "Telephones", log: log})
	if err != nil {
		t.Fatal(err)
	}
	p, err := openPhones(s, "127.0.0.1:0", dir, log)
	if err != nil {
		t.Fatal(err)
	}
	ctx, stop := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { s.run(ctx) })
	running.Go(func() { p.run(ctx) })
	t.Cleanup(func() { stop(); running.Wait() })
	return s, p
}

// chairs waits until the row is as wanted and returns its chairs.
func chairs(t testing.TB, s *station, what string, wanted func(c []show.ChairRow) bool) []show.ChairRow {
	t.Helper()
	feed := s.hub.FollowRow()
	defer feed.Close()
	late := time.After(time.Minute)
	for {
		row := s.hub.Row().Chairs
		if wanted(row) {
			return row
		}
		select {
		case <-feed.C():
		case <-late:
			t.Fatalf("never came: %s; the row is %+v", what, row)
		}
	}
}

// TestTelephoneTakesPart goes the whole way of a player with a telephone: the
// link, the code, the seat, the microphone, a note, the answer on the row.
func TestTelephoneTakesPart(t *testing.T) {
	require.Alone(t)
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 2)
	want := hearing.Direct(t, path)
	s, p := openDoor(t)
	b := browser.Open(t, chromedp.Flag("ignore-certificate-errors", true),
		chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-audio-capture", path))
	b.Go(p.link())
	b.Until("the code from the link", `document.getElementById("code").value.length >= 6`)
	browser.Eval[bool](b, `document.querySelector("#door button").click() || true`)
	b.Until("the player's page", `location.pathname.length > 10 && document.getElementById("join") && !document.getElementById("join").hidden`)
	b.Until("the instruments", `document.querySelector('input[value="tenor_trombone_bb"]')`)
	browser.Eval[bool](b, `(() => {
		document.getElementById("name").value = "Trombone 1";
		document.querySelector('input[value="tenor_trombone_bb"]').click();
		document.getElementById("sit").click();
		return true;
	})()`)
	b.Until("microphone on", `(() => {
		const mic = document.getElementById("mic");
		if (mic?.dataset.mic === "idle") mic.querySelector("button").click();
		return mic?.dataset.mic === "live";
	})()`)
	chairs(t, s, "the telephone has a seat", func(c []show.ChairRow) bool { return len(c) == 1 && c[0].State != "away" })
	if err := s.hub.Command(t.Context(), hub.Command{Do: hub.DoCall, Call: &hub.Call{Kind: hub.CallNote, Note: 58}}); err != nil {
		t.Fatal(err)
	}
	// The answer is to play warm first: the telephone's player came in cold.
	c := chairs(t, s, "an answer", func(c []show.ChairRow) bool { return c[0].Headline != "" })[0]
	readings, err := s.store.Readings(t.Context(), s.hub.Section().ID, time.Time{})
	if err != nil || len(readings) == 0 {
		t.Fatalf("%d readings, error %v", len(readings), err)
	}
	r := readings[0].Wire
	off := pitch.Between(want, r.Hz)
	t.Logf("%s: %s; %.4f Hz, %+.4f cents from the file itself", c.Label, c.Headline, r.Hz, off)
	if !r.Settled || math.Abs(float64(off)) > hearing.Tolerance {
		t.Errorf("reading %+v, want it settled at %.4f Hz", r, want)
	}
}
