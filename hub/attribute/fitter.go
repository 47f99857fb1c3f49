package attribute

// Fitter solves windows one after another, reusing its memory. The zero value
// is ready. One goroutine at a time.
type Fitter struct{}

// Fit solves one window.
func (f *Fitter) Fit(in Input) Result {
	r := Result{Chairs: make([]ChairResult, len(in.Chairs))}
	for i := range in.Chairs {
		r.Chairs[i] = withoutTracks(&in.Chairs[i])
		r.Fallback = true
	}
	return r
}

// withoutTracks passes on what the node made of the window by itself.
func withoutTracks(c *Chair) ChairResult {
	out := ChairResult{ID: c.ID, Verdict: NoTracks}
	if !c.Own.Hz.Valid() {
		return out
	}
	out.Hz, out.CI95, out.Spread, out.Drift = c.Own.Hz, c.Own.CI95, c.Own.Spread, c.Own.Drift
	out.Level, out.OneMic = c.Own.Level, true
	if c.Baseline != 0 {
		out.Balance, out.BalanceKnown = float64(c.Own.Level-c.Baseline), true
	}
	return out
}
