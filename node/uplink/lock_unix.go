//go:build unix

package uplink

import (
	"fmt"
	"os"
	"path/filepath"
	"syscall"
)

// lockFolder makes sure that one node at a time uses a state folder: two would
// take each other's identity and spools. The lock ends with the program,
// however that ends.
func lockFolder(dir string) (release func(), err error) {
	f, err := os.OpenFile(filepath.Join(dir, "lock"), os.O_CREATE|os.O_RDWR, 0o600)
	if err != nil {
		return nil, fmt.Errorf("uplink: state folder: %w", err)
	}
	if err := syscall.Flock(int(f.Fd()), syscall.LOCK_EX|syscall.LOCK_NB); err != nil {
		f.Close()
		return nil, fmt.Errorf("%w: %s", ErrInUse, dir)
	}
	return func() { f.Close() }, nil
}
