package mem_test

import (
	"testing"

	"bellrow/hub/mem"
	"bellrow/hub/storetest"
)

func TestStore(t *testing.T) {
	storetest.Run(t, func(*testing.T) storetest.Store { return mem.New() })
}
