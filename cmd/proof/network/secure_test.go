package network

import (
	"context"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"bellrow/hub/access"
	"bellrow/hub/link"
	"bellrow/hub/mem"
	"bellrow/hub/session"
	"bellrow/node/uplink"
	"bellrow/proto"
)

// A hub with a key of its own: a node that pins it gets in, one that pins
// another does not say a word.
func TestPinnedKey(t *testing.T) {
	h, err := session.New(t.Context(), session.Config{Store: mem.New()})
	if err != nil {
		t.Fatal(err)
	}
	cert, err := access.SelfSigned(t.TempDir(), time.Now())
	if err != nil {
		t.Fatal(err)
	}
	guard, err := access.New(access.Config{JoinCode: h.JoinCode(), TLS: true})
	if err != nil {
		t.Fatal(err)
	}
	l, err := link.New(link.Config{Hub: h, Access: guard, Fingerprint: access.Fingerprint(cert)})
	if err != nil {
		t.Fatal(err)
	}
	requests := 0
	server := httptest.NewUnstartedServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		requests++
		l.ServeHTTP(w, r)
	}))
	server.TLS = access.TLSConfig(cert)
	server.StartTLS()
	defer server.Close()
	defer l.Close()

	join := proto.Link{Address: server.Listener.Addr().String(), TLS: true, Code: h.JoinCode(), Hub: h.ID(), Fingerprint: access.Fingerprint(cert)}
	scanned, err := proto.ParseLink(join.String())
	if err != nil || scanned != join {
		t.Fatalf("%s: %+v, %v", join, scanned, err)
	}
	for _, c := range []struct {
		what, fingerprint string
		want              uplink.Phase
	}{
		{"another key", strings.Repeat("00", 32), uplink.Refused},
		{"the key of the link", join.Fingerprint, uplink.Connected},
	} {
		link := scanned
		link.Fingerprint = c.fingerprint
		u, err := uplink.New(uplink.Config{Hub: link, Instrument: "trumpet_bb"})
		if err != nil {
			t.Fatal(err)
		}
		ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
		done := make(chan error)
		go func() { done <- u.Run(ctx) }()
		for changed := u.Changed(); u.Status().Phase != c.want && ctx.Err() == nil; changed = u.Changed() {
			select {
			case <-changed:
			case <-ctx.Done():
			}
		}
		if s := u.Status(); s.Phase != c.want {
			t.Errorf("%s: %+v, want %s", c.what, s, c.want)
		}
		if c.want == uplink.Refused && requests > 0 {
			t.Errorf("%s: the node spoke to it", c.what)
		}
		cancel()
		<-done
	}
}
