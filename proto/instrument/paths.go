package instrument

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"bellrow/proto/pitch"
)

// maxPartial is the highest harmonic a player is expected to use.
const maxPartial = 16

// Written returns the written note for a sounding one.
func (in *Instrument) Written(sounding pitch.Note) pitch.Note {
	return sounding - pitch.Note(in.Transposition)
}

// Sounding returns the sounding note for a written one.
func (in *Instrument) Sounding(written pitch.Note) pitch.Note {
	return written + pitch.Note(in.Transposition)
}

// TuningNote returns the sounding note of TuningWay.
func (in *Instrument) TuningNote(concert pitch.Note) pitch.Note {
	n, _, _ := in.TuningWay(concert)
	return n
}

// root returns the note of the open fundamental.
func (in *Instrument) root() pitch.Note {
	n, _ := pitch.Reference{}.Nearest(in.Fundamental)
	return n
}

// harmonics holds the equal-tempered distance of each partial from the first.
var harmonics = func() (h [maxPartial + 1]int) {
	for k := 1; k <= maxPartial; k++ {
		h[k] = int(math.Round(12 * math.Log2(float64(k))))
	}
	return h
}()

// harmonic looks a partial up; partial 0 counts as 1.
func harmonic(partial int) int {
	return harmonics[min(max(1, partial), maxPartial)]
}

// lowered returns how many semitones a path's tube lies below the open one.
func (in *Instrument) lowered(p Path) int {
	d := in.valvesLower(p)
	if p.Position > 0 {
		d += int(math.Round(p.Position)) - 1
	}
	switch {
	case in.Attachment && p.Side == "F":
		d += attachmentSemitones
	case in.SecondValve && p.Side == "Gb":
		d += secondValveSemitones
	case in.SecondValve && p.Side == "D":
		d += bothValvesSemitones
	case in.Double && p.Side == "Bb":
		d -= attachmentSemitones
	}
	return d
}

// valvesLower returns how many semitones the pressed valves lower. Long
// combinations of five and six valves are used for the note that they come
// nearest to: 1-2-4-5 lies nine semitones down, not ten.
func (in *Instrument) valvesLower(p Path) int {
	vs := p.pressed()
	if in.Valves > 4 && len(vs) > 0 && vs[len(vs)-1] >= 4 {
		return int(math.Round(12 * math.Log2(in.lengthFactor(p))))
	}
	d := 0
	for _, v := range vs {
		d += valveSemitones[v-1]
	}
	return d
}

// Sounds returns the equal-tempered note that p is used for.
func (in *Instrument) Sounds(p Path) pitch.Note {
	return in.root() + pitch.Note(harmonic(p.Partial)-in.lowered(p))
}

// Paths returns the ways of playing the sounding note n, the usual one first:
// fingerings, horn sides, hand-slide positions with their alternates and the
// F attachment. It is empty when the note is out of reach.
func (in *Instrument) Paths(n pitch.Note) []Path {
	if !in.Tuned() {
		return in.onlyPath(n)
	}
	var ps []Path
	root := in.root()
	for _, tube := range in.tubes() {
		above := int(n-root) + in.lowered(tube)
		for partial := 1; partial <= maxPartial; partial++ {
			p := tube
			p.Partial = partial
			if harmonic(partial) == above && in.playable(p) {
				ps = append(ps, p)
			}
		}
	}
	slices.SortStableFunc(ps, func(a, b Path) int { return cmp.Compare(in.cost(a), in.cost(b)) })
	return ps
}

// Resolve fills in the partial, and the side where only one can be meant, of
// a path that is to sound n. The error says that this instrument cannot play
// n that way.
func (in *Instrument) Resolve(p Path, n pitch.Note) (Path, error) {
	for _, q := range in.Paths(n) {
		if p.Side == "" && p.Position == 0 {
			q2 := q
			q2.Side = ""
			if q2.SamePath(p) {
				return q, nil
			}
		}
		if q.SamePath(p) {
			return q, nil
		}
	}
	return Path{}, fmt.Errorf("instrument: %s does not play written %s with %s", in.ID, in.Written(n), p)
}

// tubes lists every air path of the instrument, without partials.
func (in *Instrument) tubes() []Path {
	switch {
	case in.HandSlide:
		return in.positions()
	case in.Double:
		return append(fingerings(in.Valves, "F"), fingerings(in.Valves, "Bb")...)
	}
	return fingerings(in.Valves, "")
}

func (in *Instrument) positions() []Path {
	var ps []Path
	sides := []string{""}
	if in.Attachment {
		sides = append(sides, "F")
	}
	if in.SecondValve {
		sides = append(sides, "Gb", "D")
	}
	for _, side := range sides {
		for x := 1.0; x <= 7; x++ {
			ps = append(ps, Path{Position: x, Side: side})
		}
	}
	return ps
}

