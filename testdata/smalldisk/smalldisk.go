// Package smalldisk gives a test a file system of its own that can be filled
// to the last byte.
package smalldisk

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"syscall"
	"testing"

	"bellrow/testdata/require"
)

// Disk is a mounted file system. It goes with the test.
type Disk struct {
	Dir string
}

// New mounts a disk of so many kB. The test skips where that cannot be done.
func New(t *testing.T, kB int) Disk {
	t.Helper()
	d := Disk{Dir: t.TempDir()}
	if err := mount(d.Dir, kB); err != nil {
		require.Missing(t, "a small disk needs Linux and the right to mount one: "+err.Error())
	}
	t.Cleanup(func() {
		if err := unmount(d.Dir); err != nil {
			t.Errorf("smalldisk: %v", err)
		}
	})
	return d
}

// Fill takes all room that is left.
func (d Disk) Fill(t *testing.T) {
	t.Helper()
	f, err := os.OpenFile(d.filler(), os.O_CREATE|os.O_APPEND|os.O_WRONLY, 0o600)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	for room := make([]byte, 4096); err == nil; {
		_, err = f.Write(room)
	}
	if !errors.Is(err, syscall.ENOSPC) {
		t.Fatal(fmt.Errorf("smalldisk: filling: %w", err))
	}
}

// FillNames takes all room for files of any length.
func (d Disk) FillNames(t *testing.T) {
	t.Helper()
	var err error
	for i := 0; err == nil; i++ {
		err = os.WriteFile(filepath.Join(d.Dir, fmt.Sprint("name", i)), nil, 0o600)
	}
	if !errors.Is(err, syscall.ENOSPC) {
		t.Fatal(fmt.Errorf("smalldisk: filling: %w", err))
	}
}

// Free gives back what Fill took.
func (d Disk) Free(t *testing.T) {
	t.Helper()
	if err := os.Remove(d.filler()); err != nil {
		t.Fatal(err)
	}
}

func (d Disk) filler() string { return filepath.Join(d.Dir, "filler") }
