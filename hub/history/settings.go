package history

import (
	"math"
	"slices"

	"bellrow/proto/phrase"
	"bellrow/proto/pitch"
)

// Limits of the settings' trend.
const (
	// bandDays is how many rehearsals make a band worth speaking of.
	bandDays = 4
	// bandMost is how far back it looks: about two months of weekly rehearsals.
	bandMost = 10
	// leastBandMM is how close two settings must be to be the same: reading a
	// slide by eye, twice (common practice, no source).
	leastBandMM = 4.0
	// bandWidths is how many robust standard deviations belong to the band.
	bandWidths = 3.0
)

// Trend says where a player's main slide has stood.
type Trend struct {
	// Days holds the settings at the end of each rehearsal, oldest first, in
	// mm out, with the section's common part taken out where it is known.
	Days []float64 `json:"-"`
	// Low and High bound the settings of the rehearsals before the last, as they
	// stood; From counts them. 0 when there are too few.
	Low  float64 `json:"low_mm"`
	High float64 `json:"high_mm"`
	From int     `json:"rehearsals"`
	// Today is the setting of the last rehearsal as it stood, Away how far it
	// lies from the middle of the band, in mm: 0 inside the band.
	Today float64 `json:"today_mm"`
	Away  float64 `json:"away_mm"`
	// Words say it to the player in English (see In), empty when there is nothing to say.
	Words string `json:"words,omitempty"`
}

// TrendOf reads the settings of one player against their own band.
func TrendOf(p Player, c Common) Trend {
	last := map[day]Setting{}
	for _, s := range p.Settings {
		if d := dayOf(s.At); last[d].At.IsZero() || !s.At.Before(last[d].At) {
			last[d] = s
		}
	}
	mmPerCent := p.mmPerCent()
	var t Trend
	var plain []float64
	for _, d := range sorted(last) {
		plain = append(plain, last[d].MM)
		// A sharp room makes everybody pull; that part is not the player's.
		t.Days = append(t.Days, last[d].MM-c[d]*mmPerCent)
	}
	if n := len(plain); n > 0 {
		t.Today = plain[n-1]
	}
	if len(t.Days) <= bandDays {
		return t
	}
	before := lastOf(plain[:len(plain)-1], bandMost)
	t.From = len(before)
	t.Low, t.High = trimmed(before)
	// Only what is odd both as it stands and with the room taken out: a section
	// that left its slides alone on a cold day did right, and so did one that
	// moved them.
	t.Away = away(t.Days)
	if a := away(plain); a*t.Away <= 0 {
		t.Away = 0
	} else if math.Abs(a) < math.Abs(t.Away) {
		t.Away = a
	}
	t.Words = t.In(phrase.Tongue{})
	return t
}

// away is how far the last of xs lies outside the band of those before it,
// from their middle; 0 inside.
func away(xs []float64) float64 {
	before, today := lastOf(xs[:len(xs)-1], bandMost), xs[len(xs)-1]
	middle := pitch.Median(before)
	if d := today - middle; math.Abs(d) > math.Max(leastBandMM, bandWidths*spread(before)) {
		return d
	}
	return 0
}

// lastOf is the end of xs, at most n long.
func lastOf(xs []float64, n int) []float64 { return xs[max(0, len(xs)-n):] }

// trimmed is the range without one extreme at each end once six values allow it.
func trimmed(xs []float64) (lo, hi float64) {
	s := slices.Clone(xs)
	slices.Sort(s)
	if len(s) >= 6 {
		s = s[1 : len(s)-1]
	}
	return s[0], s[len(s)-1]
}

// mmPerCent is how far this player's main slide is pulled for one cent, from
// the readings' model; 0 without any.
func (p Player) mmPerCent() float64 {
	var xs []float64
	for _, r := range p.Readings {
		if r.CentsPerMM < 0 {
			xs = append(xs, -1/r.CentsPerMM)
		}
	}
	return pitch.Median(xs)
}
