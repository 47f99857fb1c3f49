package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
)

// meanwhile is a change during which something else happens.
type meanwhile func()

func (m meanwhile) Write(context.Context, hub.Writer) error { m(); return nil }

// TestACommitThatCannotEndIsSaid: a commit whose time is up, or whose file is taken away, in its
// last moment is not acknowledged.
func TestACommitThatCannotEndIsSaid(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	put(t, s, "first", false)
	ctx, end := context.WithCancel(t.Context())
	if err := s.Commit(ctx, []hub.Change{hub.ValueChange{Key: "k", Is: "lost"}, meanwhile(end)}); err == nil {
		t.Error("a commit is acknowledged after its time")
	}
	if v, err := s.Value(t.Context(), "k"); v != "first" {
		t.Errorf("%q, %v", v, err)
	}
	away := meanwhile(func() { os.Rename(path, path+"-away") })
	if err := s.Commit(t.Context(), []hub.Change{hub.ValueChange{Key: "k", Is: "second"}, away}); !errors.Is(err, hub.ErrMoved) {
		t.Errorf("a commit into a file that is gone: %v", err)
	}
	if err := s.Commit(t.Context(), []hub.Change{meanwhile(func() { t.Error("a commit is begun in a file that is gone") })}); !errors.Is(err, hub.ErrMoved) {
		t.Errorf("%v", err)
	}
	rename(t, path+"-away", path)
	if err := s.Commit(t.Context(), []hub.Change{hub.ValueChange{Key: "k", Is: "third"}}); err != nil {
		t.Error(err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
}

// inMain reports whether a text has reached the main file rather than its log alone.
func inMain(t *testing.T, path, text string) bool {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return strings.Contains(string(data), text)
}

// TestCheckpoints: what is committed reaches the main file after so many commits, or so many
// bytes, and not before; and the next comes as much later.
func TestCheckpoints(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	defer s.Close()
	commit := func(text string) {
		t.Helper()
		if err := s.Commit(t.Context(), []hub.Change{hub.ValueChange{Key: "k", Is: text}}); err != nil {
			t.Fatal(err)
		}
	}
	before := s.presence.commits
	commit("one more")
	if s.presence.commits != before+1 {
		t.Fatalf("%d commits after one, want %d", s.presence.commits, before+1)
	}
	for range 2 { // the second as late as the first
		s.presence.commits = checkpointAfter - 2 // those that came before
		commit("the last but one")
		if inMain(t, path, "the last but one") {
			t.Error("checkpointed too soon")
		}
		commit("the last of them")
		if !inMain(t, path, "the last of them") || s.presence.commits != 0 {
			t.Errorf("not checkpointed after %d commits", checkpointAfter)
		}
	}
	commit("begun" + strings.Repeat("x", checkpointBytes/2))
	if inMain(t, path, "begun") {
		t.Error("checkpointed after half of the bytes")
	}
	commit("large" + strings.Repeat("x", checkpointBytes))
	if !inMain(t, path, "large") {
		t.Error("not checkpointed after so many bytes")
	}
	commit("small")
	if inMain(t, path, "small") {
		t.Error("checkpointed again at once, for a log that had been large")
	}
}

// TestTheLogOfAnotherFileIsSetAside: what belongs to the file that was there before neither
// stays beside the one that is there now nor is lost.
func TestTheLogOfAnotherFileIsSetAside(t *testing.T) {
	path, backup := newPath(t), filepath.Join(t.TempDir(), "backup.db")
	s := open1(t, path)
	put(t, s, "backed up", false)
	if err := s.Backup(t.Context(), backup); err != nil {
		t.Fatal(err)
	}
	put(t, s, "later", false)
	copyFile(t, backup, path)
	err := s.SetValue(t.Context(), "k", "lost")
	if !errors.Is(err, hub.ErrMoved) || !strings.Contains(err.Error(), path+" was written over under the running hub; stop it, see which data is right") {
		t.Errorf("%v", err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	var names []string
	for name := range folder(t, filepath.Dir(path)) {
		name = strings.TrimPrefix(name, filepath.Base(path))
		if i := strings.LastIndex(name, "-of-before-"); i >= 0 {
			name = name[:i] + "-of-before" + name[strings.LastIndex(name, "-"):]
		}
		names = append(names, name)
	}
	slices.Sort(names)
	if want := []string{"", "-of-before-shm", "-of-before-wal", ".lock"}; !slices.Equal(names, want) {
		t.Errorf("left %q, want %q", names, want)
	}
	// A folder that is gone says so, too, with its path.
	path = newPath(t)
	s = open1(t, path)
	os.RemoveAll(filepath.Dir(path))
	if err := s.SetValue(t.Context(), "k", "lost"); !errors.Is(err, hub.ErrMoved) || !strings.Contains(err.Error(), path+" is gone") {
		t.Errorf("%v", err)
	}
	s.Close()
}

// TestWhatIsWrittenOverIsNoticed: by its time alone, or by its size alone.
func TestWhatIsWrittenOverIsNoticed(t *testing.T) {
	for _, bySize := range []bool{true, false} {
		path := newPath(t)
		s := open1(t, path)
		put(t, s, "first", false)
		info, err := os.Stat(path)
		if err != nil {
			t.Fatal(err)
		}
		then := info.ModTime().Add(time.Second)
		if bySize {
			then = info.ModTime()
			err = os.Truncate(path, info.Size()+4096)
		}
		if err := errors.Join(err, os.Chtimes(path, then, then)); err != nil {
			t.Fatal(err)
		}
		put(t, s, "refused", true)
		s.Close()
	}
}

// TestAnothersLogStays: a folder that another hub has left, its log included, is as it was after
// it was put in the place of a running hub's.
func TestAnothersLogStays(t *testing.T) {
	path, other := newPath(t), newPath(t)
	o := open1(t, other)
	put(t, o, "the other's", false)
	killed := filepath.Join(t.TempDir(), "hub.db") // as if it had been killed here
	copyFile(t, other, killed)
	copyFile(t, other+"-wal", killed+"-wal")
	o.Close()
	s := open1(t, path)
	put(t, s, "first", false)
	rename(t, filepath.Dir(path), filepath.Dir(path)+"-away")
	rename(t, filepath.Dir(killed), filepath.Dir(path))
	was := folder(t, filepath.Dir(path))
	put(t, s, "lost", true)
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if now := folder(t, filepath.Dir(path)); !reflect.DeepEqual(now, was) {
		t.Errorf("it changed from %v to %v", keys(was), keys(now))
	}
	if got := valueOf(t, path); got != "the other's" {
		t.Errorf("%q", got)
	}
}

// TestAStoreChangesNothingOfWhatItIsHanded: numbers that it gives come back with what it returns.
func TestAStoreChangesNothingOfWhatItIsHanded(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	sec := hub.Section{Name: "Quay", Chairs: []hub.Chair{{Label: "Horn 1"}, {Label: "Horn 2"}}}
	was := sec.Clone()
	got, err := s.SaveSection(t.Context(), sec)
	if err != nil || got.Chairs[0].ID == 0 || got.Chairs[1].ID == got.Chairs[0].ID || !reflect.DeepEqual(sec, was) {
		t.Errorf("%+v becomes %+v, %v", was, sec, err)
	}
}

// TestWhatIsCutOffIsNoList: rows that stop coming are an error, not fewer rows.
func TestWhatIsCutOffIsNoList(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	ctx, end := context.WithCancel(t.Context())
	all, err := list(ctx, s.session, "numbers", func(r *sql.Rows) (n int, err error) {
		if ctx.Err() != nil {
			return 0, nil
		}
		defer end()
		return n, r.Scan(&n)
	}, "WITH RECURSIVE numbers(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM numbers WHERE n < 10000000) SELECT n FROM numbers")
	if !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "numbers") || all != nil {
		t.Errorf("%d rows, %v", len(all), err)
	}
}

// TestTheHubsWordComesFirst: an error of the file's is told in the hub's own words, and what the
// driver says follows.
func TestTheHubsWordComesFirst(t *testing.T) {
	s := openTemp(t)
	defer s.Close()
	_, refused := s.SaveMove(t.Context(), hub.MoveRecord{Chair: 77})
	_, mismatch := s.db.Exec("INSERT INTO value(rowid, key, value) VALUES ('a word', 'j', '')")
	s.db.Exec("PRAGMA query_only = 1")
	kept := s.SetValue(t.Context(), "k", "v")
	s.db.Exec("PRAGMA query_only = 0")
	s.db.Exec("PRAGMA max_page_count = 30")
	full := s.SetValue(t.Context(), "k", strings.Repeat("x", 1<<20))
	path := newPath(t)
	if err := os.MkdirAll(filepath.Dir(path), 0o700); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(path, []byte(strings.Repeat("no database ", 500)), 0o600); err != nil {
		t.Fatal(err)
	}
	_, damaged := Open(t.Context(), path)
	for want, err := range map[error]error{hub.ErrRefused: refused, hub.ErrReadOnly: kept, hub.ErrFull: full, hub.ErrDamaged: damaged} {
		if !errors.Is(err, want) {
			t.Errorf("%v is no %v", err, want)
		} else if text := err.Error(); !strings.Contains(text, want.Error()+" (") {
			t.Errorf("%s: want %v first", text, want)
		}
	}
	if err := translate(mismatch); !errors.Is(err, hub.ErrRefused) {
		t.Errorf("a word for a number: %v", err)
	}
	if _, err := Open(t.Context(), filepath.Join(path, "hub.db")); err == nil || errors.Is(err, hub.ErrDamaged) || !strings.Contains(err.Error(), "data folder "+path) {
		t.Errorf("a file for a folder: %v", err)
	}
}

// TestFilesOfAnyModeBecomeTheOwners: whoever else could read or write the file before cannot after.
func TestFilesOfAnyModeBecomeTheOwners(t *testing.T) {
	path := newPath(t)
	open1(t, path).Close()
	for _, others := range []os.FileMode{0, 1, 2, 4, 7, 0o10, 0o20, 0o40, 0o70, 0o77} {
		if err := os.Chmod(path, 0o600|others); err != nil {
			t.Fatal(err)
		}
		open1(t, path).Close()
		if info, err := os.Stat(path); err != nil || info.Mode().Perm() != 0o600 {
			t.Errorf("%o becomes %v, %v", 0o600|others, info.Mode(), err)
		}
	}
}

// of each kind of record one at each moment, in this order.
func everything(t *testing.T, moments ...time.Time) *Store {
	t.Helper()
	s := recorded(t, moments...)
	secs, err := s.Sections(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	chair := secs[0].Chairs[0].ID
	for _, m := range moments {
		_, err := s.SaveRound(t.Context(), hub.Round{Section: secs[0].ID, Started: m})
		if err == nil {
			_, err = s.SaveMove(t.Context(), hub.MoveRecord{Chair: chair, At: m})
		}
		if err == nil {
			err = s.AddSetting(t.Context(), hub.SettingRecord{Chair: chair, At: m})
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// counts is how many there are of each kind.
func counts(t *testing.T, s *Store) (n [4]int) {
	t.Helper()
	for i, table := range []string{"reading", "move", "round", "setting"} {
		if err := s.db.QueryRow("SELECT count(*) FROM " + table).Scan(&n[i]); err != nil {
			t.Fatal(err)
		}
	}
	return n
}

// TestAllKindsOfRecordsExpireAlike: what is older than the limit goes, of every kind, and what is
// as old as it stays; a second time changes nothing; and what is from before this program was
// made is left, to the nanosecond.
func TestAllKindsOfRecordsExpireAlike(t *testing.T) {
	now, keep, made := time.Date(2027, 5, 1, 9, 0, 0, 0, time.UTC), 30*day, time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	s := everything(t, made.Add(-day), made, made.Add(1), now.Add(-keep-1), now.Add(-keep), now.Add(-keep+1), now.Add(-day))
	for range 2 {
		if doubt, err := s.Expire(t.Context(), now, keep); err != nil || !doubt.IsZero() {
			t.Fatalf("%v, %v", doubt, err)
		}
		if got := counts(t, s); got != [4]int{5, 5, 5, 5} {
			t.Errorf("%v left, want two of before and three of each", got)
		}
	}
	if err := s.Forget(t.Context(), now.Add(-keep+1)); err != nil { // by a person's date all go
		t.Fatal(err)
	}
	if got := counts(t, s); got != [4]int{2, 2, 2, 2} {
		t.Errorf("%v left, want two of each", got)
	}
}

// TestALeapOfTheClock: a clock that went on by the longest break is believed, by more it is not,
// for as long as it stays away; and what was recorded until a break after the leap is left.
func TestALeapOfTheClock(t *testing.T) {
	start := time.Date(2027, 5, 1, 9, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		later time.Duration
		doubt bool
	}{{leapFrom, false}, {leapFrom + 1, true}, {0, false}} {
		s := everything(t, start.Add(-day))
		if _, err := s.Expire(t.Context(), start, 1000*day); err != nil {
			t.Fatal(err)
		}
		doubt, err := s.Expire(t.Context(), start.Add(c.later), 1000*day)
		if err != nil || doubt.IsZero() == c.doubt || c.doubt && !doubt.Equal(start) {
			t.Errorf("%v later: doubt %v, %v", c.later, doubt, err)
		}
		// Back within a break of the moment before the leap: all is well again.
		if doubt, err = s.Expire(t.Context(), start.Add(leapFrom), 1000*day); err != nil || !doubt.IsZero() {
			t.Errorf("%v later and back: doubt %v, %v", c.later, doubt, err)
		}
	}
	ahead := start.Add(5 * leapFrom)
	s := everything(t, start.Add(leapFrom), start.Add(leapFrom+1), ahead.Add(-day))
	for _, now := range []time.Time{start, ahead} {
		if _, err := s.Expire(t.Context(), now, 30*day); err != nil {
			t.Fatal(err)
		}
	}
	if got := counts(t, s); got != [4]int{2, 2, 2, 2} {
		t.Errorf("%v left, want the one within a break of the leap and the new one", got)
	}
}

// TestNumbersUpToTheLargest: every number of a reading that the file can hold is kept, and no other.
func TestNumbersUpToTheLargest(t *testing.T) {
	s := everything(t)
	secs, err := s.Sections(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	r := hub.Reading{Chair: secs[0].Chairs[0].ID, Node: "far", Boot: "b", At: at}
	for _, n := range []uint64{1, 2, 1 << 40, 1<<62 + 7, math.MaxInt64} {
		r.Wire = proto.Reading{Sequence: n}
		if rs, err := s.AddReadings(t.Context(), []hub.Reading{r}); err != nil || rs[0].ID == 0 {
			t.Errorf("%d: %v", n, err)
		}
	}
	r.Wire.Sequence = math.MaxInt64 + 1
	if _, err := s.AddReadings(t.Context(), []hub.Reading{r}); !errors.Is(err, hub.ErrRefused) {
		t.Errorf("%d: %v", r.Wire.Sequence, err)
	}
	if n, err := s.Stored(t.Context(), "far", "b"); n != 2 || err != nil {
		t.Errorf("stored %d, %v", n, err)
	}
}

// TestADeletedPlayerIsNowhere: of whoever is deleted not even the name is left in the file.
func TestADeletedPlayerIsNowhere(t *testing.T) {
	path := newPath(t)
	s := open1(t, path)
	const name = "Zwentibold"
	sec, err := s.SaveSection(t.Context(), hub.Section{Name: "Quay", Chairs: []hub.Chair{{Label: "Horn 1", Name: name, Instrument: "horn_f"}, {Label: "Horn 2", Name: "Ada", Instrument: "horn_f"}}})
	if err != nil {
		t.Fatal(err)
	}
	chair := sec.Chairs[0].ID
	if _, err := s.AddReadings(t.Context(), []hub.Reading{{Chair: chair, Node: "n", Boot: "b", At: at, Wire: proto.Reading{Sequence: 1}}}); err != nil {
		t.Fatal(err)
	}
	if err := s.DeletePlayer(t.Context(), chair); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	for file, data := range folder(t, filepath.Dir(path)) {
		if strings.Contains(data, name) {
			t.Errorf("%s still has the name", file)
		}
	}
	if !inMain(t, path, "Ada") {
		t.Error("the other's name is gone")
	}
}

// TestDamageBesideALog: a file that is none is told as that, also with a log beside it, which
// belongs to it.
func TestDamageBesideALog(t *testing.T) {
	path := newPath(t)
	open1(t, path).Close()
	text := []byte(strings.Repeat("no database ", 500))
	for _, name := range []string{path, path + "-wal"} {
		if err := os.WriteFile(name, text, 0o600); err != nil {
			t.Fatal(err)
		}
	}
	if s, err := Open(t.Context(), path); !errors.Is(err, hub.ErrDamaged) || !strings.Contains(err.Error(), "opening "+path) {
		t.Errorf("%v, %v", s, err)
	}
	if data, err := os.ReadFile(path); err != nil || string(data) != string(text) {
		t.Errorf("it was changed, %v", err)
	}
	if _, err := Restore(t.Context(), plan(filepath.Dir(path), newPath(t))); err == nil || !strings.Contains(err.Error(), "reading "+filepath.Dir(path)) {
		t.Errorf("a folder for a copy: %v", err)
	}
}

// TestAMigrationMayBeTriedAgain: an attempt that failed leaves its copy, which the next one
// replaces, and says which version could not be reached; no copy, no migration.
func TestAMigrationMayBeTriedAgain(t *testing.T) {
	path := newPath(t)
	s, err := Open(t.Context(), path)
	if err != nil {
		t.Fatal(err)
	}
	for _, v := range []string{"one", "two"} {
		if err := s.SetValue(t.Context(), "k", v); err != nil {
			t.Fatal(err)
		}
		s.Close()
		broken := append(slices.Clone(migrations), "INSERT INTO nowhere VALUES (1)")
		_, err = open(t.Context(), path, broken)
		if err == nil || !strings.Contains(err.Error(), fmt.Sprintf("to version %d:", len(migrations)+1)) {
			t.Fatalf("%v", err)
		}
		if s, err = Open(t.Context(), path); err != nil {
			t.Fatal(err)
		}
	}
	s.Close()
	copied := strings.TrimSuffix(path, ".db") + fmt.Sprintf("-v%d.db", len(migrations))
	if got := valueOf(t, copied); got != "two" {
		t.Errorf("the copy has %q, want the latest", got)
	}
	os.Remove(copied)
	if err := os.MkdirAll(filepath.Join(copied, "full"), 0o700); err != nil {
		t.Fatal(err)
	}
	next := append(slices.Clone(migrations), "CREATE TABLE extra (id INTEGER PRIMARY KEY) STRICT")
	if s, err := open(t.Context(), path, next); err == nil {
		s.Close()
		t.Fatal("migrated without a copy")
	}
	if s, err = Open(t.Context(), path); err != nil {
		t.Fatalf("after that: %v", err)
	}
	ended, end := context.WithCancel(t.Context())
	end()
	if err := step(ended, s.db, "SELECT 1", 9); !errors.Is(err, context.Canceled) {
		t.Errorf("a step after its time: %v", err)
	}
	if err := s.whole(ended); !errors.Is(err, context.Canceled) {
		t.Errorf("looking after its time: %v", err)
	}
	s.Close()
}

// TestARestoreThatWasCutOff: the mark of it counts where the data is away, and goes with the next
// restore that works, not with one that fails.
func TestARestoreThatWasCutOff(t *testing.T) {
	path, backup := backedUp(t)
	mark := filepath.Join(filepath.Dir(path), ".restoring-1")
	if err := os.Mkdir(mark, 0o700); err != nil {
		t.Fatal(err)
	}
	open1(t, path).Close() // it had not begun: the data is there
	for _, away := range []bool{false, true} {
		rename(t, path, path+"-away")
		if !away {
			if err := os.WriteFile(path, nil, 0o600); err != nil {
				t.Fatal(err)
			}
		}
		if s, err := OpenAlone(t.Context(), path); !errors.Is(err, hub.ErrDamaged) || !strings.Contains(err.Error(), "cut off") {
			t.Fatalf("%v, %v", s, err)
		}
		rename(t, path+"-away", path)
	}
	bad := filepath.Join(t.TempDir(), "bad.db")
	copyFile(t, backup, bad)
	if err := execAt(bad, "PRAGMA application_id = 7"); err != nil {
		t.Fatal(err)
	}
	if _, err := Restore(t.Context(), plan(bad, path)); err == nil || !strings.Contains(err.Error(), "another program") {
		t.Errorf("%v", err)
	}
	if _, err := os.Stat(mark); err != nil {
		t.Errorf("a restore that failed took the mark away: %v", err)
	}
	if _, err := Restore(t.Context(), plan(backup, filepath.Join(bad, "hub.db"))); err == nil {
		t.Error("restored into a file")
	}
	if _, err := Restore(t.Context(), plan(backup, path)); err != nil {
		t.Fatal(err)
	}
	if left, _ := filepath.Glob(filepath.Join(filepath.Dir(path), ".restoring-*")); len(left) != 0 {
		t.Errorf("left: %v", left)
	}
}
