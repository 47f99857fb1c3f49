package main

import (
	"net/http"
	"net/http/httptest"
	"slices"
	"strings"
	"testing"

	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/node/find"
)

// A hub's own wall says who sits where; what else answers says nothing.
func TestSeated(t *testing.T) {
	s, err := web.New(web.Config{Hub: webtest.New(12, webtest.Midway), Guard: webtest.Guard{Closed: true}})
	if err != nil {
		t.Fatal(err)
	}
	srv := httptest.NewServer(s.Handler())
	t.Cleanup(srv.Close)
	at := func(url string) find.Hub {
		return find.Hub{Addresses: []string{strings.TrimPrefix(url, "http://")}}
	}
	got := seated(t.Context(), at(srv.URL))
	if !slices.Contains(got, "Horn 1 (Ada)") || slices.ContainsFunc(got, func(s string) bool { return strings.Contains(s, "Greta") }) {
		t.Errorf("seated: %q; Ada sits on Horn 1, and Greta is absent", got)
	}
	other := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Write([]byte(`{"chairs":[{"label":"` + strings.Repeat("x", 1000) + `","state":"idle"},{"label":"a\u202eb","state":"idle"}]}`))
	}))
	t.Cleanup(other.Close)
	if got := seated(t.Context(), at(other.URL)); len(got) > 0 {
		t.Errorf("a false hub says %q", got)
	}
	away := httptest.NewServer(http.RedirectHandler(srv.URL+"/api/row", http.StatusFound))
	t.Cleanup(away.Close)
	if got := seated(t.Context(), at(away.URL)); len(got) > 0 {
		t.Errorf("sent elsewhere it says %q", got)
	}
	if got := seatsOf(strings.NewReader("<html>")); got != nil {
		t.Errorf("no row says %q", got)
	}
}
