package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"bellrow/hub"
)

// migrate brings the file to the version of the last migration, each in one
// transaction, with a copy of the file beside it before each unless it is
// empty. It refuses files of a newer version, and those of another program.
func migrate(ctx context.Context, db *sql.DB, path string, migrations []string) error {
	version, err := versionOf(ctx, db, path)
	if err != nil {
		return err
	}
	if version > len(migrations) {
		return fmt.Errorf("%w: %s has version %d, this program knows up to %d; use the newer program, or another folder with --data",
			hub.ErrNewer, path, version, len(migrations))
	}
	empty := version == 0
	for ; version < len(migrations); version++ {
		if !empty {
			if err := keepCopy(ctx, db, path, version); err != nil {
				return err
			}
		}
		if err := step(ctx, db, migrations[version], version+1); err != nil {
			return fmt.Errorf("sqlite: bringing %s to version %d: %w", path, version+1, translate(err))
		}
	}
	return nil
}

// versionOf reads the version of the file, 0 for an empty one.
func versionOf(ctx context.Context, db *sql.DB, path string) (int, error) {
	var version, app, tables int
	for _, q := range []struct {
		text string
		into *int
	}{
		{"PRAGMA user_version", &version},
		{"PRAGMA application_id", &app},
		{"SELECT count(*) FROM sqlite_master", &tables},
	} {
		if err := db.QueryRowContext(ctx, q.text).Scan(q.into); err != nil {
			return 0, fmt.Errorf("sqlite: opening %s: %w", path, translate(err))
		}
	}
	if app != applicationID && (app != 0 || version != 0 || tables != 0) {
		return 0, fmt.Errorf("sqlite: %s belongs to another program; choose another folder with --data", path)
	}
	return version, nil
}

// keepCopy copies the file before a migration touches it.
func keepCopy(ctx context.Context, db *sql.DB, path string, version int) error {
	to := strings.TrimSuffix(path, filepath.Ext(path)) + fmt.Sprintf("-v%d.db", version)
	if err := os.Remove(to); err != nil && !errors.Is(err, os.ErrNotExist) { // of an attempt that failed
		return fmt.Errorf("sqlite: copy before the migration: %w", err)
	}
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", to); err != nil {
		return fmt.Errorf("sqlite: copy to %s before the migration: %w", to, translate(err))
	}
	return nil
}

// step runs one migration.
func step(ctx context.Context, db *sql.DB, migration string, version int) error {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer tx.Rollback() // harmless after Commit
	marks := fmt.Sprintf("PRAGMA application_id = %d; PRAGMA user_version = %d", applicationID, version)
	for _, text := range []string{migration, marks} {
		if _, err := tx.ExecContext(ctx, text); err != nil {
			return err
		}
	}
	return tx.Commit()
}
