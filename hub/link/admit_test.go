package link

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/session"
	"bellrow/proto"
	"bellrow/proto/pake"
	"bellrow/testdata/golden"
)

// faulty is a hub of which some calls fail.
type faulty struct {
	Hub
	lookup, join, setting, deliver error
}

func (f *faulty) Deliver(ctx context.Context, chair hub.ChairID, node, boot string, r proto.Reading) error {
	if f.deliver != nil {
		return f.deliver
	}
	return f.Hub.Deliver(ctx, chair, node, boot, r)
}

func (f *faulty) NodeRecord(ctx context.Context, node string) (hub.NodeRecord, error) {
	if f.lookup != nil {
		return hub.NodeRecord{}, f.lookup
	}
	return f.Hub.NodeRecord(ctx, node)
}

func (f *faulty) Join(ctx context.Context, p hub.Peer) (hub.Joined, error) {
	if f.join != nil {
		return hub.Joined{}, f.join
	}
	return f.Hub.Join(ctx, p)
}

func (f *faulty) Setting(ctx context.Context, chair hub.ChairID, s proto.Setting) error {
	if f.setting != nil {
		return f.setting
	}
	return f.Hub.Setting(ctx, chair, s)
}

// empty waits until no node is there: a connection that has ended goes a moment later.
func (b *bench) empty() {
	for b.server.Nodes() != 0 {
		time.Sleep(time.Millisecond)
	}
}

// TestAHubInTroubleSaysSo: what fails inside is told as the hub's trouble, after which a node comes
// again by itself; it holds no place meanwhile, and comes in once it is over.
func TestAHubInTroubleSaysSo(t *testing.T) {
	var f *faulty
	b := newBench(t, func(c *Config) { f = &faulty{Hub: c.Hub}; c.Hub = f })
	for what, fault := range map[string]*error{"the look-up": &f.lookup, "the seating": &f.join} {
		*fault = errors.New("the disk is on fire")
		p := b.dial()
		p.hello("n1", "b", `,"join":"`+b.hub.JoinCode()+`"`)
		code, e := p.wantClose()
		if code != proto.CloseRefused || e == nil || e.Code != proto.CodeTrouble || e.Fatal || e.Message == "" || e.Hint == "" {
			t.Errorf("%s: close %d, %+v", what, code, e)
		}
		b.empty()
		*fault = nil
	}
	p, _ := b.join("n1", "b")
	f.setting = hub.ErrRefused // a setting that is not taken holds up nothing
	p.say(`{"type":"setting","setting":{"slide":"main","mm":3}}`)
	p.say(`{"type":"ping","ping":{"id":7,"sent_s":1}}`)
	p.want(proto.TypePong)
}

// TestWhatANodeShows: every way to show a token and a code, openly. A right token is enough; a
// right code makes a new one where the token is wrong; nothing else comes in.
func TestWhatANodeShows(t *testing.T) {
	b := newBench(t, nil)
	for i, c := range []struct {
		token, code string
		want        string // the refusal, "" for none
		fresh       bool   // a new token comes
	}{
		{"right", "", "", false}, {"right", "right", "", false}, {"right", "wrong", "", false},
		{"wrong", "", proto.CodeWrongToken, false}, {"wrong", "right", "", true}, {"wrong", "wrong", proto.CodeWrongCode, false},
		{"", "", proto.CodeWrongCode, false}, {"", "right", "", true}, {"", "wrong", proto.CodeWrongCode, false},
	} {
		for _, enrolled := range []bool{true, false} {
			if !enrolled && c.token == "right" {
				continue
			}
			guard, err := access.New(access.Config{JoinCode: b.hub.JoinCode(), Rules: access.Rules{Older: true}})
			if err != nil {
				t.Fatal(err)
			}
			b.server.access = guard // whose patience is whole
			node := fmt.Sprintf("n%d%v", i, enrolled)
			right, fresh := "", c.fresh
			if enrolled {
				p, w := b.join(node, "b")
				right = w.Token
				p.ws.Close()
				b.empty()
				if c.fresh {
					guard.May(access.Ask{Node: node, Why: access.WhyTaken})
					guard.Admit(node)
				}
			}
			p := b.dial()
			words := map[string]string{"right": b.hub.JoinCode(), "wrong": "AAAAAA", "": ""}
			p.hello(node, "b", fmt.Sprintf(`,"join":%q,"token":%q`, words[c.code], map[string]string{"right": right, "wrong": "guess", "": ""}[c.token]))
			if c.want != "" {
				if _, e := p.wantClose(); e == nil || e.Code != c.want {
					t.Errorf("token %s, code %s, enrolled %v: %+v, want %s", c.token, c.code, enrolled, e, c.want)
				}
				continue
			}
			w := p.want(proto.TypeWelcome).Welcome
			if (w.Token != "") != fresh || fresh && w.Token == right {
				t.Errorf("token %s, code %s, enrolled %v: %+v", c.token, c.code, enrolled, w)
			}
			p.ws.Close()
			b.empty()
		}
	}
}

