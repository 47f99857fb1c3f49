//go:build unix

package sqlite

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"testing"

	"bellrow/hub"
	"bellrow/testdata/require"
)

// TestReadOnlyFolder runs itself as an ordinary user, for to the superuser
// every folder is writable.
func TestReadOnlyFolder(t *testing.T) {
	const env = "HUB_READ_ONLY_FOLDER"
	if dir := os.Getenv(env); dir != "" {
		_, err := Open(context.Background(), filepath.Join(dir, "hub.db"))
		fmt.Printf("read-only=%v %v\n", errors.Is(err, hub.ErrReadOnly), err)
		return
	}
	dir, err := os.MkdirTemp("", "hub") // t.TempDir is closed to other users
	if err != nil {
		t.Fatal(err)
	}
	defer os.RemoveAll(dir)
	if err := os.Chmod(dir, 0o555); err != nil {
		t.Fatal(err)
	}
	test := filepath.Join(dir, "test")
	b, err := os.ReadFile(os.Args[0])
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(test, b, 0o755); err != nil && os.Geteuid() == 0 {
		t.Fatal(err)
	} else if err != nil {
		test = os.Args[0]
	}
	cmd := exec.Command(test, "-test.run=^TestReadOnlyFolder$")
	cmd.Env = append(os.Environ(), env+"="+dir)
	cmd.Dir = dir
	if os.Geteuid() == 0 {
		cmd.SysProcAttr = &syscall.SysProcAttr{Credential: &syscall.Credential{Uid: 65534, Gid: 65534}}
	}
	out, err := cmd.CombinedOutput()
	if errors.Is(err, syscall.EPERM) {
		require.Missing(t, "needs the right to run a process as another user")
	}
	if err != nil || !strings.Contains(string(out), "read-only=true") || !strings.Contains(string(out), "--data") {
		t.Errorf("%v: %s", err, out)
	}
}
