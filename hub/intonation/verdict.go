package intonation

import (
	"math"

	"bellrow/proto/pitch"
)

// The verdicts on one reading.
const (
	Set   = "set"   // within the good band
	Near  = "near"  // outside it, within the watch band
	Out   = "out"   // beyond the watch band
	Doubt = "doubt" // the interval is too wide to say
)

// Default bands. No source gives a tolerance for wind groups; these are common
// practice, no source, and a section may set its own (double for schools).
const (
	DefaultGood  pitch.Cents = 5
	DefaultWatch pitch.Cents = 10
)

// goodBand is a good band as a section may set it, or the usual one.
func goodBand(good pitch.Cents) pitch.Cents {
	if good > 0 {
		return good
	}
	return DefaultGood
}

// Verdict says where a reading stands: Set, Near or Out by its distance from
// the target in cents, or Doubt when its 95 % interval (half width ci95)
// reaches from inside the good band to beyond the watch band, so that it
// could as well be set as out. Bands that are not positive mean the defaults.
// A reading that is not a number is in doubt.
func Verdict(cents, ci95, good, watch pitch.Cents) string {
	good = goodBand(good)
	if watch < good {
		watch = max(DefaultWatch, good)
	}
	distance, half := math.Abs(float64(cents)), float64(ci95)
	if !finite(distance + half) {
		return Doubt
	}
	switch {
	case distance-half < float64(good) && distance+half > float64(watch):
		return Doubt
	case distance <= float64(good):
		return Set
	case distance <= float64(watch):
		return Near
	}
	return Out
}
