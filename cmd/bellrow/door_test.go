package main

import (
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/hub/access"
)

// TestTheDoorIsKept: code, rules and the leader's browsers outlive a restart;
// the leader's key does not.
func TestTheDoorIsKept(t *testing.T) {
	c := stationConfig{listen: "127.0.0.1:0", data: filepath.Join(t.TempDir(), "hub"), log: slog.New(slog.DiscardHandler)}
	open := func() *station {
		t.Helper()
		s, err := openStation(t.Context(), c)
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	s := open()
	link := s.leaderLink()
	post := httptest.NewRequest("POST", s.local()+"leader", strings.NewReader(strings.TrimPrefix(link, s.local()+"row#")))
	post.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	s.server.Handler.ServeHTTP(w, post)
	if w.Code != http.StatusNoContent {
		t.Fatalf("%d %s", w.Code, w.Body)
	}
	cookie := w.Result().Cookies()[0]
	code, err := s.guard.NewCode()
	if err == nil {
		err = s.guard.SetRules(access.Rules{Locked: true, Older: true})
	}
	if err != nil {
		t.Fatal(err)
	}
	s.close()
	s = open()
	defer s.close()
	r := httptest.NewRequest("GET", s.local()+"row", nil)
	r.AddCookie(cookie)
	if !s.guard.IsLeader(r) {
		t.Error("the leader's browser is not known any more")
	}
	if s.guard.JoinCode() != code || s.guard.Rules() != (access.Rules{Locked: true, Older: true}) || s.playersLink().Code != code {
		t.Errorf("code %s, want %s; rules %+v", s.guard.JoinCode(), code, s.guard.Rules())
	}
	if s.leaderLink() == link {
		t.Error("the leader's key was kept")
	}
}
