package access

import (
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"strings"
)

// leaderCookie is the cookie's name. Its value is derived from the leader key
// and does not reveal it.
const leaderCookie = "bellrow_leader"

// maxKeyForm bounds the body of a POST with the leader key.
const maxKeyForm = 1 << 10

// LeaderLink returns the leader's link for a page address such as
// "http://127.0.0.1:7440/". The key is in the fragment, which no browser sends
// and no server logs.
func (g *Guard) LeaderLink(page string) string {
	return strings.TrimSuffix(page, "#") + "#key=" + g.leader
}

// CheckLeader says whether key is the leader's: nil, ErrWrongKey or ErrTooMany.
func (g *Guard) CheckLeader(remote, key string) error {
	return g.check(remote, equal(key, g.leader), ErrWrongKey)
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
		http.SetCookie(w, &http.Cookie{
			Name: leaderCookie, Value: g.cookie(), Path: "/",
			HttpOnly: true, Secure: g.tls, SameSite: http.SameSiteStrictMode,
		})
		w.WriteHeader(http.StatusNoContent)
	case ErrTooMany:
		http.Error(w, "too many wrong keys from here; wait a minute", http.StatusTooManyRequests)
	default:
		http.Error(w, "that is not this hub's leader key", http.StatusForbidden)
	}
}

// IsLeader reports whether r carries the leader's cookie.
func (g *Guard) IsLeader(r *http.Request) bool {
	c, err := r.Cookie(leaderCookie)
	return err == nil && equal(c.Value, g.cookie())
}

func (g *Guard) cookie() string {
	m := hmac.New(sha256.New, []byte(g.leader))
	m.Write([]byte("bellrow leader cookie"))
	return base64.RawURLEncoding.EncodeToString(m.Sum(nil))
}
