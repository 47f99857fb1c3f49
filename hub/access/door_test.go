package access

import (
	"errors"
	"fmt"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"testing"
	"time"
)

// asks lists who waits, by node.
func asks(g *Guard) (nodes []string) {
	for _, a := range g.Waiting() {
		nodes = append(nodes, a.Node)
	}
	return nodes
}

// TestTheLeadersYes holds for that laptop and that question, for ten minutes.
func TestTheLeadersYes(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	g := guard(t, Config{Now: clock.now})
	locked := Ask{Node: "a", Chair: "Ada", From: "192.0.2.1:5", Why: WhyLocked}
	if g.May(locked) {
		t.Error("let in without a yes")
	}
	if w := g.Waiting(); len(w) != 1 || w[0].From != "192.0.2.1" || !w[0].At.Equal(clock.t) || w[0].Chair != "Ada" {
		t.Errorf("waiting: %+v", w)
	}
	if g.Admit("b") {
		t.Error("a yes to nobody is said to be one")
	}
	if !g.Admit("a") || len(g.Waiting()) != 0 {
		t.Error("the yes did not take the question away")
	}
	if g.May(Ask{Node: "a", Why: WhyTaken}) || g.May(Ask{Node: "b", Why: WhyLocked}) {
		t.Error("a yes holds for another question or another laptop")
	}
	clock.forward(admittedFor - time.Second)
	if !g.May(locked) {
		t.Error("the yes is forgotten early")
	}
	clock.forward(2 * time.Second)
	if g.May(locked) {
		t.Error("the yes holds for ever")
	}
	g.Admit("a")
	clock.forward(admittedFor - time.Minute)
	g.May(Ask{Node: "b", Why: WhyLocked})
	if g.Admit("b"); !g.May(locked) {
		t.Error("another's yes takes this one away")
	}
	clock.forward(time.Minute)
	g.May(Ask{Node: "c", Why: WhyLocked})
	g.Admit("c")
	if n := len(g.door.admitted); n != 2 { // b's and c's
		t.Errorf("%d yeses are kept, the old ones too", n)
	}
}

// TestWhoStopsAskingIsGone: a question that is not asked again for a minute is none, and one
// that is asked again stands once.
func TestWhoStopsAskingIsGone(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	g := guard(t, Config{Now: clock.now})
	a, b := Ask{Node: "a", Chair: "Zoe", From: "192.0.2.1", Why: WhyAlike}, Ask{Node: "b", Chair: "Ada", From: "192.0.2.2", Why: WhyAlike}
	g.May(a)
	g.May(a)
	g.May(b)
	if got := fmt.Sprint(asks(g)); got != "[b a]" { // by name
		t.Errorf("waiting: %s", got)
	}
	clock.forward(askedFor)
	g.May(a)
	clock.forward(time.Second)
	if got := fmt.Sprint(asks(g)); got != "[a]" {
		t.Errorf("a minute and a second later: %s", got)
	}
	if n := len(g.door.asks); n != 1 && n != 2 {
		t.Errorf("%d are kept", n)
	}
}

// TestQuestionsAreBounded: one address asks four at once, and sixty-four wait in all, eight of
// them of older laptops; the oldest gives way.
func TestQuestionsAreBounded(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	g := guard(t, Config{Now: clock.now})
	ask := func(i int, from, why string) {
		clock.forward(time.Millisecond)
		if g.May(Ask{Node: fmt.Sprintf("n%03d", i), Chair: fmt.Sprintf("n%03d", i), From: from, Why: why}) {
			t.Errorf("%d was let in unasked", i)
		}
	}
	for i := range 9 {
		ask(i, "192.0.2.1", WhyLocked)
	}
	if got := fmt.Sprint(asks(g)); got != "[n000 n001 n002 n003]" {
		t.Errorf("of one address: %s", got)
	}
	for i := 100; i < 113; i++ {
		ask(i, fmt.Sprint("192.0.3.", i), WhyOlder)
	}
	if got := asks(g); len(got) != 4+maxUnproven || got[4] != "n105" {
		t.Errorf("of older laptops: %v", got)
	}
	for i := 200; i < 300; i++ {
		ask(i, fmt.Sprint("192.0.4.", i), WhyLocked)
	}
	if got := asks(g); len(got) != maxAsks || got[maxAsks-1] != "n299" || got[0] != "n236" {
		t.Errorf("%d wait, from %s to %s", len(got), got[0], got[len(got)-1])
	}
}

