package player_test

import (
	"errors"
	"io"
	"math"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	cdpbrowser "github.com/chromedp/cdproto/browser"
	"github.com/chromedp/chromedp"

	"bellrow/node/capture"
	"bellrow/node/listen"
	"bellrow/node/player"
	"bellrow/page/browser"
	"bellrow/proto/pitch"
	"bellrow/testdata/notes"
	"bellrow/testdata/soundcard"
)

// allowed answers the browser's question about the microphone with yes.
var allowed = chromedp.Flag("use-fake-ui-for-media-stream", true)

// faked makes a sound file the browser's microphone, over and over.
func faked(path string) []chromedp.ExecAllocatorOption {
	return []chromedp.ExecAllocatorOption{
		allowed,
		chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-audio-capture", path),
	}
}

// micPageAt serves a player's page with a microphone.
func micPageAt(t *testing.T) (*player.Microphone, string) {
	t.Helper()
	m := player.NewMicrophone(nil)
	s, err := player.New(player.Config{Node: &fake{}, Mic: m})
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(s.Handler())
	t.Cleanup(server.Close)
	return m, server.URL + s.Path()
}

// micState waits until the microphone on the page is in a state.
func micState(b *browser.Browser, state string) {
	b.Until("microphone "+state, `document.getElementById("mic")?.dataset.mic === "`+state+`"`)
}

// press presses the microphone's button until the microphone is on.
func press(b *browser.Browser) {
	b.Until("microphone on", `(() => {
		const mic = document.getElementById("mic");
		if (mic?.dataset.mic === "idle") mic.querySelector("button").click();
		return mic?.dataset.mic === "live";
	})()`)
}

// hearing collects settled readings from a source.
type hearing struct {
	settled, other []listen.Reading
	lost, samples  int64
}

// hear listens until enough settled readings have come or the source ends.
func hear(t *testing.T, src capture.Source, enough int, limit time.Duration) hearing {
	t.Helper()
	l, err := listen.New(listen.Config{Rate: src.Info().Rate, ClockPPM: -1})
	if err != nil {
		t.Fatal(err)
	}
	var h hearing
	note := func(events []listen.Event) {
		for _, ev := range events {
			if ev.Reading == nil {
				continue
			}
			if ev.Reading.Settled {
				h.settled = append(h.settled, *ev.Reading)
			} else {
				h.other = append(h.other, *ev.Reading)
			}
		}
	}
	for start := time.Now(); len(h.settled) < enough && time.Since(start) < limit; {
		b, err := src.Read(t.Context())
		if errors.Is(err, io.EOF) {
			note(l.Flush())
			return h
		}
		if err != nil {
			t.Fatal(err)
		}
		h.lost, h.samples = h.lost+b.Lost, h.samples+int64(len(b.Samples))
		if b.Lost > 0 {
			l.Gap(b.Lost)
		}
		note(l.Write(b.Samples))
	}
	return h
}

// direct reads the note from the file itself.
func direct(t *testing.T, path string) pitch.Hertz {
	t.Helper()
	src, err := capture.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	h := hear(t, src, 1, time.Minute)
	if len(h.settled) != 1 {
		t.Fatalf("%d settled readings in the file itself, want 1; others %+v", len(h.settled), h.other)
	}
	return h.settled[0].Hz
}

// compare checks every reading against the file's own pitch.
func compare(t *testing.T, h hearing, want pitch.Hertz, enough int) {
	t.Helper()
	const tol = 0.01 // cents; a fiftieth of what a slide can be set to
	worst := 0.0
	for _, r := range h.settled {
		worst = max(worst, math.Abs(float64(pitch.Between(want, r.Hz))))
	}
	t.Logf("%d settled readings, %d others, largest difference %.5f cents, %d of %d samples lost",
		len(h.settled), len(h.other), worst, h.lost, h.samples)
	if len(h.settled) < enough || worst > tol || h.lost != 0 {
		t.Errorf("%d settled readings within %.4f cents, %d samples lost; want %d within %g and none lost",
			len(h.settled), worst, h.lost, enough, tol)
	}
}

