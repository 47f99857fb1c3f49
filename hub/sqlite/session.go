package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"bellrow/hub"
)

// querier is what a database and a transaction have in common.
type querier interface {
	ExecContext(ctx context.Context, query string, args ...any) (sql.Result, error)
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// session reads and writes through q, which is db itself or, within Commit, a
// transaction on it (db is nil then).
type session struct {
	db       *sql.DB
	q        querier
	presence *presence // nil within Commit, and for a store that is not alone
}

// Close ends nothing: the store closes its file, Commit its transaction.
func (s *session) Close() error { return nil }

// within runs do in a transaction, the running one if there is one.
func (s *session) within(ctx context.Context, do func(*session) error) error {
	if s.db == nil {
		return do(s)
	}
	if err := s.presence.look(); err != nil {
		return err
	}
	tx, err := s.db.BeginTx(ctx, nil)
	if err != nil {
		return translate(err)
	}
	defer tx.Rollback() // harmless after Commit
	if err := do(&session{q: tx}); err != nil {
		return err
	}
	if err := tx.Commit(); err != nil {
		return translate(err)
	}
	return s.presence.committed(ctx, s.db)
}

// exec runs one statement and names what it was for.
func (s *session) exec(ctx context.Context, what, query string, args ...any) (sql.Result, error) {
	if err := s.presence.look(); err != nil {
		return nil, err
	}
	res, err := s.q.ExecContext(ctx, query, args...)
	if err != nil {
		return nil, fmt.Errorf("sqlite: %s: %w", what, translate(err))
	}
	return res, s.presence.committed(ctx, s.db)
}

// insert runs an INSERT and returns the row's ID.
func (s *session) insert(ctx context.Context, what, query string, args ...any) (int64, error) {
	res, err := s.exec(ctx, what, query, args...)
	if err != nil {
		return 0, err
	}
	return res.LastInsertId()
}

// list runs a query and scans its rows.
func list[T any](ctx context.Context, s *session, what string, scan func(*sql.Rows) (T, error), query string, args ...any) ([]T, error) {
	rows, err := s.q.QueryContext(ctx, query, args...)
	if err != nil {
		return nil, fmt.Errorf("sqlite: %s: %w", what, translate(err))
	}
	defer rows.Close()
	var out []T
	for rows.Next() {
		v, err := scan(rows)
		if err != nil {
			return nil, fmt.Errorf("sqlite: %s: %w", what, err)
		}
		out = append(out, v)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("sqlite: %s: %w", what, translate(err))
	}
	return out, nil
}

// orNil lets SQLite choose the ID of a record that has none.
func orNil(id int64) any {
	if id == 0 {
		return nil
	}
	return id
}

// nanos and moment convert times; 0 is the zero time.
func nanos(t time.Time) int64 {
	if t.IsZero() {
		return 0
	}
	return t.UnixNano()
}

func moment(n int64) time.Time {
	if n == 0 {
		return time.Time{}
	}
	return time.Unix(0, n).UTC()
}

// encode writes a JSON column. Our own types always encode.
func encode(v any) string {
	b, err := json.Marshal(v)
	if err != nil {
		panic("sqlite: encoding a record: " + err.Error())
	}
	return string(b)
}

// encodeOpt writes nil as an empty column.
func encodeOpt[T any](v *T) string {
	if v == nil {
		return ""
	}
	return encode(v)
}

func decodeOpt[T any](s string) (*T, error) {
	if s == "" {
		return nil, nil
	}
	v := new(T)
	return v, json.Unmarshal([]byte(s), v)
}

// Value implements hub.Store.
func (s *session) Value(ctx context.Context, key string) (string, error) {
	var v string
	err := s.q.QueryRowContext(ctx, "SELECT value FROM value WHERE key = ?", key).Scan(&v)
	if errors.Is(err, sql.ErrNoRows) {
		return "", hub.ErrNotFound
	}
	if err != nil {
		return "", fmt.Errorf("sqlite: value %s: %w", key, translate(err))
	}
	return v, nil
}

// SetValue implements hub.Store.
func (s *session) SetValue(ctx context.Context, key, value string) error {
	_, err := s.exec(ctx, "value "+key, "INSERT INTO value(key, value) VALUES (?, ?) ON CONFLICT DO UPDATE SET value = excluded.value", key, value)
	return err
}
