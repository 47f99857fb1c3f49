package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/testdata/smalldisk"
)

func newPath(t *testing.T) string { return filepath.Join(t.TempDir(), "data", "hub.db") }

// raw opens the file as any other program would.
func raw(t *testing.T, path string) *sql.DB {
	t.Helper()
	db, err := sql.Open("sqlite", path)
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { db.Close() })
	return db
}

func TestPragmas(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	for pragma, want := range map[string]string{
		"journal_mode": "wal", "synchronous": "2", "foreign_keys": "1", "busy_timeout": "5000", "secure_delete": "1",
		"user_version": fmt.Sprint(len(migrations)), "application_id": fmt.Sprint(applicationID),
	} {
		var got string
		if err := s.db.QueryRow("PRAGMA " + pragma).Scan(&got); err != nil || got != want {
			t.Errorf("%s is %q (%v), want %q", pragma, got, err, want)
		}
	}
	var loose int
	err := s.db.QueryRow("SELECT count(*) FROM pragma_table_list WHERE schema = 'main' AND name NOT LIKE 'sqlite_%' AND strict = 0").Scan(&loose)
	if err != nil || loose != 0 {
		t.Errorf("%d tables are not STRICT (%v)", loose, err)
	}
}

func TestMigrationKeepsACopyAndTheData(t *testing.T) {
	path := newPath(t)
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SetValue(t.Context(), "k", "v"); err != nil {
		t.Fatal(err)
	}
	s.Close()
	if entries, err := os.ReadDir(filepath.Dir(path)); err != nil || len(entries) != 1 {
		t.Errorf("beside a new file: %v (%v), want it alone", entries, err)
	}
	next := append(slices.Clone(migrations), "ALTER TABLE value ADD COLUMN note TEXT NOT NULL DEFAULT ''")
	if s, err = open(t.Context(), path, next); err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if v, err := s.Value(t.Context(), "k"); v != "v" {
		t.Errorf("value %q (%v) after the migration", v, err)
	}
	var old int
	kept := raw(t, strings.TrimSuffix(path, ".db")+fmt.Sprintf("-v%d.db", len(migrations)))
	if err := kept.QueryRow("PRAGMA user_version").Scan(&old); err != nil || old != len(migrations) {
		t.Errorf("the copy has version %d (%v), want %d", old, err, len(migrations))
	}
	var v string
	if err := kept.QueryRow("SELECT value FROM value WHERE key = 'k'").Scan(&v); err != nil || v != "v" {
		t.Errorf("the copy holds %q (%v)", v, err)
	}
}

func TestFailedMigrationChangesNothing(t *testing.T) {
	path := newPath(t)
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	s.Close()
	broken := append(slices.Clone(migrations), "CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT; INSERT INTO nowhere VALUES (1)")
	if _, err := open(t.Context(), path, broken); err == nil {
		t.Fatal("a broken migration went through")
	}
	if s, err = Open(t.Context(), path); err != nil {
		t.Fatalf("after a broken migration: %v", err)
	}
	defer s.Close()
	var n int
	if err := s.db.QueryRow("SELECT count(*) FROM sqlite_master WHERE name = 'extra'").Scan(&n); err != nil || n != 0 {
		t.Errorf("half of the migration is there (%d, %v)", n, err)
	}
}

