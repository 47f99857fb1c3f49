// Package builds what is handed out, each with the licences of everything
// inside, a page that says how to start it, and the checksums of all of it. The
// same commit gives the same bytes. It is for developers, and a module of its
// own so that what it needs stays out of the program.
//
// Usage, in the project's root:
//
//	go run -C cmd/package . [-out DIR] [-version VERSION] [TARGET...]
//
// Without targets it builds them all, but for the native one where its tools
// are missing:
//
//	windows-amd64, windows-arm64   zip with icon and version, and a starter without a console window
//	macos                          zip with an app for both processors
//	linux-amd64, linux-arm64       plain tar
//	deb-amd64, deb-arm64           for Debian and its kin
//	rpm-amd64, rpm-arm64           for Fedora and its kin
//	deb-native                     for this processor, with the native microphone; needs gcc, pkg-config and portaudio19-dev
package main

import (
	"context"
	"flag"
	"fmt"
	"log"
	"maps"
	"os"
	"os/exec"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strconv"
	"strings"
	"time"
)

// targets are what can be built, by name.
var targets = map[string]func(*builder, context.Context) (name string, err error){
	"windows-amd64": func(b *builder, ctx context.Context) (string, error) { return b.windows(ctx, "amd64") },
	"windows-arm64": func(b *builder, ctx context.Context) (string, error) { return b.windows(ctx, "arm64") },
	"macos":         (*builder).macos,
	"linux-amd64":   func(b *builder, ctx context.Context) (string, error) { return b.tar(ctx, "amd64") },
	"linux-arm64":   func(b *builder, ctx context.Context) (string, error) { return b.tar(ctx, "arm64") },
	"deb-amd64":     func(b *builder, ctx context.Context) (string, error) { return b.installable(ctx, "deb", "amd64") },
	"deb-arm64":     func(b *builder, ctx context.Context) (string, error) { return b.installable(ctx, "deb", "arm64") },
	"rpm-amd64":     func(b *builder, ctx context.Context) (string, error) { return b.installable(ctx, "rpm", "amd64") },
	"rpm-arm64":     func(b *builder, ctx context.Context) (string, error) { return b.installable(ctx, "rpm", "arm64") },
	native:          (*builder).native,
}

// native is the target that needs a C compiler and PortAudio.
const native = "deb-native"

func main() {
	log.SetFlags(0)
	log.SetPrefix("package: ")
	out := flag.String("out", "dist", "`folder` for the results, below the project's root")
	version := flag.String("version", "", "`version`, such as v1.2.3; the last tag when left out")
	flag.Parse()
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt)
	defer stop()
	if err := run(ctx, *out, *version, flag.Args()); err != nil {
		log.Fatal(err)
	}
}

func run(ctx context.Context, out, version string, names []string) error {
	root, err := gitOutput(ctx, "rev-parse", "--show-toplevel")
	if err != nil {
		return err
	}
	all := len(names) == 0
	if all {
		names = slices.Sorted(maps.Keys(targets))
	}
	for _, name := range names {
		if targets[name] == nil {
			return fmt.Errorf("there is no target %q; they are %s", name, strings.Join(slices.Sorted(maps.Keys(targets)), ", "))
		}
	}
	b, err := newBuilder(ctx, root, out, version)
	if err != nil {
		return err
	}
	defer os.RemoveAll(b.scratch)
	var made []string
	for _, name := range names {
		if _, err := exec.LookPath("pkg-config"); name == native && all && (err != nil || runtime.GOOS != "linux") {
			log.Printf("no %s: pkg-config is not here", name)
			continue
		}
		file, err := targets[name](b, ctx)
		if err != nil {
			return fmt.Errorf("%s: %w", name, err)
		}
		made = append(made, file)
		log.Print(filepath.Join(b.out, file))
	}
	return writeSums(b.out, made)
}

// builder builds one version of the project into one folder.
type builder struct {
	root, out, scratch string
	version            string // v1.2.3
	at                 time.Time
	built              map[string]string // programs by system, processor and tags
}

