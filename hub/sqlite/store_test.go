package sqlite

import (
	"path/filepath"
	"testing"

	"bellrow/hub/storetest"
)

func openTemp(t *testing.T) *Store {
	t.Helper()
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "hub.db"))
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) storetest.Store { return openTemp(t) })
}
