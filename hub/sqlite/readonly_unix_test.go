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

// TestWhyAFolderCannotBeWritten: each reason has its own error and its next action, by the path.
func TestWhyAFolderCannotBeWritten(t *testing.T) {
	for _, c := range []struct {
		why  error
		is   error
		says string
	}{
		{syscall.ENOSPC, hub.ErrFull, "free some space"}, {syscall.EDQUOT, hub.ErrFull, "free some space"},
		{syscall.EROFS, hub.ErrReadOnly, "--data"}, {syscall.EACCES, hub.ErrReadOnly, "--data"},
		{syscall.EIO, nil, "input/output"}, {syscall.ENAMETOOLONG, nil, "too long"},
	} {
		err := readOnly("/a/folder", &os.PathError{Op: "open", Path: "x", Err: c.why})
		for _, kind := range []error{hub.ErrFull, hub.ErrReadOnly} {
			if errors.Is(err, kind) != (kind == c.is) {
				t.Errorf("%v is told as %v", c.why, err)
			}
		}
		if text := err.Error(); !strings.Contains(text, "/a/folder") || !strings.Contains(text, c.says) || c.is != nil && !strings.HasPrefix(text, c.is.Error()) {
			t.Errorf("%v: %s", c.why, text)
		}
	}
}
