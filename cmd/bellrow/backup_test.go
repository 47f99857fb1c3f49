package main

import (
	"bytes"
	"errors"
	"log/slog"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/hub/access"
	"bellrow/hub/session"
)

// said runs a command and returns its exit status and all it said.
func said(t *testing.T, typed string, args ...string) (int, string) {
	t.Helper()
	var out bytes.Buffer
	code := run(t.Context(), env{strings.NewReader(typed), &out, &out}, args)
	return code, out.String()
}

// identityOf opens a data folder as a hub does and returns the hub's id and code.
func identityOf(t *testing.T, dir string) [2]string {
	t.Helper()
	store, err := openStore(t.Context(), dir, slog.New(slog.DiscardHandler))
	if err != nil {
		t.Fatal(err)
	}
	defer store.Close()
	h, err := session.New(t.Context(), session.Config{Store: store})
	if err != nil {
		t.Fatal(err)
	}
	return [2]string{h.ID(), h.JoinCode()}
}

func TestBackupAndRestore(t *testing.T) {
	dir, copied := filepath.Join(t.TempDir(), "hub"), filepath.Join(t.TempDir(), "copy.db")
	was := identityOf(t, dir)
	if _, err := (security{own: true}).load(dir); err != nil {
		t.Fatal(err)
	}
	key, err := os.ReadFile(filepath.Join(dir, access.KeyFiles[1]))
	if err != nil {
		t.Fatal(err)
	}
	if code, out := said(t, "", "backup", copied, "--data", dir); code != exitOK || !strings.Contains(out, "bellrow restore "+copied) {
		t.Fatalf("%d: %s", code, out)
	}
	if code, _ := said(t, "", "backup", copied, "--data", dir); code == exitOK {
		t.Error("a copy was written over another")
	}
	// A replaced laptop: the same hub, with its key.
	fresh := filepath.Join(t.TempDir(), "new laptop")
	if code, out := said(t, "same\n", "restore", copied, "--data", fresh); code != exitOK {
		t.Fatalf("%d: %s", code, out)
	}
	if got := identityOf(t, fresh); got != was {
		t.Errorf("carried on as %v, was %v", got, was)
	}
	if got, err := os.ReadFile(filepath.Join(fresh, access.KeyFiles[1])); err != nil || !bytes.Equal(got, key) {
		t.Errorf("the key did not come along: %v", err)
	}
	// A copy: nothing in common that opens a door.
	other := t.TempDir()
	if code, out := said(t, "", "restore", "--copy", copied, "--data", other); code != exitOK {
		t.Fatalf("%d: %s", code, out)
	}
	got := identityOf(t, other)
	for i := range got {
		if got[i] == was[i] || got[i] == "" {
			t.Errorf("the copy has %q in common", got[i])
		}
	}
	if _, err := os.Stat(filepath.Join(other, access.KeyFiles[1])); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the copy has the key: %v", err)
	}
}

func TestRestoreSaysWhatToDo(t *testing.T) {
	dir := t.TempDir()
	torn := filepath.Join(t.TempDir(), "torn.db")
	if err := os.WriteFile(torn, bytes.Repeat([]byte("torn "), 5000), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		typed string
		args  []string
		code  int
		say   string
	}{
		{"", []string{torn}, exitUsage, "--carry-on"},
		{"perhaps\n", []string{torn}, exitUsage, "--carry-on"},
		{"", []string{torn, "--carry-on", "--copy"}, exitUsage, "exclude one another"},
		{"", []string{"--carry-on"}, exitUsage, "0 files"},
		{"", []string{torn + "x", "--carry-on"}, exitFailed, "there is no"},
		{"", []string{torn, "--carry-on"}, exitFailed, "earlier copy"},
	} {
		code, out := said(t, c.typed, append([]string{"restore", "--data", dir}, c.args...)...)
		if code != c.code || !strings.Contains(out, c.say) {
			t.Errorf("%v: %d, %s", c.args, code, out)
		}
	}
	// A hub that finds its data torn says how to go back.
	data := filepath.Join(dir, databaseFile)
	if err := os.Rename(torn, data); err != nil {
		t.Fatal(err)
	}
	if code, out := said(t, "", "hub", "--listen", "127.0.0.1:0", "--data", dir, "--no-announce"); code != exitFailed || !strings.Contains(out, "bellrow restore") {
		t.Errorf("%d: %s", code, out)
	}
}
