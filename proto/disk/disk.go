// Package disk tells why a disk did not take what was written, on every system.
package disk

import (
	"errors"
	"io/fs"
	"syscall"
)

// Full reports whether err says that no space is left.
func Full(err error) bool { return among(err, full) }

// ReadOnly reports whether err says that this user may not write there.
func ReadOnly(err error) bool { return errors.Is(err, fs.ErrPermission) || among(err, readOnly) }

func among(err error, these []syscall.Errno) bool {
	for _, e := range these {
		if errors.Is(err, e) {
			return true
		}
	}
	return false
}
