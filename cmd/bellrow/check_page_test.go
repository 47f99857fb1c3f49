package main

import (
	"bytes"
	"encoding/json"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/gorilla/websocket"

	"bellrow/node/capture"
	"bellrow/node/check"
	"bellrow/node/mic"
	"bellrow/node/player"
	"bellrow/proto/page/browser"
	"bellrow/proto/phrase"
	"bellrow/proto/phrase/heard"
	"bellrow/proto/pitch"
	"bellrow/testdata/require"
)

// TestCheckThroughTheBrowser: a build without a microphone of its own checks
// the browser's, line by line, and the page says how it went.
func TestCheckThroughTheBrowser(t *testing.T) {
	require.Alone(t)
	if mic.Native {
		t.Skip("this build has a microphone of its own")
	}
	path := narrow(t, rehearsalSound(0.0005))
	p, err := openCheckPage()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.stop)
	b := browser.Open(t, chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-audio-capture", path+"%noloop"))
	b.Go(p.url)
	steps := make(chan check.Step, len(check.Steps))
	done := make(chan []check.Line, 1)
	go func() { done <- p.sound(t.Context(), func(s check.Step) { steps <- s }) }()
	b.Until("the first step", `(() => {
		const mic = document.getElementById("mic");
		if (mic?.dataset.mic === "idle") mic.querySelector("button").click();
		return document.getElementById("say").innerText.includes("Be quiet");
	})()`)
	select {
	case lines := <-done:
		found := map[string]check.State{}
		for _, l := range lines {
			t.Logf("%+v", l)
			found[l.Check] = l.State
		}
		for _, name := range []string{"microphone", "level", "noise", "clipping", "hum", "processing", "samples", "rate"} {
			if found[name] != check.OK {
				t.Errorf("%s is %q, want it ok", name, found[name])
			}
		}
	case <-time.After(5 * time.Minute):
		t.Fatal("the check does not end")
	}
	if len(steps) != len(check.Steps) {
		t.Errorf("%d steps were said, want %d", len(steps), len(check.Steps))
	}
	b.Until("the page says how it went", `document.getElementById("say").innerText.includes("good")`)
}

// TestCheckPageNothingIsEnglish: from the first line to the last the page of a check is
// in the language of its browser, and goes into another one at once.
func TestCheckPageNothingIsEnglish(t *testing.T) {
	p, err := openCheckPage()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(p.stop)
	read := func(tag string) (sheet player.Sheet) {
		t.Helper()
		r, err := http.NewRequest("GET", p.url, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Accept-Language", tag)
		answer, err := http.DefaultClient.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		conn, _, err := websocket.DefaultDialer.Dial(strings.Replace(p.url, "http", "ws", 1)+"ws", nil)
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Close()
		_, data, err := conn.ReadMessage()
		if err != nil {
			t.Fatal(err)
		}
		for _, text := range heard.JSON(data) {
			if e := heard.English(tag, text); e != "" && !strings.HasPrefix(tag, "en") {
				t.Errorf("%s: %q is English in %q", tag, e, text)
			}
		}
		if err := json.Unmarshal(data, &sheet); err != nil {
			t.Fatal(err)
		}
		return sheet
	}
	muted := check.NewSound(48000)
	muted.Write(make([]float64, 48000), 0)
	for _, l := range phrase.Player.Offered() {
		tongue := phrase.Player.In(l.Tag, pitch.Style{})
		p.show("idle", func(t phrase.Tongue) (string, []string) { return check.Steps[1].In(t), nil })
		if got := read(l.Tag); got.Say != tongue.Say("check.hold") || got.Chair != tongue.Say("check.title") {
			t.Errorf("%s: %q says %q", l.Tag, got.Chair, got.Say)
		}
		p.tell(muted.Lines())
		want := tongue.Say("check.microphone.zero") + " " + tongue.Say("check.microphone.zero.next")
		if got := read(l.Tag); got.Say != tongue.Say("check.todo") || len(got.Notes) != 1 || got.Notes[0] != want {
			t.Errorf("%s: says %q and %q, want %q", l.Tag, got.Say, got.Notes, want)
		}
		p.tell(nil)
		if got := read(l.Tag); got.Say != tongue.Say("check.good") {
			t.Errorf("%s: says %q", l.Tag, got.Say)
		}
	}
}

// narrow writes a sound as Chromium plays it for a microphone: 16 bit.
func narrow(t *testing.T, samples []float64) string {
	t.Helper()
	var wide bytes.Buffer
	if err := capture.WriteWAV(&wide, samples, 48000); err != nil {
		t.Fatal(err)
	}
	if _, err := exec.LookPath("sox"); err != nil {
		require.Missing(t, "sox is not installed")
	}
	path := filepath.Join(t.TempDir(), "narrow.wav")
	sox := exec.Command("sox", "-t", "wav", "-", "-b", "16", path)
	sox.Stdin = &wide
	if out, err := sox.CombinedOutput(); err != nil {
		t.Fatalf("sox: %v: %s", err, out)
	}
	return path
}

// TestPageAddress: a player's page keeps its address while nobody else has it,
// so that the browser remembers the permission, and does without it otherwise.
func TestPageAddress(t *testing.T) {
	first, err := listenForPage(anyPage)
	if err != nil {
		t.Fatal(err)
	}
	defer first.Close()
	second, err := listenForPage(anyPage)
	if err != nil {
		t.Fatal(err)
	}
	defer second.Close()
	taken := first.Addr().String()
	if _, err := listenForPage(taken); err == nil || !strings.Contains(err.Error(), "in use") {
		t.Errorf("a taken address that was asked for: error %v, want that it is in use", err)
	}
}

// TestPageSecret: the page's address outlives its node, and a file that holds
// something else is replaced.
func TestPageSecret(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "node")
	first := pageSecret(dir)
	if again := pageSecret(dir); first == "" || again != first {
		t.Errorf("%q, then %q; want the same again", first, again)
	}
	if err := os.WriteFile(filepath.Join(dir, "page-secret"), []byte("../"), 0o600); err != nil {
		t.Fatal(err)
	}
	if other := pageSecret(dir); !secretForm.MatchString(other) || other == first {
		t.Errorf("%q after a damaged file, want a new secret", other)
	}
}