// TestRulesAreKeptFirst: a rule or code that cannot be kept does not come into force.
func TestRulesAreKeptFirst(t *testing.T) {
	var kept Kept
	var full error
	g := guard(t, Config{Keep: func(k Kept) error { kept = k; return full }})
	if err := g.SetRules(Rules{Locked: true}); err != nil || !kept.Rules.Locked || !g.Rules().Locked || kept.Code != g.JoinCode() {
		t.Errorf("%v, kept %+v", err, kept)
	}
	was := g.JoinCode()
	code, err := g.NewCode()
	if err != nil || code == was || g.JoinCode() != code || kept.Code != code || !kept.Rules.Locked {
		t.Errorf("%v: %q after %q, kept %+v", err, code, was, kept)
	}
	full = errors.New("no space left")
	if err := g.SetRules(Rules{}); !errors.Is(err, full) || !g.Rules().Locked {
		t.Errorf("%v, rules %+v", err, g.Rules())
	}
	if _, err := g.NewCode(); !errors.Is(err, full) || g.JoinCode() != code {
		t.Errorf("%v, code %q", err, g.JoinCode())
	}
	// The leader's browser counts all the same: the leader is needed then.
	g.remember("a secret")
	r, _ := http.NewRequest("GET", "http://127.0.0.1/", nil)
	r.AddCookie(&http.Cookie{Name: leaderCookie, Value: "a secret"})
	if !g.IsLeader(r) {
		t.Error("with a full disk the leader is locked out")
	}
	full = nil
	for i := range maxLeaders {
		g.remember(fmt.Sprint("later ", i))
	}
	if g.IsLeader(r) || len(kept.Leaders) != maxLeaders {
		t.Errorf("%d browsers are the leader's, the first of them still: %v", len(kept.Leaders), g.IsLeader(r))
	}
}

// TestTriesComeBackSlowly: one each while, up to as many as at first and no further.
func TestTriesComeBackSlowly(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	g := guard(t, Config{Now: clock.now})
	const who = "192.0.2.1:9"
	wrong := func() (n int) {
		for errors.Is(g.CheckJoin(who, "K7M4QY"), ErrWrongCode) {
			if n++; n > 100 {
				break
			}
		}
		return n
	}
	if n := wrong(); n != wrongBurst {
		t.Errorf("%d wrong codes at once, want %d", n, wrongBurst)
	}
	clock.forward(wrongEvery - time.Millisecond)
	if n := wrong(); n != 0 {
		t.Errorf("%d more before their time", n)
	}
	clock.forward(2*wrongEvery + 2*time.Millisecond)
	if n := wrong(); n != 3 {
		t.Errorf("%d more after three times as long, want 3", n)
	}
	clock.forward(24 * time.Hour)
	if n := wrong(); n != wrongBurst {
		t.Errorf("after a day %d at once, want %d", n, wrongBurst)
	}
	clock.forward(-time.Hour) // the clock was set back
	if n := wrong(); n != 0 {
		t.Errorf("%d by setting the clock back", n)
	}
}

// TestProofsAreTries: who begins a proof and does not end it has guessed once.
func TestProofsAreTries(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	g := guard(t, Config{Now: clock.now})
	for range 50 {
		if err := g.BeginProof("192.0.2.1:9"); err != nil {
			t.Fatal(err)
		}
		g.EndProof("192.0.2.1:9")
	}
	for range wrongBurst {
		if err := g.BeginProof("192.0.2.1:9"); err != nil {
			t.Fatal(err)
		}
	}
	if err := g.BeginProof("192.0.2.1:9"); !errors.Is(err, ErrTooMany) {
		t.Errorf("one more: %v", err)
	}
}

