package sqlite

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"bellrow/hub"
)

// Sections implements hub.Store.
func (s *session) Sections(ctx context.Context) ([]hub.Section, error) {
	sections, err := list(ctx, s, "sections", func(r *sql.Rows) (hub.Section, error) {
		var sec hub.Section
		return sec, scanDoc(r, &sec)
	}, "SELECT doc FROM section ORDER BY used DESC")
	if err != nil {
		return nil, err
	}
	for i := range sections {
		sections[i].Chairs, err = list(ctx, s, "chairs", func(r *sql.Rows) (hub.Chair, error) {
			var c hub.Chair
			return c, scanDoc(r, &c)
		}, "SELECT doc FROM chair WHERE section = ? AND listed = 1 ORDER BY place", sections[i].ID)
		if err != nil {
			return nil, err
		}
	}
	return sections, nil
}

// scanDoc reads a row whose only column is JSON.
func scanDoc(r *sql.Rows, into any) error {
	var doc string
	if err := r.Scan(&doc); err != nil {
		return err
	}
	return json.Unmarshal([]byte(doc), into)
}

// SaveSection implements hub.Writer.
func (s *session) SaveSection(ctx context.Context, sec hub.Section) (hub.Section, error) {
	sec = sec.Clone()
	err := s.within(ctx, func(s *session) error {
		var err error
		if sec.ID, err = s.rowFor(ctx, "section", sec.ID, "INSERT INTO section(id, name, used, doc) VALUES (?, '', 0, '{}') ON CONFLICT(id) DO NOTHING"); err != nil {
			return err
		}
		if _, err := s.exec(ctx, "section "+sec.Name, "UPDATE chair SET listed = 0 WHERE section = ?", sec.ID); err != nil {
			return err
		}
		for i := range sec.Chairs {
			if err := s.saveChair(ctx, sec.ID, i, &sec.Chairs[i]); err != nil {
				return err
			}
		}
		bare := sec
		bare.Chairs = nil
		_, err = s.exec(ctx, "section "+sec.Name,
			"UPDATE section SET name = ?, used = (SELECT max(used) FROM section) + 1, doc = ? WHERE id = ?", sec.Name, encode(bare), sec.ID)
		return err
	})
	return sec, err
}

// rowFor makes sure of a row with the ID, or a new one for 0, by a statement
// whose only argument is the ID, and returns the ID.
func (s *session) rowFor(ctx context.Context, what string, id int64, insert string, more ...any) (int64, error) {
	got, err := s.insert(ctx, what, insert, append([]any{orNil(id)}, more...)...)
	if id != 0 {
		return id, err
	}
	return got, err
}

// SaveChair implements hub.Writer.
func (s *session) SaveChair(ctx context.Context, section int64, c hub.Chair) error {
	return s.within(ctx, func(s *session) error {
		var place int
		err := s.q.QueryRowContext(ctx, `SELECT coalesce(
			(SELECT place FROM chair WHERE id = ?2 AND section = ?1 AND listed = 1),
			(SELECT max(place) + 1 FROM chair WHERE section = ?1 AND listed = 1), 0)`, section, c.ID).Scan(&place)
		if err != nil {
			return fmt.Errorf("sqlite: chair %s: %w", c.Label, translate(err))
		}
		var there int
		if err := s.q.QueryRowContext(ctx, "SELECT count(*) FROM section WHERE id = ?", section).Scan(&there); err != nil || there == 0 {
			return errors.Join(hub.ErrNotFound, err)
		}
		return s.saveChair(ctx, section, place, &c)
	})
}

func (s *session) saveChair(ctx context.Context, section int64, place int, c *hub.Chair) error {
	id, err := s.rowFor(ctx, "chair "+c.Label, int64(c.ID),
		"INSERT INTO chair(id, section, listed, place, label, name, instrument, doc) VALUES (?, ?, 0, 0, '', '', '', '{}') ON CONFLICT(id) DO NOTHING", section)
	if err != nil {
		return err
	}
	c.ID = hub.ChairID(id)
	_, err = s.exec(ctx, "chair "+c.Label,
		"UPDATE chair SET section = ?, listed = 1, place = ?, label = ?, name = ?, instrument = ?, doc = ? WHERE id = ?",
		section, place, c.Label, c.Name, string(c.Instrument), encode(c), id)
	return err
}

// Enrol implements hub.Writer.
func (s *session) Enrol(ctx context.Context, n hub.NodeRecord) error {
	hash := n.TokenHash
	if hash == nil {
		hash = []byte{}
	}
	_, err := s.exec(ctx, "node "+n.Node, `INSERT INTO node(node, section, chair, token_hash, enrolled) VALUES (?, ?, ?, ?, ?)
		ON CONFLICT DO UPDATE SET section = excluded.section, chair = excluded.chair, token_hash = excluded.token_hash, enrolled = excluded.enrolled`,
		n.Node, n.Section, n.Chair, hash, nanos(n.Enrolled))
	return err
}

// Node implements hub.Store.
func (s *session) Node(ctx context.Context, node string) (hub.NodeRecord, error) {
	n := hub.NodeRecord{Node: node}
	var enrolled int64
	err := s.q.QueryRowContext(ctx, "SELECT section, chair, token_hash, enrolled FROM node WHERE node = ?", node).
		Scan(&n.Section, &n.Chair, &n.TokenHash, &enrolled)
	if errors.Is(err, sql.ErrNoRows) {
		return hub.NodeRecord{}, hub.ErrNotFound
	}
	if err != nil {
		return hub.NodeRecord{}, fmt.Errorf("sqlite: node %s: %w", node, translate(err))
	}
	n.Enrolled = moment(enrolled)
	return n, nil
}
