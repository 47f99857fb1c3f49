package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"runtime"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/testdata/smalldisk"
)

// fullOfNames is a backup, and a disk that holds a database but takes no more files.
func fullOfNames(t *testing.T) (backup string, disk smalldisk.Disk, path string) {
	_, backup = backedUp(t)
	disk = smalldisk.New(t, 1024)
	path = filepath.Join(disk.Dir, "hub.db")
	s := open1(t, path)
	put(t, s, "kept", false)
	s.Close()
	disk.FillNames(t)
	return backup, disk, path
}

// TestNoRoomForAName: a disk that takes no more files, though there are bytes left, is told
// from others, and what is there stays.
func TestNoRoomForAName(t *testing.T) {
	backup, disk, path := fullOfNames(t)
	was := folder(t, disk.Dir)
	for what, open := range map[string]func(context.Context, string) (*Store, error){"open": Open, "alone": OpenAlone} {
		if _, err := open(t.Context(), path); !errors.Is(err, hub.ErrFull) || !strings.Contains(err.Error(), "free some space") {
			t.Errorf("%s: %v", what, err)
		}
	}
	if aside, err := Restore(t.Context(), plan(backup, path)); err == nil || aside != "" {
		t.Errorf("restored: %q, %v", aside, err)
	}
	if now := folder(t, disk.Dir); !reflect.DeepEqual(now, was) {
		t.Error("the folder changed")
	}
}

// TestNoRoomForARestore: the copy is read and checked, and there is no room to write it anew.
func TestNoRoomForARestore(t *testing.T) {
	path, backup := backedUp(t)
	disk := smalldisk.New(t, 64)
	disk.Fill(t)
	_, err := plan(backup, path).prepare(t.Context(), filepath.Join(t.TempDir(), "scratch.db"), filepath.Join(disk.Dir, "whole.db"))
	if !errors.Is(err, hub.ErrFull) {
		t.Errorf("%v, want %v", err, hub.ErrFull)
	}
}

// TestARestoreWithoutItsFolder: if the working folder goes away under a restore, it says which
// file could not be written, and has touched nothing.
func TestARestoreWithoutItsFolder(t *testing.T) {
	path, backup := backedUp(t)
	was := folder(t, filepath.Dir(path))
	gone := filepath.Join(t.TempDir(), "gone", "whole.db")
	p := plan(backup, path)
	_, err := p.prepare(t.Context(), filepath.Join(t.TempDir(), "scratch.db"), gone)
	_, err2 := p.exchange(gone, map[string][]byte{"key.pem": []byte("k")})
	for _, err := range []error{err, err2} {
		var at *fs.PathError // of the writing, not of what comes after it
		if !errors.As(err, &at) || at.Op != "open" || !strings.HasPrefix(at.Path, filepath.Dir(gone)) {
			t.Errorf("%v", err)
		}
	}
	if now := folder(t, filepath.Dir(path)); !reflect.DeepEqual(now, was) {
		t.Errorf("the folder changed to %v", keys(now))
	}
}

// TestACopyThatResists: a copy that does not let go of what must not come along is no copy.
func TestACopyThatResists(t *testing.T) {
	for what, query := range map[string]string{
		"keeps the files": "CREATE TRIGGER stays BEFORE DELETE ON value BEGIN SELECT RAISE(ABORT, 'stays'); END",
		"keeps the nodes": "CREATE TRIGGER stays BEFORE DELETE ON node BEGIN SELECT RAISE(ABORT, 'stays'); END",
		"cannot be checked": `CREATE TABLE kin (x INTEGER); CREATE TABLE child (y INTEGER REFERENCES kin(x));
			INSERT INTO kin VALUES (1); INSERT INTO child VALUES (1)`,
	} {
		path, backup := backedUp(t)
		if err := execAt(backup, query); err != nil {
			t.Fatal(err)
		}
		was := folder(t, filepath.Dir(path))
		p := plan(backup, path)
		p.Fresh = []string{"hub"}
		if aside, err := Restore(t.Context(), p); err == nil || aside != "" {
			t.Errorf("%s: %q, %v", what, aside, err)
		}
		if now := folder(t, filepath.Dir(path)); !reflect.DeepEqual(now, was) {
			t.Errorf("%s: the folder changed to %v", what, keys(now))
		}
	}
}

// TestARowThatIsNoRecord: what another hand has put into a row is said, and never read as
// something else.
func TestARowThatIsNoRecord(t *testing.T) {
	for query, names := range map[string][]string{
		"UPDATE reading SET answer = '{'":                    {"readings", "answers"},
		"UPDATE reading SET heard = '{'":                     {"readings", "answers"},
		"UPDATE reading SET wire = '{'":                      {"readings", "answers"},
		"UPDATE reading SET counted = 7":                     {"readings", "answers", "figures"},
		`UPDATE reading SET wire = '{"mute"'`:                {"readings", "figures"},
		"UPDATE round SET doc = '{'":                         {"rounds", "delete"},
		"UPDATE section SET doc = '{'":                       {"sections"},
		"UPDATE chair SET doc = '{'":                         {"sections"},
		"INSERT INTO value VALUES ('" + keyClock + "', '{')": {"expire"},
	} {
		s := openTemp(t)
		if err := s.Commit(t.Context(), quayChanges()); err != nil {
			t.Fatal(err)
		}
		if _, err := s.db.Exec(query); err != nil {
			t.Fatal(err)
		}
		for _, name := range names {
			if name == "figures" && strings.Contains(query, "counted") {
				continue // asks whether, not how often
			}
			if err := calls[name](t.Context(), s); err == nil {
				t.Errorf("%s after %s", name, query)
			}
		}
		s.Close()
	}
}

