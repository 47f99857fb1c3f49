package sqlite

import (
	"slices"
	"testing"
	"time"

	"bellrow/hub"
	"bellrow/proto"
)

const day = 24 * time.Hour

// recorded is a store with a reading at each of some moments, in this order.
func recorded(t *testing.T, at ...time.Time) *Store {
	t.Helper()
	s := openTemp(t)
	t.Cleanup(func() { s.Close() })
	sec, err := s.SaveSection(t.Context(), hub.Section{Name: "s", Chairs: []hub.Chair{{Label: "Horn 1", Instrument: "horn_f"}}})
	if err != nil {
		t.Fatal(err)
	}
	for i, a := range at {
		_, err := s.AddReadings(t.Context(), []hub.Reading{{ID: int64(i + 1), Chair: sec.Chairs[0].ID, Node: "n", Boot: "b", At: a, Wire: proto.Reading{Sequence: uint64(i + 1)}}})
		if err != nil {
			t.Fatal(err)
		}
	}
	return s
}

// left returns the sequences of the readings that are there.
func left(t *testing.T, s *Store) (out []uint64) {
	t.Helper()
	rs, err := list(t.Context(), s.session, "all", scanReading, "SELECT "+readingColumns+" FROM reading ORDER BY id")
	if err != nil {
		t.Fatal(err)
	}
	for _, r := range rs {
		out = append(out, r.Wire.Sequence)
	}
	return out
}

func TestExpireBelievesNoWrongClock(t *testing.T) {
	today := time.Date(2028, 3, 1, 10, 0, 0, 0, time.UTC)
	ago := func(days int) time.Time { return today.Add(time.Duration(-days) * day) }
	ahead, behind := today.AddDate(9, 0, 0), time.Date(2009, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		what     string
		recorded []time.Time
		starts   []time.Time // after starts each week until a week ago
		want     []uint64
	}{
		{"all is well", []time.Time{ago(500), ago(400), ago(300), ago(1)}, []time.Time{today}, []uint64{3, 4}},
		{"the clock is nine years ahead", []time.Time{ago(300), ago(1)}, []time.Time{ahead}, []uint64{1, 2}},
		{"and stays so for weeks", []time.Time{ago(300), ago(1)}, []time.Time{ahead, ahead.Add(7 * day), ahead.Add(90 * day)}, []uint64{1, 2}},
		{"and what was recorded meanwhile is there after it was put right", []time.Time{ago(300), ago(1), ahead, today}, []time.Time{ahead, today}, []uint64{1, 2, 3, 4}},
		{"the clock was behind while something was recorded", []time.Time{ago(300), ago(9), behind, behind.Add(time.Hour), ago(1)}, []time.Time{behind, today}, []uint64{1, 2, 3, 4, 5}},
		{"it was behind when the first was recorded", []time.Time{behind, ago(1)}, []time.Time{today}, []uint64{1, 2}},
		{"it was behind by two years", []time.Time{ago(300), ago(9), ago(730), ago(1)}, []time.Time{ago(730), today}, []uint64{1, 2, 3, 4}},
		{"a summer break", []time.Time{ago(500), ago(300), ago(100)}, []time.Time{today.Add(100 * day)}, []uint64{3}},
		{"once right again, old things go", []time.Time{ago(500), ago(300), ago(1)}, []time.Time{ahead, today}, []uint64{2, 3}},
	} {
		s := recorded(t, c.recorded...)
		if _, err := s.Expire(t.Context(), ago(7), 10000*day); err != nil { // an earlier start, before a limit was set
			t.Fatal(err)
		}
		for _, now := range c.starts {
			if _, err := s.Expire(t.Context(), now, 365*day); err != nil {
				t.Fatal(err)
			}
		}
		if got := left(t, s); !slices.Equal(got, c.want) {
			t.Errorf("%s: %v left, want %v", c.what, got, c.want)
		}
	}
}

// The first start of this version, years ahead, has no earlier start to
// compare with: the newest record stands for it.
func TestExpireAtItsFirstStart(t *testing.T) {
	at := time.Date(2028, 3, 1, 10, 0, 0, 0, time.UTC)
	s := recorded(t, at)
	doubt, err := s.Expire(t.Context(), at.AddDate(3, 0, 0), 365*day)
	if err != nil || !doubt.Equal(at) || len(left(t, s)) != 1 {
		t.Errorf("%v, %v, %v", doubt, err, left(t, s))
	}
}
