package link

import (
	"encoding/base64"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/proto"
	"bellrow/proto/pake"
)

var b64 = base64.RawURLEncoding

// closed makes a bench whose hub takes no older laptops.
func closed(t *testing.T) *bench {
	b := newBench(t, nil)
	if err := b.server.access.SetRules(access.Rules{}); err != nil {
		t.Fatal(err)
	}
	return b
}

// prove goes through a proof as package proto describes it, and returns the keys
// and whether the hub knew the secret.
func (p *peer) prove(node, chair, by, secret string) (*pake.Keys, bool) {
	p.Helper()
	sid := pake.NewSession()
	party, err := pake.Start([]byte(secret), pake.Channel(""), sid)
	if err != nil {
		p.Fatal(err)
	}
	hello, err := json.Marshal(map[string]any{"type": "hello", "hello": map[string]any{
		"version": 1, "node": node, "boot": "b", "chair": chair, "instrument": "horn_f",
		"prove": map[string]string{"by": by, "session": b64.EncodeToString(sid), "share": b64.EncodeToString(party.Share())},
	}})
	if err != nil {
		p.Fatal(err)
	}
	p.say(string(hello))
	m := p.want(proto.TypeProof)
	share, _ := b64.DecodeString(m.Proof.Share)
	tag, _ := b64.DecodeString(m.Proof.Tag)
	keys, err := party.Initiator(share, []byte(node+" b"), []byte(p.hub.ID()))
	if err != nil {
		p.Fatal(err)
	}
	return keys, pake.Equal(tag, keys.ResponderTag())
}

func (p *peer) confirm(k *pake.Keys) {
	p.say(`{"type":"proof","proof":{"tag":"` + b64.EncodeToString(k.InitiatorTag()) + `"}}`)
}

// back comes again with a token, and is welcome.
func (b *bench) back(node, chair, token string) *peer {
	b.Helper()
	p := b.dial()
	k, ok := p.prove(node, chair, proto.ByToken, tokenSecret(token))
	if !ok {
		b.Fatalf("the hub does not know the token of %s", node)
	}
	p.confirm(k)
	p.want(proto.TypeWelcome)
	return p
}

// enrol joins by a proof of the code and returns the connection and the token.
func (b *bench) enrol(node, chair string) (*peer, string) {
	b.Helper()
	p := b.dial()
	k, ok := p.prove(node, chair, proto.ByCode, b.server.access.JoinCode())
	if !ok {
		b.Fatal("the hub did not prove that it knows its code")
	}
	p.confirm(k)
	if w := p.want(proto.TypeWelcome); w.Welcome.Token != "" {
		b.Errorf("a token was sent: %+v", w.Welcome)
	}
	return p, k.Token()
}

func tokenSecret(token string) string { return hex.EncodeToString(access.HashToken(token)) }

func TestProof(t *testing.T) {
	b := closed(t)
	_, resp, err := websocket.DefaultDialer.Dial("ws"+strings.TrimPrefix(b.http.URL, "http"), nil)
	if err != nil || resp.Header.Get(proto.HeaderProof) != proto.ProofKind || resp.Header.Get(proto.HeaderHub) != b.hub.ID() {
		t.Fatalf("%v, %v", resp, err)
	}
	first, token := b.enrol("n1", "Horn 1")
	first.ws.Close()

	b.back("n1", "Horn 1", token) // which both derived

	// A hub asked by the token shows nothing to who does not have it.
	p := b.dial()
	k, ok := p.prove("n1", "Horn 1", proto.ByToken, "a guess")
	if ok {
		t.Error("the hub proved a wrong token")
	}
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWrongToken {
		t.Errorf("%+v", e)
	}
	p = b.dial()
	if k, ok = p.prove("n2", "Horn 2", proto.ByCode, "AAAAAAAA"); ok {
		t.Error("the hub proved a wrong code")
	}
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWrongCode || !e.Fatal {
		t.Errorf("%+v", e)
	}
}

// Whoever breaks off once the hub's tag has told that the guess was wrong has
// had a try all the same.
func TestUnfinishedProofsCount(t *testing.T) {
	b := closed(t)
	tries := 0
	for ; tries < 20; tries++ {
		p := b.dial()
		sid := b64.EncodeToString(pake.NewSession())
		p.say(fmt.Sprintf(`{"type":"hello","hello":{"version":1,"node":"g","boot":"b","chair":"x","instrument":"horn_f","prove":{"by":"code","session":"%s","share":"%s"}}}`,
			sid, b64.EncodeToString(append([]byte{9}, make([]byte, 31)...))))
		p.ws.SetReadDeadline(later())
		_, data, err := p.ws.ReadMessage()
		if err != nil {
			t.Fatal(err)
		}
		if m, _ := proto.Decode(data); m.Error != nil {
			if m.Error.Code != proto.CodeTooMany {
				t.Errorf("%+v", m.Error)
			}
			break
		}
		p.ws.Close()
	}
	if tries > 7 { // one may come back while they are made
		t.Errorf("%d guesses at once", tries)
	}
}

