package network

import (
	"net/http"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/web"
)

// pageHub gives the pages the hub as they see it.
type pageHub struct{ *hub.Hub }

// Watch begins a feed of changes to the row.
func (p pageHub) Watch() web.Feed { return p.Hub.Watch() }

// addScreens adds the leader's pages, for trials with viewers.
func addScreens(mux *http.ServeMux, h *hub.Hub, g *access.Guard) error {
	pages, err := web.New(web.Config{Hub: pageHub{h}, Guard: g})
	if err != nil {
		return err
	}
	mux.Handle("/", pages.Handler())
	return nil
}
