package link

import (
	"context"
	"encoding/base64"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"strconv"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/proto"
	"bellrow/proto/instrument"
	"bellrow/proto/name"
	"bellrow/proto/pake"
)

// admit decides on a hello: a chair and, at enrolment, a token; or a refusal.
func (c *conn) admit(ctx context.Context, h *proto.Hello) (hub.Joined, string, *proto.Error) {
	var none hub.Joined
	if h.Version < proto.MinVersion {
		return none, "", &proto.Error{Code: proto.CodeVersion, Fatal: true,
			Message: fmt.Sprintf("this hub needs protocol version %d or later, this laptop speaks %d", proto.MinVersion, h.Version),
			Hint:    "update bellrow on this laptop"}
	}
	rec, refusal := c.record(ctx, h.Node)
	if refusal != nil {
		return none, "", refusal
	}
	who, refusal := c.identify(h, rec)
	if refusal != nil {
		return none, "", refusal
	}
	stolen := !who.known && rec.Node != "" && !c.server.unheard(h.Node) // perhaps: its token is another's to have
	if !who.known {
		rec = hub.NodeRecord{}
	}
	peer := hub.Peer{
		Node: h.Node, Boot: h.Boot, Chair: name.Normal(h.Chair), Part: name.Normal(h.Part),
		Instrument: h.Instrument, Device: name.Normal(h.Device), Tracks: h.Tracks, TokenHash: who.hash,
	}
	if refusal := c.seating(peer, rec, who, stolen); refusal != nil {
		return none, "", refusal
	}
	c.node, c.boot = h.Node, h.Boot
	if !c.server.welcome(c) {
		return none, "", &proto.Error{Code: proto.CodeTrouble, Message: "all places at this hub are taken", Hint: "ask the leader"}
	}
	joined, err := c.server.hub.Join(ctx, peer)
	if err != nil {
		return none, "", c.joinRefusal(err, h)
	}
	if !who.known {
		c.server.enrolled(c.node)
	}
	c.section, c.chair = c.server.hub.Section().ID, joined.Chair
	access.Known(c.request)
	return joined, who.token, nil
}

// record finds what the hub has kept of a node, the zero record for none. The
// record of a chair that the leader has removed counts no longer: with the
// chair goes the token.
func (c *conn) record(ctx context.Context, node string) (hub.NodeRecord, *proto.Error) {
	rec, err := c.server.hub.NodeRecord(ctx, node)
	if errors.Is(err, hub.ErrNotFound) {
		return hub.NodeRecord{}, nil
	}
	if err != nil {
		c.server.log.Error("node not looked up", "err", err)
		return hub.NodeRecord{}, trouble()
	}
	section := c.server.hub.Section()
	if rec.Section == section.ID && !slices.ContainsFunc(section.Chairs, func(ch hub.Chair) bool { return ch.ID == rec.Chair }) {
		return hub.NodeRecord{}, nil
	}
	return rec, nil
}

// identity is what a node has shown.
type identity struct {
	known bool   // the hub's token, rather than the code
	token string // to be sent in the welcome
	hash  []byte // of a new token
}

// identify lets a node show its token, or the join code.
func (c *conn) identify(h *proto.Hello, rec hub.NodeRecord) (identity, *proto.Error) {
	if h.Prove != nil {
		return c.prove(h, rec)
	}
	who := identity{}
	if h.Token != "" {
		err := access.ErrWrongCode
		if rec.Node != "" {
			err = c.server.access.CheckToken(c.remote, h.Token, rec.TokenHash)
		}
		if err == nil {
			who.known = true
			return who, nil
		}
		if errors.Is(err, access.ErrTooMany) {
			return who, tooMany()
		}
		if h.Join == "" {
			return who, unknownToken()
		}
	}
	if h.Join == "" {
		return who, &proto.Error{Code: proto.CodeWrongCode, Message: "this hub needs its join code", Fatal: true,
			Hint: "type the join code from the leader's screen"}
	}
	ask := access.Ask{Node: h.Node, Chair: name.Normal(h.Chair), From: c.remote, Why: access.WhyOlder}
	if !c.server.access.Rules().Older && !c.server.access.May(ask) {
		return who, &proto.Error{Code: proto.CodeWaits, Message: "this laptop's version is older than the hub's",
			Hint: "the leader is asked whether it may join; better, update bellrow here"}
	}
	switch err := c.server.access.CheckOlder(c.remote, h.Join); {
	case err == nil:
		who.token, who.hash = access.NewToken()
		return who, nil
	case errors.Is(err, access.ErrTooMany):
		return who, tooMany()
	}
	return who, wrongCode()
}

// prove lets both sides show that they know the token or the join code.
func (c *conn) prove(h *proto.Hello, rec hub.NodeRecord) (identity, *proto.Error) {
	who := identity{known: h.Prove.By == proto.ByToken}
	secret := []byte(c.server.access.JoinCode())
	if who.known {
		if len(rec.TokenHash) == 0 {
			return who, unknownToken()
		}
		secret = []byte(hex.EncodeToString(rec.TokenHash))
	}
	if c.server.access.BeginProof(c.remote) != nil {
		return who, tooMany()
	}
	access.Working(c.request)
	keys, ok := c.exchange(h, secret)
	switch {
	case !ok && who.known:
		return who, unknownToken()
	case !ok:
		return who, wrongCode()
	}
	c.server.access.EndProof(c.remote)
	if !who.known {
		who.hash = access.HashToken(keys.Token())
	}
	return who, nil
}

