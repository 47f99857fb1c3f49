package soak

import (
	"net"
	"os"
	"os/exec"
	"strings"
	"testing"

	"bellrow/testdata/require"
)

// A node in another language, on another WebSocket implementation, drives the
// documented protocol, and checks the hub's framing byte by byte.
func TestOutsideNode(t *testing.T) {
	const python = "/usr/bin/python3" // Debian's own, which has Debian's modules
	if err := exec.Command(python, "-c", "import websockets").Run(); err != nil {
		require.Missing(t, "python3-websockets is not installed: "+err.Error())
	}
	dir, err := os.MkdirTemp("", "bellrow-outside-")
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	hub, address, err := startedHub(dir, 50)
	if err != nil {
		t.Fatal(err)
	}
	defer hub.kill()
	host, port, err := net.SplitHostPort(address)
	if err != nil {
		t.Fatal(err)
	}
	out, err := exec.Command(python, "testdata/outside_node.py", host, port, joinCode, "../../../proto/testdata/messages").CombinedOutput()
	if err != nil || !strings.Contains(string(out), "all checks hold") {
		t.Fatalf("%v\n%s", err, out)
	}
	t.Logf("%d checks", strings.Count(string(out), "ok   "))
}
