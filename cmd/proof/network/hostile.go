package network

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"net"
	"net/http"
	"os"
	"strings"
	"sync"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/proto"
)

// hostileResult is what bad clients achieved.
type hostileResult struct {
	Frames, Codes, Slow, Rebinds int // tried
	LetIn                        int // of those that should not have been
	Before, After                standing
	Quiet, Under                 []time.Duration
}

func (r hostileResult) String() string {
	return fmt.Sprintf("%d random frames, %d wrong codes, %d slow connections, %d foreign Host or Origin: let in %d\n"+
		"hub before: %v\nhub after: %v\nhonest nodes' ping p50 %v p99 %v before, p50 %v p99 %v meanwhile",
		r.Frames, r.Codes, r.Slow, r.Rebinds, r.LetIn, r.Before, r.After,
		quantile(r.Quiet, 0.5), quantile(r.Quiet, 0.99), quantile(r.Under, 0.5), quantile(r.Under, 0.99))
}

func runHostile(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet("network hostile", flag.ContinueOnError)
	frames := fs.Int("frames", 100000, "random frames")
	codes := fs.Int("codes", 10000, "wrong join codes")
	slow := fs.Int("slow", 200, "connections that dawdle")
	seconds := fs.Int("seconds", 20, "how long honest nodes are measured before")
	if err := fs.Parse(args); err != nil {
		return err
	}
	r, err := hostile(ctx, *frames, *codes, *slow, time.Duration(*seconds)*time.Second)
	if err != nil {
		return err
	}
	fmt.Fprintln(w, r)
	if r.LetIn > 0 {
		return errors.New("soak: somebody was let in")
	}
	return nil
}

// hostile attacks a hub while honest nodes play.
func hostile(ctx context.Context, frames, codes, slow int, quiet time.Duration) (hostileResult, error) {
	r := hostileResult{Frames: frames, Codes: codes, Slow: slow}
	dir, err := os.MkdirTemp("", "bellrow-hostile-")
	if err != nil {
		return r, err
	}
	defer os.RemoveAll(dir)
	hub, address, err := startedHub(dir, 250)
	if err != nil {
		return r, err
	}
	defer hub.kill()
	const honest = 12
	var players []*player
	for i := range honest {
		p, err := newPlayer(address, i)
		if err != nil {
			return r, err
		}
		go p.listen()
		players = append(players, p)
	}
	measure := func(until <-chan struct{}) []time.Duration {
		return pingAll(players, until)
	}
	calm := make(chan struct{})
	time.AfterFunc(quiet, func() { close(calm) })
	r.Quiet = measure(calm)
	if r.Before, err = look(hub, 1); err != nil {
		return r, err
	}
	attack := make(chan struct{})
	var in [4]int
	var errs [4]error
	go func() {
		defer close(attack)
		var wait sync.WaitGroup
		wait.Go(func() { errs[0] = randomFrames(ctx, address, frames) })
		wait.Go(func() { in[1], errs[1] = wrongCodes(ctx, address, codes) })
		wait.Go(func() { errs[2] = dawdle(ctx, address, slow, max(quiet, 6*time.Second)) })
		wait.Go(func() { in[3], r.Rebinds, errs[3] = rebind(address) })
		wait.Wait()
	}()
	r.Under = measure(attack)
	for _, n := range in {
		r.LetIn += n
	}
	if err := errors.Join(errs[:]...); err != nil {
		return r, err
	}
	if r.After, err = look(hub, 2); err != nil {
		return r, err
	}
	for i, p := range players {
		p.mu.Lock()
		if p.ended != nil {
			err = fmt.Errorf("soak: honest node %d lost its connection: %w", i, p.ended)
		}
		p.mu.Unlock()
		p.ws.Close()
	}
	return r, err
}

// pingAll pings through every player ten times a second until told to end.
func pingAll(players []*player, until <-chan struct{}) []time.Duration {
	id := uint64(time.Now().UnixNano())
	tick := time.NewTicker(100 * time.Millisecond)
	defer tick.Stop()
	for {
		select {
		case <-until:
			time.Sleep(200 * time.Millisecond) // the last answers
			var all []time.Duration
			for _, p := range players {
				p.mu.Lock()
				all = append(all, p.times...)
				p.times = nil
				p.mu.Unlock()
			}
			return all
		case <-tick.C:
		}
		for _, p := range players {
			id++
			p.mu.Lock()
			p.sent[id] = time.Now()
			p.mu.Unlock()
			p.say(proto.Message{Type: proto.TypePing, Ping: &proto.Ping{ID: id, Sent: 1}})
		}
	}
}

