package slide

import (
	"math"

	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Deed is one thing that a leader can do about a section that is off as one.
type Deed string

// The deeds.
const (
	WarmUp    Deed = "warm-up"    // play warm, then hear it again: cold instruments are flat
	AllMove   Deed = "all-move"   // everybody moves the main slide by the common part
	TuneThere Deed = "follow"     // the reference goes to where the section stands
	HearAgain Deed = "hear-again" // the same note once more, softer
)

// Choice is one thing to do, with what it takes.
type Choice struct {
	Do Deed `json:"do"`
	// Reference is the new one, for TuneThere.
	Reference pitch.Reference `json:"reference,omitzero"`
	// Steps holds each seat's move, for AllMove, in the order of the seats; MM is
	// the longest of them, Beyond counts the seats whose slide does not reach.
	Steps  []Step  `json:"steps,omitempty"`
	MM     float64 `json:"mm,omitempty"`
	Beyond int     `json:"beyond,omitempty"`
	Words  string  `json:"words"`
}

// AsOne tells what a section has in common from what is each seat's own, theory
// taken out, and what can be done about the common part.
type AsOne struct {
	Common pitch.Cents   `json:"common_cents"`
	Own    []pitch.Cents `json:"own_cents"` // by seat, beside the common part
	// With counts the seats that stand with the rest: within the tolerance band
	// of the common part.
	With int `json:"with"`
	// Off tells that there is a common part: more than the tolerance band, with
	// four seats in five.
	Off bool `json:"off"`
	// Choices are in the order in which a director would think of them; empty
	// unless Off.
	Choices []Choice `json:"choices,omitempty"`
	// Words is one sentence for the leader.
	Words string `json:"words"`
}

// Together judges a section by its seats. good is the tolerance band; a section
// is off as one when at least fewest seats were heard and four in five stand
// within twice the band of the common part. fixed tells that an instrument of
// fixed pitch plays: then the reference stays, and the slides have to come to it.
//
// Sharp: everybody out by the common part, or tune to where they stand, or hear
// it again; never "play warm", which sharpens. Flat: warm up first, then
// everybody in (common practice, no source).
func Together(present pitch.Reference, seats []Seat, good pitch.Cents, fixed bool) AsOne {
	if good <= 0 {
		good = DefaultGood
	}
	t := AsOne{}
	var xs []float64
	for _, s := range seats {
		xs = append(xs, float64(s.own()))
	}
	t.Common = pitch.Cents(pitch.Median(xs))
	for _, x := range xs {
		own := pitch.Cents(x) - t.Common
		t.Own = append(t.Own, own)
		if math.Abs(float64(own)) <= 2*float64(good) {
			t.With++
		}
	}
	t.Off = len(seats) >= fewestTogether && math.Abs(float64(t.Common)) > float64(good) && float64(t.With) >= mostTogether*float64(len(seats))
	if t.Off {
		t.choose(present, seats, fixed)
	}
	t.Words = t.words()
	return t
}

// Of two or three seats any may have changed by itself; two of three are no room.
const (
	fewestTogether = 3
	mostTogether   = 0.8
)

func (t *AsOne) choose(present pitch.Reference, seats []Seat, fixed bool) {
	if t.Common < 0 {
		t.Choices = append(t.Choices, Choice{Do: WarmUp})
	}
	all := Choice{Do: AllMove}
	for _, s := range seats {
		st := s.main().Step(-t.Common)
		if st.ShortBy != 0 {
			all.Beyond++
		}
		all.MM = math.Max(all.MM, math.Abs(st.MM()))
		all.Steps = append(all.Steps, st)
	}
	t.Choices = append(t.Choices, all)
	if r, ok := t.follows(present); ok && !fixed {
		t.Choices = append(t.Choices, Choice{Do: TuneThere, Reference: r})
	}
	t.Choices = append(t.Choices, Choice{Do: HearAgain})
	for i := range t.Choices {
		t.Choices[i].Words = t.Choices[i].words(t.Common)
	}
}

// follows is the reference of whole hertz nearest to where the section stands,
// within what sections play at.
func (t *AsOne) follows(present pitch.Reference) (pitch.Reference, bool) {
	now := present.Frequency(pitch.A4)
	hz := pitch.Hertz(math.Round(float64(now.Shift(t.Common))))
	r := pitch.Reference{A4: min(max(hz, lowestOffer), highestOffer)}
	before, after := math.Abs(float64(t.Common)), math.Abs(float64(t.Common-pitch.Between(now, r.A4)))
	return r, r.A4 == hz && after < before
}

// Answer is what a player is told while the leader decides: own and common part
// apart. seat is the index of the seat.
func (t AsOne) Answer(seat int) Advice {
	a := Advice{Kind: Stay, Code: "room", Facts: Facts{Common: t.Common}}
	if seat >= 0 && seat < len(t.Own) {
		a.Facts.Own = Belief{Offset: t.Own[seat]}
	}
	return a
}

// Move is what a seat is told when everybody moves by the common part: its step of
// AllMove, or that its slide has nothing left that way.
func (t AsOne) Move(seat int) Advice {
	a := Advice{Kind: Stay, Code: "room", Facts: Facts{Common: t.Common}}
	for _, c := range t.Choices {
		if c.Do != AllMove || seat < 0 || seat >= len(c.Steps) {
			continue
		}
		st := c.Steps[seat]
		a.Facts = Facts{Common: t.Common, Own: Belief{Offset: t.Own[seat]}, NeedMM: math.Abs(st.MM()) + st.ShortMM, Out: t.Common > 0}
		a.Kind, a.Code = Nothing, "all-move-end"
		if st.MM() != 0 {
			a.Kind, a.Code, a.Steps = Move, "all-move", []Step{st}
		} else {
			a.Facts.Slide = instrument.Slide{ID: st.Slide, Name: st.Name}
		}
	}
	return a
}