func TestOlderLaptopsWaitForTheLeader(t *testing.T) {
	b := closed(t)
	code := b.server.access.JoinCode()
	ask := func(code string) *proto.Error {
		p := b.dial()
		p.hello("old", "b", `,"join":"`+code+`"`)
		_, e := p.wantClose()
		return e
	}
	if e := ask(code); e == nil || e.Code != proto.CodeWaits || e.Fatal {
		t.Fatalf("%+v", e)
	}
	if w := b.server.access.Waiting(); len(w) != 1 || w[0].Node != "old" || w[0].Why != access.WhyOlder || w[0].From != "127.0.0.1" {
		t.Fatalf("%+v", w)
	}
	if e := ask("AAAAAA"); e == nil || e.Code != proto.CodeWaits {
		t.Errorf("a wrong code is told from a right one before the leader's word: %+v", e)
	}
	b.server.access.Admit("old")
	if e := ask("AAAAAA"); e == nil || e.Code != proto.CodeWrongCode {
		t.Errorf("wrong code: %+v", e)
	}
	p := b.dial()
	p.hello("old", "b", `,"join":"`+code[:proto.ShortLength]+`"`) // it takes no longer one
	token := p.want(proto.TypeWelcome).Welcome.Token
	p.ws.Close()
	if token == "" {
		t.Fatal("no token")
	}
	if err := b.server.access.SetRules(access.Rules{Locked: true}); err != nil {
		t.Fatal(err)
	}
	p = b.dial()
	p.hello("old", "b", `,"token":"`+token+`"`)
	p.want(proto.TypeWelcome) // who has a token comes back
}

func TestTakingAChairThatIsInUseAsks(t *testing.T) {
	b := closed(t)
	first, token := b.enrol("n1", "Ada")
	p := b.dial()
	k, _ := p.prove("n2", "ada", proto.ByCode, b.server.access.JoinCode())
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWaits {
		t.Fatalf("%+v", e)
	}
	chair := b.hub.Section().Chairs[0].ID
	if b.hub.Node(chair) != "n1" || !b.server.access.Admit("n2") {
		t.Fatal("the chair changed hands, or nobody asked")
	}
	b.enrol("n2", "ada")
	if code, e := first.wantClose(); code != proto.CloseReplaced || e == nil || !strings.Contains(e.Hint, "join again") {
		t.Errorf("%d, %+v", code, e)
	}
	// Who was replaced may ask in turn, and gets no chair without the leader.
	p = b.dial()
	k, _ = p.prove("n1", "Ada", proto.ByToken, tokenSecret(token))
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWaits {
		t.Errorf("%+v", e)
	}
	// Two players of whom one goes by the label of the other are two.
	b.enrol("n3", "Horn 3")
	b.enrol("n4", b.hub.Section().Chairs[1].Label)
	if n := len(b.hub.Section().Chairs); n != 3 {
		t.Errorf("%d chairs, want 3", n)
	}
}

// Who knows the code and another laptop's id, which it sends openly, does not
// become that laptop.
func TestTheCodeDoesNotMakeOneAnother(t *testing.T) {
	b := closed(t)
	first, token := b.enrol("n1", "Ada")
	speak := func() {
		first.say(`{"type":"ping","ping":{"id":7,"sent_s":1}}`)
		first.want(proto.TypePong)
	}
	speak()
	p := b.dial()
	k, _ := p.prove("n1", "Ada", proto.ByCode, b.server.access.JoinCode())
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWaits {
		t.Fatalf("%+v", e)
	}
	speak() // still at work
	first.ws.Close()
	b.back("n1", "Ada", token) // which was not replaced
}

// A laptop whose welcome got lost has no token, and comes again with the code,
// be its first connection still open at the hub or not.
func TestALostWelcomeShutsNobodyOut(t *testing.T) {
	b := closed(t)
	for _, gone := range []bool{false, true} {
		node := fmt.Sprintf("n%v", gone)
		first, _ := b.enrol(node, node)
		if gone {
			first.ws.Close()
		}
		second, _ := b.enrol(node, node)
		second.say(`{"type":"ping","ping":{"id":7,"sent_s":1}}`)
		second.want(proto.TypePong)
	}
	if n := len(b.hub.Section().Chairs); n != 2 {
		t.Errorf("%d chairs, want 2", n)
	}
}

