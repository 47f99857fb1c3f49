package sqlite

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
)

// plan is a restore of a copy over the data at path.
func plan(from, path string) Plan {
	return Plan{From: from, To: path, Files: []string{"key.pem"}, Now: time.Date(2027, 3, 1, 19, 0, 0, 0, time.UTC)}
}

// backedUp makes a store with a key beside it and a node's token, and a copy
// of it; later it goes on.
func backedUp(t *testing.T) (path, backup string) {
	t.Helper()
	path, backup = newPath(t), filepath.Join(t.TempDir(), "copy.db")
	s := open1(t, path)
	defer s.Close()
	sec, err := s.SaveSection(t.Context(), hub.Section{Name: "Low brass", Chairs: []hub.Chair{{Label: "Tuba 1", Instrument: "tuba_bb"}}})
	if err != nil {
		t.Fatal(err)
	}
	for _, err := range []error{
		s.Enrol(t.Context(), hub.NodeRecord{Node: "n1", Section: sec.ID, Chair: sec.Chairs[0].ID, TokenHash: []byte("h")}),
		s.SetValue(t.Context(), "k", "backed up"), s.SetValue(t.Context(), "hub", "id1"),
		os.WriteFile(filepath.Join(filepath.Dir(path), "key.pem"), []byte("the key"), 0o600),
		s.Backup(t.Context(), backup, "key.pem", "no-such.pem"),
		s.SetValue(t.Context(), "k", "later"),
		os.WriteFile(filepath.Join(filepath.Dir(path), "key.pem"), []byte("another key"), 0o600),
	} {
		if err != nil {
			t.Fatal(err)
		}
	}
	return path, backup
}

func TestBackupIsForItsOwner(t *testing.T) {
	_, backup := backedUp(t)
	if info, err := os.Stat(backup); err != nil || info.Mode().Perm() != 0o600 {
		t.Errorf("%v, %v", info.Mode(), err)
	}
	if left, _ := filepath.Glob(backup + "?*"); len(left) != 0 {
		t.Errorf("%v beside it", left)
	}
}

func TestRestoreCarriesOn(t *testing.T) {
	path, backup := backedUp(t)
	// A hub that was killed leaves a write-ahead log, which must not be
	// replayed over the copy.
	dead := filepath.Join(t.TempDir(), "dead.db")
	s := open1(t, path)
	if err := s.SetValue(t.Context(), "k", "in the log only"); err != nil {
		t.Fatal(err)
	}
	copyFile(t, path, dead)
	copyFile(t, path+"-wal", dead+"-wal")
	s.Close()
	copyFile(t, dead, path)
	copyFile(t, dead+"-wal", path+"-wal")

	aside, err := Restore(t.Context(), plan(backup, path))
	if err != nil {
		t.Fatal(err)
	}
	if got := valueOf(t, path); got != "backed up" {
		t.Errorf("%q, want what was backed up", got)
	}
	s = open1(t, path)
	defer s.Close()
	if n, err := s.Node(t.Context(), "n1"); err != nil || string(n.TokenHash) != "h" {
		t.Errorf("the node's token: %+v, %v", n, err)
	}
	if _, err := s.Value(t.Context(), "file/key.pem"); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("the key stayed in the database: %v", err)
	}
	key := filepath.Join(filepath.Dir(path), "key.pem")
	if data, err := os.ReadFile(key); err != nil || string(data) != "the key" {
		t.Errorf("key %q, %v", data, err)
	}
	if info, _ := os.Stat(key); info.Mode().Perm() != 0o600 {
		t.Errorf("key %v", info.Mode())
	}
	// What was there is whole, too.
	if got := valueOf(t, filepath.Join(aside, filepath.Base(path))); got != "in the log only" {
		t.Errorf("aside: %q", got)
	}
	if data, _ := os.ReadFile(filepath.Join(aside, "key.pem")); string(data) != "another key" {
		t.Errorf("aside: key %q", data)
	}
}

