package sqlite

import (
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"sync"
	"time"

	"bellrow/hub"
)

// presence knows whether the file at its path is still the one that is written
// to. Somebody may delete the data folder, put another in its place, or copy a
// backup over the file while the hub runs; the system lets the hub write on,
// into a file that nobody will find again, or into one that is not its own.
//
// So that nobody but the hub itself changes the main file, it is checkpointed by
// this Store alone, at moments when it was looked at before. Looking costs two
// stat calls. It is guarded by mu, since each commit looks.
type presence struct {
	path string

	mu        sync.Mutex
	main, wal os.FileInfo // as last seen; wal is nil until there is one
	spoiled   error       // found once, it stays
	commits   int         // since the last checkpoint
	mark      int64       // size of the write-ahead log at the last checkpoint
}

// A checkpoint comes after so many commits, or so many bytes in the
// write-ahead log.
const (
	checkpointAfter = 1000
	checkpointBytes = 4 << 20
)

// watch begins to look after the file at path, which is open.
func watch(path string) (*presence, error) {
	p := &presence{path: path}
	main, err := os.Stat(path)
	if err != nil {
		return nil, fmt.Errorf("sqlite: %w", err)
	}
	p.main = main
	return p, nil
}

// look reports, as an error that wraps hub.ErrMoved, that the file is not the
// one that was opened. A nil presence looks after nothing.
func (p *presence) look() error {
	if p == nil {
		return nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.looked()
}

func (p *presence) looked() error {
	if p.spoiled != nil {
		return p.spoiled
	}
	main, err := os.Stat(p.path)
	switch {
	case err != nil:
		return p.gone("is gone", err) // it may be put back
	case !os.SameFile(main, p.main):
		return p.gone("was replaced", nil)
	case main.Size() != p.main.Size() || !main.ModTime().Equal(p.main.ModTime()):
		p.spoiled = p.gone("was written over", nil)
		return p.spoiled
	}
	wal, err := os.Stat(p.path + "-wal")
	switch {
	case errors.Is(err, fs.ErrNotExist) && p.wal == nil:
	case err != nil:
		return p.gone("has lost the file beside it, -wal,", err)
	case p.wal != nil && (!os.SameFile(wal, p.wal) || wal.Size() < p.wal.Size()):
		return p.gone("has another file beside it, -wal, that", nil)
	default:
		p.wal = wal
	}
	return nil
}

func (p *presence) gone(what string, err error) error {
	if err != nil {
		return fmt.Errorf("%w: %s %s (%w); stop the hub, put the data back, and start it again", hub.ErrMoved, p.path, what, err)
	}
	return fmt.Errorf("%w: %s %s under the running hub; stop it, see which data is right, and start it again", hub.ErrMoved, p.path, what)
}

// committed looks after a commit, and checkpoints now and then.
func (p *presence) committed(ctx context.Context, db querier) error {
	if p == nil {
		return nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if err := p.looked(); err != nil {
		return err
	}
	p.commits++
	if p.wal == nil || p.commits < checkpointAfter && p.wal.Size() < p.mark+checkpointBytes {
		return nil
	}
	p.commits, p.mark = 0, p.wal.Size()
	var busy, log, done int
	if err := db.QueryRowContext(ctx, "PRAGMA wal_checkpoint(PASSIVE)").Scan(&busy, &log, &done); err != nil {
		return translate(err) // what was committed is in the log
	}
	main, err := os.Stat(p.path)
	if err != nil || !os.SameFile(main, p.main) {
		return p.gone("was replaced", err)
	}
	p.main = main
	return nil
}

// setAside keeps the write-ahead log of a file that is not ours any more away
// from the file that is there now: replayed over it, it would ruin it. The
// database must not be closed then, which would replay it, too.
func (p *presence) setAside() (aside bool, err error) {
	if p == nil {
		return false, nil
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.looked() == nil {
		return false, nil
	}
	for _, suffix := range []string{"-wal", "-shm"} {
		info, err := os.Stat(p.path + suffix)
		if err != nil || suffix == "-wal" && (p.wal == nil || !os.SameFile(info, p.wal)) {
			continue
		}
		to := p.path + "-of-before-" + time.Now().Format("2006-01-02-150405") + suffix
		if err := os.Rename(p.path+suffix, to); err != nil {
			return true, err
		}
	}
	return true, nil
}
