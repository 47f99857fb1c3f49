package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
)

// failing is a transaction of which one statement fails, the left-th from now on.
type failing struct {
	*sql.Tx
	left int
}

var errStatement = errors.New("the statement fails")

func (f *failing) fails() bool { f.left--; return f.left == -1 }

func (f *failing) ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error) {
	if f.fails() {
		return nil, errStatement
	}
	return f.Tx.ExecContext(ctx, query, args...)
}

func (f *failing) QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error) {
	if f.fails() {
		return nil, errStatement
	}
	return f.Tx.QueryContext(ctx, query, args...)
}

func (f *failing) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	if f.fails() {
		ended, end := context.WithCancelCause(ctx)
		end(errStatement)
		return f.Tx.QueryRowContext(ended, query, args...)
	}
	return f.Tx.QueryRowContext(ctx, query, args...)
}

// TestEveryStatementMayFail: whichever statement of a call fails, the call says so. Nobody is
// told of a commit that lacks a part.
func TestEveryStatementMayFail(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	if err := s.Commit(t.Context(), quayChanges()); err != nil {
		t.Fatal(err)
	}
	was := kept(t, s)
	for name, call := range calls {
		for n := 0; ; n++ {
			if n == 100 {
				t.Fatalf("%s has no end", name)
			}
			tx, err := s.db.Begin()
			if err != nil {
				t.Fatal(err)
			}
			f := &failing{Tx: tx, left: n}
			err = call(t.Context(), &Store{session: &session{q: f}})
			if rerr := tx.Rollback(); rerr != nil {
				t.Fatal(rerr)
			}
			if f.left >= 0 { // none was left to fail
				if err != nil {
					t.Errorf("%s: %v without a fault", name, err)
				}
				if n == 0 {
					t.Errorf("%s asks nothing", name)
				}
				break
			}
			if !errors.Is(err, errStatement) && !errors.Is(err, context.Canceled) {
				t.Errorf("%s: statement %d fails, and it says %v", name, n+1, err)
			}
		}
	}
	if now := kept(t, s); !reflect.DeepEqual(now, was) {
		t.Errorf("it changed\n%+v\nto\n%+v", was, now)
	}
}

// TestASecondCommitChangesNothing: the same changes once more leave the same.
func TestASecondCommitChangesNothing(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	changes := slices.DeleteFunc(quayChanges(), func(c hub.Change) bool {
		_, log := c.(hub.SettingAdded) // a log, of which each entry counts
		return log
	})
	var was []any
	for range 3 {
		if err := s.Commit(t.Context(), changes); err != nil {
			t.Fatal(err)
		}
		now := kept(t, s)
		if was != nil && !reflect.DeepEqual(now, was) {
			t.Errorf("it changed\n%+v\nto\n%+v", was, now)
		}
		was = now
	}
}

// TestOpeningAgainChangesNothing: what is in the file is what was committed, however often it
// is opened and by whom, and there is nothing beside it afterwards but the lock.
func TestOpeningAgainChangesNothing(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	if err := s.Commit(t.Context(), quayChanges()); err != nil {
		t.Fatal(err)
	}
	was := kept(t, s)
	for i := range 4 {
		if err := s.Close(); err != nil {
			t.Fatal(err)
		}
		entries, err := os.ReadDir(filepath.Dir(path))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			if e.Name() != filepath.Base(path) && e.Name() != filepath.Base(path)+lockSuffix {
				t.Errorf("%s is left behind", e.Name())
			}
		}
		if s, err = []func(context.Context, string) (*Store, error){Open, OpenAlone}[i%2](t.Context(), path); err != nil {
			t.Fatal(err)
		}
		if now := kept(t, s); !reflect.DeepEqual(now, was) {
			t.Errorf("opened anew it is\n%+v\nnot\n%+v", now, was)
		}
	}
	s.Close()
}

