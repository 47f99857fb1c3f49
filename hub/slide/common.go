package slide

import (
	"fmt"
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Seat is one chair's part in the choice of a common pitch.
type Seat struct {
	Instrument *instrument.Instrument
	Path       instrument.Path // how the tuning note is played
	Settings   instrument.Settings
	Travel     instrument.Settings
	Offset     pitch.Cents // believed offset from the present reference
	Learned    Learned
}

// Offer is a reference offered to the leader.
type Offer struct {
	Reference pitch.Reference `json:"reference"`
	// MM is the total movement of main slides it needs, PresentMM what the
	// present reference needs.
	MM        float64 `json:"mm"`
	PresentMM float64 `json:"present_mm"`
	// Beyond counts the chairs whose slide does not reach, at the offer and at
	// the present reference.
	Beyond        int `json:"beyond"`
	PresentBeyond int `json:"present_beyond"`
	// Changed is false when the present reference is as good.
	Changed bool   `json:"changed"`
	Words   string `json:"words"`
}

// The references that are offered: whole hertz, as sections say them, in the
// modern range (common practice, no source).
const (
	lowestOffer  = 438
	highestOffer = 446
	// worthChanging is the share of movement that must be saved before a
	// section is asked to change its reference.
	worthChanging = 0.25
)

// CommonPitch finds the reference that needs the least total movement of main
// slides within everybody's limits, first counting those who cannot reach it.
// With an instrument of fixed pitch the reference is that one's, and only what
// it costs is told. The leader decides.
func CommonPitch(present pitch.Reference, seats []Seat, fixed *pitch.Reference) Offer {
	now := present
	if now.A4 == 0 {
		now.A4 = pitch.StandardA4
	}
	best := Offer{Reference: now}
	best.MM, best.Beyond = movement(now, now, seats)
	best.PresentMM, best.PresentBeyond = best.MM, best.Beyond
	if fixed != nil {
		f := *fixed
		if f.A4 == 0 {
			f.A4 = pitch.StandardA4
		}
		best.Reference = f
		best.MM, best.Beyond = movement(now, f, seats)
		best.Changed = f != now
		best.Words = fmt.Sprintf("The fixed instrument sets A at %g Hz.", float64(f.A4))
		return best
	}
	for hz := lowestOffer; hz <= highestOffer; hz++ {
		r := pitch.Reference{A4: pitch.Hertz(hz)}
		mm, beyond := movement(now, r, seats)
		if beyond < best.Beyond || beyond == best.Beyond && mm < best.MM-1e-9 {
			best.Reference, best.MM, best.Beyond = r, mm, beyond
		}
	}
	return best.decide(now)
}

// decide keeps the present reference unless a change is worth the asking.
func (o Offer) decide(now pitch.Reference) Offer {
	if o.Beyond == o.PresentBeyond && o.MM > (1-worthChanging)*o.PresentMM {
		o.Reference, o.MM, o.Beyond = now, o.PresentMM, o.PresentBeyond
	}
	o.Changed = o.Reference != now
	if !o.Changed {
		o.Words = fmt.Sprintf("A at %g Hz suits this section as well as any.", float64(now.A4))
		return o
	}
	o.Words = fmt.Sprintf("A at %g Hz would need %.0f mm of slide in all instead of %.0f.", float64(o.Reference.A4), o.MM, o.PresentMM)
	if o.Beyond < o.PresentBeyond {
		o.Words = fmt.Sprintf("A at %g Hz is within reach of %d more slides.", float64(o.Reference.A4), o.PresentBeyond-o.Beyond)
	}
	return o
}

// movement returns the main-slide travel that a reference asks of all seats,
// in mm, and how many cannot reach it.
func movement(now, r pitch.Reference, seats []Seat) (mm float64, beyond int) {
	shift := pitch.Between(now.A4, r.A4)
	for _, s := range seats {
		in := s.Instrument.WithTravel(s.Travel)
		m, _ := in.Slide(instrument.Main)
		lo, hi := Limits(m)
		from := in.MM(s.Settings, instrument.Main)
		move := in.MoveMM(s.Path, instrument.Main, s.Settings, shift-s.Offset) * s.Learned.ratio()
		if to := from + move; to < lo-0.5 || to > hi+0.5 {
			beyond++
			move = math.Max(lo, math.Min(hi, to)) - from
		}
		mm += math.Abs(move)
	}
	return mm, beyond
}