// TestWhatIsRefusedIsNotSaved: a note of a chair that is not there stays as it was.
func TestWhatIsRefusedIsNotSaved(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	if err := s.Commit(t.Context(), quayChanges()); err != nil {
		t.Fatal(err)
	}
	was := kept(t, s)
	if err := s.SaveReading(t.Context(), hub.Reading{ID: 5, Chair: 77, Node: "n", Boot: "b", At: at}); !errors.Is(err, hub.ErrRefused) {
		t.Errorf("%v", err)
	}
	if now := kept(t, s); !reflect.DeepEqual(now, was) {
		t.Errorf("it changed\n%+v\nto\n%+v", was, now)
	}
}

// TestRoundsOfOthersStay: who is struck out changes no round that was not theirs, to the byte:
// what a newer program has written into it stays, too.
func TestRoundsOfOthersStay(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	if err := s.Commit(t.Context(), quayChanges()); err != nil {
		t.Fatal(err)
	}
	if _, err := s.SaveRound(t.Context(), hub.Round{ID: 9, Section: 1, Started: at, Queue: []hub.ChairID{3}}); err != nil {
		t.Fatal(err)
	}
	doc := func(id int) (text string) {
		if err := s.db.QueryRow("SELECT doc FROM round WHERE id = ?", id).Scan(&text); err != nil {
			t.Fatal(err)
		}
		return text
	}
	later := strings.Replace(doc(9), "{", `{"of a later program":1,`, 1)
	if _, err := s.db.Exec("UPDATE round SET doc = ? WHERE id = 9", later); err != nil {
		t.Fatal(err)
	}
	was := doc(4)
	if err := s.DeletePlayer(t.Context(), 2); err != nil {
		t.Fatal(err)
	}
	if doc(9) != later || doc(4) == was {
		t.Errorf("%s, %s", doc(9), doc(4))
	}
}

// thief takes the file away after a statement, before its answer is read.
type thief struct {
	*sql.DB
	does func()
}

func (d thief) QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row {
	row := d.DB.QueryRowContext(ctx, query, args...)
	d.does()
	return row
}

// TestTakenAtACheckpoint: a file that goes or is replaced while it is checkpointed is noticed
// with the same commit, and so is a checkpoint that fails; one that goes well is none of these.
func TestTakenAtACheckpoint(t *testing.T) {
	for what, c := range map[string]struct {
		does func(path string)
		ends bool
		want error
	}{
		"nothing":         {func(string) {}, false, nil},
		"it is gone":      {func(path string) { os.Rename(path, path+"-away") }, false, hub.ErrMoved},
		"it is another":   {func(path string) { copyOf(path, path+"-new"); os.Rename(path+"-new", path) }, false, hub.ErrMoved},
		"no time is left": {func(string) {}, true, context.Canceled},
	} {
		path := newPath(t)
		s := open1(t, path)
		put(t, s, "v", false)
		ctx, end := context.WithCancel(t.Context())
		if c.ends {
			end()
		}
		s.presence.commits = checkpointAfter
		if err := s.presence.committed(ctx, thief{s.db, func() { c.does(path) }}); !errors.Is(err, c.want) {
			t.Errorf("%s: %v", what, err)
		}
		if s.presence.commits != 0 {
			t.Errorf("%s: %d commits since the checkpoint", what, s.presence.commits)
		}
		end()
		s.Close()
	}
}

// TestAnotherLogIsNoticed: a log of the same name and content is another, and so is one that
// has become shorter; ours that has grown is not.
func TestAnotherLogIsNoticed(t *testing.T) {
	for what, c := range map[string]struct {
		do    func(wal string) error
		moved bool
	}{
		"left alone": {func(string) error { return nil }, false},
		"replaced":   {func(wal string) error { copyOf(wal, wal+"-new"); return os.Rename(wal+"-new", wal) }, true},
		"cut short":  {func(wal string) error { return os.Truncate(wal, 32) }, true},
	} {
		path := newPath(t)
		s := open1(t, path)
		put(t, s, "first", false)
		if err := c.do(path + "-wal"); err != nil {
			t.Fatal(err)
		}
		if err := s.presence.look(); errors.Is(err, hub.ErrMoved) != c.moved || !c.moved && err != nil {
			t.Errorf("%s: %v", what, err)
		}
		s.Close()
	}
}