// TestARefusedOpenHoldsNothingUp: whatever stands in the way of a hub's start, once it is away
// the next start goes on, with the data as it was.
func TestARefusedOpenHoldsNothingUp(t *testing.T) {
	for what, c := range map[string]struct {
		do, undo func(path string) error
		want     error
		says     string
	}{
		"a folder of the lock's name": {
			func(path string) error { os.Remove(path + lockSuffix); return os.Mkdir(path+lockSuffix, 0o700) },
			func(path string) error { return os.Remove(path + lockSuffix) }, nil, "locking"},
		"a folder of the file's name": {
			func(path string) error { os.Rename(path, path+"-away"); return os.Mkdir(path, 0o700) },
			func(path string) error { os.Remove(path); return os.Rename(path+"-away", path) }, nil, "directory"},
		"a newer version": {
			func(path string) error { return execAt(path, "PRAGMA user_version = 99") },
			func(path string) error { return execAt(path, fmt.Sprintf("PRAGMA user_version = %d", len(migrations))) }, hub.ErrNewer, "99"},
		"another program's": {
			func(path string) error { return execAt(path, "PRAGMA application_id = 7") },
			func(path string) error {
				return execAt(path, fmt.Sprintf("PRAGMA application_id = %d", applicationID))
			}, nil, "another program"},
		"a file cut short": {
			func(path string) error { copyOf(path, path+"-away"); return os.Truncate(path, 8192) },
			func(path string) error { return os.Rename(path+"-away", path) }, hub.ErrDamaged, "damaged"},
	} {
		path := newPath(t)
		s := open1(t, path)
		put(t, s, "kept", false)
		s.Close()
		if err := c.do(path); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		for range 2 { // the first refusal lets go of the lock
			s, err := OpenAlone(t.Context(), path)
			if err == nil {
				s.Close()
				t.Fatalf("%s: opened", what)
			}
			if errors.Is(err, hub.ErrInUse) || c.want != nil && !errors.Is(err, c.want) || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%s: %v", what, err)
			}
		}
		if err := c.undo(path); err != nil {
			t.Fatalf("%s: %v", what, err)
		}
		if got := valueOf(t, path); got != "kept" {
			t.Errorf("%s: %q afterwards", what, got)
		}
		open1(t, path).Close()
	}
}

// execAt changes a file as another program would.
func execAt(path, query string) error {
	db, err := sql.Open("sqlite", path)
	if err != nil {
		return err
	}
	_, err = db.Exec(query)
	return errors.Join(err, db.Close())
}

func copyOf(from, to string) {
	data, err := os.ReadFile(from)
	if err == nil {
		err = os.WriteFile(to, data, 0o600)
	}
	if err != nil {
		panic(err)
	}
}

// folder is what lies in a folder, by name.
func folder(t *testing.T, dir string) map[string]string {
	t.Helper()
	out := map[string]string{}
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err != nil {
			data = []byte("a folder")
		}
		out[e.Name()] = string(data)
	}
	return out
}

// TestAFailedRestoreChangesNothing: wherever a restore fails, the folder is as it was, to the byte.
func TestAFailedRestoreChangesNothing(t *testing.T) {
	ctx := t.Context()
	long := strings.Repeat("x", 300) // longer than a file's name may be
	for what, change := range map[string]func(path string, p *Plan){
		"the folder for what is there is taken": func(path string, p *Plan) {
			if err := os.Mkdir(filepath.Join(filepath.Dir(path), "before-restore-2027-03-01-190000"), 0o700); err != nil {
				t.Fatal(err)
			}
		},
		"a file that cannot be put aside":  func(_ string, p *Plan) { p.Files, p.Fresh = []string{"key.pem", long}, []string{"hub"} },
		"a file that cannot be written":    func(_ string, p *Plan) { p.Files = []string{"key.pem", "second.pem", "sub/third.pem"} },
		"a file that is not a file's text": func(_ string, p *Plan) { p.Files = []string{"key.pem", "garbled"} },
	} {
		path, _ := backedUp(t)
		src := newPath(t) // a data folder with more files
		s := open1(t, src)
		for _, err := range []error{
			s.SetValue(ctx, "k", "other"), s.SetValue(ctx, "hub", "id2"), s.SetValue(ctx, fileKey+"garbled", "%%%"),
			os.WriteFile(filepath.Join(filepath.Dir(src), "key.pem"), []byte("other key"), 0o600),
			os.WriteFile(filepath.Join(filepath.Dir(src), "second.pem"), []byte("second"), 0o600),
			os.Mkdir(filepath.Join(filepath.Dir(src), "sub"), 0o700),
			os.WriteFile(filepath.Join(filepath.Dir(src), "sub", "third.pem"), []byte("third"), 0o600),
		} {
			if err != nil {
				t.Fatal(err)
			}
		}
		copied := filepath.Join(t.TempDir(), "copy.db")
		if err := s.Backup(ctx, copied, "key.pem", "second.pem", "sub/third.pem"); err != nil {
			t.Fatal(err)
		}
		s.Close()
		p := plan(copied, path)
		change(path, &p)
		was := folder(t, filepath.Dir(path))
		for range 3 { // the files come in any order
			aside, err := Restore(ctx, p)
			if err == nil || aside != "" {
				t.Fatalf("%s: %q, %v", what, aside, err)
			}
			if now := folder(t, filepath.Dir(path)); !reflect.DeepEqual(now, was) {
				t.Fatalf("%s: the folder changed from %v to %v (%v)", what, keys(was), keys(now), err)
			}
		}
		open1(t, path).Close() // not held up either
	}
}

