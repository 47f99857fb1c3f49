package access

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"
)

// hand is a clock moved by hand.
type hand struct{ t time.Time }

func (h *hand) now() time.Time          { return h.t }
func (h *hand) forward(d time.Duration) { h.t = h.t.Add(d) }

func guard(t *testing.T, c Config) *Guard {
	t.Helper()
	if c.JoinCode == "" {
		c.JoinCode = "K7M4QX"
	}
	if c.LeaderKey == "" {
		c.LeaderKey = "leader-key-of-the-test"
	}
	g, err := New(c)
	if err != nil {
		t.Fatal(err)
	}
	return g
}

func TestNewRefuses(t *testing.T) {
	for _, c := range []Config{{JoinCode: "short"}, {LeaderKey: "short"}} {
		if _, err := New(c); err == nil {
			t.Errorf("%+v was accepted", c)
		}
	}
}

func TestCheckJoin(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	g := guard(t, Config{Now: clock.now})
	for range 1000 { // a whole school behind one address
		if err := g.CheckJoin("192.0.2.1:99", "k7m-4qx"); err != nil {
			t.Fatal(err)
		}
	}
	for i := range wrongBurst {
		if err := g.CheckJoin(fmt.Sprintf("192.0.2.1:%d", i), "K7M4QY"); !errors.Is(err, ErrWrongCode) {
			t.Fatalf("wrong code %d: %v", i, err)
		}
	}
	if err := g.CheckJoin("192.0.2.1:7", "K7M4QX"); !errors.Is(err, ErrTooMany) {
		t.Errorf("right code from an address out of tries: %v", err)
	}
	if err := g.CheckJoin("192.0.2.2:7", "K7M4QX"); err != nil {
		t.Errorf("right code from another address: %v", err)
	}
	clock.forward(wrongEvery)
	if err := g.CheckJoin("192.0.2.1:7", "K7M4QX"); err != nil {
		t.Errorf("right code after a pause: %v", err)
	}
}

// Ten thousand wrong codes in an hour get an attacker a few hundred tries.
func TestGuessingIsSlow(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	g := guard(t, Config{Now: clock.now})
	tried := 0
	for range 10000 {
		if errors.Is(g.CheckJoin("[2001:db8::1]:5", "K7M4QY"), ErrWrongCode) {
			tried++
		}
		clock.forward(360 * time.Millisecond)
	}
	if most := wrongBurst + int(time.Hour/wrongEvery); tried > most {
		t.Errorf("%d codes looked at in an hour, want at most %d", tried, most)
	}
}

// All of a local network is one IPv6 /64: one laptop's wrong codes are its own.
func TestIPv6CountsSingly(t *testing.T) {
	g := guard(t, Config{Now: (&hand{}).now})
	for i := range wrongBurst {
		g.CheckJoin(fmt.Sprintf("[2001:db8::1]:%d", i+1), "wrong")
	}
	if err := g.CheckJoin("[2001:db8::1]:1", "K7M4QX"); !errors.Is(err, ErrTooMany) {
		t.Errorf("same address: %v", err)
	}
	if err := g.CheckJoin("[2001:db8::2]:1", "K7M4QX"); err != nil {
		t.Errorf("its neighbour: %v", err)
	}
}

func TestLimiterIsBounded(t *testing.T) {
	l := NewLimiter(3, time.Minute, (&hand{}).now)
	for i := range 10 * maxBuckets {
		l.Take(fmt.Sprintf("10.%d.%d.%d:1", i>>16, i>>8&255, i&255))
		if len(l.buckets) > maxBuckets {
			t.Fatalf("%d addresses kept, want at most %d", len(l.buckets), maxBuckets)
		}
	}
}

func TestTokens(t *testing.T) {
	g := guard(t, Config{})
	token, hash := NewToken()
	other, _ := NewToken()
	if token == other || len(token) != 43 {
		t.Errorf("tokens %q and %q", token, other)
	}
	if err := g.CheckToken("192.0.2.1:1", token, hash); err != nil {
		t.Error(err)
	}
	for _, c := range []struct {
		token string
		hash  []byte
	}{{other, hash}, {"", hash}, {token, nil}, {"", nil}, {string(hash), hash}} {
		if err := g.CheckToken("192.0.2.1:1", c.token, c.hash); !errors.Is(err, ErrWrongCode) {
			t.Errorf("%q against %x: %v", c.token, c.hash, err)
		}
	}
}

func request(method, host, origin string) *http.Request {
	r := httptest.NewRequest(method, "/", nil)
	r.Host = host
	if origin != "" {
		r.Header.Set("Origin", origin)
	}
	return r
}

func TestHostAllowed(t *testing.T) {
	g := guard(t, Config{Names: []string{"Bellrow-h1.local."}})
	for host, want := range map[string]bool{
		"192.0.2.7": true, "192.0.2.7:7440": true, "[2001:db8::7]:7440": true, "[::1]": true,
		"localhost": true, "LOCALHOST:7440": true, "bellrow-h1.local:7440": true, "bellrow-h1.local.": true,
		"": false, "evil.example": false, "evil.example:7440": false, "localhost.evil.example": false,
		"192.0.2.7.evil.example": false, "bellrow-h2.local": false, "local": false, ":7440": false, "[evil]:7440": false,
		"0.0.0.0:7440": false, "[::]:7440": false, "224.0.0.251": false, "192.0.2.7:x": false, "localhost:99999": false,
	} {
		if got := g.HostAllowed(request("GET", host, "")); got != want {
			t.Errorf("%q: %v, want %v", host, got, want)
		}
	}
}

