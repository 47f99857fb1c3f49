package intonation

import (
	"cmp"
	"fmt"
	"math"
	"slices"

	"bellrow/hub/slide"
	"bellrow/proto/instrument"
	"bellrow/proto/pitch"
)

// Player is one chair in a piece.
type Player struct {
	Name       string
	Instrument *instrument.Instrument
	// Settings is where the slides stand, Travel what the player measured.
	Settings instrument.Settings
	Travel   instrument.Settings
	// Offset is how far this player's readings stand from the theory of the
	// instrument at Settings; 0 when none were taken.
	Offset pitch.Cents
	// OneNote is the sounding note the player would tune on alone.
	OneNote pitch.Note
	// Paths holds fingerings and positions other than the usual ones.
	Paths map[pitch.Note]instrument.Path
	// Learned is the player's own millimetres per cent.
	Learned slide.Learned
}

// HeldTone is one player's note in a held chord.
type HeldTone struct {
	Player int // index
	Note   pitch.Note
	// Want is where the note belongs, from tempered at the reference.
	Want pitch.Cents
}

// HeldChord is one sonority of a piece.
type HeldChord struct {
	Bar    int     // for the caller: comes back in Hurt
	Weight float64 // how much it counts: its length, say
	Tones  []HeldTone
}

// Plan is the compromise.
type Plan struct {
	Players []PlayerPlan
	// OneNoteRMS and RMS are the weighted root mean square errors in cents
	// that remain once hand and valve slides have done what they can: after
	// tuning on one note, and with the plan.
	OneNoteRMS, RMS float64
	// Hurts lists what is still out by more than the good band, the worst for
	// each bar and player first.
	Hurts []Hurt
	// Unplayable counts tones out of reach of their instrument, left out.
	Unplayable int
	// Code is PlanServes where tuning on one note serves as well, else
	// PlanGains; Words says it in a sentence.
	Code  PlanCode
	Words string
}

// PlanCode says what a plan is good for; RMS and OneNoteRMS are its figures.
type PlanCode string

// The codes.
const (
	PlanServes PlanCode = "one-note-serves"
	PlanGains  PlanCode = "gains"
)

// PlayerPlan is one player's part of the plan. Main settings are in whole mm.
type PlayerPlan struct {
	Name      string
	FromMM    float64 // where the main slide stands
	OneNoteMM float64 // where tuning on OneNote would put it
	MainMM    float64 // where the plan puts it
	TravelMM  float64
	// OneNoteRMS and RMS are as in Plan, for this player.
	OneNoteRMS, RMS float64
}

// Hurt is a tone that stays out.
type Hurt struct {
	Bar    int
	Player int
	Note   pitch.Note
	Left   pitch.Cents // beyond what the slides can do; positive = sharp
	Weight float64
}

// Weights of the compromise.
const (
	// effortCost is what an error costs that hand or valve slides take away,
	// against one that stays: small, so that slides are free to work, but
	// enough that the main slide spares them.
	effortCost = 0.02
	// floatCost is what it costs a chord to stand off the reference, against a
	// tone standing off the chord: a group keeps its pitch loosely.
	floatCost = 0.25
	// bellReach is how far the hand in a horn's bell bends a held note without
	// changing its sound much, in cents (from experience, no source).
	bellReach pitch.Cents = 15
	// hopeless is the error beyond which a tone counts in proportion, no
	// longer by its square: what no slide mends, such as the low combinations
	// of four valves, must not drag every other note along.
	hopeless = 20.0
	// noGain is the gain, in cents, that is shown as none.
	noGain = 0.05
	// farFromNote is how far off the tuning note the plan may put a player, in
	// cents: further out than the widest band, everything else would be out
	// (common practice, no source).
	farFromNote = 15.0
	// stayCost is what it costs to stand off the tuning note, against an error of
	// the same size in every tone: the slide was set there for a reason.
	stayCost = 0.02
	// leastGain is what a plan must take off a player's remaining error, in cents,
	// for the slide to leave the tuning note's place: under a cent is none.
	leastGain = 1.0
)

