package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"embed"
	"fmt"
	"io"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"runtime"

	"github.com/goreleaser/nfpm/v2"
	_ "github.com/goreleaser/nfpm/v2/deb"
	"github.com/goreleaser/nfpm/v2/files"
	_ "github.com/goreleaser/nfpm/v2/rpm"
)

//go:embed files
var shipped embed.FS

// tar makes a plain archive with the program and its papers.
func (b *builder) tar(ctx context.Context, arch string) (string, error) {
	path, err := b.program(ctx, "linux", arch)
	if err != nil {
		return "", err
	}
	program, err := b.read("bellrow", path, 0o755)
	if err != nil {
		return "", err
	}
	licences, err := b.licences(ctx, "linux", arch)
	if err != nil {
		return "", err
	}
	papers, err := b.papers(licences)
	if err != nil {
		return "", err
	}
	entries := append([]entry{program}, papers...)
	for i := range entries {
		entries[i].name = "bellrow-" + b.plain() + "/" + entries[i].name
	}
	name := fmt.Sprintf("bellrow_%s_linux_%s.tar.gz", b.plain(), arch)
	return name, writeTar(filepath.Join(b.out, name), b.at, entries)
}

// installable makes a deb or rpm whose microphone is the browser's.
func (b *builder) installable(ctx context.Context, kind, arch string) (string, error) {
	path, err := b.program(ctx, "linux", arch)
	if err != nil {
		return "", err
	}
	licences, err := b.licences(ctx, "linux", arch)
	if err != nil {
		return "", err
	}
	return b.pack(ctx, kind, path, licences, &nfpm.Info{Name: "bellrow", Arch: arch})
}

// native makes a deb for this processor with the native microphone.
func (b *builder) native(ctx context.Context) (string, error) {
	path, err := b.build(ctx, native, []string{"-tags", "portaudio"}, b.root, "./cmd/bellrow", "CGO_ENABLED=1")
	if err != nil {
		return "", err
	}
	licences, err := b.licences(ctx, "linux", runtime.GOARCH, "-tags", "portaudio")
	if err != nil {
		return "", err
	}
	return b.pack(ctx, "deb", path, licences, &nfpm.Info{Name: "bellrow-native", Arch: runtime.GOARCH, Overridables: nfpm.Overridables{
		Depends: []string{"libc6", "libportaudio2"}, Provides: []string{"bellrow"}, Conflicts: []string{"bellrow"}, Replaces: []string{"bellrow"},
	}})
}

// pack fills in what all packages have and writes one.
func (b *builder) pack(ctx context.Context, kind, program string, licences []byte, info *nfpm.Info) (string, error) {
	version, err := packageVersion(b.version)
	if err != nil {
		return "", err
	}
	info.Version, info.VersionSchema, info.Platform, info.MTime = version, "none", "linux", b.at
	info.Maintainer, info.License = "bellrow developers <bellrow@localhost>", "MIT"
	info.Section, info.Priority = "sound", "optional"
	info.Description = `tune a brass section over the local network
A node on every player's laptop waits until a called note has come to rest
and sends one settled reading to the leader's hub, which answers with a slide
move in millimetres.`
	info.RPM.BuildHost = "localhost"
	if info.Contents, err = b.contents(ctx, program, licences); err != nil {
		return "", err
	}
	info = nfpm.WithDefaults(info)
	if err := nfpm.PrepareForPackager(info, kind); err != nil {
		return "", err
	}
	packager, err := nfpm.Get(kind)
	if err != nil {
		return "", err
	}
	name := packager.ConventionalFileName(info)
	f, err := os.Create(filepath.Join(b.out, name))
	if err != nil {
		return "", err
	}
	return name, closed(f, packager.Package(info, f))
}

// contents are the files of an installed program. The manual is compressed, as
// Debian Policy 12.1 asks.
func (b *builder) contents(ctx context.Context, program string, licences []byte) (files.Contents, error) {
	dir, err := os.MkdirTemp(b.scratch, "contents-")
	if err != nil {
		return nil, err
	}
	var list files.Contents
	add := func(source, destination string, mode fs.FileMode) {
		list = append(list, &files.Content{Source: source, Destination: destination, FileInfo: &files.ContentFileInfo{Mode: mode, MTime: b.at}})
	}
	stored := func(name string, data []byte, destination string) error {
		path := filepath.Join(dir, name)
		add(path, destination, 0o644)
		return os.WriteFile(path, data, 0o644)
	}
	add(program, "/usr/bin/bellrow", 0o755)
	add(filepath.Join(b.root, "proto/page/files/mark.svg"), "/usr/share/icons/hicolor/scalable/apps/bellrow.svg", 0o644)
	add(filepath.Join(b.root, howToStart), "/usr/share/doc/bellrow/how-to-start.html", 0o644)
	desktop, err := shipped.ReadFile("files/bellrow.desktop")
	if err != nil {
		return nil, err
	}
	if err := stored("copyright", licences, "/usr/share/doc/bellrow/copyright"); err != nil {
		return nil, err
	}
	if err := stored("bellrow.desktop", desktop, "/usr/share/applications/bellrow.desktop"); err != nil {
		return nil, err
	}
	return list, b.manual(ctx, func(name string, page []byte) error {
		return stored(name, page, "/usr/share/man/man1/"+name)
	})
}

// manual hands over the page of each command, packed.
func (b *builder) manual(ctx context.Context, each func(name string, page []byte) error) error {
	dir, err := os.MkdirTemp(b.scratch, "manual-")
	if err != nil {
		return err
	}
	cmd := exec.CommandContext(ctx, "go", "run", "-ldflags", "-X main.version="+b.version, "./cmd/bellrow", "manual", dir)
	cmd.Dir = b.root
	if text, err := cmd.CombinedOutput(); err != nil {
		return fmt.Errorf("manual: %w\n%s", err, text)
	}
	pages, err := fs.Glob(os.DirFS(dir), "*.1")
	for _, name := range pages {
		text, err := os.ReadFile(filepath.Join(dir, name))
		if err != nil {
			return err
		}
		var packed bytes.Buffer
		z, _ := gzip.NewWriterLevel(&packed, gzip.BestCompression) // the level is valid
		if _, err := io.Copy(z, bytes.NewReader(text)); err != nil {
			return err
		}
		if err := z.Close(); err != nil {
			return err
		}
		if err := each(name+".gz", packed.Bytes()); err != nil {
			return err
		}
	}
	return err
}
