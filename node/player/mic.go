package player

import (
	"context"
	"errors"
	"log/slog"
	"net/http"
	"sync"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/node/capture"
)

// ErrPageGone is what Read returns when the page that was the microphone has
// been closed or went silent for good. Opening again waits for the next one.
var ErrPageGone = errors.New("player: the page with the microphone was closed")

// Microphone is a microphone in a browser: the page captures sound and sends
// it over a socket, which ServeHTTP answers. One page at a time is the
// microphone; a second tab is told so and may take over.
//
// The handler checks neither Host nor Origin nor token: it belongs behind a
// guard, as Server.Handler is one.
type Microphone struct {
	log *slog.Logger

	mu      sync.Mutex
	page    *micPage // the page that is the microphone, or nil
	source  *micSource
	arrived chan struct{} // one token: the page has sent sound
}

// micSource is the open source and the page it belongs to.
type micSource struct {
	*capture.Live
	ring *capture.Ring
	page *micPage
}

// MicStatus describes the browser's microphone for checks.
type MicStatus struct {
	Connected  bool    // a page is the microphone
	Device     string  // as the browser names it
	Rate       float64 // Hz
	Processing []string
	Lost       int64 // samples lost between page and node
}

// NewMicrophone returns a microphone that waits for its page. A nil log
// discards.
func NewMicrophone(log *slog.Logger) *Microphone {
	if log == nil {
		log = slog.New(slog.DiscardHandler)
	}
	return &Microphone{log: log, arrived: make(chan struct{}, 1)}
}

// Open waits until a page sends sound and returns it as a source. Only one
// source is open at a time: opening another ends the one before.
func (m *Microphone) Open(ctx context.Context) (capture.Source, error) {
	select { // a token from earlier says nothing about now
	case <-m.arrived:
	default:
	}
	for {
		select {
		case <-m.arrived:
		case <-ctx.Done():
			return nil, ctx.Err()
		}
		if src := m.attach(); src != nil {
			return src, nil
		}
	}
}

// attach makes the source of the present page, nil when it has just gone.
func (m *Microphone) attach() *micSource {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.page == nil {
		return nil
	}
	m.detach(capture.ErrClosed)
	info := capture.Info{Rate: m.page.hello.Rate, Name: m.page.hello.name()}
	ring := capture.NewRing(int(capture.RingSeconds * info.Rate))
	s := &micSource{ring: ring, page: m.page}
	s.Live = capture.Watch(info, ring, func() error {
		m.mu.Lock()
		defer m.mu.Unlock()
		if m.source == s {
			m.source = nil
		}
		return nil
	})
	m.source = s
	return s
}

// detach ends the open source with err. The caller holds m.mu.
func (m *Microphone) detach(err error) {
	if m.source != nil {
		m.source.ring.Fail(err)
		m.source = nil
	}
}

// Status says what the browser's microphone is doing.
func (m *Microphone) Status() MicStatus {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.page == nil {
		return MicStatus{}
	}
	h := m.page.hello
	st := MicStatus{Connected: true, Device: h.Device, Rate: h.Rate, Processing: h.processing()}
	if m.source != nil {
		st.Lost = m.source.Lost()
	}
	return st
}

// Trouble implements capture.Troubled: it warns that the browser still
// processes the sound.
func (s *micSource) Trouble() string {
	if len(s.page.hello.processing()) > 0 {
		return "processing-on"
	}
	return ""
}

// claim makes p the microphone unless another page is and p may not take over.
func (m *Microphone) claim(p *micPage) bool {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.page != nil {
		if !p.hello.Take {
			return false
		}
		m.page.end(closeTaken, "another tab became the microphone")
		m.detach(ErrPageGone)
	}
	m.page = p
	return true
}

// leave ends p's turn as the microphone.
func (m *Microphone) leave(p *micPage) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.page == p {
		m.page = nil
		m.detach(ErrPageGone)
	}
}

// hand passes a frame of the page on to the open source.
func (m *Microphone) hand(p *micPage, lost int64, samples []float32) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.page != p {
		return
	}
	if m.source != nil && m.source.page == p {
		m.source.ring.Skip(lost)
		m.source.ring.Put(samples)
	}
	select {
	case m.arrived <- struct{}{}:
	default:
	}
}

// lost ends the open source because the page says its device went away.
func (m *Microphone) lost(p *micPage) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.page == p {
		m.detach(capture.ErrLost)
	}
}

// Close ends the turn of the page that is the microphone, if there is one.
func (m *Microphone) Close() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.page != nil {
		m.page.end(websocket.CloseGoingAway, "the node has ended")
	}
}

// ServeHTTP answers the socket of a page and returns when it ends.
func (m *Microphone) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	conn, err := micUpgrader.Upgrade(w, r, nil)
	if err != nil {
		return // Upgrade has answered
	}
	p := &micPage{conn: conn}
	defer conn.Close()
	conn.SetReadLimit(micReadLimit)
	if err := p.greet(); err != nil {
		m.log.Info("microphone page refused", "err", err)
		p.end(closeBad, "this page and the node do not understand each other")
		return
	}
	if !m.claim(p) {
		p.end(closeTaken, "another tab is the microphone")
		return
	}
	defer m.leave(p)
	m.log.Info("microphone page connected", "device", p.hello.Device, "rate", p.hello.Rate, "processing", p.hello.processing())
	p.ready()
	if err := p.receive(m); err != nil && !websocket.IsCloseError(err, websocket.CloseNormalClosure, websocket.CloseGoingAway) {
		m.log.Info("microphone page gone", "err", err)
	}
}

// Limits of the microphone's socket.
const (
	// micReadLimit holds 100 ms of 192 kHz float samples; a page sends 20 ms.
	micReadLimit = 96 << 10
	// micHello is how long a page may take to say what it is.
	micHello = 5 * time.Second
	// micPing and micPong find a page whose laptop went to sleep.
	micPing = 5 * time.Second
	micPong = 15 * time.Second
	// micWrite bounds a write to a page that reads nothing.
	micWrite = 2 * time.Second
)

var micUpgrader = websocket.Upgrader{
	ReadBufferSize: 32 << 10,
	CheckOrigin:    func(*http.Request) bool { return true }, // the guard before it has
}
