package sqlite

import (
	"context"
	"database/sql"
	"encoding/base64"
	"errors"
	"fmt"
	"io/fs"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"time"

	"modernc.org/sqlite"
	sqlite3 "modernc.org/sqlite/lib"

	"bellrow/hub"
)

// Plan says how a copy is put back.
type Plan struct {
	From string // the copy
	To   string // the database's path in the data folder
	// Files names the files of the data folder that a copy carries, such as keys.
	Files []string
	// Fresh makes another hub of it: without the nodes' tokens, without Files,
	// and without the values of these keys, which the next start makes anew. Nil
	// carries on as the same hub.
	Fresh []string
	Now   time.Time
}

// fileKey begins the keys under which a copy carries files.
const fileKey = "file/"

// Backup writes a copy of everything stored to a new file at path, for the
// owner's eyes only, together with those of the named files of the folder that
// are there. It may run while the hub works.
func (s *Store) Backup(ctx context.Context, path string, files ...string) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return fmt.Errorf("sqlite: backup to %s: the file exists; name a new one", path)
	}
	if err == nil {
		err = f.Close() // VACUUM INTO takes an empty file
	}
	if err == nil {
		_, err = s.db.ExecContext(ctx, "VACUUM INTO ?", path)
	}
	if err == nil {
		err = s.carry(ctx, path, files)
	}
	if err != nil {
		return errors.Join(fmt.Errorf("sqlite: backup to %s: %w", path, translate(err)), os.Remove(path))
	}
	return nil
}

// carry puts files into a copy.
func (s *Store) carry(ctx context.Context, path string, files []string) error {
	return alter(ctx, path, func(tx *sql.Tx) error {
		for _, name := range files {
			data, err := os.ReadFile(filepath.Join(s.dir, name))
			if errors.Is(err, fs.ErrNotExist) {
				continue
			}
			if err == nil {
				_, err = tx.ExecContext(ctx, "INSERT INTO value(key, value) VALUES (?, ?)", fileKey+name, base64.StdEncoding.EncodeToString(data))
			}
			if err != nil {
				return err
			}
		}
		return nil
	})
}

// alter changes a copy that nobody uses, without files beside it.
func alter(ctx context.Context, path string, do func(*sql.Tx) error) error {
	db := connect(path, url.Values{"_pragma": {"journal_mode(DELETE)", "synchronous(FULL)", "secure_delete(1)"}})
	tx, err := db.BeginTx(ctx, nil)
	if err == nil {
		if err = do(tx); err == nil {
			err = tx.Commit()
		} else {
			tx.Rollback()
		}
	}
	return errors.Join(err, db.Close())
}

// Restore puts a copy in place of the data at p.To, which no hub may be using,
// after it has made sure that the copy is a hub's, of a version that this
// program knows, and holds together. What was there goes into a folder of its
// own beside it, with its write-ahead log, whose name is returned; "" if nothing
// was there. When Restore fails, the data is as it was.
func Restore(ctx context.Context, p Plan) (aside string, err error) {
	if _, err := os.Stat(p.From); err != nil {
		return "", err
	}
	dir := filepath.Dir(p.To)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return "", readOnly(dir, err)
	}
	l, err := take(ctx, p.To+lockSuffix)
	if err != nil {
		return "", noRoom(dir, err)
	}
	defer l.release()
	cut, _ := filepath.Glob(filepath.Join(dir, ".restoring-*")) // of a restore that was cut off
	work, err := os.MkdirTemp(dir, ".restoring-*")
	if err != nil {
		return "", readOnly(dir, err)
	}
	defer os.RemoveAll(work)
	whole := filepath.Join(work, "whole.db")
	files, err := p.prepare(ctx, filepath.Join(work, "copy.db"), whole)
	if err != nil {
		return "", noRoom(work, err)
	}
	if aside, err = p.exchange(whole, files); err == nil {
		for _, d := range cut {
			os.RemoveAll(d)
		}
	}
	return aside, err
}

// noRoom tells of a disk without room for another file, where SQLite says no more than
// that it could not open one: beside the data it needs a log, its index and a journal.
func noRoom(dir string, err error) error {
	var e *sqlite.Error
	if !errors.As(err, &e) || byte(e.Code()) != sqlite3.SQLITE_CANTOPEN {
		return err
	}
	for range 3 {
		f, why := os.CreateTemp(dir, ".room-*")
		if why != nil {
			return readOnly(dir, why)
		}
		defer os.Remove(f.Name())
		f.Close()
	}
	return err
}

