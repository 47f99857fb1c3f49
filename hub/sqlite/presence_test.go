package sqlite

import (
	"errors"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"bellrow/hub"
)

// put stores a value, and fails the test unless that is refused, or not, as
// wanted.
func put(t *testing.T, s *Store, value string, moved bool) {
	t.Helper()
	err := s.SetValue(t.Context(), "k", value)
	if errors.Is(err, hub.ErrMoved) != moved || !moved && err != nil {
		t.Fatalf("storing %s: %v", value, err)
	}
}

func open1(t *testing.T, path string) *Store {
	t.Helper()
	s, err := OpenAlone(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func valueOf(t *testing.T, path string) string {
	t.Helper()
	// Read as another process would find it: this one still holds the old file.
	there := filepath.Join(t.TempDir(), "hub.db")
	for _, suffix := range []string{"", "-wal"} {
		if _, err := os.Stat(path + suffix); err == nil {
			copyFile(t, path+suffix, there+suffix)
		}
	}
	s := open1(t, there)
	defer s.Close()
	v, err := s.Value(t.Context(), "k")
	if err != nil {
		t.Fatal(err)
	}
	if err := s.whole(t.Context()); err != nil {
		t.Fatal(err)
	}
	return v
}

func copyFile(t *testing.T, from, to string) {
	t.Helper()
	data, err := os.ReadFile(from)
	if err == nil {
		err = os.WriteFile(to, data, 0o600)
	}
	if err != nil {
		t.Fatal(err)
	}
}

func rename(t *testing.T, from, to string) {
	t.Helper()
	if err := os.Rename(from, to); err != nil {
		t.Fatal(err)
	}
}

// What happens to the file under a running hub is noticed with the next
// commit, and what is there afterwards is what was put there.
func TestDataMovedUnderTheHub(t *testing.T) {
	for _, c := range []struct {
		what string
		do   func(t *testing.T, path, backup string)
		want string // after a new start; "" for an empty file
	}{
		{"the folder is deleted", func(t *testing.T, path, _ string) { os.RemoveAll(filepath.Dir(path)) }, ""},
		{"the file is deleted", func(t *testing.T, path, _ string) { os.Remove(path) }, ""},
		{"a backup is moved into its place", func(t *testing.T, path, backup string) { rename(t, backup, path) }, "backed up"},
		{"a backup is copied over it", func(t *testing.T, path, backup string) { copyFile(t, backup, path) }, "backed up"},
		{"another folder is put in its place", func(t *testing.T, path, backup string) {
			rename(t, filepath.Dir(path), filepath.Dir(path)+"-away")
			if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
				t.Fatal(err)
			}
			rename(t, backup, path)
		}, "backed up"},
	} {
		t.Run(c.what, func(t *testing.T) {
			path, backup := newPath(t), filepath.Join(t.TempDir(), "backup.db")
			s := open1(t, path)
			put(t, s, "backed up", false)
			if err := s.Backup(t.Context(), backup); err != nil {
				t.Fatal(err)
			}
			put(t, s, "later", false)
			c.do(t, path, backup)
			put(t, s, "lost", true)
			put(t, s, "lost again", true)
			if err := s.Commit(t.Context(), []hub.Change{hub.ValueChange{Key: "k", Is: "lost"}}); !errors.Is(err, hub.ErrMoved) {
				t.Errorf("commit: %v", err)
			}
			if err := s.Close(); err != nil {
				t.Error(err)
			}
			if c.want != "" {
				if got := valueOf(t, path); got != c.want {
					t.Errorf("a new start finds %q, want %q", got, c.want)
				}
			}
		})
	}
}

func TestDataPutBackGoesOn(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	put(t, s, "first", false)
	dir := filepath.Dir(path)
	rename(t, dir, dir+"-away")
	put(t, s, "refused", true)
	rename(t, dir+"-away", dir)
	if v, err := s.Value(t.Context(), "k"); v != "first" || err != nil {
		t.Errorf("what was refused is there: %q, %v", v, err)
	}
	put(t, s, "second", false)
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	if got := valueOf(t, path); got != "second" {
		t.Errorf("%q", got)
	}
}

func TestLostLogIsNoticed(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	put(t, s, "first", false)
	if err := os.Remove(path + "-wal"); err != nil {
		t.Fatal(err)
	}
	put(t, s, "refused", true)
	s.Close()
}

// The hub's own work, checkpoints among it, and that of reports and backups
// beside it raise no alarm, and the log stays bounded.
func TestOwnWorkIsNoAlarm(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	big := strings.Repeat("x", 100_000)
	for i := range 300 { // some 15 MB
		put(t, s, big[:1+i*667%len(big)], false)
		if i%50 == 0 {
			s.presence.commits += checkpointAfter / 4 // those of a long evening
			other, err := Open(t.Context(), path)
			if err != nil {
				t.Fatal(err)
			}
			if err := other.SetValue(t.Context(), "other", big); err != nil {
				t.Fatal(err)
			}
			other.Close()
		}
	}
	info, err := os.Stat(path + "-wal")
	if err != nil || info.Size() > 4*checkpointBytes {
		t.Errorf("%v, %v", info, err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
}

func TestFilesAreTheOwners(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	put(t, s, "v", false)
	for _, p := range []string{path, path + "-wal", path + "-shm"} {
		if info, err := os.Stat(p); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%s: %v, %v", p, info.Mode(), err)
		}
	}
	s.Close()
	os.Chmod(path, 0o644) // of an earlier version
	open1(t, path).Close()
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o600 {
		t.Errorf("%v", info.Mode())
	}
}

func TestDamageIsSaid(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	for i := range 200 {
		s.SetValue(t.Context(), strings.Repeat("k", 1+i), strings.Repeat("v", 500))
	}
	s.Close()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	for i := 20000; i < 60000; i++ {
		data[i] ^= 0x5a
	}
	if err := os.WriteFile(path, data, 0o600); err != nil {
		t.Fatal(err)
	}
	if s, err := OpenAlone(t.Context(), path); !errors.Is(err, hub.ErrDamaged) {
		t.Errorf("%v, %v", s, err)
	}
}
