package mem_test

import (
	"testing"

	"bellrow/hub"
	"bellrow/hub/mem"
	"bellrow/hub/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(*testing.T) hub.Store { return mem.New() })
}
