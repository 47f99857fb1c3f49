// Package browser drives a headless Chromium in tests of the pages: it opens
// one, watches that no request leaves the host, takes screenshots and runs
// the accessibility rules of axe-core.
package browser

import (
	"context"
	"fmt"
	"net/url"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"bellrow/testdata/require"
)

// Artefacts names the environment variable with the folder that screenshots
// are written to; unset, none are written.
const Artefacts = "BELLROW_ARTEFACTS"

// patience bounds one whole test in the browser.
const patience = 3 * time.Minute

// Browser is one Chromium with one tab, closed at the end of the test.
type Browser struct {
	t   testing.TB
	ctx context.Context

	mu      sync.Mutex
	allowed []string
	foreign []string
	faults  []string
}

// Open starts a Chromium of its own, with a fresh profile, or skips the test
// where there is none and with -short. Extra flags are for microphones and the like.
func Open(t testing.TB, flags ...chromedp.ExecAllocatorOption) *Browser {
	t.Helper()
	return OpenFor(t, patience, flags...)
}

// OpenFor is Open for a test that may take another time in the browser.
func OpenFor(t testing.TB, patience time.Duration, flags ...chromedp.ExecAllocatorOption) *Browser {
	t.Helper()
	if testing.Short() && !require.Everything() {
		t.Skip("a browser takes seconds")
	}
	path, err := exec.LookPath("chromium")
	if err != nil {
		require.Missing(t, "no chromium on this machine")
	}
	options := append([]chromedp.ExecAllocatorOption{
		chromedp.ExecPath(path), chromedp.NoFirstRun, chromedp.NoDefaultBrowserCheck,
		chromedp.Flag("headless", "new"), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		// A mouse that hovers, as on a desk: without it a page hides its keys.
		chromedp.Flag("blink-settings", "primaryHoverType=2,availableHoverTypes=2,primaryPointerType=4,availablePointerTypes=4"),
		chromedp.Flag("hide-scrollbars", true), chromedp.WSURLReadTimeout(time.Minute),
	}, flags...)
	alloc, cancelAlloc := chromedp.NewExecAllocator(context.Background(), options...)
	ctx, cancel := chromedp.NewContext(alloc)
	ctx, cancelTime := context.WithTimeout(ctx, patience)
	b := &Browser{t: t, ctx: ctx}
	t.Cleanup(func() {
		cancelTime()
		cancel()
		cancelAlloc()
		b.check()
	})
	if err := chromedp.Listen(ctx, b.note); err != nil {
		t.Fatalf("chromium does not start: %v", err)
	}
	if _, err := chromedp.Call(ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatalf("chromium does not tell its requests: %v", err)
	}
	return b
}

// note keeps what check complains about.
func (b *Browser) note(ev any) {
	b.mu.Lock()
	defer b.mu.Unlock()
	switch e := ev.(type) {
	case *network.EventRequestWillBeSent:
		b.address(e.Request.URL)
	case *network.EventWebSocketCreated:
		b.address(e.URL)
	case *runtime.EventExceptionThrown:
		b.faults = append(b.faults, faultText(e.ExceptionDetails))
	}
}

func faultText(d *runtime.ExceptionDetails) string {
	if d.Exception != nil && d.Exception.Description != "" {
		return d.Exception.Description
	}
	return d.Text
}

// address notes a request that would leave this machine.
func (b *Browser) address(raw string) {
	u, err := url.Parse(raw)
	if err != nil {
		b.foreign = append(b.foreign, raw)
		return
	}
	switch u.Scheme {
	case "data", "blob", "about":
		return
	}
	if h := u.Hostname(); h != "127.0.0.1" && h != "localhost" && !slices.Contains(b.allowed, h) {
		b.foreign = append(b.foreign, raw)
	}
}

func (b *Browser) check() {
	b.mu.Lock()
	defer b.mu.Unlock()
	for _, u := range b.foreign {
		b.t.Errorf("the page asked for %s, which is not on its own host", u)
	}
	for _, f := range b.faults {
		b.t.Errorf("script error: %s", f)
	}
}

// Allow lets the pages ask for another host, too: the hub's, for a telephone.
func (b *Browser) Allow(host string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.allowed = append(b.allowed, host)
}

// Context is for actions that Browser has no shorthand for.
func (b *Browser) Context() context.Context { return b.ctx }

// Run runs actions and fails the test on the first error.
func (b *Browser) Run(actions ...chromedp.Action[chromedp.Void]) {
	b.t.Helper()
	if err := chromedp.Do(b.ctx, actions...); err != nil {
		b.t.Fatalf("browser: %v", err)
	}
}

// Go opens an address.
func (b *Browser) Go(address string) {
	b.t.Helper()
	b.Run(chromedp.Navigate(address))
}

// waitFor bounds one wait for the page; a machine that is busy with other
// tests may take seconds for what usually takes milliseconds.
const waitFor = 30 * time.Second

// Until waits until a script's expression is true, and fails with what was
// waited for.
func (b *Browser) Until(what, expression string) {
	b.t.Helper()
	deadline := time.Now().Add(waitFor)
	for {
		ok, err := chromedp.Run(b.ctx, chromedp.Evaluate[bool]("Boolean("+expression+")"))
		if err == nil && ok {
			return
		}
		if time.Now().After(deadline) {
			text, _ := chromedp.Run(b.ctx, chromedp.Evaluate[string]("document.body.innerText"))
			b.t.Fatalf("browser: never came: %s (last error %v); the page says:\n%s", what, err, text)
		}
		time.Sleep(30 * time.Millisecond)
	}
}

// Eval returns the value of a script's expression.
func Eval[T any](b *Browser, expression string) T {
	b.t.Helper()
	v, err := chromedp.Run(b.ctx, chromedp.Evaluate[T](expression))
	if err != nil {
		b.t.Fatalf("browser: %s: %v", expression, err)
	}
	return v
}

// Size sets the window, in CSS pixels.
func (b *Browser) Size(width, height int64) {
	b.t.Helper()
	b.Run(chromedp.EmulateViewport(width, height))
}

// Theme chooses "paper" or "stage".
func (b *Browser) Theme(theme string) {
	b.t.Helper()
	Eval[string](b, fmt.Sprintf("document.documentElement.dataset.theme=%q", theme))
}

// Shot writes a screenshot of the window into the artefact folder, if there
// is one.
func (b *Browser) Shot(name string) {
	b.t.Helper()
	dir := os.Getenv(Artefacts)
	if dir == "" {
		return
	}
	png, err := chromedp.Run(b.ctx, chromedp.CaptureScreenshot())
	if err != nil {
		b.t.Fatalf("browser: screenshot: %v", err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		b.t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".png"), png, 0o644); err != nil {
		b.t.Fatal(err)
	}
}
