package main

import (
	"archive/zip"
	"bytes"
	"debug/macho"
	"debug/pe"
	"image"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/tc-hib/winres"
)

func TestPackageVersion(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"v1.2.3", "1.2.3"},
		{"v1.2.3-14-gabc1234", "1.2.3+14.gabc1234"},
		{"v0.0.0-abc1234", "0.0.0+abc1234"},
		{"1.0", "1.0"},
	} {
		if got, err := packageVersion(tt.in); err != nil || got != tt.want {
			t.Errorf("packageVersion(%q) = %q, %v, want %q", tt.in, got, err, tt.want)
		}
	}
	for _, in := range []string{"", "v", "main"} {
		if got, err := packageVersion(in); err == nil {
			t.Errorf("packageVersion(%q) = %q, want an error", in, got)
		}
	}
}

// TestSums: the checksums are those that coreutils' sha256sum accepts.
func TestSums(t *testing.T) {
	if _, err := exec.LookPath("sha256sum"); err != nil {
		t.Skip("sha256sum is not installed")
	}
	dir := t.TempDir()
	for name, data := range map[string]string{"a": "abc", "b.exe": ""} {
		if err := os.WriteFile(filepath.Join(dir, name), []byte(data), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if err := writeSums(dir, []string{"a", "b.exe"}); err != nil {
		t.Fatal(err)
	}
	check := func() error {
		cmd := exec.Command("sha256sum", "--check", "--strict", sumsName)
		cmd.Dir = dir
		return cmd.Run()
	}
	if err := check(); err != nil {
		t.Errorf("sha256sum refuses the sums: %v", err)
	}
	if err := os.WriteFile(filepath.Join(dir, "a"), []byte("abd"), 0o600); err != nil {
		t.Fatal(err)
	}
	if check() == nil {
		t.Error("sha256sum accepts a changed file")
	}
}

// here builds for tests: no compiler is run but the one that is asked for.
func here(t *testing.T) *builder {
	t.Helper()
	root, err := gitOutput(t.Context(), "rev-parse", "--show-toplevel")
	if err != nil {
		t.Skip("not in a clone of the project")
	}
	b, err := newBuilder(t.Context(), root, t.TempDir(), "v1.2.3-4-gabc")
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { os.RemoveAll(b.scratch) })
	return b
}

// TestIcon: the mark is drawn as its file says, at points read off its paths.
func TestIcon(t *testing.T) {
	img, err := here(t).icon(320) // ten pixels to a unit
	if err != nil {
		t.Fatal(err)
	}
	for _, tt := range []struct {
		x, y int
		want string
	}{{5, 5, "f7f1e3"}, {100, 100, "7a5a14"}, {100, 220, "7a5a14"}, {240, 160, "7a5a14"}, {265, 160, "1b1813"}, {100, 160, "f7f1e3"}} {
		r, g, b, _ := img.At(tt.x, tt.y).RGBA()
		if got := hex(r) + hex(g) + hex(b); got != tt.want {
			t.Errorf("at %d, %d: %s, want %s", tt.x, tt.y, got, tt.want)
		}
	}
	if img.Bounds() != image.Rect(0, 0, 320, 320) {
		t.Errorf("bounds %v", img.Bounds())
	}
}

func hex(v uint32) string {
	const digits = "0123456789abcdef"
	return string([]byte{digits[v>>12&15], digits[v>>8&15]})
}

// TestUniversal: Go's reader of such files finds both programs in it.
func TestUniversal(t *testing.T) {
	b := here(t)
	build := func(arch string) []byte {
		path, err := b.build(t.Context(), "plain-"+arch, nil, filepath.Join(b.root, "cmd/package"), "./starter", "CGO_ENABLED=0", "GOOS=darwin", "GOARCH="+arch)
		if err != nil {
			t.Fatal(err)
		}
		data, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	amd64, arm64 := build("amd64"), build("arm64")
	f, err := macho.NewFatFile(bytes.NewReader(universal(amd64, arm64)))
	if err != nil {
		t.Fatal(err)
	}
	if len(f.Arches) != 2 || f.Arches[0].Cpu != macho.CpuAmd64 || f.Arches[1].Cpu != macho.CpuArm64 || int(f.Arches[1].Size) != len(arm64) || f.Arches[1].Offset%(1<<14) != 0 {
		t.Errorf("%+v", f.Arches)
	}
	if f.Arches[1].Section("__text") == nil {
		t.Error("the second program cannot be read")
	}
}

// TestDressed: the program has its icon, its version and no console, and is
// still a program.
func TestDressed(t *testing.T) {
	b := here(t)
	path, err := b.build(t.Context(), "starter-amd64", nil, filepath.Join(b.root, "cmd/package"), "./starter", "CGO_ENABLED=0", "GOOS=windows", "GOARCH=amd64")
	if err != nil {
		t.Fatal(err)
	}
	data, err := b.dressed(path, "Start bellrow.exe", "bellrow", "amd64")
	if err != nil {
		t.Fatal(err)
	}
	f, err := pe.NewFile(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if h := f.OptionalHeader.(*pe.OptionalHeader64); h.Subsystem != pe.IMAGE_SUBSYSTEM_WINDOWS_GUI {
		t.Errorf("subsystem %d, want one without a console", h.Subsystem)
	}
	rs, err := winres.LoadFromEXE(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	if rs.Get(winres.RT_GROUP_ICON, winres.Name("APPICON"), 0) == nil && rs.Count() < 3 {
		t.Error("no icon")
	}
	if n := versionNumbers("1.2.3-4-gabc"); n != [4]uint16{1, 2, 3, 0} {
		t.Errorf("version %v", n)
	}
}

// TestSameBytes: the same entries at the same time give the same archive, and
// what was put in comes out.
func TestSameBytes(t *testing.T) {
	entries := []entry{{"bellrow", []byte("program"), 0o755}, {"Licences.txt", []byte("MIT"), 0o644}}
	at := time.Unix(1900000000, 0).UTC()
	for name, write := range map[string]func(string, time.Time, []entry) error{"a.zip": writeZip, "a.tar.gz": writeTar} {
		var all [2][]byte
		for i := range all {
			path := filepath.Join(t.TempDir(), name)
			if err := write(path, at, entries); err != nil {
				t.Fatal(err)
			}
			all[i], _ = os.ReadFile(path)
		}
		if !bytes.Equal(all[0], all[1]) || len(all[0]) == 0 {
			t.Errorf("%s differs from time to time", name)
		}
		if name != "a.zip" {
			continue
		}
		z, err := zip.NewReader(bytes.NewReader(all[0]), int64(len(all[0])))
		if err != nil {
			t.Fatal(err)
		}
		f, err := z.File[0].Open()
		if err != nil {
			t.Fatal(err)
		}
		text, _ := io.ReadAll(f)
		if string(text) != "program" || z.File[0].Mode() != 0o755 || !z.File[0].Modified.Equal(at) {
			t.Errorf("%q, %v, %v", text, z.File[0].Mode(), z.File[0].Modified)
		}
	}
}

// TestLicences: each module that is linked in is there with its licence.
func TestLicences(t *testing.T) {
	b := here(t)
	text, err := b.licences(t.Context(), "linux", "amd64")
	if err != nil {
		t.Fatal(err)
	}
	for _, want := range []string{"bellrow\n=======\n", "Besley, the typeface", "Go, its runtime", "modernc.org/sqlite", "github.com/spf13/cobra", "github.com/gorilla/websocket", "SIL OPEN FONT LICENSE"} {
		if !strings.Contains(strings.ToLower(string(text)), strings.ToLower(want)) {
			t.Errorf("the licences lack %q", want)
		}
	}
	if strings.Contains(string(text), "chromedp") {
		t.Error("the licences name what only tests use")
	}
}
