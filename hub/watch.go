package hub

import (
	"context"
	"errors"
	"fmt"
	"strconv"
)

// A watch is the quiet time while the section rehearses: nothing is called,
// every node keeps listening, and what settles is stored with WhyWatch. Nobody
// is shown anything; how the pitch went is told afterwards, from the records.
// Any call ends it. It goes on over a restart of the hub as the tune-up does.

// phaseWatch is a player's phase during a watch.
const phaseWatch = "watch"

// watchOn is the store's value while a section is watched, empty otherwise.
const watchOn = "on"

// watch begins the quiet time.
func (h *Hub) watch() error {
	if h.watching {
		return errors.New("hub: watch, but the rehearsal is being watched")
	}
	h.closeRunning()
	h.setWatching(true)
	return nil
}

// endWatch ends it and reports whether there was one.
func (h *Hub) endWatch() bool {
	was := h.watching
	h.setWatching(false)
	return was
}

func (h *Hub) setWatching(on bool) {
	if on == h.watching {
		return
	}
	h.watching = on
	value := ""
	if on {
		value = watchOn
	}
	h.saveValue(keyWatch+strconv.FormatInt(h.section.ID, 10), value)
}

// watchingOf reports whether a section was being watched when its hub stopped.
func (h *Hub) watchingOf(ctx context.Context, section int64) (bool, error) {
	v, err := h.store.Value(ctx, keyWatch+strconv.FormatInt(section, 10))
	if err != nil && !errors.Is(err, ErrNotFound) {
		return false, fmt.Errorf("hub: loading the watch: %w", err)
	}
	return v == watchOn, nil
}
