package player_test

import (
	"context"
	"encoding/binary"
	"errors"
	"io"
	"math"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/node/capture"
	"bellrow/node/player"
)

// tab is a page of the test: it speaks the microphone's socket by hand.
type tab struct {
	t    *testing.T
	conn *websocket.Conn
}

const goodHello = `{"v":1,"rate":48000,"device":"Built-in microphone","format":"f32"}`

func serveMic(t *testing.T) (*player.Microphone, string) {
	t.Helper()
	m := player.NewMicrophone(nil)
	server := httptest.NewServer(m)
	t.Cleanup(server.Close)
	return m, "ws" + strings.TrimPrefix(server.URL, "http")
}

func openTab(t *testing.T, url, hello string) *tab {
	t.Helper()
	conn, _, err := websocket.DefaultDialer.DialContext(t.Context(), url, nil)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { conn.Close() })
	conn.WriteMessage(websocket.TextMessage, []byte(hello))
	return &tab{t, conn}
}

// await reads until the node says ready, or returns the close code.
func (p *tab) await() int {
	p.t.Helper()
	p.conn.SetReadDeadline(time.Now().Add(time.Minute))
	_, data, err := p.conn.ReadMessage()
	var ce *websocket.CloseError
	switch {
	case err == nil && string(data) == `"ready"`:
		return 0
	case errors.As(err, &ce):
		return ce.Code
	}
	p.t.Fatalf("node said %q, error %v", data, err)
	return -1
}

func (p *tab) send(first uint64, samples ...float32) {
	b := binary.LittleEndian.AppendUint64(nil, first)
	for _, x := range samples {
		b = binary.LittleEndian.AppendUint32(b, math.Float32bits(x))
	}
	p.conn.WriteMessage(websocket.BinaryMessage, b)
}