func TestProtect(t *testing.T) {
	g := guard(t, Config{})
	h := g.Protect(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) { w.WriteHeader(http.StatusNoContent) }))
	const hub = "192.0.2.7:7440"
	for _, c := range []struct {
		what                 string
		method, host, origin string
		upgrade              bool
		want                 int
	}{
		{"a page", "GET", hub, "", false, 204},
		{"a page's own POST", "POST", hub, "http://" + hub, false, 204},
		{"a page's own POST over TLS", "POST", hub, "https://" + hub, false, 204},
		{"a program's POST", "POST", hub, "", false, 204},
		{"another site's POST", "POST", hub, "http://evil.example", false, 403},
		{"another port's POST", "POST", hub, "http://192.0.2.7:8080", false, 403},
		{"a sandboxed page's POST", "POST", hub, "null", false, 403},
		{"a rebound page", "GET", "evil.example:7440", "", false, 421},
		{"a rebound page's POST", "POST", "evil.example:7440", "http://evil.example:7440", false, 421},
		{"another site's socket", "GET", hub, "http://evil.example", true, 403},
		{"a rebound page's socket", "GET", "evil.example:7440", "http://evil.example:7440", true, 421},
		{"a page's own socket", "GET", hub, "http://" + hub, true, 204},
		{"another site's DELETE", "DELETE", hub, "http://evil.example", false, 403},
		{"a file's POST", "POST", hub, "file://", false, 403},
	} {
		r := request(c.method, c.host, c.origin)
		if c.upgrade {
			r.Header.Set("Upgrade", "websocket")
		}
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != c.want {
			t.Errorf("%s: %d, want %d", c.what, w.Code, c.want)
		}
		if !strings.Contains(w.Header().Get("Content-Security-Policy"), "default-src 'self'") {
			t.Errorf("%s: no content security policy", c.what)
		}
	}
}

func TestTwoOriginsAreRefused(t *testing.T) {
	r := request("POST", "192.0.2.7", "http://192.0.2.7")
	r.Header.Add("Origin", "http://evil.example")
	if guard(t, Config{}).OriginAllowed(r) {
		t.Error("a request with two Origins was let in")
	}
}

func TestLeader(t *testing.T) {
	clock := &hand{time.Unix(0, 0)}
	var kept Kept
	g := guard(t, Config{Now: clock.now, TLS: true, Keep: func(k Kept) error { kept = k; return nil }})
	post := func(key string) *httptest.ResponseRecorder {
		r := httptest.NewRequest("POST", "/leader", strings.NewReader(url.Values{"key": {key}}.Encode()))
		r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
		w := httptest.NewRecorder()
		g.ServeLeader(w, r)
		return w
	}
	link := g.LeaderLink("http://192.0.2.7:7440/")
	_, key, _ := strings.Cut(link, "#key=")
	w := post(key)
	if w.Code != http.StatusNoContent || len(w.Result().Cookies()) != 1 {
		t.Fatalf("right key from %s: %d, %v", link, w.Code, w.Header())
	}
	c := w.Result().Cookies()[0]
	if !c.HttpOnly || !c.Secure || c.SameSite != http.SameSiteStrictMode || strings.Contains(c.Value, key) {
		t.Errorf("cookie %v", c)
	}
	r := request("POST", "192.0.2.7:7440", "")
	if g.IsLeader(r) {
		t.Error("a leader without a cookie")
	}
	r.AddCookie(c)
	if !g.IsLeader(r) {
		t.Error("the leader's cookie does not count")
	}
	if again := guard(t, Config{LeaderKey: "another-key-at-another-start", Leaders: kept.Leaders}); !again.IsLeader(r) {
		t.Error("the cookie does not outlive a restart")
	}
	if text := fmt.Sprint(kept); strings.Contains(text, c.Value) || strings.Contains(text, key) {
		t.Errorf("what is kept opens the door: %s", text)
	}
	if other := guard(t, Config{LeaderKey: "another-leader-key-of-the-test"}); other.IsLeader(r) {
		t.Error("the cookie of one hub counts at another")
	}
	for range wrongBurst {
		if w := post("wrong"); w.Code != http.StatusForbidden || len(w.Result().Cookies()) != 0 {
			t.Fatalf("wrong key: %d", w.Code)
		}
	}
	if w := post("wrong"); w.Code != http.StatusTooManyRequests {
		t.Errorf("wrong key from an address out of tries: %d", w.Code)
	}
	if w := post(key); w.Code != http.StatusNoContent {
		t.Errorf("the leader, from an address where others are out of tries: %d", w.Code)
	}
	clock.forward(wrongEvery)
	if w := post(strings.Repeat("x", 1<<20)); w.Code != http.StatusForbidden {
		t.Errorf("a megabyte as key: %d", w.Code)
	}
	get := httptest.NewRecorder()
	if g.ServeLeader(get, request("GET", "192.0.2.7", "")); get.Code != http.StatusMethodNotAllowed {
		t.Errorf("GET: %d", get.Code)
	}
}

// FuzzHost: nothing gets through but the hub's own names and what net/url and
// net, independently of the guard, take for an address.
func FuzzHost(f *testing.F) {
	for _, s := range []string{"192.0.2.7:7440", "[::1]:1", "localhost", "evil.example", "localhost:x:y", "[localhost]", "[fe80::1%x]:1"} {
		f.Add(s)
	}
	g, err := New(Config{Names: []string{"bellrow-h1.local"}})
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, host string) {
		if !g.hostAllowed(host) {
			return
		}
		name := (&url.URL{Host: host}).Hostname()
		if net.ParseIP(host) != nil { // a bare IPv6 address, as no browser sends it
			return
		}
		address, _, _ := strings.Cut(name, "%")
		own := strings.ToLower(strings.TrimSuffix(name, "."))
		if net.ParseIP(address) == nil && own != "localhost" && own != "bellrow-h1.local" {
			t.Fatalf("%q (%q) was let in", host, name)
		}
	})
}
