package capture

// downmix makes one channel of several: their mean, except where that cancels.
// A balanced plug in a stereo socket gives a sound and its inverse, whose mean
// is silence; then the first channel is taken.
type downmix struct {
	mean, each float64 // recent power of the mean, and of the channels
	cancelled  bool
}

const (
	// cancels and cancelsNoMore are the power of the mean over that of the
	// channels, -30 and -20 dB: two microphones in a room never cancel so well.
	cancels, cancelsNoMore = 1e-3, 1e-2
	// downmixForgets is the share of the power forgotten with each frame: a
	// tenth of a second.
	downmixForgets = 1.0 / 4800
)

// next takes a frame's mean, its first channel and the mean square of all.
func (d *downmix) next(mean, first, square float64) float64 {
	d.mean += downmixForgets * (mean*mean - d.mean)
	d.each += downmixForgets * (square - d.each)
	switch {
	case d.mean < cancels*d.each:
		d.cancelled = true
	case d.mean > cancelsNoMore*d.each:
		d.cancelled = false
	}
	if d.cancelled {
		return first
	}
	return mean
}
