package sqlite

import (
	"testing"

	"bellrow/hub"
	"bellrow/hub/storetest"
)

func openTemp(t *testing.T) *Store {
	t.Helper()
	s, err := Open(t.Context(), t.TempDir())
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestStore(t *testing.T) {
	storetest.Run(t, func(t *testing.T) hub.Store { return openTemp(t) })
}
