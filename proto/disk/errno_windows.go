package disk

import "golang.org/x/sys/windows"

var (
	full     = []windows.Errno{windows.ERROR_DISK_FULL, windows.ERROR_HANDLE_DISK_FULL, windows.ERROR_DISK_QUOTA_EXCEEDED}
	readOnly = []windows.Errno{windows.ERROR_WRITE_PROTECT}
)
