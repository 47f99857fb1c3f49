package smalldisk

import (
	"fmt"
	"syscall"
)

func mount(dir string, kB int) error {
	return syscall.Mount("tmpfs", dir, "tmpfs", 0, fmt.Sprintf("size=%dk,nr_inodes=1024", kB))
}

func unmount(dir string) error { return syscall.Unmount(dir, 0) }
