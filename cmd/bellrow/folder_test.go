package main

import (
	"os"
	"path/filepath"
	"runtime"
	"testing"
)

// TestDataFolder: the places are those of the documents that dataFolder names.
func TestDataFolder(t *testing.T) {
	for _, tt := range []struct {
		system string
		env    map[string]string
		want   string
	}{
		{"linux", map[string]string{"HOME": "/home/ada"}, "/home/ada/.local/share"},
		{"linux", map[string]string{"HOME": "/home/ada", "XDG_DATA_HOME": "/data"}, "/data"},
		{"linux", map[string]string{"HOME": "/home/ada", "XDG_DATA_HOME": "data"}, "/home/ada/.local/share"}, // "all paths must be absolute"
		{"linux", nil, ""},
		{"darwin", map[string]string{"HOME": "/Users/ada"}, "/Users/ada/Library/Application Support"},
		{"darwin", nil, ""},
		{"windows", map[string]string{"LocalAppData": `C:\Users\ada\AppData\Local`}, `C:\Users\ada\AppData\Local`},
		{"windows", nil, ""},
	} {
		got := dataFolder(tt.system, func(name string) string { return tt.env[name] })
		if got != filepath.FromSlash(tt.want) {
			t.Errorf("%s with %v: %q, want %q", tt.system, tt.env, got, tt.want)
		}
	}
}

// TestEarlierFolder: what an earlier version kept among the settings goes on.
func TestEarlierFolder(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("sets Linux's variables")
	}
	config, data := t.TempDir(), t.TempDir()
	t.Setenv("XDG_CONFIG_HOME", config)
	t.Setenv("XDG_DATA_HOME", data)
	if got, want := defaultFolder("hub"), filepath.Join(data, "bellrow", "hub"); got != want {
		t.Errorf("%q, want %q", got, want)
	}
	earlier := filepath.Join(config, "bellrow", "hub")
	if err := os.MkdirAll(earlier, 0o700); err != nil {
		t.Fatal(err)
	}
	if got := defaultFolder("hub"); got != earlier {
		t.Errorf("%q, want %q", got, earlier)
	}
}