// opened opens the source while the tab sends silence, which may be lost
// until the source is there.
func (p *tab) opened(m *player.Microphone) (src capture.Source, next uint64) {
	p.t.Helper()
	got := make(chan capture.Source, 1)
	go func() {
		if src, err := m.Open(p.t.Context()); err == nil {
			got <- src
		}
	}()
	for next = 100; ; next += 4 {
		p.send(next, 0, 0, 0, 0)
		select {
		case src := <-got:
			p.t.Cleanup(func() { src.Close() })
			return src, next + 4
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// until reads blocks until one begins with x.
func until(t *testing.T, src capture.Source, x float64) capture.Block {
	t.Helper()
	for {
		b, err := src.Read(t.Context())
		if err != nil {
			t.Fatal(err)
		}
		if b.Samples[0] == x {
			return b
		}
	}
}

func TestMicrophoneCarriesSamplesAndLosses(t *testing.T) {
	m, url := serveMic(t)
	p := openTab(t, url, goodHello)
	if code := p.await(); code != 0 {
		t.Fatalf("closed with %d", code)
	}
	src, next := p.opened(m)
	if got := src.Info(); got.Rate != 48000 || got.Name != "Built-in microphone" || !got.Live {
		t.Errorf("info %+v", got)
	}
	p.send(next, 0.25, -0.5)
	if b := until(t, src, 0.25); len(b.Samples) != 2 || b.Samples[1] != -0.5 || b.Lost != 0 {
		t.Errorf("block %+v, want 0.25 -0.5 and nothing lost", b)
	}
	p.send(next+2+77, 0.75)
	if b := until(t, src, 0.75); b.Lost != 77 {
		t.Errorf("lost %d, want 77", b.Lost)
	}
	if st := m.Status(); !st.Connected || st.Lost != 77 || len(st.Processing) != 0 {
		t.Errorf("status %+v", st)
	}
}

func TestMicrophoneOf16Bits(t *testing.T) {
	m, url := serveMic(t)
	p := openTab(t, url, strings.Replace(goodHello, "f32", "s16", 1))
	p.await()
	got := make(chan capture.Source, 1)
	go func() {
		if src, err := m.Open(t.Context()); err == nil {
			got <- src
		}
	}()
	frame := append(make([]byte, 8), 0x00, 0x40, 0x00, 0x80)
	for i := uint64(0); ; i += 2 {
		binary.LittleEndian.PutUint64(frame, i)
		p.conn.WriteMessage(websocket.BinaryMessage, frame)
		select {
		case src := <-got:
			defer src.Close()
			binary.LittleEndian.PutUint64(frame, i+2)
			p.conn.WriteMessage(websocket.BinaryMessage, frame)
			if b := until(t, src, 0.5); b.Samples[1] != -1 {
				t.Errorf("samples %v, want 0.5 and -1", b.Samples)
			}
			return
		case <-time.After(5 * time.Millisecond):
		}
	}
}

func TestSecondTab(t *testing.T) {
	const taken = 4010
	m, url := serveMic(t)
	first := openTab(t, url, goodHello)
	first.await()
	src, _ := first.opened(m)
	if code := openTab(t, url, goodHello).await(); code != taken {
		t.Errorf("second tab: close code %d, want %d", code, taken)
	}
	if code := openTab(t, url, strings.Replace(goodHello, `"v":1`, `"v":1,"take":true`, 1)).await(); code != 0 {
		t.Errorf("tab that takes over: close code %d, want to be the microphone", code)
	}
	if code := first.await(); code != taken {
		t.Errorf("first tab: close code %d, want %d", code, taken)
	}
	if err := readToEnd(t.Context(), src); !errors.Is(err, player.ErrPageGone) {
		t.Errorf("source of the first tab ends with %v, want ErrPageGone", err)
	}
}

func readToEnd(ctx context.Context, src capture.Source) error {
	for {
		if _, err := src.Read(ctx); err != nil {
			return err
		}
	}
}

func TestMicrophoneGoesAndComesBack(t *testing.T) {
	m, url := serveMic(t)
	p := openTab(t, url, goodHello)
	p.await()
	src, _ := p.opened(m)
	p.conn.WriteMessage(websocket.TextMessage, []byte(`"lost"`))
	if err := readToEnd(t.Context(), src); !errors.Is(err, capture.ErrLost) {
		t.Errorf("unplugged: error %v, want ErrLost", err)
	}
	p.conn.Close()
	p = openTab(t, url, goodHello)
	for p.await() != 0 { // the node may not have noticed the first one's end
		p = openTab(t, url, goodHello)
	}
	src, _ = p.opened(m)
	p.conn.Close()
	if err := readToEnd(t.Context(), src); !errors.Is(err, player.ErrPageGone) {
		t.Errorf("closed: error %v, want ErrPageGone", err)
	}
}

func TestProcessingIsReported(t *testing.T) {
	m, url := serveMic(t)
	p := openTab(t, url, strings.Replace(goodHello, `"v":1`, `"v":1,"noise":true,"gain":true`, 1))
	p.await()
	src, _ := p.opened(m)
	if got := src.(capture.Troubled).Trouble(); got != "processing-on" {
		t.Errorf("trouble %q, want processing-on", got)
	}
	if got := m.Status().Processing; len(got) != 2 {
		t.Errorf("processing %q, want two kinds", got)
	}
}

func TestStrangersAreRefused(t *testing.T) {
	const bad = 4011
	for name, hello := range map[string]string{
		"not JSON":        "hello",
		"another version": strings.Replace(goodHello, `"v":1`, `"v":2`, 1),
		"rate of nothing": strings.Replace(goodHello, "48000", "0", 1),
		"huge rate":       strings.Replace(goodHello, "48000", "1e12", 1),
		"unknown format":  strings.Replace(goodHello, "f32", "f16", 1),
		"endless name":    strings.Replace(goodHello, "Built-in", strings.Repeat("x", 300), 1),
	} {
		t.Run(name, func(t *testing.T) {
			_, url := serveMic(t)
			if code := openTab(t, url, hello).await(); code != bad {
				t.Errorf("close code %d, want %d", code, bad)
			}
		})
	}
}

func TestBadFramesEndTheSocket(t *testing.T) {
	for name, frame := range map[string][]byte{
		"no samples":       make([]byte, 8),
		"short head":       make([]byte, 3),
		"half a sample":    make([]byte, 8+6),
		"back in time":     append(binary.LittleEndian.AppendUint64(nil, 5), 0, 0, 0, 0),
		"centuries ahead":  append(binary.LittleEndian.AppendUint64(nil, 1<<60), 0, 0, 0, 0),
		"larger than sane": make([]byte, 1<<20),
	} {
		t.Run(name, func(t *testing.T) {
			m, url := serveMic(t)
			p := openTab(t, url, goodHello)
			p.await()
			src, _ := p.opened(m)
			p.conn.WriteMessage(websocket.BinaryMessage, frame)
			if err := readToEnd(t.Context(), src); !errors.Is(err, player.ErrPageGone) {
				t.Errorf("error %v, want ErrPageGone", err)
			}
		})
	}
}

func TestOpenWaitsForAPage(t *testing.T) {
	m, _ := serveMic(t)
	ctx, cancel := context.WithTimeout(t.Context(), 20*time.Millisecond)
	defer cancel()
	if _, err := m.Open(ctx); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("error %v, want the context's", err)
	}
}

// FuzzFrames sends any bytes as frames: the node must not crash, and what it
// hands on must be sound.
func FuzzFrames(f *testing.F) {
	f.Add(append(binary.LittleEndian.AppendUint64(nil, 0), 0, 0, 0x80, 0x3F), "f32")
	f.Add(append(binary.LittleEndian.AppendUint64(nil, 0), 0, 0x40), "s16")
	f.Fuzz(func(t *testing.T, frame []byte, format string) {
		samples, err := player.DecodeFrame(frame, format)
		if err != nil {
			return
		}
		if len(samples) == 0 {
			t.Error("a frame of no samples passes")
		}
		ring := capture.NewRing(len(samples))
		ring.Put(samples)
		ring.Fail(io.EOF)
		for {
			b, err := ring.Read(t.Context())
			if err != nil {
				return
			}
			for _, x := range b.Samples {
				if !(x >= -1 && x <= 1) {
					t.Fatalf("sample %g", x)
				}
			}
		}
	})
}
