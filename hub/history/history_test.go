package history

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"bellrow/proto/pitch"
)

var first = time.Date(2030, 3, 4, 19, 0, 0, 0, time.UTC)

func settings(mm ...float64) Player {
	p := Player{Label: "Horn 2"}
	for i, x := range mm {
		p.Settings = append(p.Settings, Setting{At: first.AddDate(0, 0, i), MM: x})
	}
	return p
}

func TestTrend(t *testing.T) {
	for _, c := range []struct {
		name string
		mm   []float64
		away float64
		says string
	}{
		{"out of a narrow band", []float64{12, 13, 14, 12, 13, 14, 22}, 9, "Your main slide has been at 12–14 mm for six rehearsals; today 22: play again, relaxed, before you believe it."},
		{"inside the band", []float64{12, 13, 14, 12, 13, 14, 15}, 0, ""},
		{"always wide", []float64{8, 18, 12, 20, 9, 16, 22}, 0, ""},
		{"too few days", []float64{12, 13, 12, 22}, 0, ""},
		{"one odd day does not widen it", []float64{13, 13, 30, 13, 13, 13, 13, 22}, 9, "Your main slide has been at 13 mm"},
		{"pushed in", []float64{14, 14, 14, 14, 14, 3}, -11, "at 14 mm for five rehearsals; today 3"},
		{"nothing", nil, 0, ""},
	} {
		got := TrendOf(settings(c.mm...), nil)
		if math.Abs(got.Away-c.away) > 1e-9 || !strings.Contains(got.Words, c.says) || (c.says == "") != (got.Words == "") {
			t.Errorf("%s: away %g, %q; want %g, %q", c.name, got.Away, got.Words, c.away, c.says)
		}
	}
}

// TestTrendLeavesTheRoomOut: on a day on which everybody pulled, as the whole
// section's pitch shows, nobody's setting is odd; on the same day without that
// reason it is.
func TestTrendLeavesTheRoomOut(t *testing.T) {
	p := settings(12, 13, 12, 13, 12, 13, 22)
	p.Readings = []Reading{{At: first, CentsPerMM: -2}}
	common := Common{dayOf(first.AddDate(0, 0, 6)): 19} // 19 cents sharp: 9.5 mm
	if got := TrendOf(p, common); got.Away != 0 {
		t.Errorf("away %g mm on a sharp day, want 0", got.Away)
	}
	if got := TrendOf(p, nil); got.Away == 0 {
		t.Error("nothing odd without the room's reason")
	}
	// A section that rightly left its slides alone is not odd either.
	if got := TrendOf(settings(12, 13, 12, 13, 12, 13, 13), common); got.Away != 0 {
		t.Errorf("away %g mm for a slide left alone on a sharp day, want 0", got.Away)
	}
}

// TestCommon: what all players share is the section's, one player's own is not.
func TestCommon(t *testing.T) {
	var players []Player
	for i := range 5 {
		p := Player{}
		for d := range 6 {
			x := 2*float64(i) + map[int]float64{3: 8}[d]
			if i == 0 && d == 5 {
				x += 20
			}
			p.Readings = append(p.Readings, Reading{At: first.AddDate(0, 0, d), Note: 58, Offset: pitch.Cents(x), Played: 600})
		}
		players = append(players, p)
	}
	c := CommonOf(players)
	for d, want := range map[int]float64{0: 0, 3: 8, 5: 0} {
		if got, ok := c.On(first.AddDate(0, 0, d)); !ok || math.Abs(got-want) > 1e-9 {
			t.Errorf("day %d: common %g, want %g", d, got, want)
		}
	}
	if len(CommonOf(players[:3])) != 0 {
		t.Error("three players made a section")
	}
}

// TestOwn: a slide pulled by 5 mm explains its share of a flat reading.
func TestOwn(t *testing.T) {
	r := Reading{Offset: -10, MainMM: 18, UsualMM: 13, CentsPerMM: -2}
	if got := r.Own(); got != 0 {
		t.Errorf("own offset %g cents, want 0", got)
	}
}

