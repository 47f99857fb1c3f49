package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"bellrow/hub"
)

// SaveRound implements hub.Writer.
func (s *session) SaveRound(ctx context.Context, r hub.Round) (hub.Round, error) {
	err := s.within(ctx, func(s *session) error {
		id, err := s.rowFor(ctx, "round", int64(r.ID),
			"INSERT INTO round(id, section, started, ended, doc) VALUES (?, ?, 0, 0, '{}') ON CONFLICT(id) DO NOTHING", r.Section)
		if err != nil {
			return err
		}
		r.ID = hub.RoundID(id)
		_, err = s.exec(ctx, fmt.Sprintf("round %d", id), "UPDATE round SET section = ?, started = ?, ended = ?, doc = ? WHERE id = ?",
			r.Section, nanos(r.Started), nanos(r.Ended), encode(r), id)
		return err
	})
	return r, err
}

// Rounds implements hub.Store.
func (s *session) Rounds(ctx context.Context, section int64, since time.Time) ([]hub.Round, error) {
	return list(ctx, s, "rounds", scanRound, "SELECT doc FROM round WHERE section = ? AND started >= ? ORDER BY started, id", section, nanos(since))
}

func scanRound(r *sql.Rows) (hub.Round, error) {
	var round hub.Round
	err := scanDoc(r, &round)
	return round, err
}

// SaveMove implements hub.Writer.
func (s *session) SaveMove(ctx context.Context, m hub.MoveRecord) (hub.MoveRecord, error) {
	id, err := s.rowFor(ctx, "move", m.ID, `INSERT INTO move(id, chair, round, reading, at, slide, from_mm, to_mm, expected_cents, done, assumed, withdrawn, measured_cents, follow_through)
		VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)
		ON CONFLICT(id) DO UPDATE SET chair = excluded.chair, round = excluded.round, reading = excluded.reading, at = excluded.at, slide = excluded.slide,
			from_mm = excluded.from_mm, to_mm = excluded.to_mm, expected_cents = excluded.expected_cents, done = excluded.done,
			assumed = excluded.assumed, withdrawn = excluded.withdrawn, measured_cents = excluded.measured_cents, follow_through = excluded.follow_through`,
		m.Chair, m.Round, m.Reading, nanos(m.At), string(m.Slide), m.FromMM, m.ToMM, float64(m.Expected), nanos(m.Done), m.Assumed, m.Withdrawn, float64(m.Measured), m.FollowThrough)
	m.ID = id
	return m, err
}

// Moves implements hub.Store.
func (s *session) Moves(ctx context.Context, section int64, since time.Time) ([]hub.MoveRecord, error) {
	return list(ctx, s, "moves", func(r *sql.Rows) (m hub.MoveRecord, err error) {
		var at, done int64
		err = r.Scan(&m.ID, &m.Chair, &m.Round, &m.Reading, &at, &m.Slide, &m.FromMM, &m.ToMM, (*float64)(&m.Expected), &done,
			&m.Assumed, &m.Withdrawn, (*float64)(&m.Measured), &m.FollowThrough)
		m.At, m.Done = moment(at), moment(done)
		return m, err
	}, `SELECT id, chair, round, reading, at, slide, from_mm, to_mm, expected_cents, done, assumed, withdrawn, measured_cents, follow_through FROM move
		WHERE chair IN (SELECT id FROM chair WHERE section = ?) AND at >= ? ORDER BY at, id`, section, nanos(since))
}

// AddSetting implements hub.Writer.
func (s *session) AddSetting(ctx context.Context, r hub.SettingRecord) error {
	_, err := s.exec(ctx, "setting", "INSERT INTO setting(chair, at, slide, from_mm, mm, source) VALUES (?, ?, ?, ?, ?, ?)",
		r.Chair, nanos(r.At), string(r.Slide), r.From, r.MM, r.Source)
	return err
}

// Settings implements hub.Store.
func (s *session) Settings(ctx context.Context, section int64, since time.Time) ([]hub.SettingRecord, error) {
	return list(ctx, s, "settings", func(r *sql.Rows) (rec hub.SettingRecord, err error) {
		var at int64
		err = r.Scan(&rec.Chair, &at, &rec.Slide, &rec.From, &rec.MM, &rec.Source)
		rec.At = moment(at)
		return rec, err
	}, `SELECT chair, at, slide, from_mm, mm, source FROM setting
		WHERE chair IN (SELECT id FROM chair WHERE section = ?) AND at >= ? ORDER BY at, id`, section, nanos(since))
}

// DeletePlayer implements hub.Store.
func (s *session) DeletePlayer(ctx context.Context, chair hub.ChairID) error {
	return s.within(ctx, func(s *session) error {
		if err := s.strikeFromRounds(ctx, chair); err != nil {
			return err
		}
		if err := s.dropReadings(ctx, "chair = ?", chair); err != nil {
			return err
		}
		for _, q := range []string{
			"DELETE FROM move WHERE chair = ?", "DELETE FROM setting WHERE chair = ?",
			"DELETE FROM node WHERE chair = ?", "DELETE FROM chair WHERE id = ?",
		} {
			if _, err := s.exec(ctx, "deleting a player", q, chair); err != nil {
				return err
			}
		}
		return nil
	})
}

// strikeFromRounds takes a chair out of the rounds it was in.
func (s *session) strikeFromRounds(ctx context.Context, chair hub.ChairID) error {
	rounds, err := list(ctx, s, "rounds of a player", scanRound,
		"SELECT doc FROM round WHERE section = (SELECT section FROM chair WHERE id = ?)", chair)
	if err != nil {
		return err
	}
	for _, r := range rounds {
		_, called := r.Call.Tones[chair]
		if !called && !slices.Contains(r.Queue, chair) {
			continue
		}
		r.Strike(chair)
		if _, err := s.SaveRound(ctx, r); err != nil {
			return err
		}
	}
	return nil
}

// Forget implements hub.Store.
func (s *session) Forget(ctx context.Context, before time.Time) error {
	return s.within(ctx, func(s *session) error {
		if err := s.dropReadings(ctx, "at < ?", nanos(before)); err != nil {
			return err
		}
		for _, q := range []string{"DELETE FROM move WHERE at < ?", "DELETE FROM round WHERE started < ?", "DELETE FROM setting WHERE at < ?"} {
			if _, err := s.exec(ctx, "forgetting", q, nanos(before)); err != nil {
				return err
			}
		}
		return nil
	})
}