// TestGuessesRunOut: by whichever way it is guessed, there are few tries, and then even what is
// right is refused; right proofs cost none, however many.
func TestGuessesRunOut(t *testing.T) {
	const many = 20
	for what, guess := range map[string]string{"codes": `,"join":"AAAAAA"`, "tokens": `,"token":"guess"`} {
		b := newBench(t, nil)
		p, w := b.join("n1", "b")
		p.ws.Close()
		tries := 0
		for ; tries < many; tries++ {
			p := b.dial()
			p.hello("n1", "b", guess)
			_, e := p.wantClose()
			if e == nil {
				t.Fatalf("%s: no reason", what)
			}
			if e.Code == proto.CodeTooMany {
				if e.Fatal {
					t.Errorf("%s: %+v", what, e)
				}
				break
			}
		}
		if tries < 3 || tries > 10 {
			t.Errorf("%d %s guessed at once", tries, what)
		}
		for _, right := range []string{`,"token":"` + w.Token + `"`, `,"join":"` + b.hub.JoinCode() + `"`} {
			p := b.dial()
			p.hello("n1", "b", right)
			if _, e := p.wantClose(); e == nil || e.Code != proto.CodeTooMany {
				t.Errorf("after %d %s: %+v", tries, what, e)
			}
		}
	}
	b := closed(t)
	first, token := b.enrol("n0", "P0")
	for i := range many {
		p, _ := b.enrol(fmt.Sprintf("n%d", i+1), fmt.Sprintf("P%d", i+1))
		p.ws.Close()
	}
	for range many {
		first.ws.Close()
		first = b.back("n0", "P0", token)
	}
}

// TestAProofIsWhole: a part of a proof that is missing, garbled or another's lets nobody in, by
// the code or by the token; by each it is said what was wrong.
func TestAProofIsWhole(t *testing.T) {
	sid := pake.NewSession()
	begin := func(secret string) (*pake.Party, string) {
		party, err := pake.Start([]byte(secret), pake.Channel(""), sid)
		if err != nil {
			t.Fatal(err)
		}
		return party, b64.EncodeToString(party.Share())
	}
	good, short := b64.EncodeToString(sid), b64.EncodeToString(sid[1:])
	for what, c := range map[string]struct{ session, share, then string }{
		"a session that is no base 64":  {"A", "", ""},
		"a session too short":           {short, "", ""},
		"a share that is no base 64":    {good, "A", ""},
		"a share of no length":          {good, "AA", ""},
		"a tag that is no base 64":      {good, "", `{"type":"proof","proof":{"tag":"!"}}`},
		"a tag of no length":            {good, "", `{"type":"proof","proof":{"tag":""}}`},
		"another tag":                   {good, "", `{"type":"proof","proof":{"tag":"` + good + `"}}`},
		"something else than the proof": {good, "", `{"type":"ping","ping":{"id":7,"sent_s":1}}`},
		"what is no message":            {good, "", `x`},
	} {
		for _, by := range []string{proto.ByCode, proto.ByToken} {
			b := closed(t)
			first, token := b.enrol("n1", "Ada")
			first.ws.Close()
			b.empty()
			secret, want := b.server.access.JoinCode(), proto.CodeWrongCode
			if by == proto.ByToken {
				secret, want = tokenSecret(token), proto.CodeWrongToken
			}
			_, share := begin(secret)
			if c.share != "" {
				share = c.share
			}
			p := b.dial()
			p.say(fmt.Sprintf(`{"type":"hello","hello":{"version":1,"node":"n1","boot":"b","chair":"Ada","instrument":"horn_f","prove":{"by":%q,"session":%q,"share":%q}}}`, by, c.session, share))
			if c.then != "" {
				p.want(proto.TypeProof)
				p.say(c.then)
			}
			if code, e := p.wantClose(); e == nil || e.Code != want || code != proto.CloseRefused && code != proto.CloseHello {
				t.Errorf("%s, by the %s: close %d, %+v, want %s", what, by, code, e, want)
			}
			if n := b.server.Nodes(); n != 0 {
				t.Errorf("%s: %d nodes", what, n)
			}
		}
	}
}

