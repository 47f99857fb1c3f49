package hub

import (
	"math"
	"time"

	"bellrow/hub/slide"
	"bellrow/proto/pitch"
)

// Figures are what can be reckoned with of a reading: the measured values
// without the words around them. A report reads tens of thousands.
type Figures struct {
	Chair ChairID
	At    time.Time // arrival by the hub's clock
	// Watch is set for a note that settled while the section played, which has
	// no Note and no Cents; clear for a reading that counted and was judged.
	Watch  bool
	Note   pitch.Note // the called sounding note
	Cents  pitch.Cents
	Hz     pitch.Hertz // as the node sent it
	Level  pitch.Level
	Early  pitch.Cents // start of the note against its rest
	Drift  float64     // cents per second while it rested
	Middle float64     // seconds from the onset to the middle of the rest
	Played float64     // seconds the instrument had sounded before
	// Mute is what was in the bell. A muted tuning note did not count, and has its
	// Cents all the same.
	Mute slide.Mute
	// Second is how loud another source was beside the note, in dB against it;
	// negative infinity when there was none.
	Second float64
}

// Figures returns a reading's figures, false for one that says nothing about
// its player: it was neither judged, nor settled during a watch, nor muted.
func (r Reading) Figures() (Figures, bool) {
	f := Figures{
		Chair: r.Chair, At: r.At, Watch: r.Why == WhyWatch, Note: r.Note, Cents: r.Cents, Hz: r.Wire.Hz, Level: r.Wire.Level,
		Early: r.Wire.Early, Drift: r.Wire.Drift, Middle: (r.Wire.Start+r.Wire.End)/2 - r.Wire.Onset, Played: r.Wire.Played, Second: math.Inf(-1),
	}
	if r.Wire.Second != nil {
		f.Second = r.Wire.Second.LevelDB
	}
	f.Mute = r.Mute()
	return f, r.Counted && r.Verdict != "" || f.Watch && r.Wire.Settled || r.Why == WhyMuted
}
