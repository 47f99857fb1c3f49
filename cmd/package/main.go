// Package builds what is handed out: the program for every system and
// processor without cgo, a Debian package with the native microphone, and the
// checksums of all of it. It is for developers.
//
// Usage:
//
//	go run ./cmd/package [-out DIR] [-version VERSION]
//
// It runs in the project's root. The Debian package is built for the
// processor this runs on and needs gcc, pkg-config, portaudio19-dev and
// dpkg-deb; without dpkg-deb it is left out and that is said.
package main

import (
	"context"
	"errors"
	"flag"
	"fmt"
	"log"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"strings"
)

// targets are the systems and processors the program is built for.
var targets = []target{
	{"linux", "amd64"}, {"linux", "arm64"},
	{"darwin", "amd64"}, {"darwin", "arm64"},
	{"windows", "amd64"}, {"windows", "arm64"},
}

type target struct{ os, arch string }

func main() {
	log.SetFlags(0)
	log.SetPrefix("package: ")
	out := flag.String("out", "dist", "`folder` for the results")
	version := flag.String("version", "", "`version`, such as v1.2.3; the last tag when left out")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, *out, *version); err != nil {
		log.Fatal(err)
	}
}

func run(ctx context.Context, out, version string) error {
	if version == "" {
		version = described(ctx)
	}
	if err := os.MkdirAll(out, 0o755); err != nil {
		return err
	}
	b := &builder{out: out, version: version}
	for _, t := range targets {
		if err := b.plain(ctx, t); err != nil {
			return err
		}
	}
	if _, err := exec.LookPath("dpkg-deb"); runtime.GOOS == "linux" && err == nil {
		if err := b.debian(ctx); err != nil {
			return err
		}
	} else {
		log.Print("no Debian package: dpkg-deb is not here")
	}
	return writeSums(out, b.made)
}

// described is the version that git tells, v0.0.0 and the commit before the
// first tag.
func described(ctx context.Context) string {
	if text, err := exec.CommandContext(ctx, "git", "describe", "--tags", "--match", "v[0-9]*").Output(); err == nil {
		return strings.TrimSpace(string(text))
	}
	if text, err := exec.CommandContext(ctx, "git", "rev-parse", "--short", "HEAD").Output(); err == nil {
		return "v0.0.0-" + strings.TrimSpace(string(text))
	}
	return "v0.0.0"
}

// builder builds one version into one folder.
type builder struct {
	out, version string
	made         []string // names of what is handed out
}

// keep notes a finished file.
func (b *builder) keep(name string) {
	b.made = append(b.made, name)
	log.Print(filepath.Join(b.out, name))
}

// plain builds the program without cgo.
func (b *builder) plain(ctx context.Context, t target) error {
	name := fmt.Sprintf("bellrow_%s_%s_%s", strings.TrimPrefix(b.version, "v"), t.os, t.arch)
	if t.os == "windows" {
		name += ".exe"
	}
	if err := b.build(ctx, filepath.Join(b.out, name), nil, "CGO_ENABLED=0", "GOOS="+t.os, "GOARCH="+t.arch); err != nil {
		return err
	}
	b.keep(name)
	return nil
}

// build runs the compiler. Paths of this machine stay out of the binary.
func (b *builder) build(ctx context.Context, path string, flags []string, env ...string) error {
	args := append([]string{"build", "-trimpath", "-ldflags", "-s -w -X main.version=" + b.version, "-o", path}, flags...)
	cmd := exec.CommandContext(ctx, "go", append(args, "./cmd/bellrow")...)
	cmd.Env = append(os.Environ(), env...)
	if text, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("build %s: %w\n%s", filepath.Base(path), err, text)
	}
	return nil
}

// errVersion marks a version that cannot be a Debian version.
var errVersion = errors.New("a version for Debian begins with a digit after its v")

// debianVersion turns v1.2.3-4-gabc into 1.2.3+4.gabc: in Debian versions a
// hyphen begins the packager's revision (Debian Policy 4.6, 5.6.12).
func debianVersion(v string) (string, error) {
	v = strings.TrimPrefix(v, "v")
	if v == "" || v[0] < '0' || v[0] > '9' {
		return "", fmt.Errorf("%w, got %q", errVersion, v)
	}
	release, rest, more := strings.Cut(v, "-")
	if !more {
		return release, nil
	}
	return release + "+" + strings.ReplaceAll(rest, "-", "."), nil
}