// TestATokenIsAnothersToHave: who comes with the code as a laptop that has a token, at work or not,
// waits for the leader; with the leader's word it gets a token of its own, and the old one is no
// longer known.
func TestATokenIsAnothersToHave(t *testing.T) {
	b := closed(t)
	first, token := b.enrol("n1", "Ada")
	first.say(`{"type":"ping","ping":{"id":7,"sent_s":1}}`)
	first.want(proto.TypePong)
	first.ws.Close()
	b.empty()
	p := b.dial()
	k, _ := p.prove("n1", "Ada", proto.ByCode, b.server.access.JoinCode())
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWaits || e.Fatal {
		t.Fatalf("%+v", e)
	}
	if w := b.server.access.Waiting(); len(w) != 1 || w[0].Why != access.WhyTaken || w[0].Node != "n1" || w[0].Chair != "Ada" {
		t.Fatalf("%+v", w)
	}
	b.server.access.Admit("n1")
	second, fresh := b.enrol("n1", "Ada")
	if fresh == token {
		t.Error("the same token")
	}
	second.ws.Close()
	for _, c := range []struct {
		token string
		known bool
	}{{token, false}, {fresh, true}} {
		p := b.dial()
		k, ok := p.prove("n1", "Ada", proto.ByToken, tokenSecret(c.token))
		if ok != c.known {
			t.Errorf("known %v, want %v", ok, c.known)
		}
		p.confirm(k)
		if c.known {
			p.want(proto.TypeWelcome)
		} else if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWrongToken {
			t.Errorf("%+v", e)
		}
	}
}

// TestSeating: what stands against a newcomer, one thing after the other, and for how long.
func TestSeating(t *testing.T) {
	b := closed(t)
	guard := b.server.access
	b.enrol("n1", "Ada")
	away := &conn{server: b.server, remote: "192.0.2.7:1"} // RFC 5737
	ask := func(c *conn, node, chair string) string {
		p := hub.Peer{Node: node, Boot: "b", Chair: chair, Instrument: "horn_f"}
		if e := c.seating(p, hub.NodeRecord{}, identity{}, false); e != nil {
			if e.Fatal || e.Message == "" || e.Hint == "" {
				t.Errorf("%s: %+v", chair, e)
			}
			return e.Code
		}
		return ""
	}
	// From one address so many chairs at once, from this machine any number.
	made := 0
	for ask(away, "x", fmt.Sprintf("Row %c", 'a'+made)) == "" {
		if made++; made > 20 {
			t.Fatal("no limit on new chairs")
		}
	}
	if got := ask(away, "x", "Row z"); got != proto.CodeTooMany || made != 6 {
		t.Errorf("after %d chairs: %q", made, got)
	}
	for i := range 20 {
		if got := ask(&conn{server: b.server, remote: "127.0.0.1:1"}, "x", fmt.Sprintf("Row %c", 'a'+i)); got != "" {
			t.Fatalf("on this machine: %q", got)
		}
	}
	// A chair that is there costs none, but asks while another is at work on it.
	if got := ask(away, "n1", "Ada"); got != "" && got != proto.CodeWaits {
		t.Errorf("its own chair: %q", got)
	}
	if got := ask(away, "n2", "Ada"); got != proto.CodeWaits {
		t.Errorf("another's chair: %q", got)
	}
	// A token of the hub's needs no more than a chair nobody is at work on.
	if e := away.seating(hub.Peer{Node: "n9", Chair: "Row y"}, hub.NodeRecord{}, identity{known: true}, false); e != nil {
		t.Errorf("with a token: %+v", e)
	}
	if e := away.seating(hub.Peer{Node: "n9", Chair: "Row y"}, hub.NodeRecord{}, identity{known: true}, true); e == nil || e.Code != proto.CodeWaits {
		t.Errorf("with a stolen one: %+v", e)
	}
	// Locked, until the leader's word; other names that look alike, likewise.
	if err := guard.SetRules(access.Rules{Locked: true}); err != nil {
		t.Fatal(err)
	}
	here := &conn{server: b.server, remote: "127.0.0.1:1"}
	for _, c := range []struct{ node, chair, why string }{{"n5", "Bea", access.WhyLocked}, {"n6", "Adа", access.WhyAlike}} { // а: Cyrillic
		if got := ask(here, c.node, c.chair); got != proto.CodeWaits {
			t.Errorf("%s: %q", c.chair, got)
		}
		w := guard.Waiting()
		if i := len(w) - 1; i < 0 || !strings.Contains(fmt.Sprint(w), c.node+" "+c.chair+" 127.0.0.1 "+c.why) {
			t.Errorf("%s: waiting %+v", c.chair, w)
		}
		guard.Admit(c.node)
		if got := ask(here, c.node, c.chair); got != "" {
			t.Errorf("%s after the leader's word: %q", c.chair, got)
		}
		if err := guard.SetRules(access.Rules{}); err != nil { // for the second
			t.Fatal(err)
		}
	}
}

