package sqlite

import (
	"bufio"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"testing"

	"bellrow/hub"
)

// holder is the environment variable that makes this test's binary hold a file.
const holder = "BELLROW_TEST_HOLD"

// TestHold is the other process of TestOneHubPerFolder.
func TestHold(t *testing.T) {
	path := os.Getenv(holder)
	if path == "" {
		t.Skip("runs in another process only")
	}
	if _, err := OpenAlone(t.Context(), path); err != nil {
		t.Fatal(err)
	}
	fmt.Println("held")
	select {} // until killed
}

// TestOneHubPerFolder: a second hub is refused while the first is open, in
// this process and in another; copies and reports are not, and a killed hub
// holds nobody up.
func TestOneHubPerFolder(t *testing.T) {
	path := newPath(t)
	first, err := OpenAlone(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := OpenAlone(t.Context(), path); !errors.Is(err, hub.ErrInUse) {
		t.Errorf("a second hub gets %v, want %v", err, hub.ErrInUse)
	}
	if err := first.SetValue(t.Context(), "k", "v"); err != nil {
		t.Errorf("after the refusal the first cannot write: %v", err)
	}
	beside, err := Open(t.Context(), path)
	if err != nil {
		t.Fatalf("a copy beside the hub: %v", err)
	}
	if v, err := beside.Value(t.Context(), "k"); v != "v" || err != nil {
		t.Errorf("beside the hub %q (%v) is read, want v", v, err)
	}
	if err := beside.Close(); err != nil {
		t.Error(err)
	}
	if _, err := OpenAlone(t.Context(), path); !errors.Is(err, hub.ErrInUse) {
		t.Errorf("after a copy was made a second hub gets %v, want %v", err, hub.ErrInUse)
	}
	if err := first.Close(); err != nil {
		t.Fatal(err)
	}

	cmd := exec.Command(os.Args[0], "-test.run=^TestHold$")
	cmd.Env = append(os.Environ(), holder+"="+path)
	out, err := cmd.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	if line := bufio.NewScanner(out); !line.Scan() || line.Text() != "held" {
		t.Errorf("the other process says %q, want held", line.Text())
	}
	if _, err := OpenAlone(t.Context(), path); !errors.Is(err, hub.ErrInUse) {
		t.Errorf("beside another process a hub gets %v, want %v", err, hub.ErrInUse)
	}
	if err := cmd.Process.Kill(); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait() // killed
	after, err := OpenAlone(t.Context(), path)
	if err != nil {
		t.Fatalf("after the other was killed: %v", err)
	}
	if err := after.Close(); err != nil {
		t.Error(err)
	}
}
