package disk

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"testing"
)

// TestWhy: an error is known through whatever wraps it, and no other is.
func TestWhy(t *testing.T) {
	wrapped := func(err error) error {
		return fmt.Errorf("hub: saving: %w", &fs.PathError{Op: "write", Path: "a", Err: err})
	}
	for _, e := range full {
		if !Full(wrapped(e)) || ReadOnly(wrapped(e)) {
			t.Errorf("%v is not told as full", e)
		}
	}
	for _, e := range readOnly {
		if !ReadOnly(wrapped(e)) || Full(wrapped(e)) {
			t.Errorf("%v is not told as read-only", e)
		}
	}
	if !ReadOnly(wrapped(fs.ErrPermission)) {
		t.Error("a folder of somebody else's is not told")
	}
	for _, e := range []error{nil, errors.New("no"), wrapped(fs.ErrNotExist), wrapped(os.ErrDeadlineExceeded)} {
		if Full(e) || ReadOnly(e) {
			t.Errorf("%v is told as full or read-only", e)
		}
	}
}