// exchange is the hub's part of a proof: it answers first.
func (c *conn) exchange(h *proto.Hello, secret []byte) (*pake.Keys, bool) {
	session, err := base64.RawURLEncoding.DecodeString(h.Prove.Session)
	if err != nil || len(session) != pake.SessionSize {
		return nil, false
	}
	share, err := base64.RawURLEncoding.DecodeString(h.Prove.Share)
	if err != nil {
		return nil, false
	}
	party, err := pake.Start(secret, c.server.channel, session)
	if err != nil {
		return nil, false
	}
	keys, err := party.Responder(share, []byte(h.Node+" "+h.Boot), []byte(c.server.hub.ID()))
	if err != nil {
		return nil, false
	}
	err = c.send(proto.Message{Type: proto.TypeProof, Proof: &proto.Proof{
		Share: base64.RawURLEncoding.EncodeToString(party.Share()), Tag: base64.RawURLEncoding.EncodeToString(keys.ResponderTag()),
	}})
	if err != nil {
		return nil, false
	}
	m, err := c.next()
	if err != nil || m.Proof == nil {
		return nil, false
	}
	tag, err := base64.RawURLEncoding.DecodeString(m.Proof.Tag)
	return keys, err == nil && pake.Equal(tag, keys.InitiatorTag())
}

// MaxChairs is how many chairs a section can have: more than a band has
// players, and as many as the pages show and save.
const MaxChairs = 250

// seating asks the leader where a newcomer would surprise others: into a locked
// section, to a chair at which another laptop is at work, or as a laptop whose
// token it does not have (stolen); and bounds new chairs.
func (c *conn) seating(p hub.Peer, rec hub.NodeRecord, who identity, stolen bool) *proto.Error {
	guard := c.server.access
	rules := guard.Rules()
	section := c.server.hub.Section()
	chair := c.server.hub.ChairFor(p, rec)
	ask := access.Ask{Node: p.Node, Chair: p.Chair, From: c.remote}
	may := func(why string) bool { ask.Why = why; return guard.May(ask) }
	holder := c.server.hub.Node(chair)
	taken := chair != 0 && holder != "" && holder != p.Node
	// The code alone does not make anybody a laptop that has a token, or is at work.
	twice := !who.known && c.server.connected(p.Node) && !c.server.unheard(p.Node)
	if (taken || stolen || twice) && !may(access.WhyTaken) {
		return &proto.Error{Code: proto.CodeWaits, Message: "another laptop is at work on this chair",
			Hint: "the leader is asked whether this one takes over; or give another name"}
	}
	if who.known {
		return nil
	}
	if rules.Locked && !may(access.WhyLocked) {
		return &proto.Error{Code: proto.CodeWaits, Message: "the section is locked", Hint: "the leader is asked whether this laptop may join"}
	}
	if chair != 0 {
		return nil
	}
	if i := slices.IndexFunc(section.Chairs, func(c hub.Chair) bool { return name.Alike(c.Name, p.Chair) || name.Alike(c.Label, p.Chair) }); i >= 0 && !may(access.WhyAlike) {
		return &proto.Error{Code: proto.CodeWaits, Message: "that name looks like another one here, but is not the same",
			Hint: "write it as the other one, or give another; or the leader says yes"}
	}
	if len(section.Chairs) >= MaxChairs {
		return &proto.Error{Code: proto.CodeFull, Message: fmt.Sprintf("this section has %d chairs, and no room for more", len(section.Chairs)),
			Hint: "give the name of a chair that is there, or ask the leader to remove some"}
	}
	if !guard.NewChair(c.remote) {
		return &proto.Error{Code: proto.CodeTooMany, Message: "this laptop has made many chairs just now", Hint: "wait a minute"}
	}
	return nil
}

func (c *conn) joinRefusal(err error, h *proto.Hello) *proto.Error {
	if _, unknown := instrument.Find(h.Instrument); unknown != nil {
		return &proto.Error{Code: proto.CodeInstrument, Fatal: true,
			Message: fmt.Sprintf("this hub knows no instrument %q", h.Instrument), Hint: "choose another instrument, or update bellrow on the leader's laptop"}
	}
	c.server.log.Error("node not seated", "node", h.Node, "err", err)
	return trouble()
}

func trouble() *proto.Error {
	return &proto.Error{Code: proto.CodeTrouble, Message: "the hub cannot take anybody in just now", Hint: "it is tried again in a moment; the leader's screen says why"}
}

func unknownToken() *proto.Error {
	return &proto.Error{Code: proto.CodeWrongToken,
		Message: "this hub does not know this laptop any more", Hint: "type the join code from the leader's screen"}
}

func wrongCode() *proto.Error {
	return &proto.Error{Code: proto.CodeWrongCode, Message: "that is not this hub's join code", Fatal: true,
		Hint: "compare it with the leader's screen, letter by letter"}
}

func tooMany() *proto.Error {
	return &proto.Error{Code: proto.CodeTooMany, Message: "too many wrong codes came from here", Hint: "wait a minute, then compare the code with the leader's screen"}
}

// refuse tells the node why and ends the connection.
func (c *conn) refuse(e *proto.Error) {
	c.send(proto.Message{Type: proto.TypeError, Error: e})
	c.end(proto.CloseRefused, e.Code)
	for { // the closing handshake needs a reader
		if _, _, err := c.ws.ReadMessage(); err != nil {
			return
		}
	}
}

func chairID(id hub.ChairID) string { return strconv.FormatInt(int64(id), 10) }
