package moves

import (
	"fmt"
	"math"
	"math/rand/v2"

	"bellrow/hub/slide"
	"bellrow/node/listen"
	"bellrow/proto/pitch"
)

// Readings says how well notes are read.
type Readings string

// Kinds of readings.
const (
	// Sharp readings know the centre of a note to 0.5 cents and refuse none.
	Sharp Readings = "sharp"
	// Rough readings know it to 1 to 2 cents, one in ten to 4, and one in ten is
	// refused; how a note starts and moves is known as well as with sharp ones.
	Rough Readings = "rough"
	// Wandering readings are rough ones of notes that wander so much all the time,
	// as trumpets do: starts and slopes are blurred in proportion.
	Wandering Readings = "wandering"
	// Clean readings are the intervals that one play of a clean estimator states
	// about its own truth in three rooms and beside speech, a snare, a piano and a
	// neighbour: half widths of 0.4 to 0.8 cents, one in four 1.4 to 2.5, one in ten
	// refused, and one in eighty wrong by more than it says.
	Clean Readings = "clean"
	// Rooms are the intervals that a leader gets of the recorded practice notes of all
	// grades in rooms (testdata/results/readings.md): see roomHalf. One in 64 is refused.
	Rooms Readings = "rooms"
	// Once are the same where the scatter from attack to attack is part of what the
	// interval holds and not beside it. Of one note the recordings tell how far its mean goes
	// on from one stretch to the next; of one note attacked again they tell nothing. Its means
	// scatter by no less than that, and by no more than that and what comes besides with the
	// attack: Once is the one end, Rooms the other.
	Once Readings = "once"
)

func (k Readings) check() error {
	switch k {
	case Sharp, Rough, Wandering, Clean, Rooms, Once:
		return nil
	}
	return fmt.Errorf("trial: readings %q, need sharp, rough, wandering, clean, rooms or once", k)
}

// roomHalf are half widths in cents of where a note goes on, by the share of notes
// that have less: the tenths that readings.md gives for rooms of 0.4 to 1.2 s, all
// grades, with straight lines between them; the ends are its dry notes'.
var roomHalf = [...]struct{ share, cents float64 }{{0, 0.37}, {0.1, 0.5}, {0.25, 0.8}, {0.5, 5.1}, {0.75, 8.8}, {0.9, 10.1}, {1, 11}}

// roomTail scales Student's t of three degrees to how far notes went on, in half
// widths: half within 0.23, nine of ten within 0.82, 99 of 100 within 1.88, none
// counted beyond two (readings.md).
const (
	roomTail    = 0.32
	roomFar     = 2.0
	roomRefused = 1.0 / 64
)

// held reports whether the intervals are those of where notes in rooms go on.
func (k Readings) held() bool { return k == Rooms || k == Once }

// heldSD draws how well the centre of a note in a room is known: the note goes on as
// far from its centre as it was read.
func heldSD(u float64) float64 {
	k := 1
	for roomHalf[k].share < u {
		k++
	}
	a, b := roomHalf[k-1], roomHalf[k]
	return (a.cents + (b.cents-a.cents)*(u-a.share)/(b.share-a.share)) / (1.96 * math.Sqrt2)
}

// heldError draws how far a reading lies from the centre that it knows to sd.
func heldError(r *rand.Rand, sd float64) float64 {
	t := r.NormFloat64() / math.Sqrt((sq(r.NormFloat64())+sq(r.NormFloat64())+sq(r.NormFloat64()))/3)
	return 1.96 * sd * math.Max(-roomFar, math.Min(roomFar, roomTail*t))
}

func sq(x float64) float64 { return x * x }

// note is one note as a leader gets it.
type note struct {
	at      float64 // when it ended, in seconds
	chair   int
	cents   float64 // from the target
	half    float64 // of the 95 % interval
	refused string  // why it gives no reading; empty for one that does
	start   float64 // how far above cents it began
	started float64 // half width of start
	drift   float64 // half width of the drift, in cents a second
	played  float64
	along   bool // lost among others who played too: no try of the player's
	reading listen.Reading
}