func TestRestoreMakesAnother(t *testing.T) {
	path, backup := backedUp(t)
	p := plan(backup, path)
	p.Fresh = []string{"hub"}
	if _, err := Restore(t.Context(), p); err != nil {
		t.Fatal(err)
	}
	s := open1(t, path)
	defer s.Close()
	if _, err := s.Node(t.Context(), "n1"); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("a token came along: %v", err)
	}
	if _, err := s.Value(t.Context(), "hub"); !errors.Is(err, hub.ErrNotFound) {
		t.Errorf("the id came along: %v", err)
	}
	if secs, err := s.Sections(t.Context()); err != nil || len(secs) != 1 || secs[0].Name != "Low brass" {
		t.Errorf("%+v, %v", secs, err)
	}
	if _, err := os.Stat(filepath.Join(filepath.Dir(path), "key.pem")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("the key came along: %v", err)
	}
}

// What cannot be put back changes nothing.
func TestRestoreRefuses(t *testing.T) {
	path, backup := backedUp(t)
	bad := filepath.Join(t.TempDir(), "bad.db")
	data, err := os.ReadFile(backup)
	if err != nil {
		t.Fatal(err)
	}
	changed := func(do func(*Store)) func() {
		return func() {
			copyFile(t, backup, bad)
			s, err := Open(t.Context(), bad)
			if err != nil {
				t.Fatal(err)
			}
			do(s)
			s.Close()
		}
	}
	for what, c := range map[string]struct {
		make func()
		want error
	}{
		"no file":            {func() { os.Remove(bad) }, os.ErrNotExist},
		"an empty file":      {func() { os.WriteFile(bad, nil, 0o600) }, hub.ErrDamaged},
		"no database":        {func() { os.WriteFile(bad, []byte(strings.Repeat("text ", 2000)), 0o600) }, hub.ErrDamaged},
		"half a file":        {func() { os.WriteFile(bad, data[:len(data)/2], 0o600) }, hub.ErrDamaged},
		"scrambled":          {func() { os.WriteFile(bad, scrambled(data), 0o600) }, hub.ErrDamaged},
		"a newer version":    {changed(func(s *Store) { s.db.Exec("PRAGMA user_version = 99") }), hub.ErrNewer},
		"another program's":  {changed(func(s *Store) { s.db.Exec("PRAGMA application_id = 7") }), nil},
		"pointing to nobody": {changed(func(s *Store) { s.db.Exec("PRAGMA foreign_keys=0"); s.db.Exec("DELETE FROM section") }), hub.ErrDamaged},
	} {
		c.make()
		if _, err := Restore(t.Context(), plan(bad, path)); err == nil || c.want != nil && !errors.Is(err, c.want) {
			t.Errorf("%s: %v", what, err)
		} else if c.want == hub.ErrNewer && !strings.Contains(err.Error(), "version 99, this program knows up to") {
			t.Errorf("%s: %v", what, err)
		}
		if got := valueOf(t, path); got != "later" {
			t.Errorf("%s: the data is %q now", what, got)
		}
		left, _ := filepath.Glob(filepath.Join(filepath.Dir(path), "*restor*"))
		hidden, _ := filepath.Glob(filepath.Join(filepath.Dir(path), ".restor*"))
		if len(left)+len(hidden) != 0 {
			t.Errorf("%s: left %v %v", what, left, hidden)
		}
	}
	s := open1(t, path)
	defer s.Close()
	if _, err := Restore(t.Context(), plan(backup, path)); !errors.Is(err, hub.ErrInUse) {
		t.Errorf("under a running hub: %v", err)
	}
}

func scrambled(data []byte) []byte {
	out := append([]byte(nil), data...)
	for i := 4096; i < len(out); i += 7 {
		out[i] ^= 0x5a
	}
	return out
}

// A restore that was cut off in the middle does not end in an empty hub.
func TestRestoreCutOff(t *testing.T) {
	path, backup := backedUp(t)
	dir := filepath.Dir(path)
	if err := os.Mkdir(filepath.Join(dir, ".restoring-1"), 0o700); err != nil {
		t.Fatal(err)
	}
	rename(t, path, path+"-away")
	if s, err := OpenAlone(t.Context(), path); !errors.Is(err, hub.ErrDamaged) {
		t.Fatalf("%v, %v", s, err)
	}
	if _, err := Restore(t.Context(), plan(backup, path)); err != nil {
		t.Fatal(err)
	}
	if got := valueOf(t, path); got != "backed up" {
		t.Errorf("%q", got)
	}
	open1(t, path).Close()
}
