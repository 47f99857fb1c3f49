// Package soundcard gives a test a sound card made of software: a PulseAudio
// server of its own, in which everything played into the sink "room" is heard
// by the microphone "mic". It needs the Debian packages pulseaudio,
// pulseaudio-utils and, for PortAudio, libasound2-plugins.
package soundcard

import (
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"testing"
	"time"

	"bellrow/testdata/require"
)

// patience bounds every wait for the server; it starts in a tenth of a second.
const patience = 15 * time.Second

// A Card is a running server. Its methods end the test when something fails.
type Card struct {
	t       testing.TB
	socket  string
	server  *exec.Cmd
	silence *exec.Cmd
	modules []string // of the microphone, in loading order
}

// Start starts a server and points the environment of the test at it. The
// server ends with the test.
func Start(t testing.TB) *Card {
	t.Helper()
	for _, tool := range []string{"pulseaudio", "pactl", "pacat", "paplay"} {
		if _, err := exec.LookPath(tool); err != nil {
			require.Missing(t, tool+" is not installed")
		}
	}
	dir := t.TempDir()
	if err := os.Chmod(dir, 0o700); err != nil {
		t.Fatal(err)
	}
	c := &Card{t: t, socket: filepath.Join(dir, "pulse", "native")}
	for name, sub := range map[string]string{
		"XDG_RUNTIME_DIR": "", "PULSE_RUNTIME_PATH": "pulse", "PULSE_STATE_PATH": "state", "HOME": "home",
	} {
		path := filepath.Join(dir, sub)
		if err := os.MkdirAll(path, 0o700); err != nil {
			t.Fatal(err)
		}
		t.Setenv(name, path)
	}
	t.Setenv("PULSE_SERVER", "unix:"+c.socket)
	t.Cleanup(c.Kill)
	c.Restart()
	return c
}

// Restart starts the server anew after Kill.
func (c *Card) Restart() {
	c.t.Helper()
	os.Remove(c.socket)
	c.server = exec.Command("pulseaudio", "-n", "--daemonize=no", "--exit-idle-time=-1", "--use-pid-file=no",
		"--realtime=no", "--high-priority=no", "--log-level=error", "--log-target=stderr",
		"-L", "module-native-protocol-unix socket="+c.socket+" auth-anonymous=1")
	if err := c.server.Start(); err != nil {
		c.t.Fatal(err)
	}
	for start := time.Now(); exec.Command("pactl", "info").Run() != nil; time.Sleep(20 * time.Millisecond) {
		if time.Since(start) > patience {
			c.t.Fatalf("the sound server did not answer within %v", patience)
		}
	}
	c.PlugIn()
}

// PlugIn connects the microphone; Start does it too.
func (c *Card) PlugIn() {
	c.t.Helper()
	c.modules = []string{
		c.pactl("load-module", "module-null-sink", "sink_name=room", "rate=48000", "channels=1"),
		c.pactl("load-module", "module-remap-source", "master=room.monitor", "source_name=mic"),
	}
	c.pactl("set-default-source", "mic")
	// Without a stream that always plays, an idle sink wakes in steps of two
	// seconds, and the beginning of a note is lost.
	c.silence = exec.Command("pacat", "-p", "--device=room", "--latency-msec=10",
		"--rate=48000", "--channels=1", "--format=s16le", "--raw", "/dev/zero")
	if err := c.silence.Start(); err != nil {
		c.t.Fatal(err)
	}
}

// PullOut removes the microphone. The server stays.
func (c *Card) PullOut() {
	c.t.Helper()
	end(c.silence)
	for i := len(c.modules) - 1; i >= 0; i-- {
		c.pactl("unload-module", c.modules[i])
	}
	c.modules = nil
}

// Kill ends the server at once, as a crash would.
func (c *Card) Kill() {
	end(c.silence)
	end(c.server)
	c.silence, c.server = nil, nil
}

// Play plays a sound file into the room and returns when it has been played.
func (c *Card) Play(path string) {
	c.t.Helper()
	if out, err := exec.Command("paplay", "--device=room", path).CombinedOutput(); err != nil {
		c.t.Fatalf("paplay %s: %v: %s", path, err, out)
	}
}

// pactl runs one control command and returns its answer.
func (c *Card) pactl(args ...string) string {
	c.t.Helper()
	out, err := exec.Command("pactl", args...).Output()
	if err != nil {
		c.t.Fatalf("pactl %v: %v", args, err)
	}
	var answer string
	fmt.Sscan(string(out), &answer)
	return answer
}

// end kills a process and waits for it.
func end(cmd *exec.Cmd) {
	if cmd != nil && cmd.Process != nil {
		cmd.Process.Kill()
		cmd.Wait()
	}
}
