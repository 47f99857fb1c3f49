// Package require says how a test goes on when the machine lacks something it
// needs: it skips with the reason, or fails where everything is required.
package require

import (
	"os"
	"testing"
)

// Everything reports whether BELLROW_REQUIRE=all asks that nothing be skipped.
func Everything() bool { return os.Getenv("BELLROW_REQUIRE") == "all" }

// Missing ends the test: as a skip with the reason, or as a failure when
// everything is required.
func Missing(t testing.TB, reason string) {
	t.Helper()
	if Everything() {
		t.Fatalf("required here, but missing: %s", reason)
	}
	t.Skip(reason)
}