// prepare checks the copy and writes what is to be put in place, without the
// files that it carries, which it returns.
func (p Plan) prepare(ctx context.Context, scratch, whole string) (map[string][]byte, error) {
	// A copy made by hand may have a write-ahead log; it is taken in, and the
	// copy itself is left as it is.
	for _, suffix := range []string{"", "-wal"} {
		data, err := os.ReadFile(p.From + suffix)
		if errors.Is(err, fs.ErrNotExist) && suffix != "" {
			continue
		}
		if err != nil {
			return nil, fmt.Errorf("sqlite: reading %s: %w", p.From, err)
		}
		if err := os.WriteFile(scratch+suffix, data, 0o600); err != nil {
			return nil, readOnly(scratch, err)
		}
	}
	if err := os.WriteFile(whole, nil, 0o600); err != nil {
		return nil, readOnly(whole, err)
	}
	db := connect(scratch, pragmas)
	defer db.Close()
	if err := p.check(ctx, db); err != nil {
		return nil, err
	}
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", whole); err != nil {
		return nil, fmt.Errorf("sqlite: %w", translate(err))
	}
	files := map[string][]byte{}
	err := alter(ctx, whole, func(tx *sql.Tx) error {
		for _, name := range p.Files {
			var text string
			err := tx.QueryRowContext(ctx, "SELECT value FROM value WHERE key = ?", fileKey+name).Scan(&text)
			if errors.Is(err, sql.ErrNoRows) {
				continue
			}
			if err == nil {
				files[name], err = base64.StdEncoding.DecodeString(text)
			}
			if err != nil {
				return err
			}
		}
		do := []string{"DELETE FROM value WHERE key LIKE '" + fileKey + "%'"}
		if p.Fresh != nil {
			clear(files)
			do = append(do, "DELETE FROM node", "DELETE FROM value WHERE key IN ('"+strings.Join(p.Fresh, "', '")+"')")
		}
		for _, q := range do {
			if _, err := tx.ExecContext(ctx, q); err != nil {
				return err
			}
		}
		return nil
	})
	return files, err
}

// check looks whether db is a hub's data that can be used.
func (p Plan) check(ctx context.Context, db *sql.DB) error {
	version, err := versionOf(ctx, db, p.From)
	if err != nil {
		return err
	}
	switch {
	case version == 0:
		return fmt.Errorf("%w: %s is no hub's data", hub.ErrDamaged, p.From)
	case version > len(migrations):
		return fmt.Errorf("%w: %s has version %d, this program knows up to %d", hub.ErrNewer, p.From, version, len(migrations))
	}
	for _, pragma := range []string{"integrity_check(1)", "foreign_key_check"} {
		found, err := list(ctx, &session{q: db}, p.From, func(r *sql.Rows) (said string, err error) {
			if pragma == "foreign_key_check" { // it names a row
				return "it points to what is not there", nil
			}
			return said, r.Scan(&said)
		}, "PRAGMA "+pragma)
		if err != nil {
			return err
		}
		if len(found) > 0 && found[0] != "ok" {
			return fmt.Errorf("%w: %s: %s", hub.ErrDamaged, p.From, found[0])
		}
	}
	return nil
}

// exchange puts what is there aside, and the new in its place.
func (p Plan) exchange(whole string, files map[string][]byte) (aside string, err error) {
	dir := filepath.Dir(p.To)
	type move struct{ from, to string }
	var in, moved []move // the data comes in last
	for name, data := range files {
		from := filepath.Join(filepath.Dir(whole), fmt.Sprintf("file%d", len(in)))
		if err := os.WriteFile(from, data, 0o600); err != nil {
			return "", readOnly(dir, err)
		}
		in = append(in, move{from, filepath.Join(dir, name)})
	}
	in = append(in, move{whole, p.To})
	undo := func(err error) (string, error) {
		for i := len(moved) - 1; i >= 0; i-- {
			err = errors.Join(err, os.Rename(moved[i].to, moved[i].from))
		}
		return "", errors.Join(err, os.Remove(aside))
	}
	aside = filepath.Join(dir, "before-restore-"+p.Now.Format("2006-01-02-150405"))
	if err := os.Mkdir(aside, 0o700); err != nil {
		return "", readOnly(dir, err)
	}
	old := []string{p.To, p.To + "-wal", p.To + "-shm"}
	for _, name := range p.Files {
		if _, carried := files[name]; carried || p.Fresh != nil {
			old = append(old, filepath.Join(dir, name))
		}
	}
	for _, from := range old {
		to := filepath.Join(aside, filepath.Base(from))
		switch err := os.Rename(from, to); {
		case err == nil:
			moved = append(moved, move{from, to})
		case !errors.Is(err, fs.ErrNotExist):
			return undo(readOnly(from, err))
		}
	}
	kept := len(moved)
	for _, m := range in {
		if err := os.Rename(m.from, m.to); err != nil {
			return undo(readOnly(m.to, err))
		}
		moved = append(moved, m)
	}
	if d, err := os.Open(dir); err == nil {
		d.Sync() // not every system can; the rename is done
		d.Close()
	}
	if kept == 0 {
		return "", os.Remove(aside)
	}
	return aside, nil
}
