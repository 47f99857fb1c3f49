package network

import (
	"encoding/base64"
	"errors"
	"fmt"
	"net/http"
	"sync"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/proto"
	"bellrow/proto/pake"
)

// player is a light node for load: it talks the protocol over one socket and
// measures how soon the hub answers. It is not node/uplink, whose own work
// would be measured along with the hub's.
type player struct {
	ws *websocket.Conn

	mu    sync.Mutex
	sent  map[uint64]time.Time // pings by ID, readings by sequence + readingBit
	times []time.Duration      // round trips of pings
	acks  []time.Duration      // from a reading to its acknowledgement
	acked uint64
	ended error
}

const readingBit = 1 << 63

// dialer is shared by all players of a process.
var dialer = &websocket.Dialer{HandshakeTimeout: 20 * time.Second, WriteBufferPool: &sync.Pool{}, ReadBufferSize: 1024, WriteBufferSize: 1024}

// errWaits means that the hub asks the leader first: the laptop's connection
// from before is still open there.
var errWaits = errors.New("soak: the hub asks the leader")

// newPlayer joins the hub at address.
func newPlayer(address string, n int) (p *player, err error) {
	for range 200 {
		if p, err = joinOpenly(address, n); !errors.Is(err, errWaits) {
			return p, err
		}
		time.Sleep(100 * time.Millisecond)
	}
	return p, err
}

// tokens are those that the players of a process have got, by address and node.
var tokens sync.Map

// joinOpenly joins as nodes of the first version do.
func joinOpenly(address string, n int) (*player, error) {
	ws, _, err := dialer.Dial("ws://"+address+proto.NodePath, nil)
	if err != nil {
		return nil, err
	}
	p := &player{ws: ws, sent: map[uint64]time.Time{}}
	key := fmt.Sprintf("%s %d", address, n)
	token, _ := tokens.Load(key)
	had, _ := token.(string) // none the first time
	err = p.say(proto.Message{Type: proto.TypeHello, Hello: &proto.Hello{
		Token: had, Version: proto.Version, Node: fmt.Sprintf("load-%d", n), Boot: fmt.Sprint(time.Now().UnixNano()),
		Chair: fmt.Sprintf("Chair %d", n+1), Instrument: "trumpet_bb", Join: joinCode,
	}})
	if err != nil {
		ws.Close()
		return nil, err
	}
	ws.SetReadDeadline(time.Now().Add(30 * time.Second))
	m, err := p.hear()
	switch {
	case err == nil && m.Error != nil && m.Error.Code == proto.CodeWaits:
		err = errWaits
	case err == nil && m.Welcome == nil:
		err = fmt.Errorf("soak: %s instead of a welcome: %+v", m.Type, m.Error)
	}
	if err != nil {
		ws.Close()
		return nil, err
	}
	ws.SetReadDeadline(time.Time{})
	if m.Welcome.Token != "" {
		tokens.Store(key, m.Welcome.Token)
	}
	return p, nil
}

// newProvenPlayer joins by a proof of the code, as a present node does.
func newProvenPlayer(address string, n int) (*player, error) {
	ws, resp, err := dialer.Dial("ws://"+address+proto.NodePath, nil)
	if err != nil {
		return nil, err
	}
	p := &player{ws: ws, sent: map[uint64]time.Time{}}
	sid, b64 := pake.NewSession(), base64.RawURLEncoding
	party, err := pake.Start([]byte(joinCode), pake.Channel(""), sid)
	if err != nil {
		return nil, err
	}
	h := &proto.Hello{
		Version: proto.Version, Node: fmt.Sprintf("load-%d", n), Boot: fmt.Sprint(time.Now().UnixNano()),
		Chair: fmt.Sprintf("Chair %d", n+1), Instrument: "trumpet_bb",
		Prove: &proto.Prove{By: proto.ByCode, Session: b64.EncodeToString(sid), Share: b64.EncodeToString(party.Share())},
	}
	if err := p.say(proto.Message{Type: proto.TypeHello, Hello: h}); err != nil {
		return nil, err
	}
	m, err := p.hear()
	if err != nil || m.Proof == nil {
		return nil, fmt.Errorf("soak: %v instead of a proof: %w", m, err)
	}
	share, _ := b64.DecodeString(m.Proof.Share) // a wrong one shows in the tag
	keys, err := party.Initiator(share, []byte(h.Node+" "+h.Boot), []byte(resp.Header.Get(proto.HeaderHub)))
	if err != nil {
		return nil, err
	}
	if err := p.say(proto.Message{Type: proto.TypeProof, Proof: &proto.Proof{Tag: b64.EncodeToString(keys.InitiatorTag())}}); err != nil {
		return nil, err
	}
	if m, err = p.hear(); err != nil || m.Welcome == nil {
		return nil, fmt.Errorf("soak: %v instead of a welcome: %w", m, err)
	}
	return p, nil
}

