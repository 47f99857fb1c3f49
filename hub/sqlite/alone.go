package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"bellrow/hub"
)

// OpenAlone opens the file as Open does, for a hub at work: as long as the
// Store is open, nobody else can OpenAlone the same file, in this process or
// another. The error wraps hub.ErrInUse then. Open still works beside it, for
// copies and reports.
func OpenAlone(ctx context.Context, path string) (*Store, error) {
	if err := writable(path); err != nil {
		return nil, err
	}
	if err := interrupted(path); err != nil {
		return nil, err
	}
	l, err := take(ctx, path+lockSuffix)
	if err != nil {
		return nil, err
	}
	s, err := Open(ctx, path)
	if err != nil {
		return nil, errors.Join(err, l.release())
	}
	s.lock = l
	if err = s.whole(ctx); err == nil {
		err = private(path)
	}
	if err == nil {
		s.presence, err = watch(path)
	}
	if err != nil {
		return nil, errors.Join(err, s.Close())
	}
	s.session.presence = s.presence
	return s, nil
}

// interrupted fails if a restore was cut off after it had put the old data
// aside: an empty hub must not begin in its place.
func interrupted(path string) error {
	dir := filepath.Dir(path)
	work, _ := filepath.Glob(filepath.Join(dir, ".restoring-*")) // the pattern is a good one
	info, err := os.Stat(path)
	if len(work) == 0 || err == nil && info.Size() > 0 {
		return nil
	}
	return fmt.Errorf("%w: a restore was cut off; run it again, or move the files of %s back to %s",
		hub.ErrDamaged, filepath.Join(dir, "before-restore-..."), dir)
}

// whole fails if the file does not hold together.
func (s *Store) whole(ctx context.Context) error {
	var found string
	if err := s.db.QueryRowContext(ctx, "PRAGMA quick_check(1)").Scan(&found); err != nil {
		return fmt.Errorf("sqlite: looking whether the data holds together: %w", translate(err))
	}
	if found != "ok" {
		return fmt.Errorf("%w: %s", hub.ErrDamaged, found)
	}
	return nil
}

// private takes the file from the eyes of the machine's other users, where it
// was made readable before.
func private(path string) error {
	for _, suffix := range []string{"", "-wal", "-shm"} {
		if err := os.Chmod(path+suffix, 0o600); err != nil && !errors.Is(err, fs.ErrPermission) && !errors.Is(err, fs.ErrNotExist) {
			return fmt.Errorf("sqlite: %w", err)
		}
	}
	return nil
}

// lockSuffix names the lock beside the file. It is left behind, empty.
const lockSuffix = ".lock"

// lock is an exclusive transaction on an empty database of its own, so that
// the file itself stays readable. The system lets go of it when the process
// ends, however that happens.
type lock struct {
	db   *sql.DB
	conn *sql.Conn
}

// take takes the lock or refuses at once.
func take(ctx context.Context, path string) (*lock, error) {
	l := &lock{db: connect(path, url.Values{"_pragma": {"busy_timeout(0)"}})}
	var err error
	if l.conn, err = l.db.Conn(ctx); err == nil {
		_, err = l.conn.ExecContext(ctx, "BEGIN EXCLUSIVE")
	}
	if err == nil {
		return l, nil
	}
	var e *sqlite.Error
	if errors.As(err, &e) && byte(e.Code()) == sqlite3.SQLITE_BUSY {
		err = hub.ErrInUse
	}
	return nil, errors.Join(fmt.Errorf("sqlite: locking %s: %w", path, translate(err)), l.release())
}

// release lets go of the lock. A nil lock is none.
func (l *lock) release() error {
	if l == nil {
		return nil
	}
	var err error
	if l.conn != nil {
		err = l.conn.Close()
	}
	return errors.Join(err, l.db.Close())
}
