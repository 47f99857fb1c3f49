package estimate

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"bellrow/node/listen"
)

// A score sums up the outcomes of one condition.
type score struct {
	n, read, wrong, octaves int
	vibrato                 int // read and marked
	eaten                   int // said to be taken for noise by a program
	another                 int // not taken for the called note
	passed                  int // moving notes read as if they stood
	held                    int
	halves, halvesHeld      int
	brief, briefRead        int // notes of briefNote seconds
	refused                 map[listen.Reason]int
	errors, widths          []float64
	sooner                  []float64 // seconds until the interval is narrow
}

func (s *score) add(o outcome) {
	s.n++
	if o.another {
		s.another++
	}
	if o.eaten {
		s.eaten++
	}
	if !o.read {
		if s.refused == nil {
			s.refused = map[listen.Reason]int{}
		}
		s.refused[o.reason]++
		return
	}
	s.read++
	if o.vibrato {
		s.vibrato++
	}
	if o.wrong() {
		s.wrong++
	}
	if o.octave() {
		s.octaves++
		return
	}
	s.errors = append(s.errors, math.Abs(o.off))
	s.widths = append(s.widths, o.half)
	if math.Abs(o.off) <= o.half {
		s.held++
	}
	if math.Abs(o.end) > o.half {
		s.passed++
	}
}

// half adds the reading of one half of a note against the truth of the other.
func (s *score) half(off, half float64) {
	s.halves++
	if math.Abs(off) <= half {
		s.halvesHeld++
	}
}

// share writes k of n as percent.
func share(k, n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprintf("%.1f", 100*float64(k)/float64(n))
}

// wilson is the 95 % interval of a share of k in n (Wilson 1927, J. Am. Stat.
// Assoc. 22:209). It takes the trials as independent; those of one note in
// several rooms are less so.
func wilson(k, n int) (low, high float64) {
	if n == 0 {
		return 0, 1
	}
	const z = 1.959964
	p, m := float64(k)/float64(n), float64(n)
	middle := (p + z*z/(2*m)) / (1 + z*z/m)
	side := z / (1 + z*z/m) * math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return max(0, middle-side), min(1, middle+side)
}

// scoreHeading names the columns of score rows.
const scoreHeading = "real notes                               n   read %   (95 % interval)  wrong octave  error med / 95 %   half  holds %  halves %  refused"

func (s *score) String() string {
	low, high := wilson(s.read, s.n)
	var why []string
	for r, k := range s.refused {
		why = append(why, fmt.Sprintf("%s %d", r, k))
	}
	slices.Sort(why)
	if s.vibrato > 0 {
		why = append(why, fmt.Sprintf("(read with vibrato %d)", s.vibrato))
	}
	if s.read > 1 {
		why = append(why, fmt.Sprintf("(half widths, tenths 1, 2.5, 7.5, 9: %s, %s, %s, %s)",
			short(quantile(s.widths, 0.1)), short(quantile(s.widths, 0.25)), short(quantile(s.widths, 0.75)), short(quantile(s.widths, 0.9))))
	}
	if s.eaten > 0 {
		why = append(why, fmt.Sprintf("(said to be eaten %d)", s.eaten))
	}
	if len(s.sooner) > 0 {
		why = append(why, fmt.Sprintf("(under ±3 after %.2f, 90 %% %.2f s)", quantile(s.sooner, 0.5), quantile(s.sooner, 0.9)),
			fmt.Sprintf("(of those that rest a second %d of %d read)", s.briefRead, s.brief))
	}
	return fmt.Sprintf("%5d  %6s   (%5.1f to %5.1f)  %5d %6d  %7s / %6s  %5s  %7s  %8s  %s",
		s.n, share(s.read, s.n), 100*low, 100*high, s.wrong, s.octaves,
		short(quantile(s.errors, 0.5)), short(quantile(s.errors, 0.95)), short(quantile(s.widths, 0.5)),
		share(s.held, s.read-s.octaves), share(s.halvesHeld, s.halves), strings.Join(why, ", "))
}

func short(x float64) string {
	if math.IsNaN(x) {
		return "-"
	}
	return fmt.Sprintf("%.2f", x)
}
