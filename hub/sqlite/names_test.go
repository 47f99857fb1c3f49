package sqlite

import (
	"errors"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"bellrow/hub"
)

// TestARestoreShortOfNames: wherever a restore finds no room for one more file, it says so in one sentence with what to
// do, and leaves what was there; with room for all it goes through.
func TestARestoreShortOfNames(t *testing.T) {
	backup, disk, path := fullOfNames(t)
	names, err := filepath.Glob(filepath.Join(disk.Dir, "name*"))
	if err != nil || len(names) < 12 {
		t.Fatalf("%d names, %v", len(names), err)
	}
	restored := false
	for room := 0; room < 12 && !restored; room++ {
		was := folder(t, disk.Dir)
		aside, err := Restore(t.Context(), plan(backup, path))
		if restored = err == nil; restored {
			if aside == "" || room < 3 {
				t.Errorf("with room for %d files: restored, %q aside", room, aside)
			}
			break
		}
		if !errors.Is(err, hub.ErrFull) || !strings.Contains(err.Error(), "free some space") || strings.Contains(err.Error(), "unable to open") || strings.Contains(err.Error(), "\n") {
			t.Errorf("with room for %d files: %v", room, err)
		}
		if now := folder(t, disk.Dir); !reflect.DeepEqual(now, was) {
			t.Errorf("with room for %d files the folder changed", room)
		}
		if err := os.Remove(names[room]); err != nil {
			t.Fatal(err)
		}
	}
	if !restored {
		t.Error("with room for a dozen files it is not restored")
	}
}