// TestNewChairsAreCounted by address, but this machine's.
func TestNewChairsAreCounted(t *testing.T) {
	clock := &hand{time.Unix(1000, 0)}
	g := guard(t, Config{Now: clock.now})
	n := 0
	for range 50 {
		if g.NewChair("192.0.2.1:9") {
			n++
		}
		if !g.NewChair("127.0.0.1:9") || !g.NewChair("[::1]:9") {
			t.Fatal("this machine's chairs are counted")
		}
	}
	if n != maxNewAtOnce {
		t.Errorf("%d chairs at once, want %d", n, maxNewAtOnce)
	}
	if clock.forward(newChairsEvery); !g.NewChair("192.0.2.1:9") || g.NewChair("192.0.2.1:9") {
		t.Error("want one more after a while")
	}
}

// TestOlderLaptops take the first six symbols of a code, or the whole; nothing else.
func TestOlderLaptops(t *testing.T) {
	g := guard(t, Config{JoinCode: "K7M4QXAB"})
	for code, right := range map[string]bool{"K7M4QXAB": true, "k7m4-qxab": true, "K7M4QX": true, "K7M4QY": false, "K7M4QXAC": false, "7M4QXA": false, "": false} {
		if err := g.CheckOlder("192.0.2.1:9", code); (err == nil) != right {
			t.Errorf("%q: %v", code, err)
		}
		if err := g.CheckJoin("192.0.2.2:9", code); (err == nil) != (right && len(code) > 6) {
			t.Errorf("%q of a present laptop: %v", code, err)
		}
	}
}

// TestMadeUpWordings share one count once there are very many.
func TestMadeUpWordings(t *testing.T) {
	var lines counter
	log := slog.New(Quiet(slog.NewTextHandler(&lines, nil), (&hand{time.Unix(0, 0)}).now))
	for i := range 5000 {
		log.Warn(fmt.Sprint("made up ", i))
	}
	if lines != maxWordings+logBurst {
		t.Errorf("%d lines, want one for each of %d and %d for all others", lines, maxWordings, logBurst)
	}
}

// counter counts what is written, a line each time.
type counter int

func (c *counter) Write(p []byte) (int, error) { *c++; return len(p), nil }

// TestDeadlines: each part of a request has its time, the head the least, an idle connection
// the most; a form of any size is not read to its end.
func TestDeadlines(t *testing.T) {
	s := NewServer(nil, slog.New(slog.DiscardHandler))
	if s.ReadHeaderTimeout != headerWithin || s.ReadTimeout != requestWithin || s.WriteTimeout != answerWithin || s.IdleTimeout != idleFor || s.MaxHeaderBytes != maxHeaderBytes ||
		!(0 < s.ReadHeaderTimeout && s.ReadHeaderTimeout < s.ReadTimeout) {
		t.Errorf("%v %v %v %v %d", s.ReadHeaderTimeout, s.ReadTimeout, s.WriteTimeout, s.IdleTimeout, s.MaxHeaderBytes)
	}
	g := guard(t, Config{})
	body := &endless{}
	r := httptest.NewRequest("POST", "http://127.0.0.1/leader", body)
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	w := httptest.NewRecorder()
	g.ServeLeader(w, r)
	if w.Code != http.StatusForbidden || body.read > 1<<20 {
		t.Errorf("status %d after %d bytes", w.Code, body.read)
	}
}

// endless is a form of 64 MB.
type endless struct{ read int }

func (e *endless) Read(p []byte) (int, error) {
	if e.read > 64<<20 {
		return 0, io.EOF
	}
	for i := range p {
		p[i] = 'x'
	}
	e.read += len(p)
	return len(p), nil
}
