package tuneup

import (
	"testing"
	"time"
)

// TestWatchValue: what is stored of a watch is its beginning, to the second; of
// one that a version before said only to be on, it is the tune-up's.
func TestWatchValue(t *testing.T) {
	begun := time.Date(2030, 1, 7, 19, 0, 0, 0, time.UTC)
	for _, since := range []time.Time{{}, begun, begun.Add(90 * time.Minute)} {
		if got := watched(watchValue(since), time.Time{}); !got.Equal(since) {
			t.Errorf("%v comes back as %v", since, got)
		}
	}
	if got := watched("on", begun); !got.Equal(begun) {
		t.Errorf("an earlier version's watch began %v, want %v", got, begun)
	}
	if watched("on", time.Time{}).IsZero() {
		t.Error("a watch without a beginning is none")
	}
}
