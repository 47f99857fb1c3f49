package main

import (
	"bytes"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellrow/node/capture"
	"bellrow/node/check"
	"bellrow/node/mic"
	"bellrow/proto/page/browser"
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