// TestAnotherSectionIsTold: who sits in a section that the leader closes for
// another is told so, and goes along: nobody took the chair.
func TestAnotherSectionIsTold(t *testing.T) {
	b := closed(t)
	first, token := b.enrol("n1", "Ada")
	if err := b.hub.Command(t.Context(), hub.Command{Do: hub.DoOpen, Name: "Low brass"}); err != nil {
		t.Fatal(err)
	}
	if _, e := first.wantClose(); e == nil || e.Code != proto.CodeSection || e.Fatal || !strings.Contains(e.Message, "Low brass") {
		t.Errorf("%+v", e)
	}
	p := b.dial()
	k, ok := p.prove("n1", "Ada", proto.ByToken, tokenSecret(token))
	p.confirm(k)
	if w := p.want(proto.TypeWelcome); !ok || w.Welcome.Section != "Low brass" {
		t.Errorf("%v, %+v", ok, w.Welcome)
	}
}

func TestRemovingRevokesTheToken(t *testing.T) {
	b := closed(t)
	first, token := b.enrol("n1", "Ada")
	if err := b.hub.Command(t.Context(), hub.Command{Do: hub.DoRemove, Chair: b.hub.Section().Chairs[0].ID}); err != nil {
		t.Fatal(err)
	}
	if code, e := first.wantClose(); code != proto.CloseReplaced || e == nil || e.Code != proto.CodeReplaced || !strings.Contains(e.Message, "taken this chair out") {
		t.Errorf("close %d, %+v", code, e)
	}
	p := b.dial()
	sid := b64.EncodeToString(pake.NewSession())
	p.say(`{"type":"hello","hello":{"version":1,"node":"n1","boot":"b","chair":"Ada","instrument":"horn_f","prove":{"by":"token","session":"` + sid + `","share":"` + sid + `"}}}`)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWrongToken {
		t.Errorf("by the proof: %+v", e)
	}
	p = b.dial()
	p.hello("n1", "b", `,"token":"`+token+`"`)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWrongToken {
		t.Errorf("openly: %+v", e)
	}
	// The code that he still has is another's by now.
	old := b.server.access.JoinCode()
	if _, err := b.server.access.NewCode(); err != nil {
		t.Fatal(err)
	}
	p = b.dial()
	k, ok := p.prove("n1", "Ada", proto.ByCode, old)
	p.confirm(k)
	if _, e := p.wantClose(); ok || e == nil || e.Code != proto.CodeWrongCode {
		t.Errorf("by the old code: %v, %+v", ok, e)
	}
	if n := len(b.hub.Section().Chairs); n != 0 {
		t.Errorf("%d chairs", n)
	}
}

func TestALockedSectionTakesNobodyNew(t *testing.T) {
	b := closed(t)
	first, token := b.enrol("n1", "Ada")
	first.ws.Close()
	if err := b.server.access.SetRules(access.Rules{Locked: true}); err != nil {
		t.Fatal(err)
	}
	p := b.dial()
	k, _ := p.prove("n2", "Bea", proto.ByCode, b.server.access.JoinCode())
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWaits {
		t.Errorf("%+v", e)
	}
	b.back("n1", "Ada", token)
}

func TestChairsHaveALimit(t *testing.T) {
	b := closed(t)
	s := b.hub.Section()
	for i := range MaxChairs {
		s.Chairs = append(s.Chairs, hub.Chair{Label: fmt.Sprintf("Horn %d", i+1), Name: fmt.Sprintf("P%d", i), Instrument: "horn_f", Place: i})
	}
	if err := b.hub.Command(t.Context(), hub.Command{Do: hub.DoEdit, Section: &s}); err != nil {
		t.Fatal(err)
	}
	b.enrol("n1", "P17") // a chair that is there
	p := b.dial()
	k, _ := p.prove("n2", "one more", proto.ByCode, b.server.access.JoinCode())
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeFull {
		t.Errorf("%+v", e)
	}
	if n := len(b.hub.Section().Chairs); n != MaxChairs {
		t.Errorf("%d chairs", n)
	}
}

// Names come in one form, and one that only looks like another asks.
func TestNamesThatDeceive(t *testing.T) {
	b := closed(t)
	b.enrol("n1", "A\u200Bd\u2060a")
	if got := b.hub.Section().Chairs[0].Name; got != "Ada" {
		t.Errorf("%q", got)
	}
	p := b.dial()
	k, _ := p.prove("n2", "Аda", proto.ByCode, b.server.access.JoinCode()) // Cyrillic А
	p.confirm(k)
	if _, e := p.wantClose(); e == nil || e.Code != proto.CodeWaits {
		t.Errorf("%+v", e)
	}
	if w := b.server.access.Waiting(); len(w) != 1 || w[0].Why != access.WhyAlike {
		t.Errorf("%+v", w)
	}
}