// Compromise finds the one main-slide setting per player that leaves the
// least weighted square error over the chords of a piece, with hand slides,
// valve slides and the hand in the bell doing what they can reach, and every
// chord free to float a little unless fixed (a keyboard) is set.
//
// Each tone costs r² + effortCost·x², where x is its error before and r after
// the other slides (in proportion to r beyond hopeless); each chord floatCost·t²
// a tone for standing t off the reference; each player stayCost·y² a tone for
// standing y off the tuning note, and none is put further off than farFromNote. Who
// gains less than leastGain stays where the tuning note has the slide.
// That is convex with a continuous slope, so exact minimisation along one
// variable after another within bounds ends at the minimum (Bertsekas,
// Nonlinear Programming, block coordinate descent).
func Compromise(players []Player, chords []HeldChord, good pitch.Cents, fixed bool) (Plan, error) {
	good = goodBand(good)
	p, err := newProblem(players, chords, fixed)
	if err != nil {
		return Plan{}, err
	}
	plan := Plan{Unplayable: p.unplayable}
	one := p.oneNote()
	p.float(one)
	oneRMS, oneEach := p.rms(one)
	p.stayNear(one)
	best := p.solve(slices.Clone(one))
	p.round(best)
	rms, each := p.stay(best, one, oneEach)
	if rms > oneRMS { // whole millimetres, or a cost that is not the figure shown
		best, rms, each = one, oneRMS, oneEach
		p.float(best)
	}
	plan.OneNoteRMS, plan.RMS = oneRMS, rms
	for i, pl := range p.players {
		plan.Players = append(plan.Players, PlayerPlan{
			Name: pl.Name, FromMM: pl.from, OneNoteMM: one[i], MainMM: best[i], TravelMM: pl.travel,
			OneNoteRMS: oneEach[i], RMS: each[i],
		})
	}
	plan.Hurts = p.hurts(best, good)
	plan.Code = PlanGains
	if oneRMS-rms < noGain {
		plan.Code = PlanServes
	}
	plan.Words = plan.words()
	return plan, nil
}

// problem is a compromise with everything about the instruments worked out.
type problem struct {
	players    []seated
	chords     []held
	unplayable int
	fixed      bool
}

type seated struct {
	Player
	in           *instrument.Instrument
	from, travel float64
	lo, hi       float64
	home, pull   float64 // the tuning note's setting, and what leaving it costs a tone and square millimetre
	tones        []*tone // of this player
	notes        map[pitch.Note]*reach
}

// reach is what one note of one player can do.
type reach struct {
	error  float64 // from tempered, with the main slide at 0, in cents
	slope  float64 // cents per mm of main slide, negative
	flat   float64 // how far other slides can flatten, in cents
	sharp  float64 // how far they can sharpen
	usable bool
}

type held struct {
	bar    int
	weight float64
	shift  float64
	tones  []tone
}

type tone struct {
	*reach
	player int
	note   pitch.Note
	want   float64
	chord  *held
}

func newProblem(players []Player, chords []HeldChord, fixed bool) (*problem, error) {
	p := &problem{fixed: fixed}
	for _, pl := range players {
		s, err := seat(pl)
		if err != nil {
			return nil, err
		}
		p.players = append(p.players, s)
	}
	p.chords = make([]held, 0, len(chords))
	for _, c := range chords {
		h := held{bar: c.Bar, weight: c.Weight}
		if !(c.Weight > 0 && finite(c.Weight)) {
			continue
		}
		for _, t := range c.Tones {
			if t.Player < 0 || t.Player >= len(p.players) {
				return nil, fmt.Errorf("intonation: player %d of %d in bar %d", t.Player, len(p.players), c.Bar)
			}
			r := p.players[t.Player].reach(t.Note)
			if !r.usable {
				p.unplayable++
				continue
			}
			h.tones = append(h.tones, tone{reach: r, player: t.Player, note: t.Note, want: float64(t.Want)})
		}
		p.chords = append(p.chords, h)
	}
	p.share()
	return p, nil
}

// stayNear keeps main settings within farFromNote of the tuning notes.
func (p *problem) stayNear(one []float64) {
	for i := range p.players {
		s := &p.players[i]
		r := s.reach(s.OneNote)
		if !r.usable || r.slope == 0 {
			continue
		}
		far := farFromNote / math.Abs(r.slope)
		s.home, s.pull = one[i], stayCost*r.slope*r.slope
		s.lo, s.hi = max(s.lo, math.Min(s.hi, one[i]-far)), min(s.hi, math.Max(s.lo, one[i]+far))
	}
}

// stay puts players back to their tuning note whom the plan gives less than
// leastGain, and returns what remains. The chords float again after each.
func (p *problem) stay(mm, one, oneEach []float64) (rms float64, each []float64) {
	for {
		p.float(mm)
		rms, each = p.rms(mm)
		least := -1
		for i := range mm {
			if mm[i] != one[i] && oneEach[i]-each[i] < leastGain && (least < 0 || oneEach[i]-each[i] < oneEach[least]-each[least]) {
				least = i
			}
		}
		if least < 0 {
			return rms, each
		}
		mm[least] = one[least]
	}
}

