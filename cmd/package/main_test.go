package main

import (
	"os"
	"os/exec"
	"path/filepath"
	"testing"

	"bellrow/testdata/require"
)

func TestDebianVersion(t *testing.T) {
	for _, tt := range []struct{ in, want string }{
		{"v1.2.3", "1.2.3"},
		{"v1.2.3-14-gabc1234", "1.2.3+14.gabc1234"},
		{"v0.0.0-abc1234", "0.0.0+abc1234"},
		{"1.0", "1.0"},
	} {
		if got, err := debianVersion(tt.in); err != nil || got != tt.want {
			t.Errorf("debianVersion(%q) = %q, %v, want %q", tt.in, got, err, tt.want)
		}
	}
	for _, in := range []string{"", "v", "main"} {
		if got, err := debianVersion(in); err == nil {
			t.Errorf("debianVersion(%q) = %q, want an error", in, got)
		}
	}
}

// TestSums: the checksums are those that coreutils' sha256sum accepts.
func TestSums(t *testing.T) {
	if _, err := exec.LookPath("sha256sum"); err != nil {
		require.Missing(t, "sha256sum is not installed")
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
