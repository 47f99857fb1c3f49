package sqlite

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"bellrow/hub"
)

// keyClock is the store's value for what is known of the clock.
const keyClock = "clock"

// leapFrom is how far the clock may have gone since the last start without
// being doubted: longer than a summer break.
const leapFrom = 120 * 24 * time.Hour

// madeIn is before any clock that this program can have met.
var madeIn = time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)

// clockSeen is what earlier starts saw of the clock.
type clockSeen struct {
	Last time.Time `json:"last"` // at the last start
	// Before is the last moment before a leap that nobody has explained: what
	// was recorded until then may be newer than the clock makes it. Zero for none.
	Before time.Time `json:"before,omitzero"`
}

// Expire removes, as Forget does, what is older than keep, as far as the clock
// can be believed. A clock that runs ahead makes everything look old, and one
// that was behind has given new records old dates; so it leaves alone
//
//   - all from before a leap of the clock, by more than leapFrom between two
//     starts, unless the clock has gone back since (doubt is the time before it);
//   - all that was recorded after something that is not old, whatever its own
//     date says: records are numbered in the order in which they came;
//   - all with a date from before this program was made.
//
// Forget, by a date that a person gives, removes them.
func (s *Store) Expire(ctx context.Context, now time.Time, keep time.Duration) (doubt time.Time, err error) {
	seen, err := s.clockSeen(ctx)
	if err != nil {
		return doubt, err
	}
	switch {
	case !seen.Before.IsZero() && now.Sub(seen.Before) <= leapFrom:
		seen.Before = time.Time{} // it has gone back: the leap was a mistake
	case seen.Before.IsZero() && !seen.Last.IsZero() && now.Sub(seen.Last) > leapFrom:
		seen.Before = seen.Last
	}
	seen.Last = now
	spare := madeIn
	if !seen.Before.IsZero() {
		spare = seen.Before.Add(leapFrom) // the last session may have been a long one
	}
	return seen.Before, s.within(ctx, func(in *session) error {
		for _, t := range []struct{ table, at string }{{"reading", "at"}, {"move", "at"}, {"round", "started"}, {"setting", "at"}} {
			old := fmt.Sprintf("%[1]s > %[2]d AND id < coalesce((SELECT min(id) FROM %[3]s WHERE %[1]s >= ?), 9223372036854775807)", t.at, nanos(spare), t.table)
			if t.table == "reading" {
				err = in.dropReadings(ctx, old, nanos(now.Add(-keep)))
			} else {
				_, err = in.exec(ctx, "expiring", "DELETE FROM "+t.table+" WHERE "+old, nanos(now.Add(-keep)))
			}
			if err != nil {
				return err
			}
		}
		return in.SetValue(ctx, keyClock, encode(seen))
	})
}

// clockSeen reads what earlier starts saw; without them, the newest record
// stands for the last.
func (s *Store) clockSeen(ctx context.Context) (seen clockSeen, err error) {
	value, err := s.Value(ctx, keyClock)
	if err == nil {
		return seen, json.Unmarshal([]byte(value), &seen)
	}
	if !errors.Is(err, hub.ErrNotFound) {
		return seen, err
	}
	var newest int64
	err = s.q.QueryRowContext(ctx, "SELECT coalesce((SELECT at FROM reading ORDER BY id DESC LIMIT 1), 0)").Scan(&newest)
	seen.Last = moment(newest)
	return seen, translate(err)
}
