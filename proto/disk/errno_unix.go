//go:build !windows

package disk

import "syscall"

var (
	full     = []syscall.Errno{syscall.ENOSPC, syscall.EDQUOT}
	readOnly = []syscall.Errno{syscall.EROFS}
)