// randomFrames throws bytes at the endpoint: random ones, hostile JSON, and
// valid messages with a few bytes changed, as whole frames and as raw bytes
// below the framing.
func randomFrames(ctx context.Context, address string, n int) error {
	random := rand.New(rand.NewPCG(7, 7))
	seeds := []string{
		`{"type":"hello","hello":{"version":1,"node":"evil","boot":"b","chair":"x","instrument":"trumpet_bb","join":"AAAAAA"}}`,
		`{"type":"reading","reading":{"seq":1,"end_s":1,"hz":440,"settled":true}}`,
		`{"type":"hello","hello":` + strings.Repeat(`{"hello":`, 2000),
		strings.Repeat("[", 30000), `{"type":"view","view":{}}`, `{"type":null}`, strings.Repeat("\x00", 100),
	}
	for sent := 0; sent < n; {
		if ctx.Err() != nil {
			return ctx.Err()
		}
		ws, _, err := dialer.DialContext(ctx, "ws://"+address+proto.NodePath, nil)
		if err != nil {
			time.Sleep(10 * time.Millisecond) // no room; attackers wait, too
			continue
		}
		for sent < n {
			sent++
			data := []byte(seeds[random.IntN(len(seeds))])
			for range random.IntN(8) {
				data[random.IntN(len(data))] = byte(random.Uint32())
			}
			if random.IntN(4) == 0 {
				_, err = ws.UnderlyingConn().Write(data) // no frame at all
			} else {
				err = ws.WriteMessage(1+random.IntN(2), data)
			}
			if err != nil || random.IntN(3) == 0 {
				break
			}
		}
		ws.Close()
	}
	return nil
}

// wrongCodes guesses join codes until n were answered, and returns how many
// were let in.
func wrongCodes(ctx context.Context, address string, n int) (in int, err error) {
	for answered := 0; answered < n; {
		if ctx.Err() != nil {
			return in, ctx.Err()
		}
		ws, _, err := dialer.DialContext(ctx, "ws://"+address+proto.NodePath, nil)
		if err != nil {
			time.Sleep(10 * time.Millisecond)
			continue
		}
		code := proto.NewJoinCode()
		if code == joinCode {
			continue
		}
		hello := fmt.Sprintf(`{"type":"hello","hello":{"version":1,"node":"guess-%d","boot":"b","chair":"x","instrument":"trumpet_bb","join":%q}}`, answered, code)
		ws.WriteMessage(websocket.TextMessage, []byte(hello))
		ws.SetReadDeadline(time.Now().Add(5 * time.Second))
		if _, data, err := ws.ReadMessage(); err == nil {
			answered++
			if m, err := proto.Decode(data); err == nil && m.Welcome != nil {
				in++
			}
		}
		ws.Close()
	}
	return in, nil
}

// dawdle opens connections that send a header byte by byte, or upgrade and
// then say nothing, for a while.
func dawdle(ctx context.Context, address string, n int, length time.Duration) error {
	ctx, cancel := context.WithTimeout(ctx, length)
	defer cancel()
	var wait sync.WaitGroup
	for i := range n {
		wait.Go(func() {
			c, err := net.Dial("tcp", address)
			if err != nil {
				return
			}
			defer c.Close()
			request := "GET " + proto.NodePath + " HTTP/1.1\r\nHost: " + address + "\r\n"
			if i%2 == 0 {
				request += "Connection: Upgrade\r\nUpgrade: websocket\r\nSec-WebSocket-Version: 13\r\nSec-WebSocket-Key: AAAAAAAAAAAAAAAAAAAAAA==\r\n\r\n"
				io.WriteString(c, request)
				<-ctx.Done()
				return
			}
			for b := range len(request) {
				if _, err := c.Write([]byte{request[b]}); err != nil {
					return
				}
				select {
				case <-ctx.Done():
					return
				case <-time.After(300 * time.Millisecond):
				}
			}
			<-ctx.Done()
		})
	}
	wait.Wait()
	return nil
}

// rebind asks for sockets as pages of other sites would, and returns how many
// were opened.
func rebind(address string) (in, tried int, err error) {
	for _, h := range []http.Header{
		{"Host": {"evil.example"}, "Origin": {"http://evil.example"}},
		{"Host": {"evil.example:7440"}, "Origin": {"http://evil.example:7440"}},
		{"Host": {"evil.example"}},
		{"Origin": {"http://evil.example"}},
		{"Origin": {"null"}},
		{"Origin": {"https://" + address + ".evil.example"}},
		{"Host": {address + ".evil.example"}},
		{"Origin": {"http://127.0.0.1:1"}},
	} {
		tried++
		ws, _, err := dialer.Dial("ws://"+address+proto.NodePath, h)
		if err == nil {
			in++
			ws.Close()
		}
	}
	return in, tried, nil
}
