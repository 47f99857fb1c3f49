package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"embed"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"
)

//go:embed files
var files embed.FS

// control is the package's description (Debian Policy 4.6, chapter 5).
const control = `Package: bellrow
Version: %s
Architecture: %s
Maintainer: bellrow developers <bellrow@localhost>
Depends: libc6, libportaudio2
Section: sound
Priority: optional
Installed-Size: %d
Description: tune a brass section over the local network
 A node on every player's laptop waits until a called note has come to rest
 and sends one settled reading to the leader's hub, which answers with a slide
 move in millimetres. This build has the native microphone.
`

// debian builds the package with the native microphone for this processor.
func (b *builder) debian(ctx context.Context) error {
	version, err := debianVersion(b.version)
	if err != nil {
		return err
	}
	root, err := os.MkdirTemp("", "bellrow-deb")
	if err != nil {
		return err
	}
	defer os.RemoveAll(root)
	program := filepath.Join(root, "usr/bin/bellrow")
	if err := b.build(ctx, program, []string{"-tags", "portaudio"}, "CGO_ENABLED=1"); err != nil {
		return err
	}
	if err := b.install(ctx, root); err != nil {
		return err
	}
	info, err := os.Stat(program)
	if err != nil {
		return err
	}
	text := fmt.Sprintf(control, version, debianArch(), info.Size()/1024+1)
	if err := write(root, "DEBIAN/control", []byte(text)); err != nil {
		return err
	}
	name := fmt.Sprintf("bellrow_%s_%s.deb", version, debianArch())
	cmd := exec.CommandContext(ctx, "dpkg-deb", "--build", "--root-owner-group", root, filepath.Join(b.out, name))
	if text, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("dpkg-deb: %w\n%s", err, text)
	}
	b.keep(name)
	return nil
}

// debianArch is Debian's name of this processor.
func debianArch() string {
	if runtime.GOARCH == "386" {
		return "i386"
	}
	return runtime.GOARCH // amd64, arm64 and riscv64 are the same in both
}

// install copies the files that go beside the program.
func (b *builder) install(ctx context.Context, root string) error {
	if err := b.manual(ctx, root); err != nil {
		return err
	}
	desktop, err := fs.ReadFile(files, "files/bellrow.desktop")
	if err != nil {
		return err
	}
	licence, err := os.ReadFile("LICENSE")
	if err != nil {
		return err
	}
	icon, err := os.ReadFile("proto/page/files/mark.svg")
	if err != nil {
		return err
	}
	for path, data := range map[string][]byte{
		"usr/share/applications/bellrow.desktop":            desktop,
		"usr/share/doc/bellrow/copyright":                   licence,
		"usr/share/icons/hicolor/scalable/apps/bellrow.svg": icon,
	} {
		if err := write(root, path, data); err != nil {
			return err
		}
	}
	return nil
}

// manual writes a page for each command, compressed as Debian Policy 12.1 asks.
func (b *builder) manual(ctx context.Context, root string) error {
	dir, err := os.MkdirTemp("", "bellrow-manual")
	if err != nil {
		return err
	}
	defer os.RemoveAll(dir)
	cmd := exec.CommandContext(ctx, "go", "run", "-ldflags", "-X main.version="+b.version, "./cmd/bellrow", "manual", dir)
	if text, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("manual: %w\n%s", err, text)
	}
	pages, err := fs.Glob(os.DirFS(dir), "*.1")
	if err != nil {
		return err
	}
	for _, name := range pages {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		var packed bytes.Buffer
		z, _ := gzip.NewWriterLevel(&packed, gzip.BestCompression) // the level is valid
		z.Write(text)
		if err := z.Close(); err != nil {
			return err
		}
		if err := write(root, "usr/share/man/man1/"+name+".gz", packed.Bytes()); err != nil {
			return err
		}
	}
	return nil
}

func write(root, path string, data []byte) error {
	path = filepath.Join(root, path)
	if err := os.MkdirAll(filepath.Dir(path), 0o755); err != nil {
		return err
	}
	return os.WriteFile(path, data, 0o644)
}
