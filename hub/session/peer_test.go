package session_test

import "testing"

// A label that the hub gave to one player is no claim against another whose
// name it happens to be.
func TestOwnNameAgainstAnotherPlayersLabel(t *testing.T) {
	b := newBench(t)
	second := b.join("Trumpet 2", "trumpet_bb") // gets the label "Trumpet 1"
	first := b.join("Trumpet 1", "trumpet_bb")
	if first.chair == second.chair {
		t.Fatalf("both sit on chair %d", first.chair)
	}
	if b.hub.Node(second.chair) != second.node || b.hub.Node(first.chair) != first.node {
		t.Error("one player displaced the other")
	}
}
