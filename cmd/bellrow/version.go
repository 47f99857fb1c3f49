package main

import (
	"context"
	"fmt"
	"runtime"
	"runtime/debug"
)

// version is set by the release build (-ldflags "-X main.version=v1.2.3"); a
// build from source says what the toolchain recorded.
var version = ""

func versionString() string {
	if version != "" {
		return version
	}
	if info, ok := debug.ReadBuildInfo(); ok && info.Main.Version != "" {
		return info.Main.Version
	}
	return "(devel)"
}

func runVersion(_ context.Context, e env, _ []string) error {
	_, err := fmt.Fprintf(e.stdout, "bellrow %s %s/%s %s\n", versionString(), runtime.GOOS, runtime.GOARCH, runtime.Version())
	return err
}
