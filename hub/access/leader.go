package access

import (
	"encoding/hex"
	"net/http"
	"slices"
	"strings"
)

// leaderCookie is the cookie's name. Its value is a secret of its own, of which
// the hub keeps the hash.
const leaderCookie = "bellrow_leader"

// maxLeaders bounds the browsers that are known as the leader's; the one that
// came first goes.
const maxLeaders = 32

// maxKeyForm bounds the body of a POST with the leader key.
const maxKeyForm = 1 << 10

// LeaderLink returns the leader's link for a page address such as
// "http://127.0.0.1:7440/". The key is in the fragment, which no browser sends
// and no server logs.
func (g *Guard) LeaderLink(page string) string {
	return strings.TrimSuffix(page, "#") + "#key=" + g.leader
}

// CheckLeader says whether key is the leader's: nil, ErrWrongKey or ErrTooMany.
// The right one counts whatever others at this address have tried: it is too
// long to be guessed, and the leader is needed.
func (g *Guard) CheckLeader(remote, key string) error {
	switch {
	case equal(key, g.leader):
		return nil
	case !g.wrong.Take(remote):
		return ErrTooMany
	}
	return ErrWrongKey
}

// ServeLeader answers POST with form field "key": 204 and the cookie for the
// right key, 403 for a wrong one, 429 for too many wrong ones. Put it behind
// Protect.
func (g *Guard) ServeLeader(w http.ResponseWriter, r *http.Request) {
	if r.Method != http.MethodPost {
		w.Header().Set("Allow", http.MethodPost)
		http.Error(w, "POST the key", http.StatusMethodNotAllowed)
		return
	}
	r.Body = http.MaxBytesReader(w, r.Body, maxKeyForm)
	switch err := g.CheckLeader(r.RemoteAddr, r.PostFormValue("key")); err {
	case nil:
		secret := NewSecret()
		g.remember(secret)
		http.SetCookie(w, &http.Cookie{
			Name: leaderCookie, Value: secret, Path: "/",
			HttpOnly: true, Secure: g.tls, SameSite: http.SameSiteStrictMode,
		})
		w.WriteHeader(http.StatusNoContent)
	case ErrTooMany:
		http.Error(w, "too many wrong keys from here; wait a minute", http.StatusTooManyRequests)
	default:
		http.Error(w, "that is not this hub's leader key", http.StatusForbidden)
	}
}

// remember makes a cookie count. Where it cannot be kept, because the disk is
// full, say, it counts until the hub stops: the leader is needed then.
func (g *Guard) remember(secret string) {
	add := func(d *door) {
		d.leaders = append(slices.Clone(d.leaders), hex.EncodeToString(HashToken(secret)))
		d.leaders = d.leaders[max(0, len(d.leaders)-maxLeaders):]
	}
	if g.change(add) != nil {
		g.mu.Lock()
		defer g.mu.Unlock()
		add(&g.door)
	}
}

// IsLeader reports whether r carries a cookie that the leader's key was
// exchanged for.
func (g *Guard) IsLeader(r *http.Request) bool {
	c, err := r.Cookie(leaderCookie)
	if err != nil {
		return false
	}
	hash := hex.EncodeToString(HashToken(c.Value))
	g.mu.Lock()
	defer g.mu.Unlock()
	return slices.Contains(g.door.leaders, hash) // nobody chooses a hash, so the time it takes tells nothing
}