// TestTheCodeSeatsByTheNameAlone: who shows no more than the code has no claim on the chair that
// its id once had: after a new start of the hub, a name that only looks like it asks.
func TestTheCodeSeatsByTheNameAlone(t *testing.T) {
	b := closed(t)
	first, _ := b.enrol("n1", "Ada") // and says nothing: its token may have been lost
	first.ws.Close()
	b.empty()
	anew, err := session.New(t.Context(), session.Config{Store: b.store})
	if err != nil {
		t.Fatal(err)
	}
	b.server.hub = anew
	p := b.dial()
	k, _ := p.prove("n1", "Аda", proto.ByCode, b.server.access.JoinCode()) // Cyrillic А
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWaits {
		t.Errorf("%+v", e)
	}
	if w := b.server.access.Waiting(); len(w) != 1 || w[0].Why != access.WhyAlike {
		t.Errorf("%+v", w)
	}
}

// TestARecordWithoutATokenProvesNothing: what is kept of a node without its token's hash is no
// secret, the empty one either.
func TestARecordWithoutATokenProvesNothing(t *testing.T) {
	b := closed(t)
	first, _ := b.enrol("n1", "Ada")
	first.ws.Close()
	b.empty()
	rec, err := b.hub.NodeRecord(t.Context(), "n1")
	if err != nil {
		t.Fatal(err)
	}
	rec.TokenHash = nil
	if err := b.store.Commit(t.Context(), []hub.Change{hub.NodeChange{Is: rec}}); err != nil {
		t.Fatal(err)
	}
	p := b.dial()
	sid := pake.NewSession()
	party, err := pake.Start(nil, pake.Channel(""), sid)
	if err != nil {
		t.Fatal(err)
	}
	p.say(fmt.Sprintf(`{"type":"hello","hello":{"version":1,"node":"n1","boot":"b","chair":"Ada","instrument":"horn_f","prove":{"by":"token","session":%q,"share":%q}}}`,
		b64.EncodeToString(sid), b64.EncodeToString(party.Share())))
	if m := p.want(proto.TypeError); m.Error.Code != proto.CodeWrongToken || p.proofs > 0 {
		t.Errorf("%+v, %d proofs", m.Error, p.proofs)
	}
}

// TestWhoIsAtWorkIsKnownWithoutTheDisk: a laptop at work whose record could not be kept is no
// other's to be either.
func TestWhoIsAtWorkIsKnownWithoutTheDisk(t *testing.T) {
	var f *faulty
	b := newBench(t, func(c *Config) { f = &faulty{Hub: c.Hub}; c.Hub = f })
	f.lookup = hub.ErrNotFound // nothing was kept
	p, _ := b.join("n1", "b")
	p.say(`{"type":"ping","ping":{"id":7,"sent_s":1}}`)
	p.want(proto.TypePong)
	again := b.dial()
	again.hello("n1", "b", `,"join":"`+b.hub.JoinCode()+`"`)
	if _, e := again.wantClose(); e == nil || e.Code != proto.CodeWaits {
		t.Errorf("%+v", e)
	}
}

