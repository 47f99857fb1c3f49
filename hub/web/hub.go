package web

import (
	"context"
	"net/http"

	"bellrow/hub/feed"

	"bellrow/hub"
	"bellrow/hub/show"
	"bellrow/proto/instrument"
)

// Hub is what the pages need of the hub. All methods may be called
// concurrently; what they return is the caller's own.
type Hub interface {
	Row() show.Row
	// FollowRow begins a feed of changes to the row.
	FollowRow() *feed.Feed[show.Row]
	Command(ctx context.Context, c hub.Command) error
	Summary() show.Summary
	SummaryInEnglish() show.Summary
	Section() hub.Section
	Sections(ctx context.Context) ([]hub.Section, error)
	Pieces
	Chords
}

// Guard decides who may do what; *access.Guard is one.
type Guard interface {
	// IsLeader reports whether the request carries the leader's key.
	IsLeader(r *http.Request) bool
	// Protect refuses foreign Host and Origin headers for the whole site.
	Protect(next http.Handler) http.Handler
	// ServeLeader takes the POST that turns the key of a leader's link into a
	// cookie.
	ServeLeader(w http.ResponseWriter, r *http.Request)
}

// Invitation is what the join page tells a player.
type Invitation struct {
	// Links are addresses of this hub as other laptops can reach it, best
	// first, without a slash at the end: "http://192.168.4.20:7440".
	Links []string
	// Fingerprint is the hex SHA-256 of the hub's certificate for nodes to pin,
	// empty for plain HTTP. It is no secret.
	Fingerprint string
	// Code is the join code a node needs the first time.
	Code string
	// Hub is the hub's id, empty if it need not be in the link.
	Hub string
	// Telephones is where telephones and tablets take part, without the code:
	// "https://192.168.4.20:7443/". Empty when they can only watch.
	Telephones string
}

// Catalogue lists the instruments offered in the set-up, in score order;
// instrument.Catalogue is one.
type Catalogue func() []*instrument.Instrument