// share gives every player a list of their own tones.
func (p *problem) share() {
	for i := range p.chords {
		c := &p.chords[i]
		for k := range c.tones {
			t := &c.tones[k]
			t.chord = c
			p.players[t.player].tones = append(p.players[t.player].tones, t)
		}
	}
}

func seat(pl Player) (seated, error) {
	if pl.Instrument == nil {
		return seated{}, fmt.Errorf("intonation: %s has no instrument", pl.Name)
	}
	s := seated{Player: pl, in: pl.Instrument.WithTravel(pl.Travel), notes: map[pitch.Note]*reach{}}
	main, ok := s.in.Slide(instrument.Main)
	if !ok {
		return seated{}, fmt.Errorf("intonation: %s has no main slide on a %s", pl.Name, pl.Instrument.Name)
	}
	s.from, s.travel = s.in.MM(pl.Settings, instrument.Main), main.TravelMM
	s.lo, s.hi = slide.Limits(main)
	return s, nil
}

// reach works a note out once.
func (s *seated) reach(n pitch.Note) *reach {
	if r, ok := s.notes[n]; ok {
		return r
	}
	r := &reach{}
	s.notes[n] = r
	path, ok := s.path(n)
	if !ok {
		return r
	}
	r.usable = true
	r.slope = float64(s.lever(path, instrument.Main).PerMM())
	here := pitch.Reference{}.Offset(n, s.in.Pitch(path, s.Settings, instrument.DefaultAir)) + s.Offset
	r.error = float64(here) - r.slope*s.from
	for _, sl := range s.in.Slides {
		s.add(r, sl, path)
	}
	return r
}

// lever is one of the player's slides on a path.
func (s *seated) lever(path instrument.Path, id instrument.SlideID) slide.Lever {
	return slide.LeverOf(s.in, path, id, s.Settings, s.Learned)
}

func (s *seated) path(n pitch.Note) (instrument.Path, bool) {
	if p, ok := s.Paths[n]; ok {
		q, err := s.in.Resolve(p, n)
		return q, err == nil
	}
	paths := s.in.Paths(n)
	if len(paths) == 0 {
		return instrument.Path{}, false
	}
	return paths[0], true
}

// add counts in what one slide that moves while playing can do for a note.
func (s *seated) add(r *reach, sl instrument.Slide, path instrument.Path) {
	if !sl.WhilePlaying || sl.ID == instrument.Main || !s.in.Serves(sl.ID, path) {
		return
	}
	if sl.ID == instrument.Bell {
		r.flat += float64(bellReach)
		r.sharp += float64(bellReach)
		return
	}
	v := s.lever(path, sl.ID)
	in, out := v.Room()
	r.flat += -float64(v.PerMM()) * out
	r.sharp += float64(v.PerMM()) * in
}

// left is what remains of an error x once the other slides have done their part.
func (r *reach) left(x float64) float64 {
	switch {
	case x > r.flat:
		return x - r.flat
	case x < -r.sharp:
		return x + r.sharp
	}
	return 0
}

// before is the error of a tone in its chord before the other slides work.
func (t *tone) before(mainMM float64) float64 {
	return t.error + t.slope*mainMM - t.want - t.chord.shift
}

// push is half the derivative and half the curvature of a tone's cost by its error.
func (r *reach) push(x float64) (slope, curve float64) {
	slope, curve = effortCost*x, effortCost
	switch l := r.left(x); {
	case l == 0:
	case math.Abs(l) > hopeless:
		slope += math.Copysign(hopeless, l)
	default:
		slope, curve = slope+l, curve+1
	}
	return slope, curve
}

// Convergence: settings are shown in whole millimetres.
const (
	sweeps    = 500
	settledMM = 1e-3
)

// solve improves main settings one after another until they rest.
func (p *problem) solve(mm []float64) []float64 {
	for range sweeps {
		moved := 0.0
		p.float(mm)
		for i := range p.players {
			next := p.bestMain(i, mm[i])
			moved = max(moved, math.Abs(next-mm[i]))
			mm[i] = next
		}
		if moved < settledMM {
			break
		}
	}
	return mm
}