// maxValves is the most valves an instrument of the catalogue has.
const maxValves = 6

// valveNames holds the combinations of so many valves, open first.
var valveNames = func() (all [maxValves + 1][]string) {
	for valves := range all {
		for mask := range 1 << valves {
			var pressed []string
			for v := range valves {
				if mask>>v&1 == 1 {
					pressed = append(pressed, strconv.Itoa(v+1))
				}
			}
			all[valves] = append(all[valves], strings.Join(pressed, "-"))
		}
	}
	return all
}()

func fingerings(valves int, side string) []Path {
	var ps []Path
	for _, name := range valveNames[valves] {
		ps = append(ps, Path{Valves: name, Side: side})
	}
	return ps
}

// mistuned partials are far from any tempered note: quarter tones and worse.
func mistuned(partial int) bool { return partial == 11 || partial == 13 || partial == 14 }

// What combinations of five and six valves may be out, in cents, to be used:
// with the fourth valve, where slides are moved for them, and without (from
// memory of fingering charts; no source).
const (
	farFourth = 35
	farValves = 12
)

// playable leaves out what nobody uses: the far partials, a seventh partial
// on valves, and one in first position, where the slide cannot come in.
func (in *Instrument) playable(p Path) bool {
	switch {
	case mistuned(p.Partial), p.Partial == 15:
		return false
	case p.Partial == 7:
		return in.HandSlide && p.Position > 1 && p.Side == ""
	case in.Valves > 4 && strings.ContainsAny(p.Valves, "456"):
		// Who has five valves needs no combination that is far out.
		// The long ones are for the lowest octave.
		far := math.Abs(float64(in.Theory(p).Valves))
		low := in.lowered(p) <= costTritone || p.Partial <= 2
		return low && (far <= farValves || far <= farFourth && p.presses(4))
	case p.Side == "F" && in.HandSlide:
		// The attachment is for the low register; its seventh position only
		// for the low B that has no other place.
		return p.Partial <= 4 && (p.Position <= 6 || p.Partial == 2)
	case in.SecondValve && p.Side != "":
		// As far as the hand slide reaches on the longer tube.
		return p.Partial <= 4 && PositionMM(in.open(p.Side), p.Position) <= handTravel
	}
	return true
}

// Costs that order the ways of playing a note, in semitones of tube: among
// equals players take the shortest tube (common practice, no source, except
// as marked).
const (
	costPedal      = 30  // first partials only when nothing else is left
	costNinth      = 2.5 // valved brass prefers the tenth partial a step lower down
	costAlternate  = 0.5 // 3 for 1-2; with four valves 1-3 and 1-2-3 give way to 4 and 2-4 (Pitts, Using the First Valve Slide)
	costAttachment = 3   // worth it from sixth position on
	costSecond     = 1   // the second valve alone is for where the F attachment is awkward
	costBoth       = 3.5 // worth it from low C down, where the F attachment ends sharp
	costWrongSide  = 8   // double horn: B flat side from written G#4 up, F side below
	costPerCent    = 0.05
	costTritone    = 6 // below 2-4 the purest combination wins
)

// hornChange is where a double horn goes over to the B flat side: written G#4.
const hornChange pitch.Note = 61

func (in *Instrument) cost(p Path) float64 {
	c := float64(in.lowered(p))
	if p.Partial == 1 {
		c += costPedal
	}
	if p.Partial == 9 && !in.HandSlide {
		c += costNinth
	}
	c += in.costAttached(p.Side)
	if in.Double {
		if p.Side == "Bb" {
			c += attachmentSemitones
		}
		if (p.Side == "Bb") != (in.Sounds(p) >= hornChange) {
			c += costWrongSide
		}
	}
	switch vs := p.pressed(); {
	case slices.Equal(vs, []int{3}), in.Valves >= 4 && !p.presses(4) && p.presses(1) && p.presses(3):
		c += costAlternate
	case in.lowered(p) > costTritone:
		c += costPerCent * math.Abs(float64(in.Tendency(p)))
	}
	return c
}

// costAttached is the cost of a trombone's valves in place of their tube.
func (in *Instrument) costAttached(side string) float64 {
	switch {
	case in.Attachment && side == "F":
		return costAttachment - attachmentSemitones
	case in.SecondValve && side == "Gb":
		return costAttachment + costSecond - secondValveSemitones
	case in.SecondValve && side == "D":
		return costAttachment + costBoth - bothValvesSemitones
	}
	return 0
}
