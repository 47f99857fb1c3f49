package network

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"bellrow/hub"
	"bellrow/hub/sqlite"
)

// tally compares what nodes have sent with what the hub has stored.
type tally struct {
	Sent    int // noted by nodes as kept
	Stored  int // readings in the database
	Lost    int // sent, not stored
	Doubled int // stored more than once, under whatever number
	Gaps    int // numbers missing between 1 and the highest of a boot
	Swapped int // stored before one that the same boot sent earlier
	Boots   int
}

func (t tally) String() string {
	return fmt.Sprintf("sent %d, stored %d, boots %d: lost %d, doubled %d, gaps %d, swapped %d", t.Sent, t.Stored, t.Boots, t.Lost, t.Doubled, t.Gaps, t.Swapped)
}

func (t tally) err() error {
	if t.Sent == 0 || t.Lost+t.Doubled+t.Gaps+t.Swapped > 0 {
		return fmt.Errorf("soak: %v", t)
	}
	return nil
}

// count opens the database of a hub that has ended.
func count(ctx context.Context, data string, sent map[float64]bool) (tally, error) {
	store, err := sqlite.Open(ctx, data)
	if err != nil {
		return tally{}, err
	}
	defer store.Close()
	sections, err := store.Sections(ctx)
	if err != nil {
		return tally{}, err
	}
	var all []hub.Reading
	for _, s := range sections {
		rs, err := store.Readings(ctx, s.ID, time.Time{})
		if err != nil {
			return tally{}, err
		}
		all = append(all, rs...)
	}
	return tallyOf(sent, all), nil
}

func tallyOf(sent map[float64]bool, stored []hub.Reading) tally {
	t := tally{Sent: len(sent), Stored: len(stored)}
	slices.SortFunc(stored, func(a, b hub.Reading) int { return cmp.Compare(a.ID, b.ID) })
	seen := map[float64]int{}
	type boot struct{ node, boot string }
	numbers, highest := map[boot]map[uint64]bool{}, map[boot]uint64{}
	for _, r := range stored {
		if seen[r.Wire.Played]++; seen[r.Wire.Played] > 1 {
			t.Doubled++
		}
		b := boot{r.Node, r.Boot}
		if numbers[b] == nil {
			numbers[b] = map[uint64]bool{}
		}
		if r.Wire.Sequence < highest[b] {
			t.Swapped++
		}
		numbers[b][r.Wire.Sequence] = true
		highest[b] = max(highest[b], r.Wire.Sequence)
	}
	for s := range sent {
		if seen[s] == 0 {
			t.Lost++
		}
	}
	for b, n := range numbers {
		t.Gaps += int(highest[b]) - len(n)
	}
	t.Boots = len(numbers)
	return t
}
