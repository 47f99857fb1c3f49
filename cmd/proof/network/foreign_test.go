package network

import (
	"context"
	"encoding/json"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"os/exec"
	"testing"
	"time"

	"github.com/chromedp/chromedp"

	"bellrow/testdata/require"
)

// foreignPage tries from another origin what a page in a player's or the
// leader's browser could try. %s is the hub's host and port.
const foreignPage = `<!doctype html><title>foreign</title><script>
const hub = %q
const socket = path => new Promise(done => {
  const ws = new WebSocket("ws://" + hub + path)
  ws.onopen = () => done("open")
  ws.onerror = () => done("refused")
})
const reads = (path, options) => fetch("http://" + hub + path, options).then(r => r.text()).then(t => "read " + t.length, () => "refused")
const post = path => fetch("http://" + hub + path, {method: "POST", mode: "no-cors", body: "key=guess"}).then(r => r.type, () => "refused")
Promise.all([socket("/ws/node"), socket("/ws/row"), reads("/api/row"), reads("/api/section", {credentials: "include"}), post("/api/command"), post("/leader")])
  .then(r => { window.tried = JSON.stringify(r) })
</script>`

// A page of another site, in a real browser, gets nothing out of a hub and
// nothing into it: neither from another origin, nor under a name that was
// rebound to the hub's own address and port.
func TestForeignPages(t *testing.T) {
	if testing.Short() {
		t.Skip("starts a browser")
	}
	chromium, err := exec.LookPath("chromium")
	if err != nil {
		require.Missing(t, "no chromium on this machine")
	}
	address := hubProcess(t)
	foreign := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		fmt.Fprintf(w, foreignPage, r.URL.Query().Get("hub"))
	}))
	defer foreign.Close()
	_, hubPort, err := net.SplitHostPort(address)
	if err != nil {
		t.Fatal(err)
	}

	// Every name leads to this machine and none leaves it.
	options := append(chromedp.DefaultExecAllocatorOptions[:],
		chromedp.ExecPath(chromium), chromedp.NoSandbox, chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()),
		chromedp.Flag("disable-dev-shm-usage", true), chromedp.Flag("host-resolver-rules", "MAP * 127.0.0.1"),
		chromedp.WSURLReadTimeout(time.Minute))
	alloc, cancelAlloc := chromedp.NewExecAllocator(context.Background(), options...)
	defer cancelAlloc()
	ctx, cancel := chromedp.NewContext(alloc)
	defer cancel()
	ctx, cancelTime := context.WithTimeout(ctx, 5*time.Minute)
	defer cancelTime()

	for _, c := range []struct{ what, hub string }{
		{"another origin", address},
		{"a rebound name", "rebound.example:" + hubPort},
	} {
		tried := open(t, ctx, foreign.URL+"/?hub="+c.hub)
		// A POST without CORS is sent, and refused unseen: that it changed
		// nothing is the guard's own test; here it must not be readable.
		for i, got := range tried {
			if got != "refused" && got != "opaque" {
				t.Errorf("%s: attempt %d of the page: %s", c.what, i, got)
			}
		}
		t.Logf("%s: %v", c.what, tried)
	}
	// The same page from the hub's own origin would get through: the check can fail.
	own, err := http.Get("http://" + address + "/api/row")
	if err != nil || own.StatusCode != http.StatusOK {
		t.Errorf("the hub's own page: %v, %v", own, err)
	}
	own.Body.Close()
}

func open(t *testing.T, ctx context.Context, address string) (tried []string) {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.Navigate(address)); err != nil {
		t.Fatal(err)
	}
	for deadline := time.Now().Add(5 * time.Minute); time.Now().Before(deadline); time.Sleep(50 * time.Millisecond) {
		s, err := chromedp.Run(ctx, chromedp.Evaluate[string]("window.tried || ''"))
		if err == nil && s != "" {
			if err := json.Unmarshal([]byte(s), &tried); err != nil || len(tried) != 6 {
				t.Fatalf("%s: %v", s, err)
			}
			return tried
		}
	}
	t.Fatal("the page never finished")
	return nil
}
