package main

import (
	"net"
	"net/http"

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
	server := &http.Server{Handler: mux, ReadHeaderTimeout: readHeaderTimeout, IdleTimeout: idleTimeout, MaxHeaderBytes: maxHeaderBytes}
	done := make(chan struct{})
	go func() { defer close(done); server.Serve(l) }()
	return func() { server.Close(); <-done }
}
