package uplink

import (
	"net"
	"testing"
)

func TestGone(t *testing.T) {
	for address, want := range map[string]bool{
		"127.0.0.1:80": false, "[::1]:80": false, "127.77.0.1:80": false,
		"203.0.113.77:80":     true, // RFC 5737: for documentation, nobody's own
		"[2001:db8::77]:80":   true, // RFC 3849
		"[fe80::77%none]:80":  true,
		"[::ffff:127.0.0.1]:": false,
	} {
		a, err := net.ResolveTCPAddr("tcp", address)
		if err != nil {
			a = &net.TCPAddr{IP: net.ParseIP("fe80::77"), Zone: "none", Port: 80}
		}
		if got := gone(a); got != want {
			t.Errorf("%s: %v, want %v", address, got, want)
		}
	}
	addrs, err := net.InterfaceAddrs()
	if err != nil || len(addrs) == 0 {
		t.Fatal(err)
	}
	for _, a := range addrs {
		if n, ok := a.(*net.IPNet); ok && gone(&net.TCPAddr{IP: n.IP, Port: 80}) {
			t.Errorf("own address %v is said to be gone", n)
		}
	}
}
