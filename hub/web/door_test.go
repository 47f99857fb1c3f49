package web_test

import (
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"bellrow/hub/access"
	"bellrow/hub/web"
	"bellrow/hub/web/webtest"
	"bellrow/proto/page/browser"
)

// doored serves the pages with a real door.
func doored(t *testing.T, g webtest.Guard) (*access.Guard, http.Handler) {
	t.Helper()
	door, err := access.New(access.Config{JoinCode: "K7M4QXWP"})
	if err != nil {
		t.Fatal(err)
	}
	s, err := web.New(web.Config{Hub: webtest.New(3, webtest.Before), Guard: g, Door: door, Invitation: func() web.Invitation {
		return web.Invitation{Links: []string{"http://192.168.4.20:7440"}, Code: door.JoinCode()}
	}})
	if err != nil {
		t.Fatal(err)
	}
	return door, s.Handler()
}

func TestTheLeaderKeepsTheDoor(t *testing.T) {
	door, site := doored(t, webtest.Guard{})
	do := func(body string) (int, string) {
		w := httptest.NewRecorder()
		site.ServeHTTP(w, httptest.NewRequest("POST", "/api/door", strings.NewReader(body)))
		return w.Code, w.Body.String()
	}
	door.May(access.Ask{Node: "n1", Chair: "Ada", From: "192.0.2.1:5", Why: access.WhyTaken})
	if code, body := do(`{"do":"lock","on":true}`); code != http.StatusOK || !strings.Contains(body, "192.0.2.1") || !door.Rules().Locked {
		t.Errorf("%d %s %+v", code, body, door.Rules())
	}
	if code, body := do(`{"do":"older","on":true}`); code != http.StatusOK || !strings.Contains(body, "K7M 4QX") || !door.Rules().Older || !door.Rules().Locked {
		t.Errorf("%d %s", code, body)
	}
	if code, _ := do(`{"do":"code"}`); code != http.StatusOK || door.JoinCode() == "K7M4QXWP" {
		t.Errorf("%d %s", code, door.JoinCode())
	}
	if code, _ := do(`{"do":"admit","node":"n1"}`); code != http.StatusOK || !door.May(access.Ask{Node: "n1", Why: access.WhyTaken}) {
		t.Errorf("%d", code)
	}
	for body, want := range map[string]int{
		`{"do":"admit","node":"n1"}`: http.StatusNotFound, `{"do":"dance"}`: http.StatusBadRequest, `{`: http.StatusBadRequest,
	} {
		if code, got := do(body); code != want || !json.Valid([]byte(got)) {
			t.Errorf("%s: %d %s", body, code, got)
		}
	}
	_, shut := doored(t, webtest.Guard{Closed: true})
	for _, method := range []string{"GET", "POST"} {
		w := httptest.NewRecorder()
		if shut.ServeHTTP(w, httptest.NewRequest(method, "/api/door", strings.NewReader(`{"do":"code"}`))); w.Code != http.StatusForbidden {
			t.Errorf("%s by somebody else: %d", method, w.Code)
		}
	}
}

// TestDoorOnTheJoinPage: the leader sees who waits, lets in, and changes the
// code, on the page that shows it.
func TestDoorOnTheJoinPage(t *testing.T) {
	door, site := doored(t, webtest.Guard{})
	door.May(access.Ask{Node: "n1", Chair: "Ada", From: "192.0.2.1:5", Why: access.WhyOlder})
	srv := httptest.NewServer(site)
	t.Cleanup(srv.Close)
	b := browser.Open(t)
	b.Size(1366, 768)
	b.Go(srv.URL)
	b.Until("who waits", "document.querySelector('#waiting button')")
	b.Axe("join, door")
	browser.Eval[bool](b, "document.querySelector('#waiting button').click(), true")
	b.Until("nobody waits", "document.getElementById('nobody').textContent")
	if !door.May(access.Ask{Node: "n1", Why: access.WhyOlder}) {
		t.Error("the laptop was not let in")
	}
	browser.Eval[bool](b, "document.getElementById('new-code').click(), true")
	b.Until("another code", "!document.getElementById('code').textContent.startsWith('K7M4') && document.getElementById('code').textContent")
	if got := browser.Eval[string](b, "document.getElementById('code').textContent"); strings.ReplaceAll(got, " ", "") != door.JoinCode() {
		t.Errorf("the page shows %q, the code is %s", got, door.JoinCode())
	}
}
