package access

import (
	"context"
	"net"
	"net/http"
	"net/netip"
	"net/url"
	"strconv"
	"strings"
	"time"

	"bellrow/proto/page"
	"bellrow/proto/phrase"
)

// Protect puts the rules for every request before next: the Host allow-list;
// for everything that is not a plain read, and for each upgrade, an Origin
// that is this hub's own; and the headers that keep pages to themselves. The
// leader's connections take no stranger's place, and get more time. Strangers'
// requests wait in one line, each connection with one at a time, so that who
// asks for pages without end leaves the hub its time for the players.
func (g *Guard) Protect(next http.Handler) http.Handler {
	return page.Harden(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !g.HostAllowed(r) {
			http.Error(w, phrase.Leader.Asked(r.Header).Say("join.refused.host"), http.StatusMisdirectedRequest)
			return
		}
		if !reads(r) && !g.OriginAllowed(r) {
			http.Error(w, phrase.Leader.Asked(r.Header).Say("join.refused.origin"), http.StatusForbidden)
			return
		}
		switch {
		case g.IsLeader(r):
			Known(r)
			patient(w)
		case !Local(r.RemoteAddr):
			if !g.queue(r.Context()) {
				return
			}
		}
		next.ServeHTTP(w, r)
	}))
}

// Strangers' requests. Forty players who open a page at once ask for some ten
// things each; what comes beyond is answered in turn, linePlaces in lineTime.
const (
	pagesPerSecond = 200
	pagesAtOnce    = 400
	linePlaces     = 4
	lineTime       = 20 * time.Millisecond
)

// queue waits for a stranger's turn and reports whether it came before the
// stranger left. Who leaves takes nobody's turn along.
func (g *Guard) queue(ctx context.Context) bool {
	if g.pages.Allow() {
		return true
	}
	select {
	case g.line <- struct{}{}:
		time.AfterFunc(lineTime, func() { <-g.line })
		return true
	case <-ctx.Done():
		return false
	}
}

func reads(r *http.Request) bool {
	return (r.Method == http.MethodGet || r.Method == http.MethodHead) && r.Header.Get("Upgrade") == ""
}

// OriginAllowed reports whether r comes from a page of this hub or from no
// page at all: programs send no Origin, browsers send one with every POST and
// every WebSocket (Fetch standard; RFC 6455, section 10.2).
func (g *Guard) OriginAllowed(r *http.Request) bool {
	origins := r.Header.Values("Origin")
	if len(origins) == 0 {
		return true
	}
	u, err := url.Parse(origins[0])
	if err != nil || len(origins) > 1 || (u.Scheme != "http" && u.Scheme != "https") {
		return false
	}
	return strings.EqualFold(u.Host, r.Host) && g.hostAllowed(u.Host)
}

func (g *Guard) hostAllowed(host string) bool {
	if h, port, err := net.SplitHostPort(host); err == nil {
		if _, err := strconv.ParseUint(port, 10, 16); err != nil {
			return false
		}
		host = h
	} else if strings.HasPrefix(host, "[") && strings.HasSuffix(host, "]") {
		host = host[1 : len(host)-1]
	}
	if a, err := netip.ParseAddr(host); err == nil {
		return !a.IsUnspecified() && !a.IsMulticast()
	}
	return g.names[strings.ToLower(strings.TrimSuffix(host, "."))]
}
