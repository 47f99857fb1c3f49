package network

import (
	"bytes"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellrow/testdata/require"
)

// avahi is another implementation of multicast DNS, running on one host with a
// message bus of its own.
type avahi struct {
	ns  string
	env []string
}

// busConfig lets everybody on a private bus do everything.
const busConfig = `<!DOCTYPE busconfig PUBLIC "-//freedesktop//DTD D-Bus Bus Configuration 1.0//EN" "http://www.freedesktop.org/standards/dbus/1.0/busconfig.dtd">
<busconfig><type>system</type><listen>unix:path=%s/bus</listen><auth>EXTERNAL</auth>
<policy context="default"><allow send_destination="*" eavesdrop="true"/><allow eavesdrop="true"/><allow own="*"/></policy></busconfig>`

const daemonConfig = "[server]\nhost-name=avahihost\nuse-ipv4=yes\nuse-ipv6=yes\nallow-interfaces=lan\n[publish]\npublish-workstation=no\n"

func startAvahi(t *testing.T, ns string) *avahi {
	t.Helper()
	for _, tool := range []string{"dbus-daemon", "avahi-daemon", "avahi-browse", "avahi-publish", "avahi-resolve"} {
		if _, err := exec.LookPath(tool); err != nil {
			require.Missing(t, "the program "+tool+" is not installed")
		}
	}
	dir, err := os.MkdirTemp("", "bellrow-avahi-") // short: a socket's path has 108 bytes
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(dir) })
	os.WriteFile(filepath.Join(dir, "bus.conf"), fmt.Appendf(nil, busConfig, dir), 0o600)
	os.WriteFile(filepath.Join(dir, "avahi.conf"), []byte(daemonConfig), 0o600)
	a := &avahi{ns: ns, env: append(os.Environ(), "DBUS_SYSTEM_BUS_ADDRESS=unix:path="+dir+"/bus")}
	a.background(t, "dbus-daemon", "--nofork", "--config-file="+dir+"/bus.conf")
	waitFor(t, "the bus", func() bool { _, err := os.Stat(dir + "/bus"); return err == nil })
	// ip netns exec gives the program a mount table of its own, so that a new
	// /run is seen by nobody else.
	out := a.background(t, "sh", "-c", "mount -t tmpfs tmpfs /run && mkdir /run/avahi-daemon && exec avahi-daemon -f "+dir+"/avahi.conf --no-drop-root --no-chroot --no-rlimits")
	waitFor(t, "avahi-daemon", func() bool { return strings.Contains(out.String(), "startup complete") })
	return a
}

func (a *avahi) command(name string, args ...string) *exec.Cmd {
	c := exec.Command("ip", append([]string{"netns", "exec", a.ns, name}, args...)...)
	c.Env = a.env
	return c
}

// background runs a program until the test ends.
func (a *avahi) background(t *testing.T, name string, args ...string) *lockedBuffer {
	t.Helper()
	out := &lockedBuffer{}
	c := a.command(name, args...)
	c.Stdout, c.Stderr = out, out
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() {
		c.Process.Kill()
		c.Wait()
	})
	return out
}

func waitFor(t *testing.T, what string, ok func() bool) {
	t.Helper()
	for range 3000 {
		if ok() {
			return
		}
		time.Sleep(20 * time.Millisecond)
	}
	t.Fatalf("waited a minute for %s", what)
}

func twoHosts(t *testing.T) (*lan, string, string) {
	t.Helper()
	if why := missing(); why != "" {
		require.Missing(t, why)
	}
	l, err := newLAN()
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(l.close)
	one, err := l.host("10.77.1.1/24")
	if err != nil {
		t.Fatal(err)
	}
	two, err := l.host("10.77.1.2/24")
	if err != nil {
		t.Fatal(err)
	}
	return l, one, two
}

func TestAvahiFindsTheHub(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	_, one, two := twoHosts(t)
	a := startAvahi(t, two)
	browse := a.background(t, "avahi-browse", "-rp", "_bellrow._tcp")
	hub, err := start(one, roleHub, "-data", filepath.Join(t.TempDir(), "hub.db"), "-section", "St. Mary Röhre")
	if err != nil {
		t.Fatal(err)
	}
	defer hub.kill()
	resolved := func(address string) string {
		for line := range strings.SplitSeq(browse.String(), "\n") {
			f := strings.Split(line, ";")
			// =;interface;protocol;name;type;domain;host;address;port;txt
			if len(f) > 9 && f[0] == "=" && f[7] == address {
				return line
			}
		}
		return ""
	}
	waitFor(t, "avahi to resolve the hub; it says:\n"+browse.String(), func() bool { return resolved("10.77.1.1") != "" })
	line := resolved("10.77.1.1")
	f := strings.Split(line, ";")
	if f[3] != `St\.\032Mary\032R\195\182hre` || f[8] != "7440" || !strings.Contains(line, `"v=1"`) || !strings.Contains(line, "10.77.1.1") {
		t.Errorf("avahi resolved %s", line)
	}
	out, err := a.command("avahi-resolve", "-4", "-n", f[6]).Output()
	if err != nil || !bytes.Contains(out, []byte("10.77.1.1")) {
		t.Errorf("avahi-resolve %s: %s %v", f[6], out, err)
	}
	if err := hub.stop(endWithin); err != nil {
		t.Error(err)
	}
	waitFor(t, "the goodbye", func() bool { return strings.Contains(browse.String(), "\n-;lan;") })
}

func TestFindsWhatAvahiPublishes(t *testing.T) {
	t.Parallel()
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	_, one, two := twoHosts(t)
	a := startAvahi(t, two)
	out := a.background(t, "avahi-publish", "-s", "St. Mary Röhre", "_bellrow._tcp", "7440", "v=1", "id=avahi1", "a=10.77.1.2")
	a.background(t, "avahi-publish", "-s", "Printer", "_ipp._tcp", "631", "v=1", "id=printer")
	waitFor(t, "avahi-publish", func() bool { return strings.Contains(out.String(), "Established") })
	finder, err := start(one, roleFind)
	if err != nil {
		t.Fatal(err)
	}
	<-finder.done
	got := finder.out.String()
	if !strings.HasPrefix(got, "avahi1|St. Mary Röhre|[10.77.1.2:7440") || strings.Count(got, "\n") != 1 {
		t.Errorf("found %q", got)
	}
}