// gone notes who has left.
type gone struct {
	Hub
	left []hub.ChairID
}

func (g *gone) Leave(chair hub.ChairID, node string) { g.left = append(g.left, chair) }

// TestWhoWasSeatedLeaves: of a connection's end the hub is told if it had a chair and nobody has
// taken its place, once.
func TestWhoWasSeatedLeaves(t *testing.T) {
	for _, c := range []struct {
		chair  hub.ChairID
		speaks bool
		want   int
	}{{1, true, 1}, {2, true, 1}, {0, true, 0}, {1, false, 0}} {
		g := &gone{}
		s := &Server{hub: g, nodes: map[string]*conn{"other": {}}, conns: map[*conn]struct{}{}}
		x := &conn{server: s, node: "n", chair: c.chair}
		s.conns[x] = struct{}{}
		s.nodes["n"] = x
		if !c.speaks {
			s.nodes["n"] = &conn{}
		}
		s.leave(x)
		s.leave(x)
		if len(g.left) != c.want || c.want > 0 && g.left[0] != c.chair || len(s.conns) != 0 {
			t.Errorf("%+v: %v left, %d connections", c, g.left, len(s.conns))
		}
		if left := len(s.nodes); left != 1 && c.speaks || left != 2 && !c.speaks {
			t.Errorf("%+v: %d nodes", c, left)
		}
	}
}

// TestWhoComesAsTheHubStops: a connection that was let in a moment before is ended all the same.
func TestWhoComesAsTheHubStops(t *testing.T) {
	b := newBench(t, nil)
	stopped := make(chan error, 1)
	allowed := b.server.upgrader.CheckOrigin
	b.server.upgrader.CheckOrigin = func(r *http.Request) bool { // between the door and the upgrade
		go func() { stopped <- b.server.Close() }()
		for is := false; !is; {
			b.server.mu.Lock()
			is = b.server.closed
			b.server.mu.Unlock()
		}
		return allowed(r)
	}
	if code, _ := b.dial().wantClose(); code != websocket.CloseGoingAway {
		t.Errorf("close %d", code)
	}
	if err := <-stopped; err != nil {
		t.Error(err)
	}
}

// TestWordsOfRefusals writes down what a player reads when the hub says no.
func TestWordsOfRefusals(t *testing.T) {
	b := newHub(t, nil)
	here := &conn{server: b.server, section: b.hub.Section().ID}
	elsewhere := &conn{server: b.server, section: here.section + 1}
	var out strings.Builder
	_, _, older := here.admit(t.Context(), &proto.Hello{})
	for _, e := range []*proto.Error{
		older, trouble(), unknownToken(), wrongCode(), tooMany(), removedError, replacedError, here.gone(), elsewhere.gone(),
	} {
		fmt.Fprintf(&out, "%s fatal %t: %s\n\t%s\n", e.Code, e.Fatal, e.Message, e.Hint)
	}
	golden.Lines(t, "refusals.txt", out.String())
}

// TestAnOlderVersionIsRefused: a node that speaks less than is understood here is told to update.
func TestAnOlderVersionIsRefused(t *testing.T) {
	_, token, e := (&conn{}).admit(t.Context(), &proto.Hello{Version: proto.MinVersion - 1})
	if e == nil || e.Code != proto.CodeVersion || !e.Fatal || token != "" || e.Hint == "" {
		t.Errorf("%+v", e)
	}
}

// TestPlacesOfAServer: without a number it is the default; a hub and a guard are needed.
func TestPlacesOfAServer(t *testing.T) {
	b := newHub(t, nil)
	for given, want := range map[int]int{0: DefaultMaxNodes, -1: DefaultMaxNodes, 1: 1, 7: 7} {
		s, err := New(Config{Hub: b.hub, Access: b.server.access, MaxNodes: given})
		if err != nil || s.max != want {
			t.Errorf("%d gives %d places, %v", given, s.max, err)
		}
	}
	for _, c := range []Config{{}, {Hub: b.hub}, {Access: b.server.access}} {
		if _, err := New(c); err == nil {
			t.Errorf("%+v: no error", c)
		}
	}
}
