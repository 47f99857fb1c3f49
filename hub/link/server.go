package link

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/hub"
	"bellrow/hub/access"
	"bellrow/hub/feed"
	"bellrow/proto"
	"bellrow/proto/pake"
	"bellrow/proto/track"
)

// Hub is what a link needs of the hub. *session.Session implements it.
type Hub interface {
	ID() string
	Seconds() float64
	NodeRecord(ctx context.Context, node string) (hub.NodeRecord, error)
	// Section is the open section; Node which node holds a chair of it now, ""
	// for none.
	Section() hub.Section
	Node(chair hub.ChairID) string
	// ChairFor finds the chair that a peer would get, 0 for a new one.
	ChairFor(p hub.Peer, known hub.NodeRecord) hub.ChairID
	Join(ctx context.Context, p hub.Peer) (hub.Joined, error)
	Leave(chair hub.ChairID, node string)
	Deliver(ctx context.Context, chair hub.ChairID, node, boot string, r proto.Reading) error
	FollowStored(node, boot string) *feed.Feed[uint64]
	State(chair hub.ChairID, s proto.State)
	Setting(ctx context.Context, chair hub.ChairID, s proto.Setting) error
	Track(chair hub.ChairID, c track.Chunk)
	Clock(chair hub.ChairID, p proto.Ping)
	Follow(chair hub.ChairID) *feed.Feed[proto.View]
}

// Config sets up a Server.
type Config struct {
	Hub    Hub           // required
	Access *access.Guard // required
	// Fingerprint is the hex SHA-256 of the certificate that nodes see; empty
	// for plain HTTP. A proof holds only over the channel on which it was made.
	Fingerprint string
	// MaxNodes bounds the connections; 0 means DefaultMaxNodes.
	MaxNodes int
	// Log gets details; nil discards them.
	Log *slog.Logger
}

// DefaultMaxNodes is more laptops than a band has players, with room for
// connections that are about to end.
const DefaultMaxNodes = 250

// Server is the endpoint at proto.NodePath.
type Server struct {
	hub      Hub
	access   *access.Guard
	channel  []byte
	max      int
	log      *slog.Logger
	upgrader websocket.Upgrader
	serving  sync.WaitGroup

	mu     sync.Mutex
	closed bool
	conns  map[*conn]struct{}
	nodes  map[string]*conn // the connection that speaks for a node
	// fresh are nodes that enrolled with the code and have not spoken since: the
	// welcome with their token may be lost, and they come again with the code.
	fresh map[string]bool
}

// New checks c and returns a server. It starts nothing.
func New(c Config) (*Server, error) {
	if c.Hub == nil || c.Access == nil {
		return nil, errors.New("link: no hub or no access guard given, need both")
	}
	if c.MaxNodes <= 0 {
		c.MaxNodes = DefaultMaxNodes
	}
	if c.Log == nil {
		c.Log = slog.New(slog.DiscardHandler)
	}
	return &Server{
		hub: c.Hub, access: c.Access, channel: pake.Channel(c.Fingerprint), max: c.MaxNodes, log: c.Log,
		upgrader: websocket.Upgrader{
			HandshakeTimeout: helloWithin,
			ReadBufferSize:   1024, WriteBufferSize: 1024, // a message fits; 1,000 nodes cost 2 MB
			WriteBufferPool: &sync.Pool{},
			CheckOrigin:     func(r *http.Request) bool { return c.Access.OriginAllowed(r) },
		},
		conns: map[*conn]struct{}{}, nodes: map[string]*conn{}, fresh: map[string]bool{},
	}, nil
}

// ServeHTTP lets a node in and serves it until its connection ends.
func (s *Server) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	if !s.access.HostAllowed(r) {
		http.Error(w, "this hub does not go by that name", http.StatusMisdirectedRequest)
		return
	}
	if !s.enter() {
		w.Header().Set("Retry-After", "5")
		http.Error(w, "the hub stops", http.StatusServiceUnavailable)
		return
	}
	defer s.serving.Done()
	c := newConn(s, r)
	defer s.leave(c)
	ws, err := s.upgrader.Upgrade(w, r, http.Header{proto.HeaderProof: {proto.ProofKind}, proto.HeaderHub: {s.hub.ID()}})
	if err != nil {
		return // the upgrader has answered
	}
	c.ws = ws
	defer ws.Close()
	s.add(c)
	c.serve(context.WithoutCancel(r.Context()))
}

// Nodes returns how many nodes are connected.
func (s *Server) Nodes() int {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.nodes)
}

// Close ends all connections, so that nodes come back to the next hub at this
// address, and waits for them. A second Close is harmless.
func (s *Server) Close() error {
	s.mu.Lock()
	s.closed = true
	for c := range s.conns {
		c.end(websocket.CloseGoingAway, "the hub stops")
	}
	s.mu.Unlock()
	s.serving.Wait()
	return nil
}

// enter counts a connection in, unless the hub stops. Who has not said hello
// yet holds a stranger's place at the door; see access.Listen.
func (s *Server) enter() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.closed {
		return false
	}
	s.serving.Add(1)
	return true
}

func (s *Server) add(c *conn) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.conns[c] = struct{}{}
	if s.closed {
		c.end(websocket.CloseGoingAway, "the hub stops")
	}
}

// welcome makes c speak for its node and ends the connection that did so
// before. It fails when all places are taken.
func (s *Server) welcome(c *conn) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	old := s.nodes[c.node]
	if old == nil && len(s.nodes) >= s.max {
		return false
	}
	s.nodes[c.node] = c
	if old != nil {
		old.replaced(old.boot != c.boot)
	}
	return true
}

// connected reports whether a connection speaks for the node.
func (s *Server) connected(node string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.nodes[node] != nil
}

// enrolled notes that a node has enrolled with the code, heard that it has
// spoken since, and so has its token; unheard reports the time between.
func (s *Server) enrolled(node string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.fresh[node] = true
}

func (s *Server) heard(node string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.fresh, node)
}

func (s *Server) unheard(node string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.fresh[node]
}

// speaks reports whether c still speaks for its node.
func (s *Server) speaks(c *conn) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.nodes[c.node] == c
}

// leave counts c out and tells the hub, unless another connection speaks for
// the node by now.
func (s *Server) leave(c *conn) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.conns, c)
	if c.node != "" && s.nodes[c.node] == c {
		delete(s.nodes, c.node)
		if c.chair != 0 {
			s.hub.Leave(c.chair, c.node)
		}
	}
}

// Timing of a connection.
const (
	helloWithin = 5 * time.Second  // from the upgrade to a valid hello
	pingEvery   = 5 * time.Second  // WebSocket pings to the node
	silence     = 15 * time.Second // three pings without answer: the node is gone
	writeWithin = 5 * time.Second  // a node that takes nothing for so long is gone
)
