package main

import (
	"context"
	"crypto/tls"
	"encoding/json"
	"errors"
	"fmt"
	"net"
	"os"
	"time"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/announce"
)

// security is how a hub encrypts what goes over the network. The zero value
// is plain HTTP.
type security struct {
	own       bool   // with a key of its own, made at the first start
	cert, key string // or with these files
}

// load returns the certificate, nil for plain HTTP. dir keeps the hub's own.
func (s security) load(dir string) (*tls.Certificate, error) {
	switch {
	case s.cert != "" || s.key != "":
		c, err := tls.LoadX509KeyPair(s.cert, s.key)
		if err != nil {
			return nil, say("give both --cert and --key, as PEM files that belong together", "the certificate cannot be used: %v", err)
		}
		return &c, nil
	case !s.own:
		return nil, nil
	case dir == "":
		return nil, misused("give --data, or --cert and --key", "--tls without a data folder would make another key at each start")
	}
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, fmt.Errorf("data folder: %w", err)
	}
	c, err := access.SelfSigned(dir, time.Now())
	if err != nil {
		return nil, err
	}
	return &c, nil
}

// Keys of the store's values that the door keeps.
const (
	keyJoin  = "join" // as the hub reads it at its start
	keyRules = "rules"
)

// newGuard opens the door as the leader left it. The leader's key is another at
// each start and stands in no file; browsers that had one before are known by
// what they were given for it.
func (s *station) newGuard(ctx context.Context) (*access.Guard, error) {
	var kept access.Kept
	value, err := s.store.Value(ctx, keyRules)
	if err == nil {
		err = json.Unmarshal([]byte(value), &kept)
	}
	if err != nil && !errors.Is(err, hub.ErrNotFound) {
		return nil, fmt.Errorf("the rules of the door: %w", err)
	}
	return access.New(access.Config{
		JoinCode: s.hub.JoinCode(), Names: append(ownNames(), announce.HostName(s.hub.ID())),
		TLS: s.cert != nil, Rules: kept.Rules, Leaders: kept.Leaders, Keep: s.keepDoor,
	})
}

// keepDoor keeps the code, the rules and the leader's browsers for the next start.
func (s *station) keepDoor(k access.Kept) error {
	ctx, cancel := context.WithTimeout(context.Background(), closeTimeout)
	defer cancel()
	data, err := json.Marshal(k)
	if err != nil {
		return err
	}
	return errors.Join(s.store.SetValue(ctx, keyJoin, k.Code), s.store.SetValue(ctx, keyRules, string(data)))
}

// fingerprint is what nodes pin, empty for plain HTTP.
func (s *station) fingerprint() string {
	if s.cert == nil {
		return ""
	}
	return access.Fingerprint(*s.cert)
}

// doors wraps the listener: bounds on open connections, and TLS if there is a
// certificate.
func (s *station) doors() net.Listener {
	l := access.Listen(s.listener)
	if s.cert == nil {
		return l
	}
	return tls.NewListener(l, access.TLSConfig(*s.cert))
}

// scheme is "https" for a hub with a certificate.
func (s *station) scheme() string {
	if s.cert == nil {
		return "http"
	}
	return "https"
}
