package hub

import "errors"

// A watch is the quiet time while the section rehearses: nothing is called,
// every node keeps listening, and what settles is stored with WhyWatch. Nobody
// is shown anything; how the pitch went is told afterwards, from the records.
// Any call ends it.

// WhyWatch is the code of a reading taken during a watch.
const WhyWatch = "watch"

// phaseWatch is a player's phase during a watch.
const phaseWatch = "watch"

// watch begins the quiet time.
func (h *Hub) watch() error {
	if h.watching {
		return errors.New("hub: watch, but the rehearsal is being watched")
	}
	h.closeRunning()
	h.watching = true
	return nil
}

// endWatch ends it and reports whether there was one.
func (h *Hub) endWatch() bool {
	was := h.watching
	h.watching = false
	return was
}
