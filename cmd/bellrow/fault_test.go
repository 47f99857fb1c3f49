package main

import (
	"fmt"
	"io/fs"
	"strings"
	"syscall"
	"testing"

	"bellrow/cmd/bellrow/plain"
	"bellrow/hub"
	"bellrow/node/player"
	"bellrow/proto/instrument"
	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// TestFaultsOnTheStartPage: what keeps a section from opening is said on the page as the
// command line says it, and in the browser's language.
func TestFaultsOnTheStartPage(t *testing.T) {
	faults := []error{listenError(":7440", syscall.EADDRINUSE), listenError(":80", syscall.EACCES)}
	for _, err := range []error{hub.ErrNewer, hub.ErrInUse, hub.ErrReadOnly, fs.ErrPermission, hub.ErrFull} {
		faults = append(faults, storeError("/kept", err))
	}
	for _, err := range []error{hub.ErrReadOnly, hub.ErrFull, hub.ErrDamaged, hub.ErrMoved} { // once it is open
		faults = append(faults, keptFault("/kept", fmt.Errorf("the rules of the door: %w", err)))
	}
	_, _, typed := (&front{config: &nodeConfig{state: t.TempDir()}}).newDesk(t.Context(), player.Wish{Instrument: instrument.Catalogue()[0].ID, Hub: "http://["})
	faults = append(faults, typed)
	for _, err := range faults {
		if got, want := plain.In(err, phrase.Tongue{}), plain.Words(err); got != want {
			t.Errorf("the page says %q, the command line %q", got, want)
		}
		for _, tag := range []string{"de", "fr", "es"} {
			got := plain.In(err, phrase.Start.In(tag, pitch.Style{}))
			if got == plain.Words(err) || strings.Contains(got, "start.") || !strings.Contains(got, "/kept") && !strings.Contains(got, ":") {
				t.Errorf("%s: %q", tag, got)
			}
		}
	}
}

// TestARestoreSaysWhatToDo: whatever keeps a copy from being put back is one sentence of people's words with what to do
// next, and without those of the store.
func TestARestoreSaysWhatToDo(t *testing.T) {
	for _, cause := range []error{hub.ErrInUse, hub.ErrNewer, hub.ErrFull, hub.ErrReadOnly, fs.ErrNotExist} {
		err := restoreError("monday.db", "/kept", fmt.Errorf("%w: /kept/.restoring-1/copy.db", cause))
		if said := plain.Words(err); !strings.Contains(said, "monday.db") && !strings.Contains(said, "/kept") || strings.Contains(said, "hub:") || strings.Contains(said, ".restoring") || strings.Count(said, "\n") > 1 {
			t.Errorf("%v: %q", cause, said)
		}
	}
}