func keys(m map[string]string) (out []string) {
	for k := range m {
		out = append(out, k)
	}
	slices.Sort(out)
	return out
}

// TestARestoreOfNothing: into an empty folder nothing is put aside, and a copy with its
// write-ahead log beside it is read whole and left as it is.
func TestARestoreOfNothing(t *testing.T) {
	from := newPath(t)
	s := open1(t, from)
	put(t, s, "in the log", false)
	there := filepath.Join(t.TempDir(), "by hand.db")
	copyFile(t, from, there)
	copyFile(t, from+"-wal", there+"-wal")
	s.Close()
	was := folder(t, filepath.Dir(there))
	path := newPath(t)
	aside, err := Restore(t.Context(), plan(there, path))
	if err != nil || aside != "" {
		t.Fatalf("%q, %v", aside, err)
	}
	if got := keys(folder(t, filepath.Dir(path))); !slices.Equal(got, []string{"hub.db", "hub.db" + lockSuffix}) {
		t.Errorf("in the folder: %v", got)
	}
	if got := valueOf(t, path); got != "in the log" {
		t.Errorf("%q", got)
	}
	if now := folder(t, filepath.Dir(there)); !reflect.DeepEqual(now, was) {
		t.Errorf("the copy changed: %v", keys(now))
	}
	// Once more: what is there goes aside, whole, and the same is there.
	if aside, err = Restore(t.Context(), plan(there, path)); err != nil || aside == "" {
		t.Fatalf("%q, %v", aside, err)
	}
	if got, old := valueOf(t, path), valueOf(t, filepath.Join(aside, "hub.db")); got != "in the log" || old != got {
		t.Errorf("%q, aside %q", got, old)
	}
}

// TestABackupThatFailsLeavesNothing: neither over a file that is there, nor half of one.
func TestABackupThatFailsLeavesNothing(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	defer s.Close()
	put(t, s, "v", false)
	dir := t.TempDir()
	there := filepath.Join(dir, "there.db")
	if err := os.WriteFile(there, []byte("something"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(filepath.Dir(path), "folder"), 0o700); err != nil {
		t.Fatal(err)
	}
	ended, end := context.WithCancel(t.Context())
	end()
	was := folder(t, dir)
	for what, err := range map[string]error{
		"over a file":              s.Backup(t.Context(), there),
		"into no folder":           s.Backup(t.Context(), filepath.Join(dir, "none", "x.db")),
		"with a folder for a file": s.Backup(t.Context(), filepath.Join(dir, "x.db"), "folder"),
		"when the time is up":      s.Backup(ended, filepath.Join(dir, "x.db")),
	} {
		if err == nil || !strings.Contains(err.Error(), "backup to") {
			t.Errorf("%s: %v", what, err)
		}
	}
	if now := folder(t, dir); !reflect.DeepEqual(now, was) {
		t.Errorf("left: %v", keys(now))
	}
	if err := s.Backup(t.Context(), there); !strings.Contains(err.Error(), "exists") {
		t.Errorf("%v", err)
	}
	if err := s.Backup(t.Context(), filepath.Join(dir, "none", "x.db")); !errors.Is(err, os.ErrNotExist) {
		t.Errorf("%v", err)
	}
}

// TestTimesComeBack: a moment is the same after it was kept, to the nanosecond, the zero one too.
func TestTimesComeBack(t *testing.T) {
	for _, at := range []time.Time{{}, time.Unix(0, 1), time.Unix(0, -1), time.Date(1999, 12, 31, 23, 59, 59, 999999999, time.UTC), time.Date(2200, 1, 1, 0, 0, 0, 1, time.FixedZone("", 3600))} {
		if got := moment(nanos(at)); !got.Equal(at) || got.IsZero() != at.IsZero() || got.Location() != time.UTC {
			t.Errorf("%v comes back as %v", at, got)
		}
	}
}
