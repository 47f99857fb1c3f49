package attribute

import "bellrow/proto/pitch"

// Alone reads the first chair of in from its own tracks as one source, without
// judging it: what one microphone by itself makes of the window. It is for
// comparison, and false without usable tracks.
func Alone(in Input) (pitch.Hertz, bool) {
	in.Chairs = in.Chairs[:min(1, len(in.Chairs))]
	m := newModel(gather(&in))
	if len(m.tracks) == 0 || !m.tracks[0] {
		return 0, false
	}
	m.solve()
	return pitch.Hertz(m.paths[0].mean()), m.in[0]
}
