package main

import (
	"bytes"
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"github.com/tc-hib/winres"
	"github.com/tc-hib/winres/version"
)

// windows makes a zip: the program for commands, and a starter for a double
// click that opens no console window.
func (b *builder) windows(ctx context.Context, arch string) (string, error) {
	program, err := b.program(ctx, "windows", arch)
	if err != nil {
		return "", err
	}
	starter, err := b.build(ctx, "starter-"+arch, nil, filepath.Join(b.root, "cmd/package"), "./starter", "CGO_ENABLED=0", "GOOS=windows", "GOARCH="+arch)
	if err != nil {
		return "", err
	}
	var files []entry
	for _, f := range []struct{ name, path, what string }{{"Start bellrow.exe", starter, "bellrow"}, {"bellrow.exe", program, "bellrow, for commands"}} {
		data, err := b.dressed(f.path, f.name, f.what, arch)
		if err != nil {
			return "", fmt.Errorf("%s: %w", f.name, err)
		}
		files = append(files, entry{f.name, data, 0o755})
	}
	licences, err := b.licences(ctx, "windows", arch)
	if err != nil {
		return "", err
	}
	papers, err := b.papers(licences)
	if err != nil {
		return "", err
	}
	name := fmt.Sprintf("bellrow_%s_windows_%s.zip", b.plain(), arch)
	return name, writeZip(filepath.Join(b.out, name), b.at, append(files, papers...))
}

// dressed gives a program its icon, its version and a manifest.
func (b *builder) dressed(path, file, what, arch string) ([]byte, error) {
	img, err := b.icon(256)
	if err != nil {
		return nil, err
	}
	icon, err := winres.NewIconFromResizedImage(img, []int{256, 64, 48, 32, 16})
	if err != nil {
		return nil, err
	}
	var rs winres.ResourceSet
	if err := rs.SetIcon(winres.Name("APPICON"), icon); err != nil {
		return nil, err
	}
	info := version.Info{}
	numbers := versionNumbers(b.plain())
	info.FileVersion, info.ProductVersion = numbers, numbers
	for key, value := range map[string]string{
		version.ProductName: "bellrow", version.FileDescription: what, version.OriginalFilename: file,
		version.FileVersion: b.plain(), version.ProductVersion: b.plain(), version.LegalCopyright: "see Licences.txt",
	} {
		if err := info.Set(version.LangDefault, key, value); err != nil {
			return nil, err
		}
	}
	rs.SetVersionInfo(info)
	rs.SetManifest(winres.AppManifest{Description: what, ExecutionLevel: winres.AsInvoker, DPIAwareness: winres.DPIPerMonitorV2, UseCommonControlsV6: true, LongPathAware: true})
	exe, err := os.ReadFile(path)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = rs.WriteToEXE(&out, bytes.NewReader(exe))
	return out.Bytes(), err
}

// versionNumbers are the four numbers that Windows shows.
func versionNumbers(v string) (n [4]uint16) {
	release, _, _ := strings.Cut(v, "-")
	fmt.Sscanf(release, "%d.%d.%d", &n[0], &n[1], &n[2])
	return n
}