// TestALogThatCannotBePutAside: the name for what is put aside is longer than a file's may be.
// The close says so, and leaves the log where it is.
func TestALogThatCannotBePutAside(t *testing.T) {
	path := filepath.Join(t.TempDir(), strings.Repeat("h", 230))
	s := open1(t, path)
	put(t, s, "v", false)
	rename(t, path, filepath.Join(filepath.Dir(path), "away"))
	if err := s.Close(); err == nil {
		t.Error("nothing is said")
	}
	if _, err := os.Stat(path + "-wal"); err != nil {
		t.Error(err)
	}
}

// TestWhatCannotBeSeen: a file that is not there cannot be watched; one that others may read
// and that cannot be closed to them is told, but one that is not there.
func TestWhatCannotBeSeen(t *testing.T) {
	none := filepath.Join(t.TempDir(), "none")
	if p, err := watch(none); !errors.Is(err, fs.ErrNotExist) || p != nil {
		t.Errorf("%v, %v", p, err)
	}
	if err := private(none); err != nil {
		t.Errorf("%v", err)
	}
	if err := private(filepath.Join(t.TempDir(), strings.Repeat("x", 300))); err == nil {
		t.Error("nothing is said of a name that is too long")
	}
}

// TestClosingTellsWhatFails: a lock that was let go of before is told, not passed over.
func TestClosingTellsWhatFails(t *testing.T) {
	s := open1(t, newPath(t))
	s.lock.conn.Close()
	if err := s.Close(); !errors.Is(err, sql.ErrConnDone) || !strings.Contains(err.Error(), "closing") {
		t.Errorf("%v", err)
	}
}

// TestACopyInTheWayOfAMigration: a folder of the copy's name stops the migration before it has
// begun.
func TestACopyInTheWayOfAMigration(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	put(t, s, "kept", false)
	s.Close()
	next := append(migrations[:len(migrations):len(migrations)], "CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT")
	stands := strings.TrimSuffix(path, ".db") + "-v" + string(rune('0'+len(migrations))) + ".db"
	if err := os.MkdirAll(filepath.Join(stands, "full"), 0o700); err != nil {
		t.Fatal(err)
	}
	s, err := open(t.Context(), path, next)
	if err == nil {
		s.Close()
	}
	var at *fs.PathError
	if !errors.As(err, &at) || at.Path != stands {
		t.Fatalf("%v", err)
	}
	if got := valueOf(t, path); got != "kept" {
		t.Errorf("%q", got)
	}
}

// TestWhatIsNoNumberIsNotKept: nothing that JSON has no word for goes into a row.
func TestWhatIsNoNumberIsNotKept(t *testing.T) {
	defer func() {
		if recover() == nil {
			t.Error("it was encoded")
		}
	}()
	encode(math.NaN())
}

// TestNothingStaysOpen: after a hub's whole life, copies and restores among it, no file of its
// folder or of a copy's is open.
func TestNothingStaysOpen(t *testing.T) {
	if runtime.GOOS != "linux" {
		t.Skip("Linux tells which files are open")
	}
	open := func(dir string) (out []string) {
		fds, err := os.ReadDir("/proc/self/fd")
		if err != nil {
			t.Fatal(err)
		}
		for _, fd := range fds {
			if name, err := os.Readlink(filepath.Join("/proc/self/fd", fd.Name())); err == nil && strings.HasPrefix(name, dir+"/") {
				out = append(out, name)
			}
		}
		return out
	}
	path, backup := backedUp(t)
	if got := append(open(filepath.Dir(path)), open(filepath.Dir(backup))...); len(got) > 0 {
		t.Errorf("after a copy: %v", got)
	}
	p := plan(backup, path)
	for range 2 {
		if _, err := Restore(t.Context(), p); err != nil {
			t.Fatal(err)
		}
		p.Now = p.Now.Add(time.Second)
		if got := append(open(filepath.Dir(path)), open(filepath.Dir(backup))...); len(got) > 0 {
			t.Errorf("after a restore: %v", got)
		}
	}
	for range 2 {
		s := open1(t, path)
		if len(open(filepath.Dir(path))) == 0 {
			t.Error("nothing is open of a file in use")
		}
		s.Close()
		if got := open(filepath.Dir(path)); len(got) > 0 {
			t.Errorf("after the close: %v", got)
		}
	}
}

// TestNoRoomForTheCopyBeforeAMigration: without the copy the migration does not begin, and the
// older program goes on.
func TestNoRoomForTheCopyBeforeAMigration(t *testing.T) {
	disk := smalldisk.New(t, 1024)
	path := filepath.Join(disk.Dir, "hub.db")
	s := open1(t, path)
	defer s.Close()
	put(t, s, strings.Repeat("kept", 1000), false)
	disk.Fill(t)
	next := append(migrations[:len(migrations):len(migrations)], "CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT")
	later, err := open(t.Context(), path, next)
	if err == nil {
		later.Close()
	}
	if !errors.Is(err, hub.ErrFull) || !strings.Contains(err.Error(), "copy to") || !strings.Contains(err.Error(), "before the migration") {
		t.Errorf("%v", err)
	}
	disk.Free(t)
	put(t, s, "goes on", false)
}
