package intonation

import (
	"cmp"
	"math"
	"slices"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Offset is how far one chair stands from its target, with the interval of its
// reading (pitch.Cents.CentreSD).
type Offset struct {
	Cents pitch.Cents
	CI95  pitch.Cents
}

// Together is what a section's offsets have in common.
type Together struct {
	// Offset is the robust common offset and CI95 the half width of its 95 %
	// interval, from the spread of the chairs and their own intervals.
	Offset pitch.Cents
	CI95   pitch.Cents
	// Spread is the robust standard deviation of the chairs about Offset.
	Spread pitch.Cents
	// Chairs is how many offsets were used.
	Chairs int
	// AsOne is true when the section stands apart from the reference by more
	// than chance while its chairs agree with one another: the room, not a player.
	AsOne bool
	// Code says what the figures mean; empty with fewer than MinCommon chairs.
	Code TogetherCode
	// Words says it to a leader in one clause without a full stop; empty with
	// fewer than MinCommon chairs.
	Words string
}

// TogetherCode says what a section's offsets mean.
type TogetherCode string

// The codes.
const (
	TogetherAsOne  TogetherCode = "as-one" // off as one: Offset
	TogetherAbout  TogetherCode = "about"  // off, and apart: Offset, Spread
	TogetherAgrees TogetherCode = "agrees" // neither
	TogetherApart  TogetherCode = "apart"  // right on the whole, and apart: Spread
)

// MinCommon is the fewest chairs that make a section: of two, either may be
// the one that is out.
const MinCommon = 3

// repeatability is how well a player gives the same note twice, in cents of
// standard deviation. It keeps one very steady reading from outvoting the
// rest. From experience of players, no source.
const repeatability = 3.0

// Tuning constants of Huber's and of Tukey's estimators, in standard
// deviations, for 95 % efficiency on normal data (Huber 1964, Ann. Math.
// Stat. 35:73; Beaton and Tukey 1974, Technometrics 16:147).
const (
	huberK = 1.345
	tukeyC = 4.685
)

// noticeable is the least common offset worth a word: around 5 cents is the
// usual statement of a just noticeable difference, and a difference under 3
// is not shown to players as one.
const noticeable pitch.Cents = 3

// Common finds the common offset of a section and says it in words. One or
// two chairs far out do not move it. good is the section's band; chairs
// agree when their spread lies within it. Offsets that are not finite are
// left out.
func Common(offsets []Offset, good pitch.Cents) Together {
	good = goodBand(good)
	t := locate(offsets)
	if t.Chairs < MinCommon {
		return t
	}
	t.Code = t.code(t.Spread <= good)
	t.AsOne = t.Code == TogetherAsOne
	t.Words = t.Say(phrase.Tongue{})
	return t
}

func (t Together) code(agree bool) TogetherCode {
	away := math.Abs(float64(t.Offset)) > float64(max(noticeable, t.CI95))
	switch {
	case away && agree:
		return TogetherAsOne
	case away:
		return TogetherAbout
	case agree:
		return TogetherAgrees
	}
	return TogetherApart
}

// locate is the weighted robust location of the offsets, by iteratively
// reweighted means: from the weighted median with Huber's weights, then with
// Tukey's, which forget a chair that is far out instead of leaning to it.
func locate(offsets []Offset) Together {
	xs, ws := weigh(offsets)
	if len(xs) == 0 {
		return Together{}
	}
	centre := weightedMedian(xs, ws)
	spread := robustSpread(xs, ws, centre)
	if len(xs) == 2 {
		centre = (xs[0]*ws[0] + xs[1]*ws[1]) / (ws[0] + ws[1])
	}
	if len(xs) > 2 {
		scale := max(spread, repeatability)
		centre = reweighted(xs, ws, centre, scale, huberWeight)
		centre = reweighted(xs, ws, centre, scale, tukeyWeight)
		spread = robustSpread(xs, ws, centre)
	}
	return Together{
		Offset: pitch.Cents(centre),
		CI95:   pitch.Cents(1.96 * math.Hypot(spread, meanSD(offsets)) / math.Sqrt(float64(len(xs)))),
		Spread: pitch.Cents(spread),
		Chairs: len(xs),
	}
}

func weigh(offsets []Offset) (xs, ws []float64) {
	xs = make([]float64, 0, len(offsets))
	ws = make([]float64, 0, len(offsets))
	for _, o := range offsets {
		x, sigma := float64(o.Cents), o.CI95.CentreSD()
		if !finite(x + sigma) {
			continue
		}
		xs = append(xs, x)
		ws = append(ws, 1/(sigma*sigma+repeatability*repeatability))
	}
	return xs, ws
}

// meanSD is how well the centres of the chairs' notes are known.
func meanSD(offsets []Offset) float64 {
	sum, n := 0.0, 0
	for _, o := range offsets {
		if c := o.CI95.CentreSD(); finite(c) {
			sum, n = sum+math.Abs(c), n+1
		}
	}
	if n == 0 {
		return 0
	}
	return sum / float64(n)
}

// huberWeight and tukeyWeight are the weights of a departure d in standard deviations.
func huberWeight(d float64) float64 { return huberK / max(d, huberK) }

func tukeyWeight(d float64) float64 {
	if d >= tukeyC {
		return 0
	}
	u := d / tukeyC
	return (1 - u*u) * (1 - u*u)
}

func reweighted(xs, ws []float64, centre, scale float64, weight func(float64) float64) float64 {
	const rounds = 30 // the mean settles to a thousandth of a cent in fewer
	for range rounds {
		sum, total := 0.0, 0.0
		for i, x := range xs {
			w := ws[i] * weight(math.Abs(x-centre)/scale)
			sum, total = sum+w*x, total+w
		}
		next := sum / total // half of the weight lies within the scale of a median, so there is some
		if math.Abs(next-centre) < 1e-3 {
			return next
		}
		centre = next
	}
	return centre
}

// robustSpread is the weighted median absolute deviation, scaled to the
// standard deviation of a normal distribution (1.4826 = 1/Φ⁻¹(3/4)).
func robustSpread(xs, ws []float64, centre float64) float64 {
	ds := make([]float64, len(xs))
	for i, x := range xs {
		ds[i] = math.Abs(x - centre)
	}
	return 1.4826 * weightedMedian(ds, ws)
}

// weightedMedian is the value with half the weight on either side, halfway
// between two values when the weight splits exactly there.
func weightedMedian(xs, ws []float64) float64 {
	order := make([]int, len(xs))
	total := 0.0
	for i := range xs {
		order[i] = i
		total += ws[i]
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(xs[a], xs[b]) })
	const even = 1e-9
	k, below := 0, ws[order[0]]
	for below < (0.5-even)*total {
		k++
		below += ws[order[k]]
	}
	if below <= (0.5+even)*total {
		return (xs[order[k]] + xs[order[k+1]]) / 2
	}
	return xs[order[k]]
}

// finite reports whether x is a number.
func finite(x float64) bool { return x-x == 0 }

// whole rounds the size of an interval to whole cents, as people are told it.
func whole(c pitch.Cents) int { return int(math.Round(math.Abs(float64(c)))) }
