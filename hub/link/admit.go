package link

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/proto"
	"bellrow/proto/instrument"
)

// admit decides on a hello: a chair and, at enrolment, a token; or a refusal.
func (c *conn) admit(ctx context.Context, h *proto.Hello) (hub.Joined, string, *proto.Error) {
	var none hub.Joined
	if h.Version < proto.MinVersion {
		return none, "", &proto.Error{Code: proto.CodeVersion, Fatal: true,
			Message: fmt.Sprintf("this hub needs protocol version %d or later, this laptop speaks %d", proto.MinVersion, h.Version),
			Hint:    "update bellrow on this laptop"}
	}
	known, refusal := c.token(ctx, h)
	if refusal != nil {
		return none, "", refusal
	}
	peer := hub.Peer{
		Node: h.Node, Boot: h.Boot, Chair: h.Chair, Part: h.Part,
		Instrument: h.Instrument, Device: h.Device, Tracks: h.Tracks,
	}
	var token string
	if !known {
		token, peer.TokenHash = access.NewToken()
	}
	c.node, c.boot = h.Node, h.Boot
	if !c.server.welcome(c) {
		c.node = ""
		return none, "", &proto.Error{Code: proto.CodeTrouble, Message: "all places at this hub are taken", Hint: "ask the leader"}
	}
	joined, err := c.server.hub.Join(ctx, peer)
	if err != nil {
		return none, "", c.joinRefusal(err, h)
	}
	c.chair = joined.Chair
	access.Known(c.request)
	return joined, token, nil
}

// token reports whether the node has shown its token, or may enrol by its
// join code.
func (c *conn) token(ctx context.Context, h *proto.Hello) (known bool, refusal *proto.Error) {
	if h.Token != "" {
		rec, err := c.server.hub.NodeRecord(ctx, h.Node)
		switch {
		case err == nil:
			err = c.server.access.CheckToken(c.remote, h.Token, rec.TokenHash)
			if err == nil {
				return true, nil
			}
		case !errors.Is(err, hub.ErrNotFound):
			c.server.log.Error("node not looked up", "err", err)
			return false, trouble()
		}
		if errors.Is(err, access.ErrTooMany) {
			return false, tooMany()
		}
		if h.Join == "" {
			return false, &proto.Error{Code: proto.CodeWrongToken,
				Message: "this hub does not know this laptop any more", Hint: "type the join code from the leader's screen"}
		}
	}
	switch err := c.server.access.CheckJoin(c.remote, h.Join); {
	case err == nil:
		return false, nil
	case errors.Is(err, access.ErrTooMany):
		return false, tooMany()
	case h.Join == "":
		return false, &proto.Error{Code: proto.CodeWrongCode, Message: "this hub needs its join code", Fatal: true,
			Hint: "type the join code from the leader's screen"}
	}
	return false, &proto.Error{Code: proto.CodeWrongCode, Message: "that is not this hub's join code", Fatal: true,
		Hint: "compare it with the leader's screen, letter by letter"}
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
