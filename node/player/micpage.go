package player

import (
	"encoding/binary"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/gorilla/websocket"

	"bellrow/node/capture"
)

// Close codes of the microphone's socket, for the page (RFC 6455, section
// 7.4.2: 4000 to 4999 are private).
const (
	closeTaken = 4010 // another tab is the microphone
	closeBad   = 4011 // what came was not understood
)

// micVersion is the version of the messages between page and node.
const micVersion = 1

// maxDevice bounds the name of a device, in bytes.
const maxDevice = 200

// micHelloMessage is the first message of a page.
type micHelloMessage struct {
	Version int     `json:"v"`
	Rate    float64 `json:"rate"`   // of the audio context, Hz
	Device  string  `json:"device"` // label of the track
	Format  string  `json:"format"` // "f32" or "s16", little-endian
	Take    bool    `json:"take"`   // take over from another tab
	// Echo, Noise and Gain are what getSettings reports: true when the browser
	// still processes the sound though it was asked not to.
	Echo  bool `json:"echo"`
	Noise bool `json:"noise"`
	Gain  bool `json:"gain"`
}

func (h micHelloMessage) check() error {
	switch {
	case h.Version != micVersion:
		return fmt.Errorf("player: microphone page version %d, need %d", h.Version, micVersion)
	case !(h.Rate >= capture.MinRate && h.Rate <= capture.MaxRate):
		return fmt.Errorf("player: microphone page rate %g Hz, need %d to %d", h.Rate, capture.MinRate, capture.MaxRate)
	case h.Format != "f32" && h.Format != "s16":
		return fmt.Errorf("player: microphone page format %q, need f32 or s16", h.Format)
	case len(h.Device) > maxDevice || !utf8.ValidString(h.Device):
		return fmt.Errorf("player: microphone page names a device in %d bytes, need at most %d", len(h.Device), maxDevice)
	}
	return nil
}

// name is what to show for the device.
func (h micHelloMessage) name() string {
	if d := strings.TrimSpace(h.Device); d != "" {
		return d
	}
	return "the browser's microphone"
}

// processing lists what the browser does to the sound.
func (h micHelloMessage) processing() []string {
	var on []string
	for _, p := range []struct {
		on   bool
		name string
	}{{h.Echo, "echo cancellation"}, {h.Noise, "noise suppression"}, {h.Gain, "automatic level"}} {
		if p.on {
			on = append(on, p.name)
		}
	}
	return on
}

// micPage is one connected page.
type micPage struct {
	conn  *websocket.Conn
	hello micHelloMessage
	once  sync.Once

	counting bool
	next     uint64 // sample number that should come next
	samples  []float32
}

// greet reads the first message.
func (p *micPage) greet() error {
	p.conn.SetReadDeadline(time.Now().Add(micHello))
	kind, data, err := p.conn.ReadMessage()
	if err != nil {
		return fmt.Errorf("player: microphone page said nothing: %w", err)
	}
	if kind != websocket.TextMessage || json.Unmarshal(data, &p.hello) != nil {
		return errors.New("player: microphone page began with something else than its description")
	}
	return p.hello.check()
}

// ready tells the page that it is the microphone.
func (p *micPage) ready() {
	p.conn.SetWriteDeadline(time.Now().Add(micWrite))
	p.conn.WriteMessage(websocket.TextMessage, []byte(`"ready"`))
}

// end closes the socket with a reason that the page shows. It does not wait.
func (p *micPage) end(code int, reason string) {
	p.once.Do(func() {
		p.conn.WriteControl(websocket.CloseMessage, websocket.FormatCloseMessage(code, reason), time.Now().Add(micWrite))
		p.conn.SetReadDeadline(time.Now()) // releases the reader
	})
}

// receive hands on frames until the socket ends.
func (p *micPage) receive(m *Microphone) error {
	alive := func(string) error { return p.conn.SetReadDeadline(time.Now().Add(micPong)) }
	alive("")
	p.conn.SetPongHandler(alive)
	stop := p.keepAlive()
	defer stop()
	for {
		kind, data, err := p.conn.ReadMessage()
		if err != nil {
			return err
		}
		if kind == websocket.TextMessage {
			if string(data) == `"lost"` {
				m.lost(p)
			}
			continue
		}
		lost, err := p.decode(data)
		if err != nil {
			p.end(closeBad, "the sound was not understood")
			return err
		}
		m.hand(p, lost, p.samples)
	}
}

// keepAlive pings until the returned function has been called. WriteControl
// may run beside other writes.
func (p *micPage) keepAlive() (stop func()) {
	quit := make(chan struct{})
	var wg sync.WaitGroup
	wg.Go(func() {
		tick := time.NewTicker(micPing)
		defer tick.Stop()
		for {
			select {
			case <-quit:
				return
			case <-tick.C:
				p.conn.WriteControl(websocket.PingMessage, nil, time.Now().Add(micWrite))
			}
		}
	})
	return func() { close(quit); wg.Wait() }
}

// frameHead is the length of a frame's head: the number of its first sample
// since the page began, little-endian.
const frameHead = 8

// maxGap bounds a believable gap between frames, in samples: an hour. More is
// a damaged counter.
const maxGap = 3600 * capture.MaxRate

// decode reads a frame into p.samples and returns how many samples are
// missing before it.
func (p *micPage) decode(data []byte) (lost int64, err error) {
	size := 4
	if p.hello.Format == "s16" {
		size = 2
	}
	if len(data) <= frameHead || (len(data)-frameHead)%size != 0 {
		return 0, fmt.Errorf("player: microphone frame of %d bytes", len(data))
	}
	first := binary.LittleEndian.Uint64(data)
	if !p.counting {
		p.counting, p.next = true, first
	}
	if first < p.next || first-p.next > maxGap {
		return 0, fmt.Errorf("player: microphone frame at sample %d, need %d", first, p.next)
	}
	lost = int64(first - p.next)
	body := data[frameHead:]
	n := len(body) / size
	if cap(p.samples) < n {
		p.samples = make([]float32, n)
	}
	p.samples = p.samples[:n]
	for i := range p.samples {
		if size == 2 {
			p.samples[i] = float32(int16(binary.LittleEndian.Uint16(body[2*i:]))) / (1 << 15)
		} else {
			p.samples[i] = math.Float32frombits(binary.LittleEndian.Uint32(body[4*i:]))
		}
	}
	p.next = first + uint64(n)
	return lost, nil
}