func TestMeanAgainstTables(t *testing.T) {
	// Without trimming it is Student's interval: quantiles from the usual table
	// (t of 4 degrees of freedom, 0.975: 2.776).
	xs := []float64{4, 5, 6, 7, 8}
	e := mean(xs, 0.05)
	want := 2.776 * math.Sqrt(2.5) / math.Sqrt(5)
	if e.Mean != 6 || math.Abs(e.High-6-want) > 1e-3 {
		t.Errorf("%+v, want 6 ± %.4f", e, want)
	}
	// Trimmed by one at each end of ten: h = 8, t of 7 degrees 0.975: 2.365;
	// standard error s_w √(n-1) / √(h (h-1)), Yuen 1974.
	xs = []float64{1, 2, 3, 4, 5, 6, 7, 8, 9, 100}
	e = mean(xs, 0.05)
	sw := 0.0
	for _, x := range []float64{2, 2, 3, 4, 5, 6, 7, 8, 9, 9} {
		sw += (x - 5.5) * (x - 5.5)
	}
	want = 2.365 * math.Sqrt(sw/(8*7))
	if e.Mean != 5.5 || math.Abs(e.High-5.5-want) > 2e-3 {
		t.Errorf("%+v, want 5.5 ± %.4f", e, want)
	}
	if e := mean([]float64{3}, 0.05); !math.IsInf(e.Low, -1) || !math.IsInf(e.High, 1) {
		t.Errorf("one value proves %+v", e)
	}
}

// TestChanging: independent values give back their deviation, a steady trend
// adds nearly nothing, and the interval covers as often as it says.
func TestChanging(t *testing.T) {
	r := rand.New(rand.NewPCG(3, 4))
	inside, sum := 0, 0.0
	const runs = 2000
	for range runs {
		xs := make([]float64, 12)
		for i := range xs {
			xs[i] = 5*r.NormFloat64() + 3*float64(i)
		}
		e := changing(xs, 0.02)
		sum += e.Mean
		if e.Low <= 5 && 5 <= e.High {
			inside++
		}
	}
	if m := sum / runs; m < 4.4 || m > 6.2 {
		t.Errorf("mean estimate %.2f of a deviation of 5 on a trend of 3 a day", m)
	}
	if share := float64(inside) / runs; share < 0.96 {
		t.Errorf("98 %% interval covers %.1f %%", 100*share)
	}
}

func TestSlope(t *testing.T) {
	ps := []point{{0, 1}, {1, 3}, {2, 5}, {3, 70}, {4, 9}}
	if b, ok := slope(ps, 1); !ok || math.Abs(b-2) > 1e-9 {
		t.Errorf("slope %g with one wild point, want 2", b)
	}
	if _, ok := slope(ps, 5); ok {
		t.Error("a slope over too short a span")
	}
	if _, ok := slope(ps[:3], 1); ok {
		t.Error("a slope of three points")
	}
}

// TestTendencies: a note that always stands high is not drift.
func TestTendencies(t *testing.T) {
	p := Player{}
	for d := range 6 {
		for i, n := range []pitch.Note{58, 60, 62} {
			p.Readings = append(p.Readings, Reading{At: first.AddDate(0, 0, d).Add(time.Duration(i) * time.Minute), Note: n,
				Offset: pitch.Cents(float64(d) + map[pitch.Note]float64{58: 0, 60: -8, 62: 5}[n]), Played: 600})
		}
	}
	got := p.tendencies()
	if d := got[62] - got[60]; math.Abs(d-13) > 0.5 {
		t.Errorf("62 stands %.1f above 60, want 13", d)
	}
}

// TestFindingNeedsEvidence: the plainest habit is not named from three days.
func TestFindingNeedsEvidence(t *testing.T) {
	p := Player{}
	for d := range 8 {
		p.Readings = append(p.Readings, Reading{At: first.AddDate(0, 0, d), Note: 58, Early: pitch.Cents(15 + d%3), Lead: 1, Played: 600})
		got := Findings(p, SectionOf([]Player{p}))
		if named := len(got) == 1 && got[0].Habit == Pinching; named != (d >= fewest-1) {
			t.Errorf("after %d rehearsals: %+v", d+1, got)
		}
	}
	f := Findings(p, SectionOf([]Player{p}))[0]
	if f.Try == "" || f.Words == "" || !(f.Evidence.Low < f.Evidence.Mean && f.Evidence.Mean < f.Evidence.High) {
		t.Errorf("a finding without its evidence or its next step: %+v", f)
	}
	for _, bad := range []string{"worst", "wrong", "fault", "bad", "should have"} {
		if strings.Contains(f.Words+f.Try, bad) {
			t.Errorf("%q is no kind word", bad)
		}
	}
}
