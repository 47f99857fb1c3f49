// Package sqlite keeps a hub's records in one SQLite file.
//
// The file is written by one connection in WAL mode with full synchronisation:
// what a method has returned from survives the death of the process and, as
// far as disks keep their word, of the power. Nothing but Backup may copy a
// file in use, for part of it lies in the write-ahead log beside it.
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

	"modernc.org/sqlite" // also registers the driver
	sqlite3 "modernc.org/sqlite/lib"

	"bellrow/hub"
	"bellrow/proto/disk"
)

// applicationID marks the file as a hub's ("brow" in ASCII), so that another
// program's database is not taken for one.
const applicationID = 0x62726f77

// pragmas are set on every connection. FULL costs a quarter of a millisecond
// per commit and keeps the last commits through a power cut. The writer takes
// its lock at once (_txlock), so that it can wait for it. Deleted players are
// overwritten (secure_delete). Only the hub checkpoints (see presence), and the
// last to close the file.
var pragmas = url.Values{
	"_pragma": {"busy_timeout(5000)", "journal_mode(WAL)", "synchronous(FULL)", "foreign_keys(1)", "secure_delete(1)", "wal_autocheckpoint(0)"},
	"_txlock": {"immediate"},
}

// Store is a hub.Store in one file. It is safe for concurrent use.
type Store struct {
	db  *sql.DB
	dir string // of the file
	*session
	lock     *lock     // of OpenAlone, nil otherwise
	presence *presence // likewise
}

// Open opens the file at path, creating it and its folder if needed, and
// brings it to the present version. Errors wrap hub.ErrNewer or
// hub.ErrReadOnly where they apply.
func Open(ctx context.Context, path string) (*Store, error) {
	return open(ctx, path, migrations)
}

func open(ctx context.Context, path string, migrations []string) (*Store, error) {
	if err := writable(path); err != nil {
		return nil, err
	}
	if err := peek(ctx, path); err != nil {
		return nil, err
	}
	db := connect(path, pragmas)
	db.SetMaxOpenConns(1) // one writer; reads take turns with it
	if err := migrate(ctx, db, path, migrations); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return &Store{db: db, dir: filepath.Dir(path), session: &session{db: db, q: db}}, nil
}

// peek refuses another program's file before the pragmas change it. A file
// with a write-ahead log beside it cannot be read without taking part in it;
// what it is shows in migrate.
func peek(ctx context.Context, path string) error {
	if info, err := os.Stat(path); err != nil || info.Size() == 0 {
		return nil // new
	}
	if _, err := os.Stat(path + "-wal"); err == nil {
		return nil
	}
	db := connect(path, url.Values{"mode": {"ro"}, "immutable": {"1"}})
	_, err := versionOf(ctx, db, path)
	return errors.Join(err, db.Close())
}

// connect names a file and how it is to be opened; that is done when it is first used.
func connect(path string, v url.Values) *sql.DB {
	db, err := sql.Open("sqlite", (&url.URL{Scheme: "file", OmitHost: true, Path: filepath.ToSlash(path), RawQuery: v.Encode()}).String())
	if err != nil {
		panic("sqlite: no driver: " + err.Error())
	}
	return db
}

// writable creates the folder if needed and makes sure that it and the file
// can be written, so that a hub does not find out in the middle of a round.
func writable(path string) error {
	dir := filepath.Dir(path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return readOnly(dir, err)
	}
	f, err := os.CreateTemp(dir, ".writable-*")
	if err == nil {
		defer os.Remove(f.Name())
		err = f.Close()
	}
	if err != nil {
		return readOnly(dir, err)
	}
	data, err := os.OpenFile(path, os.O_RDWR, 0)
	if errors.Is(err, fs.ErrNotExist) {
		data, err = os.OpenFile(path, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o600)
	}
	if err != nil {
		return readOnly(path, err)
	}
	return data.Close()
}

// readOnly says what cannot be written, and recognises why.
func readOnly(path string, err error) error {
	switch {
	case disk.ReadOnly(err):
		return fmt.Errorf("%w: %s (%w); choose another folder with --data, or make it writable", hub.ErrReadOnly, path, err)
	case disk.Full(err):
		return fmt.Errorf("%w: %s; free some space", hub.ErrFull, path)
	}
	return fmt.Errorf("sqlite: data folder %s: %w", path, err)
}

// translate turns the driver's errors into the hub's.
func translate(err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return err
	}
	switch byte(e.Code()) { // the low byte is the primary code
	case sqlite3.SQLITE_FULL:
		return fmt.Errorf("%w (%w)", hub.ErrFull, err)
	case sqlite3.SQLITE_READONLY:
		return fmt.Errorf("%w (%w)", hub.ErrReadOnly, err)
	case sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB:
		return fmt.Errorf("%w (%w)", hub.ErrDamaged, err)
	case sqlite3.SQLITE_CONSTRAINT, sqlite3.SQLITE_MISMATCH:
		return fmt.Errorf("%w (%w)", hub.ErrRefused, err)
	}
	return err
}

// Close closes the file. It waits for the running call.
func (s *Store) Close() error {
	if aside, err := s.presence.setAside(); aside {
		// The file is somebody else's by now: it is left alone, and the
		// process's end lets go of ours.
		return errors.Join(err, s.lock.release())
	}
	if err := errors.Join(s.db.Close(), s.lock.release()); err != nil {
		return fmt.Errorf("sqlite: closing: %w", err)
	}
	return nil
}
