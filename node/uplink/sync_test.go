//go:build unix

package uplink

import (
	"errors"
	"os"
	"testing"

	"bellrow/proto"
)

// TestAReadingIsSyncedBeforeItCounts: what is written to a null device cannot be brought to a
// disk, and its system says so when asked; whoever does not ask would take it for saved.
func TestAReadingIsSyncedBeforeItCounts(t *testing.T) {
	null, err := os.OpenFile(os.DevNull, os.O_WRONLY, 0)
	if err != nil {
		t.Skipf("no null device: %v", err)
	}
	defer null.Close()
	if null.Sync() == nil {
		t.Skip("this system takes a null device for a disk")
	}
	s := &spool{path: os.DevNull, file: null}
	r := []proto.Reading{{Sequence: 1, Hz: 440, End: 1, Settled: true}}
	if err := s.append(r); !errors.Is(err, errUnsaved) || s.size != 0 {
		t.Errorf("taken for saved: %v, %d bytes", err, s.size)
	}
}