func TestRefusesWhatIsNotItsOwn(t *testing.T) {
	for _, c := range []struct {
		name string
		make func(t *testing.T, path string)
		want error
		says string
	}{
		{"a newer version", func(t *testing.T, path string) {
			s, err := open(t.Context(), path, append(slices.Clone(migrations), "SELECT 1"))
			if err != nil {
				t.Fatal(err)
			}
			s.Close()
		}, hub.ErrNewer, fmt.Sprintf("version %d", len(migrations)+1)},
		{"another program's database", func(t *testing.T, path string) {
			if _, err := raw(t, path).Exec("CREATE TABLE letters (id INTEGER)"); err != nil {
				t.Fatal(err)
			}
		}, nil, "another program"},
		{"no database", func(t *testing.T, path string) {
			if err := os.WriteFile(path, []byte(strings.Repeat("not a database ", 100)), 0o600); err != nil {
				t.Fatal(err)
			}
		}, hub.ErrDamaged, "opening"},
	} {
		t.Run(c.name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "hub.db")
			c.make(t, path)
			before, _ := os.ReadFile(path)
			s, err := Open(t.Context(), path)
			if err == nil {
				s.Close()
				t.Fatal("opened")
			}
			if c.want != nil && !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) || strings.Contains(err.Error(), "\n") {
				t.Errorf("error %q, want one line about %q", err, c.says)
			}
			if after, _ := os.ReadFile(path); string(after) != string(before) {
				t.Error("the file was changed")
			}
		})
	}
}

func TestFullDisk(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	// The limit on pages gives the same error as a disk without space.
	if _, err := s.db.Exec("PRAGMA max_page_count = 40"); err != nil {
		t.Fatal(err)
	}
	var err error
	for i := 0; i < 1000 && err == nil; i++ {
		err = s.SetValue(t.Context(), fmt.Sprint(i), strings.Repeat("x", 1000))
	}
	if !errors.Is(err, hub.ErrFull) {
		t.Fatalf("error %v, want ErrFull", err)
	}
	if _, err := s.db.Exec("PRAGMA max_page_count = 4000"); err != nil {
		t.Fatal(err)
	}
	if err := s.SetValue(t.Context(), "more", "x"); err != nil {
		t.Errorf("after space was freed: %v", err)
	}
}

// A folder without room is told from one that cannot be read.
func TestOpenOnAFullDisk(t *testing.T) {
	disk := smalldisk.New(t, 256)
	disk.Fill(t)
	s, err := OpenAlone(t.Context(), filepath.Join(disk.Dir, "hub.db"))
	if !errors.Is(err, hub.ErrFull) {
		t.Errorf("error %v, want %v", err, hub.ErrFull)
	}
	if err == nil {
		s.Close()
	}
}

func TestBackupWhileWriting(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	for i := range 100 {
		if err := s.SetValue(t.Context(), fmt.Sprint(i), "v"); err != nil {
			t.Fatal(err)
		}
	}
	done := make(chan error)
	go func() {
		for i := range 100 {
			if err := s.SetValue(context.Background(), fmt.Sprint("later", i), "v"); err != nil {
				done <- err
				return
			}
		}
		done <- nil
	}()
	to := filepath.Join(t.TempDir(), "copy.db")
	if err := s.Backup(t.Context(), to); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err != nil {
		t.Error(err)
	}
	c, err := Open(t.Context(), to)
	if err != nil {
		t.Fatalf("the copy does not open: %v", err)
	}
	defer c.Close()
	for i := range 100 {
		if _, err := c.Value(t.Context(), fmt.Sprint(i)); err != nil {
			t.Fatalf("value %d is not in the copy: %v", i, err)
		}
	}
	if err := s.Backup(t.Context(), to); err == nil {
		t.Error("a backup overwrote a file")
	}
}

func TestRefusedRecord(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	_, err := s.AddReadings(t.Context(), []hub.Reading{{Chair: 77, Node: "n", Boot: "b", At: time.Now()}})
	if !errors.Is(err, hub.ErrRefused) {
		t.Errorf("a reading of no chair: error %v, want ErrRefused", err)
	}
}

func TestSecondProgramCanRead(t *testing.T) {
	path := newPath(t)
	a, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Close()
	b, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	if err := a.SetValue(t.Context(), "k", "v"); err != nil {
		t.Fatal(err)
	}
	if v, err := b.Value(t.Context(), "k"); v != "v" {
		t.Errorf("the second reads %q (%v)", v, err)
	}
}
