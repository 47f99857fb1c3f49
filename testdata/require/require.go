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

// Registry keeps a test that fetches a package from a public registry from
// doing so by itself. A run that may reach one sets BELLROW_REGISTRY=1.
func Registry(t testing.TB, what string) {
	t.Helper()
	if os.Getenv("BELLROW_REGISTRY") != "1" {
		t.Skipf("fetches %s from a registry: allow it with BELLROW_REGISTRY=1", what)
	}
}

// Alone keeps a test that works in real time, with a sound card or a
// browser's microphone, for a run that has the machine to itself: beside
// others it would measure their load. Such a run sets BELLROW_ALONE=1.
func Alone(t testing.TB) {
	t.Helper()
	if os.Getenv("BELLROW_ALONE") != "1" {
		t.Skip("works in real time: run it alone, with BELLROW_ALONE=1 and -p 1")
	}
}
