package main

import (
	"crypto/rand"
	"log/slog"
	"net"
	"net/http"
	"os"
	"path/filepath"
	"regexp"

	"bellrow/hub/access"
	"bellrow/node/player"
)

// anyPage asks for the usual place of a player's page.
const anyPage = ""

// pageAddress is the usual place. A browser remembers for this very address
// that the microphone was allowed.
const pageAddress = "127.0.0.1:7442"

// listenForPage opens the door of a player's page: at the address given, or at
// the usual one, or at any that is free when that is taken.
func listenForPage(address string) (net.Listener, error) {
	if address == anyPage {
		if l, err := net.Listen("tcp", pageAddress); err == nil {
			return l, nil
		}
		address = "127.0.0.1:0"
	}
	l, err := net.Listen("tcp", address)
	if err != nil {
		return nil, listenError(address, err)
	}
	return l, nil
}

// servePage serves a player's page at l until stop is called.
func servePage(page *player.Server, l net.Listener) (stop func()) {
	mux := http.NewServeMux()
	mux.Handle(page.Path(), page.Handler())
	server := access.NewServer(mux, slog.New(slog.DiscardHandler))
	done := make(chan struct{})
	go func() { defer close(done); server.Serve(l) }()
	return func() { server.Close(); <-done }
}

// secretForm is what rand.Text makes.
var secretForm = regexp.MustCompile(`^[A-Z2-7]{26,}$`)

// pageSecret is the secret in the address of this user's pages, kept in dir: a
// page that stayed open finds its node again after a new start. Where it
// cannot be kept it is empty, and the page gets another.
func pageSecret(dir string) string {
	path := filepath.Join(dir, "page-secret")
	if kept, err := os.ReadFile(path); err == nil && secretForm.Match(kept) {
		return string(kept)
	}
	secret := rand.Text()
	if os.MkdirAll(dir, 0o700) != nil || os.WriteFile(path, []byte(secret), 0o600) != nil {
		return ""
	}
	return secret
}