func (p *player) say(m proto.Message) error {
	data, err := proto.Encode(m)
	if err != nil {
		return err
	}
	return p.ws.WriteMessage(websocket.TextMessage, data)
}

func (p *player) hear() (proto.Message, error) {
	_, data, err := p.ws.ReadMessage()
	if err != nil {
		return proto.Message{}, err
	}
	return proto.Decode(data)
}

// listen takes what the hub says until the socket ends.
func (p *player) listen() {
	for {
		m, err := p.hear()
		now := time.Now()
		p.mu.Lock()
		switch {
		case err != nil:
			p.ended = err
			p.mu.Unlock()
			return
		case m.Pong != nil:
			p.times = append(p.times, now.Sub(p.sent[m.Pong.ID]))
			delete(p.sent, m.Pong.ID)
		case m.Ack != nil:
			for ; p.acked < m.Ack.Stored; p.acked++ {
				key := (p.acked + 1) | readingBit
				p.acks = append(p.acks, now.Sub(p.sent[key]))
				delete(p.sent, key)
			}
		}
		p.mu.Unlock()
	}
}

// settle waits until everything sent is answered, or patience ends, and
// returns how much is not.
func (p *player) settle(patience time.Duration) int {
	for until := time.Now().Add(patience); ; time.Sleep(20 * time.Millisecond) {
		p.mu.Lock()
		left := len(p.sent)
		p.mu.Unlock()
		if left == 0 || time.Now().After(until) {
			return left
		}
	}
}

// play sends what a node sends while its player plays: five messages a
// second, of which one each second is a clock ping (a real node asks more
// seldom; this one measures) and one each five seconds a reading.
func (p *player) play(from time.Time, every time.Duration, messages int) error {
	tick := time.NewTicker(every)
	defer tick.Stop()
	var ping, seq uint64
	for i := range messages {
		<-tick.C
		m := proto.Message{Type: proto.TypeState, State: &proto.State{State: []string{"sounding", "resting"}[i/3%2], Level: -20}}
		now := time.Now()
		p.mu.Lock()
		switch {
		case i%25 == 7:
			seq++
			p.sent[seq|readingBit] = now
			m = proto.Message{Type: proto.TypeReading, Reading: &proto.Reading{
				Sequence: seq, End: 1, Hz: 466.16, CI95: 1, Level: -20, Floor: -60, Settled: true,
			}}
		case i%5 == 0:
			ping++
			p.sent[ping] = now
			m = proto.Message{Type: proto.TypePing, Ping: &proto.Ping{ID: ping, Sent: now.Sub(from).Seconds()}}
		}
		p.mu.Unlock()
		if err := p.say(m); err != nil {
			return err
		}
	}
	return nil
}

// watch is a screen: it reads rows until the socket ends and counts them.
func watch(address string) (stop func() int, err error) {
	ws, resp, err := dialer.Dial("ws://"+address+"/ws/row", http.Header{})
	if err != nil {
		if resp != nil {
			err = fmt.Errorf("%w: %s", err, resp.Status)
		}
		return nil, err
	}
	done := make(chan int)
	go func() {
		rows := 0
		for {
			if _, _, err := ws.ReadMessage(); err != nil {
				done <- rows
				return
			}
			rows++
		}
	}()
	return func() int { ws.Close(); return <-done }, nil
}
