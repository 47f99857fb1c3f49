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

// openDoor runs a hub with a door for telephones, until the test ends.
func openDoor(t testing.TB) (*station, *phones) {
	t.Helper()
	s, p, stop := openDoorAt(t, "127.0.0.1:0", "127.0.0.1:0", "", t.TempDir())
	t.Cleanup(stop)
	return s, p
}

// openDoorAt runs one until stop is called; data is the hub's folder, empty for
// a hub that keeps nothing, and seats the telephones'.
func openDoorAt(t testing.TB, hubAt, phonesAt, data, seats string) (s *station, p *phones, stop func()) {
	t.Helper()
	log := slog.New(slog.DiscardHandler)
	s, err := openStation(t.Context(), stationConfig{listen: hubAt, data: data, section: "Telephones", log: log})
	if err != nil {
		t.Fatal(err)
	}
	if p, err = openPhones(s, phonesAt, seats, log); err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(context.Background())
	var running sync.WaitGroup
	running.Go(func() { s.run(ctx) })
	running.Go(func() { p.run(ctx) })
	return s, p, func() { cancel(); running.Wait() }
}

// chairs waits until the row is as wanted and returns its chairs.
func chairs(t testing.TB, s *station, what string, wanted func(c []show.ChairRow) bool) []show.ChairRow {
	t.Helper()
	feed := s.hub.FollowRow()
	defer feed.Close()
	late := time.After(5 * time.Minute)
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

// sitDown goes with a telephone from the link to a seat.
func sitDown(b *browser.Browser) {
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
}

// TestTelephoneComesBack: after a restart of the hub a telephone's page is at its
// seat again, with its name, without a reload and without the code; a hub that
// has lost its data sends it to the door, and the reason given there is true.
func TestTelephoneComesBack(t *testing.T) {
	b := browser.Open(t, chromedp.Flag("ignore-certificate-errors", true))
	data := t.TempDir()
	s, p, stop := openDoorAt(t, "127.0.0.1:0", "127.0.0.1:0", data, data)
	hubAt, phonesAt := s.listener.Addr().String(), p.listener.Addr().String()
	b.Go(p.link())
	sitDown(b)
	const seated = `document.getElementById("link")?.textContent === "connected" && document.getElementById("offline").hidden`
	b.Until("the seat", seated)
	browser.Eval[bool](b, `window.same = true`)
	code := s.guard.JoinCode()
	stop()
	b.Until("the break is said", `document.getElementById("offline").textContent.includes("The leader’s laptop does not answer") && !document.getElementById("offline").hidden`)

	s, _, stop = openDoorAt(t, hubAt, phonesAt, data, data)
	b.Until("the seat again", seated)
	if !browser.Eval[bool](b, `window.same === true`) {
		t.Error("the page had to be loaded again")
	}
	c := chairs(t, s, "the telephone's chair", func(c []show.ChairRow) bool { return len(c) == 1 && c[0].State != "away" })[0]
	if c.Name != "Trombone 1" && c.Label != "Trombone 1" || s.guard.JoinCode() != code {
		t.Errorf("it is %q, %q, and the code %s; want Trombone 1, and %s", c.Label, c.Name, s.guard.JoinCode(), code)
	}
	stop()

	data = t.TempDir()
	s, _, stop = openDoorAt(t, hubAt, phonesAt, data, data)
	defer stop()
	b.Until("the door", `document.getElementById("gone") && !document.getElementById("gone").hidden && document.getElementById("gone").textContent.includes("started anew without its data")`)
	if kept := browser.Eval[string](b, `document.getElementById("code").value`); kept != code {
		t.Errorf("the code %q is filled in, want the last one, %s", kept, code)
	}
	b.Run(chromedp.SetValue(chromedp.CSS("#code"), s.guard.JoinCode()), chromedp.Click(chromedp.CSS("#door button")))
	b.Until("the name of before", `document.getElementById("name")?.value === "Trombone 1" && document.querySelector('input[value="tenor_trombone_bb"]')?.checked`)
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
	sitDown(b)
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
