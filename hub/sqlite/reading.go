package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"time"

	"bellrow/hub"
)

const readingColumns = `id, chair, round, node, boot, at, note, target_hz, cents, counted, why, verdict, wire, answer, heard`

// AddReadings implements hub.Writer.
func (s *session) AddReadings(ctx context.Context, rs []hub.Reading) ([]hub.Reading, error) {
	out := make([]hub.Reading, len(rs))
	err := s.within(ctx, func(s *session) error {
		for i, r := range rs {
			var err error
			if out[i], err = s.addReading(ctx, r); err != nil {
				return err
			}
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	return out, nil
}

func (s *session) addReading(ctx context.Context, r hub.Reading) (hub.Reading, error) {
	what := fmt.Sprintf("reading %s/%s/%d", r.Node, r.Boot, r.Wire.Sequence)
	if r.Wire.Sequence > math.MaxInt64 {
		return r, fmt.Errorf("sqlite: %s: %w", what, hub.ErrRefused)
	}
	f, _ := r.Figures()
	res, err := s.exec(ctx, what, `INSERT INTO reading(`+readingColumns+`, sequence, hz, ci95_cents, settled,
			level_dbfs, early_cents, drift_cents_per_s, middle_s, played_s, second_db)
		SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12, ?13, ?14, ?15, ?16, ?17, ?18, ?19, ?20, ?21, ?22, ?23, ?24, ?25
		WHERE NOT EXISTS (SELECT 1 FROM boot WHERE node = ?4 AND boot = ?5 AND stored >= ?16)
		ON CONFLICT(node, boot, sequence) DO NOTHING`,
		orNil(r.ID), r.Chair, r.Round, r.Node, r.Boot, nanos(r.At), r.Note, float64(r.Target), float64(r.Cents), r.Counted, r.Why, r.Verdict,
		encode(r.Wire), encodeOpt(r.Answer), encodeOpt(r.Heard), int64(r.Wire.Sequence), float64(r.Wire.Hz), float64(r.Wire.CI95), r.Wire.Settled,
		float64(f.Level), float64(f.Early), f.Drift, f.Middle, f.Played, f.Second)
	if err != nil {
		return r, err
	}
	if n, err := res.RowsAffected(); err != nil || n > 0 {
		id, _ := res.LastInsertId() // the driver always knows it
		r.ID = id
		return r, err
	}
	stored, err := list(ctx, s, what, scanReading,
		"SELECT "+readingColumns+" FROM reading WHERE node = ? AND boot = ? AND sequence = ?", r.Node, r.Boot, int64(r.Wire.Sequence))
	if err != nil || len(stored) == 0 { // none: stored once and deleted since
		return r, err
	}
	return stored[0], nil
}

func scanReading(rows *sql.Rows) (hub.Reading, error) {
	var r hub.Reading
	var at int64
	var wire, answer, heard string
	err := rows.Scan(&r.ID, &r.Chair, &r.Round, &r.Node, &r.Boot, &at, &r.Note, (*float64)(&r.Target), (*float64)(&r.Cents),
		&r.Counted, &r.Why, &r.Verdict, &wire, &answer, &heard)
	if err != nil {
		return r, err
	}
	r.At = moment(at)
	if err := json.Unmarshal([]byte(wire), &r.Wire); err != nil {
		return r, err
	}
	if r.Answer, err = decodeOpt[hub.Answer](answer); err != nil {
		return r, err
	}
	r.Heard, err = decodeOpt[hub.Heard](heard)
	return r, err
}

// SaveReading implements hub.Writer.
func (s *session) SaveReading(ctx context.Context, r hub.Reading) error {
	res, err := s.exec(ctx, fmt.Sprintf("reading %d", r.ID), `UPDATE reading SET chair = ?, round = ?, note = ?, target_hz = ?, cents = ?,
		counted = ?, why = ?, verdict = ?, answer = ?, heard = ? WHERE id = ?`,
		r.Chair, r.Round, r.Note, float64(r.Target), float64(r.Cents), r.Counted, r.Why, r.Verdict, encodeOpt(r.Answer), encodeOpt(r.Heard), r.ID)
	if err != nil {
		return err
	}
	if n, err := res.RowsAffected(); err == nil && n == 0 {
		return fmt.Errorf("sqlite: reading %d: %w", r.ID, hub.ErrNotFound)
	}
	return nil
}

// prefixQuery finds the end of the stored sequences without gaps: within
// those above what deletion left, the n-th one is floor + n as long as none
// is missing.
const prefixQuery = `
	WITH floor(f) AS (SELECT coalesce((SELECT stored FROM boot WHERE node = ?1 AND boot = ?2), 0)),
	     ranked(sequence, n) AS (
	         SELECT sequence, f + row_number() OVER (ORDER BY sequence) FROM reading, floor
	         WHERE node = ?1 AND boot = ?2 AND sequence > f)
	SELECT coalesce(max(sequence), (SELECT f FROM floor)) FROM ranked WHERE sequence = n`

// Stored implements hub.Store.
func (s *session) Stored(ctx context.Context, node, boot string) (uint64, error) {
	var n int64
	if err := s.q.QueryRowContext(ctx, prefixQuery, node, boot).Scan(&n); err != nil {
		return 0, fmt.Errorf("sqlite: stored of %s: %w", node, translate(err))
	}
	return uint64(n), nil
}

// Readings implements hub.Store.
func (s *session) Readings(ctx context.Context, section int64, since time.Time) ([]hub.Reading, error) {
	return list(ctx, s, "readings", scanReading, "SELECT "+readingColumns+` FROM reading
		WHERE chair IN (SELECT id FROM chair WHERE section = ?) AND at >= ? ORDER BY at, id`, section, nanos(since))
}

// Answers implements hub.Store.
func (s *session) Answers(ctx context.Context, section int64, since time.Time) ([]hub.Reading, error) {
	return list(ctx, s, "answers", scanReading, "SELECT "+readingColumns+` FROM reading
		WHERE chair IN (SELECT id FROM chair WHERE section = ?) AND at >= ? AND round <> 0 ORDER BY at, id`, section, nanos(since))
}

// Figures implements hub.Store. The index on the time gives the rows in order;
// by the chairs they would have to be sorted.
func (s *session) Figures(ctx context.Context, section int64, since time.Time) ([]hub.Figures, error) {
	return list(ctx, s, "figures", scanFigures, `SELECT chair, at, why = ?, note, cents, hz,
			level_dbfs, early_cents, drift_cents_per_s, middle_s, played_s, second_db,
			CASE WHEN instr(wire, '"mute"') THEN wire ELSE '' END FROM reading INDEXED BY reading_at
		WHERE chair IN (SELECT id FROM chair WHERE section = ?) AND at >= ?
			AND (counted AND verdict <> '' OR why = ?1 AND settled OR why = ?) ORDER BY at, id`, hub.WhyWatch, section, nanos(since), hub.WhyMuted)
}

func scanFigures(rows *sql.Rows) (hub.Figures, error) {
	var f hub.Figures
	var at int64
	var muted string // the whole wire reading, where there was a mute
	err := rows.Scan((*int64)(&f.Chair), &at, &f.Watch, &f.Note, (*float64)(&f.Cents), (*float64)(&f.Hz),
		(*float64)(&f.Level), (*float64)(&f.Early), &f.Drift, &f.Middle, &f.Played, &f.Second, &muted)
	f.At = moment(at)
	if err == nil && muted != "" {
		var r hub.Reading
		err = json.Unmarshal([]byte(muted), &r.Wire)
		f.Mute = r.Mute()
	}
	return f, err
}

// dropReadings deletes the readings that a condition finds, but remembers how
// far their boots were stored, so that nodes do not wait for ever.
func (s *session) dropReadings(ctx context.Context, condition string, arg any) error {
	type boot struct{ node, boot string }
	boots, err := list(ctx, s, "readings to delete", func(r *sql.Rows) (b boot, err error) {
		return b, r.Scan(&b.node, &b.boot)
	}, "SELECT DISTINCT node, boot FROM reading WHERE "+condition, arg)
	if err != nil {
		return err
	}
	for _, b := range boots {
		n, err := s.Stored(ctx, b.node, b.boot)
		if err != nil {
			return err
		}
		if _, err := s.exec(ctx, "boot "+b.boot, `INSERT INTO boot(node, boot, stored) VALUES (?, ?, ?)
			ON CONFLICT DO UPDATE SET stored = excluded.stored`, b.node, b.boot, int64(n)); err != nil {
			return err
		}
	}
	_, err = s.exec(ctx, "deleting readings", "DELETE FROM reading WHERE "+condition, arg)
	return err
}
