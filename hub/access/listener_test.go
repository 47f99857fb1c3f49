package access

import (
	"errors"
	"io"
	"net"
	"testing"
)

// offered is a listener whose connections come from made-up addresses.
type offered struct {
	net.Listener
	from []string
}

type fakeConn struct {
	net.Conn
	remote string
	closed *int
}

func (c fakeConn) RemoteAddr() net.Addr {
	a, err := net.ResolveTCPAddr("tcp", c.remote)
	if err != nil {
		panic(err)
	}
	return a
}

func (c fakeConn) Close() error { *c.closed++; return nil }

var closedConns int

func (o *offered) Accept() (net.Conn, error) {
	if len(o.from) == 0 {
		return nil, io.EOF
	}
	c := fakeConn{remote: o.from[0], closed: &closedConns}
	o.from = o.from[1:]
	return c, nil
}

func TestLimitListener(t *testing.T) {
	o := &offered{from: []string{"10.0.0.1:1", "10.0.0.1:2", "10.0.0.1:3", "10.0.0.2:1", "127.0.0.1:1", "127.0.0.1:2", "127.0.0.1:3"}}
	l := LimitListener(o, 5, 2)
	var got []net.Conn
	for {
		c, err := l.Accept()
		if errors.Is(err, io.EOF) {
			break
		}
		got = append(got, c)
	}
	// The third of 10.0.0.1 is over its limit; the third of loopback only over the total.
	if len(got) != 5 || closedConns != 2 {
		t.Fatalf("%d let in, %d closed; want 5 and 2", len(got), closedConns)
	}
	got[0].Close()
	got[0].Close() // gives back one place, not two
	o.from = []string{"10.0.0.1:4", "10.0.0.1:5"}
	if c, err := l.Accept(); err != nil || c.RemoteAddr().String() != "10.0.0.1:4" {
		t.Errorf("after one left: %v, %v", c, err)
	}
	if c, err := l.Accept(); !errors.Is(err, io.EOF) {
		t.Errorf("beyond the limit again: %v, %v", c, err)
	}
}
