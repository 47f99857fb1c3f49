package slide

import (
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
	Offset     pitch.Cents // believed offset of that note from the present reference
	Learned    Learned
}

// own is the seat's offset without what the note is flat or sharp by nature.
func (s Seat) own() pitch.Cents { return s.Offset - s.Instrument.Nature(s.Path) }

// main is the seat's main slide on that note.
func (s Seat) main() Lever {
	return LeverOf(s.Instrument.WithTravel(s.Travel), s.Path, instrument.Main, s.Settings, s.Learned)
}

// Clear is how far a note stands from its target without what it is flat or sharp
// by nature, for everything that compares chairs: the section as one, its common
// change, and what earlier days were like. The zero Path is the usual way of
// playing the note; without an instrument nothing is known and nothing goes out.
func Clear(in *instrument.Instrument, n pitch.Note, p instrument.Path, cents pitch.Cents) pitch.Cents {
	if in == nil {
		return cents
	}
	return cents - in.Nature(usualPath(in, p, n))
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
	Changed bool `json:"changed"`
	// Fixed tells that an instrument of fixed pitch sets it.
	Fixed bool   `json:"fixed,omitempty"`
	Words string `json:"words"`
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
		best.Fixed = true
		best.Words = best.words()
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
	o.Words = o.words()
	return o
}

// movement returns the main-slide travel that a reference asks of all seats,
// in mm, and how many cannot reach it.
func movement(now, r pitch.Reference, seats []Seat) (mm float64, beyond int) {
	shift := pitch.Between(now.A4, r.A4)
	for _, s := range seats {
		v := s.main()
		in, out := v.Room()
		move := v.MM(shift - s.own())
		if move < in-0.5 || move > out+0.5 {
			beyond++
			move = math.Max(in, math.Min(out, move))
		}
		mm += math.Abs(move)
	}
	return mm, beyond
}
