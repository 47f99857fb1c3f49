package network

import (
	"net"
	"os"
	"os/exec"
	"strings"
	"testing"

	"bellrow/testdata/require"
)

// Nodes in other languages, on other WebSocket implementations, drive the
// documented protocol. The one in Python also checks the hub's handshake and
// framing, byte by byte, against RFC 6455.
func TestOutsideNode(t *testing.T) {
	for _, c := range []struct {
		name    string
		program []string
		env     string
		probe   []string // its library
		missing string
	}{
		// Debian's own Python, which has Debian's modules.
		{"python", []string{"/usr/bin/python3", "testdata/outside_node.py"}, "", []string{"-c", "import websockets"}, "python3-websockets is not installed"},
		// Any Node.js; Debian keeps packages of its own here.
		{"javascript", []string{"node", "testdata/outside_node.js"}, "NODE_PATH=/usr/share/nodejs", []string{"-e", `require("ws")`}, "node-ws is not installed"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			program := func(args ...string) *exec.Cmd {
				cmd := exec.Command(c.program[0], args...)
				cmd.Env = append(os.Environ(), c.env)
				return cmd
			}
			if err := program(c.probe...).Run(); err != nil {
				require.Missing(t, c.missing+": "+err.Error())
			}
			host, port, err := net.SplitHostPort(hubProcess(t))
			if err != nil {
				t.Fatal(err)
			}
			out, err := program(c.program[1], host, port, joinCode, "../../../proto/testdata/messages").CombinedOutput()
			if err != nil || !strings.Contains(string(out), "all checks hold") {
				t.Fatalf("%v\n%s", err, out)
			}
			t.Logf("%d checks", strings.Count(string(out), "ok   "))
		})
	}
}

// hubProcess starts a hub in a process of its own for the length of a test and
// returns its host and port.
func hubProcess(t *testing.T) string {
	hub, address, err := startedHub(t.TempDir(), 50)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(hub.kill)
	return address
}
