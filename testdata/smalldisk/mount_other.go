//go:build !linux

package smalldisk

import "errors"

func mount(string, int) error { return errors.ErrUnsupported }

func unmount(string) error { return nil }
