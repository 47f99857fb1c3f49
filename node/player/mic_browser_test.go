package player_test

import (
	"bytes"
	"errors"
	"math"
	"math/rand/v2"
	"net/http/httptest"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	cdpbrowser "github.com/chromedp/cdproto/browser"
	cdppage "github.com/chromedp/cdproto/page"
	"github.com/chromedp/chromedp"

	"bellrow/node/capture"
	"bellrow/node/check"
	"bellrow/node/player"
	"bellrow/proto/page/browser"
	"bellrow/proto/pitch"
	"bellrow/testdata/hearing"
	"bellrow/testdata/notes"
	"bellrow/testdata/require"
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

// opened opens the microphone of a player's page in a browser, after a script
// of the test's own.
func opened(t *testing.T, script string, flags ...chromedp.ExecAllocatorOption) (*browser.Browser, *player.Microphone, capture.Source) {
	t.Helper()
	b := browser.Open(t, flags...)
	b.Inject(script)
	m, url := micPageAt(t)
	b.Go(url)
	press(b)
	src, err := m.Open(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { src.Close() })
	return b, m, src
}

// often is how often a note must come through.
const often = 10

// TestNoteThroughTheBrowser: a trombone note goes through Chromium's capture,
// over and over, and is read as it is in the file, ten of ten times.
func TestNoteThroughTheBrowser(t *testing.T) {
	require.Alone(t)
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.6)
	want := hearing.Direct(t, path)
	_, m, src := opened(t, "", faked(path)...)
	t.Logf("heard as %+v, processing %q", src.Info(), m.Status().Processing)
	if got := m.Status().Processing; len(got) != 0 {
		t.Errorf("the browser processes the sound: %q", got)
	}
	hearing.From(t, src, often, time.Minute).Check(t, want, often)
}

// TestNoteThroughSoundCardAndBrowser: the same through a real device of the
// system, the virtual sound card. On a starved machine the two lose sound
// before it reaches the page, and nobody tells; so this asks for three good
// notes of at most ten, and says how many were damaged.
func TestNoteThroughSoundCardAndBrowser(t *testing.T) {
	require.Alone(t)
	path := notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.6)
	want := hearing.Direct(t, path)
	card := soundcard.Start(t)
	b, _, src := opened(t, "", allowed)
	const enough = 3
	good := hearing.Heard{}
	for played := 1; played <= often && len(good.Settled) < enough; played++ {
		done := make(chan struct{})
		go func() { defer close(done); card.Play(path) }()
		h := hearing.From(t, src, 1, 5*time.Second)
		<-done
		if len(h.Settled) == 1 && math.Abs(float64(pitch.Between(want, h.Settled[0].Hz))) <= hearing.Tolerance {
			good.Settled = append(good.Settled, h.Settled[0])
			good.Lost, good.Samples = good.Lost+h.Lost, good.Samples+h.Samples
		} else { // what it lost, and told, is part of its damage
			t.Logf("note %d came damaged: %d settled, %d others, %d samples told as lost", played, len(h.Settled), len(h.Other), h.Lost)
		}
	}
	good.Check(t, want, enough)
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

// TestUnpluggedInTheBrowser takes the device away and brings it back: the node
// is told at once, the page says so, and goes on by itself.
func TestUnpluggedInTheBrowser(t *testing.T) {
	require.Alone(t)
	card := soundcard.Start(t)
	b, m, src := opened(t, "", allowed)
	card.PullOut()
	start := time.Now()
	err := readToEnd(t.Context(), src)
	t.Logf("the source says after %v: %v", time.Since(start).Round(time.Millisecond), err)
	if !errors.Is(err, capture.ErrLost) && !errors.Is(err, player.ErrPageGone) {
		t.Errorf("error %v, want the loss", err)
	}
	b.Until("the page says it", `["lost", "none", "busy", "muted", "asking"].includes(document.getElementById("mic").dataset.mic)`)
	t.Log("the page says: ", browser.Eval[string](b, `document.getElementById("mic").innerText`))
	card.PlugIn()
	micState(b, "live")
	back, err := m.Open(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	defer back.Close()
	if _, err := back.Read(t.Context()); err != nil {
		t.Errorf("after the return: %v", err)
	}
}

// TestTabPutToSleep: browsers freeze pages that nobody looks at, phones above
// all. The node is told within the watchdog's second, hears the page again
// when it wakes, and is not fed the sound of the time between.
func TestTabPutToSleep(t *testing.T) {
	require.Alone(t)
	b, m, src := opened(t, "", faked(notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.2))...)
	for range 10 {
		if _, err := src.Read(t.Context()); err != nil {
			t.Fatal(err)
		}
	}
	lifecycle := func(state cdppage.SetWebLifecycleStateState) {
		t.Helper()
		_, err := chromedp.Call(b.Context(), cdppage.SetWebLifecycleState, cdppage.SetWebLifecycleStateParams{State: state})
		if err != nil {
			t.Fatal(err)
		}
	}
	lifecycle(cdppage.SetWebLifecycleStateStateFrozen)
	start := time.Now()
	err := readToEnd(t.Context(), src)
	t.Logf("the source says after %v: %v", time.Since(start).Round(time.Millisecond), err)
	if !errors.Is(err, capture.ErrLost) {
		t.Errorf("error %v, want ErrLost", err)
	}
	const slept = 3 * time.Second
	time.Sleep(slept)
	lifecycle(cdppage.SetWebLifecycleStateStateActive)
	// As a node does, open again when the old socket's remains come first.
	back := awake(t, m)
	defer back.Close()
	start = time.Now()
	samples := 0
	for time.Since(start) < time.Second {
		block, err := back.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		samples += len(block.Samples)
	}
	// One second of sound, and what had been under way.
	heard := float64(samples) / back.Info().Rate
	t.Logf("%.2f s of sound in the first second", heard)
	if heard < 0.5 || heard > 2.5 {
		t.Errorf("%.2f s of sound in the first second, want about one: neither silence nor what was slept through", heard)
	}
}