// newBuilder tells version and time from the last commit.
func newBuilder(ctx context.Context, root, out, version string) (*builder, error) {
	if !filepath.IsAbs(out) {
		out = filepath.Join(root, out)
	}
	b := &builder{root: root, out: out, version: version, built: map[string]string{}}
	if b.version == "" {
		b.version = described(ctx)
	}
	if _, err := packageVersion(b.version); err != nil {
		return nil, err
	}
	epoch := os.Getenv("SOURCE_DATE_EPOCH") // reproducible-builds.org
	if epoch == "" {
		var err error
		if epoch, err = gitOutput(ctx, "log", "-1", "--format=%ct"); err != nil {
			return nil, err
		}
	}
	seconds, err := strconv.ParseInt(epoch, 10, 64)
	if err != nil {
		return nil, fmt.Errorf("SOURCE_DATE_EPOCH %q, need seconds since 1970", epoch)
	}
	b.at = time.Unix(seconds, 0).UTC()
	if err := os.MkdirAll(b.out, 0o755); err != nil {
		return nil, err
	}
	b.scratch, err = os.MkdirTemp("", "bellrow-package-")
	return b, err
}

// described is the version that git tells, v0.0.0 and the commit before the
// first tag.
func described(ctx context.Context) string {
	if text, err := gitOutput(ctx, "describe", "--tags", "--match", "v[0-9]*"); err == nil {
		return text
	}
	if text, err := gitOutput(ctx, "rev-parse", "--short", "HEAD"); err == nil {
		return "v0.0.0-" + text
	}
	return "v0.0.0"
}

func gitOutput(ctx context.Context, args ...string) (string, error) {
	text, err := exec.CommandContext(ctx, "git", args...).Output()
	if err != nil {
		return "", fmt.Errorf("git %s: %w", args[0], err)
	}
	return strings.TrimSpace(string(text)), nil
}

// plain is the version without its v.
func (b *builder) plain() string { return strings.TrimPrefix(b.version, "v") }

// program builds cmd/bellrow without cgo and returns its path.
func (b *builder) program(ctx context.Context, system, arch string) (string, error) {
	return b.build(ctx, system+"-"+arch, nil, b.root, "./cmd/bellrow", "CGO_ENABLED=0", "GOOS="+system, "GOARCH="+arch)
}

// build runs the compiler once for each name. Paths of this machine stay out
// of the binary.
func (b *builder) build(ctx context.Context, name string, flags []string, dir, of string, env ...string) (string, error) {
	if path := b.built[name]; path != "" {
		return path, nil
	}
	path := filepath.Join(b.scratch, name)
	ld := "-s -w -buildid= -X main.version=" + b.version
	if strings.HasPrefix(name, "starter") {
		ld += " -H windowsgui"
	}
	args := append([]string{"build", "-trimpath", "-buildvcs=false", "-ldflags", ld, "-o", path}, flags...)
	cmd := exec.CommandContext(ctx, "go", append(args, of)...)
	cmd.Dir, cmd.Env = dir, append(os.Environ(), env...)
	if text, err := cmd.CombinedOutput(); err != nil {
		return "", fmt.Errorf("go build %s: %w\n%s", of, err, text)
	}
	b.built[name] = path
	return path, nil
}

// packageVersion turns v1.2.3-4-gabc into 1.2.3+4.gabc: in versions of Debian
// (Policy 4.6, 5.6.12) and rpm a hyphen begins the packager's revision.
func packageVersion(v string) (string, error) {
	v = strings.TrimPrefix(v, "v")
	if v == "" || v[0] < '0' || v[0] > '9' {
		return "", fmt.Errorf("version %q, need one that begins with a digit after its v", v)
	}
	release, rest, more := strings.Cut(v, "-")
	if !more {
		return release, nil
	}
	return release + "+" + strings.ReplaceAll(rest, "-", "."), nil
}
