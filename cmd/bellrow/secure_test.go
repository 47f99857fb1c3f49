package main

import (
	"context"
	"crypto/tls"
	"log/slog"
	"net/http"
	"testing"
	"time"

	"bellrow/hub/access"
	"bellrow/node/uplink"
	"bellrow/proto"
)

// A hub with its own key: the join link pins it across a restart, a node gets
// in by it, and the pages come over TLS.
func TestSecureHub(t *testing.T) {
	dir := t.TempDir()
	c := stationConfig{listen: "127.0.0.1:0", data: dir, security: security{own: true}, log: slog.New(slog.DiscardHandler)}
	first, err := openStation(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	pinned := first.playersLink().Fingerprint
	first.close()
	s, err := openStation(t.Context(), c)
	if err != nil {
		t.Fatal(err)
	}
	link, err := proto.ParseLink(s.playersLink().String())
	if err != nil || !link.TLS || link.Fingerprint != pinned || pinned != access.Fingerprint(*s.cert) {
		t.Errorf("link %+v, %v; pinned before the restart %s", link, err, pinned)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 5*time.Minute)
	served := make(chan error, 1)
	go func() { served <- s.run(ctx) }()
	u, err := uplink.New(uplink.Config{Hub: link, Instrument: "trumpet_bb"})
	if err != nil {
		t.Fatal(err)
	}
	up := make(chan error, 1)
	go func() { up <- u.Run(ctx) }()
	u.Send(proto.Reading{End: 1, Hz: 466, Level: -20, Floor: -60, Settled: true})
	if err := u.Drain(ctx); err != nil {
		t.Errorf("%v; %+v", err, u.Status())
	}
	transport := &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}} // as one who clicks the warning away
	resp, err := (&http.Client{Transport: transport}).Get(s.local() + "wall")
	if err != nil || resp.StatusCode != http.StatusOK {
		t.Errorf("wall page over TLS: %v, %v", resp, err)
	} else {
		resp.Body.Close()
	}
	transport.CloseIdleConnections()
	cancel()
	if err := <-served; err != nil {
		t.Error(err)
	}
	<-up
}

func TestSecurityIsRefusedInWords(t *testing.T) {
	for what, s := range map[string]security{
		"own key without a folder": {own: true},
		"a certificate alone":      {cert: "nowhere.pem"},
	} {
		if _, err := s.load(""); err == nil {
			t.Errorf("%s was accepted", what)
		}
	}
}