// What quick wander does to the figures of a reading: its mean over readSeconds
// is known to an SD that its start, over startSeconds, exceeds by the square
// root of their ratio; a slope over T seconds is known to √12/T of it.
const (
	readSeconds  = 1.5
	startSeconds = 0.18
	ownNoise     = 0.51 // of player.Reading: SD of its centre
	otherNote    = 60   // cents from the called note
	middle       = 0.86 // seconds from the beginning to the middle of what is read
)

// play has a chair play the called note, and reads it.
func (s *section) play(i int, k Readings) note {
	c := s.chairs[i]
	c.notes++
	c.tune = c.tunes[c.called]
	c.heldAtNote = c.player.Holding(c.note)
	sound := c.player.Sounding(c.note)
	r := c.player.Reading(sound)
	n := note{chair: i}
	sd := ownNoise
	lost := 0.0
	rnd := s.random
	switch x := rnd.Float64(); {
	case (k == Rough || k == Wandering) && x < 0.1:
		sd, lost = 4, 0.1
	case k == Rough || k == Wandering:
		sd, lost = 1+rnd.Float64(), 0.1
	case k == Clean && x < 0.25:
		sd, lost = (1.4+1.1*rnd.Float64())/1.96, 0.1
	case k == Clean:
		sd, lost = (0.4+0.4*rnd.Float64())/1.96, 0.1
	case k.held():
		sd, lost = heldSD(x), roomRefused
	}
	if k == Clean {
		// the model's own noise is more than such a reading has
		at := float64(sound.Hz) * math.Exp2((float64(pitch.Between(sound.Hz, r.Hz))*sd/ownNoise)/1200)
		if sound.VibratoCents == 0 && sound.Drift == 0 && sound.Early < 0 {
			r.Hz = pitch.Hertz(at)
		}
		if rnd.Float64() < 1.0/80 {
			r.Hz = r.Hz.Shift(pitch.Cents((4 + 6*rnd.Float64()) * math.Copysign(1, rnd.Float64()-0.5)))
		}
	}
	extra := math.Sqrt(math.Max(0, sd*sd-ownNoise*ownNoise))
	if off := extra * rnd.NormFloat64(); !k.held() {
		r.Hz = r.Hz.Shift(pitch.Cents(off))
	} else if sound.VibratoCents == 0 && sound.Drift == 0 && sound.Early < 0 {
		beside := sd
		if k == Once {
			beside = math.Sqrt(math.Max(0, sd*sd-sq(float64(c.config.Repeat))))
		}
		r.Hz = sound.Hz.Shift(pitch.Cents(heldError(rnd, beside))) // the model's own noise may be more than such a reading has
	} else {
		r.Hz = r.Hz.Shift(pitch.Cents(heldError(rnd, extra)))
	}
	r.CI95 = pitch.Cents(1.96 * math.Sqrt2 * sd) // of where the note goes on
	if k == Rough {
		extra = 0
	}
	startDoubt, slopeDoubt := math.Sqrt(readSeconds/startSeconds)*extra, math.Sqrt(12)/readSeconds*extra
	r.Early += pitch.Cents(startDoubt * rnd.NormFloat64())
	r.Drift += slopeDoubt * rnd.NormFloat64()
	n.cents = float64(pitch.Between(c.target, r.Hz))
	n.half = 1.96 * sd
	n.start, n.started = float64(r.Early), 1.96*math.Hypot(0.8, startDoubt)
	slopeDoubt = math.Hypot(1.1, slopeDoubt)
	n.drift = 1.96 * slopeDoubt
	n.played = c.player.Played()
	switch {
	case math.Abs(n.cents) > otherNote:
		n.refused = "other-note"
	case !r.Settled:
		n.refused = string(r.Reason)
	case rnd.Float64() < lost:
		n.refused = string(listen.ReasonMoving)
	}
	if n.refused != "" && n.refused != "other-note" {
		r.Settled, r.Reason = false, listen.Reason(n.refused)
	}
	n.reading = r
	return n
}

// forAdvice is a note as hub/slide takes it.
func (n note) forAdvice() slide.Reading {
	r := n.reading
	return slide.Reading{
		Hz: r.Hz, CI95: r.CI95, Spread: r.Spread, Drift: r.Drift, Level: r.Level, Early: r.Early,
		Played: n.played, Settled: r.Settled, Reason: string(r.Reason),
	}
}
