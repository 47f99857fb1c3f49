// Package retention keeps records no longer than their section wants.
package retention

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"time"

	"bellrow/hub"
)

// Store is what it needs of the hub's store.
type Store interface {
	Value(ctx context.Context, key string) (string, error)
	SetValue(ctx context.Context, key, value string) error
	// Forget erases what is older than before.
	Forget(ctx context.Context, before time.Time) error
}

// MaxDays is a hundred years: more is a typing mistake.
const MaxDays = 36500

// keyDays is the store's value for how long records are kept, in days.
const keyDays = "keep-days"

// Set notes for how many days records are kept from now on, 0 for ever. Nothing
// is erased before Apply.
func Set(ctx context.Context, s Store, days int) error {
	if days < 0 || days > MaxDays {
		return fmt.Errorf("retention: %d days, need 0 to %d", days, MaxDays)
	}
	return s.SetValue(ctx, keyDays, strconv.Itoa(days))
}

// Expirer is a Store that knows by itself what it can believe of the clock.
type Expirer interface {
	// Expire erases what is older than keep, and says since when the clock is in
	// doubt, the zero time if it is not.
	Expire(ctx context.Context, now time.Time, keep time.Duration) (doubt time.Time, err error)
}

// Apply erases what is older than records are to be kept. Where doubt is not
// zero, the clock has leapt since then, and nothing from before was erased.
func Apply(ctx context.Context, s Store, now time.Time) (doubt time.Time, err error) {
	value, err := s.Value(ctx, keyDays)
	if errors.Is(err, hub.ErrNotFound) {
		return doubt, nil
	}
	if err != nil {
		return doubt, err
	}
	days, err := strconv.Atoi(value)
	if err != nil || days <= 0 {
		return doubt, err
	}
	if e, ok := s.(Expirer); ok {
		return e.Expire(ctx, now, time.Duration(days)*24*time.Hour)
	}
	return doubt, s.Forget(ctx, now.AddDate(0, 0, -days))
}
