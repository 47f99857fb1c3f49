package main

import (
	"os"
	"path/filepath"
	"runtime"
)

// defaultFolder is where bellrow keeps what is this user's, by the system's
// habit; empty where there is no such place. What earlier versions left among
// the settings is used where it is.
func defaultFolder(name string) string {
	if dir, err := os.UserConfigDir(); err == nil {
		earlier := filepath.Join(dir, "bellrow", name)
		if _, err := os.Stat(earlier); err == nil {
			return earlier
		}
	}
	dir := dataFolder(runtime.GOOS, os.Getenv)
	if dir == "" {
		return ""
	}
	return filepath.Join(dir, "bellrow", name)
}

// dataFolder is the place of this user's data:
//
//	Linux    $XDG_DATA_HOME or ~/.local/share (XDG Base Directory Specification 0.8)
//	macOS    ~/Library/Application Support (Apple, File System Programming Guide)
//	Windows  %LocalAppData%: it stays on this computer (Microsoft, Known Folders)
func dataFolder(system string, getenv func(string) string) string {
	under := func(dir string, more ...string) string {
		if dir == "" {
			return ""
		}
		return filepath.Join(append([]string{dir}, more...)...)
	}
	switch system {
	case "windows":
		return getenv("LocalAppData")
	case "darwin":
		return under(getenv("HOME"), "Library", "Application Support")
	}
	if dir := getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return dir
	}
	return under(getenv("HOME"), ".local", "share")
}