// TestNoteThroughTheBrowser: a trombone note goes through Chromium's capture,
// over and over, and is read as it is in the file, ten of ten times.
func TestNoteThroughTheBrowser(t *testing.T) {
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.6)
	want := direct(t, path)
	b := browser.Open(t, faked(path)...)
	m, url := micPageAt(t)
	b.Go(url)
	press(b)
	src, err := m.Open(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	t.Logf("heard as %+v, processing %q", src.Info(), m.Status().Processing)
	if got := m.Status().Processing; len(got) != 0 {
		t.Errorf("the browser processes the sound: %q", got)
	}
	enough := 10
	if testing.Short() {
		enough = 2
	}
	compare(t, hear(t, src, enough, time.Minute), want, enough)
}

// TestNoteThroughSoundCardAndBrowser: the same through a real device of the
// system, the virtual sound card.
func TestNoteThroughSoundCardAndBrowser(t *testing.T) {
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.6)
	want := direct(t, path)
	card := soundcard.Start(t)
	b := browser.Open(t, allowed)
	m, url := micPageAt(t)
	b.Go(url)
	press(b)
	src, err := m.Open(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer src.Close()
	const enough = 3
	done := make(chan struct{})
	go func() {
		defer close(done)
		for range enough {
			card.Play(path)
		}
	}()
	compare(t, hear(t, src, enough, time.Minute), want, enough)
	<-done
	if !strings.Contains(browser.Eval[string](b, `document.getElementById("mic").innerText`), "The microphone is on") {
		t.Error("the page does not say that the microphone is on")
	}
}

// TestPermissionRefused: the page says what to do, and goes on once allowed.
func TestPermissionRefused(t *testing.T) {
	b := browser.Open(t, chromedp.Flag("use-fake-device-for-media-stream", true))
	_, url := micPageAt(t)
	permit := func(setting cdpbrowser.PermissionSetting) {
		if _, err := chromedp.Call(b.Context(), cdpbrowser.SetPermission, cdpbrowser.SetPermissionParams{
			Permission: &cdpbrowser.PermissionDescriptor{Name: "microphone"}, Setting: setting,
		}); err != nil {
			t.Fatal(err)
		}
	}
	permit(cdpbrowser.PermissionSettingDenied)
	b.Go(url)
	micState(b, "idle")
	browser.Eval[bool](b, `document.querySelector("#mic button").click() || true`)
	micState(b, "refused")
	if text := browser.Eval[string](b, `document.getElementById("mic").innerText`); !strings.Contains(text, "Allow it") {
		t.Errorf("the page says %q, want what to do", text)
	}
	permit(cdpbrowser.PermissionSettingGranted)
	press(b)
}

// TestNoDevice: a laptop without a microphone is told so.
func TestNoDevice(t *testing.T) {
	b := browser.Open(t, allowed)
	t.Setenv("PULSE_SERVER", "unix:"+t.TempDir()+"/nobody")
	_, url := micPageAt(t)
	b.Go(url)
	b.Until("no microphone", `(() => {
		const mic = document.getElementById("mic");
		if (mic?.dataset.mic === "idle") mic.querySelector("button").click();
		return ["none", "busy"].includes(mic?.dataset.mic);
	})()`)
}

// TestTwoTabs: the second tab says that the first is the microphone and takes
// over at a press.
func TestTwoTabs(t *testing.T) {
	path := notes.Render(t, notes.Fluid, notes.Trombone, 58, 0.5)
	b := browser.Open(t, faked(path)...)
	m, url := micPageAt(t)
	b.Go(url)
	press(b)
	// A frame stands in for the other tab: it is a page of its own.
	other := browser.Open(t, faked(path)...)
	other.Go(url)
	other.Until("taken", `(() => {
		const mic = document.getElementById("mic");
		if (mic?.dataset.mic === "idle") mic.querySelector("button").click();
		return mic?.dataset.mic === "taken";
	})()`)
	browser.Eval[bool](other, `document.querySelector("#mic button").click() || true`)
	micState(other, "live")
	micState(b, "taken")
	if !m.Status().Connected {
		t.Error("no tab is the microphone")
	}
}