// awake returns the source of a page that woke up, once it has delivered for
// half a second: Chromium may cut the socket of a page that slept, and the page
// then connects anew.
func awake(t *testing.T, m *player.Microphone) capture.Source {
	t.Helper()
	for {
		src, err := m.Open(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		for start := time.Now(); time.Since(start) < time.Second/2; {
			if _, err = src.Read(t.Context()); err != nil {
				break
			}
		}
		if err == nil {
			return src
		}
		src.Close()
		if !errors.Is(err, player.ErrPageGone) && !errors.Is(err, capture.ErrLost) {
			t.Fatal(err)
		}
	}
}

// forced makes the browser process the sound although the page asks it not
// to, as some systems do.
const forced = `(() => {
	const plain = navigator.mediaDevices.getUserMedia.bind(navigator.mediaDevices);
	navigator.mediaDevices.getUserMedia = (c) =>
		plain({ audio: { ...c.audio, echoCancellation: true, noiseSuppression: true, autoGainControl: true } });
})()`

// TestProcessingIsSuspected: with the browser's processing left on, the page
// warns, the node is told, and the check finds it in the sound itself. With it
// off, all three are content.
func TestProcessingIsSuspected(t *testing.T) {
	require.Alone(t)
	path := filepath.Join(t.TempDir(), "room.wav")
	writeRoom(t, path)
	for _, tt := range []struct {
		name  string
		force bool
	}{{"plain", false}, {"processed", true}} {
		t.Run(tt.name, func(t *testing.T) {
			script := ""
			if tt.force {
				script = forced
			}
			b, _, src := opened(t, script, faked(path+"%noloop")...)
			sound := check.NewSound(src.Info().Rate)
			for heard := 0.0; heard < 9; {
				block, err := src.Read(t.Context())
				if err != nil {
					t.Fatal(err)
				}
				sound.Write(block.Samples, block.Lost)
				heard += float64(len(block.Samples)) / src.Info().Rate
			}
			for _, l := range sound.Lines() {
				t.Logf("%+v", l)
				if l.Check == "processing" && (l.State == check.Act) != tt.force {
					t.Errorf("the check says %+v, processing is on: %v", l, tt.force)
				}
			}
			warns := browser.Eval[bool](b, `!document.querySelector("#mic .notice").hidden`)
			told := src.(capture.Troubled).Trouble() == "processing-on"
			if warns != tt.force || told != tt.force {
				t.Errorf("the page warns: %v, the node is told: %v, want %v", warns, told, tt.force)
			}
		})
	}
}

// writeRoom writes three seconds of a quiet room, a note held for three and a
// half seconds in it, and three seconds of the room.
func writeRoom(t *testing.T, path string) {
	t.Helper()
	const rate = 48000
	rng := rand.New(rand.NewPCG(5, 8))
	x := make([]float64, 95*rate/10)
	for i := range x {
		at := float64(i) / rate
		x[i] = 0.001 * rng.NormFloat64()
		if ramp := min(1, (at-3)/0.05, (6.5-at)/0.05); ramp > 0 {
			for k := 1.0; k <= 6; k++ {
				x[i] += 0.25 / k * ramp * math.Sin(2*math.Pi*k*233.08*at)
			}
		}
	}
	var wide bytes.Buffer
	if err := capture.WriteWAV(&wide, x, rate); err != nil {
		t.Fatal(err)
	}
	// Chromium plays only 16 bit files as a microphone.
	if _, err := exec.LookPath("sox"); err != nil {
		require.Missing(t, "sox is not installed")
	}
	narrow := exec.Command("sox", "-t", "wav", "-", "-b", "16", path)
	narrow.Stdin = &wide
	if out, err := narrow.CombinedOutput(); err != nil {
		t.Fatalf("sox: %v: %s", err, out)
	}
}
