package main

import (
	"crypto/tls"
	"fmt"
	"net"
	"os"
	"time"

	"bellrow/hub/access"
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
