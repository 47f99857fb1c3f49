package main

import (
	"bufio"
	"encoding/json"
	"io"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellrow/hub/history/study"
	"bellrow/proto/page/browser"
	"bellrow/testdata/notes"
	"bellrow/testdata/require"
)

// TestSoloThroughTheBrowser plays a whole study as one does who has only a
// browser: the player's page is the microphone, a steady trombone note comes
// again and again, the page leads from note to rest to the end, shows no figure
// before it, and stays until Enter is pressed.
func TestSoloThroughTheBrowser(t *testing.T) {
	require.Alone(t)
	b := browser.Open(t, chromedp.Flag("use-fake-ui-for-media-stream", true), chromedp.Flag("use-fake-device-for-media-stream", true),
		chromedp.Flag("use-file-for-fake-audio-capture", notes.Steady(t, notes.Fluid, notes.Trombone, 58, 1.6)))
	keys, typed := io.Pipe()
	said, says := io.Pipe()
	var report strings.Builder
	done := make(chan int, 1)
	go func() {
		done <- run(t.Context(), env{keys, &report, says}, []string{"solo", "--instrument", "tenor_trombone_bb", "--json"})
		says.Close()
	}()
	lines := bufio.NewScanner(said)
	url := ""
	for url == "" && lines.Scan() {
		_, url, _ = strings.Cut(lines.Text(), "Your page: ")
	}
	var all strings.Builder
	told := make(chan struct{})
	go func() {
		defer close(told)
		for lines.Scan() {
			all.WriteString(lines.Text() + "\n")
		}
	}()
	b.Go(url)
	b.Until("the microphone on", `(() => {
		const mic = document.getElementById("mic");
		if (mic?.dataset.mic === "idle") mic.querySelector("button").click();
		return mic?.dataset.mic === "live";
	})()`)
	b.Until("the first note asked for", `document.getElementById("say").textContent.startsWith("1 of 5.")`)
	if text := browser.Eval[string](b, "document.body.innerText"); !strings.Contains(text, "hurt") || !strings.Contains(text, "B♭3") {
		t.Errorf("the page names no caution or no note:\n%s", text)
	}
	b.Shot("solo-first")
	for _, nth := range []string{"2", "3", "4", "5"} {
		b.Until("a rest before note "+nth, `document.getElementById("say").textContent.startsWith("Rest")`)
		b.Until("note "+nth, `document.getElementById("say").textContent.startsWith("`+nth+` of 5.")`)
		if text := browser.Eval[string](b, `document.getElementById("play").innerText`); strings.Contains(text, " cent") || strings.Contains(text, "Hz") {
			t.Errorf("a figure before the end:\n%s", text)
		}
	}
	b.Until("what the study showed", `document.getElementById("say").textContent.includes("came to rest within")`)
	b.Shot("solo-done")
	time.Sleep(2 * time.Second) // a reader's glance
	if text := browser.Eval[string](b, "document.body.innerText"); !strings.Contains(text, "came to rest within") {
		t.Errorf("the page did not stay:\n%s", text)
	}
	if _, err := io.WriteString(typed, "\n"); err != nil {
		t.Fatal(err)
	}
	if code := <-done; code != exitOK {
		t.Errorf("status %d", code)
	}
	<-told
	var r study.Report
	if err := json.Unmarshal([]byte(report.String()), &r); err != nil || r.Centre == nil || len(r.Centre.Cents) != 5 || r.Centre.Range > 1 {
		t.Errorf("%v: %+v, want five times the same pitch\n%s", err, r.Centre, all.String())
	}
}
