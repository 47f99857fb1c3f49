package web_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/chromedp/chromedp"

	"bellrow/hub/web/webtest"
	"bellrow/proto"
	"bellrow/proto/page/browser"
	"bellrow/testdata/require"
)

// TestQRIsRead photographs the join page as it stands on the screen and has
// the picture read by zbarimg (ZBar), in both themes, as the leader and as
// somebody else.
func TestQRIsRead(t *testing.T) {
	reader, err := exec.LookPath("zbarimg")
	if err != nil {
		require.Missing(t, "no zbarimg on this machine (Debian package zbar-tools)")
	}
	b := browser.Open(t)
	for _, g := range []webtest.Guard{{}, {Closed: true}} {
		b.Go(serve(t, webtest.New(3, webtest.Before), g) + "/")
		b.Until("the picture", "document.getElementById('qr').naturalWidth > 0")
		for _, s := range []size{sizes[0], sizes[2]} {
			for _, theme := range []string{"paper", "stage"} {
				b.Size(s.width, s.height)
				b.Theme(theme)
				browser.Eval[bool](b, "document.getElementById('qr').scrollIntoView(); true")
				text := readCode(t, b, reader)
				link, err := proto.ParseLink(text)
				if err != nil {
					t.Errorf("%s px, %s: what was read is %q: %v", s.name, theme, text, err)
					continue
				}
				code := ""
				if !g.Closed {
					code = "K7M4QX"
				}
				if !strings.HasPrefix(text, "http://192.168.4.20:7440") || link.Code != code {
					t.Errorf("%s px, %s: what was read is %q, need the hub's link with the code %q", s.name, theme, text, code)
				}
			}
		}
	}
}

// readCode returns what a reader finds in a picture of the window.
func readCode(t *testing.T, b *browser.Browser, reader string) string {
	t.Helper()
	png, err := chromedp.Run(b.Context(), chromedp.CaptureScreenshot())
	if err != nil {
		t.Fatal(err)
	}
	file := filepath.Join(t.TempDir(), "window.png")
	if err := os.WriteFile(file, png, 0o600); err != nil {
		t.Fatal(err)
	}
	out, err := exec.CommandContext(t.Context(), reader, "--quiet", "--raw", "-Sdisable", "-Sqrcode.enable", file).Output()
	if err != nil {
		t.Errorf("zbarimg finds no code: %v", err)
	}
	return strings.TrimSpace(string(out))
}
