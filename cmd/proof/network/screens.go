package network

import (
	"net/http"

	"bellrow/hub/access"
	"bellrow/hub/session"
	"bellrow/hub/web"
)

// addScreens adds the leader's pages, for trials with viewers.
func addScreens(mux *http.ServeMux, h *session.Session, g *access.Guard) error {
	pages, err := web.New(web.Config{Hub: h, Guard: g})
	if err != nil {
		return err
	}
	mux.Handle("/", pages.Handler())
	return nil
}
