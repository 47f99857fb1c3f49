package network

import (
	"context"
	"encoding/base64"
	"errors"
	"flag"
	"fmt"
	"io"
	"maps"
	"net"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"time"

	"github.com/gorilla/websocket"

	"bellrow/proto"
	"bellrow/proto/pake"
)

// flood is one laptop without the code that means to keep others out.
type flood struct {
	target string
	from   []netip.Addr // its own addresses, used in turn
	next   atomic.Int64
	opened atomic.Int64 // connections that were opened
	ended  atomic.Int64 // of those, by the hub
}

// floods are what it can do, each with how many at once and whether it begins
// again when it is put out.
var floods = map[string]struct {
	what   string
	atOnce int
	one    func(f *flood, ctx context.Context, c net.Conn) error
}{
	"bodies":    {"requests of one body byte each", 1200, (*flood).body},
	"headers":   {"headers byte by byte", 1200, (*flood).header},
	"idle":      {"connections kept alive after one page", 1200, (*flood).idle},
	"unread":    {"pages asked for and never read", 1200, (*flood).unread},
	"screens":   {"wall screens", 300, (*flood).screen},
	"strangers": {"nodes that never say hello", 1200, (*flood).stranger},
	"codes":     {"guessed codes, as fast as it goes", 64, (*flood).guess},
	"pages":     {"pages, as fast as it goes", 32, (*flood).pages},
	"reopened":  {"connections opened and closed, as fast as it goes", 64, (*flood).reopen},
}

// runFlood floods a hub for a while and prints what it got.
func runFlood(ctx context.Context, w io.Writer, args []string) error {
	fs := flag.NewFlagSet(roleFlood, flag.ContinueOnError)
	kind := fs.String("kind", "", "")
	target := fs.String("target", "", "")
	from := fs.String("from", "", "")
	length := fs.Duration("for", 10*time.Second, "")
	if err := fs.Parse(args); err != nil {
		return err
	}
	k, ok := floods[*kind]
	if !ok {
		return fmt.Errorf("soak: flood %q, need one of %v", *kind, slices.Sorted(maps.Keys(floods)))
	}
	f := &flood{target: *target}
	for a := range strings.SplitSeq(*from, ",") {
		at, err := netip.ParseAddr(a)
		if err != nil {
			return err
		}
		f.from = append(f.from, at)
	}
	ctx, cancel := context.WithTimeout(ctx, *length)
	defer cancel()
	var wait sync.WaitGroup
	for range k.atOnce {
		wait.Go(func() { f.run(ctx, k.one) })
	}
	wait.Wait()
	fmt.Fprintf(w, "flood %d opened, %d ended by the hub\n", f.opened.Load(), f.ended.Load())
	return nil
}

// run keeps one of a kind going. An attacker, too, breathes between tries.
func (f *flood) run(ctx context.Context, one func(*flood, context.Context, net.Conn) error) {
	for ctx.Err() == nil {
		from := f.from[int(f.next.Add(1))%len(f.from)]
		d := net.Dialer{LocalAddr: &net.TCPAddr{IP: from.AsSlice()}, Timeout: 3 * time.Second}
		c, err := d.DialContext(ctx, "tcp", f.target)
		if err == nil {
			f.opened.Add(1)
			stop := context.AfterFunc(ctx, func() { c.Close() })
			if one(f, ctx, c) != nil && ctx.Err() == nil {
				f.ended.Add(1)
			}
			stop()
			c.Close()
		}
		select {
		case <-ctx.Done():
		case <-time.After(5 * time.Millisecond):
		}
	}
}

// until waits for the hub to end the connection.
func until(c net.Conn) error {
	_, err := io.Copy(io.Discard, c)
	return errors.Join(err, io.EOF)
}

func (f *flood) body(ctx context.Context, c net.Conn) error {
	fmt.Fprintf(c, "POST /leader HTTP/1.1\r\nHost: %s\r\nContent-Type: application/x-www-form-urlencoded\r\nContent-Length: 1000\r\n\r\nk", f.target)
	return until(c)
}

func (f *flood) header(ctx context.Context, c net.Conn) error {
	for _, b := range []byte("GET /wall HTTP/1.1\r\nHost: " + f.target + "\r\nX: " + strings.Repeat("y", 1000)) {
		if _, err := c.Write([]byte{b}); err != nil {
			return err
		}
		select {
		case <-ctx.Done():
			return nil
		case <-time.After(200 * time.Millisecond):
		}
	}
	return until(c)
}

func (f *flood) idle(ctx context.Context, c net.Conn) error {
	fmt.Fprintf(c, "GET /wall HTTP/1.1\r\nHost: %s\r\n\r\n", f.target)
	return until(c)
}

func (f *flood) unread(ctx context.Context, c net.Conn) error {
	c.(*net.TCPConn).SetReadBuffer(1)
	for range 200 {
		if _, err := fmt.Fprintf(c, "GET /assets/look.css HTTP/1.1\r\nHost: %s\r\n\r\n", f.target); err != nil {
			return err
		}
	}
	<-ctx.Done()
	return nil
}

func (f *flood) upgrade(path string, c net.Conn) (*websocket.Conn, error) {
	d := websocket.Dialer{NetDial: func(string, string) (net.Conn, error) { return c, nil }, HandshakeTimeout: 5 * time.Second}
	ws, _, err := d.Dial("ws://"+f.target+path, nil)
	return ws, err
}

func (f *flood) screen(ctx context.Context, c net.Conn) error {
	ws, err := f.upgrade("/ws/row", c)
	for err == nil {
		_, _, err = ws.ReadMessage()
	}
	return err
}

func (f *flood) stranger(ctx context.Context, c net.Conn) error {
	ws, err := f.upgrade(proto.NodePath, c)
	for err == nil {
		_, _, err = ws.ReadMessage()
	}
	return err
}

func (f *flood) guess(ctx context.Context, c net.Conn) error {
	ws, err := f.upgrade(proto.NodePath, c)
	if err != nil {
		return err
	}
	sid := pake.NewSession()
	p, err := pake.Start([]byte(proto.NewJoinCode()), pake.Channel(""), sid)
	if err != nil {
		return err
	}
	b64 := base64.RawURLEncoding
	hello := proto.Hello{Version: proto.Version, Node: fmt.Sprintf("guess-%d", f.next.Load()), Boot: "b", Chair: "x", Instrument: "trumpet_bb",
		Prove: &proto.Prove{By: proto.ByCode, Session: b64.EncodeToString(sid), Share: b64.EncodeToString(p.Share())}}
	data, err := proto.Encode(proto.Message{Type: proto.TypeHello, Hello: &hello})
	if err == nil {
		err = ws.WriteMessage(websocket.TextMessage, data)
	}
	if err == nil {
		_, _, err = ws.ReadMessage() // the hub's tag tells whether the guess was right
	}
	return err
}

func (f *flood) pages(ctx context.Context, c net.Conn) error {
	buf := make([]byte, 64<<10)
	paths := []string{"/api/row", "/qr.svg", "/wall", "/api/invitation", "/assets/besley.woff2"}
	for i := 0; ; i++ {
		if _, err := fmt.Fprintf(c, "GET %s HTTP/1.1\r\nHost: %s\r\n\r\n", paths[i%len(paths)], f.target); err != nil {
			return err
		}
		if _, err := c.Read(buf); err != nil {
			return err
		}
	}
}

func (f *flood) reopen(context.Context, net.Conn) error { return nil }