// bestMain is the best main setting of one player, the chords standing where
// they are.
func (p *problem) bestMain(i int, start float64) float64 {
	s := &p.players[i]
	return root1D(s.lo, s.hi, start, func(mm float64) (d, dd float64) {
		for _, t := range s.tones {
			slope, curve := t.push(t.before(mm))
			d += t.chord.weight * slope * t.slope
			dd += t.chord.weight * curve * t.slope * t.slope
			d += t.chord.weight * s.pull * (mm - s.home)
			dd += t.chord.weight * s.pull
		}
		return d, dd
	})
}

// maxFloat bounds how far a chord may stand off, in cents.
const maxFloat = 50

// float lets every chord find its own place for the given main settings.
func (p *problem) float(mm []float64) {
	for i := range p.chords {
		c := &p.chords[i]
		if p.fixed || len(c.tones) == 0 {
			c.shift = 0
			continue
		}
		c.shift = root1D(-maxFloat, maxFloat, c.shift, func(shift float64) (d, dd float64) {
			c.shift = shift
			for k := range c.tones {
				t := &c.tones[k]
				slope, curve := t.push(t.before(mm[t.player]))
				d += floatCost*shift - slope
				dd += floatCost + curve
			}
			return d, dd
		})
	}
}

// root1D finds where a rising derivative d passes zero within [lo, hi], or
// the nearer end, by Newton steps kept within a shrinking bracket.
func root1D(lo, hi, x float64, slope func(float64) (d, dd float64)) float64 {
	x = min(max(x, lo), hi)
	const steps = 60 // bisection alone would need 40 for a float64
	for range steps {
		d, dd := slope(x)
		switch {
		case d > 0:
			hi = x
		case d < 0:
			lo = x
		default:
			return x
		}
		next := (lo + hi) / 2
		if dd > 0 {
			if newton := x - d/dd; newton >= lo && newton <= hi {
				next = newton
			}
		}
		if math.Abs(next-x) < 1e-9 {
			return next
		}
		x = next
	}
	return x
}

// oneNote is where the main slides stand when each player tunes OneNote alone,
// in whole mm.
func (p *problem) oneNote() []float64 {
	mm := make([]float64, len(p.players))
	for i := range p.players {
		s := &p.players[i]
		mm[i] = s.from
		if r := s.reach(s.OneNote); r.usable && r.slope != 0 {
			mm[i] = -r.error / r.slope
		}
	}
	p.round(mm)
	return mm
}

func (p *problem) round(mm []float64) {
	for i := range mm {
		mm[i] = min(max(math.Round(mm[i]), math.Ceil(p.players[i].lo)), math.Floor(p.players[i].hi))
	}
}

// rms is the weighted root mean square of what is left, together and by player.
func (p *problem) rms(mm []float64) (float64, []float64) {
	sum, total := 0.0, 0.0
	each := make([]float64, len(p.players))
	for i := range p.players {
		s, w := 0.0, 0.0
		for _, t := range p.players[i].tones {
			l := t.left(t.before(mm[i]))
			s, w = s+t.chord.weight*l*l, w+t.chord.weight
		}
		if w > 0 {
			each[i] = math.Sqrt(s / w)
		}
		sum, total = sum+s, total+w
	}
	if total == 0 {
		return 0, each
	}
	return math.Sqrt(sum / total), each
}

// hurts lists what stays out beyond the band, one line for each bar, player
// and note, the gravest first.
func (p *problem) hurts(mm []float64, good pitch.Cents) []Hurt {
	type key struct {
		bar, player int
		note        pitch.Note
	}
	found := map[key]Hurt{}
	for i := range p.players {
		for _, t := range p.players[i].tones {
			left := pitch.Cents(t.left(t.before(mm[i])))
			if math.Abs(float64(left)) <= float64(good) {
				continue
			}
			k := key{t.chord.bar, i, t.note}
			h := found[k]
			if math.Abs(float64(left)) > math.Abs(float64(h.Left)) {
				h.Left = left
			}
			h.Bar, h.Player, h.Note, h.Weight = t.chord.bar, i, t.note, h.Weight+t.chord.weight
			found[k] = h
		}
	}
	list := make([]Hurt, 0, len(found))
	for _, h := range found {
		list = append(list, h)
	}
	slices.SortFunc(list, func(a, b Hurt) int {
		return cmp.Or(cmp.Compare(b.gravity(), a.gravity()), cmp.Compare(a.Bar, b.Bar), cmp.Compare(a.Player, b.Player), cmp.Compare(a.Note, b.Note))
	})
	return list
}

func (h Hurt) gravity() float64 { return h.Weight * float64(h.Left*h.Left) }
